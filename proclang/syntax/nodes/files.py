"""Whole files."""

from __future__ import annotations

import attrs

from proclang.syntax.nodes.base import N, Node
from proclang.syntax.nodes.expressions import Broken, Name, Number, Text


@attrs.frozen
class Title(Node):
    """`procedure level_base "Level the base plate"` or `machine fork_mount "Fork mount"`"""

    what: str
    name: Name
    former: Name | None
    text: Text


@attrs.frozen
class File(Node):
    """A whole procedure or machine file. `body` holds its top-level lines and blocks in source order."""

    version: Number | Broken
    title: Title | Broken
    body: tuple[Node, ...]

    def all(self, kind: type[N]) -> tuple[N, ...]:
        """The top-level lines of one kind."""
        return tuple(item for item in self.body if isinstance(item, kind))

    @property
    def broken(self) -> bool:
        """Whether any line could not be read."""
        return any(isinstance(node, Broken) for node in self.walk())
