"""Alignment by a returned laser spot: from its offset to the tilt of the mirror, and to turns of its screws."""

from __future__ import annotations

import math

from proclang.field.circle import without_noise
from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import ANGLE, LENGTH, LENGTH_PER_ANGLE

LASER_CAUTION = (
    "Laser light, also reflected, can damage eyes. Keep to the class marked on the laser and to the local laser"
    " rules: beam below or above eye height, never look along it, switch it off before anyone puts their head near"
    " its path."
)
STAR_TEST = (
    "What counts in the end is the image of a star: look at one in and out of focus, and accept the alignment on that."
)
SMALL_OFFSET = 0.1


def _spot_tilt(dx: float, dy: float, throw: float) -> float:
    if throw <= 0:
        raise CannotCompute("the throw must be above zero")
    return math.atan(math.hypot(dx, dy) / throw) / 2


def _tilt_screws(dx: float, dy: float, throw: float, lever: float, pitch: float) -> tuple[float, float]:
    if throw <= 0 or lever <= 0 or pitch <= 0:
        raise CannotCompute("the throw, the lever and the pitch must be above zero")
    if math.hypot(dx, dy) > SMALL_OFFSET * throw:
        raise CannotCompute(
            "the spot lies further out than a tenth of the throw, where the two screws no longer act apart"
        )
    turns = [-lever * math.tan(math.atan(offset / throw) / 2) / pitch for offset in (dx, dy)]
    first, second = without_noise(turns, max(abs(turn) for turn in turns))
    return first, second


OFFSET_X = Parameter("dx", LENGTH, "offset of the returned spot from its mark, facing the card: right is positive")
OFFSET_Y = Parameter("dy", LENGTH, "offset of the returned spot from its mark, facing the card: up is positive")
_THROW = Parameter("throw", LENGTH, "distance from the mirror to the card, above zero")

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="spot_tilt",
        topic="optics",
        parameters=(OFFSET_X, OFFSET_Y, _THROW),
        results=(Result("tilt", ANGLE, "how far the mirror is tilted from where the spot would be on its mark"),),
        formula="arctangent of (sqrt(dx^2 + dy^2) / throw) / 2",
        source="law of reflection: a mirror turned by an angle turns the beam by twice that angle",
        standing="computed",
        caution=LASER_CAUTION + " " + STAR_TEST,
        validity="a throw above zero, light falling on the mirror square",
        examples=(Example("spot_tilt(4 mm, 0 mm, 8 m)", ("51.57 arcsec",)),),
        work=_spot_tilt,
    ),
    Calculation(
        name="tilt_screws",
        topic="optics",
        parameters=(
            OFFSET_X,
            OFFSET_Y,
            _THROW,
            Parameter("lever", LENGTH, "distance from each screw to the axis it tilts the mirror about, above zero"),
            Parameter("pitch", LENGTH_PER_ANGLE, "how far a screw moves per turn, above zero"),
        ),
        results=(
            Result(
                "screw_a",
                ANGLE,
                "turn of screw A, the one that moves the spot sideways: positive is the way that moves it to the right",
                unit="turn",
            ),
            Result(
                "screw_b",
                ANGLE,
                "turn of screw B, the one that moves the spot up and down: positive is the way that moves it up",
                unit="turn",
            ),
        ),
        formula="-(lever * tan(arctangent of (offset / throw) / 2)) / pitch, with dx for screw A and dy for screw B",
        source="law of reflection and geometry of a lever, derived here and checked by tracing a ray",
        standing="computed",
        caution=(
            "Which way of turning moves the spot right or up differs from mount to mount: prove it with a quarter"
            " turn first, and"
            " never turn a screw past its stop. " + LASER_CAUTION + " " + STAR_TEST
        ),
        validity=(
            "throw, lever and pitch above zero, an offset of at most a tenth of the throw, light falling on square"
        ),
        examples=(
            Example(
                "tilt_screws(4 mm, -2 mm, 8 m, lever = 100 mm, pitch = 0.5 mm/turn)", ("-0.050 turn", "0.025 turn")
            ),
        ),
        work=_tilt_screws,
    ),
)
