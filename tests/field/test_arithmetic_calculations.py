"""Arithmetic, angles and bearings against definitions, published rows and a general library."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from field_help import base, number, refusal, run
from hypothesis import given
from hypothesis import strategies as st

from proclang.field.door import prepare
from proclang.field.registry import find
from proclang.values.dimension import ANGLE, BEARING_TRUE, LENGTH

fractions = st.fractions(min_value=-(10**6), max_value=10**6, max_denominator=1000)


@pytest.mark.parametrize(
    ("name", "expected"),
    [("smallest", -2), ("largest", 7), ("mean", 3), ("sum", 12), ("spread", 9)],
)
def test_of_a_series(name: str, expected: int) -> None:
    """By definition, for -2, 7, 3, 4 mm."""
    assert number(name, "mm", readings=["-2 mm", "7 mm", "3 mm", "4 mm"]) == expected


def test_of_two_values() -> None:
    """By definition; units may differ, the dimension may not."""
    assert number("min", "mm", a="1 inch", b="25 mm") == 25
    assert number("max", "mm", a="1 inch", b="25 mm") == pytest.approx(25.4, rel=1e-15)
    assert number("abs", "deg", value="-3 deg") == 3
    assert number("count", "", readings=["1 deg true", "2 deg true"]) == 2


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("round_to", "0.34", "0.3"), ("round_to", "0.35", "0.4"), ("round_to", "0.25", "0.2"),
        ("round_to", "-0.34", "-0.3"),
        ("round_down", "263.47", "263.4"), ("round_down", "-0.31", "-0.4"), ("round_down", "0.3", "0.3"),
        ("round_up", "-263.47", "-263.4"), ("round_up", "-0.39", "-0.3"), ("round_up", "0.3", "0.3"),
    ],
)  # fmt: skip
def test_rounding_to_a_step(name: str, value: str, expected: str) -> None:
    """Down is toward minus infinity and up toward plus infinity, for limits of either sign; a half goes to even."""
    assert run(name, value=f"{value} deg", to="0.1 deg") == (Fraction(expected),)


@given(fractions, st.fractions(min_value=Fraction(1, 1000), max_value=1000, max_denominator=1000))
def test_directed_rounding_never_widens_a_limit(value: Fraction, step: Fraction) -> None:
    """Down stays at or below, up at or above, each by less than a step, both on the grid of steps."""
    dims = {"value": LENGTH, "to": LENGTH}
    (down,) = prepare(find("round_down"), dims)(value, step)
    (up,) = prepare(find("round_up"), dims)(value, step)
    (near,) = prepare(find("round_to"), dims)(value, step)
    assert value - step < down <= value <= up < value + step
    assert (down / step).denominator == (up / step).denominator == (near / step).denominator == 1
    assert abs(near - value) <= step / 2


@pytest.mark.parametrize("step", ["0 deg", "-0.1 deg"])
def test_a_step_must_be_above_zero(step: str) -> None:
    """A step of nothing rounds to nothing."""
    assert refusal("round_down", value="1 deg", to=step).code == "cannot-compute"


def test_square_root_and_hypot() -> None:
    """Pythagorean triples, by definition."""
    assert run("sqrt", value="144 mm^2") == (base("12 mm")[0],)
    assert run("hypot", a="-5 mm", b="12 mm") == (base("13 mm")[0],)
    assert run("hypot", a="0 mm", b="0 mm") == (0,)
    assert "below zero" in refusal("sqrt", value="-1 mm^2").message


# Exact values of the circle, by definition.
CIRCLE = [
    ("sin", 0, "0"), ("sin", 30, "0.5"), ("sin", 90, "1"), ("sin", 150, "0.5"), ("sin", 180, "0"), ("sin", 270, "-1"),
    ("sin", -30, "-0.5"), ("sin", 360, "0"), ("sin", -180, "0"), ("sin", 36000000180, "0"),
    ("cos", 0, "1"), ("cos", 60, "0.5"), ("cos", 90, "0"), ("cos", 120, "-0.5"), ("cos", 180, "-1"), ("cos", 270, "0"),
    ("cos", -90, "0"), ("cos", 3600000090, "0"),
    ("tan", 0, "0"), ("tan", 45, "1"), ("tan", 135, "-1"), ("tan", 180, "0"), ("tan", -45, "-1"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "degrees", "expected"), CIRCLE)
def test_the_circle_at_its_marks(name: str, degrees: int, expected: str) -> None:
    """Exact where the definition is, also after many turns; half a turn gives 0 and not the error of pi."""
    assert run(name, angle=f"{degrees} deg") == (Fraction(expected),)


@pytest.mark.parametrize("name", ["sin", "tan"])
@pytest.mark.parametrize("degrees", ["1e-12", "-1e-12"])
def test_a_tiny_angle_keeps_all_its_digits(name: str, degrees: str) -> None:
    """Taking off whole turns may not cost a small negative angle its digits: sin x is x here, to twelve of them."""
    (result,) = run(name, angle=f"{degrees} deg")
    assert float(result) == pytest.approx(math.radians(float(degrees)), rel=1e-11, abs=0)


@pytest.mark.parametrize("degrees", [90, 270, -90, 450])
def test_a_quarter_turn_has_no_tangent(degrees: int) -> None:
    """Refused rather than 1.6e16."""
    assert refusal("tan", angle=f"{degrees} deg").code == "cannot-compute"


@given(st.fractions(min_value=-720, max_value=720, max_denominator=10**6))
def test_sine_cosine_and_tangent_agree_with_numpy(degrees: Fraction) -> None:
    """Oracle: numpy, 1e-12 of one turn of the unit circle."""
    radians = np.deg2rad(float(degrees))
    (sine,), (cosine,) = (prepare(find(name), {"angle": ANGLE})(degrees) for name in ("sin", "cos"))
    assert float(sine) == pytest.approx(float(np.sin(radians)), abs=2e-12)
    assert float(cosine) == pytest.approx(float(np.cos(radians)), abs=2e-12)
    if abs(cosine) > Fraction(1, 100):
        (tangent,) = prepare(find("tan"), {"angle": ANGLE})(degrees)
        assert float(tangent) == pytest.approx(float(np.tan(radians)), rel=1e-10, abs=1e-12)


@pytest.mark.parametrize(
    ("name", "value", "degrees"),
    [
        ("asin", "0.5", 30), ("asin", "-1", -90), ("asin", "0", 0), ("acos", "0.5", 60), ("acos", "-1", 180),
        ("acos", "1", 0), ("atan", "1", 45), ("atan", "-1", -45), ("atan", "0", 0),
    ],
)  # fmt: skip
def test_angles_from_ratios(name: str, value: str, degrees: int) -> None:
    """By definition, in degrees to the last of twelve digits."""
    assert run(name, value=value) == (degrees,)


@pytest.mark.parametrize("name", ["asin", "acos"])
@pytest.mark.parametrize("value", ["1.0001", "-2"])
def test_a_ratio_beyond_one_has_no_angle(name: str, value: str) -> None:
    """Impossible geometry is refused, with the range."""
    found = refusal(name, value=value)
    assert found.code == "cannot-compute"
    assert "-1 to 1" in found.message


@pytest.mark.parametrize(("y", "x", "degrees"), [(1, 1, 45), (1, -1, 135), (-1, -1, -135), (0, -1, 180), (-2, 0, -90)])
def test_direction_of_a_point(y: int, x: int, degrees: int) -> None:
    """In the quadrant of the point, by definition."""
    assert run("atan2", y=f"{y} mm", x=f"{x} mm") == (degrees,)


def test_a_point_at_the_centre_has_no_direction() -> None:
    """0 would look like an answer."""
    assert "no direction" in refusal("atan2", y="0 mm", x="0 mm").message


@pytest.mark.parametrize(
    ("a", "b", "expected"),
    [
        ("1", "359", "2"), ("359", "1", "-2"), ("180", "0", "180"), ("0", "180", "180"), ("10", "350", "20"),
        ("359.4", "0", "-0.6"), ("725", "5", "0"), ("-10", "10", "-20"),
    ],
)  # fmt: skip
def test_difference_of_bearings_takes_the_short_way(a: str, b: str, expected: str) -> None:
    """Clockwise positive; exactly opposite is +180."""
    assert run("difference", a=f"{a} deg true", b=f"{b} deg true") == (Fraction(expected),)


@given(fractions, fractions)
def test_going_the_difference_from_b_arrives_at_a(a: Fraction, b: Fraction) -> None:
    """Property: b plus the difference is a, whole turns apart, and no way is longer than half a turn."""
    (way,) = prepare(find("difference"), {"a": BEARING_TRUE, "b": BEARING_TRUE})(a, b)
    assert -180 < way <= 180
    assert (b + way - a) % 360 == 0


@pytest.mark.parametrize(("magnetic", "declination", "true"), [("350.0", "15.5", "5.5"), ("5.0", "-12.25", "352.75")])
def test_mag_r13_true_bearing_from_magnetic(magnetic: str, declination: str, true: str) -> None:
    """MAG-R13, textbook sign rule T = M + D with east declination positive."""
    assert run("to_true", magnetic=f"{magnetic} deg magnetic", declination=f"{declination} deg") == (Fraction(true),)
    assert run("to_magnetic", true=f"{true} deg true", declination=f"{declination} deg") == (Fraction(magnetic),)


def test_an_east_declination_turns_the_needle_east() -> None:
    """Worked by vectors: a needle 10 deg east of true north lies on true bearing 10, which reads 0 magnetic."""
    needle = np.array([math.sin(math.radians(10)), math.cos(math.radians(10))])
    bearing = math.degrees(math.atan2(needle[0], needle[1]))
    assert number("to_true", "deg true", magnetic="0 deg magnetic", declination="10 deg") == pytest.approx(bearing)


@pytest.mark.parametrize(("grid", "convergence", "true"), [("359", "2.5", "1.5"), ("1", "-2.5", "358.5")])
def test_grid_bearing_to_true(grid: str, convergence: str, true: str) -> None:
    """Surveying sign rule, grid north east of true north positive: true = grid + convergence. From memory."""
    assert run("grid_to_true", grid=f"{grid} deg grid", convergence=f"{convergence} deg") == (Fraction(true),)


def test_a_declination_beyond_half_a_turn_is_refused() -> None:
    """More likely a bearing typed in the place of a declination."""
    assert refusal("to_true", magnetic="5 deg magnetic", declination="190 deg").code == "cannot-compute"


def test_one_reading_has_no_spread() -> None:
    """Nothing lies between a reading and itself."""
    assert run("spread", readings=["4 mm"]) == (0,)
