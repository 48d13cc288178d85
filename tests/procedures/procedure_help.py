"""What the tests of the shipped procedures share: building them, facts of a site, scripts, a run from end to end."""

from __future__ import annotations

import contextlib
import functools
import json
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from unittest import mock

import attrs

from proclang.engine import working
from proclang.engine.decide import begin, decide
from proclang.engine.fold import apply
from proclang.engine.model import Entry, Event, Over, Refused, Reply, Request, State
from proclang.engine.request import next_request
from proclang.program.budget import Budget
from proclang.program.build import Built, build
from proclang.program.load import load
from proclang.program.model import Program
from proclang.session.scripted import Script, read_script
from proclang.session.site import read_site, resolve_facts

PROCEDURES = Path(__file__).parents[2] / "procedures"
OBSERVATORY = PROCEDURES / "observatory"
SITES = PROCEDURES / "sites"
REPLIES = OBSERVATORY / "replies"
RUN_DATE = "2031-05-01"
"""The day every simulated run takes place: some weeks after the invented calibrations."""

ENTRIES = tuple(sorted({path.name.split(".")[0] for path in REPLIES.glob("*.replies")}))
"""The procedures that are run by themselves: those with replies. The others are performed."""

SITE_NAMES = ("northern", "southern", "tropical", "high_latitude")


@attrs.frozen
class Folder:
    """Procedure files beside each other, found by name; `changed` stands in for files that a test rewrites."""

    path: Path
    changed: dict[str, str] = attrs.field(factory=dict)

    def shown(self, name: str) -> str:
        """How a message calls the file."""
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        """Its bytes, or none."""
        if name in self.changed:
            return self.changed[name].encode()
        path = self.path / f"{name}.proc"
        return path.read_bytes() if path.is_file() else None

    def names(self) -> tuple[str, ...]:
        """Every file there is."""
        return tuple(sorted(p.stem for p in self.path.glob("*.proc")))


def home(name: str) -> Path:
    """The folder of the set that a shipped file belongs to."""
    (path,) = PROCEDURES.glob(f"*/{name}.proc")
    return path.parent


def built(name: str, changed: dict[str, str] | None = None) -> Built:
    """A shipped file with all it uses, resolved."""
    folder = Folder(home(name), changed or {})
    data = folder.read(name)
    assert data is not None, f"there is no procedure {name}"
    return build(load(name, data, folder))


@functools.cache
def program(name: str) -> Program:
    """A shipped procedure, ready to run."""
    result = built(name)
    assert result.findings == ()
    assert result.program is not None
    return result.program


@functools.cache
def facts(name: str, site: str) -> dict[str, str]:
    """What the site file says to a procedure, as stored."""
    read = read_site((SITES / f"{site}.toml").read_bytes(), f"{site}.toml")
    assert not isinstance(read, tuple), [finding.message for finding in read]
    resolved = resolve_facts(program(name), read)
    assert isinstance(resolved, dict), [finding.message for finding in resolved]
    return resolved


# ---------------------------------------------------------------------------- a run


@attrs.define
class Run:
    """A run as it went: what was asked, what was answered, what followed."""

    entries: list[Entry] = attrs.field(factory=list)
    asked: list[Request] = attrs.field(factory=list)
    """The question behind each entry but the first."""

    state: State = attrs.field(factory=State)

    def events(self, kind: str) -> list[Event]:
        """All events of one kind, in order."""
        return [e for entry in self.entries for e in entry.then if e["is"] == kind]

    def last(self, kind: str, name: str, key: str | None = None) -> Event:
        """The last event of a kind about a name."""
        return next(e for e in reversed(self.events(kind)) if e["name"] == name and e.get("key") == key)

    def value(self, name: str, key: str | None = None) -> str:
        """The value of a name as it was last stored."""
        return str(self.last("value", name, key)["value"])

    def lines(self) -> list[str]:
        """The replies as lines of a script."""
        marks = {"answer": "=", "note": "!", "stop": "stop"}
        return [f"{e.ask} {marks[e.reply.kind]} {e.reply.text}" for e in self.entries[1:]]


def run(prog: Program, site_facts: dict[str, str], answer: Callable[[Request], Iterable[Reply]]) -> Run:
    """Go through a procedure to its end. Fails where a reply is refused, so that no script holds one that cannot be."""
    opening = begin(prog, {"facts": site_facts}, {"date": RUN_DATE})
    going = Run([opening], [], apply(State(), opening))
    while not isinstance(request := next_request(prog, going.state), Over):
        assert len(going.entries) < 2_000, "the run does not end"
        for reply in answer(request):
            entry = decide(prog, going.state, attrs.evolve(reply, stamp={"date": RUN_DATE}))
            if isinstance(entry, Refused):
                raise AssertionError(f"{request.address} = {reply.text}: {entry.problem.message} {entry.problem.hint}")
            entry = Entry.from_json(json.loads(json.dumps(entry.to_json())))  # as the journal would give it back
            going.state = apply(going.state, entry)
            going.entries.append(entry)
            going.asked.append(request)
    return going


@contextlib.contextmanager
def few_draws() -> Iterator[None]:
    """200 draws in place of 10,000, for tests of many runs that do not ask how sure a verdict is."""
    with mock.patch.object(working, "Budget", functools.partial(Budget, draws=200)):
        yield


# ---------------------------------------------------------------------------- scripts


def scripted(path: Path) -> Callable[[Request], Iterable[Reply]]:
    """Answers from a file of replies, read as the program reads it, each line behind the question it belongs to."""
    script = read_script(path.read_bytes(), path.name)
    assert isinstance(script, Script), [finding.message for finding in script]
    waiting = deque(script.replies)

    def answer(request: Request) -> Iterable[Reply]:
        while waiting and waiting[0].address == request.address:
            line = waiting.popleft()
            yield Reply(line.said.text, line.said.kind)
            if line.said.kind != "note":
                return
        raise AssertionError(f"{path.name} has no reply to {request.address} here")

    return answer
