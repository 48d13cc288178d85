"""The journal: a file of chained records that only grows. Reading it, and the one writer.

What the writer promises: when `append` returns, the record is on the disk. What a reader may forgive: the end of the
file as a power cut leaves it, when no whole record follows. Anything else that does not verify is damage, refused and
named by line; nothing is guessed and nothing thrown away.
"""

from __future__ import annotations

import errno
import os
import re
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple

import attrs

from proclang.session import chain, lock
from proclang.session.files import Files, StorageError, storage_error, write_fully, write_new
from proclang.session.lock import Held
from proclang.text.collector import collector_paused
from proclang.text.diagnostic import Problem
from proclang.text.limits import JOURNAL_LINE_BYTES
from proclang.text.printable import printable

JOURNAL_BYTES = 1 << 28
"""Longest journal that is read, 256 MiB."""

_TORN_BYTES = JOURNAL_LINE_BYTES + 4_096
"""A crash spoils at most the one record being written, and the block behind it."""

_PAIRS_TRIED = 2_000
_CONFLICT = re.compile(rb"<{7} |={7}\r?$|>{7} |\|{7} ")
_TORN_NAME = re.compile(r"journal\.torn-([1-9][0-9]{0,8})")


@attrs.frozen
class Damage:
    """Why a journal is refused, and the line to look at, counted from 1 (0: the file as a whole)."""

    line: int
    reason: str

    def __str__(self) -> str:
        where = f"line {self.line} of the journal" if self.line else "the journal"
        return f"{where} cannot be trusted: {self.reason}"


@attrs.frozen
class JournalReading:
    """What a journal holds.

    `entries` are the sound records' members and `n`, in order; `run` is their run id, `head` the hash of the last.
    `size_good` counts the bytes of the sound records, with the newline after the last unless `newline_missing`.
    `torn` is what a crash left behind them. With `damage`, entries are those before it and must not be built on.
    `missing` says that there is no such file.
    """

    entries: tuple[dict[str, Any], ...]
    run: str | None
    head: str
    size_good: int
    torn: bytes = attrs.field(default=b"", repr=False)
    damage: Damage | None = None
    newline_missing: bool = False
    missing: bool = False

    @property
    def empty(self) -> bool:
        """No record at all, though perhaps the torn beginning of the first."""
        return not self.entries and self.damage is None


def read_journal(files: Files, path: Path) -> JournalReading:
    """Read and verify a journal, changing nothing and taking no lock. Raises `StorageError` if it cannot be read."""
    try:
        descriptor = files.open_read(path)
        try:
            data = files.read(descriptor, JOURNAL_BYTES)
        finally:
            files.close(descriptor)
    except FileNotFoundError:
        gone = Damage(0, "there is none in this folder")
        return JournalReading((), None, chain.FIRST_PREVIOUS, 0, damage=gone, missing=True)
    except OSError as error:
        raise _failed(error, "reading the journal", path) from error
    return read_bytes(data)


def read_bytes(data: bytes) -> JournalReading:
    """The same for the bytes of a journal. Time grows with their number, whatever they are."""
    with collector_paused():
        sound = chain.walk(data)
    bare = sound.size > 0 and data[sound.size - 1 : sound.size] != b"\n"
    reading = JournalReading(tuple(sound.entries), sound.run, sound.head, sound.size, newline_missing=bare)
    if sound.size == len(data):
        return reading
    return _judge_rest(reading, data[sound.size :])


def _judge_rest(reading: JournalReading, rest: bytes) -> JournalReading:
    """Tell a torn tail from damage. `rest` begins where the line after the last sound one should."""
    line = len(reading.entries) + 1
    first = rest[: rest.find(b"\n")] if b"\n" in rest else rest
    if _CONFLICT.match(first):
        return _damaged(reading, line, "it is a mark git left when merging; a journal cannot be merged")
    if first.endswith(b"\r") and chain.is_whole(first[:-1]):
        words = "its line end was changed to CR LF; restore the file and set `journal.jsonl -text` in .gitattributes"
        return _damaged(reading, line, words)
    longer = _with_unended_record(reading, rest)
    if longer is not None:
        reading, rest = longer
        reason = "the line end after this record is spoiled"
    else:
        reason = _why_not(reading, first)
    if len(rest) > _TORN_BYTES:
        return _damaged(reading, line, f"{reason}, and more follows than a crash leaves behind")
    if _holds_a_record(rest):
        follows = "" if chain.is_whole(first) else "; whole records follow, so this is not the mark of a crash"
        return _damaged(reading, line, reason + follows)
    if b'\n{"n":' in rest:
        return _damaged(reading, line, f"{reason}, nor is the next one; a crash spoils only the last")
    return attrs.evolve(reading, torn=rest)


def _damaged(reading: JournalReading, line: int, reason: str) -> JournalReading:
    return attrs.evolve(reading, damage=Damage(line, reason))


