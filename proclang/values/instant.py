"""Instants as text: a date with a time of day in UTC, as `2026-11-25 14:30:05` (ISO 8601-1, calendar date and time).

An instant is kept as seconds since 2000-01-01 00:00:00 UTC, each day having 86,400 of them; the calendar is the
Gregorian one, carried backwards too. Leap seconds are not read: `23:59:60` is refused.

Problem codes:

not-an-instant     words, a bare number, `now`, or anything that is no date with a time of day
other-date-order   25/11/2026, 11-25-2026, 25.11.2026
no-such-date       month 13, 30 February, a year outside 1990 to 2100
no-such-time       24:00, minute 60, second 60
time-missing, date-missing    a date alone, a time of day alone
other-time-zone    any zone but UTC
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache

from proclang.text.printable import printable
from proclang.values.number import decimal_places, power_of_ten, round_nearest
from proclang.values.numeral import BLANKS, Refused

FIRST_YEAR, LAST_YEAR = 1990, 2100
"""Years that are read: no instrument was set up before, and no reading is taken after."""

_DAY = 86_400
_MINUTE = 60
_FORM = "write the date and the time of day in UTC as `2026-11-25 14:30`"
_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_SHOWN_DECIMALS = 6
_MOST_DECIMALS = 15
_LEAST_YEAR, _GREATEST_YEAR = 1, 9999


@cache
def _patterns() -> tuple[re.Pattern[str], ...]:
    """A date with what follows it, a time of day, a zone, dates in another order, a time of day alone."""
    return (
        re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})(?![0-9-])"),
        re.compile(r"([0-9]{2}):([0-9]{2})(?::([0-9]{2})(?:\.([0-9]{1,12}))?)?(?![0-9:.,])"),
        re.compile(r"[A-Za-z]{1,6}|[+\-−][0-9]{1,2}(?::?[0-9]{2})?"),
        re.compile(r"[0-9]{1,4}([/.\-])[0-9]{1,2}\1[0-9]{1,4}(?![0-9])"),
        re.compile(r"[0-9]{1,2}:[0-9]{2}(?![0-9])"),
    )


def looks_like_instant(text: str, start: int, end: int) -> bool:
    """Whether a text begins with a date as instants have it, and something follows."""
    if text[start + 4 : start + 5] != "-":
        return False  # nearly every number: no pattern is needed
    found = _patterns()[0].match(text, start, end)
    return found is not None and found.end() < end


def read_instant(text: str, start: int, end: int) -> Fraction:
    """The seconds since 2000-01-01 00:00:00 UTC of what stands in `text` from `start` to `end`; raises `Refused`."""
    date, time, zone, otherwise, alone = _patterns()
    found = date.match(text, start, end)
    if found is None:
        if otherwise.match(text, start, end):
            raise Refused(
                "other-date-order",
                f"`{printable(text[start:end])}` may be read in more than one order",
                hint="write year, month and day, as `2026-11-25`, then the time of day",
                start=start,
                end=end,
            )
        if alone.match(text, start, end):
            raise Refused("date-missing", "the date is missing", hint=_FORM, start=start, end=end)
        hint = (
            "type the time the clock shows; it is not taken from this computer" if text[start:end] == "now" else _FORM
        )
        raise Refused(
            "not-an-instant",
            f"`{printable(text[start:end])}` is not a date with a time of day",
            hint=hint,
            start=start,
            end=end,
        )
    day = _day(found, int(found[1]), int(found[2]), int(found[3]))
    at = found.end()
    if at < end and text[at] == "T":
        at += 1
    else:
        at = _skip(text, at, end)
    clock = time.match(text, at, end)
    if clock is None:
        if at >= end:
            raise Refused("time-missing", "the time of day is missing", hint=_FORM, start=start, end=end)
        raise Refused(
            "no-such-time",
            f"`{printable(text[at:end])}` is not a time of day",
            hint="write hours and minutes as `14:30`, with seconds as `14:30:05` or `14:30:05.5`",
            start=at,
            end=end,
        )
    seconds = _seconds(clock)
    at = _skip(text, clock.end(), end)
    if at < end:
        _only_utc(text, at, end, zone)
    return day * _DAY + seconds


def _skip(text: str, at: int, end: int) -> int:
    while at < end and text[at] in BLANKS:
        at += 1
    return at


def _only_utc(text: str, at: int, end: int, zone: re.Pattern[str]) -> None:
    word = text[at:end]
    if word in ("Z", "UTC"):
        return
    if zone.fullmatch(word):
        raise Refused(
            "other-time-zone",
            f"an instant is read in UTC, not in `{printable(word)}`",
            hint="convert it to UTC and write it without a zone, or with `UTC`",
            start=at,
            end=end,
        )
    raise Refused("trailing-text", f"`{printable(word)}` does not belong to an instant", hint=_FORM, start=at, end=end)


def _day(found: re.Match[str], year: int, month: int, day: int) -> int:
    """Days since 2000-01-01."""
    start, end = found.span()
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise Refused(
            "no-such-date", f"a year goes from {FIRST_YEAR} to {LAST_YEAR}, not {year}", start=start, end=found.end(1)
        )
    if not 1 <= month <= len(_DAYS):
        raise Refused(
            "no-such-date",
            f"there is no month {month}",
            hint="write year, month and day, as `2026-11-25`",
            start=found.start(2),
            end=found.end(2),
        )
    last = _DAYS[month - 1] + (month == 2 and _is_leap(year))
    if not 1 <= day <= last:
        raise Refused(
            "no-such-date",
            f"`{found[0]}` is not in the calendar",
            hint=f"that month has {last} days",
            start=start,
            end=end,
        )
    return days_since_2000(year, month, day)


def _seconds(found: re.Match[str]) -> Fraction:
    hour, minute, second = int(found[1]), int(found[2]), int(found[3] or 0)
    start, end = found.span()
    if hour > 23:
        hint = "midnight is `00:00` of the next day" if found[0].startswith("24:00") else "an hour goes from 0 to 23"
        raise Refused("no-such-time", f"there is no hour {hour}", hint=hint, start=start, end=end)
    if minute >= _MINUTE:
        raise Refused(
            "no-such-time", f"there is no minute {minute}", hint="a minute goes from 0 to 59", start=start, end=end
        )
    if second >= _MINUTE:
        hint = "leap seconds are not read: write second 59" if second == _MINUTE else "a second goes from 0 to 59"
        raise Refused("no-such-time", f"there is no second {second}", hint=hint, start=start, end=end)
    decimals = found[4] or ""
    part = int(decimals) * power_of_ten(-len(decimals)) if decimals else Fraction(0)
    return (hour * 60 + minute) * _MINUTE + second + part


def _is_leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def days_since_2000(year: int, month: int, day: int) -> int:
    """Days from 2000-01-01 to a day of the Gregorian calendar."""
    before = year - 1
    days = 365 * before + before // 4 - before // 100 + before // 400
    days += sum(_DAYS[: month - 1]) + (month > 2 and _is_leap(year)) + day - 1
    return days - _DAYS_BEFORE_2000


_DAYS_BEFORE_2000 = 365 * 1999 + 1999 // 4 - 1999 // 100 + 1999 // 400


def exact_instant(seconds: Fraction) -> str | None:
    """ "2026-11-25T14:30:05", with all decimals of the second; None where no decimals write it, or no calendar."""
    places = decimal_places(seconds)
    if places is None or places > _MOST_DECIMALS:
        return None
    return _text(seconds, "T", places)


def shown_instant(seconds: Fraction, step: Fraction | None = None) -> str | None:
    """ "2026-11-25 14:30:05" for people; to a step where there is one, whole minutes without their seconds.

    Without a step the second has its decimals, six at most. None where no calendar writes it.
    """
    if step is None:
        rounded = round_nearest(seconds, power_of_ten(-_SHOWN_DECIMALS))
        return _text(rounded, " ", decimal_places(rounded) or 0)
    rounded = round_nearest(seconds, step)
    places = decimal_places(step)
    if places is None or places > _MOST_DECIMALS:
        places = _SHOWN_DECIMALS
    return _text(rounded, " ", places, whole_minutes=step % _MINUTE == 0)


def _text(seconds: Fraction, between: str, places: int, *, whole_minutes: bool = False) -> str | None:
    ticks = 10**places
    total = round(seconds * ticks)
    days, rest = divmod(total, _DAY * ticks)
    date = _date(days)
    if date is None:
        return None
    minutes, ticked = divmod(rest, _MINUTE * ticks)
    text = f"{date}{between}{minutes // 60:02}:{minutes % 60:02}"
    if whole_minutes:
        return text
    second, part = divmod(ticked, ticks)
    return f"{text}:{second:02}" + (f".{part:0{places}}" if places else "")


def _date(days: int) -> str | None:
    """The day of the calendar so many days after 2000-01-01; None outside the years 1 to 9999."""
    least = days_since_2000(_LEAST_YEAR, 1, 1)
    greatest = days_since_2000(_GREATEST_YEAR, 12, 31)
    if not least <= days <= greatest:
        return None
    year = (days - least) * 400 // 146_097 + 1
    while days < days_since_2000(year, 1, 1):
        year -= 1
    while year < _GREATEST_YEAR and days >= days_since_2000(year + 1, 1, 1):
        year += 1
    month = 12
    while days < (first := days_since_2000(year, month, 1)):
        month -= 1
    return f"{year:04}-{month:02}-{days - first + 1:02}"


@cache
def _stored() -> re.Pattern[str]:
    return re.compile(
        r"([0-9]{4})-(0[1-9]|1[0-2])-([0-3][0-9])T([01][0-9]|2[0-3]):([0-5][0-9]):([0-5][0-9])(?:\.([0-9]{1,15}))?"
    )


def parse_exact_instant(text: str) -> Fraction | None:
    """What `exact_instant` wrote, in seconds since 2000; None for anything else."""
    found = _stored().fullmatch(text)
    if found is None:
        return None
    year, month, day, hour, minute, second = (int(found[at]) for at in range(1, 7))
    if year < _LEAST_YEAR or not 1 <= day <= _DAYS[month - 1] + (month == 2 and _is_leap(year)):
        return None
    decimals = found[7] or ""
    part = int(decimals) * power_of_ten(-len(decimals)) if decimals else Fraction(0)
    return days_since_2000(year, month, day) * _DAY + (hour * 60 + minute) * 60 + second + part
