"""Beams: how far one is off, a laser checked by turning it in its holder, the autocollimator, what glass does."""

from __future__ import annotations

import math

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.optics import LASER_CAUTION
from proclang.field.setting_out import circle_through
from proclang.values.dimension import ANGLE, LENGTH, NUMBER


def _spot_offset(tilt: float, throw: float) -> tuple[float, float]:
    return 2 * tilt, throw * math.tan(2 * tilt)


def _beam_angle(dx: float, dy: float, throw: float) -> float:
    return math.atan(math.hypot(dx, dy) / throw)


def _laser_turning(
    xs: tuple[float, ...], ys: tuple[float, ...], throw: float
) -> tuple[float, float, float, float, float]:
    if len(xs) < 3:
        raise CannotCompute("the laser has to be read in three positions at least")
    if len(set(xs)) == len(set(ys)) == 1:
        return xs[0], ys[0], 0.0, 0.0, 0.0
    x, y, radius, residual = circle_through(xs, ys)
    return x, y, radius, math.atan(radius / throw), residual


def _autocollimator(tilt: float, focal_length: float) -> tuple[float, float]:
    return 2 * tilt, focal_length * math.tan(2 * tilt)


def _autocollimator_tilt(shift: float, focal_length: float) -> float:
    return math.atan(shift / focal_length) / 2


def _wedge_deviation(wedge: float, index: float) -> float:
    bent = index * math.sin(wedge)
    if bent >= 1:
        raise CannotCompute("the light does not get out of so steep a wedge: it is reflected inside")
    return math.asin(bent) - wedge


def _window_shift(thickness: float, tilt: float, index: float) -> float:
    s = math.sin(tilt)
    return thickness * s * (1 - math.cos(tilt) / math.sqrt(index * index - s * s))


