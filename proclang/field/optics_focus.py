"""Focus and image: the spacer a back focus asks for, what a filter adds, plate scale, the collimation budget."""

from __future__ import annotations

import math

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.optics_beam import INDEX
from proclang.values.dimension import ANGLE, LENGTH, NUMBER


def _filter_shift(thickness: float, index: float) -> float:
    return thickness * (index - 1) / index


def _back_focus_spacer(
    back_focus: float, parts: tuple[float, ...], thickness: float | None, index: float | None
) -> float:
    if (thickness is None) != (index is None):
        raise CannotCompute("a filter is given by its thickness and its index together")
    room = back_focus
    if thickness is not None and index is not None:
        room += _filter_shift(thickness, index)
    taken = math.fsum(parts)
    if taken > room:
        raise CannotCompute("the parts together are longer than the back focus: no spacer brings them into focus")
    return room - taken


def _plate_scale(focal_length: float, pixel: float) -> float:
    return 2 * math.atan(pixel / 2 / focal_length)


def _collimation_budget(parts: tuple[float, ...]) -> tuple[float, float]:
    return math.fsum(abs(part) for part in parts), math.hypot(*parts)


_STAR = (
    "A sum is no acceptance: the star test is, a star near the middle of the field looked at in and out of focus once"
    " the instrument has come to the temperature of the night."
)
_NO_SUN = " Never point an instrument near the Sun to find its focus."

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="filter_shift",
        topic="optics_focus",
        parameters=(Parameter("thickness", LENGTH, "thickness of the filter or window", least="0 mm"), INDEX),
        results=(Result("shift", LENGTH, "how far the focus moves away from the objective"),),
        formula="thickness * (1 - 1 / index)",
        source="law of refraction (Snell) for rays near the axis, checked by tracing a ray",
        standing="computed",
        caution="It holds for slender cones of light; in a fast one the focus is found on a star." + _NO_SUN,
        validity="a thickness of zero or more, an index from 1 to 4, a filter square to the axis, in air",
        examples=(Example("filter_shift(3 mm, 1.5)", ("1 mm",)),),
        work=_filter_shift,
    ),
    Calculation(
        name="back_focus_spacer",
        topic="optics_focus",
        parameters=(
            Parameter("back_focus", LENGTH, "from the last seat to the focus, in air, from the maker", above="0 mm"),
            Parameter(
                "parts",
                LENGTH,
                "length of every part in the stack along the axis, seat to seat or seat to sensor",
                series=True,
                least="0 mm",
            ),
            Parameter(
                "filter_thickness",
                LENGTH,
                "thickness of all glass in the stack together",
                named=True,
                optional=True,
                least="0 mm",
            ),
            Parameter(
                "filter_index", NUMBER, "refractive index of that glass", named=True, optional=True, least="1", most="4"
            ),
        ),
        results=(Result("spacer", LENGTH, "length still missing, to be filled with a spacer", unit="mm"),),
        formula="back_focus + filter_thickness * (1 - 1 / filter_index) - sum of parts",
        source="a stack of lengths, and the law of refraction (Snell) for the glass in it",
        standing="computed",
        caution="The parts' lengths are those of their makers or measured, not of habit. " + _STAR + _NO_SUN,
        validity="lengths of zero or more that fit in the back focus, an index from 1 to 4",
        examples=(
            Example(
                "back_focus_spacer(55 mm, [17.5 mm, 20 mm], filter_thickness = 3 mm, filter_index = 1.5)", ("18.5 mm",)
            ),
            Example("back_focus_spacer(55 mm, [17.5 mm, 20 mm])", ("17.5 mm",)),
        ),
        work=_back_focus_spacer,
    ),
    Calculation(
        name="plate_scale",
        topic="optics_focus",
        parameters=(
            Parameter("focal_length", LENGTH, "focal length of the instrument", above="0 mm"),
            Parameter("pixel", LENGTH, "size of a pixel, or any length in the focal plane", above="0 mm"),
        ),
        results=(Result("scale", ANGLE, "how much sky falls on it, in the middle of the field", unit="arcsec"),),
        formula="2 * arctangent of (pixel / (2 * focal_length)); for small ones 206265 arcsec * pixel / focal_length",
        source="geometry of an image in the focal plane",
        standing="computed",
        caution="The focal length of a mirror telescope changes as it is focused: measure the scale on known stars.",
        validity="a focal length and a pixel above zero",
        examples=(Example("plate_scale(1200 mm, 5 µm)", ("0.85944 arcsec",)),),
        work=_plate_scale,
    ),
    Calculation(
        name="collimation_budget",
        topic="optics_focus",
        parameters=(Parameter("parts", ANGLE, "the tilt each source of error may leave", series=True),),
        results=(
            Result("worst", ANGLE, "all of them at their worst, in one direction"),
            Result("likely", ANGLE, "root of the sum of squares: for sources that have nothing to do with each other"),
        ),
        formula="sum of the sizes, and square root of the sum of squares",
        source="addition of independent errors (JCGM 100:2008, 5.1.2) beside their plain sum",
        standing="computed",
        caution=_STAR,
        safe_direction="up",
        examples=(Example("collimation_budget([30 arcsec, 40 arcsec, 120 arcsec])", ("190 arcsec", "130 arcsec")),),
        work=_collimation_budget,
    ),
)
