"""Mirrors on screws: what a screw tilts, which screws bring a spot back, a flat at 45 degrees in and out of its plane.

Directions at a mirror are told from behind it, facing the card the beam comes back to: right and up are positive, and
a place on the mirror is an angle clockwise from the top. A turn is positive where the screw pushes the mirror toward
the card.
"""

from __future__ import annotations

import math

from proclang.field.circle import cosine, sine, without_noise
from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.optics import LASER_CAUTION, OFFSET_X, OFFSET_Y, SMALL_OFFSET, STAR_TEST
from proclang.values.dimension import ANGLE, LENGTH, LENGTH_PER_ANGLE

_CLOSEST = math.radians(15)
_ROOT_HALF = math.sqrt(0.5)


def _screw_tilt(turn: float, pitch: float, lever: float) -> float:
    return math.atan(turn * pitch / lever)


def _one_of_three(turn: float, pitch: float, radius: float) -> tuple[float, float]:
    travel = turn * pitch
    return math.atan(travel / (1.5 * radius)), travel / 3


def _slopes(dx: float, dy: float, throw: float) -> tuple[float, float]:
    """How much further forward the mirror has to stand per length to the right and per length up."""
    out = math.hypot(dx, dy)
    if out > SMALL_OFFSET * throw:
        raise CannotCompute("the spot lies further out than a tenth of the throw: bring it nearer by eye first")
    if out == 0:
        return 0.0, 0.0
    slope = math.tan(math.atan(out / throw) / 2)
    return slope * dx / out, slope * dy / out


def _apart(*angles: float) -> None:
    for k, one in enumerate(angles):
        for other in angles[:k]:
            if abs(math.remainder(one - other, 2 * math.pi)) < _CLOSEST:
                raise CannotCompute("two of the three supports stand within 15 deg of each other on the circle")


def _three_screws(
    dx: float, dy: float, throw: float, radius: float, pitch: float, a: float, b: float, c: float
) -> list[float]:
    _apart(a, b, c)
    right, up = (radius / pitch * slope for slope in _slopes(dx, dy, throw))
    turns = [right * sine(angle) + up * cosine(angle) for angle in (a, b, c)]
    return without_noise(turns, math.hypot(right, up))


def _two_screws(
    dx: float, dy: float, throw: float, radius: float, pitch: float, a: float, b: float, pivot: float
) -> list[float]:
    _apart(a, b, pivot)
    right, up = (radius / pitch * slope for slope in _slopes(dx, dy, throw))
    turns = [right * (sine(angle) - sine(pivot)) + up * (cosine(angle) - cosine(pivot)) for angle in (a, b)]
    return without_noise(turns, math.hypot(right, up))


def _flat_45(in_plane: float, out_of_plane: float) -> tuple[float, float]:
    # Along the beam that comes in, out of the plane, along the beam that should leave; the normal before it tilts
    # halves the corner between the two beams.
    a, b = math.tan(in_plane), math.tan(out_of_plane)
    x, y, z = (a - 1) * _ROOT_HALF, b, (a + 1) * _ROOT_HALF
    twice = 2 * x / (x * x + y * y + z * z)
    beam_x, beam_y, beam_z = 1 - twice * x, -twice * y, -twice * z
    return math.atan2(beam_x, beam_z), math.atan2(beam_y, beam_z)


def _flat_45_tilts(beam_in_plane: float, beam_out_of_plane: float) -> tuple[float, float]:
    right, out = math.tan(beam_in_plane), math.tan(beam_out_of_plane)
    length = math.sqrt(1 + right * right + out * out)
    # The normal halves the corner between the beam that leaves and the way back of the beam that came.
    x, y, z = right / length - 1, out / length, 1 / length
    along, across = (x + z) * _ROOT_HALF, (z - x) * _ROOT_HALF
    return math.atan(along / across), math.atan(y / across)


