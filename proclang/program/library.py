"""A folder as the place where procedures and machines are found.

Only regular files of bounded length are read, links are not followed, and nothing is waited for: a named pipe or a
device with the right name is as good as no file.
"""

from __future__ import annotations

import os
import stat
from itertools import islice

import attrs

from proclang.program.load import SUFFIX
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


@attrs.frozen
class Disk:
    """The `.proc` files of one folder; `folder` is the path as the user gave it, empty for the present one."""

    folder: str = ""

    def shown(self, name: str) -> str:
        """The path of a file as the user would type it."""
        return os.path.join(self.folder, name + SUFFIX)

    def read(self, name: str) -> bytes | None:
        """The bytes of the file of a name; None if there is none or it cannot be read."""
        data = read_regular(self.shown(name))
        return data if isinstance(data, bytes) else None

    def names(self) -> tuple[str, ...]:
        """The names there are files for, to suggest from."""
        try:
            with os.scandir(self.folder or ".") as entries:
                files = [e.name for e in islice(entries, _MOST_NAMES) if e.name.endswith(SUFFIX)]
        except OSError:
            return ()
        return tuple(sorted(name.removesuffix(SUFFIX) for name in files))


@attrs.frozen
class Draft:
    """A folder with one file beside it that is not, or not yet, in it: standard input, or an unsaved text."""

    entry: str
    called: str
    folder: Disk

    def shown(self, name: str) -> str:
        """The draft by the name it was given, any other file by its path."""
        return self.called if name == self.entry else self.folder.shown(name)

    def read(self, name: str) -> bytes | None:
        """The bytes of a file of the folder."""
        return self.folder.read(name)

    def names(self) -> tuple[str, ...]:
        """The names there are files for."""
        return self.folder.names()