def _why_not(reading: JournalReading, line: bytes) -> str:
    found = chain.verify_line(line, reading.head, len(reading.entries) + 1, reading.run)
    return found.message if isinstance(found, Problem) else "it does not follow from what stands before"


def _with_unended_record(reading: JournalReading, rest: bytes) -> tuple[JournalReading, bytes] | None:
    """The reading with one more record, when `rest` begins with a sound one that only lacks its newline."""
    n = len(reading.entries) + 1
    start = chain.header_of_beginning(rest)
    if start is None or start.n != n:
        return None
    for end in chain.starts_and_ends(rest[:JOURNAL_LINE_BYTES])[1]:
        line = rest[:end]
        entry = chain.verify_line(line, reading.head, n, reading.run)
        if not isinstance(entry, Problem):
            entries = (*reading.entries, entry)
            size = reading.size_good + end
            return JournalReading(entries, start.run, chain.head_of(line), size, newline_missing=True), rest[end:]
    return None


def _holds_a_record(rest: bytes) -> bool:
    """Whether a whole record of any run stands anywhere in a tail, newlines or none around it."""
    if any(chain.is_whole(line) for line in rest.split(b"\n")):
        return True
    starts, ends = chain.starts_and_ends(rest)
    pairs = [(start, end) for start in starts for end in ends if start < end <= start + JOURNAL_LINE_BYTES]
    # A torn record has one beginning; hundreds are somebody's work, and are refused rather than searched.
    return len(pairs) > _PAIRS_TRIED or any(chain.is_whole(rest[start:end]) for start, end in pairs)


def _failed(error: OSError, doing: str, path: Path) -> StorageError:
    folder = path.parent
    again = f"run `proclang resume {printable(str(folder))}`"
    return storage_error(error, doing, path, folder=folder, again=again)


class Sealed(NamedTuple):
    """A record that is on the disk: its number, its hash, and its bytes without the newline."""

    n: int
    head: str
    line: bytes


