"""Which files a command is for: those named, and every procedure below a folder that is named."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence

from proclang.cli.streams import say

SUFFIX = ".proc"
STDIN = "-"

RUN_MARK = "journal.jsonl"
"""What makes a folder that of a run. The procedures kept in it are evidence, and nobody's to mend."""


def files_named(given: Sequence[str], exclude: Sequence[str] = (), command: str = "check") -> list[str] | None:
    """Every file a command is for, each once, in the order given; None when the call is unusable, which has been said.

    What is named by itself is taken whatever is excluded.
    """
    paths: dict[str, None] = {}
    usable = True
    for path in given:
        if path == STDIN:
            paths.setdefault(path)
        elif os.path.isdir(path):
            below = list(_below(path, _Left(exclude), command))
            if not below:
                say(f"proclang {command}: there is no {SUFFIX} file in `{path}`")
                usable = False
            paths.update(dict.fromkeys(below))
        elif not os.path.lexists(path):
            from proclang.cli.near import near_file

            say(f"proclang {command}: there is no file or folder `{path}`", *near_file(path, SUFFIX))
            usable = False
        elif not path.endswith(SUFFIX):
            say(f"proclang {command}: the name of `{path}` does not end in {SUFFIX}")
            usable = False
        else:
            paths.setdefault(path)
    return list(paths) if usable else None


def folder_above(paths: Iterable[str]) -> str:
    """The folder that everything named lies in, whose settings count; empty for none, or where that cannot be said."""
    folders = [path if os.path.isdir(path) else os.path.dirname(path) for path in paths]
    try:
        return os.path.commonpath([os.path.abspath(folder) for folder in folders]) if folders else ""
    except OSError:  # the present folder has been removed
        return ""


class _Left:
    """What is left out below a folder, by patterns as a shell has them: of a name, or of a path where it has a `/`."""

    def __init__(self, patterns: Sequence[str]) -> None:
        self._patterns = [pattern.rstrip("/") for pattern in patterns]

    def out(self, path: str, name: str) -> bool:
        """Whether a file or folder is left out."""
        if not self._patterns:
            return False
        from fnmatch import fnmatchcase

        path = os.path.normpath(path)
        return any(
            fnmatchcase(path, pattern) or fnmatchcase(path, f"*/{pattern}")
            if "/" in pattern
            else fnmatchcase(name, pattern)
            for pattern in self._patterns
        )


def _below(folder: str, left: _Left, command: str, *, named: bool = True) -> Iterator[str]:
    """The files of a folder and of those below it, sorted. Hidden ones, links and the folders of runs are left out."""
    try:
        with os.scandir(folder) as entries:
            found = sorted((e for e in entries if not e.name.startswith(".")), key=lambda e: e.name)
    except OSError as error:
        say(f"proclang {command}: `{folder}` is left out: {error.strerror}")
        return
    if not named and any(entry.name == RUN_MARK for entry in found):
        return
    inside = "" if folder in (".", "./") else folder
    for entry in found:
        path = os.path.join(inside, entry.name)
        if left.out(path, entry.name):
            continue
        if entry.is_dir(follow_symlinks=False):
            yield from _below(path, left, command, named=False)
        elif entry.name.endswith(SUFFIX) and entry.is_file(follow_symlinks=False):
            yield path
