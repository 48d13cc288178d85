"""Sine and its kin, and bearings: the way between two, and from one north to another."""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.circle import cosine, sine
from proclang.field.declare import Calculation, CannotCompute, Example, Like, Parameter, Result
from proclang.values.dimension import ANGLE, BEARING_GRID, BEARING_MAGNETIC, BEARING_TRUE, NUMBER

_TURN = Fraction(360)
_HALF = Fraction(180)
_NORTHS = "angle added to a bearing, signs as used in surveying: east positive"


def _tangent(angle: float) -> float:
    below = cosine(angle)
    if below == 0:
        raise CannotCompute("the tangent of a quarter turn is endless")
    return sine(angle) / below


def _direction(y: float, x: float) -> float:
    if x == 0 and y == 0:
        raise CannotCompute("both parts are zero, so there is no direction")
    return math.atan2(y, x)


def _difference(a: Fraction, b: Fraction) -> Fraction:
    way = (a - b) % _TURN
    return way - _TURN if way > _HALF else way


def _bridged(name: str, angle: Fraction) -> Fraction:
    if abs(angle) > _HALF:
        raise CannotCompute(f"a {name} is at most half a turn either way")
    return angle


def _to_true(magnetic: Fraction, declination: Fraction) -> Fraction:
    return (magnetic + _bridged("declination", declination)) % _TURN


def _to_magnetic(true: Fraction, declination: Fraction) -> Fraction:
    return (true - _bridged("declination", declination)) % _TURN


def _grid_to_true(grid: Fraction, convergence: Fraction) -> Fraction:
    return (grid + _bridged("convergence", convergence)) % _TURN


