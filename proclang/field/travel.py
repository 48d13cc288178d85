"""Travel of an axis: its stops, the limits inside them, the readout, the cables that wind up."""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Example, Like, Parameter, Result
from proclang.values.dimension import ANGLE, ANGULAR_ACCELERATION, ANGULAR_SPEED, NUMBER, TIME
from proclang.values.quantity import Quantity

_TURN = Fraction(360)


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


def _inset(plus: Fraction, minus: Fraction, overrun: Fraction, backlash: Fraction) -> Fraction:
    _mid_travel(plus, minus)
    if overrun < 0 or backlash < 0:
        raise CannotCompute("the overrun and the backlash are sizes, without a sign")
    inset = overrun + backlash
    if plus - minus <= 2 * inset:
        raise CannotCompute("no travel is left between the limits: the overrun and the backlash take all of it")
    return inset


def _plus_limit(plus: Fraction, minus: Fraction, overrun: Fraction, backlash: Fraction) -> Fraction:
    return plus - _inset(plus, minus, overrun, backlash)


def _minus_limit(plus: Fraction, minus: Fraction, overrun: Fraction, backlash: Fraction) -> Fraction:
    return minus + _inset(plus, minus, overrun, backlash)


def _mark_error(mark: Fraction, plus: Fraction, minus: Fraction) -> Fraction:
    if not minus <= mark <= plus:
        raise CannotCompute("the mark lies outside the stops; was the readout reset, or are the stops exchanged?")
    return mark - _mid_travel(plus, minus)


def _readout_sign(before: Fraction, after: Fraction, commanded: str, least: Fraction) -> Fraction:
    if least <= 0:
        raise CannotCompute("the least movement that proves anything must be above zero")
    moved = after - before
    if abs(moved) < least:
        raise CannotCompute(
            "the readout moved too little to prove anything: jog farther, or find out whether it is connected"
        )
    return Fraction(1 if (moved > 0) == (commanded == "plus") else -1)


def _wrap_count(readout: Fraction, middle: Fraction) -> tuple[Fraction, Fraction]:
    away = readout - middle
    turns = Fraction(math.trunc(away / _TURN))
    return turns, away - turns * _TURN


def _readout_for(pointing: Fraction, present: Fraction, plus: Fraction, minus: Fraction) -> Fraction:
    _mid_travel(plus, minus)
    if not minus <= present <= plus:
        raise CannotCompute("the axis reads outside its limits now")
    away = (pointing - present) % _TURN
    reached = [there for there in (present + away, present + away - _TURN) if minus <= there <= plus]
    if not reached:
        raise CannotCompute("no turn of the axis within its limits points there")
    # Exactly half a turn either way: the one nearer the middle, which winds the cables up less.
    middle = (plus + minus) / 2
    return min(reached, key=lambda there: (abs(there - present), abs(there - middle)))


def _backlash(rising: Fraction, falling: Fraction) -> tuple[Fraction, Fraction]:
    return abs(rising - falling), (rising + falling) / 2


