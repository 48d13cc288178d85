"""A value with its dimension: exact arithmetic that refuses what has no meaning.

Arithmetic raises `DimensionError` where the algebra of `dimension.py` forbids it and `NumberError` (of which it is a
kind) where the number has no answer, such as a division by zero. Both carry a `Problem` in the user's words.
"""

from __future__ import annotations

from fractions import Fraction

import attrs

from proclang.text.diagnostic import Problem
from proclang.values import dimension as dim
from proclang.values.dimension import Dimension
from proclang.values.number import NumberError, bounded
from proclang.values.unit import DEGREES_PER_RADIAN, Unit

FULL_TURN = Fraction(360)
_HALF_TURN = Fraction(180)


class DimensionError(NumberError):
    """An operation on quantities whose dimensions do not allow it."""


@attrs.frozen(eq=False)
class Quantity:
    """A value in base units (`Unit` says which) and its dimension.

    Two quantities are equal when dimension and value are; bearings when they point the same way, so 360 deg true equals
    0 deg true. The value of a bearing is kept as it came and wrapped only when compared or shown.
    """

    value: Fraction
    dimension: Dimension

    @classmethod
    def of(cls, number: Fraction | int, unit: Unit) -> Quantity:
        """So many of a unit, exactly. Raises `NumberError` for what is past every sensible size."""
        value = number * unit.factor + unit.zero
        bounded(value)
        return cls(value, unit.dimension)

    def in_unit(self, unit: Unit) -> Fraction:
        """The number of `unit` in this, exactly. The dimension must be the unit's."""
        if unit.dimension != self.dimension:
            raise DimensionError(
                Problem(
                    "dimension-mismatch",
                    f"{self.dimension.phrase} cannot be written in {unit.symbol or 'plain numbers'}",
                    hint=dim.mismatch_hint(self.dimension, unit.dimension),
                )
            )
        return (self.value - unit.zero) / unit.factor

    def wrapped(self) -> Quantity:
        """A bearing in [0, 360) deg; anything else as it is."""
        return Quantity(self.value % FULL_TURN, self.dimension) if self.dimension.is_bearing else self

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Quantity):
            return NotImplemented
        return self.dimension == other.dimension and self.wrapped().value == other.wrapped().value

    def __hash__(self) -> int:
        return hash((self.wrapped().value, self.dimension))

    def __add__(self, other: Quantity) -> Quantity:
        return Quantity(bounded(self.value + other.value), _allowed(dim.add(self.dimension, other.dimension)))

    def __sub__(self, other: Quantity) -> Quantity:
        """Two bearings give the angle between them the shortest way, in (-180, 180] deg."""
        result = _allowed(dim.subtract(self.dimension, other.dimension))
        value = self.value - other.value
        if other.dimension.is_bearing:
            value = _shortest(value)
        return Quantity(bounded(value), result)

    def __mul__(self, other: Quantity | Fraction | int) -> Quantity:
        b = _quantity(other)
        result = _allowed(dim.multiply(self.dimension, b.dimension))
        value = self.value * b.value
        if turns := dim.product_turns(self.dimension, b.dimension):
            value *= DEGREES_PER_RADIAN**turns
        return Quantity(bounded(value), result)

    __rmul__ = __mul__

    def __truediv__(self, other: Quantity | Fraction | int) -> Quantity:
        b = _quantity(other)
        result = _allowed(dim.divide(self.dimension, b.dimension))
        if not b.value:
            raise NumberError(Problem("division-by-zero", "division by zero"))
        value = self.value / b.value
        if turns := dim.product_turns(self.dimension, b.dimension, -1):
            value *= DEGREES_PER_RADIAN**turns
        return Quantity(bounded(value), result)

    def __rtruediv__(self, other: Fraction | int) -> Quantity:
        return _quantity(other) / self

    def __pow__(self, n: int) -> Quantity:
        """A whole power from -9 to 9."""
        result = _allowed(dim.power(self.dimension, n))
        if n < 0 and not self.value:
            raise NumberError(Problem("division-by-zero", "zero has no negative power"))
        # The base unit is raised with the value: no turns come in, since mass stays or goes as a whole.
        return Quantity(bounded(self.value**n), result)

    def __neg__(self) -> Quantity:
        return Quantity(-self.value, _allowed(dim.negate(self.dimension)))

    def __abs__(self) -> Quantity:
        return -self if self.value < 0 else Quantity(self.value, _allowed(dim.negate(self.dimension)))

    def __lt__(self, other: Quantity) -> bool:
        _allowed(dim.ordered(self.dimension, other.dimension))
        return self.value < other.value

    def __le__(self, other: Quantity) -> bool:
        _allowed(dim.ordered(self.dimension, other.dimension))
        return self.value <= other.value

    def __gt__(self, other: Quantity) -> bool:
        return other < self

    def __ge__(self, other: Quantity) -> bool:
        return other <= self


def difference(a: Quantity, b: Quantity) -> Quantity:
    """`a - b`: for bearings of one north the angle between them, the shortest way, in (-180, 180] deg."""
    return a - b


def _shortest(angle: Fraction) -> Fraction:
    """An angle in degrees brought into (-180, 180]."""
    return _HALF_TURN - (_HALF_TURN - angle) % FULL_TURN


def _quantity(value: Quantity | Fraction | int) -> Quantity:
    return value if isinstance(value, Quantity) else Quantity(Fraction(value), dim.NUMBER)


def _allowed(result: Dimension | Problem) -> Dimension:
    if isinstance(result, Problem):
        raise DimensionError(result)
    return result
