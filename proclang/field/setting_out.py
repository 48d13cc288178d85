"""Setting out: the circle through the measured places of bolts."""

from __future__ import annotations

import math

from proclang.field.circle import without_noise
from proclang.field.declare import Calculation, CannotCompute, Parameter, Result
from proclang.values.dimension import LENGTH

_WIDEST_GAP = math.radians(270)
_MOST_ROUNDS = 60


def _circle_fit(xs: tuple[float, ...], ys: tuple[float, ...]) -> tuple[float, float, float, float]:
    count = len(xs)
    if count < 3:
        raise CannotCompute("a circle needs three points at least")
    x0, y0 = math.fsum(xs) / count, math.fsum(ys) / count
    # Centred and brought to size one, so that products neither overflow nor vanish.
    size = max(max(abs(x - x0) for x in xs), max(abs(y - y0) for y in ys))
    if size <= 1e-12 * max(abs(x0), abs(y0)):
        raise CannotCompute("all points lie at one place")
    points = [((x - x0) / size, (y - y0) / size) for x, y in zip(xs, ys, strict=True)]
    a, b = _first_centre(points)
    for _ in range(_MOST_ROUNDS):
        step_a, step_b = _step(points, a, b)
        a, b = a + step_a, b + step_b
        if math.hypot(step_a, step_b) < 1e-15 * (1 + math.hypot(a, b)):
            break
    else:
        # What rounding leaves is far below the twelve digits that are kept; anything larger has not come to rest.
        if math.hypot(step_a, step_b) > 1e-12 * (1 + math.hypot(a, b)):
            raise CannotCompute("no circle comes near the points")
    _check_spread(points, a, b)
    distances = [math.hypot(u - a, v - b) for u, v in points]
    radius = math.fsum(distances) / count
    residual = without_noise([max(abs(d - radius) for d in distances)], 1.0)[0]
    middle_x, middle_y = without_noise([x0 + size * a, y0 + size * b], size)
    return middle_x, middle_y, size * radius, size * residual


def _first_centre(points: list[tuple[float, float]]) -> tuple[float, float]:
    """The algebraic fit, whose equations are linear; it is exact where the points lie on a circle."""
    uu = math.fsum(u * u for u, _ in points)
    vv = math.fsum(v * v for _, v in points)
    uv = math.fsum(u * v for u, v in points)
    uq = math.fsum(u * (u * u + v * v) for u, v in points) / 2
    vq = math.fsum(v * (u * u + v * v) for u, v in points) / 2
    return _solved(uu, uv, vv, uq, vq)


def _solved(uu: float, uv: float, vv: float, uq: float, vq: float) -> tuple[float, float]:
    area = uu * vv - uv * uv
    if area <= 1e-9 * (uu + vv) ** 2:
        raise CannotCompute("the points lie on one line, or nearly")
    return (uq * vv - vq * uv) / area, (vq * uu - uq * uv) / area


def _step(points: list[tuple[float, float]], a: float, b: float) -> tuple[float, float]:
    """One step of Gauss and Newton toward the centre; the radius that fits best is the mean distance throughout."""
    count = len(points)
    distances = [math.hypot(u - a, v - b) for u, v in points]
    if min(distances) == 0:
        raise CannotCompute("a point lies in the middle of the others")
    radius = math.fsum(distances) / count
    ways = [((u - a) / d, (v - b) / d) for (u, v), d in zip(points, distances, strict=True)]
    mean_p, mean_q = math.fsum(p for p, _ in ways) / count, math.fsum(q for _, q in ways) / count
    ways = [(p - mean_p, q - mean_q) for p, q in ways]
    return _solved(
        math.fsum(p * p for p, _ in ways),
        math.fsum(p * q for p, q in ways),
        math.fsum(q * q for _, q in ways),
        math.fsum(p * (d - radius) for (p, _), d in zip(ways, distances, strict=True)),
        math.fsum(q * (d - radius) for (_, q), d in zip(ways, distances, strict=True)),
    )


def _check_spread(points: list[tuple[float, float]], a: float, b: float) -> None:
    around = sorted(math.atan2(v - b, u - a) for u, v in points)
    gaps = [after - before for before, after in zip(around, [*around[1:], around[0] + 2 * math.pi], strict=True)]
    if max(gaps) > _WIDEST_GAP:
        raise CannotCompute("the points lie on less than a quarter of the circle")


CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="circle_fit",
        topic="setting_out",
        parameters=(
            Parameter("x", LENGTH, "first coordinate of each point", series=True),
            Parameter("y", LENGTH, "second coordinate of each point", series=True),
        ),
        results=(
            Result("centre_x", LENGTH, "first coordinate of the centre"),
            Result("centre_y", LENGTH, "second coordinate of the centre"),
            Result("radius", LENGTH, "radius of the circle"),
            Result("residual", LENGTH, "how far the point farthest from the circle lies inside or outside it"),
        ),
        formula=(
            "the centre and the radius for which the sum of (distance of the point from the centre - radius)^2 is least"
        ),
        source=(
            "geometric least squares (Gauss, Newton), as in Gander, Golub and Strebel, Least-Squares Fitting of Circles"
            " and Ellipses, BIT 34 (1994); agrees with its circle and with a general linear algebra library"
        ),
        standing="computed",
        caution=(
            "A small residual says that the bolts lie on a circle, not that they stand at their places on it nor that"
            " they hold: the spacing is judged by itself, and the anchors by whoever designed them."
        ),
        validity="three points or more, not on one line, spread over a quarter of the circle at least",
        work=_circle_fit,
    ),
)
