"""Hazards that the machine wants said before hardware comes into a state: are they, on every way?

A machine says below a hazard `due before laser is on`. Along every way of a procedure this keeps which hazards have
been said since the section began, those of procedures performed meanwhile included: a join keeps what both ways said.
Where `now laser is on` is come to without the hazard, somebody switches on who was not warned.

Each procedure warns by itself, since it may be performed from anywhere: what its performer said does not count. The
steps of `if stopped` are not looked at: they make things right.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from proclang.check.writing.rule import Found, Seen
from proclang.program import model as m
from proclang.program.successors import successors
from proclang.text.diagnostic import Label

_Said = frozenset[str]


def said_in(routine: m.Routine, due: _Said, summaries: Mapping[str, _Said]) -> tuple[dict[int, _Said], _Said]:
    """Of the hazards that are `due` somewhere: those said since the section began, on every way that comes to an
    instruction; and those said on every way to the end. `summaries` has the latter of procedures resolved before."""
    code = routine.code
    at: dict[int, tuple[_Said, _Said]] = {0: (frozenset(), frozenset())}
    todo = [0]
    whole: _Said | None = None
    while todo:
        pc = todo.pop()
        here, ever = at[pc]
        instr = code[pc]
        if isinstance(instr, m.EnterSection):
            here = frozenset()
        elif isinstance(instr, m.Acknowledge) and instr.hazard.name in due:
            here, ever = here | {instr.hazard.name}, ever | {instr.hazard.name}
        elif isinstance(instr, m.Call):
            told = summaries.get(instr.routine, frozenset())
            here, ever = here | told, ever | told
        elif isinstance(instr, m.Return):
            whole = ever if whole is None else whole & ever
        for to in successors(code, pc):
            before = at.get(to)
            now = (here, ever) if before is None else (before[0] & here, before[1] & ever)
            if now != before:
                at[to] = now
                todo.append(to)
    return {pc: here for pc, (here, _) in at.items()}, whole or frozenset()


def hazard_unsaid(seen: Seen) -> Iterator[Found]:
    """A change of hardware whose hazard was not said, on some way, since its section began."""
    if seen.routine is None or seen.machine is None or not seen.machine.demands:
        return
    due: dict[str, list[m.Demand]] = {}
    for demand in seen.machine.demands:
        due.setdefault(demand.place.item, []).append(demand)
    said, _ = said_in(seen.routine, seen.due, seen.summaries)
    ever = {x.hazard.name for x in seen.routine.code if isinstance(x, m.Acknowledge)}
    for pc, instr in enumerate(seen.routine.code):
        if not isinstance(instr, m.NowInstr) or instr.ensure or pc not in said:
            continue
        for demand in due.get(instr.place.item, ()):
            if demand.hazard not in said[pc] and demand.touches(instr.place, instr.state):
                word = seen.machine.hazards[demand.hazard].word
                some = "on some way " if demand.hazard in ever else ""
                message = f"{some}nobody is warned of `{demand.hazard}` in this section before this"
                hint = f"write `{word} {demand.hazard}` before the step"
                yield Found(instr.span, message, hint, (Label(demand.span, "the machine asks for it"),))
