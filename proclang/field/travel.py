"""Travel of an axis: how far it runs on after a stop, and the middle between its stops."""

from __future__ import annotations

from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Like, Parameter, Result
from proclang.values.dimension import ANGLE, ANGULAR_ACCELERATION, ANGULAR_SPEED, TIME
from proclang.values.quantity import Quantity


def _stopping_distance(speed: Fraction, deceleration: Fraction, latency: Fraction) -> Fraction:
    if deceleration <= 0:
        raise CannotCompute("the deceleration must be above zero; give its size, without a sign")
    if latency < 0:
        raise CannotCompute("the latency is below zero")
    speed = abs(speed)
    return speed * latency + speed * speed / (2 * deceleration)


def _mid_travel(plus: Fraction, minus: Fraction) -> Fraction:
    if plus <= minus:
        raise CannotCompute(
            "the plus stop must read more than the minus stop; are they exchanged, or is the sign wrong?"
        )
    return (plus + minus) / 2


CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="stopping_distance",
        topic="travel",
        parameters=(
            Parameter("speed", ANGULAR_SPEED, "speed when the stop is commanded; its size counts, not its direction"),
            Parameter("deceleration", ANGULAR_ACCELERATION, "how fast the speed is taken off, above zero"),
            Parameter(
                "latency",
                TIME,
                "time from the command until the speed begins to fall",
                default=Quantity(Fraction(0), TIME),
            ),
        ),
        results=(Result("distance", ANGLE, "angle run from the command to standstill, never below zero"),),
        formula="speed * latency + speed^2 / (2 * deceleration)",
        source="kinematics of constant deceleration",
        standing="arithmetic",
        caution=(
            "The distance holds for the deceleration the drive really makes under this load. Prove each travel limit"
            " at creep speed, people clear and the emergency stop in hand, and add a margin; the sum does not show"
            " that the axis stops."
        ),
        safe_direction="up",
        validity="a deceleration above zero, a latency of zero or more",
        exact=True,
        work=_stopping_distance,
    ),
    Calculation(
        name="mid_travel",
        topic="travel",
        parameters=(
            Parameter("plus", Like("a"), "readout at the stop reached by moving plus"),
            Parameter("minus", Like("a"), "readout at the stop reached by moving minus, on the same count of turns"),
        ),
        results=(Result("middle", Like("a"), "readout halfway between the stops"),),
        formula="(plus + minus) / 2",
        source="definition",
        standing="arithmetic",
        caution=(
            "Valid only while the readout counts on past a full turn and was not reset between the stops; a wrong"
            " middle winds the cables up one way."
        ),
        validity="a plus stop that reads more than the minus stop",
        exact=True,
        work=_mid_travel,
    ),
)
