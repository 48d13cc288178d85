"""Two writers never: a lock on the journal itself, refused links, and a sentence about who has it."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from faulty_files import ROOT, Disk, Fault, FaultyFiles
from journal_samples import RUN, entry, joined, lines

import proclang
from proclang.session.files import Files, StorageError
from proclang.session.folder import RunFolder
from proclang.session.journal import Damage, JournalWriter, read_journal
from proclang.session.lock import HOLDER_NAME, Held

CHILD = """
import pathlib, sys
from proclang.session.files import Files
from proclang.session.journal import JournalWriter
from proclang.session.lock import Held
for line in sys.stdin:
    got = JournalWriter.open(Files(), pathlib.Path(line.strip()), "demo-run-1")
    if isinstance(got, JournalWriter):
        got.append({"by": sys.argv[1]})
    print("won" if isinstance(got, JournalWriter) else f"held {got.pid}" if isinstance(got, Held) else got, flush=True)
    sys.stdin.readline()
    if isinstance(got, JournalWriter):
        got.close()
    print("closed", flush=True)
"""


def start_child(name: str) -> subprocess.Popen[str]:
    env = {**os.environ, "PYTHONPATH": str(Path(proclang.__file__).parents[1])}
    run = [sys.executable, "-c", CHILD, name]
    return subprocess.Popen(run, env=env, text=True, bufsize=1, stdin=subprocess.PIPE, stdout=subprocess.PIPE)


@contextlib.contextmanager
def two_children() -> Iterator[list[subprocess.Popen[str]]]:
    children = [start_child("one"), start_child("two")]
    try:
        yield children
    finally:
        for child in children:
            child.kill()
            child.communicate()


def say(child: subprocess.Popen[str], line: str) -> None:
    assert child.stdin is not None
    child.stdin.write(line + "\n")


def hear(child: subprocess.Popen[str]) -> str:
    assert child.stdout is not None
    assert select.select([child.stdout], [], [], 60)[0], "the other process does not answer"
    return child.stdout.readline().strip()


def new_run(path: Path) -> RunFolder:
    folder = RunFolder.create(path)
    writer = JournalWriter.create(folder.files, folder.journal, RUN)
    assert isinstance(writer, JournalWriter)
    writer.close()
    return folder


def test_of_two_processes_exactly_one_gets_the_journal_a_hundred_times(tmp_path: Path):
    folder = new_run(tmp_path / "run")
    with two_children() as children:
        for n in range(1, 101):
            for child in children:
                say(child, str(folder.journal))
            heard = [hear(child) for child in children]
            assert sorted(word[:4] for word in heard) == ["held", "won"]
            winner = children[heard.index("won")]
            late = JournalWriter.open(folder.files, folder.journal)
            assert isinstance(late, Held)
            assert late.pid == winner.pid
            assert f"process {winner.pid} on {os.uname().nodename} since 2" in str(late)
            for child in children:
                say(child, "")
            assert [hear(child) for child in children] == ["closed", "closed"]
            assert len(read_journal(folder.files, folder.journal).entries) == n


def test_a_killed_holder_leaves_the_journal_free(tmp_path: Path):
    folder = new_run(tmp_path / "run")
    with two_children() as children:
        say(children[0], str(folder.journal))
        assert hear(children[0]) == "won"
        assert isinstance(JournalWriter.open(folder.files, folder.journal), Held)
        children[0].send_signal(signal.SIGKILL)
        children[0].wait(timeout=60)
        assert (folder.path / HOLDER_NAME).exists()
        writer = JournalWriter.open(folder.files, folder.journal)
        assert isinstance(writer, JournalWriter)
        assert writer.n == 1
        writer.close()
        assert not (folder.path / HOLDER_NAME).exists()


def test_a_second_opening_in_the_same_process_is_held_too(tmp_path: Path):
    folder = new_run(tmp_path / "run")
    with JournalWriter.open(folder.files, folder.journal, RUN) as writer:  # type: ignore[union-attr]
        assert isinstance(JournalWriter.open(folder.files, folder.journal, RUN), Held)
        writer.append(entry(1))
    with JournalWriter.open(folder.files, folder.journal) as writer:  # type: ignore[union-attr]
        assert writer.n == 1


@pytest.mark.parametrize(
    ("note", "shown"),
    [
        (
            b'{"pid":7,"host":"demo-laptop","since":"2031-02-03T04:05:06Z"}\n',
            "process 7 on demo-laptop since 2031-02-03",
        ),
        (b'{"pid":"7","host":["x"],"since":null}', "another process;"),
        (b'{"pid":true,"host":"a\\u001b[2Jb"}', "another process on a\\u{1b}[2Jb;"),
        (b'{"pid":1,"pid":2}', "another process;"),
        (b"\xff\xfe", "another process;"),
        (b"", "another process;"),
        (b"[" * 5_000, "another process;"),
    ],
    ids=range(7),
)
def test_the_note_of_who_holds_it_is_shown_but_never_trusted(tmp_path: Path, note: bytes, shown: str):
    folder = new_run(tmp_path / "run")
    with JournalWriter.open(folder.files, folder.journal, RUN):  # type: ignore[union-attr]
        (folder.path / HOLDER_NAME).write_bytes(note)
        held = JournalWriter.open(folder.files, folder.journal)
        assert isinstance(held, Held)
        assert f"this run is open in {shown}" in str(held)
    (folder.path / HOLDER_NAME).write_bytes(note)
    writer = JournalWriter.open(folder.files, folder.journal, RUN)
    assert isinstance(writer, JournalWriter)
    writer.close()


def test_a_note_that_cannot_be_written_keeps_nobody_from_working():
    for step in ("open_new .holder.json.new-1", "write .holder.json.new-1", "rename holder.json"):
        dry = FaultyFiles(Disk())
        RunFolder.create(ROOT / "run", dry)
        JournalWriter.create(dry, ROOT / "run" / "journal.jsonl", RUN)
        files = FaultyFiles(Disk(), Fault(dry.done.index(step) + 1, errno.ENOSPC))
        RunFolder.create(ROOT / "run", files)
        writer = JournalWriter.create(files, ROOT / "run" / "journal.jsonl", RUN)
        assert isinstance(writer, JournalWriter)
        assert files.fault_met
        assert writer.append(entry(1)).n == 1


def test_a_link_a_second_name_and_what_is_no_file_are_refused(tmp_path: Path):
    folder = new_run(tmp_path / "run")
    files = Files()
    linked = tmp_path / "linked.jsonl"
    linked.symlink_to(folder.journal)
    with pytest.raises(StorageError, match="links are not followed"):
        JournalWriter.open(files, linked, RUN)
    with pytest.raises(StorageError, match="links are not followed"):
        read_journal(files, linked)
    second = tmp_path / "second.jsonl"
    os.link(folder.journal, second)
    for name in (second, folder.journal):
        with pytest.raises(StorageError, match="more than one name"):
            JournalWriter.open(files, name, RUN)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for odd in (pipe, tmp_path):
        with pytest.raises(StorageError, match=r"not an ordinary file|a folder where a file"):
            JournalWriter.open(files, odd, RUN)
        with pytest.raises(StorageError, match="not an ordinary file"):
            read_journal(files, odd)
    with pytest.raises(StorageError, match="no such file or folder"):
        JournalWriter.open(files, tmp_path / "none.jsonl", RUN)
    with pytest.raises(StorageError, match="already there"):
        JournalWriter.create(files, linked, RUN)


def test_a_journal_exchanged_while_it_was_being_locked_is_refused():
    class Exchanging(FaultyFiles):
        def lock(self, descriptor: int) -> bool:
            self.disk.change_name(journal.parent, journal, None, self.disk.names[journal])
            self.close(self.open_new(journal))
            return super().lock(descriptor)

    journal = ROOT / "run" / "journal.jsonl"
    disk = Disk.of({"/disk/run": None, str(journal): joined(lines(2))})
    with pytest.raises(StorageError, match="replaced by another file"):
        JournalWriter.open(Exchanging(disk), journal)


@pytest.mark.parametrize("how", ["removed", "linked", "grown", "cut"])
def test_a_journal_changed_behind_the_writer_stops_it(tmp_path: Path, how: str):
    """Rule: never acknowledge into a file that has lost its name, or after bytes this process did not write."""
    folder = new_run(tmp_path / "run")
    writer = JournalWriter.open(folder.files, folder.journal, RUN)
    assert isinstance(writer, JournalWriter)
    writer.append(entry(1))
    if how == "removed":
        folder.journal.unlink()
    elif how == "linked":
        os.link(folder.journal, tmp_path / "again")
    elif how == "grown":
        with folder.journal.open("ab") as other:
            other.write(b"x")
    else:
        os.truncate(folder.journal, 10)
    for _ in range(2):
        with pytest.raises(StorageError, match="by another program"):
            writer.append(entry(2))
    assert not writer.alive
    writer.close()
    writer.close()
    with pytest.raises(StorageError, match="closed"):
        writer.append(entry(2))


def test_opening_a_damaged_journal_changes_nothing(tmp_path: Path):
    folder = new_run(tmp_path / "run")
    bad = joined([*lines(3)[:1], *lines(3)[2:]])
    folder.journal.write_bytes(bad)
    before = sorted(os.listdir(folder.path))
    damage = JournalWriter.open(folder.files, folder.journal)
    assert isinstance(damage, Damage)
    assert damage.line == 2
    assert folder.journal.read_bytes() == bad
    assert sorted(os.listdir(folder.path)) == before
    folder.journal.write_bytes(joined(lines(3)))
    writer = JournalWriter.open(folder.files, folder.journal)
    assert isinstance(writer, JournalWriter), "a refused journal must not stay locked"
    writer.close()


def test_torn_tails_are_set_aside_under_the_next_free_number(tmp_path: Path):
    folder = new_run(tmp_path / "run")
    (folder.path / "journal.torn-3").write_bytes(b"from earlier")
    (folder.path / "journal.torn-x").write_bytes(b"not ours")
    whole = lines(4)
    for number, tail in ((4, whole[2][:50]), (5, bytes(4096)), (6, b"\xe2\x82")):
        folder.journal.write_bytes(joined(whole[:2]) + tail)
        writer = JournalWriter.open(folder.files, folder.journal)
        assert isinstance(writer, JournalWriter)
        assert writer.set_aside == folder.path / f"journal.torn-{number}"
        assert writer.set_aside.read_bytes() == tail
        assert folder.journal.read_bytes() == joined(whole[:2])
        writer.close()
    folder.journal.write_bytes(b"\n".join(whole))
    writer = JournalWriter.open(folder.files, folder.journal)
    assert isinstance(writer, JournalWriter)
    assert (writer.n, writer.set_aside) == (4, None)
    assert folder.journal.read_bytes() == joined(whole)
    writer.append(entry(5))
    assert folder.journal.read_bytes() == joined(lines(5))
    writer.close()


def test_a_missing_an_empty_and_another_runs_journal_are_told_apart(tmp_path: Path):
    files = Files()
    missing = read_journal(files, tmp_path / "journal.jsonl")
    assert missing.missing
    assert str(missing.damage) == "the journal cannot be trusted: there is none in this folder"
    folder = new_run(tmp_path / "run")
    assert read_journal(files, folder.journal).empty
    assert isinstance(JournalWriter.open(files, folder.journal), Damage)
    folder.journal.write_bytes(joined(lines(2)))
    other = JournalWriter.open(files, folder.journal, "demo-run-2")
    assert isinstance(other, Damage)
    assert "another run, demo-run-1" in other.reason
    for bad in ("", "a b", "x" * 65, "../up", "é"):
        with pytest.raises(ValueError, match="not a run id"):
            JournalWriter.open(files, folder.journal, bad)
        with pytest.raises(ValueError, match="not a run id"):
            JournalWriter.create(files, folder.path / "other.jsonl", bad)


def test_what_append_returns_is_the_line_in_the_file(tmp_path: Path):
    folder = new_run(tmp_path / "run")
    with JournalWriter.open(folder.files, folder.journal, RUN) as writer:  # type: ignore[union-attr]
        for n in (1, 2):
            sealed = writer.append(entry(n))
            assert folder.journal.read_bytes().split(b"\n")[n - 1] == sealed.line
            assert json.loads(sealed.line)["sha"] == sealed.head == writer.head
    assert folder.journal.read_bytes() == joined(lines(2))
