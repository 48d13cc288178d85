"""Rigging sums: the load in a sling leg, and what a sling of several legs may carry.

Arithmetic only, no lift plan: a competent person decides. A load is a mass, as the tags on slings are marked in
kilograms or tonnes; `hanging_force` makes a pull of it, for standard gravity. A sling angle is never
given bare: it is written from the horizontal, from the vertical, or included between two legs that face each other
across the hook, and below 30 deg from the horizontal everything is refused.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import ANGLE, FORCE, LENGTH, MASS, NUMBER

STANDARD_GRAVITY = 9.80665
"""m/s^2, exact by definition (3rd CGPM, 1901)."""

NO_PLAN = "Arithmetic only, no lift plan: a competent person decides."
RIGGING_CAUTION = (
    f"{NO_PLAN} Local rules, the makers' tables and the tags on the gear come before this sum; nobody stands under the"
    " load or between it and something fixed."
)

ANGLES = (
    Parameter(
        "from_horizontal",
        ANGLE,
        "angle of the leg from the horizontal",
        optional=True,
        named=True,
        least="30 deg",
        most="90 deg",
    ),
    Parameter(
        "from_vertical",
        ANGLE,
        "angle of the leg from the vertical",
        optional=True,
        named=True,
        least="0 deg",
        most="60 deg",
    ),
    Parameter(
        "included",
        ANGLE,
        "angle at the hook between two equal legs that face each other, on four legs those across the diagonal",
        optional=True,
        named=True,
        least="0 deg",
        most="120 deg",
    ),
)
"""The angle of a sling leg; a calculation has them as one group of which exactly one is given."""
ANGLE_GROUP = ("from_horizontal", "from_vertical", "included")
LEG_RANGE = "a leg 30 deg to 90 deg from the horizontal"

WEIGHT = Parameter("weight", MASS, "weight on the hook, with hook and gear, see `lift_weight`", above="0 kg")


def above_horizontal(from_horizontal: float | None, from_vertical: float | None, included: float | None) -> float:
    """The angle of a leg from the horizontal in radians, whichever of the three was given."""
    if from_horizontal is not None:
        return from_horizontal
    if from_vertical is not None:
        return math.pi / 2 - from_vertical
    if included is not None:
        return math.pi / 2 - included / 2
    raise CannotCompute("the angle of the leg is missing")


def factor_of(*angles: float | None) -> float:
    """What the load on a leg is multiplied by for its angle: 1 on a vertical leg, 2 at 30 deg from the horizontal."""
    return 1 / math.sin(above_horizontal(*angles))


def _tension_factor(from_horizontal: float | None, from_vertical: float | None, included: float | None) -> float:
    return factor_of(from_horizontal, from_vertical, included)


def _tension_factor_by_length(leg: float, height: float) -> float:
    if height > leg:
        raise CannotCompute("the hook cannot be higher above the picks than a leg is long")
    if leg > 2 * height * (1 + 1e-12):
        raise CannotCompute("the leg is below 30 deg from the horizontal: use a longer leg or a beam")
    return leg / height


def _sling_tension(share: float, *angles: float | None) -> float:
    return share * factor_of(*angles)


def _leg_tension(weight: float, legs: int, *angles: float | None) -> float:
    angle = above_horizontal(*angles)
    if legs == 1 and angle < math.radians(90 - 1e-9):
        raise CannotCompute("a single leg hangs vertical: its angle from the horizontal is 90 deg")
    return weight / (legs * math.sin(angle))


def _four_leg_tension(weight: float, *angles: float | None) -> tuple[float, float, float]:
    factor = factor_of(*angles)
    return weight / 2 * factor, weight / 3 * factor, weight / 4 * factor


def _hanging_force(mass: float) -> float:
    return mass * STANDARD_GRAVITY


def _bridle_tension(
    weight: float, first_horizontal: float | None, first_vertical: float | None, second_h: float | None,
    second_v: float | None,
) -> tuple[float, float]:  # fmt: skip
    first = above_horizontal(first_horizontal, first_vertical, None)
    second = above_horizontal(second_h, second_v, None)
    if first + second > math.pi - 1e-9:
        raise CannotCompute("two vertical legs do not meet in one hook; see `two_picks`")
    across = math.sin(first + second)
    return weight * math.cos(second) / across, weight * math.cos(first) / across


def _sling_capacity(leg_capacity: float, legs: int, *angles: float | None) -> tuple[float, float, float]:
    angle = above_horizontal(*angles)
    steep = angle >= math.radians(45 - 1e-9)
    mode = (1.4 if legs == 2 else 2.1) if steep else (1.0 if legs == 2 else 1.5)
    slack = min(legs, 3 if legs == 3 else 2) * math.sin(angle) * leg_capacity
    uniform = mode * leg_capacity
    return min(slack, uniform), slack, uniform


def _angled(
    name: str,
    first: tuple[Parameter, ...],
    results: tuple[Result, ...],
    formula: str,
    example: Example,
    work: Callable[..., object],
    *,
    source: str = "statics of a hanging load",
    standing: str = "computed",
    caution: str = RIGGING_CAUTION,
    validity: str = LEG_RANGE,
    safe_direction: str = "",
) -> Calculation:
    return Calculation(
        name=name,
        topic="rigging",
        parameters=(*first, *ANGLES),
        results=results,
        formula=formula,
        source=source,
        standing=standing,
        caution=caution,
        validity=validity,
        safe_direction=safe_direction,
        one_of=(ANGLE_GROUP,),
        print_standing=True,
        examples=(example,),
        work=work,
    )


_FIRST, _SECOND = (
    tuple(
        Parameter(
            f"{leg}_{way}", ANGLE, f"angle of the {leg} leg from the {way[5:]}", optional=True, named=True, least=least,
            most=most,
        )
        for way, least, most in (("from_horizontal", "30 deg", "90 deg"), ("from_vertical", "0 deg", "60 deg"))
    )
    for leg in ("first", "second")
)  # fmt: skip

CALCULATIONS: tuple[Calculation, ...] = (
    _angled(
        "tension_factor",
        (),
        (Result("factor", NUMBER, "pull along the leg over the weight it carries"),),
        "1 / sine of the angle from the horizontal",
        Example("tension_factor(from_vertical = 30 deg)", ("1.155",)),
        _tension_factor,
        source="statics of a leg; agrees with a sling angle chart",
        safe_direction="up",
    ),
    Calculation(
        name="tension_factor_by_length",
        topic="rigging",
        parameters=(
            Parameter("leg", LENGTH, "length of the leg from the pick to the hook", named=True, above="0 m"),
            Parameter("height", LENGTH, "height of the hook above the picks", named=True, above="0 m"),
        ),
        results=(Result("factor", NUMBER, "pull along the leg over the weight it carries"),),
        formula="leg / height",
        source="statics of a leg; agrees with a worked example in a sling guide",
        standing="computed",
        caution=RIGGING_CAUTION,
        safe_direction="up",
        validity=LEG_RANGE,
        print_standing=True,
        examples=(Example("tension_factor_by_length(leg = 120 inch, height = 96 inch)", ("1.25",)),),
        work=_tension_factor_by_length,
    ),
    _angled(
        "sling_tension",
        (Parameter("share", MASS, "weight that this one leg carries, see `two_picks` and others", above="0 kg"),),
        (Result("leg", MASS, "load along the leg, to compare with its tag"),),
        "share / sine of the angle from the horizontal",
        Example("sling_tension(328 kg, from_horizontal = 60 deg)", ("378.7 kg",)),
        _sling_tension,
        safe_direction="up",
    ),
    _angled(
        "leg_tension",
        (
            WEIGHT,
            Parameter("legs", NUMBER, "how many equal legs: 1, 2 or 3", whole=True, named=True, least="1", most="3"),
        ),
        (Result("leg", MASS, "load along each leg, to compare with its tag"),),
        "weight / (legs * sine of the angle from the horizontal)",
        Example("leg_tension(1000 kg, legs = 2, from_horizontal = 60 deg)", ("577.4 kg",)),
        _leg_tension,
        caution=f"{RIGGING_CAUTION} Off the middle one leg carries more: see `two_picks`, `three_picks`.",
        safe_direction="up",
        validity=f"one to three equal legs, the centre of gravity below the hook and in the middle; {LEG_RANGE}; four"
        " legs have a calculation of their own",
    ),
    _angled(
        "four_leg_tension",
        (WEIGHT,),
        (
            Result("slack_leg", MASS, "load along a leg when two across the diagonal carry all: the one to use"),
            Result("three_legs", MASS, "by the rule that counts three legs of four; for comparison only"),
            Result("equal", MASS, "by the rule that all four share alike; for comparison only"),
        ),
        "weight / (2 * sine of the angle from the horizontal); the others with 3 and 4 in place of 2",
        Example("four_leg_tension(2400 kg, from_horizontal = 45 deg)", ("1697.1 kg", "1131.4 kg", "848.5 kg")),
        _four_leg_tension,
        source="statics of a rigid load on two legs of four; counting only two is rigging practice, from memory",
        standing="from memory",
        caution=f"{RIGGING_CAUTION} Off the middle a leg carries more than half: see `four_picks`.",
        safe_direction="up",
        validity=f"four equal legs, the centre of gravity below the hook and in the middle; {LEG_RANGE}",
    ),
    Calculation(
        name="hanging_force",
        topic="rigging",
        parameters=(Parameter("mass", MASS, "a load, or the load along a leg", above="0 kg"),),
        results=(Result("force", FORCE, "its pull at standard gravity", unit="kN"),),
        formula="mass * 9.80665 m/s^2",
        source="standard gravity, exact by definition (3rd CGPM, 1901)",
        standing="arithmetic",
        caution=RIGGING_CAUTION,
        safe_direction="up",
        validity="a load that hangs still; what starts, stops or swings pulls more",
        print_standing=True,
        examples=(Example("hanging_force(577.35 kg)", ("5.662 kN",)),),
        work=_hanging_force,
    ),
    Calculation(
        name="bridle_tension",
        topic="rigging",
        parameters=(WEIGHT, *_FIRST, *_SECOND),
        results=(
            Result("first", MASS, "load along the first leg, to compare with its tag"),
            Result("second", MASS, "load along the second leg"),
        ),
        formula="weight * cos(other angle) / sin(sum of both angles), angles from the horizontal",
        source="statics of two legs in one plane on one hook",
        standing="computed",
        caution=RIGGING_CAUTION,
        safe_direction="up",
        validity=f"two legs that meet in one hook, not both vertical; each {LEG_RANGE}",
        one_of=(tuple(p.name for p in _FIRST), tuple(p.name for p in _SECOND)),
        print_standing=True,
        examples=(
            Example(
                "bridle_tension(1000 kg, first_from_horizontal = 60 deg, second_from_vertical = 45 deg)",
                ("732.05 kg", "517.64 kg"),
            ),
        ),
        work=_bridle_tension,
    ),
    _angled(
        "sling_capacity",
        (
            Parameter("leg_capacity", MASS, "rated capacity of one leg hanging straight, from its tag", above="0 kg"),
            Parameter("legs", NUMBER, "how many equal legs: 2, 3 or 4", whole=True, named=True, least="2", most="4"),
        ),
        (
            Result("capacity", MASS, "the lower of the two below"),
            Result("slack_leg", MASS, "by statics: two legs of two or four, three of three"),
            Result("uniform_load", MASS, "by the mode factor of EN 818-4"),
        ),
        "the lower of legs that carry * sine of the angle from the horizontal * leg_capacity, and mode factor *"
        " leg_capacity; mode factor to 45 deg from the vertical 1.4 (two legs) and 2.1 (three or four), to 60 deg 1.0"
        " and 1.5",
        Example("sling_capacity(1 t, legs = 4, from_vertical = 45 deg)", ("1.414 t", "1.414 t", "2.1 t")),
        _sling_capacity,
        source="statics; mode factors of the uniform load method of EN 818-4, from memory",
        standing="from memory",
        caution=f"{RIGGING_CAUTION} A sling's own tag comes before both.",
        safe_direction="down",
        validity=f"two to four equal legs, the centre of gravity in the middle; {LEG_RANGE}",
    ),
)