_CAUTION = (
    "Which way of turning pushes the mirror differs from mount to mount: prove it with a quarter turn first, loosen"
    " the lock before and never turn a screw past its stop or out of its thread. " + LASER_CAUTION + " " + STAR_TEST
)
_THROW = Parameter("throw", LENGTH, "distance from the mirror to the card", above="0 mm")
_PITCH = Parameter("pitch", LENGTH_PER_ANGLE, "how far a screw moves per turn", above="0 mm/turn")
_RADIUS = Parameter("radius", LENGTH, "radius of the circle the supports stand on", above="0 mm")
_REFLECTION = "law of reflection and geometry of a plane on three supports, derived here and checked by tracing a ray"
_VALID = (
    "throw, radius and pitch above zero, an offset of at most a tenth of the throw, light falling on square, supports"
    " 15 deg apart or more"
)
_FLAT_SOURCE = "law of reflection, traced with vectors; for small tilts the factors are 2 and the square root of 2"


def _place(name: str, what: str) -> Parameter:
    meaning = f"where {what} stands: clockwise from the top, seen from behind the mirror"
    return Parameter(name, ANGLE, meaning, named=True, wraps=True)


def _turn(name: str) -> Result:
    which = name[-1].upper()
    return Result(name, ANGLE, f"turn of screw {which}: positive pushes the mirror toward the card", unit="turn")


CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="screw_tilt",
        topic="optics_mirror",
        parameters=(
            Parameter("turn", ANGLE, "how far the screw is turned"),
            _PITCH,
            Parameter("lever", LENGTH, "from the screw to the axis it tilts the mirror about", above="0 mm"),
        ),
        results=(Result("tilt", ANGLE, "how far the mirror tilts; the beam it returns tilts by twice as much"),),
        formula="arctangent of (turn * pitch / lever)",
        source="geometry of a lever",
        standing="computed",
        caution=_CAUTION,
        validity="a pitch and a lever above zero",
        examples=(Example("screw_tilt(0.25 turn, 0.5 mm/turn, 100 mm)", ("257.83 arcsec",)),),
        work=_screw_tilt,
    ),
    Calculation(
        name="one_of_three_screws",
        topic="optics_mirror",
        parameters=(Parameter("turn", ANGLE, "how far one of the three screws is turned"), _PITCH, _RADIUS),
        results=(
            Result("tilt", ANGLE, "how far the mirror tilts about the line through the other two"),
            Result("advance", LENGTH, "how far the middle of the mirror comes forward, which moves the focus"),
        ),
        formula="arctangent of (turn * pitch / (1.5 * radius)), and turn * pitch / 3",
        source="geometry of three supports 120 deg apart",
        standing="computed",
        caution=_CAUTION,
        validity="three screws 120 deg apart, pitch and radius above zero",
        examples=(Example("one_of_three_screws(0.25 turn, 0.5 mm/turn, 100 mm)", ("171.887 arcsec", "0.04167 mm")),),
        work=_one_of_three,
    ),
    Calculation(
        name="three_screw_turns",
        topic="optics_mirror",
        parameters=(
            OFFSET_X,
            OFFSET_Y,
            _THROW,
            _RADIUS,
            _PITCH,
            _place("a", "screw A"),
            _place("b", "screw B"),
            _place("c", "screw C"),
        ),
        results=(_turn("screw_a"), _turn("screw_b"), _turn("screw_c")),
        formula=(
            "radius * (slope right * sin(angle) + slope up * cos(angle)) / pitch, the slope being tan(arctangent of"
            " (offset / throw) / 2) in the direction of the offset: the mirror is pushed forward on the side the spot"
            " lies on, and the middle of the circle stays"
        ),
        source=_REFLECTION,
        standing="computed",
        caution=_CAUTION,
        validity=_VALID,
        examples=(
            Example(
                "three_screw_turns(0 mm, 4 mm, 8 m, 100 mm, 0.5 mm/turn, a = 0 deg, b = 120 deg, c = 240 deg)",
                ("0.050 turn", "-0.025 turn", "-0.025 turn"),
            ),
        ),
        work=_three_screws,
    ),
    Calculation(
        name="two_screw_turns",
        topic="optics_mirror",
        parameters=(
            OFFSET_X,
            OFFSET_Y,
            _THROW,
            _RADIUS,
            _PITCH,
            _place("a", "screw A"),
            _place("b", "screw B"),
            _place("pivot", "the support that stays"),
        ),
        results=(_turn("screw_a"), _turn("screw_b")),
        formula=(
            "radius * (slope right * (sin(angle) - sin(pivot)) + slope up * (cos(angle) - cos(pivot))) / pitch, the"
            " slope being tan(arctangent of (offset / throw) / 2) in the direction of the offset"
        ),
        source=_REFLECTION,
        standing="computed",
        caution=_CAUTION,
        validity=_VALID,
        examples=(
            Example(
                "two_screw_turns(0 mm, 4 mm, 8 m, 100 mm, 0.5 mm/turn, a = 0 deg, b = 90 deg, pivot = 180 deg)",
                ("0.100 turn", "0.050 turn"),
            ),
        ),
        work=_two_screws,
    ),
    Calculation(
        name="flat_45",
        topic="optics_mirror",
        parameters=(
            Parameter(
                "in_plane",
                ANGLE,
                "tilt of the flat about the axis square to the plane of both beams, positive where the normal swings"
                " toward the way the beam was going when it came in",
                least="-10 deg",
                most="10 deg",
            ),
            Parameter(
                "out_of_plane",
                ANGLE,
                "tilt about the line in which the flat meets the plane of both beams, positive where the normal swings"
                " to the side that counts as positive",
                least="-10 deg",
                most="10 deg",
            ),
        ),
        results=(
            Result("beam_in_plane", ANGLE, "how far the leaving beam turns in the plane of both beams, same sense"),
            Result("beam_out_of_plane", ANGLE, "how far the leaving beam turns out of that plane, same side"),
        ),
        formula=(
            "the incoming direction less twice its part along the normal; for small tilts 2 * in_plane and"
            " out_of_plane * sqrt(2)"
        ),
        source=_FLAT_SOURCE,
        standing="computed",
        caution=_CAUTION,
        validity="a flat that turns the beam by 90 deg, tilts up to 10 deg",
        examples=(
            Example("flat_45(60 arcsec, 0 arcsec)", ("120.0 arcsec", "0.0 arcsec")),
            Example("flat_45(0 arcsec, 60 arcsec)", ("0.0 arcsec", "84.9 arcsec")),
        ),
        work=_flat_45,
    ),
    Calculation(
        name="flat_45_tilts",
        topic="optics_mirror",
        parameters=(
            Parameter(
                "beam_in_plane",
                ANGLE,
                "how far the leaving beam is off its mark in the plane of both beams, positive toward the way the beam"
                " was going when it came in",
                least="-10 deg",
                most="10 deg",
            ),
            Parameter(
                "beam_out_of_plane",
                ANGLE,
                "how far it is off its mark out of that plane",
                least="-10 deg",
                most="10 deg",
            ),
        ),
        results=(
            Result("in_plane", ANGLE, "tilt of the flat that sends the beam there; turn it back by as much"),
            Result("out_of_plane", ANGLE, "the same about the line in which the flat meets the plane of both beams"),
        ),
        formula="the normal halves the corner between both beams; for small tilts beam / 2 and beam / sqrt(2)",
        source=_FLAT_SOURCE,
        standing="computed",
        caution=_CAUTION,
        validity="a flat that turns the beam by 90 deg, a beam up to 10 deg off",
        examples=(Example("flat_45_tilts(120 arcsec, 84.9 arcsec)", ("1.000 arcmin", "1.001 arcmin")),),
        work=_flat_45_tilts,
    ),
)
