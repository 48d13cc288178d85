"""Instants: a date with a time of day, in UTC.

The calendar and the forms are those of ISO 8601-1 (calendar date, time of day, `Z`); the oracle is Python's `datetime`,
a general library, which has the proleptic Gregorian calendar and no leap seconds either.
"""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from proclang.text.diagnostic import Problem
from proclang.values import dimension as dim
from proclang.values.quantity import DimensionError, Quantity
from proclang.values.reader import Entered, read_quantity
from proclang.values.show import exact_text, parse_exact, show
from proclang.values.tolerance import Outcome, around, at_least, between, judge, limits_text
from proclang.values.unit import Unit, find_unit

EPOCH = dt.datetime(2000, 1, 1)
moments = st.datetimes(dt.datetime(1990, 1, 1), dt.datetime(2100, 12, 31, 23, 59, 59))


def utc() -> Unit:
    found = find_unit("UTC")
    assert isinstance(found, Unit)
    return found


def instant(text: str) -> Quantity:
    entered = read_quantity(text, unit=utc(), reply=True)
    assert isinstance(entered, Entered), entered
    return entered.quantity


def amount(text: str) -> Quantity:
    entered = read_quantity(text)
    assert isinstance(entered, Entered), entered
    return entered.quantity


def since_epoch(moment: dt.datetime) -> Fraction:
    passed = moment - EPOCH
    return Fraction(passed // dt.timedelta(microseconds=1), 10**6)


# ---------------------------------------------------------------------------- reading


@given(moments)
def test_what_iso_8601_writes_is_read_as_the_calendar_counts_it(moment: dt.datetime) -> None:
    """Python's calendar is the oracle, to the microsecond."""
    wanted = Quantity(since_epoch(moment), dim.INSTANT)
    for text in (moment.isoformat(), moment.isoformat() + "Z", moment.isoformat(" "), moment.isoformat(" ") + " UTC"):
        assert instant(text) == wanted
    assert amount(moment.isoformat() + "Z") == wanted


@given(moments)
def test_an_instant_is_stored_and_read_back_exactly(moment: dt.datetime) -> None:
    kept = Quantity(since_epoch(moment), dim.INSTANT)
    text = exact_text(kept, utc())
    assert dt.datetime.fromisoformat(text.removesuffix(" UTC")) == moment
    assert parse_exact(text) == kept
    assert instant(text) == kept
    assert dt.datetime.fromisoformat(show(kept, utc()).removesuffix(" UTC")) == moment


@given(st.fractions(-(10**14), 10**14))
def test_an_instant_no_calendar_or_no_decimals_write_is_stored_exactly_all_the_same(seconds: Fraction) -> None:
    kept = Quantity(seconds, dim.INSTANT)
    assert parse_exact(exact_text(kept, utc())) == kept
    assert show(kept, utc()).endswith(" UTC")


@given(st.dates())
def test_every_day_of_the_calendar_is_shown_as_itself(day: dt.date) -> None:
    """From year 1 to 9999, though fewer are read: a computed instant may lie anywhere."""
    seconds = Fraction((day - EPOCH.date()).days * 86_400)
    assert exact_text(Quantity(seconds, dim.INSTANT), utc()) == f"{day.isoformat()}T00:00:00 UTC"


@given(st.text("0123456789-:.TZUC +/a", max_size=130))
def test_any_text_is_an_instant_or_is_refused_in_words(text: str) -> None:
    got = read_quantity(text, unit=utc(), reply=True)
    if isinstance(got, Problem):
        assert got.message
        assert 0 <= got.start <= got.end <= len(text)
    else:
        assert got.quantity.dimension == dim.INSTANT


@pytest.mark.parametrize(
    ("typed", "code", "says"),
    [
        ("", "empty-number", "missing"),
        ("now", "not-an-instant", "this computer"),
        ("5", "not-an-instant", "2026-11-25 14:30"),
        ("5 UTC", "not-an-instant", "2026-11-25 14:30"),
        ("yesterday", "not-an-instant", "2026-11-25 14:30"),
        ("-2026-11-25 10:00", "not-an-instant", "2026-11-25 14:30"),
        ("25/11/2026 10:00", "other-date-order", "year, month and day"),
        ("11-25-2026 10:00", "other-date-order", "year, month and day"),
        ("25.11.2026 10:00", "other-date-order", "year, month and day"),
        ("2026/11/25 10:00", "other-date-order", "year, month and day"),
        ("2026-11-25", "time-missing", "2026-11-25 14:30"),
        ("14:30", "date-missing", "2026-11-25 14:30"),
        ("2026-13-01 10:00", "no-such-date", "year, month and day"),
        ("2026-00-01 10:00", "no-such-date", "year, month and day"),
        ("2026-02-30 10:00", "no-such-date", "28 days"),
        ("2028-02-30 10:00", "no-such-date", "29 days"),
        ("2100-02-29 10:00", "no-such-date", "28 days"),
        ("2026-04-31 10:00", "no-such-date", "30 days"),
        ("1989-12-31 10:00", "no-such-date", "1990 to 2100"),
        ("2101-01-01 10:00", "no-such-date", "1990 to 2100"),
        ("2026-11-25 24:00", "no-such-time", "next day"),
        ("2026-11-25 25:00", "no-such-time", "0 to 23"),
        ("2026-11-25 10:60", "no-such-time", "0 to 59"),
        ("2026-12-31 23:59:60", "no-such-time", "leap seconds"),
        ("2026-12-31 23:59:61", "no-such-time", "0 to 59"),
        ("2026-11-25 9:30", "no-such-time", "14:30"),
        ("2026-11-25 2:30 pm", "no-such-time", "14:30"),
        ("2026-11-25 10:00:00,5", "no-such-time", "14:30:05.5"),
        ("2026-11-25 10:00 CET", "other-time-zone", "convert it to UTC"),
        ("2026-11-25 10:00 pm", "other-time-zone", "convert it to UTC"),
        ("2026-11-25T10:00+02:00", "other-time-zone", "convert it to UTC"),
        ("2026-11-25T10:00-03", "other-time-zone", "convert it to UTC"),
        ("2026-11-25 10:00 and a bit", "trailing-text", "2026-11-25 14:30"),
        ("２０２６-11-25 10:00", "other-digits", ""),
        ("2026-11-25 10:00" + " " * 400 + "x", "number-too-long", ""),
    ],
)
def test_what_is_no_instant_is_refused_and_says_how_to_write_it(typed: str, code: str, says: str) -> None:
    got = read_quantity(typed, unit=utc(), reply=True)
    assert isinstance(got, Problem), got
    assert got.code == code
    assert says in got.message + got.hint


def test_an_instant_is_no_number_and_no_time() -> None:
    seconds = find_unit("s")
    assert isinstance(seconds, Unit)
    got = read_quantity("2026-11-25 14:30", unit=seconds, reply=True)
    assert isinstance(got, Problem)
    assert (got.code, got.message) == (
        "wrong-dimension",
        "`2026-11-25 14:30` is an instant; this reading is a time, in s",
    )


@pytest.mark.parametrize("text", ["m/UTC", "UTC^2", "UTC.m", "UTC/s", "utc", "GMT", "Z"])
def test_utc_is_the_one_unit_of_instants_and_stands_in_no_product(text: str) -> None:
    got = find_unit(text)
    assert isinstance(got, Problem)
    assert got.code == "unknown-unit"


# ---------------------------------------------------------------------------- arithmetic


@given(moments, moments)
def test_two_instants_differ_by_the_time_between(a: dt.datetime, b: dt.datetime) -> None:
    """Against Python's datetime: their difference, their order, and what a time leads to."""
    first, second = (Quantity(since_epoch(x), dim.INSTANT) for x in (a, b))
    apart = second - first
    assert apart == Quantity(Fraction((b - a) // dt.timedelta(microseconds=1), 10**6), dim.TIME)
    assert first + apart == apart + first == second
    assert second - apart == first
    assert (first < second) == (a < b)


def test_an_instant_is_not_added_multiplied_or_negated() -> None:
    now = instant("2026-11-25 14:30")
    for refused in (
        lambda: now + now,
        lambda: now * 2,
        lambda: now / amount("2 h"),
        lambda: -now,
        lambda: amount("2 h") - now,
        lambda: now + amount("2 m"),
        lambda: now + amount("20 °C"),
        lambda: now**2,
    ):
        with pytest.raises(DimensionError) as error:
            refused()
        said = error.value.problem.message + error.value.problem.hint
        assert "instant" in said
        assert "temperature difference" not in said
        assert "bearing" not in said


# ---------------------------------------------------------------------------- shown


@pytest.mark.parametrize(
    ("typed", "step", "shown"),
    [
        ("2026-11-25 14:30", None, "2026-11-25 14:30:00 UTC"),
        ("2026-11-25 14:30:05.50", None, "2026-11-25 14:30:05.5 UTC"),
        ("2026-11-25 14:30:05.0000004", None, "2026-11-25 14:30:05 UTC"),
        ("2026-11-25 14:30:29", "1 min", "2026-11-25 14:30 UTC"),
        ("2026-11-25 14:30:31", "1 min", "2026-11-25 14:31 UTC"),
        ("2026-12-31 23:59:59.6", "1 s", "2027-01-01 00:00:00 UTC"),
        ("2026-12-31 23:59:59.96", "0.1 s", "2027-01-01 00:00:00.0 UTC"),
        ("2026-11-25 14:40", "1 h", "2026-11-25 15:00 UTC"),
        ("1999-12-31 23:59:31", "1 min", "2000-01-01 00:00 UTC"),
        ("1999-12-31 23:59:29", "1 s", "1999-12-31 23:59:29 UTC"),
    ],
)
def test_an_instant_as_it_is_shown(typed: str, step: str | None, shown: str) -> None:
    assert show(instant(typed), utc(), step=None if step is None else amount(step)) == shown
    assert show(instant(typed), utc(), step=None if step is None else amount(step), signed=True) == shown


def test_an_instant_past_every_calendar_is_shown_as_seconds() -> None:
    assert show(Quantity(Fraction(10) ** 15, dim.INSTANT), utc()) == "1e15 s after 2000-01-01 00:00:00 UTC"
    assert show(Quantity(-(Fraction(10) ** 15), dim.INSTANT), utc()).endswith("s before 2000-01-01 00:00:00 UTC")


@pytest.mark.parametrize(
    "text",
    [
        "2026-02-30T10:00:00 UTC",
        "2026-11-25T10:00 UTC",
        "2026-11-25T24:00:00 UTC",
        "2026-11-25T10:00:60 UTC",
        "2026-11-25 10:00:00 UTC",
        "2026-11-25T10:00:00",
        "2026-11-25T10:00:00 s",
        "0000-01-01T00:00:00 UTC",
        "２０２６-11-25T10:00:00 UTC",
    ],
)
def test_what_was_never_stored_is_not_read_back(text: str) -> None:
    assert isinstance(parse_exact(text), Problem)


# ---------------------------------------------------------------------------- limits


def test_limits_on_an_instant() -> None:
    noon = instant("2026-11-25 12:00")
    limits = around(noon, amount("5 min"))
    assert limits_text(limits, utc()) == "2026-11-25 11:55:00 to 2026-11-25 12:05:00 UTC"
    assert judge(instant("2026-11-25 12:05"), limits).outcome is Outcome.PASSES
    late = judge(instant("2026-11-25 12:05:01"), limits)
    assert (late.outcome, late.beyond) == (Outcome.FAILS, 1)
    assert limits_text(at_least(noon), utc()) == "at least 2026-11-25 12:00:00 UTC"
    assert limits_text(between(noon, noon), utc()) == "exactly 2026-11-25 12:00:00 UTC"
    with pytest.raises(DimensionError) as error:
        around(noon, amount("4 %"))
    assert error.value.problem.hint == "give the tolerance as a time"
