"""Every call to the file system goes through one small class, so that a test can put a failing disk in its place.

The calls are the plain POSIX ones and raise `OSError`; callers above turn that into a `StorageError`, which says in
words what was being done, to which file, and what to do about it. A full disk first shows as a *short write*, not as an
error: whoever writes must look at the count. A failed `fsync` must not be tried again on the same descriptor: the
system may have dropped the data and called it clean ("Can Applications Recover from fsync Failures?", USENIX ATC 2020).
"""

from __future__ import annotations

import errno
import fcntl
import os
import stat
from pathlib import Path

import attrs

from proclang.text.printable import printable

_FULL_SYNC: int | None = getattr(fcntl, "F_FULLFSYNC", None)
_PRIVATE_FILE = 0o600
_PRIVATE_FOLDER = 0o700
_NEW_NAMES_TRIED = 1_000


@attrs.frozen
class FileStatus:
    """What the program needs to know of a file: size in bytes, names it has, what it is, and which one it is."""

    size: int
    links: int
    regular: bool
    folder: bool
    identity: tuple[int, int]


def _status(seen: os.stat_result) -> FileStatus:
    return FileStatus(
        seen.st_size,
        seen.st_nlink,
        stat.S_ISREG(seen.st_mode),
        stat.S_ISDIR(seen.st_mode),
        (seen.st_dev, seen.st_ino),
    )


class Files:
    """The real file system. Descriptors are whole numbers; every method may raise `OSError`."""

    def open_append(self, path: Path, *, create: bool) -> int:
        """A descriptor that reads anywhere and writes only at the end. With `create` the file must be new."""
        flags = os.O_RDWR | os.O_APPEND | os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK
        if create:
            return self._made_private(os.open(path, flags | os.O_CREAT | os.O_EXCL, _PRIVATE_FILE))
        return os.open(path, flags)

    def open_new(self, path: Path) -> int:
        """A descriptor for writing a file that did not exist, readable by its owner alone whatever the umask."""
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC
        return self._made_private(os.open(path, flags, _PRIVATE_FILE))

    def _made_private(self, descriptor: int) -> int:
        try:
            # The umask can only take permissions away; this gives the owner's back.
            os.fchmod(descriptor, _PRIVATE_FILE)
        except OSError:
            os.close(descriptor)
            raise
        return descriptor

    def open_read(self, path: Path) -> int:
        """A descriptor for reading a regular file. A link is not followed, a pipe or device does not hang."""
        descriptor = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
        try:
            if not stat.S_ISREG(os.fstat(descriptor).st_mode):
                raise OSError(errno.EINVAL, "not a regular file")
        except OSError:
            os.close(descriptor)
            raise
        return descriptor

    def read(self, descriptor: int, most: int) -> bytes:
        """The whole file from its first byte; `EFBIG` when it holds more than `most` bytes."""
        parts: list[bytes] = []
        at = 0
        while part := os.pread(descriptor, min(1 << 20, most + 1 - at), at):
            parts.append(part)
            at += len(part)
            if at > most:
                raise OSError(errno.EFBIG, os.strerror(errno.EFBIG))
        return b"".join(parts)

    def write(self, descriptor: int, data: bytes | memoryview) -> int:
        """How many of the bytes were taken; it may be fewer than given, without an error."""
        return os.write(descriptor, data)

    def fsync(self, descriptor: int) -> None:
        """Return once the file's data is on the disk."""
        if _FULL_SYNC is not None:
            fcntl.fcntl(descriptor, _FULL_SYNC)
        else:
            os.fsync(descriptor)

    def fsync_folder(self, path: Path) -> None:
        """Return once the names in the folder are on the disk."""
        descriptor = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)

    def forget_cached(self, descriptor: int) -> None:
        """Ask that the next read come from the disk and not from memory. Advice only; never fails."""
        if hasattr(os, "posix_fadvise"):
            try:
                os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
            except OSError:
                return

    def truncate(self, descriptor: int, size: int) -> None:
        """Cut the file to `size` bytes."""
        os.ftruncate(descriptor, size)

    def make_folder(self, path: Path) -> None:
        """A new folder only its owner may enter."""
        os.mkdir(path, _PRIVATE_FOLDER)
        self.make_private(path)

    def make_private(self, path: Path) -> None:
        """Leave an existing folder to its owner alone, whatever the umask took away or left."""
        if stat.S_IMODE(os.lstat(path).st_mode) != _PRIVATE_FOLDER:
            os.chmod(path, _PRIVATE_FOLDER)

    def rename(self, old: Path, new: Path) -> None:
        """Give a file another name in one step, in place of whatever had that name."""
        os.rename(old, new)

    def unlink(self, path: Path) -> None:
        """Take a name away."""
        os.unlink(path)

    def status(self, descriptor: int) -> FileStatus:
        """What an open file is."""
        return _status(os.fstat(descriptor))

    def extent(self, descriptor: int) -> tuple[int, int]:
        """Size in bytes and number of names of an open file: `status` without its cost, for every append."""
        seen = os.fstat(descriptor)
        return seen.st_size, seen.st_nlink

    def status_of(self, path: Path) -> FileStatus:
        """What stands under a name; a link is looked at, not followed."""
        return _status(os.lstat(path))

    def exists(self, path: Path) -> bool:
        """Whether anything at all stands under a name; that one may not look there is an error, not a no."""
        try:
            os.lstat(path)
        except (FileNotFoundError, NotADirectoryError, ValueError):
            return False
        return True

    def list_folder(self, path: Path) -> list[str]:
        """The names in a folder, sorted."""
        return sorted(os.listdir(path))

    def lock(self, descriptor: int) -> bool:
        """Take the file for this process until it is closed; False when another holds it."""
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def close(self, descriptor: int) -> None:
        """Let go of a descriptor, and of the lock that came with it."""
        os.close(descriptor)


