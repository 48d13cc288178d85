"""The plane through measured heights: its tilts, how steep it is and which way it falls, what is left over.

A tilt is positive where the plane rises toward plus x or plus y, toward east or north. A direction is counted
clockwise seen from above, from plus y or north.
"""

from __future__ import annotations

import math

from proclang.field.circle import without_noise
from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import ANGLE, LENGTH


def _slopes(
    xs: tuple[float, ...], ys: tuple[float, ...], zs: tuple[float, ...]
) -> tuple[float, float, list[float], float]:
    """Slopes along x and y, the heights left over at each point as a part of the scale, and that scale."""
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
    return slope_u * high / flat, slope_v * high / flat, left, high


def _plane_fit(xs: tuple[float, ...], ys: tuple[float, ...], zs: tuple[float, ...]) -> tuple[float, float, float]:
    slope_x, slope_y, left, high = _slopes(xs, ys, zs)
    rms = without_noise([math.sqrt(math.fsum(r * r for r in left) / len(left))], 1.0)[0]
    return math.atan(slope_x), math.atan(slope_y), rms * high


def _plane_residuals(xs: tuple[float, ...], ys: tuple[float, ...], zs: tuple[float, ...]) -> list[float]:
    _, _, left, high = _slopes(xs, ys, zs)
    return [part * high for part in without_noise(left, 1.0)]


def _product(a: float, b: float) -> float:
    return a * b


def _total_tilt(ns: float, ew: float) -> float:
    return math.atan(math.hypot(math.tan(ns), math.tan(ew)))


def _downhill(ns: float, ew: float) -> float:
    if ns == 0 and ew == 0:
        raise CannotCompute("both tilts are zero, so there is no way down")
    return math.atan2(-math.tan(ew), -math.tan(ns)) % (2 * math.pi)


_POINTS = (
    Parameter("x", LENGTH, "first coordinate of each point", series=True),
    Parameter("y", LENGTH, "second coordinate of each point", series=True),
    Parameter("z", LENGTH, "height of each point, positive up", series=True),
)
_TILTS = (
    Parameter(
        "ns",
        ANGLE,
        "tilt along north-south or along y, positive where it rises to north or plus y",
        above="-90 deg",
        below="90 deg",
    ),
    Parameter(
        "ew",
        ANGLE,
        "tilt along east-west or along x, positive where it rises to east or plus x",
        above="-90 deg",
        below="90 deg",
    ),
)
_LEAST_SQUARES = (
    "linear least squares (Gauss), computed from centred sums and agreed with a general linear algebra library"
)
_SLOPE = "geometry of a plane: its slopes along two axes at right angles are the parts of its gradient"
_THREE_POINTS = "three points or more, not on one line"
_SQUARE = "x = [0 mm, 1000 mm, 1000 mm, 0 mm], y = [0 mm, 0 mm, 1000 mm, 1000 mm]"

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="plane_fit",
        topic="levelling_plane",
        parameters=_POINTS,
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
        source=_LEAST_SQUARES,
        standing="computed",
        validity=_THREE_POINTS,
        examples=(
            Example(
                f"plane_fit({_SQUARE}, z = [0 mm, 1 mm, 1.2 mm, 0.2 mm])", ("206.26 arcsec", "41.25 arcsec", "0.00 mm")
            ),
        ),
        work=_plane_fit,
    ),
    Calculation(
        name="plane_residuals",
        topic="levelling_plane",
        parameters=_POINTS,
        results=(
            Result(
                "residuals",
                LENGTH,
                "how far each point lies above the plane that fits them all best; negative below. They add up to"
                " nothing; of four points at the corners of a rectangle all are alike in size, so the bad one does"
                " not stand out",
                labels="x",
            ),
        ),
        formula="z - a x - b y - c at each point, with the a, b, c for which the sum of their squares is least",
        source=_LEAST_SQUARES,
        standing="computed",
        validity=_THREE_POINTS,
        examples=(
            Example(
                f"plane_residuals({_SQUARE}, z = [0 mm, 1 mm, 1.6 mm, 0.2 mm])",
                ("0.1 mm, -0.1 mm, 0.1 mm, -0.1 mm",),
            ),
        ),
        work=_plane_residuals,
    ),
    Calculation(
        name="total_tilt",
        topic="levelling_plane",
        parameters=_TILTS,
        results=(Result("tilt", ANGLE, "how steep the plane is where it is steepest, never below zero"),),
        formula="arctangent of square root of (tan(ns)^2 + tan(ew)^2)",
        source=_SLOPE,
        standing="computed",
        validity="tilts of less than 90 deg",
        examples=(Example("total_tilt(3 arcmin, -4 arcmin)", ("5.0000 arcmin",)),),
        work=_total_tilt,
    ),
    Calculation(
        name="downhill",
        topic="levelling_plane",
        parameters=_TILTS,
        results=(
            Result(
                "direction",
                ANGLE,
                "the way a ball would roll: clockwise from north (or plus y) seen from above, 0 up to 360 deg",
            ),
        ),
        formula="the direction whose north part is -tan(ns) and whose east part is -tan(ew)",
        source=_SLOPE,
        standing="computed",
        validity="tilts of less than 90 deg, not both zero",
        examples=(Example("downhill(3 arcmin, -4 arcmin)", ("126.87 deg",)),),
        work=_downhill,
    ),
)
