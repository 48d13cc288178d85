"""What the acceptance tests share: shipped procedures run from shipped replies, and logs taken apart."""

from __future__ import annotations

import re
from pathlib import Path

from proclang.engine.model import Entry
from proclang.log.render import render_log
from proclang.program.build import build
from proclang.program.library import Disk
from proclang.program.load import load
from proclang.session.clock import SteppedClock
from proclang.session.run import OpenedRun, Run, open_run, start
from proclang.session.scripted import Script, read_script
from proclang.session.site import Site, read_site

ROOT = Path(__file__).parents[2]
SET = ROOT / "procedures" / "observatory"
SITES = ROOT / "procedures" / "sites"

CLOSING = "\n## What differs from run to run\n"
"""The heading of the part of a log that is not compared."""


def body_of(log: str) -> str:
    """A log without its closing part."""
    body, heading, _ = log.partition(CLOSING)
    assert heading, "the log has no closing part"
    return body


def masked(text: str) -> str:
    """Numbers, with sign and decimals, as `#`."""
    return re.sub(r"[+-]?\d+(?:\.\d+)?(?:/\d+)?", "#", text)


def run_shipped(procedure: str, site: str, replies: str, into: Path) -> OpenedRun:
    """A shipped procedure run to its end from a shipped file of replies, at invented times."""
    library = Disk(SET)
    data = library.read(procedure)
    assert data is not None
    files = load(procedure, data, library)
    built = build(files)
    assert built.program is not None
    site_data = (SITES / f"{site}.toml").read_bytes()
    read = read_site(site_data, f"{site}.toml")
    assert isinstance(read, Site), read
    script = read_script((SET / "replies" / replies).read_bytes(), replies)
    assert isinstance(script, Script), script
    run = start(into, files, built.program, site_data, read, SteppedClock())
    assert isinstance(run, Run), run
    for line in script.replies:
        assert run.request.address == line.address  # type: ignore[union-attr]
        entry = run.reply(line.said.text, line.said.kind)
        assert isinstance(entry, Entry), entry
    run.close()
    opened = open_run(into)
    assert isinstance(opened, OpenedRun)
    return opened


def shipped_log(procedure: str, site: str, replies: str, into: Path) -> str:
    """The log of such a run."""
    return render_log(run_shipped(procedure, site, replies, into))