class StorageError(Exception):
    """The disk did not do what was asked. `str()` is one or two sentences fit to show.

    `doing` says what was being done ("saving record 12"), `path` to which file, `errno` is the system's number (0 when
    the program itself refused), `reason` what went wrong and `cure` what to do about it.
    """

    def __init__(self, doing: str, path: Path, number: int, reason: str, cure: str) -> None:
        super().__init__(doing, str(path), number)
        self.doing = doing
        self.path = path
        self.errno = number
        self.reason = reason
        self.cure = cure

    def __str__(self) -> str:
        return f"{self.doing} failed on {printable(str(self.path))}: {self.reason}. {self.cure}."


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def storage_error(
    error: OSError, doing: str, path: Path, *, folder: Path | None = None, again: str = "do the same again"
) -> StorageError:
    """What the system reported, in words. `folder` is what to copy off a failing disk, `again` says how to go on.

    `again` is a phrase that can follow "then": "run `proclang resume DIR`".
    """
    whole = printable(str(folder if folder is not None else path.parent))
    number = error.errno or 0
    elsewhere = f"copy the whole folder {whole} to another disk and go on from the copy"
    match number:
        case errno.ENOSPC:
            words = ("the disk is full", f"Free some space, then {again}")
        case errno.EDQUOT:
            words = ("your share of the disk is used up", f"Free some space, then {again}")
        case errno.EFBIG:
            words = ("the file would be larger than is allowed", f"Raise the limit on file size, then {again}")
        case errno.EROFS:
            words = ("the disk can only be read", f"Make it writable and {again}, or {elsewhere}")
        case errno.EACCES | errno.EPERM:
            words = ("you have no permission for this", f"See who owns {whole} and who may write there, then {again}")
        case errno.EIO:
            words = ("the disk reported an error; it may be failing", _sentence(elsewhere))
        case errno.EINTR:
            words = ("it was interrupted", _sentence(again))
        case errno.ENOENT:
            words = ("there is no such file or folder", "Look at the path")
        case errno.EEXIST:
            words = ("something with this name is already there", "Choose another name")
        case errno.ELOOP:
            words = ("it is a link to another place, and links are not followed", "Give the place itself")
        case errno.ENOTDIR:
            words = ("part of the path is a file where a folder is needed", "Look at the path")
        case errno.EISDIR:
            words = ("it is a folder where a file is needed", "Look at the path")
        case errno.EINVAL:
            words = ("it is not an ordinary file", "Give an ordinary file on a local disk")
        case errno.ENAMETOOLONG:
            words = ("the name is too long", "Choose a shorter name")
        case errno.ENOLCK | errno.EOPNOTSUPP:
            words = ("this disk cannot keep a second writer out", f"Use a local disk: {elsewhere}")
        case _:
            said = os.strerror(number) if number else str(error)
            words = (printable(said[:1].lower() + said[1:]), f"Put that right, then {again}")
    return StorageError(doing, path, number, *words)


def write_fully(files: Files, descriptor: int, data: bytes) -> None:
    """Every byte of `data` written, however little is taken at a time. A disk that takes nothing is `ENOSPC`."""
    left = memoryview(data)
    while left:
        count = files.write(descriptor, left)
        if count <= 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        left = left[count:]


def write_new(files: Files, path: Path, data: bytes, *, doing: str = "", again: str = "do the same again") -> None:
    """Put `data` under the name `path`, so that after any crash the name shows all of it or what it showed before.

    A new file beside it is written, synced and renamed, then the folder is synced. What a crash leaves behind is a
    file whose name begins with a dot; nothing reads it. Raises `StorageError`.
    """
    doing = doing or f"writing {printable(path.name)}"
    beside: Path | None = None
    try:
        beside, descriptor = _open_beside(files, path)
        try:
            write_fully(files, descriptor, data)
            files.fsync(descriptor)
        finally:
            files.close(descriptor)
        files.rename(beside, path)
        beside = None
        files.fsync_folder(path.parent)
    except OSError as error:
        if beside is not None:
            _drop(files, beside)
        raise storage_error(error, doing, path, again=again) from error


def _open_beside(files: Files, path: Path) -> tuple[Path, int]:
    for number in range(1, _NEW_NAMES_TRIED):
        beside = path.with_name(f".{path.name}.new-{number}")
        try:
            return beside, files.open_new(beside)
        except FileExistsError:
            continue  # left by an earlier crash, or by another process at this moment
    raise OSError(errno.EEXIST, os.strerror(errno.EEXIST))


def _drop(files: Files, path: Path) -> None:
    try:
        files.unlink(path)
    except OSError:
        return


def read_file(files: Files, path: Path, most: int, *, doing: str = "") -> bytes:
    """All bytes of a regular file of at most `most` bytes. Raises `StorageError`."""
    try:
        descriptor = files.open_read(path)
        try:
            return files.read(descriptor, most)
        finally:
            files.close(descriptor)
    except OSError as error:
        raise storage_error(error, doing or f"reading {printable(path.name)}", path) from error
