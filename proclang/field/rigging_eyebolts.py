"""Eyebolts and shackles by table. Each standard has its own calculation; none is mixed with another.

Tables are never interpolated upward: between two sizes the smaller one holds, between two angles the greater one.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.rigging import RIGGING_CAUTION
from proclang.values.dimension import ANGLE, LENGTH, MASS, NUMBER

_MM = Fraction(1, 1000)
_INCH = Fraction(254, 10000)
_POUND = Fraction(45359237, 10**8)

# DIN 580, annex A, table A.1: nominal diameter in mm; kilograms on a single strand along the shank, and on the double
# strand at 45 deg. Five sizes read in a page that reproduces the table; it does not say whether the figure at 45 deg
# is for one bolt or for the pair.
DIN_580: tuple[tuple[int, int, int], ...] = (
    (8, 140, 100),
    (12, 340, 240),
    (20, 1200, 860),
    (30, 3200, 2300),
    (36, 4600, 3300),
)

# ASME B18.15, carbon steel, with shoulder: nominal diameter in inches; pounds at 0, 30, 60 and 90 deg from the shank,
# None where the table says "not recommended". Five sizes read in a page that reproduces the table.
B18_15: tuple[tuple[Fraction, tuple[int | None, ...]], ...] = (
    (Fraction(1, 4), (400, 75, None, None)),
    (Fraction(1, 2), (1840, 850, 520, 440)),
    (Fraction(3, 4), (4340, 2230, 1310, 1140)),
    (Fraction(5, 4), (12600, 6200, 4125, 3690)),
    (Fraction(2), (32500, 15970, 10910, 9740)),
)
_B18_15_ANGLES = (0, 30, 60, 90)

# A trade rule read in two pages: up to this angle from the shank, this share of the rated capacity.
DERATING = ((5, "1"), (15, "0.80"), (30, "0.65"), (45, "0.30"), (90, "0.25"))

# ASME B30.26 style, read in three pages, and its bands in the text of a state code: degrees from in-line, share.
SIDE_LOAD = ((5, "1"), (45, "0.70"), (90, "0.50"))


def up_to(bands: Sequence[tuple[int, str]], angle: Fraction) -> Fraction:
    """The share of the first band that reaches this angle in degrees."""
    for most, share in bands:
        if angle <= most:
            return Fraction(share)
    raise CannotCompute(f"an angle above {bands[-1][0]} deg is not permitted")


def _eyebolt_din_580(nominal: Fraction, from_axis: Fraction) -> Fraction:
    size = nominal / _MM
    if size % 1 != 0:
        raise CannotCompute("the diameter is no whole number of millimetres; DIN 580 is for metric threads")
    rows = [row for row in DIN_580 if row[0] <= size]
    if not rows or size > DIN_580[-1][0]:
        raise CannotCompute(f"the sizes known run from M{DIN_580[0][0]} to M{DIN_580[-1][0]}; take the maker's figure")
    _, axial, slanted = rows[-1]
    if from_axis == 0:
        return Fraction(axial)
    # One bolt or the pair: unconfirmed, so the pair, of which one bolt has half.
    return Fraction(slanted, 2)


def _eyebolt_b18_15(nominal: Fraction, from_axis: Fraction) -> Fraction:
    size = nominal / _INCH
    if size * 16 % 1 != 0:
        raise CannotCompute("the diameter is no multiple of 1/16 inch; ASME B18.15 is for inch threads")
    rows = [row for row in B18_15 if row[0] <= size]
    if not rows or size > B18_15[-1][0]:
        raise CannotCompute("the sizes known run from 1/4 inch to 2 inch; take the maker's figure")
    column = next(k for k, angle in enumerate(_B18_15_ANGLES) if from_axis <= angle)
    pounds = rows[-1][1][column]
    if pounds is None:
        raise CannotCompute("at this angle the table says of this size that it is not recommended")
    return pounds * _POUND


def _eyebolt_derated(rated: Fraction, from_axis: Fraction) -> Fraction:
    return rated * up_to(DERATING, from_axis)


def _eyebolt_seat(nominal: Fraction) -> tuple[Fraction, Fraction, Fraction]:
    return nominal * 3 / 2, _INCH / 16, Fraction(5)


def _shackle_side_load(rated: Fraction, from_in_line: Fraction) -> Fraction:
    return rated * up_to(SIDE_LOAD, from_in_line)


def _shackle_two_legs(rated: Fraction, included: Fraction) -> Fraction:
    return rated


_NOMINAL = Parameter("nominal", LENGTH, "nominal diameter of the thread", above="0 mm")
_RATED = Parameter("rated", MASS, "rated capacity in line, marked on the piece or in the maker's list", above="0 kg")
_EYEBOLT_CAUTION = (
    f"{RIGGING_CAUTION} The shoulder has to sit flush and the pull to lie in the plane of the eye, never across it; an"
    " eyebolt without a shoulder is pulled along its shank only. The marking on the bolt and its maker's figure come"
    " first."
)
_SHACKLE_CAUTION = f"{RIGGING_CAUTION} The pin is fully screwed in and secured, the load never hangs on the pin's side."
_NEIGHBOURS = "between sizes the smaller one holds, between angles the greater one"


def _from_axis(most: str) -> Parameter:
    return Parameter("from_axis", ANGLE, "angle of the pull from the shank", named=True, least="0 deg", most=most)


CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="eyebolt_din_580",
        topic="rigging_eyebolts",
        parameters=(_NOMINAL, _from_axis("45 deg")),
        results=(
            Result("capacity", MASS, "for one bolt; off the axis half the figure printed, which may be for a pair"),
        ),
        formula="looked up: single strand along the shank; at any other angle up to 45 deg half of the double strand",
        source="DIN 580 annex A table A.1, design factor 6, five sizes read in a page that reproduces it; whether the"
        " figure at 45 deg is for one bolt or for the pair is unconfirmed, the lower reading is used",
        standing="read",
        caution=_EYEBOLT_CAUTION,
        safe_direction="down",
        validity=f"M8, M12, M20, M30, M36, pulls up to 45 deg from the shank; {_NEIGHBOURS}",
        exact=True,
        print_standing=True,
        examples=(
            Example("eyebolt_din_580(12 mm, from_axis = 0 deg)", ("340 kg",)),
            Example("eyebolt_din_580(12 mm, from_axis = 45 deg)", ("120 kg",)),
        ),
        work=_eyebolt_din_580,
    ),
    Calculation(
        name="eyebolt_b18_15",
        topic="rigging_eyebolts",
        parameters=(_NOMINAL, _from_axis("90 deg")),
        results=(Result("capacity", MASS, "for one bolt", unit="lb"),),
        formula="looked up by size and angle",
        source="ASME B18.15, carbon steel with shoulder, five sizes read in a page that reproduces the table",
        standing="read",
        caution=_EYEBOLT_CAUTION,
        safe_direction="down",
        validity=f"1/4, 1/2, 3/4, 1 1/4, 2 inch at 0, 30, 60, 90 deg from the shank; {_NEIGHBOURS}; 1/4 inch not above"
        " 30 deg",
        exact=True,
        print_standing=True,
        examples=(Example("eyebolt_b18_15(1/2 inch, from_axis = 60 deg)", ("520 lb",)),),
        work=_eyebolt_b18_15,
    ),
    Calculation(
        name="eyebolt_derated",
        topic="rigging_eyebolts",
        parameters=(_RATED, _from_axis("90 deg")),
        results=(Result("capacity", MASS, "for one bolt at this angle"),),
        formula="rated * 100 % to 5 deg, 80 % to 15 deg, 65 % to 30 deg, 30 % to 45 deg, 25 % to 90 deg",
        source="a rule of the trade read in two pages, in no standard; DIN 580 and ASME B18.15 differ from it",
        standing="common practice, no source",
        caution=_EYEBOLT_CAUTION,
        safe_direction="down",
        validity="an eyebolt with a shoulder, up to 90 deg; between angles the greater one holds",
        exact=True,
        print_standing=True,
        examples=(Example("eyebolt_derated(500 kg, from_axis = 40 deg)", ("150 kg",)),),
        work=_eyebolt_derated,
    ),
    Calculation(
        name="eyebolt_seat",
        topic="rigging_eyebolts",
        parameters=(_NOMINAL,),
        results=(
            Result("engagement", LENGTH, "least length of thread in the load"),
            Result("spacer", LENGTH, "thickest spacer under the shoulder, whose seat must be full"),
            Result("design_factor", NUMBER, "least breaking load over rated capacity"),
        ),
        formula="1.5 * nominal; 1/16 inch; 5",
        source="DOE-STD-1090-96 section 12.4, read in a page that reproduces it; soft metals need more thread",
        standing="read",
        caution=_EYEBOLT_CAUTION,
        safe_direction="up",
        validity="threads in steel, a diameter above zero",
        exact=True,
        print_standing=True,
        examples=(Example("eyebolt_seat(20 mm)", ("30 mm", "1.5875 mm", "5")),),
        work=_eyebolt_seat,
    ),
    Calculation(
        name="shackle_side_load",
        topic="rigging_eyebolts",
        parameters=(
            _RATED,
            Parameter(
                "from_in_line",
                ANGLE,
                "angle of the pull from the line through pin and bow, in the plane of the bow",
                named=True,
                least="0 deg",
                most="90 deg",
            ),
        ),
        results=(Result("capacity", MASS, "for this pull"),),
        formula="rated * 100 % to 5 deg, 70 % to 45 deg, 50 % to 90 deg",
        source="ASME B30.26 style table read in three pages, bands read in the text of a state code",
        standing="read",
        caution=_SHACKLE_CAUTION,
        safe_direction="down",
        validity="screw pin and bolt type shackles, up to 90 deg, beyond only by the maker or a qualified person;"
        " between angles the greater one holds",
        exact=True,
        print_standing=True,
        examples=(Example("shackle_side_load(3.25 t, from_in_line = 30 deg)", ("2.275 t",)),),
        work=_shackle_side_load,
    ),
    Calculation(
        name="shackle_two_legs",
        topic="rigging_eyebolts",
        parameters=(
            _RATED,
            Parameter(
                "included",
                ANGLE,
                "angle between the two sling legs in the bow, evenly to both sides",
                named=True,
                least="0 deg",
                most="120 deg",
            ),
        ),
        results=(Result("capacity", MASS, "for what hangs on both legs together"),),
        formula="rated, up to 120 deg included",
        source="shackle guide read in a page that reproduces it",
        standing="read",
        caution=_SHACKLE_CAUTION,
        safe_direction="down",
        validity="two legs evenly to both sides of the shackle, included angle up to 120 deg; more is not permitted",
        exact=True,
        print_standing=True,
        examples=(Example("shackle_two_legs(3.25 t, included = 90 deg)", ("3.25 t",)),),
        work=_shackle_two_legs,
    ),
)
