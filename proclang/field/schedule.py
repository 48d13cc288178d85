"""How long a day's work takes: three-point estimates, sums along a chain, the chance of being done in time."""

from __future__ import annotations

import math

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import NUMBER, TIME


def _in_order(best: float, likely: float, worst: float) -> None:
    if not best <= likely <= worst or best == worst:
        raise CannotCompute("the best time must be at most the likely one, and that at most the worst")


def _three_point(best: float, likely: float, worst: float) -> tuple[float, float]:
    _in_order(best, likely, worst)
    return (best + 4 * likely + worst) / 6, (worst - best) / 6


def _triangular(best: float, likely: float, worst: float) -> tuple[float, float]:
    _in_order(best, likely, worst)
    a, b, c = likely - best, worst - likely, worst - best
    return best + (a + c) / 3, math.sqrt((a * a + a * b + b * b) / 18)


def _triangular_chance(best: float, likely: float, worst: float, available: float) -> float:
    _in_order(best, likely, worst)
    if available <= best:
        return 0.0
    if available >= worst:
        return 1.0
    if available <= likely:
        return (available - best) ** 2 / ((worst - best) * (likely - best))
    return 1 - (worst - available) ** 2 / ((worst - best) * (worst - likely))


def _chain_time(means: tuple[float, ...], deviations: tuple[float, ...]) -> tuple[float, float]:
    return math.fsum(means), math.hypot(*deviations)


def _chance_in_time(mean: float, deviation: float, available: float) -> float:
    return math.erfc((mean - available) / (deviation * math.sqrt(2))) / 2


def _earliest_finish(before: tuple[float, ...], duration: float) -> float:
    return max(before) + duration


_BEST = Parameter("best", TIME, "how long it takes when all goes well", least="0 s")
_LIKELY = Parameter("likely", TIME, "how long it takes most often", least="0 s")
_WORST = Parameter("worst", TIME, "how long it takes when much goes wrong", least="0 s")
_THREE_TIMES = "best at most likely, likely at most worst, and best below worst"
_MEAN = Result("mean", TIME, "the time to plan with, on average", unit="h")
_DEVIATION = Result("deviation", TIME, "its standard deviation", unit="h")

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="three_point_time",
        topic="schedule",
        parameters=(_BEST, _LIKELY, _WORST),
        results=(_MEAN, _DEVIATION),
        formula="mean = (best + 4 * likely + worst) / 6; deviation = (worst - best) / 6",
        source="three-point estimate of project planning, read in a page reproducing it",
        standing="read",
        validity=_THREE_TIMES,
        examples=(Example("three_point_time(2 h, 3.5 h, 8 h)", ("4 h", "1 h")),),
        work=_three_point,
    ),
    Calculation(
        name="triangular_time",
        topic="schedule",
        parameters=(_BEST, _LIKELY, _WORST),
        results=(_MEAN, _DEVIATION),
        formula=(
            "mean = (best + likely + worst) / 3; deviation = square root of ((best^2 + likely^2 + worst^2 "
            " - best * likely - best * worst - likely * worst) / 18)"
        ),
        source="moments of the triangular distribution",
        standing="computed",
        validity=_THREE_TIMES,
        examples=(Example("triangular_time(2 h, 3 h, 7 h)", ("4 h", "1.0801 h")),),
        work=_triangular,
    ),
    Calculation(
        name="triangular_chance",
        topic="schedule",
        parameters=(_BEST, _LIKELY, _WORST, Parameter("available", TIME, "the time there is", named=True)),
        results=(Result("chance", NUMBER, "chance of being done in that time", unit="%"),),
        formula="area of the triangle from best to available",
        source="triangular distribution",
        standing="computed",
        safe_direction="down",
        validity=_THREE_TIMES,
        examples=(Example("triangular_chance(2 h, 3 h, 7 h, available = 5 h)", ("80.0 %",)),),
        work=_triangular_chance,
    ),
    Calculation(
        name="chain_time",
        topic="schedule",
        parameters=(
            Parameter(
                "means", TIME, "mean time of each step of the chain, one after another", series=True, least="0 s"
            ),
            Parameter(
                "deviations", TIME, "standard deviation of each, independent of the others", series=True, least="0 s"
            ),
        ),
        results=(
            Result("mean", TIME, "mean time of the chain", unit="h"),
            Result("deviation", TIME, "its standard deviation", unit="h"),
        ),
        formula="sum of the means; square root of the sum of the squared deviations",
        source="sum of independent quantities",
        standing="computed",
        validity="steps whose delays have nothing to do with each other; rain delays all of them at once",
        examples=(Example("chain_time([rig = 1 h, lift = 2 h], [rig = 15 min, lift = 36 min])", ("3 h", "0.65 h")),),
        work=_chain_time,
    ),
    Calculation(
        name="chance_in_time",
        topic="schedule",
        parameters=(
            Parameter("mean", TIME, "mean time of the chain"),
            Parameter("deviation", TIME, "its standard deviation", above="0 s"),
            Parameter("available", TIME, "the time there is", named=True),
        ),
        results=(Result("chance", NUMBER, "chance of being done in that time", unit="%"),),
        formula="normal distribution function of (available - mean) / deviation",
        source="normal distribution, for the sum of many steps",
        standing="computed",
        safe_direction="down",
        validity="a chain of several steps, none of which outweighs the others, with a deviation above zero",
        examples=(Example("chance_in_time(30 h, 2 h, available = 33 h)", ("93.32 %",)),),
        work=_chance_in_time,
    ),
    Calculation(
        name="earliest_finish",
        topic="schedule",
        parameters=(
            Parameter("before", TIME, "when each thing it waits for is done, from one common start", series=True),
            Parameter("duration", TIME, "how long it takes itself", least="0 s"),
        ),
        results=(Result("finish", TIME, "when it is done, from that start", unit="h"),),
        formula="largest of before + duration",
        source="forward pass of the critical path method",
        standing="arithmetic",
        validity="times counted from one start",
        examples=(Example("earliest_finish([crane = 1.5 h, tower = 0.5 h], 2 h)", ("3.5 h",)),),
        work=_earliest_finish,
    ),
)
