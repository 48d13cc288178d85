"""Promises D3, D4 and D7 for a whole run: its folder, its sources, `run.json`, its entries, its log.

The tests of the session room do this for the journal alone; here everything goes through `start`, `reply`, `resume` and
`write_log` as the program does it, on the disk in memory that can fail and that knows what a power cut leaves.
"""

from __future__ import annotations

import errno
import shutil
import subprocess
from pathlib import Path

import attrs
import pytest
from drive_help import CALL_LIMIT, PROGRAM, SAMPLES, environment, ordinary, run_arguments
from drive_help import ROOT as REPOSITORY
from faulty_files import ROOT, Disk, Fault, FaultyFiles, State, crash_states
from helpers import TextLibrary
from test_cut_everywhere import PROCEDURE, REPLIES, SITE

from proclang.engine.model import Entry, Over
from proclang.log.render import render_log
from proclang.program.build import build
from proclang.program.load import FileSet, load
from proclang.program.model import Program
from proclang.session.clock import SteppedClock
from proclang.session.files import StorageError
from proclang.session.run import OpenedRun, Run, open_run, resume, start
from proclang.session.site import Site, read_site
from proclang.text.diagnostic import Problem

RUN = ROOT / "run"
FILES: FileSet = load("shim", PROCEDURE.encode(), TextLibrary({"shim": PROCEDURE}))
_built = build(FILES).program
assert _built is not None
PROGRAM_OF_RUN: Program = _built
_site = read_site(SITE, "site.toml")
assert isinstance(_site, Site)
SITE_OF_RUN: Site = _site


@attrs.define
class Told:
    """What a technician has been told: entries acknowledged and handed over, that it began, that the log is written."""

    acknowledged: int = 0
    begun: int = 0
    log: bool = False


def go_through(files: FaultyFiles, told: Told) -> None:
    """A whole run. Raises `StorageError`."""
    told.begun = 1
    run = start(RUN, FILES, PROGRAM_OF_RUN, SITE, SITE_OF_RUN, SteppedClock(), files)
    assert isinstance(run, Run)
    carry_on(run, told)


def carry_on(run: Run, told: Told) -> None:
    """From where it stands to its log."""
    told.acknowledged = max(told.acknowledged, run.state.entries)
    try:
        while not isinstance(run.request, Over):
            told.begun = run.state.entries + 1
            assert isinstance(run.reply(REPLIES[run.state.entries - 1]), Entry)
            told.acknowledged = run.state.entries
    finally:
        run.close()
    opened = open_run(run.folder.path, run.folder.files)
    assert isinstance(opened, OpenedRun), opened
    text = render_log(opened)
    assert isinstance(text, str)
    opened.folder.write_log(text)
    told.log = True


def body(files: FaultyFiles) -> str:
    """The log of a finished run without what differs from run to run."""
    log = files.disk.seen()[str(RUN / "log.md")]
    assert log is not None
    return log.decode().partition("\n## What differs from run to run\n")[0]


@pytest.fixture(scope="module")
def whole() -> str:
    files = FaultyFiles(Disk())
    told = Told()
    go_through(files, told)
    assert told == Told(len(REPLIES) + 1, len(REPLIES) + 1, True)
    return body(files)


def recover(disk: Disk, told: Told, whole: str) -> None:
    """Go on with what is left, to the same log; nothing acknowledged is missing and nothing was made up."""
    files = FaultyFiles(disk)
    run = resume(RUN, SteppedClock(stamps=told.acknowledged), files)
    if isinstance(run, Problem):
        # Cut off before there was a run: nothing was acknowledged, and the words say what to do.
        assert told.acknowledged == 0, run
        assert run.message
        assert run.hint or run.code == "not-a-run"
        return
    assert isinstance(run, Run)
    assert told.acknowledged <= run.state.entries <= max(told.begun, 1)
    carry_on(run, attrs.evolve(told))
    assert body(files) == whole


def test_after_a_power_cut_anywhere_the_run_goes_on_to_the_same_log(whole: str) -> None:
    disk, told, met = Disk(), Told(), set()
    states: list[tuple[State, Told]] = []

    def watch() -> None:
        for state in crash_states(disk):
            key = (frozenset(state.items()), attrs.astuple(told))
            if key not in met:
                met.add(key)
                states.append((state, attrs.evolve(told)))

    go_through(FaultyFiles(disk, watch=watch), told)
    watch()
    assert len(states) > 300
    # Neighbouring states of one tail differ by a few bytes; every third of those is enough here.
    for number, (state, then) in enumerate(states):
        if number % 3 == 0 or then.acknowledged == 0:
            recover(Disk.of(state), then, whole)