_STOPPING_CAUTION = (
    "The distance holds for the deceleration the drive really makes under this load. Prove each travel limit"
    " at creep speed, people clear and the emergency stop in hand, and add a margin; the sum does not show"
    " that the axis stops."
)
_LIMIT_CAUTION = (
    "A limit in software stops nobody's hand from being crushed. Prove each limit and each switch at creep speed,"
    " people clear and the emergency stop in hand; the maker's limits and local rules come first."
)
_READOUT_CAUTION = (
    "Valid only while the readout counts on past a full turn and was not reset between the readings; a wrong count"
    " winds the cables up or runs the axis into its stop."
)
_PLUS = Parameter("plus", Like("a"), "readout at the stop reached by moving plus")
_MINUS = Parameter("minus", Like("a"), "readout at the stop reached by moving minus, on the same count of turns")
_INSET = (
    Parameter(
        "overrun", Like("a"), "how far the axis runs on after a stop at full speed, latency included", named=True
    ),
    Parameter("backlash", Like("a"), "play between the readout and the axis", named=True),
)

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
        caution=_STOPPING_CAUTION,
        safe_direction="up",
        validity="a deceleration above zero, a latency of zero or more",
        exact=True,
        examples=(Example("stopping_distance(4 deg/s, 2 deg/s^2, latency = 250 ms)", ("5 deg",)),),
        work=_stopping_distance,
    ),
    Calculation(
        name="mid_travel",
        topic="travel",
        parameters=(_PLUS, _MINUS),
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
        examples=(Example("mid_travel(272 deg, -268 deg)", ("2 deg",)),),
        work=_mid_travel,
    ),
    Calculation(
        name="plus_limit",
        topic="travel",
        parameters=(_PLUS, _MINUS, *_INSET),
        results=(Result("limit", Like("a"), "greatest readout to command: from there the axis stops before its stop"),),
        formula="plus - overrun - backlash",
        source="definition",
        standing="arithmetic",
        caution=_LIMIT_CAUTION,
        safe_direction="down",
        validity="a plus stop that reads more than the minus stop, and travel left between the two limits",
        exact=True,
        examples=(Example("plus_limit(272 deg, -268 deg, overrun = 5 deg, backlash = 0.5 deg)", ("266.5 deg",)),),
        work=_plus_limit,
    ),
    Calculation(
        name="minus_limit",
        topic="travel",
        parameters=(_PLUS, _MINUS, *_INSET),
        results=(Result("limit", Like("a"), "least readout to command: from there the axis stops before its stop"),),
        formula="minus + overrun + backlash",
        source="definition",
        standing="arithmetic",
        caution=_LIMIT_CAUTION,
        safe_direction="up",
        validity="a plus stop that reads more than the minus stop, and travel left between the two limits",
        exact=True,
        examples=(Example("minus_limit(272 deg, -268 deg, overrun = 5 deg, backlash = 0.5 deg)", ("-262.5 deg",)),),
        work=_minus_limit,
    ),
    Calculation(
        name="mark_error",
        topic="travel",
        parameters=(Parameter("mark", Like("a"), "readout with the axis on its mid-wrap mark"), _PLUS, _MINUS),
        results=(Result("off", Like("a"), "how far plus of the true middle the mark stands"),),
        formula="mark - (plus + minus) / 2",
        source="definition",
        standing="arithmetic",
        caution=_READOUT_CAUTION,
        validity="a mark between the stops",
        exact=True,
        examples=(Example("mark_error(3.5 deg, 272 deg, -268 deg)", ("1.5 deg",)),),
        work=_mark_error,
    ),
    Calculation(
        name="readout_sign",
        topic="travel",
        parameters=(
            Parameter("before", Like("a"), "readout before the jog"),
            Parameter("after", Like("a"), "readout after it, which has not passed its zero on the way"),
            Parameter("commanded", NUMBER, "which way the jog was commanded", choices=("plus", "minus")),
            Parameter(
                "least",
                Like("a"),
                "the least change that proves a movement: several times the backlash and the resolution",
                named=True,
            ),
        ),
        results=(
            Result("sign", NUMBER, "1 where the readout counts the commanded way, -1 where it counts against it"),
        ),
        formula="the sign of after - before, turned round for a jog commanded minus",
        source="definition",
        standing="arithmetic",
        caution=(
            "It tells how the readout counts, not which way the axis turns: watch the axis, from a place it cannot"
            " reach, and jog at creep speed with the emergency stop in hand."
        ),
        validity="a change of the readout of at least `least`, above zero",
        exact=True,
        examples=(
            Example("readout_sign(10.0 deg, 8.1 deg, commanded = plus, least = 0.5 deg)", ("-1",)),
            Example("readout_sign(10.0 deg, 8.1 deg, commanded = minus, least = 0.5 deg)", ("1",)),
        ),
        work=_readout_sign,
    ),
    Calculation(
        name="wrap_count",
        topic="travel",
        parameters=(
            Parameter("readout", ANGLE, "where the axis stands, on a count that goes on past a full turn"),
            Parameter("middle", ANGLE, "readout in the middle of the travel, where the cables hang free"),
        ),
        results=(
            Result("turns", NUMBER, "whole turns wound up, positive toward plus"),
            Result("rest", ANGLE, "what is wound up beyond them, with the same sign"),
        ),
        formula="readout - middle, parted into whole turns of 360 deg toward zero and the rest",
        source="definition",
        standing="arithmetic",
        caution=_READOUT_CAUTION,
        exact=True,
        examples=(Example("wrap_count(-430 deg, 2 deg)", ("-1", "-72 deg")),),
        work=_wrap_count,
    ),
    Calculation(
        name="readout_for",
        topic="travel",
        parameters=(
            Parameter("pointing", ANGLE, "the direction wanted, as the readout counts it, whole turns not counting"),
            Parameter("present", ANGLE, "the readout now, on a count that goes on past a full turn"),
            Parameter("plus", ANGLE, "the plus limit", named=True),
            Parameter("minus", ANGLE, "the minus limit", named=True),
        ),
        results=(
            Result(
                "readout",
                ANGLE,
                "the nearest readout within the limits that points there; of two as near, the one nearer the middle",
            ),
        ),
        formula="pointing + n * 360 deg, with the n that is nearest and within the limits",
        source="definition",
        standing="arithmetic",
        caution=_READOUT_CAUTION,
        validity="a present readout within the limits, and a direction that some turn of the axis reaches within them",
        exact=True,
        examples=(Example("readout_for(20 deg, 260 deg, plus = 266 deg, minus = -262 deg)", ("20 deg",)),),
        work=_readout_for,
    ),
    Calculation(
        name="backlash",
        topic="travel",
        parameters=(
            Parameter("rising", Like("a"), "readout on a mark approached with the readout rising"),
            Parameter("falling", Like("a"), "readout on the same mark approached with it falling"),
        ),
        results=(
            Result("play", Like("a"), "the play, its size without a sign"),
            Result("middle", Like("a"), "readout of the mark free of the play"),
        ),
        formula="play = size of rising - falling; middle = (rising + falling) / 2",
        source="definition",
        standing="arithmetic",
        caution=(
            "Play grows as parts wear and with the load: measure it with the load the axis will carry, people clear"
            " of its sweep."
        ),
        exact=True,
        examples=(Example("backlash(45.12 deg, 44.98 deg)", ("0.14 deg", "45.05 deg")),),
        work=_backlash,
    ),
)
