"""Numbers made to hang or to overflow a reader: promise H6. Each is read exactly or refused with a reason, at once.

CVE-2020-10735 is quadratic conversion of long digit strings; `Fraction("1e9999999")` and `int(Decimal("1e99999999"))`
do not come back, so an exponent is bounded before anything is converted.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from proclang.text.diagnostic import Problem
from proclang.values.number import NumberError, bounded, digits
from proclang.values.quantity import Quantity
from proclang.values.reader import Entered, read_quantity
from proclang.values.unit import NONE, Unit, find_unit

FORMS: list[tuple[str, Fraction | str]] = [
    ("9" * 39, Fraction(10**39 - 1)),
    ("9" * 40, Fraction(10**40 - 1)),
    ("9" * 41, "number-too-long"),
    ("9" * 5_000, "number-too-long"),
    ("9" * 100_000, "number-too-long"),
    ("0" * 40, Fraction(0)),
    ("0" * 41, "number-too-long"),
    ("0." + "0" * 37 + "1", Fraction(1, 10**38)),
    ("0." + "1" * 39, "number-too-long"),
    ("1." + "0" * 5_000, "number-too-long"),
    ("1e99", Fraction(10**99)),
    ("1e-99", Fraction(1, 10**99)),
    ("1e+99", Fraction(10**99)),
    ("1E99", Fraction(10**99)),
    ("-1e99", Fraction(-(10**99))),
    ("1e100", "exponent-too-large"),
    ("1e-100", "exponent-too-large"),
    ("1e400", "exponent-too-large"),
    ("5e-324", "exponent-too-large"),
    ("2.2250738585072014e-308", "exponent-too-large"),
    ("1.7976931348623157e308", "exponent-too-large"),
    ("1e9999999", "exponent-too-large"),
    ("1e-9999999", "exponent-too-large"),
    ("1e99999999", "exponent-too-large"),
    ("1e" + "9" * 30, "exponent-too-large"),
    ("1e" + "9" * 50, "number-too-long"),
    ("1e" + "9" * 10_000, "number-too-long"),
    ("1e0099", Fraction(10**99)),
    ("1e00099", "exponent-too-large"),
    ("0e99", Fraction(0)),
    ("1.5e3.5", "not-a-number"),
    ("1e5e5", "unknown-unit"),
    ("1e", "unknown-unit"),
    ("1e+", "unknown-unit"),
    ("1e-", "unknown-unit"),
    ("nan", "not-a-number"),
    ("NaN", "not-a-number"),
    ("-nan", "not-a-number"),
    ("inf", "not-a-number"),
    ("-inf", "not-a-number"),
    ("Infinity", "not-a-number"),
    ("1_0", "thousands-mark"),
    ("1__0", "thousands-mark"),
    ("0x10", "not-a-number"),
    ("0X1p4", "not-a-number"),
    ("0b1", "not-a-number"),
    ("-0", Fraction(0)),
    ("-0.0", Fraction(0)),
    ("0.1", Fraction(1, 10)),
    ("0.30000000000000004", Fraction(30000000000000004, 10**17)),
    ("123456789.123456789", Fraction(123456789123456789, 10**9)),
    ("1/3", Fraction(1, 3)),
    ("1/" + "9" * 38, Fraction(1, 10**38 - 1)),
    ("1/" + "9" * 39, "number-too-long"),
    ("1/0", "division-by-zero"),
    ("0/0", "division-by-zero"),
    ("1/" + "0" * 30, "division-by-zero"),
    ("1/1e9", "not-a-number"),
    ("10**9**9", "not-a-number"),
    ("9^9^9", "unknown-unit"),
    ("(" * 10_000, "number-too-long"),
    ("-" * 100, "not-a-number"),
    ("1 " * 60, "two-numbers"),
    ("1e5 " + "m" * 100_000, "number-too-long"),
    ("\u0661\u0662", "other-digits"),
    ("\uff11\uff12", "other-digits"),
    ("\U0001d7d8", "other-digits"),
    ("1\x00", "unknown-unit"),
    ("1\u200b", "unknown-unit"),
    ("\ufeff1", "not-a-number"),
]


def test_there_are_at_least_60_forms() -> None:
    assert len({text for text, _ in FORMS}) == len(FORMS) >= 60


@pytest.mark.parametrize(("text", "outcome"), FORMS, ids=[f"{i}:{text[:20]!r}" for i, (text, _) in enumerate(FORMS)])
def test_a_number_is_read_to_the_last_digit_or_refused(text: str, outcome: Fraction | str) -> None:
    got = read_quantity(text, reply=True)
    if isinstance(outcome, str):
        assert isinstance(got, Problem), got
        assert (got.code, bool(got.message)) == (outcome, True)
        assert len(got.message) < 1_000
    else:
        assert isinstance(got, Entered), got
        assert got.quantity.value == outcome


@pytest.mark.parametrize("text", ["1e99 km^9.km^9.km^9.km^9", "1e99 year^9.year^9.year^9.year^9.year^9"])
def test_a_number_and_its_unit_together_stay_within_bounds(text: str) -> None:
    got = read_quantity(text)
    if isinstance(got, Problem):
        assert got.code == "number-too-large"
    else:
        assert got.quantity.value == 10**99 * Fraction(1000) ** 36


def test_repeated_squaring_stays_short_and_ends_in_a_reason() -> None:
    """Exact arithmetic doubles its digits with each square; `bounded` stops that, and a bound on size the rest."""
    value = Quantity.of(Fraction(10, 3), NONE)
    # log10(10/3) is 0.5229, so the tenth square, 10^535, is the first past 10^400.
    for _ in range(9):
        value = value * value
        assert digits(value.value.numerator) <= 400
        assert digits(value.value.denominator) <= 60
    with pytest.raises(NumberError) as stopped:
        value * value
    assert stopped.value.problem.code == "number-too-large"


def test_what_is_too_small_is_refused_rather_than_made_zero() -> None:
    with pytest.raises(NumberError) as stopped:
        bounded(Fraction(1, 10**500))
    assert stopped.value.problem.code == "number-too-small"
    assert bounded(Fraction(0)) == 0


def test_an_exact_value_is_rounded_only_when_past_60_digits() -> None:
    kept = Fraction(10**60 - 1, 10**60 - 3)
    assert bounded(kept) == kept
    long = Fraction(10**60 + 1, 3)
    assert bounded(long) == int("3" * 30) * 10**30
    assert abs(bounded(long) - long) / long < Fraction(1, 10**29)


@pytest.mark.parametrize("text", ["m" * 41, "m^" + "9" * 30, "." * 40, "/" * 40, "m/" * 20, "^" * 40, "m." * 19 + "m"])
def test_a_unit_text_of_any_shape_ends(text: str) -> None:
    got = find_unit(text)
    assert isinstance(got, Problem) or (isinstance(got, Unit) and got.symbol == text)
