"""Performing another procedure, coming back from it, and stopping all of them."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from proclang.engine.interlocks import not_as_declared
from proclang.engine.reach_values import unknown
from proclang.engine.working import Working
from proclang.program import model as m
from proclang.values.quantity import Quantity
from proclang.values.show import exact_text
from proclang.values.unit import NONE


def call(work: Working, instr: m.Call, pc: int) -> int | None:
    """Begin a procedure, with its hardware as it says. Its inputs: what it is given, else the site's, else defaults."""
    routine = work.program.routine(instr.routine)
    given: dict[str, str] = {}
    handed: dict[str, list[Any]] = {}
    for symbol, formula in instr.arguments:
        try:
            value = formula.evaluate(work)
        except m.NotKnown as reason:
            return unknown(work, instr, str(reason), unset=[(taken, "") for _, taken in instr.gives])
        given[symbol.name] = work.stored_text(symbol, value) if isinstance(value, Fraction) else str(value)
        if isinstance(value, Fraction):
            handed[symbol.name] = [given[symbol.name], list(formula.names)]
    opening = work.frame.routine == ""  # what the opening has asked is not asked again
    breach = not_as_declared(work.state.hardware, () if opening else ((x.place, x.found) for x in routine.hardware))
    if breach is not None:
        work.rest(instr, "blocked", **breach.rest(f"`{instr.routine}` begins with this: "))
        return None
    path = instr.routine if opening else work.at(instr)
    work.emit("called", at=instr.address, routine=instr.routine, path=path, title=routine.title, handed=handed or None)
    for symbol in routine.inputs:
        text = given.get(symbol.name, work.state.facts.get(symbol.name, _default(symbol)))
        if text is not None:
            work.emit("value", name=symbol.name, value=text, input=True)
    return 0


def _default(symbol: m.Symbol) -> str | None:
    default = symbol.default
    return exact_text(default, symbol.unit or NONE) if isinstance(default, Quantity) else default


def end_routine(work: Working, instr: m.Return, pc: int) -> int | None:
    """The end of a procedure: its hardware as it says, then back to its caller."""
    breach = not_as_declared(work.state.hardware, ((x.place, x.left) for x in work.routine.hardware))
    if breach is not None:
        work.rest(instr, "left", **breach.rest())
        return None
    return leave_routine(work)


def leave_routine(work: Working) -> int | None:
    """Back to the caller, with what is given; at the end of the opening the run is finished."""
    inner = work.frame
    if len(work.state.frames) == 1:
        work.emit("finished", status="finished")
        return None
    caller = work.state.frames[-2]
    routine = work.program.routine(caller.routine)
    pc = routine.index[caller.address]
    instr = routine.code[pc]
    assert isinstance(instr, m.Call)
    gives = [symbol.name for _, symbol in instr.gives]
    took = {symbol.name: name for name, symbol in instr.gives}
    work.emit("returned", at=inner.path, stale=list(inner.stale) or None, gives=gives or None, took=took or None)
    for name, symbol in instr.gives:
        for key, text in inner.values.get(name, {}).items():
            work.emit("value", name=symbol.name, key=key or None, value=text)
        for key, outcome in inner.outcomes.get(name, {}).items():
            work.emit("verdict", at=work.at(instr), name=symbol.name, key=key or None, outcome=outcome, given=True)
        if name in inner.stale:
            work.emit("unfresh", at=work.at(instr), names=[symbol.name], why=name)
    return pc + 1


# ---------------------------------------------------------------------------- stopping


def stop(work: Working, reason: str) -> int | None:
    """Make the site safe: `if stopped` of the section being gone through, then of the sections it was performed from.

    A stop on the way there leaves out the rest of the one `if stopped` and goes on with the next.
    """
    again = work.state.status == "stopping"
    work.emit("stopped", at=work.frame.path, reason=reason or None, again=True if again else None)
    if again and not _leave_stopped(work):
        return None
    return _to_safe_state(work)


def end_stopped(work: Working, instr: m.EndStopped, pc: int) -> int | None:
    """The end of one `if stopped`."""
    return _to_safe_state(work) if _leave_stopped(work) else None


def _to_safe_state(work: Working) -> int | None:
    """The innermost `if stopped` not yet gone through; the run is over when there is none."""
    while True:
        frame = work.frame
        enter = work.routine.code[work.routine.index[frame.section]] if frame.section else None
        if isinstance(enter, m.EnterSection) and enter.stopped is not None:
            return enter.stopped
        if not _leave_stopped(work):
            return None


def _leave_stopped(work: Working) -> bool:
    """Out of a procedure that is stopped; False when that was the last."""
    if len(work.state.frames) == 1:
        work.emit("finished", status="stopped")
        return False
    work.emit("returned", at=work.frame.path)
    return True
