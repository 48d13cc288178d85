"""A file gets other bytes at once or not at all, and stays what it is otherwise."""

from __future__ import annotations

import os
import stat
from contextlib import suppress

from proclang.text.regular import read_regular


def replace(path: str, old: bytes, new: bytes) -> OSError | None:
    """Put `new` in the place of `old`: into a draft in the same folder, which is on the disk before it takes the name.

    A link is followed: it stays, and the file it leads to gets the bytes. Mode and, where allowed, owner and group
    stay. Gives why nothing was changed: no leave to write, a file that changed meanwhile, a disk that refuses.
    """
    target = os.path.realpath(path)
    draft = os.path.join(os.path.dirname(target), f".proclang-{os.getpid()}.new")
    try:
        facts = os.stat(target)
        if not facts.st_mode & 0o222 or not os.access(target, os.W_OK):  # root may write, but was asked not to
            return OSError("it may only be read, not written")
        handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600)
    except OSError as error:
        return error
    try:
        try:
            _fill(handle, new, facts)
        finally:
            os.close(handle)
        if read_regular(target) != old:
            raise OSError("it was changed by somebody else in the meantime")
        os.rename(draft, target)
    except OSError as error:
        with suppress(OSError):
            os.unlink(draft)
        return error
    except BaseException:
        with suppress(OSError):
            os.unlink(draft)
        raise
    _sync_folder(os.path.dirname(target))
    return None


def _fill(handle: int, data: bytes, facts: os.stat_result) -> None:
    left = memoryview(data)
    while left:
        left = left[os.write(handle, left) :]
    with suppress(OSError):  # only root may give a file away
        os.fchown(handle, facts.st_uid, facts.st_gid)
    os.fchmod(handle, stat.S_IMODE(facts.st_mode))
    os.fsync(handle)


def _sync_folder(folder: str) -> None:
    """The new name is on the disk too. Where that cannot be had the file is whole all the same, old or new."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