@pytest.mark.parametrize("persistent", [False, True], ids=["once", "from-then-on"])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EROFS])
def test_whichever_operation_fails_the_run_goes_on_to_the_same_log(number: int, persistent: bool, whole: str) -> None:
    """The technician is told in words, with the folder named; nothing told before is missing afterwards."""
    told_of: list[StorageError] = []
    for at in range(1, 1_000):
        files, told = FaultyFiles(Disk(), Fault(at, number, persistent)), Told()
        try:
            go_through(files, told)
        except StorageError as error:
            told_of.append(error)
        if not files.fault_met:
            break
        files.disk.locks.clear()
        recover(files.disk, told, whole)
    assert at > 60
    assert len(told_of) > 40
    assert all("/disk" in str(error) and error.cure for error in told_of)


def test_every_file_of_a_run_is_durable_before_the_first_question() -> None:
    """New file, write, fsync, rename, fsync of the folder: for each source, for `run.json`; then the journal's name."""
    files = FaultyFiles(Disk())
    run = start(RUN, FILES, PROGRAM_OF_RUN, SITE, SITE_OF_RUN, SteppedClock(), files)
    assert isinstance(run, Run)
    done = [step for step in files.done if not step.startswith(("close", "extent", "exists", "read", "open_read"))]
    text = "\n".join(done)
    for name, folder in (("shim.proc", "sources"), ("site.toml", "sources"), ("run.json", "run")):
        new = f".{name}.new-1"
        assert f"open_new {new}\nwrite {new}\nfsync {new}\nrename {name}\nfsync_folder {folder}\n" in text
    begun = text.index("open_append journal.jsonl")
    assert text.index("fsync_folder run", text.index("rename run.json")) < begun
    assert text.index("write journal.jsonl") > text.index("fsync_folder run", begun)
    assert text.rindex("fsync journal.jsonl") > text.index("write journal.jsonl")
    # Nothing that the answer to a first question rests on is unsynced.
    assert [str(p) for p, inode in files.disk.names.items() if inode.pending] == []
    assert {p for p in files.disk.names if p.name != "holder.json"} == {
        p for p in files.disk.kept if p.name != "holder.json"
    }
    run.close()


TRACED = ("openat", "write", "fsync", "rename", "close")


@pytest.mark.skipif(
    shutil.which("strace") is None, reason="there is no strace here; the order above is that of a double"
)
def test_the_system_sees_the_same_order(tmp_path: Path) -> None:
    """By strace: what the double above was asked for is what the kernel was asked for."""
    trace = tmp_path / "trace"
    command = ["strace", "-f", "-y", "-o", str(trace), "-e", "trace=openat,write,fsync,rename,renameat,renameat2"]
    arguments = run_arguments(tmp_path / "run", "--replies", SAMPLES / "ordinary.replies")
    done = subprocess.run(
        [*command, *PROGRAM, *arguments],
        env=environment(),
        cwd=REPOSITORY,
        capture_output=True,
        timeout=CALL_LIMIT,
        check=False,
    )
    if not trace.exists() or not trace.read_text().strip() or b"ptrace" in done.stderr:
        pytest.skip("tracing is not permitted here")
    assert done.returncode == 0, done.stderr.decode()
    calls = [line.split(None, 1)[1] for line in trace.read_text().splitlines() if str(tmp_path / "run") in line]
    for name in ("sources/rinse.proc", "run.json", "log.md"):
        folder, _, last = str(tmp_path / "run" / name).rpartition("/")
        new = f"{folder}/.{last}.new-1"
        about = [call for call in calls if new in call]
        kinds = [call.partition("(")[0] for call in about]
        assert kinds[:3] == ["openat", "write", "fsync"]
        assert kinds[3].startswith("rename")
        assert "O_EXCL" in about[0]
        assert "O_NOFOLLOW" in about[0]
        after = calls[calls.index(about[3]) + 1 :]
        synced = next(call for call in after if call.startswith("fsync("))
        assert f"<{folder}>" in synced
    journal = [call.partition("(")[0] for call in calls if "journal.jsonl" in call]
    assert journal[0] == "openat"
    assert journal.count("write") == len(ordinary()) + 1  # the opening entry and one for each reply
    writes = [k for k, kind in enumerate(journal) if kind == "write"]
    assert all(journal[k + 1] == "fsync" for k in writes)
