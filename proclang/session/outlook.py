"""What is not proved any more on what is left of a run, once it has left the ways that were proved before it began."""

from __future__ import annotations

from collections.abc import Sequence

from proclang.engine.model import Entry, Frame, State
from proclang.program import model as m
from proclang.text.diagnostic import Diagnostic


def off_the_ways(entry: Entry) -> bool:
    """Whether an entry leads off the ways on which everything was proved."""
    return entry.reply.kind == "mistyped" or any(
        event["is"] in ("deviation", "breach")
        or (event["is"] == "hardware" and event.get("why") == "put right")
        or (event["is"] in ("branch", "loop end") and event.get("chosen"))
        for event in entry.then
    )


def unproved_now(program: m.Program, state: State) -> tuple[Diagnostic, ...]:
    """What may go wrong from where a run stands; nothing while it is over, being made safe, or not begun."""
    from proclang.check.from_here import Standpoint, unproved_from

    if state.over or state.status == "stopping" or len(state.frames) < 2:
        return ()
    stack = [_standpoint(program, state, frame) for frame in state.frames[1:]]
    return unproved_from(program, [s for s in stack if isinstance(s, Standpoint)], state.hardware)


def said_unproved(findings: Sequence[Diagnostic]) -> list[str]:
    """What is not proved, for people on site: what may be wrong, and how it comes to that."""
    if not findings:
        return []
    said = [f"- {finding.message}{f' ({finding.hint})' if finding.hint else ''}" for finding in findings]
    return ["Not proved any more on what is left:", *dict.fromkeys(said)]


def _standpoint(program: m.Program, state: State, frame: Frame) -> object:
    from proclang.check.from_here import Standpoint

    routine = program.routine(frame.routine)
    choices = {
        name: frame.values[name][""]
        for name, symbol in routine.symbols.items()
        if isinstance(symbol.type, m.Choice) and "" in frame.values.get(name, {})
    }
    if "hemisphere" in state.facts:
        choices["hemisphere"] = state.facts["hemisphere"]
    return Standpoint(
        frame.address or routine.code[0].address,
        tuple((name, value) for name, value in frame.loops if isinstance(value, str)),
        frozenset((group, step) for group, steps in frame.orders.items() for step in steps),
        choices,
        {name: keys[""] for name, keys in frame.outcomes.items() if "" in keys and name not in frame.stale},
    )
