"""Exact arithmetic on quantities, against pint with rational numbers and the definitions of the SI."""

from __future__ import annotations

import math
import operator
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from proclang.values import dimension as dim
from proclang.values.number import NumberError
from proclang.values.quantity import DimensionError, Quantity, difference
from proclang.values.reader import Entered, read_quantity
from proclang.values.unit import Unit, find_unit

small = st.fractions(min_value=-10_000, max_value=10_000, max_denominator=1_000)


def q(text: str) -> Quantity:
    entered = read_quantity(text, reply=True)
    assert isinstance(entered, Entered), entered
    return entered.quantity


def unit(text: str) -> Unit:
    found = find_unit(text)
    assert isinstance(found, Unit), found
    return found


def test_decimals_add_as_on_paper() -> None:
    assert q("0.1 mm") + q("0.2 mm") == q("0.3 mm")
    assert q("1 inch") - q("25.4 mm") == q("0 mm")
    assert q("3/8 in").in_unit(unit("mm")) == Fraction("9.525")


def test_a_length_over_a_pitch_is_an_angle_exactly() -> None:
    turned = q("1.25 mm") / q("2.5 mm/turn")
    assert turned.in_unit(unit("turn")) == Fraction(1, 2)


def test_torque_arithmetic_is_exact_in_its_own_units() -> None:
    """A reading on the limit passes, so a share of a torque must come out to the last digit."""
    assert q("70 %") * q("200 N.m") == q("140 N.m")
    assert q("30 lbf.ft") - q("3 lbf.ft") == q("27 lbf.ft")
    assert q("40 N.m") / q("0.5 m") * q("1 rad") == q("80 N")
    assert q("80 N") * q("0.5 m") / q("1 rad") == q("40 N.m")
    assert (q("40 N.m") / q("20 N.m")).in_unit(unit("%")) == 200


OUTSIDE = [
    ("40 N.m", "*", "90 deg", "J", 40 * math.pi / 2),
    ("40 N.m", "*", "1 turn", "J", 80 * math.pi),
    ("40 N.m", "*", "1 rad", "J", 40.0),
    ("10 N.m", "*", "60 rpm", "W", 20 * math.pi),
    ("100 W", "/", "10 rad/s", "N.m", 10.0),
    ("100 W", "/", "60 rpm", "N.m", 100 / (2 * math.pi)),
    ("40 J", "/", "180 deg", "N.m", 40 / math.pi),
    ("40 N.m", "/", "10 N", "mm/turn", 4000 * 2 * math.pi),
    ("2 N.m/deg", "*", "3 deg", "N.m", 6.0),
    ("2 N.m/rad", "*", "1 turn", "N.m", 4 * math.pi),
    ("6 deg/s", "*", "10 s", "turn", 1 / 6),
    ("1 lbf.ft", "/", "1 ft", "N.m/m", 4.4482216152605),
    ("12 V", "*", "2 A", "W", 24.0),
    ("5 N/mm", "*", "2 mm", "N", 10.0),
]


@pytest.mark.parametrize(("a", "sign", "b", "text", "value"), OUTSIDE)
def test_angle_and_mass_meet_with_the_right_power_of_pi(a: str, sign: str, b: str, text: str, value: float) -> None:
    """Work = torque x angle in radians; power = torque x angular speed in rad/s: mechanics, worked by hand."""
    apply: Any = operator.mul if sign == "*" else operator.truediv
    result = apply(q(a), q(b))
    assert float(result.in_unit(unit(text))) == pytest.approx(value, rel=1e-15)


def test_pint_agrees_on_products_and_quotients() -> None:
    """pint, whose radian is a plain number, over every pair of these units."""
    import pint

    ureg: Any = pint.UnitRegistry()
    units = ["m", "N", "N.m", "deg", "deg/s", "J", "kg", "mm/deg", "N.m/deg", "s", "m/s^2", "W"]

    def theirs(text: str, n: float) -> Any:
        parts = text.replace("deg", "degree").replace(".", "*").replace("^", "**")
        return n * ureg(parts)

    for first in units:
        for second in units:
            for apply in (operator.mul, operator.truediv):
                ours = apply(Quantity.of(3, unit(first)), Quantity.of(7, unit(second)))
                base = apply(theirs(first, 3.0), theirs(second, 7.0)).to_base_units().magnitude
                # Our base unit of angle is the degree where no mass comes in.
                if not ours.dimension.powers[1]:
                    base *= math.degrees(1) ** ours.dimension.powers[3]
                assert float(ours.value) == pytest.approx(base, rel=1e-14), (first, second, apply)


