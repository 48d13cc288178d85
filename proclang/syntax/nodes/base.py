"""What every node is: frozen, placed, and walked without recursion."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
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

    def walk(self) -> Iterator[Node]:
        """This node and all below it, parents first."""
        stack: list[Node] = [self]
        while stack:
            node = stack.pop()
            yield node
            below = _below(node)
            below.reverse()
            stack += below

    def walk_holders(self) -> Iterator[Node]:
        """The same without the nodes that can hold no others, which are most: names, numbers, units."""
        fields = _fields_of_holders()
        stack: list[Node] = [self] if type(self) in fields else []
        while stack:
            node = stack.pop()
            yield node
            below: list[Node] = []
            for value in fields[type(node)](node):
                if type(value) is tuple:
                    for item in value:
                        if type(item) in fields:
                            below.append(item)
                elif type(value) in fields:
                    below.append(value)
            below.reverse()
            stack += below


def _below(node: Node) -> list[Node]:
    found: list[Node] = []
    values = _fields_of_holders().get(type(node))
    if values is not None:
        for value in values(node):
            if isinstance(value, tuple):
                found += [item for item in value if isinstance(item, Node)]
            elif isinstance(value, Node):
                found.append(value)
    return found


@cache
def _fields_of_holders() -> dict[type, Callable[[Node], tuple[Any, ...]]]:
    """For each class of nodes that can hold others: what reads all fields in which they may stand."""
    readers: dict[type, Callable[[Node], tuple[Any, ...]]] = {}
    kinds: list[type[Node]] = Node.__subclasses__()
    for kind in kinds:
        declared = [field for field in attrs.fields_dict(kind).values() if field.init]
        names = [field.name for field in declared if str(field.type) not in ("Span", "str", "bool")]  # they are texts
        if names:
            readers[kind] = _reader(names)
    return readers


def _reader(names: list[str]) -> Callable[[Node], tuple[Any, ...]]:
    read = attrgetter(*names)
    return read if len(names) > 1 else lambda node: (read(node),)
