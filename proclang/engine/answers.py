"""What an answer does, by the phase the engine rests in.

A handler reads the text; what it cannot take it returns as a `Problem`, and nothing has happened. Otherwise it emits
events and returns the instruction to go on from, or None when it has come to rest again by itself.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from proclang.engine import answer_people, answer_values, answer_ways
from proclang.engine.advance import advance
from proclang.engine.working import Working
from proclang.program import model as m
from proclang.text.diagnostic import Problem

Handler = Callable[[Working, Any, int, str], "int | Problem | None"]


def answer(work: Working, pc: int, text: str) -> Problem | None:
    """Take an answer at instruction `pc`, where the engine rests, and go on to the next question."""
    phase = str(work.state.rest["phase"])
    instr = work.routine.code[pc]
    going = _BY_PHASE[phase](work, instr, pc, text.strip() if phase in _AS_TYPED else " ".join(text.split()))
    if isinstance(going, Problem):
        return going
    advance(work, going)
    return None


def _pause(work: Working, instr: m.Instr, pc: int, text: str) -> int | Problem:
    from proclang.engine.typed import read_done

    return read_done(text, "on", "to go on") or pc


_BY_PHASE: dict[str, Handler] = {
    "role": answer_people.role,
    "serial": answer_people.serial,
    "calibrated": answer_people.calibrated,
    "ready": answer_people.ready,
    "found": answer_people.found,
    "briefing": answer_people.briefing,
    "joining": answer_people.joining,
    "acknowledge": answer_people.acknowledge,
    "asks": answer_people.asks,
    "done": answer_people.done,
    "confirm": answer_people.confirm,
    "choose": answer_people.choose,
    "note": answer_people.write,
    "photo": answer_people.write,
    "sign": answer_people.sign,
    "pick": answer_people.pick,
    "read": answer_values.read,
    "set": answer_people.done,
    "read back": answer_values.read_back,
    "after power cycle": answer_values.read_back,
    "verdict": answer_ways.way,
    "exchange": answer_ways.exchange,
    "unknown": answer_ways.way,
    "blocked": answer_ways.way,
    "left": answer_ways.way,
    "bound": answer_ways.way,
    "state now": answer_ways.state_now,
    "reason": answer_ways.reason,
    "accepted by": answer_ways.accepted_by,
    "which way": answer_ways.which_way,
    "pause": _pause,
}

_AS_TYPED = frozenset({"note", "photo", "reason", "asks"})
"""Phases whose answer is kept as it was typed, inner blanks and all."""

PHASES = frozenset(_BY_PHASE)
"""Every way the engine can rest."""
