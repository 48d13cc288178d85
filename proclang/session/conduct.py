"""The one loop behind every driver: ask, take the reply, keep it, say what it became, until the run is over or left.

A reply is told to the driver as accepted only after it is on the disk. Whatever goes wrong ends the loop with an
`Ending`; nothing is lost, because there is nothing to save at the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import attrs

from proclang.engine.model import BadEntry, Entry, Event, Over, Refused
from proclang.program.model import Program
from proclang.session.exercise import mark_of
from proclang.session.files import StorageError
from proclang.session.hazards import hazards_at_step
from proclang.session.outlook import off_the_ways, unproved_now
from proclang.session.present import Question
from proclang.session.run import Run
from proclang.session.steps import steps_to_come
from proclang.text.diagnostic import Diagnostic, Problem


@attrs.frozen
class Said:
    """A reply: `kind` is answer, note, crew, stop, or mistyped with a reason that may be empty."""

    text: str
    kind: str = "answer"


@attrs.frozen
class Left:
    """Why a driver gives no reply. `how`: `paused`, `interrupted`, `input over`, `script` (with findings about it)."""

    how: str
    words: str = ""
    findings: tuple[Diagnostic, ...] = ()


LEAVING = ("paused", "interrupted")
"""Ways of leaving that somebody chose; they are recorded."""


@attrs.frozen
class Situation:
    """What a driver is told at the beginning. `entries` grows as the run goes on."""

    program: Program
    opened: Event
    entries: Sequence[Entry]
    resumed: bool
    set_aside: str


class Driver(Protocol):
    """Whoever answers: a technician at a terminal, a file of replies."""

    def begin(self, situation: Situation) -> None:
        """Before the first question."""

    def ask(self, question: Question) -> Said | Left:
        """Put a question."""

    def accepted(self, entry: Entry, number: int, head: str) -> None:
        """A reply is on the disk; `number` is its place in the journal, `head` its hash."""

    def refused(self, problem: Problem) -> Left | None:
        """A reply was not taken; the same question follows unless the driver leaves."""

    def over(self, status: str) -> Left | None:
        """The run is over."""


@attrs.frozen
class Ending:
    """How the loop ended. `how`: `finished`, `stopped`, one of `Left`, `disk` (with words), or `screen` when nothing
    can be shown any more."""

    how: str
    words: str = ""
    findings: tuple[Diagnostic, ...] = ()


def conduct(run: Run, driver: Driver, *, resumed: bool) -> Ending:
    """Go through a run with a driver. The run is not closed."""
    try:
        return _conduct(run, driver, resumed)
    except StorageError as error:
        return Ending("disk", str(error))
    except BadEntry as error:  # a journal from a stranger, or one of another version
        return Ending("record", str(error))
    except KeyboardInterrupt:
        return Ending("interrupted")
    except OSError as error:
        return Ending("screen", error.strerror or str(error))


def _conduct(run: Run, driver: Driver, resumed: bool) -> Ending:
    set_aside = run.writer.set_aside
    driver.begin(
        Situation(run.program, run.opened, run.entries, resumed, set_aside.name if set_aside is not None else "")
    )
    unproved: tuple[Diagnostic, ...] = ()
    known: set[tuple[str, str]] = set()
    while True:
        request = run.request
        if isinstance(request, Over):
            left = driver.over(request.status)
            return Ending(request.status) if left is None else Ending(left.how, left.words, left.findings)
        program, state = run.program, run.state
        hazards, to_come = hazards_at_step(program, state, request), steps_to_come(program, state, request)
        reply = driver.ask(Question(request, hazards, to_come, unproved, mark_of(run.opened)))
        left = None
        if isinstance(reply, Left):
            left = reply
        else:
            taken = run.reply(reply.text, reply.kind)
            if isinstance(taken, Refused):
                left = driver.refused(taken.problem)
            else:
                driver.accepted(taken, run.writer.n, run.writer.head)
                unproved = ()
                if off_the_ways(taken):
                    found = unproved_now(program, run.state)
                    unproved = tuple(x for x in found if (x.code, x.message) not in known)
                    known.update((x.code, x.message) for x in found)
        if left is not None:
            if left.how in LEAVING:
                run.reply("", "pause")
            return Ending(left.how, left.words, left.findings)