_ANY_ANGLE = Parameter("angle", ANGLE, "any angle; whole turns do not count", wraps=True)
_RATIO = Parameter("value", NUMBER, "the sine or the cosine of an angle", least="-1", most="1")
_DECLINATION = Parameter(
    "declination",
    ANGLE,
    "angle from true north to magnetic north, positive where magnetic north lies east of true north",
)
_DECLINATION_CAUTION = (
    "The declination changes with place and date, and iron near the compass changes the reading: use a dated value"
    " for the site, and the sign that goes with it."
)

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="sin",
        topic="angles",
        parameters=(_ANY_ANGLE,),
        results=(Result("sine", NUMBER, "from -1 to 1"),),
        formula="sine of the angle",
        source="definition",
        standing="arithmetic",
        examples=(Example("sin(30 deg)", ("0.5",)),),
        work=sine,
    ),
    Calculation(
        name="cos",
        topic="angles",
        parameters=(_ANY_ANGLE,),
        results=(Result("cosine", NUMBER, "from -1 to 1"),),
        formula="cosine of the angle",
        source="definition",
        standing="arithmetic",
        examples=(Example("cos(60 deg)", ("0.5",)),),
        work=cosine,
    ),
    Calculation(
        name="tan",
        topic="angles",
        parameters=(_ANY_ANGLE,),
        results=(Result("tangent", NUMBER, "sine over cosine"),),
        formula="sine of the angle / cosine of the angle",
        source="definition",
        standing="arithmetic",
        validity="any angle but a quarter turn and three quarters",
        examples=(Example("tan(45 deg)", ("1",)),),
        work=_tangent,
    ),
    Calculation(
        name="asin",
        topic="angles",
        parameters=(_RATIO,),
        results=(Result("angle", ANGLE, "from -90 to 90 deg"),),
        formula="the angle whose sine is the value",
        source="definition",
        standing="arithmetic",
        validity="-1 to 1",
        examples=(Example("asin(0.5)", ("30 deg",)),),
        work=math.asin,
    ),
    Calculation(
        name="acos",
        topic="angles",
        parameters=(_RATIO,),
        results=(Result("angle", ANGLE, "from 0 to 180 deg"),),
        formula="the angle whose cosine is the value",
        source="definition",
        standing="arithmetic",
        validity="-1 to 1",
        examples=(Example("acos(0.5)", ("60 deg",)),),
        work=math.acos,
    ),
    Calculation(
        name="atan",
        topic="angles",
        parameters=(Parameter("value", NUMBER, "any number"),),
        results=(Result("angle", ANGLE, "from -90 to 90 deg"),),
        formula="the angle whose tangent is the value",
        source="definition",
        standing="arithmetic",
        examples=(Example("atan(1)", ("45 deg",)),),
        work=math.atan,
    ),
    Calculation(
        name="atan2",
        topic="angles",
        parameters=(
            Parameter("y", Like("a"), "the part along the second axis"),
            Parameter("x", Like("a"), "the part along the first axis"),
        ),
        results=(Result("angle", ANGLE, "from -180 to 180 deg, from the x axis toward the y axis"),),
        formula="the angle whose tangent is y / x, in the quadrant of the point (x, y)",
        source="definition",
        standing="arithmetic",
        validity="not both parts zero",
        examples=(Example("atan2(1 mm, -1 mm)", ("135 deg",)),),
        work=_direction,
    ),
    Calculation(
        name="difference",
        topic="angles",
        parameters=(
            Parameter("a", Like("north", bearing=True), "the bearing to go to"),
            Parameter("b", Like("north", bearing=True), "the bearing to start from, measured from the same north"),
        ),
        results=(
            Result("difference", ANGLE, "the shortest way from b to a, clockwise positive, above -180 up to 180 deg"),
        ),
        formula="a - b, whole turns taken off until it is above -180 and at most 180 deg",
        source="definition",
        standing="arithmetic",
        exact=True,
        examples=(Example("difference(10 deg true, 350 deg true)", ("20 deg",)),),
        work=_difference,
    ),
    Calculation(
        name="to_true",
        topic="angles",
        parameters=(Parameter("magnetic", BEARING_MAGNETIC, "bearing from magnetic north"), _DECLINATION),
        results=(Result("true", BEARING_TRUE, "the same direction from true north, 0 up to 360 deg"),),
        formula="magnetic bearing + declination",
        source=_NORTHS,
        standing="arithmetic",
        caution=_DECLINATION_CAUTION,
        validity="a declination of at most 180 deg either way",
        exact=True,
        examples=(Example("to_true(350 deg magnetic, 15.5 deg)", ("5.5 deg true",)),),
        work=_to_true,
    ),
    Calculation(
        name="to_magnetic",
        topic="angles",
        parameters=(Parameter("true", BEARING_TRUE, "bearing from true north"), _DECLINATION),
        results=(Result("magnetic", BEARING_MAGNETIC, "the same direction from magnetic north, 0 up to 360 deg"),),
        formula="true bearing - declination",
        source=_NORTHS,
        standing="arithmetic",
        caution=_DECLINATION_CAUTION,
        validity="a declination of at most 180 deg either way",
        exact=True,
        examples=(Example("to_magnetic(352.75 deg true, -12.25 deg)", ("5 deg magnetic",)),),
        work=_to_magnetic,
    ),
    Calculation(
        name="grid_to_true",
        topic="angles",
        parameters=(
            Parameter("grid", BEARING_GRID, "bearing from grid north"),
            Parameter(
                "convergence",
                ANGLE,
                "angle from true north to grid north, positive where grid north lies east of true north",
            ),
        ),
        results=(Result("true", BEARING_TRUE, "the same direction from true north, 0 up to 360 deg"),),
        formula="grid bearing + convergence",
        source=_NORTHS,
        standing="arithmetic",
        caution="Maps differ in the sign they print for the convergence: check it against the sketch of the norths.",
        validity="a convergence of at most 180 deg either way",
        exact=True,
        examples=(Example("grid_to_true(359 deg grid, 1.5 deg)", ("0.5 deg true",)),),
        work=_grid_to_true,
    ),
)
