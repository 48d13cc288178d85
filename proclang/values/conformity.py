"""Whether a value that may be off conforms to its limits, and how sure that is.

The probability of conformity is that of JCGM 106:2012 (7.2 to 7.4) with a flat prior: before measuring, nothing is
taken to be known of the value. The guarded rule proves conformity and non-conformity, as ISO 14253-1:2017 does with its
default of 95 %: a value passes when the probability of conformity reaches what is asked, fails when that of
non-conformity does, and is undecided between. For one limit, or limits far apart against the uncertainty, this is the
guard band of 1.65 standard uncertainties inside each limit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

import attrs

from proclang.values.quantity import FULL_TURN
from proclang.values.tolerance import Limits, Outcome
from proclang.values.uncertainty import below

DEFAULT_GUARD = Fraction(95, 100)
"""Probability that a guarded verdict asks for, unless the author says otherwise."""


@attrs.frozen
class Interval:
    """Limits as how far they lie below and above a value: `low` is at or under 0 when the value is inside."""

    low: float
    high: float


def around(value: Fraction, limits: Limits) -> Interval:
    """Where the limits lie, seen from a value. A bearing goes round: the value's own turn of the limits is taken."""
    low, high = limits.low, limits.high
    if not limits.dimension.is_bearing:
        return Interval(
            -math.inf if low is None else _as_float(low - value), math.inf if high is None else _as_float(high - value)
        )
    if low is None or high is None:
        return Interval(-math.inf, math.inf)
    width = (high - low) % FULL_TURN
    after = (value - low) % FULL_TURN
    if after > width and FULL_TURN - after < after - width:
        after -= FULL_TURN
    return Interval(float(-after), float(width - after))


def _as_float(x: Fraction) -> float:
    """A number as a float; past every float, infinity."""
    try:
        return float(x)
    except OverflowError:
        return math.inf if x > 0 else -math.inf


def within_all(value: Fraction, allowed: Sequence[Limits]) -> Interval:
    """Where limits that must all hold lie, seen from a value. Where none is left between them, `low` is over `high`."""
    seen = [around(value, limits) for limits in allowed]
    return Interval(max(x.low for x in seen), min(x.high for x in seen))


def probability(value: Fraction, limits: Limits, standard: float, freedom: float = math.inf) -> float:
    """The probability that what was measured lies within the limits.

    `standard` is the standard uncertainty in the base unit, above zero; with few degrees of freedom the t-distribution
    is taken.
    """
    return probability_of(around(value, limits), standard, freedom)


def probability_of(seen: Interval, standard: float, freedom: float = math.inf) -> float:
    """The same, of limits as they are seen from the value."""
    top = 1.0 if seen.high == math.inf else below(seen.high / standard, freedom)
    bottom = 0.0 if seen.low == -math.inf else below(seen.low / standard, freedom)
    return max(0.0, top - bottom)


def share_within(draws: Sequence[float], value: Fraction, limits: Limits) -> float:
    """The share of draws, each a difference from the value, that lie within the limits (JCGM 101:2008, 7)."""
    return count_within(draws, around(value, limits)) / len(draws)


def count_within(draws: Sequence[float], seen: Interval) -> int:
    """How many draws lie within limits as they are seen from the value."""
    return sum(seen.low <= x <= seen.high for x in draws)


def guarded(conforms: float, asked: Fraction, at_most: float | None = None) -> Outcome:
    """The guarded verdict on a probability of conformity; `at_most` where it may be more than `conforms`."""
    if conforms >= asked:
        return Outcome.PASSES
    return Outcome.FAILS if 1 - (conforms if at_most is None else at_most) >= asked else Outcome.UNDECIDED


def acceptance_zone(low: float, high: float, guard: float) -> tuple[float, float] | None:
    """Limits drawn inward by a guard band (ISO 14253-1, 5.2); None where nothing is left between them."""
    return (low + guard, high - guard) if low + guard <= high - guard else None
