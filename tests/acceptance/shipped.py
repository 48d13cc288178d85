"""What the acceptance tests share: shipped procedures run from shipped replies, and logs taken apart."""

from __future__ import annotations

import re
from pathlib import Path

import attrs

from proclang.engine.model import Entry
from proclang.log.render import render_log
from proclang.program.build import build
from proclang.program.library import Disk
from proclang.program.load import FileSet, load
from proclang.program.model import Program
from proclang.session.clock import SteppedClock
from proclang.session.files import Files
from proclang.session.run import OpenedRun, Run, open_run, start
from proclang.session.scripted import Script, read_script
from proclang.session.site import Site, read_site

PROCEDURES = Path(__file__).parents[2] / "procedures"
SITES = PROCEDURES / "sites"

SITES_OF = {
    "observatory": ("northern", "southern", "tropical", "high_latitude"),
    "vault": ("vault_north", "vault_south"),
}
"""The sites at which the procedures of each set are run; the first lies north of the equator, the second south."""

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


@attrs.frozen
class ReplyFile:
    """`PROCEDURE.SITE.replies`, or `PROCEDURE.SITE.KIND.replies`."""

    path: Path

    @property
    def procedure(self) -> str:
        """What it answers."""
        return self.path.name.split(".")[0]

    @property
    def site(self) -> str:
        """Where."""
        return self.path.name.split(".")[1]

    @property
    def kind(self) -> str:
        """The kind of day; empty for an ordinary one."""
        return ".".join(self.path.name.split(".")[2:-1])


REPLY_FILES = tuple(ReplyFile(path) for path in sorted(PROCEDURES.glob("*/replies/*.replies")))


def home(procedure: str) -> Path:
    """The folder of the set that a shipped file belongs to."""
    (path,) = PROCEDURES.glob(f"*/{procedure}.proc")
    return path.parent


class NoWait(Files):
    """The real disk, not waited for: many runs are made here, and none loses power."""

    def fsync(self, descriptor: int) -> None:
        pass

    def fsync_folder(self, path: Path) -> None:
        pass


def built_program(procedure: str) -> tuple[FileSet, Program]:
    """A shipped procedure with all it performs, without a finding."""
    library = Disk(home(procedure))
    data = library.read(procedure)
    assert data is not None
    files = load(procedure, data, library)
    built = build(files)
    assert built.findings == ()
    assert built.program is not None
    return files, built.program


def run_shipped(procedure: str, site: str, replies: str, into: Path) -> OpenedRun:
    """A shipped procedure run to its end from a shipped file of replies, at invented times."""
    files, program = built_program(procedure)
    site_data = (SITES / f"{site}.toml").read_bytes()
    read = read_site(site_data, f"{site}.toml")
    assert isinstance(read, Site), read
    script = read_script((home(procedure) / "replies" / replies).read_bytes(), replies)
    assert isinstance(script, Script), script
    run = start(into, files, program, site_data, read, SteppedClock(), NoWait())
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
