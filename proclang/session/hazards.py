"""Which hazards stand at a step, so that they can be shown together with it however a run came there."""

from __future__ import annotations

from proclang.engine.model import Callout, Request, State
from proclang.engine.questions import callout
from proclang.engine.working import Working
from proclang.program import model as m

_BETWEEN = (m.Acknowledge, m.BeginLoop, m.BeginEach)
"""What may stand between a hazard and the step it is said before."""


def hazards_at_step(program: m.Program, state: State, request: Request) -> tuple[Callout, ...]:
    """The hazards said directly before the step a question belongs to, in their order; none outside a step.

    A request carries hazards only while they are being acknowledged; a run that is resumed in the middle of a step,
    or comes to a second step of the same hazard, shows them from here.
    """
    if not request.step:
        return ()
    work = Working(program, state)
    code = work.routine.code
    at = work.routine.index[work.frame.address]
    while at >= 0 and not isinstance(code[at], m.BeginStep):
        at -= 1
    found: list[Callout] = []
    at -= 1
    while at >= 0 and isinstance(instr := code[at], _BETWEEN):
        if isinstance(instr, m.Acknowledge):
            found.append(callout(work, instr.hazard))
        at -= 1
    return tuple(reversed(found))