class JournalWriter:
    """The one process that may add to a journal. Made by `create` or `open`; to be closed, or used in a `with`.

    `reading` is what was in it on opening, `set_aside` the file a torn tail was copied to, or None.
    """

    def __init__(self, files: Files, path: Path, descriptor: int, run: str, reading: JournalReading) -> None:
        self.path = path
        self.run = run
        self.reading = reading
        self.set_aside: Path | None = None
        self.n = len(reading.entries)
        self.head = reading.head
        self._files = files
        self._descriptor: int | None = descriptor
        self._size = reading.size_good
        self._dead = ""

    @classmethod
    def create(cls, files: Files, path: Path, run: str) -> JournalWriter | Held:
        """A new, empty journal whose name is on the disk. Raises `StorageError`, also when the file exists."""
        if not chain.is_run_id(run):
            raise ValueError(f"not a run id: {run!r}")
        try:
            descriptor = files.open_append(path, create=True)
            try:
                held = lock.take(files, descriptor, path.parent)
                if held is None:
                    files.fsync(descriptor)
                    files.fsync_folder(path.parent)
            except BaseException:
                _close_quietly(files, descriptor)
                raise
        except OSError as error:
            raise _failed(error, "making the journal", path) from error
        if held is not None:
            _close_quietly(files, descriptor)
            return held
        lock.leave_note(files, path.parent)
        return cls(files, path, descriptor, run, JournalReading((), None, chain.FIRST_PREVIOUS, 0))

    @classmethod
    def open(cls, files: Files, path: Path, run: str | None = None) -> JournalWriter | Held | Damage:
        """Lock, read, verify and if need be mend an existing journal.

        `run` is needed only for a journal without a record, as a crash right after `create` leaves it. Nothing is
        changed when the journal is held or damaged. Raises `StorageError`.
        """
        if run is not None and not chain.is_run_id(run):
            raise ValueError(f"not a run id: {run!r}")
        doing = "opening the journal"
        try:
            descriptor = files.open_append(path, create=False)
        except OSError as error:
            raise _failed(error, doing, path) from error
        writer: JournalWriter | Held | Damage | None = None
        try:
            writer = cls._opened(files, path, descriptor, run)
        except OSError as error:
            raise _failed(error, doing, path) from error
        finally:
            if not isinstance(writer, JournalWriter):
                _close_quietly(files, descriptor)
        if isinstance(writer, JournalWriter):
            lock.leave_note(files, path.parent)
        return writer

    @classmethod
    def _opened(cls, files: Files, path: Path, descriptor: int, run: str | None) -> JournalWriter | Held | Damage:
        status = files.status(descriptor)
        if not status.regular:
            raise StorageError("opening the journal", path, 0, "it is not an ordinary file", "Give a run folder")
        if status.links != 1:
            words = "it has more than one name, so that another program could write to it under the other"
            raise StorageError("opening the journal", path, 0, words, "Copy the run folder and go on from the copy")
        held = lock.take(files, descriptor, path.parent)
        if held is not None:
            return held
        if files.status_of(path).identity != status.identity:
            words = "it was replaced by another file at this moment"
            raise StorageError("opening the journal", path, 0, words, "See which program did that, then try again")
        # A process killed between write and fsync leaves records that are read but not yet kept; and after an fsync
        # that failed, memory may show what the disk never took. So: keep first, then read what was kept.
        files.fsync(descriptor)
        files.fsync_folder(path.parent)
        files.forget_cached(descriptor)
        reading = read_bytes(files.read(descriptor, JOURNAL_BYTES))
        if reading.damage is not None:
            return reading.damage
        if reading.run is not None and run is not None and run != reading.run:
            return Damage(1, f"it belongs to another run, {reading.run}")
        known = reading.run or run
        if known is None:
            return Damage(0, "it has no record yet; begin the run anew in another folder")
        writer = cls(files, path, descriptor, known, reading)
        writer._mend()
        return writer

    def _mend(self) -> None:
        """Copy a torn tail aside and cut it off; end the last record with its newline. Each step is kept in turn."""
        files, reading, descriptor = self._files, self.reading, self._descriptor
        assert descriptor is not None
        if reading.torn:
            aside = self.path.with_name(_next_torn_name(files.list_folder(self.path.parent)))
            again = f"run `proclang resume {printable(str(self.path.parent))}`"
            write_new(files, aside, reading.torn, doing="setting aside a half-written record", again=again)
            files.truncate(descriptor, reading.size_good)
            files.fsync(descriptor)
            self.set_aside = aside
        if reading.newline_missing:
            write_fully(files, descriptor, b"\n")
            files.fsync(descriptor)
            self._size += 1

    def append(self, entry: dict[str, Any]) -> Sealed:
        """Keep one entry; when this returns it is on the disk.

        Raises `chain.UnfitEntry` for an entry that cannot be kept (nothing is written), `StorageError` when the disk
        fails. After a failed save that could be undone the writer goes on; otherwise `alive` is False, every later call
        raises, and the journal must be opened anew, which verifies it.
        """
        descriptor = self._usable()
        files = self._files
        n = self.n + 1
        line = chain.seal(self.head, n, self.run, entry)
        data = line + b"\n"
        try:
            extent = files.extent(descriptor)
        except OSError as error:
            raise self._failed_saving(error) from error
        if extent != (self._size, 1):
            self._dead = "the journal was changed, moved or removed by another program"
            raise self._refusal()
        # Stands until the save is done, so that an exception out of a signal handler leaves the writer unusable.
        self._dead = "an earlier save did not finish"
        written = 0
        try:
            while written < len(data):
                count = files.write(descriptor, data[written:])
                if count <= 0:
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
                written += count
        except OSError as error:
            if self._cut_back(descriptor, written):
                self._dead = ""
            raise self._failed_saving(error) from error
        try:
            files.fsync(descriptor)
        except OSError as error:
            self._dead = "the disk failed to keep an earlier record"
            raise self._failed_saving(error) from error
        self._dead = ""
        self._size += written
        self.n = n
        self.head = chain.head_of(line)
        return Sealed(n, self.head, line)

    def _failed_saving(self, error: OSError) -> StorageError:
        return _failed(error, f"saving record {self.n + 1}", self.path)

    def _cut_back(self, descriptor: int, written: int) -> bool:
        """Take the beginning of a record off again; False when that cannot be relied on."""
        if written == 0:
            return True
        try:
            self._files.truncate(descriptor, self._size)
            self._files.fsync(descriptor)
        except OSError:
            return False
        return True

    @property
    def alive(self) -> bool:
        """Whether `append` may be called."""
        return self._descriptor is not None and not self._dead

    def _usable(self) -> int:
        if self._descriptor is None:
            raise StorageError("saving a record", self.path, 0, "the journal is closed", "Open the run again")
        if self._dead:
            raise self._refusal()
        return self._descriptor

    def _refusal(self) -> StorageError:
        again = f"Nothing more is saved here; run `proclang resume {printable(str(self.path.parent))}`"
        return StorageError(f"saving record {self.n + 1}", self.path, 0, self._dead, again)

    def close(self) -> None:
        """Let the journal and its lock go. May be called twice; never fails."""
        descriptor, self._descriptor = self._descriptor, None
        if descriptor is not None:
            lock.remove_note(self._files, self.path.parent)
            _close_quietly(self._files, descriptor)

    def __enter__(self) -> JournalWriter:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _close_quietly(files: Files, descriptor: int) -> None:
    try:
        files.close(descriptor)
    except OSError:
        return  # every record was synced before; the system frees the descriptor all the same


def _next_torn_name(names: list[str]) -> str:
    taken = [int(found[1]) for name in names if (found := _TORN_NAME.fullmatch(name))]
    return f"journal.torn-{max(taken, default=0) + 1}"
