"""From a reply to an entry: the one place where values are read, verdicts made and ways taken."""

from __future__ import annotations

from typing import Any

from proclang.engine.advance import advance, stop
from proclang.engine.answers import answer, read_words
from proclang.engine.model import Entry, Over, Refused, Reply, State
from proclang.engine.request import next_request
from proclang.engine.working import Working
from proclang.program import model as m
from proclang.text import limits
from proclang.text.diagnostic import Problem


def begin(program: m.Program, opened: dict[str, Any], stamp: dict[str, Any]) -> Entry:
    """The first entry of a run. `opened` holds `facts` (site facts as stored text) and what the session wants kept."""
    work = Working(program, State())
    work.emit("opened", **opened)
    advance(work, 0)
    return Entry("opening", Reply("", "open", stamp), tuple(work.events))


def decide(program: m.Program, state: State, reply: Reply) -> Entry | Refused:
    """The entry a reply leads to, or why it cannot be taken. `state` is left as it was."""
    request = next_request(program, state)
    if isinstance(request, Over):
        return Refused(Problem("run-over", "the run is over; nothing more is asked"))
    if len(reply.text) > limits.REPLY_CHARACTERS:
        return Refused(Problem("too-long", f"a reply has at most {limits.REPLY_CHARACTERS:,} characters"))
    work = Working(program, state.copy())
    if reply.kind == "note":
        words = read_words(reply.text.strip(), "a note")
        if isinstance(words, Problem):
            return Refused(words)
        work.emit("noted", at=request.address, text=words)
        return Entry(request.address, reply, tuple(work.events))
    if reply.kind == "stop":
        if state.status == "stopping":
            work.emit("stopped", at=request.address, reason=reply.text.strip() or None)
            work.emit("finished", status="stopped")
        else:
            stop(work, reply.text.strip())
        return Entry(request.address, reply, tuple(work.events))
    pc = work.routine.index[work.frame.address]
    if "date" in reply.stamp:
        work.state.rest["today"] = reply.stamp["date"]
    problem = answer(work, work.routine.code[pc], pc, reply.text)
    if problem is not None:
        return Refused(problem)
    return Entry(request.address, reply, tuple(work.events))
