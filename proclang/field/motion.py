"""Motion of an axis: time of a slew, time to stop, what a stop within a distance asks of the drive."""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import ANGLE, ANGULAR_ACCELERATION, ANGULAR_SPEED, TIME
from proclang.values.quantity import Quantity

_NO_TIME = Quantity(Fraction(0), TIME)


def _slew_time(angle: float, speed: float, acceleration: float) -> tuple[float, float]:
    angle = abs(angle)
    if angle * acceleration <= speed * speed:
        top = math.sqrt(angle * acceleration)
        return 2 * top / acceleration, top
    return angle / speed + speed / acceleration, speed


def _stopping_time(speed: float, deceleration: float, latency: float) -> float:
    return latency + abs(speed) / deceleration


def _deceleration_for(speed: float, distance: float, latency: float) -> float:
    left = distance - abs(speed) * latency
    if left <= 0:
        raise CannotCompute("the latency alone takes the whole distance: go slower, or stop sooner")
    return speed * speed / (2 * left)


_CAUTION = (
    "The drive may do less under load, in the cold or on a low battery. Try the axis at creep speed first, people"
    " clear of its sweep and the emergency stop in hand; the maker's figures come first."
)
_LATENCY = Parameter(
    "latency", TIME, "time from the command until the speed begins to fall", default=_NO_TIME, least="0 s"
)

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="slew_time",
        topic="motion",
        parameters=(
            Parameter("angle", ANGLE, "how far the axis turns; its size counts"),
            Parameter("speed", ANGULAR_SPEED, "the speed it does not go above", above="0 deg/s"),
            Parameter(
                "acceleration", ANGULAR_ACCELERATION, "how fast it gains and loses speed, the same", above="0 deg/s^2"
            ),
        ),
        results=(
            Result("time", TIME, "from standstill to standstill"),
            Result("top", ANGULAR_SPEED, "the greatest speed on the way", unit="deg/s"),
        ),
        formula=(
            "angle / speed + speed / acceleration where the speed is reached, otherwise 2 * square root of"
            " (angle / acceleration)"
        ),
        source="kinematics of constant acceleration",
        standing="arithmetic",
        caution=_CAUTION,
        validity="a speed and an acceleration above zero; settling and latency are not in it",
        examples=(Example("slew_time(90 deg, 4 deg/s, 2 deg/s^2)", ("24.5 s", "4.0 deg/s")),),
        work=_slew_time,
    ),
    Calculation(
        name="stopping_time",
        topic="motion",
        parameters=(
            Parameter("speed", ANGULAR_SPEED, "speed when the stop is commanded; its size counts"),
            Parameter("deceleration", ANGULAR_ACCELERATION, "how fast the speed is taken off", above="0 deg/s^2"),
            _LATENCY,
        ),
        results=(Result("time", TIME, "from the command to standstill"),),
        formula="latency + speed / deceleration",
        source="kinematics of constant deceleration",
        standing="arithmetic",
        caution=_CAUTION,
        safe_direction="up",
        validity="a deceleration above zero, a latency of zero or more",
        examples=(Example("stopping_time(4 deg/s, 2 deg/s^2, latency = 250 ms)", ("2.25 s",)),),
        work=_stopping_time,
    ),
    Calculation(
        name="deceleration_for",
        topic="motion",
        parameters=(
            Parameter("speed", ANGULAR_SPEED, "speed when the stop is commanded; its size counts"),
            Parameter("distance", ANGLE, "angle within which the axis must stand still", above="0 deg"),
            _LATENCY,
        ),
        results=(
            Result(
                "deceleration",
                ANGULAR_ACCELERATION,
                "the least deceleration that stops it within the distance",
                unit="deg/s^2",
            ),
        ),
        formula="speed^2 / (2 * (distance - speed * latency))",
        source="kinematics of constant deceleration",
        standing="arithmetic",
        caution=_CAUTION,
        safe_direction="up",
        validity="a distance longer than what is run during the latency",
        examples=(Example("deceleration_for(4 deg/s, 5 deg, latency = 250 ms)", ("2 deg/s^2",)),),
        work=_deceleration_for,
    ),
)
