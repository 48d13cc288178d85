"""Lifting by hand: the revised lifting equation of 1991 for one person, and what a team makes of it."""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import ANGLE, LENGTH, MASS, NUMBER, TIME
from proclang.values.quantity import Quantity

_LOAD_CONSTANT = 23.0
# Lifts per minute, then the multiplier for up to 1 h, 2 h and 8 h of lifting: hands below 75 cm, hands at 75 cm and
# above. From memory of the tables of the equation.
_FREQUENCY: tuple[tuple[float, tuple[float, float], tuple[float, float], tuple[float, float]], ...] = (
    (0.2, (1.00, 1.00), (0.95, 0.95), (0.85, 0.85)),
    (0.5, (0.97, 0.97), (0.92, 0.92), (0.81, 0.81)),
    (1, (0.94, 0.94), (0.88, 0.88), (0.75, 0.75)),
    (2, (0.91, 0.91), (0.84, 0.84), (0.65, 0.65)),
    (3, (0.88, 0.88), (0.79, 0.79), (0.55, 0.55)),
    (4, (0.84, 0.84), (0.72, 0.72), (0.45, 0.45)),
    (5, (0.80, 0.80), (0.60, 0.60), (0.35, 0.35)),
    (6, (0.75, 0.75), (0.50, 0.50), (0.27, 0.27)),
    (7, (0.70, 0.70), (0.42, 0.42), (0.22, 0.22)),
    (8, (0.60, 0.60), (0.35, 0.35), (0.18, 0.18)),
    (9, (0.52, 0.52), (0.30, 0.30), (0.00, 0.15)),
    (10, (0.45, 0.45), (0.26, 0.26), (0.00, 0.13)),
    (11, (0.41, 0.41), (0.00, 0.23), (0.00, 0.00)),
    (12, (0.37, 0.37), (0.00, 0.21), (0.00, 0.00)),
    (13, (0.00, 0.34), (0.00, 0.00), (0.00, 0.00)),
    (14, (0.00, 0.31), (0.00, 0.00), (0.00, 0.00)),
    (15, (0.00, 0.28), (0.00, 0.00), (0.00, 0.00)),
)
_DURATIONS = ("up_to_1_h", "up_to_2_h", "up_to_8_h")
_TEAM = {2: 2 / 3, 3: 1 / 2}


def frequency_multiplier(per_minute: float, duration: str, high: bool) -> float:
    """The multiplier of the next printed frequency that is not below the given one; zero above the table."""
    column = _DURATIONS.index(duration)
    for most, *columns in _FREQUENCY:
        if per_minute <= most * (1 + 1e-9):
            return columns[column][1 if high else 0]
    return 0.0


def _one_person_limit(
    reach: float, hands: float, travel: float, twist: float, every: float, duration: str, grip: str
) -> float:
    high = hands >= 0.75 - 1e-9
    coupling = {"good": 1.0, "fair": 1.0 if high else 0.95, "poor": 0.9}[grip]
    frequency = frequency_multiplier(60 / every, duration, high)
    if frequency == 0:
        raise CannotCompute("for lifts as frequent as this the equation recommends no weight at all: use a machine")
    return (
        _LOAD_CONSTANT
        * (0.25 / max(reach, 0.25))
        * (1 - 0.3 * abs(hands - 0.75))
        * min(1.0, 0.82 + 0.045 / max(travel, 0.25))
        * (1 - 0.0032 * math.degrees(twist))
        * frequency
        * coupling
    )


def _lifting_index(mass: float, limit: float) -> float:
    return mass / limit


def _team_limit(limit: float, people: int) -> float:
    factor = _TEAM.get(people)
    if factor is None:
        raise CannotCompute("the rule is for two or three people; with more, nobody sees what the others carry")
    return limit * people * factor


