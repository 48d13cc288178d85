"""Names that are certain to be set where the walk through a procedure stands, in layers.

Each way of a branch and each round of a loop writes into a layer of its own, so that what it has set can be told from
what was set before without copying anything: a procedure with thousands of branches costs no more than its length.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import attrs


@attrs.define
class Certain:
    """A stack of sets; a name is certain when any layer has it."""

    _layers: list[set[str]] = attrs.field(factory=lambda: [set()])

    def __contains__(self, name: str) -> bool:
        return any(name in layer for layer in reversed(self._layers))

    @property
    def depth(self) -> int:
        """How many layers there are."""
        return len(self._layers)

    def add(self, name: str) -> None:
        """The name is set from here on."""
        self._layers[-1].add(name)

    def update(self, names: Iterable[str]) -> None:
        """All these names are."""
        self._layers[-1].update(names)

    @contextmanager
    def layer(self) -> Iterator[set[str]]:
        """What is set inside goes into the set that is given, and is no longer certain afterwards."""
        names: set[str] = set()
        self._layers.append(names)
        yield names
        self._layers.pop()

    @contextmanager
    def without(self, names: set[str]) -> Iterator[None]:
        """Inside, the top layer, which must be `names`, does not count, and what is set is forgotten afterwards."""
        assert self._layers[-1] is names
        self._layers[-1] = set()
        yield
        self._layers[-1] = names

    def since(self, depth: int) -> set[str]:
        """What has been set in the layers above the first `depth`."""
        return set().union(*self._layers[depth:])
