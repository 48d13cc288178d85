"""Levelling: tilt from reversed readings, what each nut must be turned, what a hand can reach.

Signs, the same in every calculation of this file: a tilt is positive where the ground rises toward north (`ns`),
toward east (`ew`). A turn is positive where the nut raises the plate; on a right-hand stud
standing up, that is anticlockwise seen from above.
"""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.circle import cosine, sine, without_noise
from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result, Series
from proclang.values.dimension import ANGLE, LENGTH, LENGTH_PER_ANGLE, NUMBER
from proclang.values.quantity import Quantity

_STEEPEST = math.radians(10)

PLATE_CAUTION = (
    "A plate can drop when a loaded nut is turned. Take the load off first, keep at least three nuts bearing and"
    " hands clear, and check that every nut keeps full thread engagement. Local rules and the competent person on"
    " site come first."
)


def _halves(readings: Series) -> tuple[Fraction, Fraction]:
    by_label = dict(readings.items)
    return by_label["direct"] / 2, by_label["reversed"] / 2


def _reverse_level(readings: Series) -> Fraction:
    direct, turned = _halves(readings)
    return direct - turned


def _level_zero(readings: Series) -> Fraction:
    direct, turned = _halves(readings)
    return direct + turned


def _levelling_turns(ns: float, ew: float, circle: float, pitch: float, studs: int, first_stud: float) -> list[float]:
    if circle <= 0 or pitch <= 0:
        raise CannotCompute("the stud circle and the pitch must be above zero")
    if studs < 3:
        raise CannotCompute("a plate stands on three studs at least")
    if max(abs(ns), abs(ew)) > _STEEPEST:
        raise CannotCompute("a tilt is above 10 deg")
    # Height of the plate above the middle, over the foot of each stud; studs stand still while the plate tilts.
    north, east = circle / 2 * math.tan(ns), circle / 2 * math.tan(ew)
    azimuths = [first_stud + 2 * math.pi * k / studs for k in range(studs)]
    turns = [-(north * cosine(azimuth) + east * sine(azimuth)) / pitch for azimuth in azimuths]
    return without_noise(turns, math.hypot(north, east) / pitch)


def _reach_of_hand(pitch: float, circle: float, part: float) -> float:
    if circle <= 0 or pitch <= 0 or part <= 0:
        raise CannotCompute("the pitch, the circle and the part of a turn must be above zero")
    return math.atan(pitch * part / circle)


_REVERSED = (
    Parameter(
        "readings",
        ANGLE,
        "two readings on one spot, each with the sign the level itself shows (positive: its marked end is high). For"
        " `direct` the marked end points to the side that counts as positive, north or east; for `reversed` the level"
        " is turned end for end",
        series=True,
        labels=("direct", "reversed"),
    ),
)
_REVERSAL = "surveying practice of reversal; follows from direct = tilt + zero and reversed = zero - tilt"
_REVERSAL_CAUTION = (
    "Keep the sign the level shows when it is turned: a reversed reading rewritten to the sense of the ground gives a"
    " tilt that looks level and is not."
)
_STUD_CIRCLE = Parameter("circle", LENGTH, "diameter of the circle through the studs, above zero")
_STUD_PITCH = Parameter("pitch", LENGTH_PER_ANGLE, "how far a nut climbs per turn, above zero")

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="reverse_level",
        topic="levelling",
        parameters=_REVERSED,
        results=(
            Result(
                "tilt", ANGLE, "the tilt free of the level's zero error, positive toward the marked end of `direct`"
            ),
        ),
        formula="(direct - reversed) / 2",
        source=_REVERSAL,
        standing="arithmetic",
        caution=_REVERSAL_CAUTION,
        exact=True,
        examples=(Example("reverse_level([direct = 6 arcmin, reversed = 2 arcmin])", ("2 arcmin",)),),
        work=_reverse_level,
    ),
    Calculation(
        name="level_zero",
        topic="levelling",
        parameters=_REVERSED,
        results=(Result("zero", ANGLE, "what the level shows where the ground is level"),),
        formula="(direct + reversed) / 2",
        source=_REVERSAL,
        standing="arithmetic",
        caution=_REVERSAL_CAUTION,
        exact=True,
        examples=(Example("level_zero([direct = 6 arcmin, reversed = 2 arcmin])", ("4 arcmin",)),),
        work=_level_zero,
    ),
    Calculation(
        name="levelling_turns",
        topic="levelling",
        parameters=(
            Parameter("ns", ANGLE, "tilt along north-south, positive where the north side is high"),
            Parameter("ew", ANGLE, "tilt along east-west, positive where the east side is high"),
            _STUD_CIRCLE,
            _STUD_PITCH,
            Parameter("studs", NUMBER, "how many studs stand on the circle, evenly spaced, three or more", whole=True),
            Parameter(
                "first_stud",
                ANGLE,
                "where stud 1 stands, clockwise from north seen from above; the others are counted clockwise from it",
                default=Quantity(Fraction(0), ANGLE),
                wraps=True,
            ),
        ),
        results=(
            Result(
                "turns",
                ANGLE,
                "how far the nut of each stud is turned: positive raises (anticlockwise from above on a right-hand"
                " stud), negative lowers; they add up to nothing, so the middle of the plate keeps its height",
                labels="studs",
                unit="turn",
            ),
        ),
        formula="-(circle / 2 * (cos(azimuth of the stud) * tan(ns) + sin(azimuth of the stud) * tan(ew))) / pitch",
        source="geometry of a tilted plane, derived here and checked by tilting a simulated plate back",
        standing="computed",
        caution=PLATE_CAUTION,
        validity="three studs or more, tilts up to 10 deg, circle and pitch above zero",
        examples=(
            Example(
                "levelling_turns(6 arcmin, 0 arcmin, 540 mm, 2.5 mm/turn, studs = 4)",
                ("-0.1885 turn, 0.0000 turn, 0.1885 turn, 0.0000 turn",),
            ),
        ),
        work=_levelling_turns,
    ),
    Calculation(
        name="reach_of_hand",
        topic="levelling",
        parameters=(
            _STUD_PITCH,
            _STUD_CIRCLE,
            Parameter("part", ANGLE, "the smallest part of a turn a hand sets reliably, such as 0.1 turn"),
        ),
        results=(
            Result(
                "tilt",
                ANGLE,
                "tilt made by turning the nut on one side by this part while the one across from it stays: a finer"
                " tilt is not set by hand",
            ),
        ),
        formula="arctangent of (pitch * part / circle)",
        source="geometry of a lever; what part of a turn a hand sets is common practice, no source",
        standing="computed",
        caution=PLATE_CAUTION,
        validity="pitch, circle and part above zero",
        examples=(Example("reach_of_hand(2.5 mm/turn, 540 mm, 0.1 turn)", ("1.59 arcmin",)),),
        work=_reach_of_hand,
    ),
)
