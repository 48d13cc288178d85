"""Hardware: states that change, states that are required, and readings that a step makes stale."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from proclang.program import model as m
from proclang.program.formula import compile_condition, compile_formula
from proclang.program.lowering import Lowering
from proclang.program.machine import known_state, resolve_place
from proclang.program.scope import Scope
from proclang.syntax import nodes as n
from proclang.text.limits import LABELS_IN_A_SET


def lower_now(low: Lowering, node: n.Now) -> None:
    """`now` takes effect when the next question of the step has been answered."""
    place = _place(low, node)
    if place is None:
        return
    assert low.machine is not None
    item = low.machine.items[place.item]
    if item.kind == m.COUNTED:
        low.scope.say(
            "loose-count",
            f"`{place.item}` is counted: a count says that it is {node.state}",
            node.span,
            hint=f"write `counts {place.text} {node.state}` under the value that shows it",
        )
    elif item.name in low.machine.own_role:
        _see_whose(low, node, place)
    instr = m.NowInstr(
        place=place, state=node.state.text, ensure=low.stopping, **low.where(node, f"now_{place.text}", unnamed=True)
    )
    low.hold_back(lambda: void(low.emit(instr)))


def _see_whose(low: Lowering, node: n.Now, place: m.ItemPlace) -> None:
    """What is one person's, such as a lock, is moved by that person."""
    if low.step is None or low.damaged or low.scope.shifted:
        return
    by = {name.text for name in low.step.node.people}
    if not by <= set(low.needs.crew):
        return  # a role with a slip in it may be the right one
    through = low.scope.loop_labels(place.variable) if place.variable is not None else place.labels
    others = [label for label in through or () if label not in by]
    if others:
        who = " and ".join(sorted(by)) or "nobody in particular"
        low.scope.say(
            "anothers-own",
            f"`{place.item}[{others[0]}]` is moved only by `{others[0]}`, and this step is done by {who}",
            node.span,
            hint=f"write a step of its own, `by {others[0]}`",
        )


def lower_require(low: Lowering, node: n.Require) -> None:
    """`require` is looked at where it stands, and before its step is shown. Behind a `now` that waits for the next
    question it waits with it: what the step is about to change may be what is required."""
    place = _place(low, node)
    if place is None:
        return
    where = low.where(node, f"require_{place.text}", unnamed=True)
    instr = m.RequireInstr(place=place, state=node.state.text, **where)
    if low.step is not None and low.step.held_back:
        low.hold_back(lambda: void(low.emit(instr)))
    else:
        low.emit(instr)


def lower_upsets(low: Lowering, node: n.Upsets) -> None:
    """Readings that are stale from here on."""
    scope = low.scope
    for name in node.names:
        known = scope.symbols.get(name.text)
        if name.text in scope.excused or (known is None and name.text in scope.later):
            continue
        if known is None:
            scope.say_no_value(name)
        elif known.how not in ("read", "computed", "given"):
            scope.say(
                "not-a-reading",
                f"`{name}` is {in_words(known.how)}, so no step upsets it",
                name.span,
                hint="only what was measured, or computed from it, can become stale",
            )
    instr = m.UpsetsInstr(names=tuple(x.text for x in node.names), **low.where(node, "upsets", unnamed=True))
    low.hold_back(lambda: void(low.emit(instr)))


_HOW = {
    "input": "an input",
    "computed": "computed",
    "chosen": "chosen",
    "confirmed": "confirmed",
    "noted": "a note",
    "photo": "a photo",
    "answered": "the answer to a hazard",
    "set": "set in the equipment",
    "given": "given by a performed procedure",
    "read": "measured",
}


def in_words(how: str) -> str:
    """How a value comes about, to be put after `is`."""
    return _HOW[how]


def changes(low: Lowering, body: Sequence[n.Node], when: tuple[m.Formula, ...]) -> Iterator[m.Change]:
    """The hardware changes of a step in order, each with the conditions it stands under. Nothing is said: every line
    has been looked at already."""
    if not any(isinstance(node, (n.Now, n.Require, n.When, n.According)) for node in body):
        return
    quiet = low.scope.quietly()
    for node in body:
        if isinstance(node, (n.Now, n.Require)) and low.machine is not None:
            place = resolve_place(node.place, low.machine.name, low.machine.items, quiet)
            if place is not None:
                require = isinstance(node, n.Require)
                yield m.Change(place=place, state=node.state.text, require=require, when=when)
        elif isinstance(node, n.When):
            condition = compile_condition(node.condition, quiet)
            if condition is None:
                continue
            yield from changes(low, node.body, (*when, condition))
            if node.otherwise is not None:
                yield from changes(low, node.otherwise.body, (*when, _negated(condition)))
        elif isinstance(node, n.According):
            for arm in node.arms:
                condition = _in_arm(node, arm, quiet) if isinstance(arm, n.Arm) else None
                if isinstance(arm, n.Arm) and condition is not None:
                    yield from changes(low, arm.body, (*when, condition))


def _in_arm(node: n.According, arm: n.Arm, scope: Scope) -> m.Formula | None:
    """The condition under which an arm is gone through."""
    subject = compile_formula(n.Reference(node.subject, span=node.subject.span), scope)
    if subject is None or not isinstance(subject.type, m.Choice):
        return None
    labels = frozenset(scope.labels(arm.labels, LABELS_IN_A_SET))
    text = f"{node.subject} is {' or '.join(sorted(labels))}"
    return m.Formula(m.Truth(), lambda env: subject.evaluate(env) in labels, text, subject.names)


def _negated(formula: m.Formula) -> m.Formula:
    return m.Formula(m.Truth(), lambda env: not formula.evaluate(env), f"not ({formula.text})", formula.names)


def _place(low: Lowering, node: n.Now | n.Require) -> m.ItemPlace | None:
    if low.machine is None:
        if not low.machine_named and node.place.name.text not in low.scope.excused:
            low.scope.say(
                "no-machine",
                "this procedure names no machine, so nothing has a state",
                node.span,
                hint="add `machine NAME` to its header",
            )
        return None
    place = resolve_place(node.place, low.machine.name, low.machine.items, low.scope)
    if place is None or not known_state(place, node.state, low.machine.items, low.scope):
        return None
    return place


def void(_: object) -> None:
    """Drop a result."""
