"""The ways through a procedure: branches, loops, and groups in any order."""

from __future__ import annotations

from collections.abc import Sequence

from proclang.field.sequence import star_order
from proclang.program import model as m
from proclang.program.formula import compile_condition, compile_formula
from proclang.program.lower_steps import lower_step
from proclang.program.lowering import LoopOpen, Lowering, first_word, head, no_condition
from proclang.program.scope import Through
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Label
from proclang.text.limits import LABELS_IN_A_SET
from proclang.text.span import Span

MOST_PASSES = 1_000
"""A loop that goes round more often than this is not bounded in any useful sense."""


def check_empty(low: Lowering, node: n.Node, body: Sequence[n.Node]) -> None:
    """A line that opens a block and has none says nothing."""
    if not body and not low.damaged and not low.scope.shifted:
        what = f"`{node.labels[0]}`" if isinstance(node, n.Arm) and isinstance(node.labels[0], n.Name) else ""
        low.scope.say(
            "empty-block",
            f"nothing stands under {what or first_word(node)}",
            node.labels[0].span if isinstance(node, n.Arm) else head(node),
            hint="say in a step that there is nothing to do"
            if isinstance(node, n.Arm)
            else "indent what belongs to it",
        )


# ---------------------------------------------------------------------------- branches


def lower_according(low: Lowering, node: n.According) -> None:
    """One arm for each label of a choice; what every arm has set is certain afterwards."""
    low.release()
    scope = low.scope
    formula = compile_formula(n.Reference(node.subject, span=node.subject.span), scope)
    options: tuple[str, ...] = ()
    if formula is not None and isinstance(formula.type, m.Choice):
        options = formula.type.options
    elif formula is not None:
        scope.say(
            "wrong-kind",
            f"`{node.subject}` is {formula.type.describe()}; ways part according to a choice",
            node.subject.span,
            hint="use `when` with a comparison",
        )
    arms = low.emit(
        m.Arms(
            subject=formula or no_condition(),
            name=node.subject.text,
            targets={},
            **low.where(node, f"according_to_{node.subject}", unnamed=True),
        )
    )
    targets: dict[str, int] = {}
    seen: dict[str, Span] = {}
    after: list[set[str]] = []
    ends: list[int] = []
    branch = low.new_branch()
    whole = True
    for index, arm in enumerate(node.arms):
        with low.arm(branch, index), scope.certain.layer() as names:
            if isinstance(arm, n.Broken):
                whole = False
                with low.under_damage(), low.block():
                    low.statements((arm,))
            else:
                labels, known = _arm_labels(low, node, arm, options, seen)
                whole &= known
                for label in labels:
                    targets.setdefault(label, low.here)
                with low.at(f"{node.subject}={','.join(labels)}"), low.block():
                    low.statements(arm.body)
                    check_empty(low, arm, arm.body)
                    low.release()
        after.append(names)
        ends.append(low.jump(node))
    missing = [o for o in options if o not in targets]
    if missing and whole and not scope.shifted and "label" not in scope.hidden:
        listed = " and ".join(f"`{x}`" for x in missing[:4]) + (" and others" if len(missing) > 4 else "")
        scope.say(
            "arm-missing",
            f"nothing is said for {listed}",
            head(node).to(node.subject.span),
            hint=f"add an arm for {listed}; with nothing to do there, say so in a step",
        )
    for end in ends:
        low.patch(end, target=low.here)
    low.patch(arms, targets={**targets, **dict.fromkeys(missing, low.here)})
    if after:
        scope.certain.update(set.intersection(*after))


def _arm_labels(
    low: Lowering, node: n.According, arm: n.Arm, options: tuple[str, ...], seen: dict[str, Span]
) -> tuple[tuple[str, ...], bool]:
    """The labels of an arm, and whether all of them are sound."""
    scope = low.scope
    labels = scope.labels(arm.labels, LABELS_IN_A_SET)
    sound = bool(labels)
    where = arm.labels[0].span.to(arm.labels[-1].span)
    for label in labels:
        if label in seen:
            scope.say(
                "duplicate-arm",
                f"there is an arm for `{label}` already",
                where,
                also=(Label(seen[label], "first here"),),
            )
        elif options and label not in options:
            sound = False
            scope.say_unlisted("unknown-label", f"`{node.subject}` is never `{label}`", where, label, options)
        seen.setdefault(label, where)
    return labels, sound


def lower_when(low: Lowering, node: n.When) -> None:
    """One way where a condition holds, another or none where it does not."""
    low.release()
    scope = low.scope
    condition = compile_condition(node.condition, scope) or no_condition()
    where = low.where(node, "when", unnamed=True)
    number = where["address"].rpartition("~")[2] if "~" in where["address"].rpartition("/")[2] else "1"
    branch = low.emit(m.Branch(condition=condition, otherwise=-1, **where))
    ways = low.new_branch()
    with low.at(f"when~{number}"), low.block(), low.arm(ways, 0), scope.certain.layer() as yes:
        low.statements(node.body)
        check_empty(low, node, node.body)
        low.release()
    if node.otherwise is None:
        low.patch(branch, otherwise=low.here)
    else:
        over = low.jump(node)
        low.patch(branch, otherwise=low.here)
        with low.at(f"otherwise~{number}"), low.block(), low.arm(ways, 1), scope.certain.layer() as no:
            low.statements(node.otherwise.body)
            check_empty(low, node.otherwise, node.otherwise.body)
            low.release()
        low.patch(over, target=low.here)
        scope.certain.update(yes & no)


# ---------------------------------------------------------------------------- loops


