"""How large and how small a value can be, as far as its formula tells: arithmetic on ranges.

A range holds every value an expression can have while what stands in it is within its own range; it may be wider than
that, where one name stands in an expression twice. Of what is not followed, calculations of the field mostly and
bearings, nothing is known.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from fractions import Fraction

import attrs

from proclang.program.scope import Scope
from proclang.program.types import Amount
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Problem
from proclang.values import dimension as dim
from proclang.values.dimension import Dimension
from proclang.values.quantity import Quantity

End = Fraction | None
"""One end of a range in base units; None where there is none."""

_ROUNDED = Fraction(1, 10**9)
"""By this share of itself the end of a range is moved outward where a calculation is rounded at its door."""


@attrs.frozen
class Range:
    """From `low` to `high`, both included."""

    low: End
    high: End
    dimension: Dimension

    def joined(self, other: Range) -> Range:
        """A range that holds both."""
        low = None if self.low is None or other.low is None else min(self.low, other.low)
        high = None if self.high is None or other.high is None else max(self.high, other.high)
        return Range(low, high, self.dimension)


def point(quantity: Quantity) -> Range:
    """The range of one value."""
    return Range(quantity.value, quantity.value, quantity.dimension)


@attrs.frozen
class Ranges:
    """The ranges of expressions at one line of a file; `known` are those of the names."""

    scope: Scope
    known: Mapping[str, Range]

    def of(self, node: n.Expression) -> Range | None:
        """The range of an expression, None where nothing is known of it."""
        if isinstance(node, n.Literal):
            entered = self.scope.quantity(node.number)
            return None if entered is None or entered.quantity.dimension.is_bearing else point(entered.quantity)
        if isinstance(node, n.Reference):
            return self._reference(node)
        if isinstance(node, n.Unary) and node.operator == "-":
            inner = self.of(node.operand)
            return None if inner is None else _negated(inner)
        if isinstance(node, n.Binary) and node.operator in ("+", "-", "*", "/"):
            left, right = self.of(node.left), self.of(node.right)
            return None if left is None or right is None else _two(node.operator, left, right)
        if isinstance(node, n.Power):
            base = self.of(node.base)
            return None if base is None or not node.exponent.typed.isdigit() else _power(base, int(node.exponent.typed))
        return self._call(node) if isinstance(node, n.Call) else None

    def _reference(self, node: n.Reference) -> Range | None:
        column = self.scope.columns.get(node.name.text)
        if column is None:
            return self.known.get(node.name.text)
        cells = list(column.values.values())
        label = str(node.labels[0]) if len(node.labels) == 1 and isinstance(node.labels[0], n.Name) else ""
        cells = [column.values[label]] if label in column.values else cells
        if not cells or cells[0].dimension.is_bearing:
            return None
        return Range(min(x.value for x in cells), max(x.value for x in cells), cells[0].dimension)

    def _call(self, node: n.Call) -> Range | None:
        work = _CALLS.get(node.name.text)
        if work is None or any(x.name is not None and x.name.text != "to" for x in node.arguments):
            return None
        given = [self.of(argument.value) for argument in node.arguments]
        if node.name.text == "sum":
            return self._sum(node, given)
        ranges = [x for x in given if x is not None]
        return work(*ranges) if len(ranges) == len(given) else None

    def _sum(self, node: n.Call, given: list[Range | None]) -> Range | None:
        series = node.arguments[0].value
        symbol = self.scope.symbols.get(series.name.text) if isinstance(series, n.Reference) else None
        if given[0] is None or symbol is None or not isinstance(symbol.type, Amount):
            return None
        count = math.prod(len(axis) for axis in symbol.type.axes)
        low, high = (None if end is None else end * count for end in (given[0].low, given[0].high))
        return Range(low, high, given[0].dimension)


# ---------------------------------------------------------------------------- signs


def _negated(a: Range) -> Range:
    return Range(None if a.high is None else -a.high, None if a.low is None else -a.low, a.dimension)


def _two(operator: str, a: Range, b: Range) -> Range | None:
    if operator in "+-":
        dimension = dim.add(a.dimension, b.dimension) if operator == "+" else dim.subtract(a.dimension, b.dimension)
        b = b if operator == "+" else _negated(b)
        low = None if a.low is None or b.low is None else a.low + b.low
        high = None if a.high is None or b.high is None else a.high + b.high
        return None if isinstance(dimension, Problem) else Range(low, high, dimension)
    dimension = dim.multiply(a.dimension, b.dimension) if operator == "*" else dim.divide(a.dimension, b.dimension)
    if isinstance(dimension, Problem) or dim.product_turns(a.dimension, b.dimension, 1 if operator == "*" else -1):
        return None
    if a.low is None or a.high is None or b.low is None or b.high is None:
        return None
    if operator == "/":
        if b.low <= 0 <= b.high:
            return None
        ends = [x / y for x in (a.low, a.high) for y in (b.low, b.high)]
    else:
        ends = [x * y for x in (a.low, a.high) for y in (b.low, b.high)]
    return Range(min(ends), max(ends), dimension)


def _power(a: Range, exponent: int) -> Range | None:
    dimension = dim.power(a.dimension, exponent)
    if isinstance(dimension, Problem) or a.low is None or a.high is None or a.dimension.radians_within:
        return None
    ends = [a.low**exponent, a.high**exponent]
    if exponent and exponent % 2 == 0 and a.low < 0 < a.high:
        ends.append(Fraction(0))
    return Range(min(ends), max(ends), dimension)


# ---------------------------------------------------------------------------- calculations


def _size(a: Range) -> Range:
    if a.low is not None and a.low >= 0:
        return a
    if a.high is not None and a.high <= 0:
        return _negated(a)
    high = None if a.low is None or a.high is None else max(-a.low, a.high)
    return Range(Fraction(0), high, a.dimension)


def _smaller(a: Range, b: Range) -> Range:
    highs = [x for x in (a.high, b.high) if x is not None]
    return Range(a.joined(b).low, min(highs, default=None), a.dimension)


def _larger(a: Range, b: Range) -> Range:
    lows = [x for x in (a.low, b.low) if x is not None]
    return Range(max(lows, default=None), a.joined(b).high, a.dimension)


def _apart(a: Range) -> Range:
    if a.low is None or a.high is None:
        return Range(Fraction(0), None, a.dimension)
    return Range(Fraction(0), a.high - a.low, a.dimension)


def _hypot(a: Range, b: Range) -> Range:
    a, b = _size(a), _size(b)
    low = Fraction(math.hypot(a.low or 0, b.low or 0)) * (1 - _ROUNDED)
    if a.high is None or b.high is None:
        return Range(low, None, a.dimension)
    return Range(low, Fraction(math.hypot(a.high, b.high)) * (1 + _ROUNDED), a.dimension)


def _stepped(a: Range, to: Range) -> Range | None:
    """Rounded either way: by less than a step."""
    step = to.high
    if step is None:
        return None
    return Range(
        None if a.low is None else a.low - abs(step), None if a.high is None else a.high + abs(step), a.dimension
    )


def _same(a: Range) -> Range:
    return a


_CALLS: Mapping[str, Callable[..., Range | None]] = {
    "abs": _size,
    "min": _smaller,
    "max": _larger,
    "smallest": _same,
    "largest": _same,
    "mean": _same,
    "sum": _same,
    "spread": _apart,
    "hypot": _hypot,
    "round_to": _stepped,
    "round_down": _stepped,
    "round_up": _stepped,
}
"""The calculations that are followed. `tests/check/test_ranges.py` holds each to values drawn from its range."""
