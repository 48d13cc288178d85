"""Files read as far as is safe: regular files of bounded length, and the names in a folder. Quick to load.

Nothing is waited for: a named pipe or a device with the right name is as good as no file.
"""

from __future__ import annotations

import os
import stat
from itertools import islice

from proclang.text.limits import FILE_BYTES

_MOST_NAMES = 1_000


def read_regular(path: str, *, follow: bool = False) -> bytes | OSError:
    """The bytes of a regular file, or why there are none. Of a file longer than is read, one byte more than that, so
    that whoever decodes it can say so. With `follow` a link to a regular file is let in."""
    flags = os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC | (0 if follow else os.O_NOFOLLOW)
    try:
        handle = os.open(path, flags)
    except OSError as error:
        return error
    except ValueError:  # a null character in a path
        return OSError("the path holds a null character")
    try:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            return OSError("it is not a regular file")
        left, pieces = FILE_BYTES + 1, []
        while left > 0:
            piece = os.read(handle, left)
            if not piece:
                break
            pieces.append(piece)
            left -= len(piece)
        return b"".join(pieces)
    except OSError as error:
        return error
    finally:
        os.close(handle)


def names_in(folder: str, suffix: str) -> tuple[str, ...]:
    """The files of a folder that end in a suffix, without it; sorted, at most a thousand."""
    try:
        with os.scandir(folder or ".") as entries:
            files = [e.name for e in islice(entries, _MOST_NAMES) if e.name.endswith(suffix)]
    except OSError:
        return ()
    return tuple(sorted(name.removesuffix(suffix) for name in files))
