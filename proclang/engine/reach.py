"""What happens when the engine reaches a section, a step, a question in words, a signature or hardware.

See `advance` for what a handler returns.
"""

from __future__ import annotations

from proclang.engine.interlocks import change_breach, find_breach, place_keys, required
from proclang.engine.working import Working
from proclang.program import model as m


def go_on(work: Working, instr: m.Instr, pc: int) -> int:
    """Nothing to do here."""
    return pc + 1


# ---------------------------------------------------------------------------- sections and steps


def enter_section(work: Working, instr: m.EnterSection, pc: int) -> int | None:
    """A section begins; its hazards are briefed, if there is a crew to brief."""
    work.emit("section", address=instr.address, at=work.at(instr), title=work.text(instr.title))
    if instr.hazards and work.state.people:
        work.rest(instr, "briefing")
        return None
    return pc + 1


def acknowledge(work: Working, instr: m.Acknowledge, pc: int) -> int | None:
    """A hazard before its step: once in a section, a DANGER every time."""
    hazard = instr.hazard
    if hazard.word != "danger" and hazard.name in work.frame.heard:
        return pc + 1
    work.rest(instr, "asks" if hazard.asks else "acknowledge", n=0 if hazard.asks else None)
    return None


def begin_step(work: Working, instr: m.BeginStep, pc: int) -> int | None:
    """A step is shown, unless a rule of the machine stands against it. On the way to the safe state nothing does."""
    breach = find_breach(work, instr, pc)
    if breach is not None and work.state.status != "stopping":
        work.rest(instr, "blocked", **breach.rest())
        return None
    work.emit("step", at=work.at(instr), title=work.text(instr.title), **work.performers(instr.people))
    if instr.ask_done:
        work.rest(instr, "done")
        return None
    return pc + 1


def ask(work: Working, instr: m.Ask, pc: int) -> int | None:
    """A question answered in words."""
    work.rest(instr, instr.kind)
    return None


def sign(work: Working, instr: m.Sign, pc: int) -> int | None:
    """A hold or a witness point: nothing goes on before every one of them has signed."""
    work.rest(instr, "sign", n=0, by=[])
    return None


# ---------------------------------------------------------------------------- hardware


def now(work: Working, instr: m.NowInstr, pc: int) -> int | None:
    """Hardware has changed. A rule that hung on an answer could not be looked at before: broken, it is recorded."""
    keys = place_keys(work, instr.place)
    if not instr.ensure:
        breach = change_breach(work.state.hardware, work.routine.machine, keys, instr.state)
        if breach is not None:
            work.emit("breach", at=work.at(instr), why=breach.text)
    work.emit("hardware", at=work.at(instr), items=list(keys), state=instr.state, why="now")
    return pc + 1


def require(work: Working, instr: m.RequireInstr, pc: int) -> int | None:
    """Hardware must be in a state. On the way to the safe state it is recorded when it is not."""
    breach = required(work.state.hardware, place_keys(work, instr.place), instr.state)
    if breach is None:
        return pc + 1
    if work.state.status == "stopping":
        work.emit("breach", at=work.at(instr), why=breach.text)
        return pc + 1
    work.rest(instr, "blocked", **breach.rest())
    return None


# ---------------------------------------------------------------------------- before the first section


def ask_role(work: Working, instr: m.AskRole, pc: int) -> int | None:
    """Who is it?"""
    work.rest(instr, "role")
    return None


def ask_instrument(work: Working, instr: m.AskInstrument, pc: int) -> int | None:
    """Which one is in hand?"""
    work.rest(instr, "serial")
    return None


def ask_ready(work: Working, instr: m.AskReady, pc: int) -> int | None:
    """Is everything at hand?"""
    work.rest(instr, "ready")
    return None


def ask_found(work: Working, instr: m.AskFound, pc: int) -> int | None:
    """In which state is it found? Of what is counted nothing is out before the first count."""
    if instr.counted:
        work.emit("hardware", at=work.at(instr), items=list(instr.keys), state=m.BACK, why="counted")
        return pc + 1
    work.rest(instr, "found")
    return None