_CAUTION = (
    "A number does not know the person, the floor, the weather or the grip. It is for standing, two-handed, smooth"
    " lifting by somebody fit for it. Try a corner first, use a lifting aid where there is one; local rules and the"
    " competent person on site come first."
)
_EQUATION = (
    "revised lifting equation of the United States institute for occupational health (Waters and others, 1993), metric"
    " form, its table of frequencies included, from memory"
)

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="one_person_limit",
        topic="lifting",
        parameters=(
            Parameter(
                "reach",
                LENGTH,
                "from the middle between the ankles to the hands, level, where they are farthest out",
                named=True,
                above="0 cm",
                most="63 cm",
            ),
            Parameter(
                "hands",
                LENGTH,
                "height of the hands above the floor at the start",
                named=True,
                least="0 cm",
                most="175 cm",
            ),
            Parameter("travel", LENGTH, "how far the hands move up or down", named=True, least="0 cm", most="175 cm"),
            Parameter(
                "twist",
                ANGLE,
                "how far the load is to the side of straight ahead",
                default=Quantity(Fraction(0), ANGLE),
                named=True,
                least="0 deg",
                most="135 deg",
            ),
            Parameter(
                "every", TIME, "time from one lift to the next; 5 min or more is a single lift", named=True, above="0 s"
            ),
            Parameter("duration", NUMBER, "how long the lifting goes on", choices=_DURATIONS),
            Parameter("grip", NUMBER, "how the hands hold it", choices=("good", "fair", "poor")),
        ),
        results=(Result("limit", MASS, "recommended weight limit for one person", unit="kg"),),
        formula=(
            "23 kg * (25 cm / reach) * (1 - 0.003 * |hands - 75 cm| / cm) * (0.82 + 4.5 cm / travel)"
            " * (1 - 0.0032 * twist / deg) * frequency multiplier * grip multiplier"
        ),
        source=_EQUATION,
        standing="from memory",
        caution=_CAUTION,
        safe_direction="down",
        validity=(
            "a reach up to 63 cm, hands up to 175 cm, twist up to 135 deg; reach and travel below 25 cm count as 25 cm;"
            " between printed frequencies the more frequent one is taken"
        ),
        examples=(
            Example(
                "one_person_limit(reach = 40 cm, hands = 60 cm, travel = 50 cm, twist = 30 deg, every = 5 min,"
                " duration = up_to_1_h, grip = fair)",
                ("10.73 kg",),
            ),
        ),
        work=_one_person_limit,
    ),
    Calculation(
        name="lifting_index",
        topic="lifting",
        parameters=(
            Parameter("mass", MASS, "mass that is to be lifted", least="0 kg"),
            Parameter("limit", MASS, "the recommended limit for this lift", above="0 kg"),
        ),
        results=(Result("index", NUMBER, "mass over limit: above 1 more than recommended"),),
        formula="mass / limit",
        source=_EQUATION,
        standing="from memory",
        caution=_CAUTION,
        safe_direction="up",
        validity="a limit above zero",
        examples=(Example("lifting_index(18 kg, 10.73 kg)", ("1.68",)),),
        work=_lifting_index,
    ),
    Calculation(
        name="team_limit",
        topic="lifting",
        parameters=(
            Parameter("limit", MASS, "what one of them may lift in this place", above="0 kg"),
            Parameter("people", NUMBER, "how many lift, two or three", whole=True),
        ),
        results=(Result("limit", MASS, "what they may lift together", unit="kg"),),
        formula="limit * people * 2/3 for two people, limit * people * 1/2 for three",
        source="guidance on handling by teams: two thirds of the sum for two people, half of it for three",
        standing="common practice, no source",
        caution=_CAUTION,
        safe_direction="down",
        validity="two or three people of like strength and height, one of whom gives the words",
        examples=(Example("team_limit(18 kg, 2)", ("24 kg",)), Example("team_limit(18 kg, 3)", ("27 kg",))),
        work=_team_limit,
    ),
)
