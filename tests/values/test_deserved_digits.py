"""To how many digits a value is printed: the uncertainty to two, the value to the same place (JCGM 100:2008, 7.2.6)."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from proclang.values.deserved import deserved_step
from proclang.values.number import decimal_places, fixed_text, round_nearest


def printed(value: str, standard: str) -> str:
    step = deserved_step(Fraction(standard))
    assert step is not None
    return fixed_text(round_nearest(Fraction(value), step), decimal_places(step) or 0)


@pytest.mark.parametrize(
    ("value", "standard", "shown"),
    [
        # JCGM 100:2008, quoted from memory: 7.2.2, the mass standard in g; 7.2.6, 10.057 62 ohm with 27 mohm;
        # H.1, the end gauge in mm with 32 nm.
        ("100.02147", "0.00035", "100.02147"),
        ("10.05762", "0.027", "10.058"),
        ("50.000838", "0.000032", "50.000838"),
        # The same rule where it turns: two digits round up to three, whole tens, nothing before the point.
        ("1.23456", "0.00995", "1.235"),
        ("1.23456", "0.00994", "1.2346"),
        ("1.23456", "0.0996", "1.23"),
        ("1234.5", "120", "1230"),
        ("1234.5", "1.2", "1234.5"),
        ("1234.5", "12", "1234"),
        ("-0.004", "0.12", "0.00"),
    ],
)
def test_a_value_stops_where_its_uncertainty_does(value: str, standard: str, shown: str) -> None:
    assert printed(value, standard) == shown


def test_without_uncertainty_nothing_is_rounded() -> None:
    assert deserved_step(Fraction(0)) is None


@given(st.integers(10, 99), st.integers(-12, 12))
def test_the_step_is_the_place_of_the_second_digit(digits: int, place: int) -> None:
    """By the decimal that is written: 35e-5 has its second digit in the fifth place."""
    assert deserved_step(digits * Fraction(10) ** place) == Fraction(10) ** place


@given(st.decimals("-999", "999", places=9), st.decimals("0.0001", "0.9", places=7))
def test_another_library_stops_at_the_same_place(value: Decimal, standard: Decimal) -> None:
    """The package `uncertainties`, asked for two digits of the uncertainty. It works in floats: ties are left out."""
    step = deserved_step(Fraction(standard))
    assert step is not None
    if any((number / step % 1) == Fraction(1, 2) for number in (Fraction(value), Fraction(standard))):
        return
    theirs = f"{ufloat(float(value), float(standard)):.2uf}".strip("()").partition("+/-")[0]
    assert Fraction(printed(str(value), str(standard))) == Fraction(theirs)
    assert len(theirs.partition(".")[2]) == (decimal_places(step) or 0)
