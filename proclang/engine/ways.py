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
ADJUST = Way("adjust", "it has been adjusted; read afresh")
ANSWER_AGAIN = Way("again", "answer once more")
ACCEPT = Way("accept", "accept it as a deviation, with a reason and a name that may")
CHANGED = Way("changed", "it has been put right and is now as required")
STOP = Way("stop", "stop the procedure here and make safe")


def ways_at(work: Working, instr: m.Instr, phase: str) -> tuple[Way, ...]:
    """The ways open where the engine rests with a verdict, a broken rule or an unknown value."""
    accept = (ACCEPT,) if authorised(work) else ()
    if phase in ("blocked", "left"):
        return (CHANGED, *(accept if phase == "left" else ()), STOP)
    if isinstance(instr, m.ComputeValue):
        back = (AGAIN, ADJUST) if instr.reread is not None else ()
        return (*back, *accept, STOP)
    if isinstance(instr, m.Read):
        return (AGAIN, ADJUST, *accept, STOP)
    if isinstance(instr, (m.Ask, m.SetInstr)):
        return (ANSWER_AGAIN, *accept, STOP)
    return (*accept, STOP)


def authorised(work: Working) -> tuple[str, ...]:
    """The people who may accept a deviation here: by the procedure's own `authority`, else by that of the whole run."""
    roles = work.routine.authority or work.program.opening.authority
    return tuple(dict.fromkeys(work.state.people[role] for role in roles if role in work.state.people))
