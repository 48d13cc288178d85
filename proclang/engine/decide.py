"""From a reply to an entry: the one place where values are read, verdicts made and ways taken."""

from __future__ import annotations

import datetime
from typing import Any

import attrs

from proclang.engine.advance import advance
from proclang.engine.answers import answer
from proclang.engine.model import FOREIGN, BadEntry, Entry, Over, Refused, Reply, Request, State
from proclang.engine.performing import stop
from proclang.engine.request import next_request
from proclang.engine.roster import CREW, TWO_PEOPLE, take_over
from proclang.engine.typed import read_date, read_words
from proclang.engine.working import Working
from proclang.program import model as m
from proclang.text import limits
from proclang.text.diagnostic import Problem
from proclang.text.printable import has_hidden, printable

KINDS = ("answer", "note", CREW, "stop", "pause")
"""What a reply may be."""

RULES = TWO_PEOPLE
"""By which rules a run is begun today; see `State.rules`."""


def begin(program: m.Program, opened: dict[str, Any], stamp: dict[str, Any]) -> Entry:
    """The first entry of a run. `opened` holds `facts` (site facts as stored text), `rules` and what the
    session wants kept."""
    work = Working(program, State(), _date(stamp))
    work.emit("opened", **opened)
    advance(work, 0)
    return Entry("opening", Reply("", "open", stamp), tuple(work.events))


def decide(program: m.Program, state: State, reply: Reply) -> Entry | Refused:
    """The entry a reply leads to, or why it cannot be taken. `state` is left as it was.

    Any reply text is taken or refused. Raises `BadEntry` only for a state that no run of this program leads to.
    """
    request = next_request(program, state)
    if isinstance(request, Over):
        return Refused(Problem("run-over", "the run is over; nothing more is asked"))
    if reply.kind not in KINDS:
        return Refused(Problem("unknown-reply", f"a reply is one of {', '.join(KINDS)}"))
    if reply.kind == "stop":
        # Whatever the text is like: a stop is never refused.
        reply = attrs.evolve(reply, text=printable(reply.text.strip())[: limits.REPLY_CHARACTERS])
    problem = _unfit(reply.text)
    if problem is not None:
        return Refused(problem)
    work = Working(program, state.copy(), _date(reply.stamp))
    try:
        problem = _take(work, request, reply)
    except BadEntry:
        raise
    except FOREIGN as error:
        raise BadEntry(f"the recorded entries do not go with the procedure: {error!r}") from error
    if problem is None and work.too_much:
        problem = Problem("too-much", "what follows from this reply does not fit one entry of a journal")
    return Refused(problem) if problem is not None else Entry(request.address, reply, tuple(work.events))


def _take(work: Working, request: Request, reply: Reply) -> Problem | None:
    if reply.kind == "note":
        words = read_words(reply.text.strip(), "a note")
        if isinstance(words, Problem):
            return words
        work.emit("noted", at=request.address, text=words)
        return None
    if reply.kind == "stop":
        advance(work, stop(work, reply.text))
        return None
    if reply.kind == CREW:
        return take_over(work, reply.text)
    if reply.kind == "pause":
        work.emit("paused", at=request.address)
        return None
    return answer(work, work.routine.index[work.frame.address], reply.text)


def _unfit(text: str) -> Problem | None:
    if len(text) > limits.REPLY_CHARACTERS:
        return Problem("too-long", f"a reply has at most {limits.REPLY_CHARACTERS:,} characters")
    if has_hidden(text.strip()):
        return Problem(
            "hidden-character", "the reply holds a character that cannot be seen", hint="type it again, on one line"
        )
    return None


def _date(stamp: dict[str, Any]) -> datetime.date | None:
    """The day a reply was given, if the session knows it."""
    date = read_date(str(stamp.get("date", "")))
    return None if isinstance(date, Problem) else date
