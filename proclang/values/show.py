"""Quantities as text: `exact_text` for what is stored and read back, `show` for people.

`exact_text` writes what `reader.read_quantity(..., reply=True)` reads back to the same value, except that a stored
value may be longer than a typed one may, a stored bearing may lie outside one turn, and a fraction may carry a power
of ten on its numerator, and an instant that no calendar or no decimals write is seconds since 2000 (`1/3 UTC`).
`parse_exact` reads all of it.

Problem codes: `not-exact-text`, and those of `unit.find_unit`.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache

from proclang.text.diagnostic import Problem
from proclang.values import dimension as dim
from proclang.values.dimension import Dimension
from proclang.values.instant import exact_instant, parse_exact_instant, shown_instant
from proclang.values.number import (
    GREATEST_MAGNITUDE,
    NumberError,
    decimal_places,
    decimal_text,
    fixed_text,
    leading_place,
    power_of_ten,
    round_nearest,
    scientific_text,
    to_significant,
)
from proclang.values.quantity import FULL_TURN, DimensionError, Quantity
from proclang.values.unit import NONE, Unit, find_unit

EXACT_CHARACTERS = 600
"""Longest stored value."""

_INSTANTS_IN = dim.UTC.upper()
_PLAIN_CHARACTERS = 30
_SHOWN_EXACTLY = 12
_SHOWN_ROUNDED = 6
_MOST_DECIMALS = 15


def exact_text(q: Quantity, unit: Unit) -> str:
    """The value in `unit`, to the last digit: "19.05 mm", "127/12 mm", "-3/7 deg", "2026-11-25T14:30:05 UTC".

    Bearings are not wrapped. The dimension must be the unit's.
    """
    number = q.in_unit(unit)
    if q.dimension.is_instant and (text := exact_instant(number)) is not None:
        return with_unit(text, unit)
    return with_unit(_exact_number(number), unit)


def parse_exact(text: str) -> Quantity | Problem:
    """The quantity `exact_text` wrote: one sign at most, decimals or a fraction, one blank, the unit."""
    if len(text) > EXACT_CHARACTERS:
        return Problem("not-exact-text", f"a stored value has at most {EXACT_CHARACTERS} characters", end=len(text))
    number, _, symbol = text.partition(" ")
    if symbol == _INSTANTS_IN and (instant := parse_exact_instant(number)) is not None:
        return Quantity(instant, dim.INSTANT)
    found = _stored().fullmatch(number)
    if found is None or (symbol == "" and number != text):
        return Problem(
            "not-exact-text", "not a stored value", hint="a stored value is a number, a blank and a unit", end=len(text)
        )
    unit = find_unit(symbol) if symbol else NONE
    if isinstance(unit, Problem):
        return unit
    sign, whole, decimals, exponent, bottom = found.groups()
    power = int(exponent or 0) - len(decimals or "")
    below = int(bottom or 1)
    if abs(power) > 2 * GREATEST_MAGNITUDE or not below:
        return Problem("not-exact-text", "not a stored value", end=len(text))
    value = int(whole + (decimals or "")) * power_of_ten(power) / below
    try:
        return Quantity.of(-value if sign else value, unit)
    except NumberError as error:
        return error.problem


def show(
    q: Quantity,
    unit: Unit,
    *,
    step: Quantity | None = None,
    signed: bool = False,
    words: tuple[str, str] | None = None,
) -> str:
    """The value for people, always with its unit; no marks between digits.

    Without `step`: exact when 12 significant digits suffice, otherwise rounded to 6. With `step` (an amount: an angle
    for a bearing, a difference for a temperature): the nearest multiple, half way the even one, with as many decimals
    as the step has. Bearings are wrapped into [0, 360). `signed` puts a plus before what is above zero. `words`, such
    as ("raise", "lower"), replace the sign by the word for above or below zero, after the unit: "0.35 turn raise".
    What rounds to zero has no sign; with words it says that neither is meant: "0.00 turn, neither raise nor lower".
    An instant is a date and a time of day, without sign or words: "2026-11-25 14:30:05 UTC", to 1 min "2026-11-25 14:30
    UTC".
    """
    if q.dimension.is_instant:
        return _show_instant(q, unit, step)
    number = q.wrapped().in_unit(unit)
    if step is None:
        number, text = _unstepped(number)
    else:
        number, text = _stepped(number, _amount_of(step, q) / unit.factor)
    if q.dimension.is_bearing and number >= FULL_TURN / unit.factor:
        text = fixed_text(Fraction(0), len(text.partition(".")[2]))
        number = Fraction(0)
    if words is not None:
        shown = with_unit(text.removeprefix("-"), unit)
        if not number:
            return f"{shown}, neither {words[0]} nor {words[1]}"
        return f"{shown} {words[0] if number > 0 else words[1]}"
    if signed and number > 0 and not q.dimension.is_bearing:
        text = "+" + text
    return with_unit(text, unit)


def _amount_of(step: Quantity, q: Quantity) -> Fraction:
    amount = dim.same(step.dimension, Dimension(q.dimension.powers), "round")
    if isinstance(amount, Problem):
        raise DimensionError(amount)
    return step.value


def _show_instant(q: Quantity, unit: Unit, step: Quantity | None) -> str:
    number = q.in_unit(unit)
    text = shown_instant(number, None if step is None else _amount_of(step, q))
    if text is None:
        past, size = ("before" if number < 0 else "after"), _unstepped(abs(number))[1]
        return f"{size} s {past} 2000-01-01 00:00:00 {unit.symbol}"
    return with_unit(text, unit)


def _unstepped(number: Fraction) -> tuple[Fraction, str]:
    if to_significant(number, _SHOWN_EXACTLY) != number:
        number = to_significant(number, _SHOWN_ROUNDED)
    return number, decimal_text(number, _SHOWN_EXACTLY)


def _stepped(number: Fraction, step: Fraction) -> tuple[Fraction, str]:
    rounded = round_nearest(number, step)
    places = decimal_places(step)
    if places is None or places > _MOST_DECIMALS:
        # A step that no decimals write, 1 mm shown in inches, still tells its neighbours apart with two digits of it.
        places = max(0, 1 - leading_place(step))
    return rounded, fixed_text(rounded, places)


def _exact_number(value: Fraction) -> str:
    places = decimal_places(value)
    if places is not None and places <= _PLAIN_CHARACTERS:
        text = fixed_text(value, places)
        if len(text) <= _PLAIN_CHARACTERS:
            return text
    fraction = _fraction_text(value)
    if places is None:
        return fraction
    return min(scientific_text(value), fraction, key=len)


def _fraction_text(value: Fraction) -> str:
    top, bottom = value.numerator, value.denominator
    if bottom == 1:
        return str(top)
    plain = f"{top}/{bottom}"
    if len(plain) <= EXACT_CHARACTERS // 2:
        return plain
    power = 0
    while top % 10 == 0:
        top //= 10
        power += 1
    while bottom % 10 == 0:
        bottom //= 10
        power -= 1
    return f"{top}e{power}/{bottom}" if power else plain


@cache
def _stored() -> re.Pattern[str]:
    return re.compile(r"(-?)([0-9]+)(?:\.([0-9]+))?(?:e(-?[0-9]{1,4}))?(?:/([0-9]+))?")


def with_unit(number: str, unit: Unit) -> str:
    """A number as text and its unit: "12.5 mm", "4 pieces", "1 piece"."""
    symbol = unit.symbol
    if symbol == "pieces" and number.lstrip("+-") == "1":
        symbol = "piece"
    return f"{number} {symbol}" if symbol else number