def lower_repeat(low: Lowering, node: n.Repeat) -> None:
    """A loop with a bound. Its body runs at least once; `otherwise` is gone through when the bound is reached."""
    scope = low.scope
    low.take(node.name, "loop")
    low.former(node.name, node.former)
    if scope.through(node.name.text) is not None:
        scope.say("duplicate-name", f"`{node.name}` is the label of the loop around it", node.name.span)
    bound = scope.whole(node.times, 1, MOST_PASSES, "how often a loop goes round") or 1
    loop = LoopOpen(node.name.text, scope.certain.depth)
    with scope.certain.layer() as names:
        _lower_round(low, node, loop, bound)
    scope.certain.update(set.intersection(*loop.certain, names))


def _lower_round(low: Lowering, node: n.Repeat, loop: LoopOpen, bound: int) -> None:
    """The body, and what is gone through when the bound is reached; what the body set is set there too."""
    scope = low.scope
    low.loops.append(loop)
    ways = low.new_branch()
    with low.at(node.name.text, node.name.text):
        begin = low.emit(m.BeginLoop(name=loop.name, bound=bound, **low.where(node)))
        with low.block(), low.arm(ways, 0):
            low.statements(node.body)
            check_empty(low, node, node.body)
        end = low.emit(
            m.EndLoop(
                name=loop.name,
                bound=bound,
                begin=begin,
                exhausted=-1,
                out=-1,
                unfinished=node.otherwise is None and bool(loop.leaves),
                **low.where(node, "last_pass"),
            )
        )
    exhausted = low.here
    low.loops.pop()
    if node.otherwise is not None:
        with low.at(f"{node.name}=otherwise", node.name.text), low.block(), low.arm(ways, 1):
            low.statements(node.otherwise.body)
            check_empty(low, node.otherwise, node.otherwise.body)
        if not loop.leaves and not low.damaged and not scope.shifted and not _damaged_inside(node):
            scope.say(
                "never-left",
                f"`{node.name}` has an `otherwise` and no `leave when`",
                node.name.span,
                hint="say when the loop is left, or do without the `otherwise`",
            )
    low.patch(end, exhausted=exhausted, out=low.here)
    for pc in loop.leaves:
        low.patch(pc, out=low.here)


def _damaged_inside(node: n.Repeat) -> bool:
    return any(isinstance(x, n.Broken) for x in node.walk())


def lower_leave(low: Lowering, node: n.LeaveWhen) -> None:
    """Out of the innermost `repeat`."""
    condition = compile_condition(node.condition, low.scope)
    if not low.loops:
        if not low.damaged:
            low.scope.say_misplaced("`leave when` belongs inside a `repeat`", head(node))
        return
    loop = low.loops[-1]
    pc = low.emit(
        m.Leave(
            loop=loop.name, condition=condition or no_condition(), out=-1, **low.where(node, "leave_when", unnamed=True)
        )
    )
    loop.leaves.append(pc)
    loop.certain.append(low.scope.certain.since(loop.depth))


def lower_for_each(low: Lowering, node: n.ForEach) -> None:
    """A loop over the labels of a set, a table, or the items of a machine."""
    scope = low.scope
    name, variable = node.labels.text, node.variable.text
    labels = scope.labels_of(name)
    scope.used.add(name)
    if labels is None:
        if low.machine is not None or not low.machine_named:
            scope.say_unknown(
                "unknown-labels",
                f"there is no set of labels or table called `{name}`",
                node.labels,
                [*scope.label_sets, *scope.machine_sets],
                f"declare it in the header: `labels {name} 1 .. 8`",
            )
        labels = ()
    known = variable in scope.symbols or variable in scope.columns or variable in scope.label_sets
    if known or scope.through(variable) is not None or any(loop.name == variable for loop in low.loops):
        scope.say(
            "duplicate-name",
            f"`{variable}` is the name of something else here",
            node.variable.span,
            hint="choose another name for the label",
        )
    if node.star and labels:
        labels = tuple(labels[i - 1] for i in star_order(len(labels)))
    low.take(node.variable, "loop", repeatable=True)
    scope.loops.append(Through(variable, labels, low.new_loop()))
    with low.at(variable, variable), low.block():
        low.emit(m.BeginEach(variable=variable, labels=labels, **low.where(node)))
        begin = low.here
        low.statements(node.body)
        check_empty(low, node, node.body)
        low.emit(m.EndEach(variable=variable, labels=labels, begin=begin, **low.where(node, ".end")))
    scope.loops.pop()


def lower_any_order(low: Lowering, node: n.AnyOrder) -> None:
    """Steps in whatever order suits the site: what one of them sets, another cannot count on."""
    steps: list[tuple[str, str, int]] = []
    scope = low.scope
    after: set[str] = set()
    with low.block():
        order = low.emit(m.AnyOrderInstr(steps=(), out=-1, **low.where(node, "in_any_order", unnamed=True)))
        for step in node.body:
            if not isinstance(step, n.Step):
                if not isinstance(step, n.Broken):
                    scope.say_misplaced(
                        "only steps stand in `in any order`", head(step), "put it before or after the group"
                    )
                with low.under_damage(), scope.certain.layer() as names:
                    low.statements((step,))
                after |= names
                continue
            steps.append((step.name.text, step.title.plain, low.here))
            with scope.certain.layer() as names:
                lower_step(low, step)
            low.emit(m.OrderDone(step=step.name.text, back=order, **low.where(step, step.name.text, ".done")))
            after |= names
        check_empty(low, node, node.body)
        if len(steps) == 1 and len(node.body) == 1:
            scope.say(
                "one-step", "one step alone has no order", head(node), hint="put the other steps under it as well"
            )
        low.patch(order, steps=tuple(steps), out=low.here)
    scope.certain.update(after)
