"""After a power cut at any moment, also during recovery, everything acknowledged is there and nothing else is."""

from __future__ import annotations

import errno
from collections.abc import Callable
from pathlib import Path

import attrs
from faulty_files import ROOT, Disk, Fault, FaultyFiles, State, crash_states
from journal_samples import RUN, entry

from proclang.session.folder import RunFolder
from proclang.session.journal import JournalWriter, read_bytes, read_journal

RUN_PATH = ROOT / "run"
JOURNAL = str(RUN_PATH / "journal.jsonl")
SOURCE = b'proclang 1\nprocedure demo "An invented procedure"\n'
LOGS = ("# Log, first\n", "# Log, finished\n")


@attrs.define
class Progress:
    """What has been promised so far: records returned from `append`, records handed to it, and so on."""

    acknowledged: int = 0
    begun: int = 0
    source_kept: bool = False
    log: int = 0


def run_once(files: FaultyFiles, progress: Progress, records: int = 12) -> None:
    """Make a run, keep a source, append (one of them a correction), write the log, append, write the log again."""
    folder = RunFolder.create(RUN_PATH, files)
    folder.store_source("demo.proc", SOURCE)
    progress.source_kept = True
    writer = JournalWriter.create(files, folder.journal, RUN)
    assert isinstance(writer, JournalWriter)
    with writer:
        for n in range(1, records + 1):
            progress.begun = n
            writer.append(entry(n) if n != records - 1 else {**entry(n), "kind": "correction", "of": 3})
            progress.acknowledged = n
            if n in (records // 2, records):
                folder.write_log(LOGS[progress.log])
                progress.log += 1


def entries_of(records: int = 12) -> list[dict]:
    return [
        {"n": n, **(entry(n) if n != records - 1 else {**entry(n), "kind": "correction", "of": 3})}
        for n in range(1, records + 1)
    ]


WANTED = entries_of()


def tail_of(state: State) -> bytes:
    return read_bytes(state[JOURNAL] or b"").torn if JOURNAL in state else b""


def recover(state: State, progress: Progress, watch_with: Callable[[Disk], None] | None = None) -> None:
    """Open what a power cut left, see that all promises hold, and go on with the run."""
    disk = Disk.of(state)
    files = FaultyFiles(disk)
    folder = RunFolder(RUN_PATH, files)
    if progress.source_kept:
        assert state[str(folder.sources / "demo.proc")] == SOURCE
    log = state.get(str(folder.log))
    shown = {text.encode() for text in LOGS[max(progress.log - 1, 0) : progress.log + 1]}
    assert log in (shown if progress.log else {*shown, None})
    if JOURNAL not in state:
        assert progress.acknowledged == 0
        return
    torn = tail_of(state)
    if watch_with is not None:
        files.watch = lambda: watch_with(disk)
    writer = JournalWriter.open(files, folder.journal, RUN)
    assert isinstance(writer, JournalWriter)
    files.watch = None
    assert disk.names[Path(JOURNAL)].pending == []
    with writer:
        assert progress.acknowledged <= writer.n <= progress.begun
        assert list(writer.reading.entries) == WANTED[: writer.n]
        if torn:
            assert writer.set_aside is not None
            assert disk.seen()[str(writer.set_aside)] == torn
        writer.append({"kind": "resumed"})
    for after in ({str(p): i.cached for p, i in disk.names.items()}, {str(p): i.durable for p, i in disk.kept.items()}):
        reading = read_bytes(after[JOURNAL])
        assert (reading.damage, reading.torn, reading.newline_missing) == (None, b"", False)
        assert reading.entries[:-1] == writer.reading.entries
        assert reading.entries[-1]["kind"] == "resumed"
        assert not torn or torn in after.values()


def key_of(state: State) -> frozenset[tuple[str, bytes | None]]:
    return frozenset(state.items())


def test_every_crash_state_recovers_and_so_does_every_crash_during_recovery():
    progress = Progress()
    disk = Disk()
    states: list[tuple[State, Progress]] = []
    met: set[object] = set()

    def watch() -> None:
        for state in crash_states(disk):
            key = (key_of(state), attrs.astuple(progress))
            if key not in met:
                met.add(key)
                states.append((state, attrs.evolve(progress)))

    files = FaultyFiles(disk, watch=watch)
    run_once(files, progress)
    watch()
    assert progress == Progress(12, 12, True, 2)
    assert 500 <= len(states) <= 5_000
    assert sum(1 for state, _ in states if tail_of(state)) > 100

    again: dict[object, tuple[State, Progress]] = {}
    for number, (state, promised) in enumerate(states):
        torn = tail_of(state)

        def watch_recovery(recovering: Disk, torn: bytes = torn, promised: Progress = promised) -> None:
            for later in crash_states(recovering):
                key = (key_of(later), attrs.astuple(promised))
                if key in again:
                    continue
                again[key] = (later, promised)
                # What was unreadable is never lost: still at the end of the journal, or in a file of its own.
                assert torn in later.values() or (later[JOURNAL] or b"").endswith(torn)

        # A crash of the recovery from every third state: neighbours differ by a few bytes of the tail.
        recover(state, promised, watch_recovery if torn and number % 3 == 0 else None)
    assert len(again) > 1_000
    for state, promised in again.values():
        recover(state, promised)


class Killed(BaseException):
    """The process ends here, without a handler being run."""


def test_what_a_resume_shows_after_a_kill_is_on_the_disk_before_it_is_shown():
    """A killed process leaves unsynced bytes and names that the next one sees; then the power goes after all."""
    for at in range(1, 1_000):
        progress = Progress()
        disk = Disk()
        files = FaultyFiles(disk)

        def kill(files: FaultyFiles = files, at: int = at) -> None:
            if len(files.done) == at:
                raise Killed

        files.watch = kill
        try:
            run_once(files, progress, records=3)
        except Killed:
            pass
        else:
            break
        disk.locks.clear()
        if Path(JOURNAL) not in disk.names:
            continue
        # Without the note of who holds the journal, whose writing happens to sync the folder as well.
        noteless = FaultyFiles(disk, Fault(1, errno.ENOSPC, persistent=True, kinds=frozenset({"open_new"})))
        writer = JournalWriter.open(noteless, Path(JOURNAL), RUN)
        assert isinstance(writer, JournalWriter)
        assert progress.acknowledged <= writer.n <= progress.begun
        for state in crash_states(disk):
            assert read_bytes(state[JOURNAL] or b"").entries == writer.reading.entries
    assert at > 30


def test_new_names_are_durable_before_anything_rests_on_them():
    """Rule: new file, write, fsync, rename, fsync of the folder; the journal's own name before its first record."""
    files = FaultyFiles(Disk())
    run_once(files, Progress(), records=2)
    done = [step for step in files.done if not step.startswith(("close", "extent", "exists"))]
    text = "\n".join(done)
    for name, folder in (("log.md", "run"), ("demo.proc", "sources")):
        steps = (
            f"open_new .{name}.new-1\nwrite .{name}.new-1\nfsync .{name}.new-1\nrename {name}\nfsync_folder {folder}"
        )
        assert steps in text
    assert "open_append journal.jsonl\nlock journal.jsonl\nfsync journal.jsonl\nfsync_folder run" in text
    assert text.index("make_folder run\nfsync_folder disk") < text.index("open_append")
    first = done.index("write journal.jsonl")
    assert done[first + 1] == "fsync journal.jsonl"


def test_a_torn_tail_is_copied_and_synced_before_it_is_cut():
    files = FaultyFiles(Disk())
    run_once(files, Progress(), records=2)
    state = dict(files.disk.seen())
    state[JOURNAL] = (state[JOURNAL] or b"")[:-9]
    mending = FaultyFiles(Disk.of(state))
    writer = JournalWriter.open(mending, RUN_PATH / "journal.jsonl")
    assert isinstance(writer, JournalWriter)
    done = "\n".join(step for step in mending.done if not step.startswith("close"))
    beside = ".journal.torn-1.new-1"
    assert (
        f"open_new {beside}\nwrite {beside}\nfsync {beside}\nrename journal.torn-1\nfsync_folder run\n"
        "truncate journal.jsonl\nfsync journal.jsonl" in done
    )
    assert writer.set_aside == RUN_PATH / "journal.torn-1"
    assert read_journal(mending, RUN_PATH / "journal.jsonl").entries == writer.reading.entries
