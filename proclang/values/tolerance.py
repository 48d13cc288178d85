"""Limits and the simple verdict: a value on a limit passes. What an instrument's uncertainty does to it is decided
elsewhere.

Problem codes carried by the errors raised here: `negative-tolerance`, `limits-reversed`, `no-share` (a percentage of a
bearing or of a temperature), and those of `dimension.py`.
"""

from __future__ import annotations

import enum
from collections.abc import Callable
from fractions import Fraction

import attrs

from proclang.text.diagnostic import Problem
from proclang.values import dimension as dim
from proclang.values.dimension import Dimension
from proclang.values.number import decimal_text, significant_down, significant_up, to_significant
from proclang.values.quantity import FULL_TURN, DimensionError, Quantity
from proclang.values.show import show, with_unit
from proclang.values.unit import Unit

_SHOWN_EXACTLY = 12
_SHOWN_ROUNDED = 6
_MOST_SHOWN = 60


class Outcome(enum.Enum):
    """How a value stands to its limits. `UNDECIDED` comes only from a verdict with a guard band."""

    PASSES = "passes"
    FAILS = "fails"
    UNDECIDED = "undecided"


@attrs.frozen
class Limits:
    """The least and the greatest value that pass, in base units, both inclusive; None where there is no limit.

    For bearings the two are in [0, 360) and are read clockwise from `low` to `high`, through north where need be;
    both None accepts every bearing.
    """

    low: Fraction | None
    high: Fraction | None
    dimension: Dimension


@attrs.frozen
class Verdict:
    """`beyond` is how far outside, in base units: above zero past `high`, below zero short of `low`, 0 inside.

    For a bearing it is the shorter way to the nearest end, clockwise of `high` above zero.
    """

    outcome: Outcome
    beyond: Fraction


def around(centre: Quantity, half: Quantity) -> Limits:
    """`centre ± half`. A plain number is a share of the size of a centre that is none itself: 40 N.m ± 4 %."""
    return spread(centre, half, half)


def spread(centre: Quantity, plus: Quantity, minus: Quantity) -> Limits:
    """`centre +plus / -minus`; each is an amount above or at zero, or a share of the size of the centre."""
    up, down = _amount(centre, plus), _amount(centre, minus)
    return _limits(centre.value - down, centre.value + up, centre.dimension)


def between(low: Quantity, high: Quantity) -> Limits:
    """`low .. high`; bearings clockwise from the first to the second."""
    common = dim.same(low.dimension, high.dimension, "compare")
    if isinstance(common, Problem):
        raise DimensionError(common)
    if low.value > high.value and not common.is_bearing:
        raise DimensionError(
            Problem("limits-reversed", "the lower limit is above the upper one", hint="write the lower limit first")
        )
    return _limits(low.value, high.value, common)


def at_most(q: Quantity) -> Limits:
    """No lower limit. A bearing has no one-sided limit."""
    return Limits(None, _one_sided(q), q.dimension)


def at_least(q: Quantity) -> Limits:
    """No upper limit. A bearing has no one-sided limit."""
    return Limits(_one_sided(q), None, q.dimension)


def judge(value: Quantity, limits: Limits) -> Verdict:
    """Whether a value, taken as it is, lies within its limits."""
    common = dim.same(value.dimension, limits.dimension, "compare")
    if isinstance(common, Problem):
        raise DimensionError(common)
    low, high = limits.low, limits.high
    if common.is_bearing and low is not None and high is not None:
        beyond = _beyond_bearing(value.value, low, high)
    elif high is not None and value.value > high:
        beyond = value.value - high
    elif low is not None and value.value < low:
        beyond = value.value - low
    else:
        beyond = Fraction(0)
    return Verdict(Outcome.FAILS if beyond else Outcome.PASSES, beyond)


