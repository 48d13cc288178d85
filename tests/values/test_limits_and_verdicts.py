"""Limits are inclusive and exact, bearings wrap, and a verdict says how far outside."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from proclang.values import dimension as dim
from proclang.values.quantity import DimensionError, Quantity
from proclang.values.reader import Entered, read_quantity
from proclang.values.tolerance import (
    Limits,
    Outcome,
    around,
    at_least,
    at_most,
    between,
    judge,
    limits_text,
    spread,
)
from proclang.values.unit import NONE, Unit, find_unit


def q(text: str) -> Quantity:
    entered = read_quantity(text, reply=True)
    assert isinstance(entered, Entered), entered
    return entered.quantity


def unit(text: str) -> Unit:
    found = find_unit(text) if text else NONE
    assert isinstance(found, Unit), found
    return found


def limits(text: str) -> Limits:
    """`a ± b`, `a +b / -c`, `a .. b`, `at most a`, `at least a`, each part with its unit."""
    if text.startswith("at most "):
        return at_most(q(text[8:]))
    if text.startswith("at least "):
        return at_least(q(text[9:]))
    if " .. " in text:
        low, high = text.split(" .. ")
        return between(q(low), q(high))
    if " ± " in text:
        centre, half = text.split(" ± ")
        return around(q(centre), q(half))
    centre, rest = text.split(" +")
    plus, minus = rest.split(" / -")
    return spread(q(centre), q(plus), q(minus))


# limits, value, how far outside (0 passes) in the unit named
JUDGED = [
    ("40 mm ± 1 mm", "39 mm", "0 mm"),
    ("40 mm ± 1 mm", "41 mm", "0 mm"),
    ("40 mm ± 1 mm", "41.0000000001 mm", "0.0000000001 mm"),
    ("40 mm ± 1 mm", "38.5 mm", "-0.5 mm"),
    ("1 inch ± 1/8 inch", "28.575 mm", "0 mm"),
    ("0.3 mm ± 0.1 mm", "0.4 mm", "0 mm"),
    ("30 lbf.ft ± 3 lbf.ft", "27 lbf.ft", "0 N.m"),
    ("30 lbf.ft ± 10 %", "33 lbf.ft", "0 N.m"),
    ("40 N.m ± 4 %", "41.6 N.m", "0 N.m"),
    ("40 N.m ± 4 %", "41.7 N.m", "0.1 N.m"),
    ("-40 mm ± 10 %", "-44 mm", "0 mm"),
    ("-40 mm ± 10 %", "-45 mm", "-1 mm"),
    ("0.5 ± 0.1", "0.6", "0"),
    ("50 % ± 10 %", "0.6", "0"),
    ("540 deg +4 deg / -2 deg", "544 deg", "0 deg"),
    ("540 deg +4 deg / -2 deg", "537 deg", "-1 deg"),
    ("20 mm .. 300 mm", "20 mm", "0 mm"),
    ("20 mm .. 300 mm", "301 mm", "1 mm"),
    ("20 mm .. 20 mm", "20 mm", "0 mm"),
    ("at most 2 arcmin", "2 arcmin", "0 deg"),
    ("at most 2 arcmin", "-90 deg", "0 deg"),
    ("at most 2 arcmin", "3 arcmin", "1 arcmin"),
    ("at least 10 N", "10 N", "0 N"),
    ("at least 10 N", "9 N", "-1 N"),
    ("20 °C ± 2 K", "22 °C", "0 K"),
    ("20 °C ± 2 K", "17 °C", "-1 K"),
    ("0.5 rad ± 0.123456789012 rad", "0.376543210988 rad", "0 deg"),
    ("0 deg true ± 1 deg", "359.4 deg true", "0 deg"),
    ("0 deg true ± 1 deg", "359 deg true", "0 deg"),
    ("0 deg true ± 1 deg", "1 deg true", "0 deg"),
    ("0 deg true ± 1 deg", "361 deg true", "0 deg"),
    ("0 deg true ± 1 deg", "-1 deg true", "0 deg"),
    ("0 deg true ± 1 deg", "358 deg true", "-1 deg"),
    ("0 deg true ± 1 deg", "2.5 deg true", "1.5 deg"),
    ("0 deg true ± 1 deg", "170 deg true", "169 deg"),
    ("0 deg true ± 1 deg", "190 deg true", "-169 deg"),
    ("0 deg true ± 1 deg", "180 deg true", "179 deg"),
    ("180 deg true ± 1 deg", "179 deg true", "0 deg"),
    ("180 deg true ± 1 deg", "0 deg true", "179 deg"),
    ("350 deg grid .. 10 deg grid", "0 deg grid", "0 deg"),
    ("350 deg grid .. 10 deg grid", "12 deg grid", "2 deg"),
    ("10 deg grid .. 350 deg grid", "180 deg grid", "0 deg"),
    ("10 deg grid .. 350 deg grid", "0 deg grid", "10 deg"),
    ("10 deg grid .. 350 deg grid", "5 deg grid", "-5 deg"),
    ("0 deg true ± 180 deg", "180 deg true", "0 deg"),
    ("0 deg true ± 180 deg", "77 deg true", "0 deg"),
    ("0 deg true ± 400 deg", "77 deg true", "0 deg"),
    ("0 deg true .. 360 deg true", "77 deg true", "0 deg"),
    ("5 deg magnetic +10 deg / -20 deg", "345 deg magnetic", "0 deg"),
    ("5 deg magnetic +10 deg / -20 deg", "344 deg magnetic", "-1 deg"),
]


@pytest.mark.parametrize(("text", "value", "beyond"), JUDGED)
def test_a_value_on_a_limit_passes_and_outside_says_how_far(text: str, value: str, beyond: str) -> None:
    verdict = judge(q(value), limits(text))
    assert verdict.beyond == q(beyond).value
    assert verdict.outcome is (Outcome.FAILS if verdict.beyond else Outcome.PASSES)


@given(st.integers(-400, 800), st.integers(0, 200), st.integers(0, 200), st.integers(-360, 720))
def test_bearing_limits_accept_what_a_walk_clockwise_meets(centre: int, plus: int, minus: int, value: int) -> None:
    """Walk by whole degrees from the low limit clockwise to the high one and note every bearing met."""
    met = {(centre - minus + n) % 360 for n in range(plus + minus + 1)}

    def bearing(n: int) -> Quantity:
        return Quantity(Fraction(n), dim.BEARING_TRUE)

    got = spread(bearing(centre), Quantity(Fraction(plus), dim.ANGLE), Quantity(Fraction(minus), dim.ANGLE))
    verdict = judge(bearing(value), got)
    assert (verdict.outcome is Outcome.PASSES) == (value % 360 in met)
    nearest = min(min((value - n) % 360, (n - value) % 360) for n in met)
    assert abs(verdict.beyond) == nearest
    if verdict.beyond:
        # Going back by what it is beyond ends on a limit.
        assert (value - verdict.beyond) % 360 in ((centre + plus) % 360, (centre - minus) % 360)


@given(
    st.fractions(max_denominator=1000),
    st.fractions(min_value=0, max_denominator=1000),
    st.fractions(max_denominator=1000),
)
def test_plain_limits_are_inclusive(centre: Fraction, half: Fraction, value: Fraction) -> None:
    def length(n: Fraction) -> Quantity:
        return Quantity.of(n, unit("mm"))

    got = around(length(centre), length(half))
    verdict = judge(length(value), got)
    assert (verdict.outcome is Outcome.PASSES) == (abs(value - centre) <= half)
    for edge in (centre - half, centre + half):
        assert judge(length(edge), got).outcome is Outcome.PASSES
    assert (
        got
        == spread(length(centre), length(half), length(half))
        == between(length(centre - half), length(centre + half))
    )


@pytest.mark.parametrize(
    ("text", "into", "shown"),
    [
        ("180 deg true ± 1 deg", "deg true", "179 to 181 deg true"),
        ("0 deg true ± 1 deg", "deg true", "359 to 1 deg true"),
        ("0 deg true ± 180 deg", "deg true", "any bearing, in deg true"),
        ("at most 2 arcmin", "arcmin", "at most 2 arcmin"),
        ("at least 10 N", "N", "at least 10 N"),
        ("40 mm ± 1 mm", "mm", "39 to 41 mm"),
        ("40 N.m ± 4 %", "N.m", "38.4 to 41.6 N.m"),
        ("20 °C ± 2 K", "°C", "18 to 22 °C"),
        ("0.5 ± 0.1", "", "0.4 to 0.6"),
        ("0.5 ± 0.1", "%", "40 to 60 %"),
        ("540 deg +4 deg / -2 deg", "deg", "538 to 544 deg"),
        ("1/3 mm .. 2/3 mm", "mm", "0.333334 to 0.666666 mm"),
        ("at most 2/3 mm", "mm", "at most 0.666666 mm"),
        ("at least -2/3 mm", "mm", "at least -0.666666 mm"),
    ],
)
def test_limits_as_people_read_them(text: str, into: str, shown: str) -> None:
    assert limits_text(limits(text), unit(into)) == shown


def test_one_value_alone_is_no_range() -> None:
    four = between(Quantity.of(Fraction(4), unit("pieces")), Quantity.of(Fraction(4), unit("pieces")))
    assert limits_text(four, unit("pieces")) == "exactly 4 pieces"
    one = Quantity.of(Fraction(1), unit("pieces"))
    assert limits_text(between(one, one), unit("pieces")) == "exactly 1 piece"
    assert limits_text(at_most(one), unit("pieces")) == "at most 1 piece"
    assert limits_text(between(one, Quantity.of(Fraction(4), unit("pieces"))), unit("pieces")) == "1 to 4 pieces"
    north = between(q("0 deg true"), q("0 deg true"))
    assert limits_text(north, unit("deg true")) == "exactly 0 deg true"


def test_no_limit_at_all_is_said() -> None:
    assert limits_text(Limits(None, None, dim.LENGTH), unit("mm")) == "any value, in mm"
    assert limits_text(Limits(None, None, dim.NUMBER), NONE) == "any value"
    assert judge(q("5 mm"), Limits(None, None, dim.LENGTH)).outcome is Outcome.PASSES


@given(st.fractions(-100, 100), st.fractions(0, 1), st.sampled_from(["mm", "inch", "um"]))
def test_a_value_within_the_limits_as_shown_passes(low: Fraction, width: Fraction, text: str) -> None:
    """Limits are rounded inward, and never so far that the lower one is shown above the upper one."""
    got = between(Quantity.of(low, unit("mm")), Quantity.of(low + width, unit("mm")))
    shown = limits_text(got, unit(text))
    if not width:
        return
    first, second = shown.removesuffix(" " + unit(text).symbol).split(" to ")
    assert Fraction(first) <= Fraction(second)
    for edge in (first, second):
        assert judge(Quantity.of(Fraction(edge), unit(text)), got).outcome is Outcome.PASSES


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("40 mm ± -1 mm", "negative-tolerance"),
        ("300 mm .. 20 mm", "limits-reversed"),
        ("180 deg true ± 4 %", "no-share"),
        ("20 °C ± 4 %", "no-share"),
        ("20 °C ± 2 °C", "dimension-mismatch"),
        ("180 deg true ± 1 deg true", "dimension-mismatch"),
        ("40 mm ± 1 deg", "dimension-mismatch"),
        ("0.5 ± 1 mm", "dimension-mismatch"),
        ("40 mm .. 50 deg", "dimension-mismatch"),
        ("10 deg true .. 20 deg grid", "different-north"),
        ("at most 10 deg true", "point-arithmetic"),
        ("at least 10 deg true", "point-arithmetic"),
    ],
)
def test_limits_without_meaning_are_refused(text: str, code: str) -> None:
    with pytest.raises(DimensionError) as refused:
        limits(text)
    assert refused.value.problem.code == code


def test_a_verdict_needs_the_dimension_of_its_limits() -> None:
    for value, text in [("5 mm", "5 deg ± 1 deg"), ("180 deg magnetic", "180 deg true ± 1 deg"), ("5", "5 mm ± 1 mm")]:
        with pytest.raises(DimensionError):
            judge(q(value), limits(text))
