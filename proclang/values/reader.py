"""The one reader of numbers with units, for source text and for typed replies.

It reads a decimal (`12.5`), a power of ten (`1.5e-3`), a fraction (`3/8`), a whole number and a fraction (`1 1/2`),
each with or without a unit and a sign, and a sum of falling units (`1 deg 20 arcmin 5 arcsec`, `1 ft 3 inch`, `2 h 30
min`). A leading sign is read here in both; source text has it as an operator and its tokens carry none. Replies alone
may also have `.5`, `in`, and the marks `"`, `1°20'5"`. Nothing is guessed: what could be read in two ways is refused
and says how to write it. The work is bounded by the length, which is bounded before anything is converted.

An instant (`2026-11-25 14:30`, in source `2026-11-25T14:30:00Z`) is read by `instant.py`, where its codes are listed.

Problem codes, besides `unknown-unit` and `ambiguous-unit` of `unit.py`:

empty-number           nothing was typed
number-too-long        longer than a number, or a number with its unit, may be
not-a-number           words, nan, inf, hexadecimal, a stray sign or point
other-digits           digits other than 0 to 9, such as full-width ones or ½
decimal-comma          12,5
thousands-mark         1 000, 1,000, 1_000, 1'000
leading-point          .5 in source text
exponent-too-large     1e100
number-too-large, number-too-small    a number with a unit past every sensible size
division-by-zero       3/0
improper-fraction      1 3/2
two-numbers            5 3
uncertainty-typed      5 ± 1
reply-only-unit        `in`, `"` or `'` in source text
ambiguous-mark         5' or 1'20": feet and inches, or minutes and seconds
sum-without-unit       5 m 3
sum-units              parts that are not units of one family: 1 ft 5 mm
sum-order              20 arcmin 1 deg
sum-part-too-large     1 deg 75 arcmin
sum-sign               1 deg -20 arcmin
sum-decimals           1.5 deg 20 arcmin
trailing-text          words after the unit
wrong-dimension        12 mm where an angle is asked for
wrong-north            180 deg magnetic where a true bearing is asked for
bearing-out-of-range   below -360 or above 720 deg
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from itertools import pairwise

import attrs

from proclang.text.diagnostic import Problem
from proclang.text.limits import NUMBER_CHARACTERS
from proclang.text.printable import printable
from proclang.values import dimension as dim
from proclang.values.instant import looks_like_instant, read_instant
from proclang.values.number import NumberError
from proclang.values.numeral import ALONE, BLANKS, TOLERANCE_MARKS, Numeral, Refused, read_numeral, refuse_other_digits
from proclang.values.quantity import Quantity
from proclang.values.unit import NONE, Unit, bearing_unit, find_unit, reply_only

TEXT_CHARACTERS = 3 * NUMBER_CHARACTERS
"""Longest number with its unit, sums included."""

_ONLY = "give the number and its unit alone"
_PARTS = 4
_LOWEST_BEARING, _HIGHEST_BEARING = Fraction(-360), Fraction(720)
_FAMILIES = (
    ("turn", "deg", "arcmin", "arcsec"),
    ("year", "years", "month", "months"),
    ("d", "h", "min", "s"),
    ("yd", "ft", "inch"),
    ("m", "cm", "mm"),
    ("kg", "g"),
    ("lb", "oz"),
)


@attrs.frozen
class Entered:
    """What was read: the quantity, the unit it was written in (the first of a sum; the declared one of a bare
    number) and the text as it stood.
    """

    quantity: Quantity
    unit: Unit
    typed: str


@attrs.frozen
class _Part:
    number: Numeral
    unit: Unit
    start: int
    end: int


def read_quantity(text: str, *, unit: Unit | None = None, reply: bool = False) -> Entered | Problem:
    """The quantity a text stands for, or what is wrong with it; `start` and `end` of the problem are offsets in `text`.

    `unit` is the declared unit: a bare number is in it, and a number with a unit must have its dimension. An angle is
    taken for the declared bearing in a reply. Without a declared unit a bare number is a plain number.
    """
    try:
        return _read(text, unit, reply)
    except Refused as refused:
        return refused.problem
    except NumberError as error:
        return Problem(error.problem.code, error.problem.message, error.problem.hint, 0, len(text))


def _read(text: str, declared: Unit | None, reply: bool) -> Entered:
    start, end = len(text) - len(text.lstrip(BLANKS)), len(text.rstrip(BLANKS))
    if start >= end:
        raise Refused("empty-number", "a number is missing", end=len(text))
    if end - start > TEXT_CHARACTERS:
        raise Refused(
            "number-too-long", f"a number with its unit has at most {TEXT_CHARACTERS} characters", start=start, end=end
        )
    refuse_other_digits(text)
    if (declared is not None and declared.dimension.is_instant) or looks_like_instant(text, start, end):
        return _fit(text, start, end, _instant(text, start, end), declared, reply)
    negative = text[start] in "-−"
    at = start + (text[start] in "+-−")
    parts: list[_Part] = []
    north = ""
    while True:
        number = read_numeral(text, at, end, reply)
        unit_at = _skip(text, number.end, end)
        if unit_at == end and not parts:
            return _bare(text, -number.value if negative else number.value, declared)
        unit, unit_end = _unit(text, unit_at, end, parts, reply)
        parts.append(_Part(number, unit, at, unit_end))
        at = _skip(text, unit_end, end)
        if at == end:
            break
        if not _starts_number(text, at, end):
            north = _north(text, at, end)
            break
        if text[at] in "+-−":
            raise Refused(
                "sum-sign", "only the whole has a sign, in front", hint="one number is read", start=at, end=end
            )
        if len(parts) == _PARTS:
            raise Refused("trailing-text", f"a sum has at most {_PARTS} parts", start=at, end=end)
    if len(parts) > 1:
        _check_sum(text, parts)
    total = sum((part.number.value * part.unit.factor for part in parts), Fraction(0))
    unit = parts[0].unit
    if north:
        if any(part.unit.dimension != dim.ANGLE for part in parts):
            raise Refused(
                "trailing-text", "only an angle can name its north", start=text.rindex(north, 0, end), end=end
            )
        unit = bearing_unit(unit, dim.NAMED[f"bearing_{north}"])
    quantity = Quantity.of((-total if negative else total) / unit.factor, unit)
    return _fit(text, start, end, Entered(quantity, unit, text), declared, reply)


def _instant(text: str, start: int, end: int) -> Entered:
    unit = _table(dim.UTC.upper())
    return Entered(Quantity(read_instant(text, start, end), dim.INSTANT), unit, text)


def _bare(text: str, value: Fraction, declared: Unit | None) -> Entered:
    unit = declared or NONE
    return _in_range(Entered(Quantity.of(value, unit), unit, text))


# --- units


@cache
def _unit_text() -> re.Pattern[str]:
    # A digit belongs to a unit only as a power, so that `2h30min` and `1°20'` fall into parts.
    return re.compile(r"(?:\^[-−]?[0-9]+|[^\s0-9±+])+")


def _skip(text: str, at: int, end: int) -> int:
    while at < end and text[at] in BLANKS:
        at += 1
    return at


def _starts_number(text: str, at: int, end: int) -> bool:
    if text.startswith(TOLERANCE_MARKS, at, end):
        raise Refused("uncertainty-typed", "a tolerance follows the number", hint=ALONE, start=at, end=end)
    return text[at] in "0123456789.+-−"


def _unit(text: str, at: int, end: int, before: list[_Part], reply: bool) -> tuple[Unit, int]:
    """The unit text at `at`, and where it ends. `before` are the earlier parts of a sum."""
    found = _unit_text().match(text, at, end)
    if found is None:
        if at < end:
            raise Refused("trailing-text", f"`{printable(text[at:end])}` is not a unit", hint=_ONLY, start=at, end=end)
        number = printable(text[before[-1].end : end].strip(BLANKS))
        raise Refused(
            "sum-without-unit",
            f"`{number}` has no unit",
            hint="every part of a sum has its unit; a power is written `m^2`",
            start=_skip(text, before[-1].end, end),
            end=end,
        )
    word, stop = found.group(), found.end()
    if reply_only(word) and not reply:
        hint = "write `inch`" if word[0] in 'i"″' else "write `ft` or `arcmin`"
        raise Refused(
            "reply-only-unit", f"`{printable(word)}` is not a unit in source text", hint=hint, start=at, end=stop
        )
    marked = _marked(word, before, at, stop)
    if marked:
        return marked, stop
    unit = find_unit(word)
    if not isinstance(unit, Problem) and unit.dimension.is_instant:
        raise Refused(
            "not-an-instant",
            "an instant is a date with a time of day",
            hint="write it as `2026-11-25 14:30 UTC`" if reply else "write it as `2026-11-25T14:30:00Z`",
            start=at,
            end=stop,
        )
    if isinstance(unit, Problem):
        raise Refused(unit.code, unit.message, unit.hint, start=at + unit.start, end=at + (unit.end or len(word)))
    return unit, stop


def _marked(word: str, before: list[_Part], start: int, end: int) -> Unit | None:
    """The unit of a mark `'` or `"`: minutes and seconds after degrees, an inch after feet or alone."""
    if word not in ("'", "′", '"', "″", "''", "′′"):
        return None
    earlier = before[-1].unit.symbol if before else ""
    if word in ("'", "′") and earlier == "deg":
        return _table("arcmin")
    if word in ('"', "″"):
        if earlier in ("deg", "arcmin"):
            return _table("arcsec")
        if earlier in ("", "ft"):
            return _table("inch")
    minutes = word in ("'", "′")
    raise Refused(
        "ambiguous-mark",
        f"`{word}` alone may be {'feet or minutes of angle' if minutes else 'inches or seconds of angle'}",
        hint="write `ft` or `arcmin`" if minutes else "write `inch` or `arcsec`",
        start=start,
        end=end,
    )


def _table(symbol: str) -> Unit:
    unit = find_unit(symbol)
    assert isinstance(unit, Unit)
    return unit


def _north(text: str, at: int, end: int) -> str:
    word = text[at:end]
    if word in dim.NORTHS:
        return word
    raise Refused(
        "trailing-text",
        f"`{printable(word)}` does not belong to a number with its unit",
        hint=_ONLY,
        start=at,
        end=end,
    )


def _check_sum(text: str, parts: list[_Part]) -> None:
    """A sum of falling units: one family, whole numbers but for the last, each part below one of the unit before it."""
    for before, part in pairwise(parts):
        family = next((names for names in _FAMILIES if before.unit.symbol in names), ())
        if part.unit.symbol not in family:
            hours = before.unit.dimension == dim.ANGLE and part.unit.dimension == dim.TIME
            raise Refused(
                "sum-units",
                f"`{before.unit.symbol}` and `{part.unit.symbol}` are not added in one number",
                hint="minutes and seconds of angle are `arcmin` and `arcsec`" if hours else "write it in one unit",
                start=part.start,
                end=part.end,
            )
        if part.unit.factor >= before.unit.factor:
            raise Refused("sum-order", "the units of a sum go from the greatest down", start=part.start, end=part.end)
        if not before.number.whole:
            raise Refused(
                "sum-decimals",
                "only the last part of a sum may have decimals or a fraction",
                hint="write it in one unit",
                start=before.start,
                end=before.end,
            )
        if part.number.value * part.unit.factor >= before.unit.factor:
            raise Refused(
                "sum-part-too-large",
                f"`{printable(text[part.start : part.end])}` is one {before.unit.symbol} or more",
                hint="carry it into the part before, or write it in one unit",
                start=part.start,
                end=part.end,
            )


# --- against the declared unit


def _fit(text: str, start: int, end: int, entered: Entered, declared: Unit | None, reply: bool) -> Entered:
    if declared is None or entered.unit.dimension == declared.dimension:
        return _in_range(entered)
    got, wanted = entered.unit.dimension, declared.dimension
    if wanted.is_bearing and got == dim.ANGLE and reply:
        bearing = bearing_unit(entered.unit, wanted)
        return _in_range(Entered(Quantity(entered.quantity.value, wanted), bearing, text))
    typed = printable(text[start:end])
    north = dim.same(got, wanted, "compare") if got.is_bearing and wanted.is_bearing else None
    if isinstance(north, Problem):
        raise Refused(
            "wrong-north",
            f"`{typed}` is {got.phrase}; this reading is {wanted.phrase}",
            hint=north.hint,
            start=start,
            end=end,
        )
    named = f", in {declared.symbol}" if declared.symbol else ""
    raise Refused(
        "wrong-dimension",
        f"`{typed}` is {got.phrase}; this reading is {wanted.phrase}{named}",
        hint=_dimension_hint(entered.unit, declared),
        start=start,
        end=end,
    )


def _dimension_hint(got: Unit, declared: Unit) -> str:
    if got.symbol == "nm" and declared.dimension == dim.TORQUE:
        return "`nm` is the nanometre; a torque is written `N.m`"
    if got.symbol == "inch" and declared.dimension == dim.ANGLE:
        return '`"` and `in` are inches; seconds of angle are written `arcsec`'
    if got.symbol == "min" and declared.dimension == dim.ANGLE:
        return "`min` is a time; minutes of angle are written `arcmin`"
    if got.symbol == "deg" and declared.dimension == dim.TEMPERATURE:
        return "`deg` is an angle; a temperature is written in `°C`"
    if got.dimension.is_instant and declared.dimension == dim.NUMBER:
        return "an instant is no number"
    if declared.dimension == dim.NUMBER:
        return "give the number without a unit"
    return dim.mismatch_hint(got.dimension, declared.dimension)


def _in_range(entered: Entered) -> Entered:
    quantity = entered.quantity
    if quantity.dimension.is_bearing and not _LOWEST_BEARING <= quantity.value <= _HIGHEST_BEARING:
        raise Refused(
            "bearing-out-of-range",
            "a bearing lies between -360 and 720 deg",
            hint="give the bearing within one turn; an angle that counts on has no north",
            end=len(entered.typed),
        )
    return entered