INDEX = Parameter("index", NUMBER, "refractive index of the glass, from its maker", least="1", most="4")
_THROW = Parameter("throw", LENGTH, "distance the beam runs to the card", above="0 mm")
_FOCAL_LENGTH = Parameter("focal_length", LENGTH, "focal length of the objective", above="0 mm")
_MIRROR_TILT = Parameter("tilt", ANGLE, "how far the mirror is off square to the beam", least="-20 deg", most="20 deg")
_REFLECTION = "law of reflection: a mirror turned by an angle turns the beam by twice that angle"
_SNELL = "law of refraction (Snell), derived here and checked by tracing a ray"
_STAR = "It shows where a beam goes, not how an image looks: the alignment is accepted on a star, in and out of focus."

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="spot_offset",
        topic="optics_beam",
        parameters=(_MIRROR_TILT, _THROW),
        results=(
            Result("beam", ANGLE, "how far the returned beam turns"),
            Result("offset", LENGTH, "how far the spot moves on the card", unit="mm"),
        ),
        formula="2 * tilt, and throw * tan(2 * tilt)",
        source=_REFLECTION,
        standing="computed",
        caution=LASER_CAUTION,
        validity="a throw above zero, a tilt up to 20 deg, light falling on the mirror square",
        examples=(Example("spot_offset(60 arcsec, 10 m)", ("120 arcsec", "5.8178 mm")),),
        work=_spot_offset,
    ),
    Calculation(
        name="beam_angle",
        topic="optics_beam",
        parameters=(
            Parameter("dx", LENGTH, "offset of the spot from its mark: right is positive"),
            Parameter("dy", LENGTH, "offset of the spot from its mark: up is positive"),
            _THROW,
        ),
        results=(Result("deviation", ANGLE, "how far the beam itself is off its mark, never below zero"),),
        formula="arctangent of (square root of (dx^2 + dy^2) / throw)",
        source="trigonometry",
        standing="computed",
        caution=LASER_CAUTION,
        validity="a throw above zero",
        examples=(Example("beam_angle(3 mm, 4 mm, 10 m)", ("103.13 arcsec",)),),
        work=_beam_angle,
    ),
    Calculation(
        name="laser_turning",
        topic="optics_beam",
        parameters=(
            Parameter("x", LENGTH, "where the spot falls on the card at each position of the laser", series=True),
            Parameter("y", LENGTH, "where the spot falls, in the other direction", series=True),
            _THROW,
        ),
        results=(
            Result("axis_x", LENGTH, "where the axis the laser turns about meets the card: aim this place, not a spot"),
            Result("axis_y", LENGTH, "the same place in the other direction"),
            Result("runout", LENGTH, "radius of the circle the spot runs on"),
            Result(
                "beam_error",
                ANGLE,
                "angle between the beam and its axis, were all of the runout an angle; a beam that leaves beside the"
                " axis counts in, and shows on a card near by",
            ),
            Result("residual", LENGTH, "how far the spot farthest from the circle lies inside or outside it"),
        ),
        formula=(
            "the circle for which the sum of (distance of the spot from the centre - radius)^2 is least; beam error ="
            " arctangent of (radius / throw)"
        ),
        source="geometric least squares (Gauss, Newton), as in `circle_fit`; turning is the reversal of a laser",
        standing="computed",
        caution=(
            "A residual as large as the runout means that the laser rocks in its holder or the spot was misread: no"
            " circle, no axis. " + LASER_CAUTION + " " + _STAR
        ),
        validity=(
            "three positions or more, spread over a quarter of the circle at least, or all on one place; a throw above"
            " zero"
        ),
        examples=(
            Example(
                "laser_turning([3 mm, 1 mm, -1 mm, 1 mm], [1 mm, 3 mm, 1 mm, -1 mm], 10 m)",
                ("1.00 mm", "1.00 mm", "2.00 mm", "41.25 arcsec", "0.00 mm"),
            ),
        ),
        work=_laser_turning,
    ),
    Calculation(
        name="autocollimator",
        topic="optics_beam",
        parameters=(_MIRROR_TILT, _FOCAL_LENGTH),
        results=(
            Result("beam", ANGLE, "how far the returned beam turns"),
            Result("shift", LENGTH, "how far the returned image moves in the focal plane", unit="mm"),
        ),
        formula="2 * tilt, and focal_length * tan(2 * tilt); the distance to the mirror does not come in",
        source=_REFLECTION,
        standing="computed",
        caution=LASER_CAUTION,
        validity="a focal length above zero, a tilt up to 20 deg",
        examples=(Example("autocollimator(12 arcsec, 500 mm)", ("24 arcsec", "0.05818 mm")),),
        work=_autocollimator,
    ),
    Calculation(
        name="autocollimator_tilt",
        topic="optics_beam",
        parameters=(Parameter("shift", LENGTH, "how far the returned image lies off its mark"), _FOCAL_LENGTH),
        results=(Result("tilt", ANGLE, "how far the mirror is off square", unit="arcsec"),),
        formula="arctangent of (shift / focal_length) / 2",
        source=_REFLECTION,
        standing="computed",
        caution=LASER_CAUTION,
        validity="a focal length above zero",
        examples=(Example("autocollimator_tilt(0.05818 mm, 500 mm)", ("12.00 arcsec",)),),
        work=_autocollimator_tilt,
    ),
    Calculation(
        name="wedge_deviation",
        topic="optics_beam",
        parameters=(Parameter("wedge", ANGLE, "angle between the two faces", least="0 deg", most="20 deg"), INDEX),
        results=(Result("deviation", ANGLE, "how far a beam falling on the first face square is turned"),),
        formula="arcsine of (index * sin(wedge)) - wedge; for small wedges (index - 1) * wedge",
        source=_SNELL,
        standing="computed",
        caution="A filter with a wedge moves the image when it is turned or taken out. " + LASER_CAUTION,
        validity="a wedge from 0 to 20 deg that lets the light out, an index from 1 to 4, glass in air",
        examples=(Example("wedge_deviation(1 arcmin, 1.5)", ("30.0 arcsec",)),),
        work=_wedge_deviation,
    ),
    Calculation(
        name="window_shift",
        topic="optics_beam",
        parameters=(
            Parameter("thickness", LENGTH, "thickness of the window", least="0 mm"),
            Parameter("tilt", ANGLE, "between the beam and the normal of the window", above="-90 deg", below="90 deg"),
            INDEX,
        ),
        results=(Result("shift", LENGTH, "how far the beam is moved sideways; its direction stays"),),
        formula="thickness * sin(tilt) * (1 - cos(tilt) / square root of (index^2 - sin(tilt)^2))",
        source=_SNELL,
        standing="computed",
        caution="A tilted window also reflects part of the beam to where nobody expects it. " + LASER_CAUTION,
        validity="a thickness of zero or more, an index from 1 to 4, a tilt of less than 90 deg, glass in air",
        examples=(Example("window_shift(10 mm, 45 deg, 1.5)", ("3.291 mm",)),),
        work=_window_shift,
    ),
)
