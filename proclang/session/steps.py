"""Which steps of a section can still be come to, so that a number that is passed over need not puzzle anybody."""

from __future__ import annotations

from proclang.engine.model import Request, State
from proclang.program import model as m
from proclang.program.successors import successors


def steps_to_come(program: m.Program, state: State, request: Request) -> frozenset[int] | None:
    """Numbers of the steps of the section that lie on some way from here, this one among them; None outside a step.

    Every branch counts as open and every loop as not yet at its bound, so that no step is left out that may come.
    """
    if request.number is None:
        return None
    frame = state.top
    routine = program.routine(frame.routine)
    code, enter = routine.code, routine.index.get(frame.section, 0)
    numbers: dict[str, int] = {}
    for pc in range(enter, len(code)):
        instr = code[pc]
        if isinstance(instr, m.LeaveSection):
            break
        if isinstance(instr, m.BeginStep):
            numbers.setdefault(instr.identity, len(numbers) + 1)
    found = {request.number[0]}
    seen: set[int] = set()
    todo = [routine.index[frame.address]]
    while todo:
        pc = todo.pop()
        instr = code[pc]
        if pc in seen or isinstance(instr, m.LeaveSection):
            continue
        seen.add(pc)
        if isinstance(instr, m.BeginStep) and instr.identity in numbers:
            found.add(numbers[instr.identity])
        todo.extend(successors(code, pc))
    return frozenset(found)
