"""What a level and a staff show: bubbles and their sensitivity, slopes, heights over a baseline, a level's drift.

Signs as in `levelling`: a tilt is positive where the ground rises toward the side that counts as positive.
"""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result, Series
from proclang.values.dimension import ANGLE, LENGTH, NUMBER

_READING_CAUTION = (
    "A tilt is only as good as the face the level stands on: clean it, let the level come to the temperature of the"
    " plate, and read it both ways round."
)
_TURNED_CAUTION = (
    "Keep the sign the level shows when it is turned: a reversed reading rewritten to the sense of the ground gives a"
    " tilt that looks level and is not."
)
_REVERSAL = "surveying practice of reversal; follows from direct = tilt + zero and reversed = zero - tilt"
_BUBBLE = "surveying: the bubble follows an arc, so its run is the radius times the angle"
_SMALL = "5 deg"


def _bubble_radius(run: float, angle: float) -> float:
    return run / angle


def _bubble_sensitivity(difference: float, distance: float, divisions: float) -> float:
    return math.atan(difference / distance) / divisions


def _bubble_offset(low_end: Fraction, high_end: Fraction) -> Fraction:
    return (high_end - low_end) / 2


def _bubble_tilt(divisions: Fraction, sensitivity: Fraction) -> Fraction:
    return divisions * sensitivity


def _slope_angle(slope: float) -> float:
    return math.atan(slope)


def _tilt_over(rise: float, baseline: float) -> float:
    return math.atan(rise / baseline)


def _rise_over(tilt: float, baseline: float) -> float:
    return baseline * math.tan(tilt)


def _mean(readings: Series) -> Fraction:
    return sum(readings.values, Fraction(0)) / len(readings.items)


def _reversed_means(direct: Series, turned: Series) -> tuple[Fraction, Fraction]:
    first, second = _mean(direct), _mean(turned)
    return (first - second) / 2, (first + second) / 2


def _zero_drift(before: Series, after: Series) -> tuple[Fraction, Fraction]:
    first, second = (_mean(pair) for pair in (before, after))
    return second - first, (first + second) / 2


def _height_difference(back: Fraction, fore: Fraction) -> Fraction:
    if back < 0 or fore < 0:
        raise CannotCompute("a staff reading is below zero: an upside-down staff is not read here")
    return back - fore


