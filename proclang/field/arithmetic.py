"""Arithmetic on values and series: the smallest, the mean, rounding to a step, roots."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from proclang.field.declare import Calculation, CannotCompute, Example, Like, Parameter, Result, Root, Series
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


def _of_two(name: str, meaning: str, formula: str, example: Example, work: Callable[..., Any]) -> Calculation:
    return Calculation(
        name=name,
        topic="arithmetic",
        parameters=(Parameter("a", Like("a"), "one value"), Parameter("b", Like("a"), "another of the same kind")),
        results=(Result(name, Like("a"), meaning),),
        formula=formula,
        source=_DEFINITION,
        standing="arithmetic",
        exact=True,
        examples=(example,),
        work=work,
    )


def _of_series(name: str, meaning: str, formula: str, gives: str, work: Callable[..., Any]) -> Calculation:
    return Calculation(
        name=name,
        topic="arithmetic",
        parameters=(Parameter("readings", Like("a"), "the series of readings", series=True),),
        results=(Result(name, Like("a"), meaning),),
        formula=formula,
        source=_DEFINITION,
        standing="arithmetic",
        exact=True,
        examples=(Example(f"{name}([12 mm, 9 mm, 12 mm])", (gives,)),),
        work=work,
    )


def _rounding(
    name: str, way: str, direction: str, example: Example, rounding: Callable[[Fraction, Fraction], Fraction]
) -> Calculation:
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
        safe_direction=direction,
        validity="a step above zero",
        exact=True,
        examples=(example,),
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
        examples=(Example("abs(-3 mm)", ("3 mm",)),),
        work=abs,
    ),
    _of_two(
        "min",
        "the smaller of the two",
        "a where a is at most b, otherwise b",
        Example("min(3 mm, 5 mm)", ("3 mm",)),
        min,
    ),
    _of_two(
        "max",
        "the larger of the two",
        "a where a is at least b, otherwise b",
        Example("max(3 mm, 5 mm)", ("5 mm",)),
        max,
    ),
    _of_series("smallest", "the smallest reading", "smallest of the series", "9 mm", _smallest),
    _of_series("largest", "the largest reading", "largest of the series", "12 mm", _largest),
    _of_series("mean", "the mean of the readings", "sum of the readings / their number", "11 mm", _mean),
    _of_series("sum", "the sum of the readings", "sum of the readings", "33 mm", _sum),
    _of_series("spread", "how far the readings lie apart", "largest reading - smallest reading", "3 mm", _spread),
    Calculation(
        name="count",
        topic="arithmetic",
        parameters=(Parameter("readings", Like("a", frames=True), "the series of readings", series=True),),
        results=(Result("count", NUMBER, "how many readings the series has"),),
        formula="number of readings",
        source=_DEFINITION,
        standing="arithmetic",
        exact=True,
        examples=(Example("count([12 mm, 9 mm, 12 mm])", ("3",)),),
        work=_count,
    ),
    _rounding(
        "round_to", "nearest, half to even", "", Example("round_to(0.34 turn, 0.1 turn)", ("0.3 turn",)), round_nearest
    ),
    _rounding(
        "round_down",
        "toward minus infinity: -0.31 to 0.1 is -0.4",
        "down",
        Example("round_down(478 N, 10 N)", ("470 N",)),
        round_down,
    ),
    _rounding(
        "round_up",
        "toward plus infinity: -0.39 to 0.1 is -0.3",
        "up",
        Example("round_up(471 N, 10 N)", ("480 N",)),
        round_up,
    ),
    Calculation(
        name="sqrt",
        topic="arithmetic",
        parameters=(Parameter("value", Like("a"), "zero or more"),),
        results=(Result("root", Root("a"), "the square root"),),
        formula="the number whose square is the value",
        source=_DEFINITION,
        standing="arithmetic",
        validity="zero or more",
        examples=(Example("sqrt(2)", ("1.41421",)),),
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
        examples=(Example("hypot(3 mm, 4 mm)", ("5 mm",)),),
        work=math.hypot,
    ),
)
