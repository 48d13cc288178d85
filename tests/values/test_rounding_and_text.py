"""Rounding and decimal text, against Python's decimal module (General Decimal Arithmetic Specification)."""

from __future__ import annotations

import decimal
import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from proclang.values.number import (
    NumberError,
    bounded,
    decimal_places,
    decimal_text,
    digits,
    fixed_text,
    from_float,
    leading_place,
    round_down,
    round_nearest,
    round_up,
    scientific_text,
    significant_down,
    significant_up,
    terminates,
    to_significant,
)

CONTEXT = decimal.Context(prec=200, Emax=2000, Emin=-2000)
decimals = st.decimals(min_value=-(10**9), max_value=10**9, allow_nan=False, places=7)
rationals = st.fractions(max_denominator=10**9)
steps = st.sampled_from(
    [Fraction(1), Fraction(1, 10), Fraction(1, 20), Fraction(5), Fraction(1, 3), Fraction(254, 10_000)]
)


@given(decimals, st.integers(-6, 3))
def test_rounding_to_a_power_of_ten_is_that_of_the_decimal_module(number: Decimal, place: int) -> None:
    step, unit = Fraction(10) ** place, Decimal(1).scaleb(place)
    for ours, rounding in [
        (round_down, decimal.ROUND_FLOOR),
        (round_up, decimal.ROUND_CEILING),
        (round_nearest, decimal.ROUND_HALF_EVEN),
    ]:
        assert ours(Fraction(number), step) == Fraction(number.quantize(unit, rounding, CONTEXT))


@given(rationals, steps)
def test_directed_rounding_never_crosses_the_value(value: Fraction, step: Fraction) -> None:
    down, nearest, up = round_down(value, step), round_nearest(value, step), round_up(value, step)
    assert down <= value <= up
    assert up - down in (0, step)
    assert abs(nearest - value) <= step / 2
    assert all((rounded / step).denominator == 1 for rounded in (down, nearest, up))
    assert (down == value) == ((value / step).denominator == 1) == (up == value)
    assert round_down(-value, step) == -up


def test_the_direction_is_that_of_the_number_line() -> None:
    tenth = Fraction(1, 10)
    assert (round_down(Fraction("-0.15"), tenth), round_up(Fraction("-0.15"), tenth)) == (Fraction("-0.2"), -tenth)
    assert [round_nearest(Fraction(n, 2), Fraction(1)) for n in (1, 3, 5, -1, -3)] == [0, 2, 2, 0, -2]


@pytest.mark.parametrize("step", [Fraction(0), Fraction(-1)])
def test_a_step_must_be_above_zero(step: Fraction) -> None:
    for rounding in (round_down, round_up, round_nearest):
        with pytest.raises(NumberError, match="above 0"):
            rounding(Fraction(1), step)


@given(st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**30), max_value=10**30), st.integers(1, 20))
def test_significant_digits_are_those_of_the_decimal_module(number: Decimal, n: int) -> None:
    for ours, rounding in [
        (to_significant, decimal.ROUND_HALF_EVEN),
        (significant_down, decimal.ROUND_FLOOR),
        (significant_up, decimal.ROUND_CEILING),
    ]:
        context = decimal.Context(prec=n, rounding=rounding, Emax=9999, Emin=-9999)
        assert ours(Fraction(number), n) == Fraction(context.plus(number))


@given(st.integers(-(10**130), 10**130))
def test_digits_are_counted_as_text_would(number: int) -> None:
    assert digits(number) == len(str(abs(number)))


@pytest.mark.parametrize("power", [*range(70), 400, 4_000])
def test_digits_are_counted_at_powers_of_ten(power: int) -> None:
    assert (digits(10**power - 1), digits(10**power)) == (max(power, 1), power + 1)
    assert leading_place(Fraction(10**power)) == power
    assert leading_place(Fraction(1, 10**power)) == -power


@given(rationals)
def test_the_leading_place_is_the_exponent_of_scientific_notation(value: Fraction) -> None:
    if value:
        place = leading_place(value)
        assert Fraction(10) ** place <= abs(value) < Fraction(10) ** (place + 1)


@given(rationals)
def test_decimals_end_when_only_twos_and_fives_divide(value: Fraction) -> None:
    places = decimal_places(value)
    assert terminates(value) == (places is not None)
    if places is None:
        assert pow(10, 60, value.denominator) != 0
    else:
        assert (value * 10**places).denominator == 1
        assert places == 0 or (value * 10 ** (places - 1)).denominator != 1


@given(st.fractions(max_denominator=10**15), st.integers(1, 15))
def test_decimal_text_reads_back_as_the_rounded_value(value: Fraction, n: int) -> None:
    text = decimal_text(value, n)
    assert Fraction(Decimal(text)) == to_significant(value, n)
    assert not text.startswith("-0e")
    assert text != "-0"


@given(decimals, st.integers(0, 9))
def test_fixed_text_is_that_of_the_decimal_module(number: Decimal, places: int) -> None:
    rounded = number.quantize(Decimal(1).scaleb(-places), decimal.ROUND_HALF_EVEN, CONTEXT)
    assert fixed_text(Fraction(number), places) == f"{rounded if rounded else abs(rounded):f}"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("0", "0"), ("-0.5", "-0.5"), ("1200", "1200"), ("0.000001", "0.000001"), ("0.0000001", "1e-7"),
        ("123456789012345", "123456789012000"), ("1e15", "1e15"), ("-2.5e-9", "-2.5e-9"), ("1/3", "0.333333333333"),
        ("2/3", "0.666666666667"), ("1e99", "1e99"), ("999999999999.5", "1000000000000"),
    ],
)  # fmt: skip
def test_decimal_text_has_no_superfluous_zero(value: str, text: str) -> None:
    assert decimal_text(Fraction(value)) == text


def test_scientific_text_is_exact_or_refused() -> None:
    assert scientific_text(Fraction(5, 4 * 10**9)) == "1.25e-9"
    with pytest.raises(ValueError, match="finite"):
        scientific_text(Fraction(1, 3))


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_float_becomes_the_decimal_of_twelve_digits(x: float) -> None:
    assert from_float(x) == Fraction(Decimal(f"{x:.11e}"))
    assert from_float(x, 17) == Fraction(Decimal(f"{x:.16e}"))


def test_a_float_that_is_no_number_becomes_none() -> None:
    assert [from_float(x) for x in (math.nan, math.inf, -math.inf)] == [None, None, None]
    assert from_float(-0.0) == 0
    assert from_float(0.1 + 0.2) == Fraction(3, 10)
    assert from_float(5e-324) == Fraction(Decimal("4.94065645841e-324"))


@given(st.integers(-(10**90), 10**90), st.integers(1, 10**90))
def test_bounding_keeps_30_digits_and_is_done_once(top: int, bottom: int) -> None:
    value = Fraction(top, bottom)
    kept = bounded(value)
    assert bounded(kept) == kept
    assert abs(kept - value) <= abs(value) / 10**29
    if digits(value.numerator) <= 60 and digits(value.denominator) <= 60:
        assert kept == value
