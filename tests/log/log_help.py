"""Invented procedures run into a folder, for the tests of the log. No such machine, site or person exists."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from proclang.engine.model import Over, Refused, Request
from proclang.log.render import render_log
from proclang.program.build import build
from proclang.program.load import load
from proclang.session.clock import Clock, SteppedClock
from proclang.session.run import OpenedRun, Run, open_run, start
from proclang.session.site import Site, read_site

SITE = """\
[site]
name = "{name}"
title = "{title}"
training = true
[facts]
latitude = "{latitude} deg"
"""
NORTH = SITE.format(name="pine_hill", title="Pine Hill (invented)", latitude="31.2")
SOUTH = SITE.format(name="dune_flat", title="Dune Flat (invented)", latitude="-29.5")

CREW = {"lead": "Ada Quill", "rigger": "Bo Tarn", "scribe": "Cy Moss"}

Script = Mapping[str, str | list[str]]
"""Replies by the end of an address; of a list one after the other, the last again and again. `!` begins a note beside
the question, `stop` a stop with its reason."""


class Library:
    """Procedure texts by name."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self._texts = texts

    def shown(self, name: str) -> str:
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        return self._texts[name].encode() if name in self._texts else None

    def names(self) -> tuple[str, ...]:
        return tuple(self._texts)


def begin(folder: Path, texts: Mapping[str, str], entry: str, site: str = NORTH, clock: Clock | None = None) -> Run:
    """A run begun in a new folder."""
    files = load(entry, texts[entry].encode(), Library(texts))
    built = build(files)
    assert built.program is not None
    assert not built.findings, [f"{f.code}: {f.message}" for f in built.findings]
    read = read_site(site.encode(), "site.toml")
    assert isinstance(read, Site), read
    run = start(folder, files, built.program, site.encode(), read, clock or SteppedClock())
    assert isinstance(run, Run), run
    return run


class Replies:
    """Answers by the end of the address; where none is given, the plainest one there is."""

    def __init__(self, script: Script) -> None:
        self._left = {end: list(r) if isinstance(r, list) else [r] for end, r in script.items()}

    def next(self, request: Request) -> tuple[str, str]:
        """Text and kind of the reply."""
        ends = [end for end in self._left if request.address.endswith(end)]
        if not ends:
            return plainest(request), "answer"
        left = self._left[max(ends, key=len)]
        text = left.pop(0) if len(left) > 1 else left[0]
        if text.startswith("!"):
            return text[1:].strip(), "note"
        if text.startswith("stop"):
            return text[4:].strip(), "stop"
        return text, "answer"


def plainest(request: Request) -> str:
    """An answer that is taken: the first choice, everyone, a name from the roster, a calibration this year."""
    role = request.address.rpartition("/")[2]
    if request.address.startswith("opening/crew/"):
        return CREW.get(role, "Di Vane")
    if request.address.endswith("/calibrated"):
        return "2031-01-15"
    if request.address.startswith("opening/found/") and not request.address.endswith("/blocked"):
        return request.facts[-1].split()[-1]
    if request.kind in ("choice", "word"):
        return request.choices[0]
    if request.kind == "names":
        return ", ".join(request.choices)
    if request.kind == "name":
        return request.choices[0] if request.choices else request.people.partition(" (")[0] or CREW["lead"]
    if request.kind == "quantity":
        return request.facts[0].rpartition(" to ")[2] if "read_back" in role or "power_cycle" in role else "1"
    return "LX-12"


def carry_on(run: Run, script: Script, until: Callable[[Request], bool] = lambda request: False) -> None:
    """Answer until the run is over or the condition holds, and let go of the journal."""
    replies = Replies(script)
    for _ in range(5_000):
        request = run.request
        if isinstance(request, Over) or until(request):
            break
        text, kind = replies.next(request)
        answered = run.reply(text, kind)
        assert not isinstance(answered, Refused), (request.address, text, answered)
    else:
        raise AssertionError("the run does not come to an end")
    run.close()


def ran(
    folder: Path, texts: Mapping[str, str], entry: str, script: Script | None = None, site: str = NORTH
) -> OpenedRun:
    """A run carried through, opened again from its folder."""
    carry_on(begin(folder, texts, entry, site), script or {})
    return opened(folder)


def opened(folder: Path) -> OpenedRun:
    """The run of a folder."""
    run = open_run(folder)
    assert isinstance(run, OpenedRun), run
    return run


def log_of(run: OpenedRun) -> str:
    """Its log."""
    log = render_log(run)
    assert isinstance(log, str), log
    return log


def body_of(log: str) -> str:
    """The log without what differs from run to run."""
    body, mark, _ = log.partition("\n## What differs from run to run\n")
    assert mark
    return body
