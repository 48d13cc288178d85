"""Setting out: the circle through the measured places of bolts, the pattern they make, what the holes allow."""

from __future__ import annotations

import cmath
import math
from fractions import Fraction

from proclang.field.circle import cosine, sine, without_noise
from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import ANGLE, LENGTH
from proclang.values.quantity import Quantity

_WIDEST_GAP = math.radians(270)
_MOST_ROUNDS = 60


def circle_through(xs: tuple[float, ...], ys: tuple[float, ...]) -> tuple[float, float, float, float]:
    """Centre, radius and greatest residual of the circle that fits best; raises `CannotCompute` where none does."""
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


def _pattern_fit(
    xs: tuple[float, ...], ys: tuple[float, ...], circle: float, first_stud: float
) -> tuple[float, float, float, list[float]]:
    count = len(xs)
    if count < 3:
        raise CannotCompute("a pattern has three bolts at least")
    x0, y0 = math.fsum(xs) / count, math.fsum(ys) / count
    radius = circle / 2
    # Places as complex numbers, north the real axis and east the other, so that multiplying turns clockwise.
    around = [first_stud + 2 * math.pi * k / count for k in range(count)]
    places = [complex(cosine(angle), sine(angle)) for angle in around]
    bolts = [complex((y - y0) / radius, (x - x0) / radius) for x, y in zip(xs, ys, strict=True)]
    turned = sum(bolt * place.conjugate() for bolt, place in zip(bolts, places, strict=True))
    if abs(turned) == 0:
        raise CannotCompute("the bolts have no common turn against the pattern")
    rotation = cmath.phase(turned)
    turn = turned / abs(turned)
    off = [abs(bolt - place * turn) for bolt, place in zip(bolts, places, strict=True)]
    if max(off) >= math.sin(math.pi / count):
        raise CannotCompute(
            "a bolt lies nearer to the place of another: the bolts are read in order, clockwise from above, and the"
            " circle is its diameter"
        )
    middle_x, middle_y = without_noise([x0, y0], radius)
    return middle_x, middle_y, without_noise([rotation], 1.0)[0], [radius * d for d in without_noise(off, 1.0)]


def _hole_clearance(hole: float, bolt: float, circle: float) -> tuple[float, float]:
    play = (hole - bolt) / 2
    if play < 0:
        raise CannotCompute("the bolt is thicker than its hole")
    if play > circle / 4:
        raise CannotCompute("the play is more than a quarter of the circle")
    return play, 2 * math.asin(play / circle)


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
        examples=(
            Example(
                "circle_fit([13 mm, 10 mm, 7 mm, 10 mm], [5 mm, 8 mm, 5 mm, 2 mm])", ("10 mm", "5 mm", "3 mm", "0 mm")
            ),
        ),
        work=circle_through,
    ),
    Calculation(
        name="pattern_fit",
        topic="setting_out",
        parameters=(
            Parameter("x", LENGTH, "how far east (along plus x) each bolt stands, in order, clockwise", series=True),
            Parameter("y", LENGTH, "how far north (along plus y) each bolt stands", series=True),
            Parameter("circle", LENGTH, "diameter of the circle on the drawing", above="0 mm"),
            Parameter(
                "first_stud",
                ANGLE,
                "where the drawing has bolt 1, clockwise from north (plus y) seen from above; the others follow"
                " clockwise, evenly spaced",
                default=Quantity(Fraction(0), ANGLE),
                wraps=True,
            ),
        ),
        results=(
            Result("centre_x", LENGTH, "where the middle of the pattern lies, east"),
            Result("centre_y", LENGTH, "where it lies, north"),
            Result(
                "rotation", ANGLE, "how far the bolts as a whole are turned against the drawing, clockwise positive"
            ),
            Result("off", LENGTH, "how far each bolt is from its place in the pattern moved and turned", labels="x"),
        ),
        formula=(
            "the shift and the turn of the drawn pattern for which the sum of the squared distances from the bolts is"
            " least: the mean of the bolts, and the argument of the sum of (bolt * conjugate of its place)"
        ),
        source=("least squares (Gauss) for a stiff pattern, in complex numbers; agreed with a general library's fit"),
        standing="computed",
        caution=(
            "It says where the bolts stand, not that they hold: anchors follow their approval, and the person who"
            " designed them decides what may be bent, drilled or slotted."
        ),
        validity="three bolts or more, evenly spaced on the drawing, each nearest to its own place",
        examples=(
            Example(
                "pattern_fit([1 mm, 271 mm, 1 mm, -269 mm], [270 mm, 0 mm, -270 mm, 0 mm], 540 mm)",
                ("1 mm", "0 mm", "0 deg", "0 mm, 0 mm, 0 mm, 0 mm"),
            ),
        ),
        work=_pattern_fit,
    ),
    Calculation(
        name="hole_clearance",
        topic="setting_out",
        parameters=(
            Parameter("hole", LENGTH, "diameter of the holes in the plate", above="0 mm", named=True),
            Parameter("bolt", LENGTH, "diameter of the bolts", above="0 mm", named=True),
            Parameter("circle", LENGTH, "diameter of the circle they stand on", above="0 mm", named=True),
        ),
        results=(
            Result("play", LENGTH, "how far a bolt may be from the middle of its hole, in any direction"),
            Result(
                "rotation",
                ANGLE,
                "how far the plate may be turned either way when all bolts stand at their places and it is not shifted"
                " as well; what `pattern_fit` leaves over at a bolt, a shift and a turn share the play",
            ),
        ),
        formula="(hole - bolt) / 2, and 2 * arcsine of (play / circle)",
        source="geometry of a bolt in a round hole",
        standing="computed",
        caution=(
            "A hole is not to be widened nor a bolt bent to make a plate fit without the person who designed them."
        ),
        safe_direction="down",
        validity="a bolt that is not thicker than its hole, a play of at most a quarter of the circle",
        examples=(Example("hole_clearance(hole = 26 mm, bolt = 24 mm, circle = 540 mm)", ("1 mm", "0.2122 deg")),),
        work=_hole_clearance,
    ),
)
