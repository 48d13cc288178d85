"""Limits, readouts, slews and balance: against simulated axes, numpy and the definitions."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from field_help import base, number, refusal, run, several
from hypothesis import given
from hypothesis import strategies as st

from proclang.field.registry import find

STOPS = {"plus": "272 deg", "minus": "-268 deg"}
degrees = st.integers(-100_000, 100_000).map(lambda x: Fraction(x, 100))


def test_limits_lie_inside_the_stops_by_overrun_and_backlash() -> None:
    """By definition; as limits the plus one is rounded down and the minus one up, both of them inward."""
    given = STOPS | {"overrun": "5 deg", "backlash": "0.5 deg"}
    assert run("plus_limit", **given) == (Fraction("266.5"),)
    assert run("minus_limit", **given) == (Fraction("-262.5"),)
    plus, minus = find("plus_limit"), find("minus_limit")
    assert plus is not None
    assert minus is not None
    assert (plus.safe_direction, minus.safe_direction) == ("down", "up")


def test_limits_of_a_sliding_axis() -> None:
    """Stops in millimetres, the other lengths in metres."""
    given = {"plus": "900 mm", "minus": "100 mm", "overrun": "0.02 m", "backlash": "1 mm"}
    assert number("plus_limit", "mm", **given) == pytest.approx(879)
    assert number("minus_limit", "mm", **given) == pytest.approx(121)


@pytest.mark.parametrize(
    ("changed", "word"),
    [
        ({"plus": "-268 deg", "minus": "272 deg"}, "exchanged"),
        ({"overrun": "-5 deg"}, "without a sign"),
        ({"backlash": "-1 deg"}, "without a sign"),
        ({"overrun": "269.5 deg"}, "no travel is left"),
    ],
)
@pytest.mark.parametrize("limit", ["plus_limit", "minus_limit"])
def test_limits_that_make_no_sense_are_refused(limit: str, changed: dict[str, str], word: str) -> None:
    """A wrong sign may not move a limit outward, and limits may not pass each other."""
    given = STOPS | {"overrun": "5 deg", "backlash": "0.5 deg"} | changed
    assert word in refusal(limit, **given).message


@pytest.mark.parametrize(
    ("before", "after", "commanded", "sign"),
    [("10", "8", "plus", -1), ("10", "12", "plus", 1), ("10", "8", "minus", 1), ("10", "12", "minus", -1)],
)
def test_a_jog_proves_which_way_the_readout_counts(before: str, after: str, commanded: str, sign: int) -> None:
    """By definition, all four cases."""
    assert run("readout_sign", before=f"{before} deg", after=f"{after} deg", commanded=commanded, least="1 deg") == (
        sign,
    )


@pytest.mark.parametrize("after", ["10 deg", "10.9 deg", "9.1 deg"])
def test_a_jog_too_small_proves_nothing(after: str) -> None:
    """Play or noise would be taken for a direction."""
    found = refusal("readout_sign", before="10 deg", after=after, commanded="plus", least="1 deg")
    assert "too little" in found.message
    assert (
        refusal("readout_sign", before="0 deg", after="0 deg", commanded="plus", least="0 deg").code == "cannot-compute"
    )


@given(readout=degrees, middle=degrees)
def test_turns_and_rest_make_up_the_way_from_the_middle(readout: Fraction, middle: Fraction) -> None:
    """The rest is below a turn and never winds the other way; the standard library's fmod is the other opinion."""
    turns, rest = run("wrap_count", readout=f"{readout} deg", middle=f"{middle} deg")
    assert turns * 360 + rest == readout - middle
    assert float(rest) == pytest.approx(math.fmod(float(readout - middle), 360), abs=1e-6)


@given(pointing=degrees, present=st.integers(-262, 266))
def test_the_readout_for_a_direction_is_the_nearest_within_the_limits(pointing: Fraction, present: int) -> None:
    """Independent: all turns tried one by one."""
    limits = {"plus": "266 deg", "minus": "-262 deg"}
    found = run("readout_for", pointing=f"{pointing} deg", present=f"{present} deg", **limits)
    tried = [pointing + 360 * n for n in range(-300, 301)]
    reached = [x for x in tried if -262 <= x <= 266]
    assert found[0] in reached
    assert abs(found[0] - present) == min(abs(x - present) for x in reached)


def test_a_direction_no_turn_reaches_is_refused() -> None:
    """An axis of less than a turn has a blind side."""
    limits = {"plus": "100 deg", "minus": "-100 deg"}
    found = refusal("readout_for", pointing="180 deg", present="0 deg", **limits)
    assert "no turn of the axis" in found.message
    assert "outside its limits" in refusal("readout_for", pointing="0 deg", present="101 deg", **limits).message


def test_a_mark_beside_the_middle() -> None:
    """Against the midpoint of the measured stops; a mark beyond a stop cannot be."""
    assert run("mark_error", mark="3.5 deg", **STOPS) == (Fraction("1.5"),)
    assert "outside the stops" in refusal("mark_error", mark="300 deg", **STOPS).message


