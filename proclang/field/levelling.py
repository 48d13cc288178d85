"""Levelling: tilt from reversed readings, what each nut must be turned, the plane through measured points.

Signs, the same in every calculation of this file: a tilt is positive where the ground rises toward north (`ns`),
toward east (`ew`), toward plus x or plus y. A turn is positive where the nut raises the plate; on a right-hand stud
standing up, that is anticlockwise seen from above.
"""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.circle import cosine, sine, without_noise
from proclang.field.declare import Calculation, CannotCompute, Parameter, Result, Series
from proclang.values.dimension import ANGLE, LENGTH, LENGTH_PER_ANGLE, NUMBER
from proclang.values.quantity import Quantity

_STEEPEST = math.radians(10)

_PLATE_CAUTION = (
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


def _plane_fit(xs: tuple[float, ...], ys: tuple[float, ...], zs: tuple[float, ...]) -> tuple[float, float, float]:
    count = len(xs)
    if count < 3:
        raise CannotCompute("a plane needs three points at least")
    x0, y0, z0 = (math.fsum(values) / count for values in (xs, ys, zs))
    # Centred and brought to size one, so that products neither overflow nor vanish.
    flat = max(max(abs(x - x0) for x in xs), max(abs(y - y0) for y in ys))
    high = max(abs(z - z0) for z in zs) or 1.0
    if flat == 0:
        raise CannotCompute("all points lie at one place")
    u = [(x - x0) / flat for x in xs]
    v = [(y - y0) / flat for y in ys]
    w = [(z - z0) / high for z in zs]
    uu, vv, uv = math.fsum(a * a for a in u), math.fsum(b * b for b in v), math.fsum(map(_product, u, v))
    uw, vw = math.fsum(map(_product, u, w)), math.fsum(map(_product, v, w))
    area = uu * vv - uv * uv
    if area <= 1e-9 * (uu + vv) ** 2:
        raise CannotCompute("the points lie on one line, or nearly")
    slope_u, slope_v = without_noise([(uw * vv - vw * uv) / area, (vw * uu - uw * uv) / area], 1.0)
    left = [c - slope_u * a - slope_v * b for a, b, c in zip(u, v, w, strict=True)]
    rms = without_noise([math.sqrt(math.fsum(r * r for r in left) / count)], 1.0)[0]
    return math.atan(slope_u * high / flat), math.atan(slope_v * high / flat), rms * high


def _product(a: float, b: float) -> float:
    return a * b


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
_FLAT_CIRCLE = Parameter("circle", LENGTH, "diameter of the circle through the studs, above zero")
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
        work=_level_zero,
    ),
    Calculation(
        name="levelling_turns",
        topic="levelling",
        parameters=(
            Parameter("ns", ANGLE, "tilt along north-south, positive where the north side is high"),
            Parameter("ew", ANGLE, "tilt along east-west, positive where the east side is high"),
            _FLAT_CIRCLE,
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
        caution=_PLATE_CAUTION,
        validity="three studs or more, tilts up to 10 deg, circle and pitch above zero",
        work=_levelling_turns,
    ),
    Calculation(
        name="reach_of_hand",
        topic="levelling",
        parameters=(
            _STUD_PITCH,
            _FLAT_CIRCLE,
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
        caution=_PLATE_CAUTION,
        validity="pitch, circle and part above zero",
        work=_reach_of_hand,
    ),
    Calculation(
        name="plane_fit",
        topic="levelling",
        parameters=(
            Parameter("x", LENGTH, "first coordinate of each point", series=True),
            Parameter("y", LENGTH, "second coordinate of each point", series=True),
            Parameter("z", LENGTH, "height of each point, positive up", series=True),
        ),
        results=(
            Result("tilt_x", ANGLE, "tilt along x, positive where the plane rises toward plus x"),
            Result("tilt_y", ANGLE, "tilt along y, positive where the plane rises toward plus y"),
            Result(
                "residual", LENGTH, "root mean square of the heights left over, over the number of points; 0 for three"
            ),
        ),
        formula=(
            "the a, b, c for which the sum of (z - a x - b y - c)^2 is least; the tilts are the arctangents of a and b"
        ),
        source=(
            "linear least squares (Gauss), computed from centred sums and agreed with a general linear algebra library"
        ),
        standing="computed",
        validity="three points or more, not on one line",
        work=_plane_fit,
    ),
)
