"""Metric screw threads of the 60 degree profile: coarse pitch, diameters, stress area."""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import AREA, LENGTH, LENGTH_PER_ANGLE

# ISO 261, coarse series, first-choice diameters: nominal diameter and pitch, both in millimetres. Read in two
# independent pages that reproduce the standard, which agree; not read in the standard itself.
COARSE: dict[Fraction, Fraction] = {
    Fraction(nominal): Fraction(pitch)
    for nominal, pitch in (
        ("1", "0.25"), ("1.2", "0.25"), ("1.6", "0.35"), ("2", "0.4"), ("2.5", "0.45"), ("3", "0.5"), ("4", "0.7"),
        ("5", "0.8"), ("6", "1"), ("8", "1.25"), ("10", "1.5"), ("12", "1.75"), ("16", "2"), ("20", "2.5"), ("24", "3"),
        ("30", "3.5"), ("36", "4"), ("42", "4.5"), ("48", "5"), ("56", "5.5"), ("64", "6"),
    )
}  # fmt: skip

_PITCH_DIAMETER = 3 * math.sqrt(3) / 8
_MINOR_DIAMETER = 5 * math.sqrt(3) / 8
# From the same profile: (d2 + d3) / 2 with d3 = d1 - H/6 and H = P sqrt(3)/2, which is 0.9382 P to four figures.
STRESS_DIAMETER = 13 * math.sqrt(3) / 24

THREAD_CAUTION = (
    "A bolt holds only with its property class, lubrication and thread engagement as designed: the maker's values"
    " come before this sum, and a competent person decides on the load."
)


def _coarse_pitch(nominal: Fraction) -> Fraction:
    pitch = COARSE.get(nominal * 1000)
    if pitch is None:
        raise CannotCompute("this diameter is not a first-choice size; measure the pitch and write it instead")
    return pitch / 1000 / 360


def per_turn(nominal: float, pitch: float) -> float:
    """The advance per turn in metres, of a pitch per radian; a pitch no such thread can have is refused."""
    advance = pitch * 2 * math.pi
    if advance <= 0 or nominal <= 2 * _MINOR_DIAMETER * advance:
        raise CannotCompute("the pitch must be above zero and far smaller than the nominal diameter")
    return advance


def _thread_diameters(nominal: float, pitch: float) -> tuple[float, float]:
    advance = per_turn(nominal, pitch)
    return nominal - _PITCH_DIAMETER * advance, nominal - _MINOR_DIAMETER * advance


def _stress_area(nominal: float, pitch: float) -> float:
    stressed = nominal - STRESS_DIAMETER * per_turn(nominal, pitch)
    return math.pi / 4 * stressed * stressed


_NOMINAL = Parameter("nominal", LENGTH, "nominal diameter of the thread: 20 mm for an M20")
_PITCH = Parameter("pitch", LENGTH_PER_ANGLE, "how far the thread moves per turn")
_SLENDER = "a pitch above zero, and a nominal diameter more than 2.17 pitches"

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="coarse_pitch",
        topic="threads",
        parameters=(_NOMINAL,),
        results=(Result("pitch", LENGTH_PER_ANGLE, "how far a coarse thread moves per turn"),),
        formula="looked up in the table of the coarse series",
        source="ISO 261 coarse series, first-choice diameters, read in two pages that reproduce it",
        standing="read",
        caution="A stud may carry a fine thread: measure before relying on the coarse pitch.",
        validity="M1, 1.2, 1.6, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 30, 36, 42, 48, 56, 64",
        exact=True,
        print_standing=True,
        examples=(Example("coarse_pitch(20 mm)", ("2.5 mm/turn",)),),
        work=_coarse_pitch,
    ),
    Calculation(
        name="thread_diameters",
        topic="threads",
        parameters=(_NOMINAL, _PITCH),
        results=(
            Result("pitch_diameter", LENGTH, "basic pitch diameter"),
            Result("minor_diameter", LENGTH, "basic minor diameter"),
        ),
        formula="nominal - 3 sqrt(3)/8 * advance per turn; nominal - 5 sqrt(3)/8 * advance per turn",
        source="ISO 68-1 and ISO 724 profile, from memory; agrees with published diameters of five sizes",
        standing="computed",
        caution=THREAD_CAUTION,
        validity=_SLENDER,
        print_standing=True,
        examples=(Example("thread_diameters(20 mm, 2.5 mm/turn)", ("18.376 mm", "17.294 mm")),),
        work=_thread_diameters,
    ),
    Calculation(
        name="stress_area",
        topic="threads",
        parameters=(_NOMINAL, _PITCH),
        results=(Result("area", AREA, "nominal tensile stress area"),),
        formula="pi/4 * (nominal - 13 sqrt(3)/24 * advance per turn)^2, the factor being 0.9382",
        source="ISO 898-1, nominal stress area, read in pages that reproduce it",
        standing="read",
        caution=THREAD_CAUTION,
        validity=_SLENDER,
        print_standing=True,
        examples=(Example("stress_area(20 mm, 2.5 mm/turn)", ("244.79 mm^2",)),),
        work=_stress_area,
    ),
)
