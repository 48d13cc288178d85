"""A disk in memory that can fail, and that knows what a power cut would leave of it.

It keeps apart what a program sees (cached) from what has been synced (durable), for the bytes of every file and for
the names in every folder. `crash_states` lists what may be found after a power cut at this moment. The model is the
pessimist's one of the crash-consistency papers ("All File Systems Are Not Created Equal", OSDI 2014): unsynced writes
may be missing, half there, zeros, or old garbage with the size already grown; unsynced names may be missing or old.
"""

from __future__ import annotations

import errno
import itertools
import os
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import attrs

from proclang.session.files import Files, FileStatus

ROOT = Path("/disk")
GARBAGE = b'old block {"n":3,"sha":"x"} \xff\xfe\x00 '

State = Mapping[str, bytes | None]
"""What stands on a disk: path to bytes, or to None for a folder."""


@attrs.define(eq=False)
class Inode:
    """A file or a folder. `pending` holds (offset, bytes) for writes and (size, None) for cuts, since the last sync."""

    folder: bool = False
    cached: bytes = b""
    durable: bytes = b""
    pending: list[tuple[int, bytes | None]] = attrs.field(factory=list)
    lost: bool = False
    links: int = 1


def _after(data: bytes, change: tuple[int, bytes | None]) -> bytes:
    at, new = change
    if new is None:
        return data[:at].ljust(at, b"\0")
    return data.ljust(at, b"\0")[:at] + new + data[at + len(new) :]


class Disk:
    """Names and inodes, each as seen and as kept, and who holds which lock."""

    def __init__(self) -> None:
        root = Inode(folder=True)
        self.names: dict[Path, Inode] = {ROOT: root}
        self.kept: dict[Path, Inode] = {ROOT: root}
        self.unkept: dict[Path, list[tuple[Path | None, Path | None, Inode]]] = {}
        self.locks: dict[Inode, object] = {}

    @classmethod
    def of(cls, state: State) -> Disk:
        """A disk on which all of `state` is durable."""
        disk = cls()
        for name, data in state.items():
            inode = Inode(folder=data is None, cached=data or b"", durable=data or b"")
            disk.names[Path(name)] = disk.kept[Path(name)] = inode
        return disk

    def seen(self) -> dict[str, bytes | None]:
        """What programs see now."""
        return {str(path): None if inode.folder else inode.cached for path, inode in self.names.items()}

    def change_name(self, folder: Path, old: Path | None, new: Path | None, inode: Inode) -> None:
        """Record that `old` (or nothing) became `new` (or nothing)."""
        self.unkept.setdefault(folder, []).append((old, new, inode))
        _rename(self.names, old, new, inode)

    def keep_names(self, folder: Path) -> None:
        """The folder was synced."""
        for old, new, inode in self.unkept.pop(folder, []):
            _rename(self.kept, old, new, inode)


def _rename(names: dict[Path, Inode], old: Path | None, new: Path | None, inode: Inode) -> None:
    if old is not None:
        names.pop(old, None)
    if new is not None:
        names[new] = inode


