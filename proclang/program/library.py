"""A folder as the place where procedures and machines are found.

Only regular files of bounded length are read, links are not followed, and nothing is waited for: a named pipe or a
device with the right name is as good as no file.
"""

from __future__ import annotations

import os

import attrs

from proclang.program.load import SUFFIX
from proclang.text.regular import names_in
from proclang.text.regular import read_regular as read_regular


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
        return names_in(self.folder, SUFFIX)


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
