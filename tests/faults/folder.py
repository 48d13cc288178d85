"""A folder of procedures held in memory, so that one file of it can be another than on the disk."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from hashlib import sha256
from pathlib import Path

import attrs

from proclang.syntax import nodes as n
from proclang.syntax.parse import parse
from proclang.text.span import Source


@attrs.frozen
class Folder:
    """Files by name, as the check reads them (a `Library`)."""

    texts: Mapping[str, str]

    def shown(self, name: str) -> str:
        """How a file is called in findings."""
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        """The bytes of a file."""
        text = self.texts.get(name)
        return None if text is None else text.encode()

    def names(self) -> tuple[str, ...]:
        """Which files there are."""
        return tuple(self.texts)

    def with_file(self, name: str, text: str) -> Folder:
        """The same folder with one file that reads otherwise."""
        return Folder({**self.texts, name: text})


def from_disk(path: Path) -> Folder:
    """The `.proc` files of a folder."""
    return Folder({file.stem: file.read_text(encoding="utf-8") for file in sorted(path.glob("*.proc"))})


def read_tree(name: str, text: str) -> n.File:
    """One file, parsed."""
    return parse(Source(f"{name}.proc", text)).tree


def is_procedure(tree: n.File) -> bool:
    """Whether a file is a procedure, and no machine."""
    return isinstance(tree.title, n.Title) and tree.title.what == "procedure"


def performed(tree: n.File) -> Iterator[str]:
    """The procedures that a file performs itself."""
    for call in tree.every(n.Perform):
        yield call.procedure.text


def digest(name: str, text: str) -> str:
    """What tells one text from another."""
    return f"{name} {sha256(text.encode()).hexdigest()}"
