"""Procedures as text in a test, and runs of them: what tests of the rooms from the engine on share."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

import attrs

from proclang.engine.decide import RULES, begin, decide
from proclang.engine.fold import MISTYPED, apply, replay
from proclang.engine.model import Entry, Event, Over, Refused, Reply, Request, State
from proclang.engine.request import next_request
from proclang.engine.strike import strike
from proclang.program.build import build
from proclang.program.load import load
from proclang.program.model import Program
from proclang.text.diagnostic import Severity

TODAY = "2031-05-01"
"""The day the runs of the tests take place."""


@attrs.frozen
class TextLibrary:
    """Files that stand in a dictionary: name without suffix to text."""

    texts: Mapping[str, str]

    def shown(self, name: str) -> str:
        """How a file is called in messages."""
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        """Its bytes."""
        text = self.texts.get(name)
        return None if text is None else text.encode()

    def names(self) -> tuple[str, ...]:
        """All there are."""
        return tuple(self.texts)


def program_of(files: Mapping[str, str], entry: str) -> Program:
    """The program of `entry`; a test that uses it wants one without errors, warnings it may have."""
    built = build(load(entry, files[entry].encode(), TextLibrary(files)))
    errors = [f for f in built.findings if f.severity is Severity.ERROR]
    assert not errors, "\n".join(f"{f.code}: {f.message} ({f.hint})" for f in errors)
    assert built.program is not None
    return built.program


@attrs.define
class Run:
    """A run under way. `say` answers and insists that the answer is taken; `refused` insists that it is not."""

    program: Program
    state: State
    entries: list[Entry]
    today: str = TODAY

    @property
    def request(self) -> Request | Over:
        """What is asked now."""
        return next_request(self.program, self.state)

    @property
    def asked(self) -> Request:
        """The question that is asked now; the run must not be over."""
        request = self.request
        assert isinstance(request, Request), request
        return request

    @property
    def address(self) -> str:
        """Where the question stands, or `finished` or `stopped`."""
        request = self.request
        return request.status if isinstance(request, Over) else request.address

    def reply(self, text: str, kind: str = "answer") -> Entry | Refused:
        """Put a reply; an entry moves the run on, or back."""
        reply = Reply(text, kind, {"date": self.today})
        if kind == MISTYPED:
            decided = strike(self.program, self.entries, reply)
        else:
            decided = decide(self.program, self.state, reply)
        if isinstance(decided, Entry):
            self.entries.append(decided)
            self.state = replay(self.entries) if kind == MISTYPED else apply(self.state, decided)
        return decided

    def say(self, *texts: str) -> Entry:
        """Answer one question after the other; gives the last entry."""
        assert texts
        for text in texts:
            decided = self.reply(text)
            assert isinstance(decided, Entry), f"at {self.address}, `{text}`: {decided.problem}"
        return self.entries[-1]

    def refused(self, text: str, kind: str = "answer") -> str:
        """The code of the problem a reply is refused with; the question must stand as it was."""
        before = self.address
        decided = self.reply(text, kind)
        assert isinstance(decided, Refused), decided
        assert self.address == before
        return decided.problem.code

    def note(self, text: str) -> Entry:
        """A note beside the question."""
        decided = self.reply(text, "note")
        assert isinstance(decided, Entry), decided
        return decided

    def stop(self, reason: str = "") -> Entry:
        """Stop the procedure."""
        decided = self.reply(reason, "stop")
        assert isinstance(decided, Entry), decided
        return decided

    def events(self, kind: str | None = None) -> list[Event]:
        """Every event so far, or those of one kind."""
        return [e for entry in self.entries for e in entry.then if kind is None or e["is"] == kind]

    def value(self, name: str, key: str = "") -> str:
        """A value of the procedure being gone through, as stored."""
        return self.state.top.values[name][key]

    def outcome(self, name: str, key: str = "") -> str:
        """Its verdict."""
        return self.state.top.outcomes[name][key]


def start(program: Program, facts: Mapping[str, str] | None = None, today: str = TODAY) -> Run:
    """A run at its first question."""
    opened: dict[str, Any] = {"facts": dict(facts or {}), "rules": RULES}
    entry = begin(program, opened, {"date": today})
    return Run(program, apply(State(), entry), [entry], today)


PEOPLE = ("Ada Quill", "Bo Tarn", "Cy Moss", "Dee Rook", "Eli Fenn", "Fay Holt", "Gus Pike", "Hal Wren")
"""Invented names, one for each role in turn."""


def opening_answer(run: Run) -> str:
    """An ordinary answer to a question before the first section: hardware is found as the procedure begins with it."""
    request = run.asked
    _, kind, *rest = request.address.split("/")
    if kind == "crew":
        return PEOPLE[len(run.state.people) % len(PEOPLE)]
    if kind == "instrument":
        return "2031-01-01" if rest[-1] == "calibrated" else f"SN-{rest[0]}"
    if kind == "found":
        instr = run.program.opening.code[run.program.opening.index[run.state.top.address]]
        return str(getattr(instr, "expected", ""))
    return request.choices[0]


def answer_opening(run: Run) -> Run:
    """Answer everything that is asked before the first section."""
    while not run.state.over and run.state.top.routine == "":
        run.say(opening_answer(run))
    return run


def drive(
    program: Program,
    facts: Mapping[str, str] | None = None,
    replies: Iterable[str] | Callable[[Request], str] = (),
    *,
    opening: bool = True,
    at_most: int = 2_000,
) -> Run:
    """Run with the opening answered (unless `opening` is False) and then these replies, each of which must be taken.

    A function in place of a list is asked for every reply until the run is over or `at_most` have been given.
    """
    run = start(program, facts)
    if opening:
        answer_opening(run)
    if not callable(replies):
        for text in replies:
            run.say(text)
        return run
    for _ in range(at_most):
        request = run.request
        if isinstance(request, Over):
            break
        run.say(replies(request))
    return run
