"""What every node is: frozen, placed, and walked without recursion."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from operator import attrgetter
from typing import Any, TypeVar

import attrs

from proclang.text.span import Span

N = TypeVar("N", bound="Node")


@attrs.frozen(kw_only=True)
class Node:
    """Base of every node; `span` covers the text it came from, blocks included."""

    span: Span = attrs.field(eq=False, repr=False)

    def children(self) -> Iterator[Node]:
        """The nodes directly below this one, in the order they were declared."""
        return iter(_below(self))

    def walk(self, *, leaves: bool = True) -> Iterator[Node]:
        """This node and all below it, parents first; those that can hold none left out where they are not wanted."""
        stack: list[Node] = [self]
        while stack:
            node = stack.pop()
            yield node
            values = _inner(type(node))
            if values is None:
                continue
            below: list[Node] = []
            for value in values(node):
                if isinstance(value, tuple):
                    below += [x for x in value if isinstance(x, Node) and (leaves or _inner(type(x)) is not None)]
                elif isinstance(value, Node) and (leaves or _inner(type(value)) is not None):
                    below.append(value)
            below.reverse()
            stack += below


def _below(node: Node) -> list[Node]:
    found: list[Node] = []
    values = _inner(type(node))
    if values is not None:
        for value in values(node):
            if isinstance(value, tuple):
                found += [item for item in value if isinstance(item, Node)]
            elif isinstance(value, Node):
                found.append(value)
    return found


_INNER: dict[type, Callable[[Node], tuple[Any, ...]] | None] = {}


def _inner(kind: type) -> Callable[[Node], tuple[Any, ...]] | None:
    """What reads all fields of a class that may hold nodes; None where there are none, as in most nodes of a tree."""
    try:
        return _INNER[kind]
    except KeyError:
        declared = [field for field in attrs.fields_dict(kind).values() if field.init]
        fields = [field.name for field in declared if str(field.type) not in ("Span", "str", "bool")]  # they are texts
        getter: Callable[[Node], tuple[Any, ...]] | None = None
        if len(fields) == 1:
            only = attrgetter(fields[0])
            getter = lambda node: (only(node),)  # noqa: E731
        elif fields:
            getter = attrgetter(*fields)
        _INNER[kind] = getter
        return getter
