"""What a hitch or a bend leaves of a sling's capacity, and how short a sling may be.

Between two entries of a table the more careful one holds. Rope and bend are given by their diameters, by name.
"""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.rigging import ANGLE_GROUP, ANGLES, LEG_RANGE, RIGGING_CAUTION, above_horizontal
from proclang.values.dimension import ANGLE, LENGTH, MASS, NUMBER

# ASME B30.9 figure, read in a sling guide: from this angle of choke on, this share of the choker rating.
CHOKE = ((90, "0.87"), (60, "0.74"), (30, "0.62"), (0, "0.49"))

# Wire rope over a pin or drum, read in a page that reproduces the table: from this D/d on, this share of the strength.
BENDING = ((40, "0.95"), (20, "0.91"), (10, "0.86"), (6, "0.79"), (2, "0.65"))

# Smallest D/d at which the rated basket capacity of a wire rope sling holds.
BASKET_RATIO = {"mechanical": 25, "hand_tucked": 15}

# DOE-STD-1090-96 chapter 11: clear length between loops or fittings, in diameters of what `rope_diameter` says.
CLEAR_LENGTH = {"wire_rope": 10, "braided": 40, "grommet": 96}


def _choker_capacity(rated: Fraction, angle_of_choke: Fraction) -> Fraction:
    share = Fraction(1)
    if angle_of_choke <= 120:
        share = next(Fraction(text) for least, text in CHOKE if angle_of_choke >= least)
    return rated * share


def _bending_efficiency(bend_diameter: Fraction, rope_diameter: Fraction) -> Fraction:
    ratio = bend_diameter / rope_diameter
    for least, text in BENDING:
        if ratio >= least:
            return Fraction(text)
    raise CannotCompute("the bend is sharper than twice the rope's diameter: use padding or a larger pin")


def _basket_capacity(
    rated: float, bend_diameter: float, rope_diameter: float, splice: str, *angles: float | None
) -> float:
    ratio, needed = bend_diameter / rope_diameter, BASKET_RATIO[splice]
    if ratio < needed * (1 - 1e-12):
        raise CannotCompute(f"the rating of this basket hitch holds from a bend of {needed} rope diameters on")
    return rated * math.sin(above_horizontal(*angles))


def _least_sling_length(rope_diameter: Fraction, make: str) -> Fraction:
    return rope_diameter * CLEAR_LENGTH[make]


_BEND = Parameter(
    "bend_diameter", LENGTH, "diameter of the pin, hook or edge the rope bends over", named=True, above="0 mm"
)
_ROPE = Parameter("rope_diameter", LENGTH, "diameter of the rope", named=True, above="0 mm")
_WIRE = f"{RIGGING_CAUTION} A kinked, birdcaged or broken-wired rope is not used."

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="choker_capacity",
        topic="rigging_hitches",
        parameters=(
            Parameter("rated", MASS, "rated capacity of the sling in a choker hitch, from its tag", above="0 kg"),
            Parameter(
                "angle_of_choke",
                ANGLE,
                "angle at the choke between the part that goes up and the body of the loop",
                named=True,
                least="0 deg",
                most="180 deg",
            ),
        ),
        results=(Result("capacity", MASS, "in this choker hitch"),),
        formula="rated * 100 % above 120 deg, 87 % from 90 deg, 74 % from 60 deg, 62 % from 30 deg, 49 % below",
        source="ASME B30.9 figure, read in a sling guide that reproduces it",
        standing="read",
        caution=f"{RIGGING_CAUTION} The angle of choke sets itself under load: do not beat the loop down.",
        safe_direction="down",
        validity="0 to 180 deg; between the bands of the table the lower share holds",
        exact=True,
        print_standing=True,
        examples=(Example("choker_capacity(800 kg, angle_of_choke = 100 deg)", ("696 kg",)),),
        work=_choker_capacity,
    ),
    Calculation(
        name="bending_efficiency",
        topic="rigging_hitches",
        parameters=(_BEND, _ROPE),
        results=(Result("efficiency", NUMBER, "part of the rope's strength left at the bend", unit="%"),),
        formula="95 % from a ratio of 40 on, 91 % from 20, 86 % from 10, 79 % from 6, 65 % from 2",
        source="table of wire rope bending efficiency, read in a page that reproduces it",
        standing="read",
        caution=_WIRE,
        safe_direction="down",
        validity="wire rope, a ratio of 2 or more; between ratios the smaller one holds",
        exact=True,
        print_standing=True,
        examples=(Example("bending_efficiency(bend_diameter = 60 mm, rope_diameter = 8 mm)", ("79 %",)),),
        work=_bending_efficiency,
    ),
    Calculation(
        name="basket_capacity",
        topic="rigging_hitches",
        parameters=(
            Parameter(
                "rated",
                MASS,
                "rated capacity of the wire rope sling in a basket hitch with both legs vertical",
                above="0 kg",
            ),
            _BEND,
            _ROPE,
            Parameter("splice", NUMBER, "how its loops are made", choices=("mechanical", "hand_tucked"), named=True),
            *ANGLES,
        ),
        results=(Result("capacity", MASS, "in this basket hitch"),),
        formula="rated * sine of the angle of the legs from the horizontal",
        source="statics; the bend of 25 rope diameters (hand tucked 15) is read in a page that reproduces the rating",
        standing="read",
        caution=f"{_WIRE} A load can slide out of a basket: it has to be balanced and held.",
        safe_direction="down",
        validity=f"a bend of 25 rope diameters for mechanical, 15 for hand tucked splices; {LEG_RANGE}",
        one_of=(ANGLE_GROUP,),
        print_standing=True,
        examples=(
            Example(
                "basket_capacity(2 t, bend_diameter = 300 mm, rope_diameter = 10 mm, splice = mechanical,"
                " from_horizontal = 60 deg)",
                ("1.732 t",),
            ),
        ),
        work=_basket_capacity,
    ),
    Calculation(
        name="least_sling_length",
        topic="rigging_hitches",
        parameters=(
            Parameter(
                "rope_diameter",
                LENGTH,
                "diameter of the rope; of one component rope in a braided sling; of the body in a grommet",
                named=True,
                above="0 mm",
            ),
            Parameter("make", NUMBER, "how the sling is made", choices=("wire_rope", "braided", "grommet"), named=True),
        ),
        results=(
            Result(
                "length", LENGTH, "least clear length between loops or fittings; for a grommet its least circumference"
            ),
        ),
        formula="10 rope diameters (6x19, 6x37, cable-laid); braided 40; grommet or endless 96",
        source="DOE-STD-1090-96 chapter 11, read in a page that reproduces it",
        standing="read",
        caution=_WIRE,
        safe_direction="up",
        validity="wire rope slings",
        exact=True,
        print_standing=True,
        examples=(Example("least_sling_length(rope_diameter = 12 mm, make = wire_rope)", ("120 mm",)),),
        work=_least_sling_length,
    ),
)
