"""From an answered question to the next one.

Each kind of instruction has one handler: it does what the instruction does and returns where to go on, or None when it
has come to rest at a question. Everything here ends: loops are bounded, calls are not recursive, and the program was
refused if it would come to too many steps. Where calculations go on for long without a question, a pause is put in, so
that one entry stays one line of a journal.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from proclang.engine import performing, reach, reach_values, reach_ways
from proclang.engine.working import Working
from proclang.program import model as m

Handler = Callable[[Working, Any, int], "int | None"]


def advance(work: Working, pc: int | None) -> None:
    """Go on from instruction `pc` of the top frame until something has to be asked or the run is over."""
    while pc is not None:
        instr = work.routine.code[pc]
        if work.full:
            work.rest(instr, "pause")
            return
        pc = _HANDLERS[type(instr)](work, instr, pc)


_HANDLERS: dict[type[m.Instr], Handler] = {
    m.EnterSection: reach.enter_section,
    m.LeaveSection: reach.go_on,
    m.Acknowledge: reach.acknowledge,
    m.BeginStep: reach.begin_step,
    m.EndStep: reach.go_on,
    m.Ask: reach.ask,
    m.Sign: reach.sign,
    m.NowInstr: reach.now,
    m.RequireInstr: reach.require,
    m.AskRole: reach.ask_role,
    m.AskInstrument: reach.ask_instrument,
    m.AskReady: reach.ask_ready,
    m.AskFound: reach.ask_found,
    m.Read: reach_values.read,
    m.ComputeValue: reach_values.compute,
    m.SetInstr: reach_values.set_value,
    m.UpsetsInstr: reach_values.upsets,
    m.Arms: reach_ways.arms,
    m.Branch: reach_ways.branch,
    m.Jump: reach_ways.jump,
    m.BeginLoop: reach_ways.begin_loop,
    m.EndLoop: reach_ways.end_loop,
    m.Leave: reach_ways.leave,
    m.BeginEach: reach_ways.begin_each,
    m.EndEach: reach_ways.end_each,
    m.AnyOrderInstr: reach_ways.any_order,
    m.OrderDone: reach_ways.order_done,
    m.Call: performing.call,
    m.Return: performing.end_routine,
    m.EndStopped: performing.end_stopped,
}
