"""The ways on from a verdict: which are open at a question, in the words they are answered with."""

from __future__ import annotations

import attrs

from proclang.engine.working import Working
from proclang.program import model as m


@attrs.frozen
class Way:
    """One way on: the word that is typed, and what it means."""

    word: str
    meaning: str


AGAIN = Way("again", "read once more; the new reading joins the others")
AGAIN_ALL = Way("again", "read all of them once more; the new readings join the others")
ADJUST = Way("adjust", "it has been adjusted; read afresh")
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
        ways = (AGAIN, ADJUST) if instr.reread is not None else ()
    elif isinstance(instr, m.Read):
        ways = (AGAIN_ALL if rest.get("all") else AGAIN, ADJUST)
    elif isinstance(instr, m.Ask):
        ways = (ANSWER_AGAIN,)
    elif isinstance(instr, m.SetInstr):
        ways = (READ_BACK_AGAIN,)
    # A rule of the machine is put right, never accepted as broken.
    may_accept = phase != "blocked" and bool(authorised(work))
    return (*ways, *((accept,) if may_accept else ()), STOP)


def authorised(work: Working) -> tuple[str, ...]:
    """The people who may accept a deviation here: by the procedure's own `authority`, else by that of the whole run."""
    roles = work.routine.authority or work.program.opening.authority
    return tuple(dict.fromkeys(work.state.people[role] for role in roles if role in work.state.people))