@given(small, small, small)
def test_arithmetic_is_that_of_rational_numbers(x: Fraction, y: Fraction, z: Fraction) -> None:
    a, b, c = (Quantity.of(n, unit("mm")) for n in (x, y, z))
    assert (a + b) + c == a + (b + c)
    assert (a - b) + b == a
    assert a * (b + c) == a * b + a * c
    assert (a < b, a <= b, a > b, a >= b) == (x < y, x <= y, x > y, x >= y)
    assert abs(a).value == abs(a.value)
    assert -a + a == Quantity.of(0, unit("m"))
    if y:
        assert a / b * b == a
        assert (1 / b) * b == Quantity(Fraction(1), dim.NUMBER)
        assert b**-2 * b**3 == b
    assert 2 * a == a + a == a * Fraction(2)


def test_torques_raise_with_their_units() -> None:
    assert q("3 N.m") ** 2 == q("3 N.m") * q("3 N.m")
    assert q("3 N.m") ** 0 == q("1")
    assert (q("3 N.m") ** -1) * q("3 N.m") == q("1")


@given(st.integers(-1000, 1000), st.integers(-1000, 1000))
@example(180, 0)
@example(0, 180)
@example(-180, 0)
@example(270, 90)
@example(181, 0)
@example(-181, 0)
@example(720, -360)
def test_two_bearings_differ_by_the_shortest_way(a: int, b: int) -> None:
    """Walking round by whole degrees from b to a, clockwise and anticlockwise; half way round counts as clockwise."""
    clockwise = next(n for n in range(361) if (b + n - a) % 360 == 0)
    expected = clockwise if clockwise <= 180 else clockwise - 360
    x, y = (Quantity(Fraction(n), dim.BEARING_TRUE) for n in (a, b))
    assert (x - y).value == difference(x, y).value == expected
    assert (x - y).dimension == dim.ANGLE
    assert y + (x - y) == x


def test_bearings_wrap_when_compared_and_keep_what_was_typed() -> None:
    assert q("360 deg true") == q("0 deg true") == q("-360 deg true")
    assert hash(q("370 deg true")) == hash(q("10 deg true"))
    assert q("370 deg true").value == 370
    assert q("370 deg true").wrapped().value == 10
    assert q("-0.5 deg true").wrapped().value == Fraction("359.5")
    assert q("370 deg").wrapped().value == 370
    assert q("10 deg true") != q("10 deg magnetic")
    assert q("370 deg") != q("10 deg")


def test_temperatures() -> None:
    assert q("20 °C") - q("15 °C") == q("5 K")
    assert q("20 °C") + q("5 K") == q("5 K") + q("20 °C") == q("25 °C")
    assert q("20 °C") - q("5 K") == q("15 °C")
    assert q("-10 °C") < q("10 °C")
    assert q("20 °C") != q("293.15 K")


@pytest.mark.parametrize(
    "attempt",
    [
        lambda: q("20 °C") + q("20 °C"),
        lambda: q("20 °C") * 2,
        lambda: -q("20 °C"),
        lambda: abs(q("180 deg true")),
        lambda: abs(q("-5 °C")),
        lambda: q("180 deg true") / 2,
        lambda: q("180 deg true") + q("1 deg true"),
        lambda: q("180 deg true") - q("1 deg magnetic"),
        lambda: q("180 deg true") < q("190 deg true"),
        lambda: q("5 mm") + q("5 deg"),
        lambda: q("5 mm") < q("5 deg"),
        lambda: q("5 mm") >= q("5"),
        lambda: q("5 mm") ** 10,
        lambda: q("5 mm").in_unit(unit("deg")),
        lambda: q("5 deg true").in_unit(unit("deg")),
        lambda: q("40 N.m") - q("40 J"),
    ],
)
def test_what_has_no_meaning_is_refused_with_a_sentence(attempt) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(DimensionError) as refused:
        attempt()
    assert refused.value.problem.message
    assert str(refused.value) == refused.value.problem.message


@pytest.mark.parametrize("attempt", [lambda: q("1 mm") / q("0 s"), lambda: 1 / q("0"), lambda: q("0 m") ** -1])
def test_division_by_zero_is_an_error_with_a_sentence(attempt) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(NumberError) as refused:
        attempt()
    assert refused.value.problem.code == "division-by-zero"


def test_a_quantity_is_not_another_kind_of_thing() -> None:
    assert q("5") != 5
    assert q("5 mm") != q("5 s")
    assert len({q("5 mm"), q("0.5 cm"), q("5 s")}) == 2


@given(
    st.fractions(max_denominator=10**12), st.sampled_from(["mm", "inch", "N.m", "lbf.ft", "deg", "rad", "°C", "turn"])
)
def test_a_number_of_a_unit_comes_back_out_of_it(number: Fraction, text: str) -> None:
    assert Quantity.of(number, unit(text)).in_unit(unit(text)) == number