_BASELINE = Parameter("baseline", LENGTH, "how far the two places lie apart, measured level", above="0 mm")
_PAIR = ("direct", "reversed")

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="bubble_radius",
        topic="levelling_readings",
        parameters=(
            Parameter("run", LENGTH, "how far the bubble runs: one division, or several together", above="0 mm"),
            Parameter("angle", ANGLE, "the tilt that makes it run so far", above="0 deg", most=_SMALL),
        ),
        results=(Result("radius", LENGTH, "radius the tube is ground to", unit="m"),),
        formula="run / angle, the angle in radians",
        source=_BUBBLE,
        standing="read",
        caution=_READING_CAUTION,
        validity="a run above zero, an angle above zero up to 5 deg",
        examples=(Example("bubble_radius(2 mm, 30 arcsec)", ("13.751 m",)),),
        work=_bubble_radius,
    ),
    Calculation(
        name="bubble_sensitivity",
        topic="levelling_readings",
        parameters=(
            Parameter("difference", LENGTH, "how much the staff reading changes", above="0 mm"),
            Parameter("distance", LENGTH, "from the level to the staff", above="0 mm"),
            Parameter("divisions", NUMBER, "how many divisions the bubble runs meanwhile", above="0"),
        ),
        results=(Result("sensitivity", ANGLE, "tilt that makes the bubble run one division", unit="arcsec"),),
        formula="arctangent of (difference / distance) / divisions",
        source="surveying: sensitivity of a bubble from two staff readings",
        standing="read",
        caution=_READING_CAUTION,
        validity="difference, distance and divisions above zero",
        examples=(Example("bubble_sensitivity(75 mm, 100 m, 5)", ("30.94 arcsec",)),),
        work=_bubble_sensitivity,
    ),
    Calculation(
        name="bubble_offset",
        topic="levelling_readings",
        parameters=(
            Parameter("minus_end", NUMBER, "divisions from the middle mark to the bubble's end on the minus side"),
            Parameter("plus_end", NUMBER, "divisions from the middle mark to the bubble's end on the plus side"),
        ),
        results=(
            Result("divisions", NUMBER, "how far the middle of the bubble stands off the mark, toward the plus side"),
        ),
        formula="(plus_end - minus_end) / 2",
        source="surveying practice: reading both ends takes the length of the bubble, which changes with warmth, out",
        standing="arithmetic",
        caution=_READING_CAUTION,
        exact=True,
        examples=(Example("bubble_offset(8.2, 10.6)", ("1.2",)),),
        work=_bubble_offset,
    ),
    Calculation(
        name="bubble_tilt",
        topic="levelling_readings",
        parameters=(
            Parameter("divisions", NUMBER, "how far the bubble stands off its mark, positive toward the plus side"),
            Parameter("sensitivity", ANGLE, "the tilt per division stated for this level", above="0 deg", most=_SMALL),
        ),
        results=(Result("tilt", ANGLE, "what the level shows; its zero is still in it until it is reversed"),),
        formula="divisions * sensitivity; a bubble runs to the high side",
        source="definition of a level's sensitivity",
        standing="arithmetic",
        caution=_READING_CAUTION,
        validity="a sensitivity above zero up to 5 deg",
        exact=True,
        examples=(Example("bubble_tilt(1.2, 20 arcsec)", ("24 arcsec",)),),
        work=_bubble_tilt,
    ),
    Calculation(
        name="slope_angle",
        topic="levelling_readings",
        parameters=(Parameter("slope", NUMBER, "rise over length, as a digital level shows it: mm/m or %"),),
        results=(Result("angle", ANGLE, "the same slope as an angle", unit="arcsec"),),
        formula="arctangent of the slope",
        source="definition of a slope; agrees with the sensitivities printed for machine levels",
        standing="computed",
        caution=_READING_CAUTION,
        examples=(
            Example("slope_angle(0.02 mm/m)", ("4.125 arcsec",)),
            Example("slope_angle(100 %)", ("45 deg",)),
        ),
        work=_slope_angle,
    ),
    Calculation(
        name="tilt_over",
        topic="levelling_readings",
        parameters=(
            Parameter("rise", LENGTH, "height of the place at the plus side less that at the minus side"),
            _BASELINE,
        ),
        results=(Result("tilt", ANGLE, "tilt of the line through both, positive where the plus side is high"),),
        formula="arctangent of (rise / baseline)",
        source="trigonometry",
        standing="computed",
        caution=_READING_CAUTION,
        validity="a baseline above zero",
        examples=(Example("tilt_over(0.1164 mm, 400 mm)", ("60.0 arcsec",)),),
        work=_tilt_over,
    ),
    Calculation(
        name="rise_over",
        topic="levelling_readings",
        parameters=(
            Parameter("tilt", ANGLE, "tilt along the baseline", above="-90 deg", below="90 deg"),
            _BASELINE,
        ),
        results=(Result("rise", LENGTH, "how much higher the plus side stands than the minus side", unit="mm"),),
        formula="baseline * tan(tilt)",
        source="trigonometry",
        standing="computed",
        caution=_READING_CAUTION,
        validity="a baseline above zero, a tilt of less than 90 deg",
        examples=(Example("rise_over(60 arcsec, 400 mm)", ("0.1164 mm",)),),
        work=_rise_over,
    ),
    Calculation(
        name="height_difference",
        topic="levelling_readings",
        parameters=(
            Parameter("back", LENGTH, "staff reading on the place that counts as known"),
            Parameter("fore", LENGTH, "staff reading on the other place, the level standing where it stood"),
        ),
        results=(Result("rise", LENGTH, "how much higher the other place is"),),
        formula="back - fore",
        source="surveying practice of levelling with a staff",
        standing="arithmetic",
        caution=(
            "Stand the level midway between both places, so that a line of sight that is not quite level, the curve"
            " of the earth and the bending of light drop out."
        ),
        validity="readings of zero or more",
        exact=True,
        examples=(Example("height_difference(1.432 m, 1.118 m)", ("0.314 m",)),),
        work=_height_difference,
    ),
    Calculation(
        name="reversed_means",
        topic="levelling_readings",
        parameters=(
            Parameter("direct", ANGLE, "readings with the marked end toward the plus side", series=True),
            Parameter(
                "turned", ANGLE, "as many readings with the level turned end for end, signs as shown", series=True
            ),
        ),
        results=(
            Result("tilt", ANGLE, "tilt free of the level's zero error, positive where the plus side is high"),
            Result("zero", ANGLE, "what the level shows where the ground is level"),
        ),
        formula="(mean of direct - mean of turned) / 2 and (mean of direct + mean of turned) / 2",
        source=_REVERSAL,
        standing="arithmetic",
        caution=_TURNED_CAUTION,
        exact=True,
        examples=(
            Example(
                "reversed_means([0.12 deg, 0.14 deg, 0.13 deg], [0.02 deg, 0.03 deg, 0.01 deg])",
                ("0.055 deg", "0.075 deg"),
            ),
        ),
        work=_reversed_means,
    ),
    Calculation(
        name="zero_drift",
        topic="levelling_readings",
        parameters=(
            Parameter("before", ANGLE, "a reversed pair from the beginning of the work", series=True, labels=_PAIR),
            Parameter("after", ANGLE, "a reversed pair from its end; the place may differ", series=True, labels=_PAIR),
        ),
        results=(
            Result("drift", ANGLE, "how much the level's zero grew from the first pair to the second"),
            Result(
                "zero",
                ANGLE,
                "the zero halfway: taken off a single reading made in between, it leaves at most half the drift, as"
                " long as the zero went one way all the while",
            ),
        ),
        formula="zero of after - zero of before, and their mean; a zero is (direct + reversed) / 2",
        source=_REVERSAL,
        standing="arithmetic",
        caution=(
            "A level that was dropped or warmed between the pairs did not drift steadily: read anew what lies in"
            " between. " + _TURNED_CAUTION
        ),
        exact=True,
        examples=(
            Example(
                "zero_drift([direct = 6 arcmin, reversed = 2 arcmin], [direct = 1 arcmin, reversed = 8 arcmin])",
                ("0.5 arcmin", "4.25 arcmin"),
            ),
        ),
        work=_zero_drift,
    ),
)
