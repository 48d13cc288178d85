"""The ways on from a verdict: which are open at a question, in the words they are answered with."""

from __future__ import annotations

import attrs

from proclang.engine.working import Working
from proclang.program import model as m
from proclang.values.tolerance import Outcome


@attrs.frozen
class Way:
    """One way on: the word that is typed, and what it means."""

    word: str
    meaning: str


AGAIN = Way("again", "read once more; the new reading joins the others")
AGAIN_ALL = Way("again", "read all of them once more; the new readings join the others")
ADJUST = Way("adjust", "it has been adjusted; read afresh")
NARROW = Way("again", "read once more: more readings leave less doubt")
NARROW_ALL = Way("again", "read all of them once more: more readings leave less doubt")
TOWARD = Way("adjust", "it has been adjusted toward the middle of its limits; read afresh")
EXCHANGE = Way("exchange", "take another instrument of this procedure in hand, and read afresh with it")
ANSWER_AGAIN = Way("again", "answer once more")
READ_BACK_AGAIN = Way("again", "set it once more and read it back")
ACCEPT = Way("accept", "accept it as a deviation, with a reason and a name that may")
GO_ON = Way("accept", "go on without it as a deviation, with a reason and a name that may")
CHOOSE = Way("accept", "choose the way on as a deviation, with a reason and a name that may")
CHANGED = Way("changed", "it has been put right and is now as required")
MOVED = Way("changed", "it has been put right; say how it stands now")
STOP = Way("stop", "stop the procedure here and make safe")

BACK = "back"
"""Typed where a reason or a name is asked for, to choose another way after all."""


def ways_at(work: Working, instr: m.Instr, phase: str) -> tuple[Way, ...]:
    """The ways open where the engine rests with a verdict, a broken rule or an unknown value."""
    rest = work.state.rest
    ways: tuple[Way, ...] = ()
    accept = ACCEPT
    if phase in ("blocked", "left"):
        ways = (MOVED,) if rest.get("ask") else (CHANGED,)
    elif phase == "unknown":
        accept = CHOOSE if isinstance(instr, (m.Arms, m.Branch, m.Leave)) else GO_ON
        if isinstance(instr, m.ComputeValue) and instr.reread is not None:
            ways = (AGAIN, ADJUST)
    elif isinstance(instr, m.ComputeValue):
        ways = _reading_ways(work, instr, (AGAIN, NARROW)) if instr.reread is not None else ()
    elif isinstance(instr, m.Read):
        ways = _reading_ways(work, instr, (AGAIN_ALL, NARROW_ALL) if rest.get("all") else (AGAIN, NARROW))
    elif isinstance(instr, m.Ask):
        ways = (ANSWER_AGAIN,)
    elif isinstance(instr, m.SetInstr):
        ways = (READ_BACK_AGAIN,)
    # A rule of the machine is put right, never accepted as broken; nor is what the author let nobody accept.
    may_accept = phase != "blocked" and not never_accepted(work, instr, phase) and bool(authorised(work))
    return (*ways, *((accept,) if may_accept else ()), STOP)


def _reading_ways(work: Working, instr: m.Read | m.ComputeValue, again: tuple[Way, Way]) -> tuple[Way, ...]:
    """Once more, adjusted, or with another instrument: in the words of what has failed, or of what is undecided."""
    undecided = bool(work.state.rest.get("undecided"))
    ways = (again[1], TOWARD) if undecided else (again[0], ADJUST)
    return (*ways, EXCHANGE) if undecided and others_in_hand(work, instr) else ways


def others_in_hand(work: Working, instr: m.Instr) -> dict[str, tuple[str, ...]]:
    """For each instrument that the procedure names for a value here: those that can be read in place of what is in
    hand, which is that one or another it was exchanged for. They are of the procedure, and read the same quantity."""
    routine = work.routine
    reads: list[m.Read] = []
    if isinstance(instr, m.Read):
        reads = [instr]
    elif isinstance(instr, m.ComputeValue) and instr.reread is not None:
        behind = set(instr.formula.names)
        code = routine.code[instr.reread : routine.index[instr.address]]
        reads = [line for line in code if isinstance(line, m.Read) and line.symbol.name in behind]
    found: dict[str, tuple[str, ...]] = {}
    for read in reads:
        name = work.instrument_in_hand(read.instrument)
        known = routine.instruments.get(name or "")
        if read.instrument is None or known is None or known.reads_to is None:
            continue
        wanted = known.reads_to.dimension
        others = tuple(
            other.name
            for other in routine.instruments.values()
            if other.name != name and other.reads_to is not None and other.reads_to.dimension == wanted
        )
        if others:
            found[read.instrument] = others
    return found


def never_accepted(work: Working, instr: m.Instr, phase: str) -> bool:
    """Whether the procedure says `no deviation` of what fails, or is not known, where the engine rests."""
    symbols = work.routine.symbols
    if isinstance(instr, (m.Read, m.SetInstr, m.Ask)):
        return instr.symbol.facets.no_deviation
    if isinstance(instr, m.ComputeValue):
        if phase == "unknown":
            return any(symbol.facets.no_deviation for symbol, _, _ in instr.targets)
        return any(symbol.facets.no_deviation and _not_passed(work, symbol.name) for symbol, _, _ in instr.targets)
    if isinstance(instr, (m.Branch, m.Leave)):
        tested: tuple[str, ...] = instr.condition.verdicts
    elif isinstance(instr, m.EndLoop):
        body = work.routine.code[instr.begin : work.routine.index[instr.address]]
        tested = tuple(name for line in body if isinstance(line, m.Leave) for name in line.condition.verdicts)
    else:
        return False
    return any(name in symbols and symbols[name].facets.no_deviation for name in tested)


def _not_passed(work: Working, name: str) -> bool:
    return any(outcome != Outcome.PASSES.value for outcome in work.frame.outcomes.get(name, {}).values())


def authorised(work: Working) -> tuple[str, ...]:
    """The people who may accept a deviation here: by the procedure's own `authority`, else by that of the whole run."""
    roles = work.routine.authority or work.program.opening.authority
    return tuple(dict.fromkeys(work.state.people[role] for role in roles if role in work.state.people))
