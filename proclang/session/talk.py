"""Words at a prompt, and the driver that talks with somebody line by line: shared by the plain and the full terminal.

What can be typed at any question is what can stand behind an address in a reply file, and a few words more:

| typed | meant |
|---|---|
| `= ANSWER` or `ANSWER` | the answer |
| `! TEXT` | a note beside the question |
| `stop`, `stop: REASON` | a recorded stop |
| `mistyped`, `mistyped: REASON` | the latest reading was typed wrongly: it is struck and asked for again |
| `crew: ROLE NAME` | somebody takes a role over |
| `pause` | leave |
| `help` or `?`, `here`, `entered` | help, the step once more, the latest replies |
| `READING; READING` | several readings of one measurement, in their order: each is taken, judged and kept by itself |

A word that the question offers as a choice is that choice; `stop:`, `mistyped:` and `crew:` are always what they say.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable, Sequence
from typing import Protocol

from proclang.engine.model import Entry, Request
from proclang.engine.typed import NOTHING_SAID
from proclang.program.model import Program
from proclang.session import present
from proclang.session.answered import latest_replies
from proclang.session.conduct import Left, Said, Situation
from proclang.session.look import Line, Look
from proclang.session.present import Place, Question
from proclang.text.diagnostic import Problem


class Word(enum.Enum):
    """What is typed to the driver and not to the procedure."""

    NOTHING = ""
    HELP = "help"
    HERE = "here"
    ENTERED = "entered"
    PAUSE = "pause"


_ALONE = {word.value: word for word in Word} | {"?": Word.HELP}


def understood(text: str, request: Request) -> Said | Word:
    """What a typed line means at a question."""
    text = text.strip()
    if text.startswith("="):
        return Said(text[1:].strip())
    if text.startswith("!"):
        return Said(text[1:].strip(), "note")
    folded = text.casefold()
    if folded.startswith("stop:"):
        return Said(text[5:].strip(), "stop")
    if folded.startswith("mistyped:"):
        return Said(text[9:].strip(), "mistyped")
    if folded.startswith("crew:"):
        return Said(text[5:].strip(), "crew")
    if folded in (choice.casefold() for choice in request.choices):
        return Said(text)
    if folded in ("stop", "mistyped"):
        return Said("", folded)
    return _ALONE.get(folded) or Said(text)


_NO_NAMES = frozenset({"ready", "helps", "quit", "exit", "accept", "again"}) | NOTHING_SAID


def _no_name(typed: str, request: Request) -> Problem | None:
    """Doubt about a word of the prompt, or a single letter, where a name or a serial number is to be written down for
    good. An answer behind `=` is not doubted."""
    typed = typed.strip()
    what = {"role": "name", "serial": "serial number"}.get(request.phase)
    if what is None or not typed or typed.startswith(("=", "!")):
        return None
    letters = sum(c.isalpha() for c in typed)
    if typed.casefold() not in _NO_NAMES and (request.phase == "serial" or letters != 1):
        return None
    return Problem("no-name", f"`{typed[:60]}` is no {what}", hint=f"if it is one, type `= {typed[:60]}`")


class Terminal(Protocol):
    """Lines out, a line in."""

    @property
    def patience(self) -> int | None:
        """How many lines in a row may lead nowhere before it is given up; None for a person."""

    def look(self) -> Look:
        """How to show at this moment; a terminal may change its width."""

    def show(self, lines: Iterable[Line]) -> None:
        """Print lines. Raises `OSError`."""

    def read(self, prompt: str) -> str | Left:
        """What is typed after a prompt, without its line end. Nothing typed before counts."""


class TalkDriver:
    """Puts questions on a terminal and reads what is typed."""

    def __init__(self, terminal: Terminal) -> None:
        self._terminal = terminal
        self._place = Place()
        self._entries: Sequence[Entry] = ()
        self._program: Program | None = None
        self._in_vain = 0
        self._shown = False
        self._ahead: tuple[tuple[str, str], ...] = ()
        """Address and reading, for the questions that follow: the rest of a line with several."""

    def begin(self, situation: Situation) -> None:
        """Say what is run and where it stands."""
        look = self._terminal.look()
        self._entries, self._program = situation.entries, situation.program
        self._terminal.show(present.greeting(situation.opened, situation.program.main.purpose, look))
        if situation.resumed:
            self._terminal.show(present.went_on(len(situation.entries), situation.set_aside, look))

    def ask(self, question: Question) -> Said | Left:
        """Put a question until something is typed that is a reply, or somebody leaves."""
        while True:
            look = self._terminal.look()
            asked = present.ask(question, self._place, look)
            if not self._shown:
                self._terminal.show(asked.lines)
            self._place, self._shown = asked.place, True
            next_of_line = self._next_of_line(question.request)
            if next_of_line is not None:
                self._terminal.show(present.echo(asked.prompt, next_of_line, look))
                return Said(next_of_line)
            typed = self._terminal.read(asked.prompt)
            if isinstance(typed, Left):
                return typed
            patience = self._terminal.patience
            if patience is not None and self._in_vain >= patience:
                return Left("input over", f"{patience} lines in a row led nowhere")
            self._in_vain += 1
            said = understood(typed, question.request)
            if isinstance(said, Said):
                split = _no_name(typed, question.request) or self._split(said, question.request)
                if isinstance(split, Said):
                    return split
                self._terminal.show(present.refused(split, self._terminal.look()))
                continue
            if said is Word.PAUSE:
                return Left("paused")
            if said is Word.HERE:
                self._place, self._shown = Place(), False
            else:
                self._terminal.show(self._told(said, question.request))

    def _split(self, said: Said, request: Request) -> Said | Problem:
        """The first of several readings on one line; the others are kept for the questions they belong to."""
        if said.kind != "answer" or request.kind != "quantity" or ";" not in said.text:
            return said
        readings = tuple(part.strip() for part in said.text.split(";"))
        asked = request.row or (request.address,)
        if "" in readings or len(readings) > len(asked):
            what = "a reading is missing beside a `;`" if "" in readings else f"{len(readings)} readings were typed"
            names = ", then ".join(present.row_names(request))
            hint = f"what is asked here: {names}" if names else "one reading is asked here"
            return Problem("readings-on-a-line", what, hint=hint)
        self._ahead = tuple(zip(asked, readings, strict=False))[1:]
        return Said(readings[0])

    def _next_of_line(self, request: Request) -> str | None:
        """What the line before holds for this question. Where another has come between, nothing more of it is used."""
        if not self._ahead:
            return None
        (address, reading), *later = self._ahead
        if address != request.address or request.phase != "read":
            self._drop_ahead()
            return None
        self._ahead = tuple(later)
        return reading

    def _drop_ahead(self) -> None:
        if self._ahead:
            self._terminal.show(present.readings_left([r for _, r in self._ahead], self._terminal.look()))
            self._ahead = ()

    def _told(self, word: Word, request: Request) -> tuple[Line, ...]:
        look = self._terminal.look()
        if word is Word.HELP:
            return present.help_lines(request, look)
        if word is Word.ENTERED:
            if self._program is None:
                return present.entered((), 0, look)
            return present.entered(*latest_replies(self._program, self._entries, present.ENTERED_SHOWN), look)
        return present.refused(Problem("nothing-typed", "nothing was typed", hint="`help` says what can be"), look)

    def accepted(self, entry: Entry, number: int, head: str) -> None:
        """Say what a reply became; it is on the disk."""
        self._in_vain = 0
        self._shown = entry.reply.kind == "note"  # the question stands above, and stands still
        self._terminal.show(present.accepted(entry, number, head, self._terminal.look()))

    def refused(self, problem: Problem) -> Left | None:
        """Say why a reply was not taken; it is asked again."""
        self._terminal.show(present.refused(problem, self._terminal.look()))
        self._drop_ahead()
        return None

    def over(self, status: str) -> Left | None:
        """Nothing is left to ask."""
        return None
