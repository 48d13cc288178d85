"""How far down a procedure something still matters: past the last line that asks for it, it need not be carried along.

A line inside a loop is come to again, so what it asks for matters to the end of the outermost loop around it.
"""

from __future__ import annotations

from collections.abc import Iterable

import attrs

from proclang.program import model as m


@attrs.frozen
class Lasts:
    """For each name of a routine the number of the last instruction it matters to."""

    asked: dict[str, int]
    """To branches: whose label, verdict or comparison it is. Within its branches it matters to where they meet."""

    touched: dict[str, int]
    """To readings, calculations and what upsets them: as a value that is fresh or stale."""


def lasts_of(routine: m.Routine, upset_by: dict[str, set[str]]) -> Lasts:
    """Both of a routine. `upset_by` gives for each name those that are upset with it."""
    ends = _loop_ends(routine)
    asked: dict[str, int] = {}
    touched: dict[str, int] = {}

    def note(into: dict[str, int], names: Iterable[str], pc: int) -> None:
        for name in names:
            into[name] = max(into.get(name, 0), ends.get(pc, pc))

    for pc, instr in enumerate(routine.code):
        if isinstance(instr, (m.Branch, m.Leave)):
            note(asked, instr.condition.names, pc if isinstance(instr, m.Leave) else _met(routine, instr.otherwise))
        elif isinstance(instr, m.Arms):
            note(asked, (instr.name,), max(_met(routine, target) for target in instr.targets.values()))
        elif isinstance(instr, m.Call):
            for _, formula in instr.arguments:
                note(asked, formula.names, pc)
            note(touched, (symbol.name for _, symbol in instr.gives), pc)
        elif isinstance(instr, m.Read):
            note(touched, (instr.symbol.name,), pc)
        elif isinstance(instr, m.ComputeValue):
            note(touched, (*instr.formula.names, *(symbol.name for symbol, _, _ in instr.targets)), pc)
        elif isinstance(instr, m.UpsetsInstr):
            for name in instr.names:
                note(touched, (name, *upset_by.get(name, ())), pc)
    return Lasts(asked, touched)


def _met(routine: m.Routine, branch: int) -> int:
    """Where the branches meet again, one of which begins there: the one before it ends in a jump over it, if it is not
    where they meet itself."""
    before = routine.code[branch - 1]
    return max(branch, before.target) if isinstance(before, m.Jump) else branch


def _loop_ends(routine: m.Routine) -> dict[int, int]:
    """For each instruction inside a loop or a group in any order the last one of the outermost of them."""
    ends: dict[int, int] = {}
    covered = -1
    spans: list[tuple[int, int]] = []
    for pc, instr in enumerate(routine.code):
        if isinstance(instr, (m.EndLoop, m.EndEach)):
            spans.append((instr.begin, pc))
        elif isinstance(instr, m.AnyOrderInstr):
            spans.append((pc, instr.out))
    for begin, end in sorted(spans, key=lambda span: (span[0], -span[1])):
        if end > covered:
            ends.update(dict.fromkeys(range(max(begin, covered + 1), end + 1), end))
            covered = end
    return ends
