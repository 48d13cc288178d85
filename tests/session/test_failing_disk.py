"""Every operation fails once, and from then on; no unsaved record is ever taken for a saved one."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from faulty_files import ROOT, Disk, Fault, FaultyFiles, crash_states
from journal_samples import RUN, entry

import proclang
from proclang.session.files import Files, StorageError
from proclang.session.folder import RunFolder
from proclang.session.journal import JournalWriter, read_bytes, read_journal

RUN_PATH = ROOT / "run"
RECORDS = 4
ERRORS = (errno.ENOSPC, errno.EIO, errno.EDQUOT, errno.EROFS, errno.EINTR)


class Outcome:
    """What a technician was told during a run on a failing disk."""

    def __init__(self) -> None:
        self.acknowledged: list[int] = []
        self.errors: list[StorageError] = []
        self.finished = False
        self.found_then: list[tuple[dict[str, bytes | None], int]] = []

    def note(self, error: StorageError, disk: Disk) -> None:
        """Keep the error, what a power cut just after it would leave, and how many records were promised by then."""
        self.errors.append(error)
        self.found_then += [(state, len(self.acknowledged)) for state in crash_states(disk)]


def run_stubbornly(files: FaultyFiles) -> Outcome:
    """A run that tries each failed save once more, opens the journal anew when it must, and gives up after that."""
    told = Outcome()
    writer: JournalWriter | None = None
    folder = RunFolder(RUN_PATH, files)
    try:
        folder = RunFolder.create(RUN_PATH, files)
        folder.store_source("demo.proc", b"proclang 1\n")
        made = JournalWriter.create(files, folder.journal, RUN)
        assert isinstance(made, JournalWriter)
        writer = made
        tries = 0
        while writer.n < RECORDS:
            try:
                sealed = writer.append(entry(writer.n + 1))
                told.acknowledged.append(sealed.n)
                assert sealed.n == writer.n
            except StorageError as error:
                told.note(error, files.disk)
                tries += 1
                if tries > 3:
                    raise
                if not writer.alive:
                    with pytest.raises(StorageError):
                        writer.append(entry(writer.n + 1))
                    writer.close()
                    made = JournalWriter.open(files, folder.journal, RUN)
                    assert isinstance(made, JournalWriter)
                    writer = made
        folder.write_log("# Log\n")
        told.finished = True
    except StorageError as error:
        told.note(error, files.disk)
    if writer is not None:
        writer.close()
    return told


def check_after(files: FaultyFiles, told: Outcome) -> None:
    """The journal holds all that was acknowledged: after a power cut at an error or now, and for the next process."""
    journal = RUN_PATH / "journal.jsonl"
    promised = len(told.acknowledged)
    assert len(set(told.acknowledged)) == promised
    disks = [(Disk.of(state), count) for state, count in told.found_then]
    disks += [(Disk.of(state), promised) for state in crash_states(files.disk)]
    files.disk.locks.clear()
    for disk, count in (*disks, (files.disk, promised)):
        fresh = FaultyFiles(disk)
        if journal not in fresh.disk.names:
            assert count == 0
            continue
        writer = JournalWriter.open(fresh, journal, RUN)
        assert isinstance(writer, JournalWriter), writer
        assert all(n <= writer.n for n in told.acknowledged[:count])
        assert writer.n <= RECORDS
        assert list(writer.reading.entries) == [{"n": n, **entry(n)} for n in range(1, writer.n + 1)]
        writer.append({"kind": "resumed"})
        writer.close()
        kept = fresh.disk.kept[journal].durable
        assert read_bytes(kept).damage is None
        assert len(read_bytes(kept).entries) == writer.n


def check_words(told: Outcome) -> None:
    for error in told.errors:
        words = str(error)
        assert str(RUN_PATH) in words
        assert error.cure
        assert words.endswith(".")
        assert len(words.split(". ")) >= 2
        assert "Errno" not in words


@pytest.mark.parametrize("persistent", [False, True], ids=["once", "from-then-on"])
@pytest.mark.parametrize("number", ERRORS, ids=[errno.errorcode[e] for e in ERRORS])
def test_the_nth_operation_fails(number: int, persistent: bool):
    told_of_fault = 0
    for at in range(1, 1_000):
        files = FaultyFiles(Disk(), Fault(at, number, persistent))
        told = run_stubbornly(files)
        if not files.fault_met:
            break
        check_words(told)
        told_of_fault += any(error.errno == number for error in told.errors)
        if not persistent and not told.errors:
            assert told.finished
            assert told.acknowledged == list(range(1, RECORDS + 1))
        check_after(files, told)
    assert at > 40
    # The others were on the note of who holds the journal, or on closing it, where no reply is at stake.
    assert told_of_fault > 20


SHORT: list[Callable[[int], int]] = [lambda n: 0, lambda n: 1, lambda n: n // 2, lambda n: n - 1]


@pytest.mark.parametrize("kinds", [None, frozenset({"write"})], ids=["nothing-works", "writes-fail"])
@pytest.mark.parametrize("persistent", [False, True], ids=["once", "from-then-on"])
@pytest.mark.parametrize("taken", SHORT, ids=["0", "1", "half", "all-but-1"])
def test_a_short_write_without_an_error(taken: Callable[[int], int], persistent: bool, kinds: frozenset[str] | None):
    """A full disk first takes fewer bytes than given and reports nothing."""
    met = 0
    for at in range(1, 1_000):
        files = FaultyFiles(Disk(), Fault(at, errno.ENOSPC, persistent, kinds, taken))
        told = run_stubbornly(files)
        if len(files.done) < at:
            break
        if not files.done[at - 1].startswith("write"):
            continue
        met += 1
        check_words(told)
        if not persistent:
            assert told.acknowledged == list(range(1, RECORDS + 1)) or not told.finished
        check_after(files, told)
    assert met >= RECORDS + 3


def test_after_a_short_write_that_then_fails_the_stub_is_cut_off_and_the_writer_goes_on():
    files = FaultyFiles(Disk())
    RunFolder.create(RUN_PATH, files)
    journal = RUN_PATH / "journal.jsonl"
    writer = JournalWriter.create(files, journal, RUN)
    assert isinstance(writer, JournalWriter)
    writer.append(entry(1))
    size = len(files.disk.names[journal].cached)
    files.fault = Fault(len(files.done) + 2, errno.ENOSPC, True, frozenset({"write"}), lambda n: 9)
    with pytest.raises(StorageError, match="the disk is full") as caught:
        writer.append(entry(2))
    assert "`proclang resume /disk/run`" in str(caught.value)
    assert "record 2" in str(caught.value)
    assert files.disk.names[journal].durable == files.disk.names[journal].cached
    assert len(files.disk.names[journal].cached) == size
    assert files.disk.names[journal].pending == []
    assert writer.alive
    files.fault = None
    assert writer.append(entry(2)).n == 2


@pytest.mark.parametrize("kind", ["truncate", "fsync"])
def test_when_the_stub_cannot_be_cut_off_for_certain_the_writer_stops(kind: str):
    files = FaultyFiles(Disk())
    RunFolder.create(RUN_PATH, files)
    journal = RUN_PATH / "journal.jsonl"
    writer = JournalWriter.create(files, journal, RUN)
    assert isinstance(writer, JournalWriter)
    writer.append(entry(1))
    files.fault = Fault(len(files.done) + 2, errno.EIO, True, frozenset({"write", kind}), lambda n: 9)
    with pytest.raises(StorageError, match="saving record 2 failed"):
        writer.append(entry(2))
    files.fault = None
    assert not writer.alive
    with pytest.raises(StorageError, match="did not finish"):
        writer.append(entry(2))
    writer.close()
    opened = JournalWriter.open(files, journal)
    assert isinstance(opened, JournalWriter)
    assert opened.n == 1


def test_after_a_failed_fsync_this_writer_never_writes_again():
    """Policy of the ATC 2020 study: what a failed fsync left in memory proves nothing; start over from the disk."""
    for k in range(1, RECORDS + 1):
        files = FaultyFiles(Disk())
        RunFolder.create(RUN_PATH, files)
        journal = RUN_PATH / "journal.jsonl"
        writer = JournalWriter.create(files, journal, RUN)
        assert isinstance(writer, JournalWriter)
        for n in range(1, k):
            writer.append(entry(n))
        files.fault = Fault(len(files.done) + 3, errno.EIO, kinds=frozenset({"fsync"}))
        with pytest.raises(StorageError, match="Copy the whole folder /disk/run to another disk"):
            writer.append(entry(k))
        assert files.fault_met
        before = len(files.done)
        for _ in range(3):
            with pytest.raises(StorageError, match="Nothing more is saved here"):
                writer.append(entry(k))
        assert files.done[before:] == []
        assert not writer.alive
        writer.close()
        # In memory the record still looks whole; the disk never took it. Building on it would tear a hole in the chain.
        assert len(read_journal(files, journal).entries) == k
        opened = JournalWriter.open(files, journal)
        if k == 1:
            assert not isinstance(opened, JournalWriter)
            opened = JournalWriter.open(files, journal, RUN)
        assert isinstance(opened, JournalWriter)
        assert opened.n == k - 1
        opened.append(entry(k))
        assert len(read_bytes(files.disk.kept[journal].durable).entries) == k


def test_an_interrupt_inside_a_save_leaves_the_writer_unusable():
    class Interrupted(FaultyFiles):
        def fsync(self, descriptor: int) -> None:
            if interrupt:
                raise KeyboardInterrupt
            super().fsync(descriptor)

    interrupt = False
    files = Interrupted(Disk())
    RunFolder.create(RUN_PATH, files)
    writer = JournalWriter.create(files, RUN_PATH / "journal.jsonl", RUN)
    assert isinstance(writer, JournalWriter)
    interrupt = True
    with pytest.raises(KeyboardInterrupt):
        writer.append(entry(1))
    interrupt = False
    with pytest.raises(StorageError, match="did not finish"):
        writer.append(entry(1))


def fill_until_refused(folder: RunFolder, writer: JournalWriter) -> StorageError:
    for _ in range(2_000):
        try:
            writer.append({"kind": "reply", "text": "x" * 700})
        except StorageError as error:
            return error
    raise AssertionError("the disk never filled")


def test_a_really_full_disk_loses_nothing(tmp_path: Path):
    """On a file system of 64 KiB in memory, where the machine lets one be mounted."""
    place = tmp_path / "small"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(place)]
    try:
        mounted = subprocess.run(mount, capture_output=True, timeout=20).returncode == 0
    except OSError:
        mounted = False
    if not mounted:
        pytest.skip("mounting is not permitted here")
    try:
        filler = place / "filler"
        filler.write_bytes(bytes(20_000))
        folder = RunFolder.create(place / "run")
        writer = JournalWriter.create(folder.files, folder.journal, RUN)
        assert isinstance(writer, JournalWriter)
        error = fill_until_refused(folder, writer)
        assert error.errno == errno.ENOSPC
        assert "the disk is full" in str(error)
        assert "Free some space" in str(error)
        count = writer.n
        assert count > 10
        assert writer.alive
        assert len(read_journal(folder.files, folder.journal).entries) == count
        with pytest.raises(StorageError, match="the disk is full"):
            folder.write_log("x" * 20_000)
        assert not folder.log.exists()
        filler.unlink()
        assert writer.append({"kind": "reply", "text": "after"}).n == count + 1
        writer.close()
        opened = JournalWriter.open(folder.files, folder.journal)
        assert isinstance(opened, JournalWriter)
        assert (opened.n, opened.set_aside) == (count + 1, None)
        opened.close()
    finally:
        subprocess.run(["umount", str(place)], capture_output=True, timeout=20, check=True)


LIMITED = """
import pathlib, resource, sys
from proclang.session.files import StorageError
from proclang.session.folder import RunFolder
from proclang.session.journal import JournalWriter
folder = RunFolder.create(pathlib.Path(sys.argv[1]))
writer = JournalWriter.create(folder.files, folder.journal, "demo-run-1")
resource.setrlimit(resource.RLIMIT_FSIZE, (10_000, resource.RLIM_INFINITY))
try:
    while True:
        writer.append({"text": "x" * 700})
except StorageError as error:
    print(writer.n, writer.alive, error.errno, error)
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
writer.append({"text": "after"})
print(writer.n)
"""


def test_a_limit_on_file_size_gives_a_real_short_write_and_loses_nothing(tmp_path: Path):
    env = {**os.environ, "PYTHONPATH": str(Path(proclang.__file__).parents[1])}
    run = [sys.executable, "-c", LIMITED, str(tmp_path / "run")]
    done = subprocess.run(run, env=env, capture_output=True, text=True, timeout=60)
    assert done.stderr == ""
    said, last = done.stdout.splitlines()
    count, alive, number, words = said.split(" ", 3)
    assert (alive, int(number)) == ("True", errno.EFBIG)
    assert "larger than is allowed" in words
    assert int(last) == int(count) + 1
    reading = read_journal(Files(), tmp_path / "run" / "journal.jsonl")
    assert (len(reading.entries), reading.damage, reading.torn) == (int(last), None, b"")
