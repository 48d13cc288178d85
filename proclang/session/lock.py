"""One writer: a lock on the journal's own descriptor, and a note of who holds it for people to read.

`flock` belongs to the open file, so it goes away with the process however that ends, and opening the journal a second
time inside one process is kept out as well. The note is written as a courtesy: nothing is decided by it, and a missing,
old or forged note changes only the sentence shown.
"""

from __future__ import annotations

import os
import re
import time
from pathlib import Path
from typing import Any

import attrs

from proclang.session import strict_json
from proclang.session.files import Files, StorageError, read_file, write_new
from proclang.text.printable import printable

HOLDER_NAME = "holder.json"
_HOLDER_BYTES = 4_096
_MOUNTS_READ = 1 << 20


@attrs.frozen
class Held:
    """Another process has the journal. What is not known is None or empty; `since` is UTC, ISO 8601."""

    pid: int | None
    host: str
    since: str

    def __str__(self) -> str:
        who = f"process {self.pid}" if self.pid is not None else "another process"
        where = f" on {self.host}" if self.host else ""
        since = f" since {self.since}" if self.since else ""
        return f"this run is open in {who}{where}{since}; finish or close it there first"


def take(files: Files, descriptor: int, folder: Path) -> Held | None:
    """Lock an open journal for this process, or say who has it. Raises `OSError` when the disk knows no locks."""
    if files.lock(descriptor):
        return None
    return _read_note(files, folder / HOLDER_NAME)


def leave_note(files: Files, folder: Path) -> None:
    """Write down who holds the journal. Never fails: the lock holds without it."""
    note = {
        "pid": os.getpid(),
        "host": os.uname().nodename,
        "since": time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime()),
    }
    try:
        write_new(files, folder / HOLDER_NAME, strict_json.dumps(note) + b"\n")
    except (StorageError, ValueError):
        return


def remove_note(files: Files, folder: Path) -> None:
    """Take the note away before the lock is let go. Never fails."""
    try:
        files.unlink(folder / HOLDER_NAME)
    except OSError:
        return


_LOCAL = frozenset((
    "apfs", "btrfs", "erofs", "exfat", "ext2", "ext3", "ext4", "f2fs", "fuseblk", "hfs", "hfsplus", "jfs", "msdos",
    "nilfs2", "ntfs", "ntfs3", "overlay", "ramfs", "rootfs", "squashfs", "tmpfs", "ubifs", "ufs", "vfat", "xfs", "zfs",
))  # fmt: skip
_NETWORK = frozenset((
    "9p", "afs", "ceph", "cifs", "coda", "davfs", "fuse.sshfs", "gfs2", "glusterfs", "lustre", "nfs", "nfs4", "ocfs2",
    "smb3", "smbfs", "virtiofs",
))  # fmt: skip
"""Names the system gives to kinds of disk, in /proc/self/mountinfo; those that other machines write to as well, or the
host of a virtual machine (from memory of the manual pages of `mount` and `filesystems`)."""


def disk_kind(path: Path) -> str:
    """The system's name for the kind of disk a folder is on; empty where it does not say."""
    try:
        with open("/proc/self/mountinfo", encoding="utf-8", errors="surrogateescape") as file:
            return kind_among(os.path.realpath(path), file.read(_MOUNTS_READ))
    except OSError:
        return ""


def kind_among(path: str, mounts: str) -> str:
    """The kind of the disk mounted nearest above an absolute path. `mounts` is written as in proc(5), mountinfo."""
    nearest, kind = "", ""
    for line in mounts.splitlines():
        before, _, after = line.partition(" - ")
        fields, kinds = before.split(" "), after.split(" ")
        if len(fields) < 5 or not kinds[0]:
            continue
        point = re.sub(r"\\([0-7]{3})", lambda m: chr(int(m[1], 8)), fields[4])
        # A later mount on the same place hides the earlier one.
        if len(point) >= len(nearest) and (path == point or path.startswith(point.rstrip("/") + "/")):
            nearest, kind = point, kinds[0]
    return kind


def doubt(kind: str) -> tuple[str, ...]:
    """What to say of a kind of disk on which the lock may keep nobody out; nothing of one that is known to be good."""
    if not kind or kind in _LOCAL:
        return ()
    what = "on a network disk" if kind in _NETWORK else "on a kind of disk that this program does not know"
    return (
        f"the run is kept {what} ({printable(kind)}), where a second computer might not be kept out",
        "  keep it on a disk of this machine while it is under way, and copy it when it is over",
    )


def _read_note(files: Files, path: Path) -> Held:
    try:
        note: Any = strict_json.loads(read_file(files, path, _HOLDER_BYTES).rstrip(b"\n"))
    except StorageError:
        note = None
    if not isinstance(note, dict):
        return Held(None, "", "")
    pid = note.get("pid")
    return Held(pid if type(pid) is int else None, _short(note.get("host")), _short(note.get("since")))


def _short(value: object) -> str:
    return printable(value[:64]) if isinstance(value, str) else ""