def limits_text(limits: Limits, unit: Unit) -> str:
    """The limits in a unit of their dimension: "179 to 181 deg true", "at most 2 arcmin", "exactly 4 pieces",
    "any value, in mm".

    A limit that 12 digits do not write exactly is rounded to 6, inward: what is within the limits as shown passes.
    """
    low, high = _limit_texts(limits, unit)
    if low is not None and low == high and limits.low == limits.high:
        return f"exactly {with_unit(low, unit)}"
    if low is not None and high is not None:
        return f"{low} to {with_unit(high, unit)}"
    if high is not None:
        return f"at most {with_unit(high, unit)}"
    if low is not None:
        return f"at least {with_unit(low, unit)}"
    named = f" {unit.symbol}" if unit.symbol else ""
    if limits.dimension.is_bearing:
        return f"any bearing, in{named}"
    return f"any value, in{named}" if named else "any value"


def _limits(low: Fraction, high: Fraction, dimension: Dimension) -> Limits:
    if not dimension.is_bearing:
        return Limits(low, high, dimension)
    if high - low >= FULL_TURN:
        return Limits(None, None, dimension)
    return Limits(low % FULL_TURN, high % FULL_TURN, dimension)


def _amount(centre: Quantity, part: Quantity) -> Fraction:
    """A tolerance in the base unit of its centre."""
    if part.value < 0:
        raise DimensionError(
            Problem("negative-tolerance", "a tolerance is not below zero", hint="write `+a / -b`, both without sign")
        )
    if part.dimension.is_number and not centre.dimension.is_number:
        if centre.dimension.frame:
            raise DimensionError(
                Problem(
                    "no-share",
                    f"a share of {centre.dimension.phrase} has no meaning",
                    hint="give the tolerance as an angle"
                    if centre.dimension.is_bearing
                    else "give the tolerance as a time"
                    if centre.dimension.is_instant
                    else "give the tolerance in K",
                )
            )
        return abs(centre.value) * part.value
    common = dim.same(part.dimension, Dimension(centre.dimension.powers), "compare")
    if isinstance(common, Problem):
        raise DimensionError(common)
    return part.value


def _one_sided(q: Quantity) -> Fraction:
    allowed = dim.ordered(q.dimension, q.dimension)
    if isinstance(allowed, Problem):
        raise DimensionError(allowed)
    return q.value


def _beyond_bearing(value: Fraction, low: Fraction, high: Fraction) -> Fraction:
    after_low = (value - low) % FULL_TURN
    if after_low <= (high - low) % FULL_TURN:
        return Fraction(0)
    past_high = (value - high) % FULL_TURN
    short_of_low = FULL_TURN - after_low
    return past_high if past_high <= short_of_low else -short_of_low


def _limit_texts(limits: Limits, unit: Unit) -> tuple[str | None, str | None]:
    if limits.dimension.is_instant:
        return _instant_text(limits.low, limits, unit), _instant_text(limits.high, limits, unit)
    low, high = _in_unit(limits.low, limits, unit), _in_unit(limits.high, limits, unit)
    n = _SHOWN_ROUNDED
    if low is not None and high is not None and low < high:
        # Rounding inward must not turn a narrow pair of limits round. (A bearing through north has low > high.)
        while n < _MOST_SHOWN and _inward(low, n, significant_up) > _inward(high, n, significant_down):
            n += _SHOWN_ROUNDED
    return (
        None if low is None else decimal_text(_inward(low, n, significant_up), max(n, _SHOWN_EXACTLY)),
        None if high is None else decimal_text(_inward(high, n, significant_down), max(n, _SHOWN_EXACTLY)),
    )


def _instant_text(value: Fraction | None, limits: Limits, unit: Unit) -> str | None:
    """An instant without its unit, to the microsecond."""
    return None if value is None else show(Quantity(value, limits.dimension), unit).removesuffix(f" {unit.symbol}")


def _in_unit(value: Fraction | None, limits: Limits, unit: Unit) -> Fraction | None:
    return None if value is None else Quantity(value, limits.dimension).in_unit(unit)


def _inward(number: Fraction, n: int, how: Callable[[Fraction, int], Fraction]) -> Fraction:
    return number if to_significant(number, _SHOWN_EXACTLY) == number else how(number, n)
