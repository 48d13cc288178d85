"""Arithmetic on values and series: the smallest, the mean, rounding to a step, roots."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from proclang.field.declare import Calculation, CannotCompute, Like, Parameter, Result, Root, Series
from proclang.values.dimension import NUMBER
from proclang.values.number import round_down, round_nearest, round_up

_DEFINITION = "definition"


def _smallest(readings: Series) -> Fraction:
    return min(readings.values)


def _largest(readings: Series) -> Fraction:
    return max(readings.values)


def _mean(readings: Series) -> Fraction:
    return sum(readings.values, Fraction(0)) / len(readings.items)


def _sum(readings: Series) -> Fraction:
    return sum(readings.values, Fraction(0))


def _spread(readings: Series) -> Fraction:
    return max(readings.values) - min(readings.values)


def _count(readings: Series) -> Fraction:
    return Fraction(len(readings.items))


def _to_step(rounding: Callable[[Fraction, Fraction], Fraction]) -> Callable[[Fraction, Fraction], Fraction]:
    def work(value: Fraction, to: Fraction) -> Fraction:
        if to <= 0:
            raise CannotCompute("the step must be above zero")
        return rounding(value, to)

    return work


def _sqrt(value: float) -> float:
    if value < 0:
        raise CannotCompute("the value is below zero")
    return math.sqrt(value)


def _of_two(name: str, meaning: str, formula: str, work: Callable[..., Any]) -> Calculation:
    return Calculation(
        name=name,
        topic="arithmetic",
        parameters=(Parameter("a", Like("a"), "one value"), Parameter("b", Like("a"), "another of the same kind")),
        results=(Result(name, Like("a"), meaning),),
        formula=formula,
        source=_DEFINITION,
        standing="arithmetic",
        exact=True,
        work=work,
    )


def _of_series(name: str, gives: Like, meaning: str, formula: str, work: Callable[..., Any]) -> Calculation:
    return Calculation(
        name=name,
        topic="arithmetic",
        parameters=(Parameter("readings", Like("a"), "the series of readings", series=True),),
        results=(Result(name, gives, meaning),),
        formula=formula,
        source=_DEFINITION,
        standing="arithmetic",
        exact=True,
        work=work,
    )


def _rounding(name: str, way: str, safe: str, rounding: Callable[[Fraction, Fraction], Fraction]) -> Calculation:
    return Calculation(
        name=name,
        topic="arithmetic",
        parameters=(
            Parameter("value", Like("a"), "the value to round"),
            Parameter("to", Like("a"), "the step, above zero"),
        ),
        results=(Result("rounded", Like("a"), f"a whole number of steps, {way}"),),
        formula=f"the value divided by the step, taken to a whole number {way}, times the step",
        source=_DEFINITION,
        standing="arithmetic",
        safe_direction=safe,
        validity="a step above zero",
        exact=True,
        work=_to_step(rounding),
    )


CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="abs",
        topic="arithmetic",
        parameters=(Parameter("value", Like("a"), "any value"),),
        results=(Result("size", Like("a"), "the value without its sign"),),
        formula="the value, or its opposite where it is below zero",
        source=_DEFINITION,
        standing="arithmetic",
        exact=True,
        work=abs,
    ),
    _of_two("min", "the smaller of the two", "a where a is at most b, otherwise b", min),
    _of_two("max", "the larger of the two", "a where a is at least b, otherwise b", max),
    _of_series("smallest", Like("a"), "the smallest reading", "smallest of the series", _smallest),
    _of_series("largest", Like("a"), "the largest reading", "largest of the series", _largest),
    _of_series("mean", Like("a"), "the mean of the readings", "sum of the readings / their number", _mean),
    _of_series("sum", Like("a"), "the sum of the readings", "sum of the readings", _sum),
    _of_series("spread", Like("a"), "how far the readings lie apart", "largest reading - smallest reading", _spread),
    Calculation(
        name="count",
        topic="arithmetic",
        parameters=(Parameter("readings", Like("a", frames=True), "the series of readings", series=True),),
        results=(Result("count", NUMBER, "how many readings the series has"),),
        formula="number of readings",
        source=_DEFINITION,
        standing="arithmetic",
        exact=True,
        work=_count,
    ),
    _rounding("round_to", "nearest, half to even", "", round_nearest),
    _rounding("round_down", "toward minus infinity: -0.31 to 0.1 is -0.4", "down", round_down),
    _rounding("round_up", "toward plus infinity: -0.39 to 0.1 is -0.3", "up", round_up),
    Calculation(
        name="sqrt",
        topic="arithmetic",
        parameters=(Parameter("value", Like("a"), "zero or more"),),
        results=(Result("root", Root("a"), "the square root"),),
        formula="the number whose square is the value",
        source=_DEFINITION,
        standing="arithmetic",
        validity="zero or more",
        work=_sqrt,
    ),
    Calculation(
        name="hypot",
        topic="arithmetic",
        parameters=(
            Parameter("a", Like("a"), "one of two parts at right angles"),
            Parameter("b", Like("a"), "the other part"),
        ),
        results=(Result("length", Like("a"), "the size of both taken together, never below zero"),),
        formula="square root of (a^2 + b^2)",
        source="Pythagoras",
        standing="arithmetic",
        work=math.hypot,
    ),
)
