"""A piece of an expression on its way to a formula."""

from __future__ import annotations

from collections.abc import Callable

import attrs

from proclang.program.declared import Symbol
from proclang.program.rational import Rational
from proclang.program.types import Env, Type, Value
from proclang.values.unit import Unit

Evaluate = Callable[[Env], Value]
Key = Callable[[Env], str]


@attrs.frozen
class Part:
    """A piece of an expression: its type, its function, the unit it suggests, and the name it stands for, if any.

    For a calculation with several results `types` has each, and `evaluate` returns a tuple.
    """

    type: Type
    evaluate: Evaluate = attrs.field(eq=False)
    unit: Unit | None = None
    symbol: Symbol | None = None
    key: Key | None = attrs.field(default=None, eq=False)
    types: tuple[Type, ...] = ()
    rational: Rational | None = attrs.field(default=None, eq=False)
    """The same function on pairs of whole numbers, where it is arithmetic."""

    @property
    def kind(self) -> str:
        """What it is, in the user's words."""
        return f"{len(self.types)} results" if self.types else self.type.describe()