def test_play_and_the_mark_free_of_it() -> None:
    """A simulated gear with 0.14 deg of play: the readout leads by half of it on either way."""
    mark, play = 45.05, 0.14
    found = several("backlash", "deg", "deg", rising=f"{mark + play / 2:.6f} deg", falling=f"{mark - play / 2:.6f} deg")
    assert found == pytest.approx([play, mark])


@pytest.mark.parametrize("angle", [0.3, 4, 8, 8.1, 200])
def test_a_slew_agrees_with_a_simulated_drive(angle: float) -> None:
    """Independent: a drive that brakes as late as it can, 0.1 ms a step."""
    speed, position, clock, fastest, step = 0.0, 0.0, 0.0, 0.0, 1e-4
    while position < angle:
        braking = speed * speed / (2 * 2.0) >= angle - position
        speed = max(1e-3, speed - 2.0 * step) if braking else min(4.0, speed + 2.0 * step)
        fastest = max(fastest, speed)
        position += speed * step
        clock += step
    time, top = several("slew_time", "s", "deg/s", angle=f"-{angle} deg", speed="4 deg/s", acceleration="2 deg/s^2")
    assert time == pytest.approx(clock, abs=0.05)
    assert top == pytest.approx(fastest, abs=0.01)


@given(speed=st.floats(0.1, 10), distance=st.floats(1, 90), latency=st.floats(0, 0.09))
def test_the_deceleration_found_stops_within_the_distance(speed: float, distance: float, latency: float) -> None:
    """It is put back into the stopping distance."""
    given = {"speed": f"{speed:.6f} deg/s", "latency": f"{latency:.6f} s"}
    slowing = number("deceleration_for", "deg/s^2", distance=f"{distance:.6f} deg", **given)
    back = number("stopping_distance", "deg", deceleration=f"{slowing:.15f} deg/s^2", **given)
    assert back == pytest.approx(distance, rel=1e-5)


def test_a_latency_that_takes_the_whole_distance_is_refused() -> None:
    """4 deg/s for 1 s are 4 deg already."""
    found = refusal("deceleration_for", speed="4 deg/s", distance="4 deg", latency="1 s")
    assert "latency" in found.message
    assert "range" in refusal("slew_time", angle="1 deg", speed="0 deg/s", acceleration="2 deg/s^2").message


masses = st.lists(st.tuples(st.integers(1, 500), st.integers(-3000, 3000)), min_size=1, max_size=6)


@given(parts=masses, weight=st.integers(1, 200))
def test_a_counterweight_where_it_is_told_balances(parts: list[tuple[int, int]], weight: int) -> None:
    """The sums are numpy's; with the counterweight among the parts nothing is left."""
    weights, arms = np.array(parts, dtype=float).T
    moment, mass, centre = several(
        "balance", "kg.m", "kg", "m",
        masses=[f"{m} kg" for m, _ in parts], arms=[f"{a} mm" for _, a in parts],
    )  # fmt: skip
    assert moment == pytest.approx(float(weights @ arms) / 1000, abs=1e-9)
    assert mass == weights.sum()
    assert centre == pytest.approx(float(np.average(arms, weights=weights)) / 1000, abs=1e-9)
    arm = number("counterweight_arm", "m", moment=f"{moment:.12f} kg.m", mass=f"{weight} kg")
    assert moment + weight * arm == pytest.approx(0, abs=1e-8)
    if abs(moment) > 1e-9:
        back = number("counterweight_mass", "kg", moment=f"{moment:.12f} kg.m", arm=f"{arm:.15f} m")
        assert back == pytest.approx(weight, rel=1e-6)


@pytest.mark.parametrize("arm", ["0.4 m", "0 m"])
def test_a_counterweight_on_the_heavy_side_is_refused(arm: str) -> None:
    """It would make it worse."""
    assert "other side" in refusal("counterweight_mass", moment="24 kg.m", arm=arm).message


@pytest.mark.parametrize("angle", [0, 30, -60, 90])
def test_torque_of_a_mass_is_greatest_at_the_horizontal(angle: int) -> None:
    """Independent: the slope of its potential energy, m g arm sin(angle), by a central difference."""
    found = number("gravity_torque", "N.m", mass="3 kg", arm="400 mm", from_horizontal=f"{angle} deg")
    height, step = 0.4, 1e-5
    slope = math.sin(math.radians(angle) + step) - math.sin(math.radians(angle) - step)
    assert found == pytest.approx(3 * 9.80665 * height * slope / (2 * step), abs=1e-6)
    assert found <= number("gravity_torque", "N.m", mass="3 kg", arm="400 mm")


def test_pulls_part_into_what_is_out_of_balance_and_friction() -> None:
    """A simulated axis, 20 N.m out of balance with 5 N.m of friction, pulled at 0.5 m both ways."""
    raising, lowering = (20 + 5) / 0.5, (20 - 5) / 0.5
    found = several("balance_by_pulls", "N.m", "N.m", raising=f"{raising} N", lowering=f"{lowering} N", arm="500 mm")
    assert found == pytest.approx([20, 5])
    assert "exchanged" in refusal("balance_by_pulls", raising="31 N", lowering="52 N", arm="500 mm").message
    assert base("500 mm")[0] == Fraction(1, 2)
