"""The sections of one procedure to a flat list of instructions.

One walk in source order: names are declared as they are set, expressions proved as they are met, and a running set of
names that are *certain* to be set is kept through branches and loops (both ways of a branch: what both set; a loop:
what every way out has set; the body of a loop runs at least once). Instructions that change hardware come after the
next question of their step, so that nothing is recorded as done before anybody has answered.

A new kind of statement gets a function in one of the `lower_...` files and a line in the table below.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from proclang.program import lower_flow as flow
from proclang.program import lower_hardware as hardware
from proclang.program import lower_people as people
from proclang.program import lower_steps as steps
from proclang.program import lower_values as values
from proclang.program import model as m
from proclang.program.formula import compile_part
from proclang.program.lower_perform import lower_perform
from proclang.program.lowering import Lower, Lowering, first_word, head
from proclang.program.machine import SIGNAL_WORDS
from proclang.program.texts import compile_text
from proclang.syntax import nodes as n

STATEMENTS: Mapping[type[n.Node], Lower] = {
    n.Step: steps.lower_step,
    n.Hazard: people.lower_hazard,
    n.Measure: values.lower_measure,
    n.MeasureAgain: values.lower_again,
    n.ComputeAgain: values.lower_compute_again,
    n.Compute: values.lower_compute,
    n.SetValue: values.lower_set,
    n.Confirm: people.lower_ask,
    n.Choose: people.lower_ask,
    n.Note: people.lower_ask,
    n.Photo: people.lower_ask,
    n.Hold: people.lower_sign,
    n.Witness: people.lower_sign,
    n.Now: hardware.lower_now,
    n.Require: hardware.lower_require,
    n.Upsets: hardware.lower_upsets,
    n.According: flow.lower_according,
    n.When: flow.lower_when,
    n.Repeat: flow.lower_repeat,
    n.LeaveWhen: flow.lower_leave,
    n.ForEach: flow.lower_for_each,
    n.AnyOrder: flow.lower_any_order,
    n.Perform: lower_perform,
}
"""What each kind of statement becomes."""

IN_STEP_ONLY = (n.Measure, n.MeasureAgain, n.Prose, n.Figure, n.Now, n.Upsets)
BESIDE_STEPS_ONLY = (
    n.Step, n.Hold, n.Witness, n.Perform, n.Repeat, n.LeaveWhen, n.ForEach, n.AnyOrder, n.Stopped, n.Hazard,
)  # fmt: skip
NOT_WHEN_STOPPED = (n.Repeat, n.Perform, n.AnyOrder)


def lower_section(low: Lowering, node: n.Section) -> None:
    """One section, and its `if stopped` behind it."""
    low.take(node.name, "section")
    low.former(node.name, node.former)
    title = compile_text(node.title, low.scope)
    with low.at(node.name.text, node.name.text), low.block():
        takes = steps.takes_text(node.takes, low.scope)
        enter = low.emit(
            m.EnterSection(name=node.name.text, title=title, takes=takes, hazards=(), stopped=None, **low.where(node))
        )
        stopped = [s for s in node.body if isinstance(s, n.Stopped)]
        for extra in stopped[1:]:
            low.scope.say("twice", "this section says already what happens if it is stopped", head(extra))
        with low.scope.certain.layer() as names:
            low.statements(s for s in node.body if not isinstance(s, n.Stopped))
            flow.check_empty(low, node, [s for s in node.body if not isinstance(s, n.Stopped)])
            low.emit(m.LeaveSection(**low.where(node, ".left")))
            if stopped:
                with low.scope.certain.without(names):
                    _lower_stopped(low, node, stopped[0], enter)
        low.scope.certain.update(names)
        hazards = _briefed(low, node)
        if hazards:
            low.patch(enter, hazards=hazards)


def _lower_stopped(low: Lowering, section: n.Section, node: n.Stopped, enter: int) -> None:
    """The way to a safe state. It may be entered from anywhere in the section, so only what was certain at its start is
    certain here; and what it sets is not there afterwards, since the run is over."""
    over = low.jump(section)
    low.patch(enter, stopped=low.here)
    with low.at("if stopped", "if_stopped"):
        low.stopping = True
        low.statements(node.body)
        low.stopping = False
    flow.check_empty(low, node, node.body)
    low.emit(m.EndStopped(**low.where(section, ".end")))
    low.patch(over, target=low.here)


def _briefed(low: Lowering, node: n.Section) -> tuple[m.HazardInfo, ...]:
    """The hazards of a section, each once, most serious first."""
    if not low.hazards:
        return ()
    names = (x.name.text for x in n.nested(node.body) if isinstance(x, n.Hazard))
    found = {name: low.hazards[name] for name in names if name in low.hazards}
    return tuple(sorted(found.values(), key=lambda h: SIGNAL_WORDS.index(h.word)))


def walk(low: Lowering, body: Iterable[n.Node]) -> None:
    """The statements of a block, in order."""
    statements = list(body)
    following: list[people.Following] | None = None
    for index, statement in enumerate(statements):
        before = statements[index - 1] if index else None
        if isinstance(statement, n.Broken):
            lower_damaged(low, statement)
        elif _misplaced(low, statement, before):
            with low.under_damage():
                _lower_anywhere(low, statement)
        elif isinstance(statement, n.Hazard):
            if following is None:
                following = people.what_follows(statements)
            people.check_last(low, statement, following[index])
            people.lower_hazard(low, statement, following[index].step)
        else:
            STATEMENTS[type(statement)](low, statement)


def lower_damaged(low: Lowering, node: n.Broken) -> None:
    """The sound lines under a damaged one: what they set is taken as set, and their own mistakes are still found."""
    with low.under_damage(loose=bool(node.words & {"for", "each", "of"})):
        for inner in node.inside:
            if isinstance(inner, n.Broken):
                lower_damaged(low, inner)
            elif isinstance(inner, n.With):
                compile_part(inner.value, low.scope)
            elif isinstance(inner, n.Take):
                low.declare_unknown(inner.into or inner.name)
            else:
                _lower_anywhere(low, inner)


def _lower_anywhere(low: Lowering, node: n.Node) -> None:
    """A statement where it does not belong, or below something that is not known."""
    if isinstance(node, (n.Prose, n.Figure)):
        for text in node.children():
            if isinstance(text, n.Text):
                compile_text(text, low.scope)
    elif isinstance(node, (n.Arm, n.Otherwise, n.Stopped)):
        low.statements(node.body)
    elif type(node) in STATEMENTS:
        STATEMENTS[type(node)](low, node)


def _misplaced(low: Lowering, node: n.Node, before: n.Node | None) -> bool:
    """Whether a statement stands where it does not belong; said, unless a damaged line above may be the cause."""
    if isinstance(node, n.Otherwise):
        if not low.damaged and not isinstance(before, n.Broken):
            low.scope.say_misplaced("this `otherwise` follows neither a `when` nor a `repeat`", head(node))
        return True
    if low.damaged:
        return isinstance(node, (n.Prose, n.Figure, n.Stopped))
    in_step = low.step is not None
    if isinstance(node, IN_STEP_ONLY) and not in_step:
        low.scope.say_misplaced(
            f"{first_word(node)} belongs inside a step", head(node), "indent it under the step it is done in"
        )
        return True
    if isinstance(node, (n.Prose, n.Figure)):
        low.scope.say_misplaced(
            f"{first_word(node)} stands directly under its step",
            head(node),
            "what a step says is shown as a whole, before anything in it is asked",
        )
        return True
    if isinstance(node, BESIDE_STEPS_ONLY) and in_step:
        low.scope.say_misplaced(
            f"{first_word(node)} does not belong inside a step", head(node), "put it beside the step"
        )
        return True
    if isinstance(node, n.Stopped):
        low.scope.say_misplaced("`if stopped` stands directly in a section", head(node))
        return True
    if low.stopping and isinstance(node, NOT_WHEN_STOPPED):
        low.scope.say_misplaced(
            f"{first_word(node)} does not belong in `if stopped`",
            head(node),
            "a safe state is reached by plain steps",
        )
        return True
    return False
