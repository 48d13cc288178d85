"""What is being asked: the state and the program to one `Request`, with everything a driver needs to put it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import attrs

from proclang.engine import questions, questions_values, questions_ways
from proclang.engine.model import FOREIGN, BadEntry, Over, Request, State
from proclang.engine.questions import person_text
from proclang.engine.wording import label_text, turn_text
from proclang.engine.working import Working
from proclang.program import model as m


def next_request(program: m.Program, state: State) -> Request | Over:
    """The question a run rests at. `state` is left as it was.

    Raises `BadEntry` for a state that no run of this program leads to.
    """
    if state.over:
        return Over(state.status)
    work = Working(program, state)  # nothing is emitted here: a request only looks
    try:
        pc = work.routine.index[work.frame.address]
        phase = str(state.rest["phase"])
        request = _BY_PHASE[phase](work, work.routine.code[pc], state.rest)
        return _placed(work, pc, attrs.evolve(request, phase=phase))
    except BadEntry:
        raise
    except (*FOREIGN, m.NotKnown) as error:
        raise BadEntry(f"the recorded entries do not go with the procedure: {error!r}") from error


def _placed(work: Working, pc: int, request: Request) -> Request:
    """Where it stands: section, step k of n, and the text of the step."""
    code = work.routine.code
    enter = work.routine.index.get(work.frame.section, -1)
    section = code[enter] if enter >= 0 else None
    if work.routine.name == "":
        title = work.routine.title
    else:
        title = work.text(section.title) if isinstance(section, m.EnterSection) else ""
    sections = [x.address for x in code if isinstance(x, m.EnterSection)]
    placed = (sections.index(section.address) + 1, len(sections)) if isinstance(section, m.EnterSection) else None
    request = attrs.evolve(request, section=title, section_number=placed, within=_within(work, pc))
    begin = next((i for i in range(pc, -1, -1) if isinstance(code[i], (m.BeginStep, m.EndStep))), None)
    step = code[begin] if begin is not None else None
    if not isinstance(step, m.BeginStep):
        return request
    inside = [x.identity for x in code[max(enter, 0) : _end_of_section(code, enter)] if isinstance(x, m.BeginStep)]
    places = list(dict.fromkeys(inside))
    by = " and ".join(person_text(work, role) for role in step.people)
    return attrs.evolve(
        request,
        step=work.at(step),
        number=(places.index(step.identity) + 1, len(places)) if step.identity in places else None,
        title=work.text(step.title),
        prose=tuple(work.text(t) for t in step.prose),
        figures=tuple(f"{path}: {work.text(caption)}" for path, caption in step.figures),
        by=by,
        people=request.people or by,
        takes=step.takes,
    )


def _within(work: Working, pc: int) -> tuple[str, ...]:
    """Where the loops around an instruction stand."""
    texts = []
    for name, value in work.frame.loops:
        begin = next((x for x in reversed(work.routine.code[: pc + 1]) if _begins(x, name)), None)
        if isinstance(begin, m.BeginLoop):
            texts.append(turn_text(name, str(value), begin.bound))
        elif isinstance(begin, m.BeginEach):
            texts.append(label_text(name, str(value), begin.labels, _written(work, begin.labels)))
    return tuple(texts)


def _begins(instr: m.Instr, loop: str) -> bool:
    if isinstance(instr, m.BeginLoop):
        return instr.name == loop
    return isinstance(instr, m.BeginEach) and instr.variable == loop


def _written(work: Working, labels: tuple[str, ...]) -> tuple[str, ...]:
    """The order in which these labels were declared, which a loop may go through in another; its own where that is
    not known."""
    machine = work.routine.machine
    items = tuple(item.labels for item in machine.items.values()) if machine is not None else ()
    tables = tuple(tuple(table) for table in work.routine.tables.values())
    declared = (*work.routine.label_sets.values(), *items, *tables)
    return next((known for known in declared if set(known) == set(labels)), labels)


def _end_of_section(code: tuple[m.Instr, ...], enter: int) -> int:
    for i in range(max(enter, 0), len(code)):
        if isinstance(code[i], m.LeaveSection):
            return i
    return len(code)


_BY_PHASE: dict[str, Callable[[Working, Any, dict[str, Any]], Request]] = {
    "role": questions.role,
    "serial": questions.serial,
    "calibrated": questions.calibrated,
    "ready": questions.ready,
    "found": questions.found,
    "briefing": questions.briefing,
    "joining": questions.joining,
    "acknowledge": questions.acknowledge,
    "asks": questions.asks,
    "done": questions.done,
    "confirm": questions.confirm,
    "choose": questions.choose,
    "note": questions.note,
    "photo": questions.photo,
    "sign": questions.sign,
    "pick": questions.pick,
    "pause": questions.pause,
    "read": questions_values.read,
    "set": questions_values.set_value,
    "read back": questions_values.read_back,
    "after power cycle": questions_values.read_back,
    "verdict": questions_ways.verdict,
    "exchange": questions_ways.exchange,
    "unknown": questions_ways.unknown,
    "blocked": questions_ways.blocked,
    "left": questions_ways.blocked,
    "bound": questions_ways.bound,
    "state now": questions_ways.state_now,
    "reason": questions_ways.reason,
    "accepted by": questions_ways.accepted_by,
    "which way": questions_ways.which_way,
}
