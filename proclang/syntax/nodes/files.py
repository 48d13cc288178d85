"""Whole files."""

from __future__ import annotations

from typing import cast

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
    _by_kind: dict[type[Node], list[Node]] = attrs.field(factory=dict, init=False, eq=False, repr=False)

    def every(self, kind: type[N]) -> list[N]:
        """All nodes of one kind anywhere in the file, in the order of the text; not for kinds that can hold no others,
        such as names and numbers. The tree is gone through once, whatever is asked for."""
        found = self._by_kind
        if not found:
            for node in self.walk_holders():
                found.setdefault(type(node), []).append(node)
        return cast("list[N]", found.get(kind, []))

    def all(self, kind: type[N]) -> tuple[N, ...]:
        """The top-level lines of one kind."""
        return tuple(item for item in self.body if isinstance(item, kind))

    @property
    def broken(self) -> bool:
        """Whether any line could not be read."""
        return any(isinstance(node, Broken) for node in self.walk())