def _contents(inode: Inode) -> list[bytes]:
    """What may be found of a file after a power cut; the first is "nothing unsynced", the second "all of it"."""
    if not inode.pending:
        return [inode.durable]
    stages = [inode.durable]
    for change in inode.pending:
        stages.append(_after(stages[-1], change))
    found = [stages[0], stages[-1], *stages[1:-1]]
    at, new = inode.pending[-1]
    before = stages[-2]
    if new is not None:
        zeros = bytes(len(new))
        garbage = (GARBAGE * (len(new) // len(GARBAGE) + 1))[: len(new)]
        for cut in sorted({1, len(new) - 1, *(len(new) * part // 8 for part in range(1, 8))}):
            kept, rest = new[:cut], new[cut:]
            for part in (kept, kept + zeros[cut:], kept + garbage[cut:], zeros[:cut] + rest, garbage[:cut] + rest):
                found.append(_after(before, (at, part)))
        for part in (zeros, garbage, bytes(4096), new + bytes(8)):
            found.append(_after(before, (at, part)))
    return list(dict.fromkeys(found))


def crash_states(disk: Disk) -> Iterator[dict[str, bytes | None]]:
    """Every state a power cut at this moment may leave, each once."""
    folders = list(disk.unkept)
    given: set[tuple[tuple[str, bytes | None], ...]] = set()
    for counts in itertools.product(*(range(len(disk.unkept[folder]) + 1) for folder in folders)):
        names = dict(disk.kept)
        for folder, count in zip(folders, counts, strict=True):
            for old, new, inode in disk.unkept[folder][:count]:
                _rename(names, old, new, inode)
        reachable = {
            p: i for p, i in names.items() if all(up in names for up in p.parents if ROOT in (up, *up.parents))
        }
        unsynced = [inode for inode in reachable.values() if inode.pending]
        choices: list[dict[Inode, bytes]] = [{}, {inode: inode.cached for inode in unsynced}]
        choices += [{inode: content} for inode in unsynced for content in _contents(inode)]
        for choice in choices:
            state = {
                str(path): None if inode.folder else choice.get(inode, inode.durable)
                for path, inode in reachable.items()
                if path != ROOT
            }
            key = tuple(sorted(state.items(), key=lambda item: item[0]))
            if key not in given:
                given.add(key)
                yield state


@attrs.frozen
class Fault:
    """Operation number `at` (from 1) fails with `number`; with `persistent` all later ones do too.

    `kinds` limits it to operations of these names. `taken`, for a write, is how many of the bytes given are taken
    without an error; whatever follows then fails if `persistent`.
    """

    at: int
    number: int = errno.EIO
    persistent: bool = False
    kinds: frozenset[str] | None = None
    taken: Callable[[int], int] | None = None


class FaultyFiles(Files):
    """`Files` on a `Disk`, for one process. `done` lists the operations as "name file"."""

    def __init__(self, disk: Disk, fault: Fault | None = None, watch: Callable[[], None] | None = None) -> None:
        self.disk = disk
        self.fault = fault
        self.watch = watch
        self.done: list[str] = []
        self.fault_met = False
        self._open: dict[int, Inode] = {}
        self._paths: dict[int, Path] = {}
        self._next = 3

    def _step(self, kind: str, path: Path) -> None:
        if self.watch is not None:
            self.watch()
        self.done.append(f"{kind} {path.name}")
        if self._fails(kind) and not (kind == "write" and self._short_now()):
            self.fault_met = True
            assert self.fault is not None
            raise OSError(self.fault.number, os.strerror(self.fault.number))

    def _short_now(self) -> bool:
        fault = self.fault
        return fault is not None and fault.taken is not None and len(self.done) == fault.at

    def _fails(self, kind: str) -> bool:
        fault = self.fault
        if fault is None or (fault.kinds is not None and kind not in fault.kinds):
            return False
        return len(self.done) == fault.at or (fault.persistent and len(self.done) > fault.at)

    def _descriptor(self, inode: Inode, path: Path) -> int:
        self._next += 1
        self._open[self._next] = inode
        self._paths[self._next] = path
        return self._next

    def _found(self, path: Path) -> Inode:
        inode = self.disk.names.get(path)
        if inode is None:
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))
        return inode

    def _made(self, path: Path, *, folder: bool = False) -> Inode:
        if path in self.disk.names:
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))
        self._found(path.parent)
        inode = Inode(folder=folder)
        self.disk.change_name(path.parent, None, path, inode)
        return inode

    def open_append(self, path: Path, *, create: bool) -> int:
        self._step("open_append", path)
        return self._descriptor(self._made(path) if create else self._found(path), path)

    def open_new(self, path: Path) -> int:
        self._step("open_new", path)
        return self._descriptor(self._made(path), path)

    def open_read(self, path: Path) -> int:
        self._step("open_read", path)
        return self._descriptor(self._found(path), path)

    def read(self, descriptor: int, most: int) -> bytes:
        self._step("read", self._paths[descriptor])
        data = self._open[descriptor].cached
        if len(data) > most:
            raise OSError(errno.EFBIG, os.strerror(errno.EFBIG))
        return data

    def write(self, descriptor: int, data: bytes | memoryview) -> int:
        self._step("write", self._paths[descriptor])
        inode = self._open[descriptor]
        new = bytes(data)
        if self._short_now():
            assert self.fault is not None
            assert self.fault.taken is not None
            self.fault_met = True
            new = new[: self.fault.taken(len(new))]
        if new:
            change = (len(inode.cached), new)
            inode.pending.append(change)
            inode.cached = _after(inode.cached, change)
        return len(new)

    def fsync(self, descriptor: int) -> None:
        inode = self._open[descriptor]
        try:
            self._step("fsync", self._paths[descriptor])
        except OSError:
            # As Linux does: the data is dropped, the pages are called clean, and memory still shows what was written.
            inode.lost = inode.lost or bool(inode.pending)
            inode.pending.clear()
            raise
        for change in inode.pending:
            inode.durable = _after(inode.durable, change)
        inode.pending.clear()

    def fsync_folder(self, path: Path) -> None:
        self._step("fsync_folder", path)
        self._found(path)
        self.disk.keep_names(path)

    def forget_cached(self, descriptor: int) -> None:
        self._step_unfailing("forget_cached", descriptor)
        inode = self._open[descriptor]
        if inode.lost and not inode.pending:
            inode.cached, inode.lost = inode.durable, False

    def _step_unfailing(self, kind: str, descriptor: int) -> None:
        try:
            self._step(kind, self._paths[descriptor])
        except OSError:
            return

    def truncate(self, descriptor: int, size: int) -> None:
        self._step("truncate", self._paths[descriptor])
        inode = self._open[descriptor]
        inode.pending.append((size, None))
        inode.cached = _after(inode.cached, (size, None))

    def make_folder(self, path: Path) -> None:
        self._step("make_folder", path)
        self._made(path, folder=True)

    def make_private(self, path: Path) -> None:
        self._step("make_private", path)
        self._found(path)

    def rename(self, old: Path, new: Path) -> None:
        self._step("rename", new)
        self.disk.change_name(new.parent, old, new, self._found(old))

    def unlink(self, path: Path) -> None:
        self._step("unlink", path)
        self.disk.change_name(path.parent, path, None, self._found(path))

    def _status(self, inode: Inode) -> FileStatus:
        return FileStatus(len(inode.cached), inode.links, not inode.folder, inode.folder, (1, id(inode)))

    def status(self, descriptor: int) -> FileStatus:
        self._step("status", self._paths[descriptor])
        return self._status(self._open[descriptor])

    def extent(self, descriptor: int) -> tuple[int, int]:
        self._step("extent", self._paths[descriptor])
        inode = self._open[descriptor]
        return len(inode.cached), inode.links if inode in self.disk.names.values() else 0

    def status_of(self, path: Path) -> FileStatus:
        self._step("status_of", path)
        return self._status(self._found(path))

    def exists(self, path: Path) -> bool:
        self._step("exists", path)
        return path in self.disk.names

    def list_folder(self, path: Path) -> list[str]:
        self._step("list_folder", path)
        self._found(path)
        return sorted(p.name for p in self.disk.names if p.parent == path and p != path)

    def lock(self, descriptor: int) -> bool:
        self._step("lock", self._paths[descriptor])
        inode = self._open[descriptor]
        if inode in self.disk.locks:
            return False
        self.disk.locks[inode] = (self, descriptor)
        return True

    def close(self, descriptor: int) -> None:
        inode = self._open.pop(descriptor)
        if self.disk.locks.get(inode) == (self, descriptor):
            del self.disk.locks[inode]
        self._step("close", self._paths.pop(descriptor))
