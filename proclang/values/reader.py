"""The one reader of numbers with units, for source text and for typed replies.

It reads a decimal (`12.5`), a power of ten (`1.5e-3`), a fraction (`3/8`), a whole number and a fraction (`1 1/2`),
each with or without a unit and a sign, and a sum of falling units (`1 deg 20 arcmin 5 arcsec`, `1 ft 3 inch`, `2 h 30
min`). A leading sign is read here in both; source text has it as an operator and its tokens carry none. Replies alone
may also have `.5`, `in`, and the marks `"`, `1°20'5"`. Nothing is guessed: what could be read in two ways is refused
and says how to write it. The work is bounded by the length, which is bounded before anything is converted.

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
from proclang.text.limits import NUMBER_CHARACTERS, NUMBER_EXPONENT
from proclang.text.printable import printable
from proclang.values import dimension as dim
from proclang.values.number import NumberError, power_of_ten
from proclang.values.quantity import Quantity
from proclang.values.unit import NONE, Unit, bearing_unit, find_unit, reply_only

TEXT_CHARACTERS = 3 * NUMBER_CHARACTERS
"""Longest number with its unit, sums included."""

_PARTS = 4
_BLANKS = " \t\u00a0\u2009\u202f"
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
    """What was read: the quantity, the unit it was written in (the first of a sum; the declared one of a bare number)
    and
    the text as it stood.
    """

    quantity: Quantity
    unit: Unit
    typed: str


@attrs.frozen
class _Number:
    value: Fraction
    whole: bool
    end: int


@attrs.frozen
class _Part:
    number: _Number
    unit: Unit
    start: int
    end: int


class _Refused(Exception):
    """Carries a problem out of the reader's own functions; never leaves this module."""

    def __init__(self, code: str, message: str, hint: str = "", *, start: int = 0, end: int = 0) -> None:
        super().__init__(code)
        self.problem = Problem(code, message, hint, start, end)


def read_quantity(text: str, *, unit: Unit | None = None, reply: bool = False) -> Entered | Problem:
    """The quantity a text stands for, or what is wrong with it; `start` and `end` of the problem are offsets in `text`.

    `unit` is the declared unit: a bare number is in it, and a number with a unit must have its dimension. An angle is
    taken for the declared bearing in a reply. Without a declared unit a bare number is a plain number.
    """
    try:
        return _read(text, unit, reply)
    except _Refused as refused:
        return refused.problem
    except NumberError as error:
        return Problem(error.problem.code, error.problem.message, error.problem.hint, 0, len(text))


def _read(text: str, declared: Unit | None, reply: bool) -> Entered:
    start, end = len(text) - len(text.lstrip(_BLANKS)), len(text.rstrip(_BLANKS))
    if start >= end:
        raise _Refused("empty-number", "a number is missing", end=len(text))
    if end - start > TEXT_CHARACTERS:
        raise _Refused(
            "number-too-long", f"a number with its unit has at most {TEXT_CHARACTERS} characters", start=start, end=end
        )
    _refuse_other_digits(text)
    negative = text[start] in "-−"
    at = start + (text[start] in "+-−")
    parts: list[_Part] = []
    north = ""
    while True:
        number = _number(text, at, end, reply)
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
            raise _Refused(
                "sum-sign", "only the whole has a sign, in front", hint="one number is read", start=at, end=end
            )
        if len(parts) == _PARTS:
            raise _Refused("trailing-text", f"a sum has at most {_PARTS} parts", start=at, end=end)
    if len(parts) > 1:
        _check_sum(text, parts)
    total = sum((part.number.value * part.unit.factor for part in parts), Fraction(0))
    unit = parts[0].unit
    if north:
        if any(part.unit.dimension != dim.ANGLE for part in parts):
            raise _Refused(
                "trailing-text", "only an angle can name its north", start=text.rindex(north, 0, end), end=end
            )
        unit = bearing_unit(unit, dim.NAMED[f"bearing_{north}"])
    quantity = Quantity.of((-total if negative else total) / unit.factor, unit)
    return _fit(text, start, end, Entered(quantity, unit, text), declared, reply)


def _bare(text: str, value: Fraction, declared: Unit | None) -> Entered:
    unit = declared or NONE
    return _in_range(Entered(Quantity.of(value, unit), unit, text))


# --- numbers


@cache
def _patterns() -> tuple[re.Pattern[str], re.Pattern[str], re.Pattern[str]]:
    """A number, what makes it mixed or two numbers, and a unit text. Compiled when first needed; none backtracks."""
    blanks = f"[{_BLANKS}]+"
    return (
        re.compile(r"(?=\.?[0-9])([0-9]*)(?:\.([0-9]+))?(?:[eE]([+\-−]?)([0-9]+))?"),
        re.compile(blanks + r"([0-9]+)(/)?([0-9]+)?"),
        # A digit belongs to a unit only as a power, so that `2h30min` and `1°20'` fall into parts.
        re.compile(r"(?:\^[-−]?[0-9]+|[^\s0-9±+])+"),
    )


def _number(text: str, at: int, end: int, reply: bool) -> _Number:
    """One unsigned number at `at`: decimal, power of ten, fraction, or whole number and fraction."""
    pattern, follower, _ = _patterns()
    found = pattern.match(text, at, end)
    if found is None:
        raise _no_number(text, at, end)
    whole, decimals, sign, exponent = found.groups()
    after = found.end()
    if not whole and not reply:
        hint = f"write `0{text[at:after]}`"
        raise _Refused("leading-point", "a number begins with a digit", hint=hint, start=at, end=after)
    if after - at > NUMBER_CHARACTERS:
        raise _too_long(at, after)
    if exponent is not None and (len(exponent) > 4 or int(exponent) > NUMBER_EXPONENT):
        raise _Refused(
            "exponent-too-large", f"a power of ten goes up to {NUMBER_EXPONENT} either way", start=at, end=after
        )
    plain = decimals is None and exponent is None
    follow = text[after] if after < end else ""
    if follow and follow in "/,._'’xX×*+-−oObB":
        if follow == "/" and plain:
            return _fraction(text, at, after, end, 0, int(whole))
        _refuse_follower(text, at, after, end)
    ahead = follower.match(text, after, end) if follow and follow in _BLANKS else None
    if ahead is not None:
        top, slash, bottom = ahead.groups()
        if plain and slash and bottom:
            if len(top) > 1 and top[0] == "0":
                raise _thousands(text, at, end)
            return _fraction(text, at, ahead.end(1), end, int(whole), int(top))
        if len(top) == 3 and len(whole) <= 3 and decimals is None:
            raise _thousands(text, at, end)
        raise _Refused(
            "two-numbers",
            f"two numbers, `{text[at:after]}` and `{top}`, with no unit between them",
            hint="write one number; a fraction after a whole number as in `1 1/2`",
            start=at,
            end=ahead.end(),
        )
    if follow and text[after:end].lstrip(_BLANKS)[:1] in ("±", "+", "/", "x", "X", "×", "*"):
        _refuse_apart(text, after, end)
    value = Fraction(int((whole or "0") + (decimals or "")))
    power = (int(exponent) if exponent and sign in ("", "+") else -int(exponent or 0)) - len(decimals or "")
    return _Number(value * power_of_ten(power) if power else value, plain, after)


def _fraction(text: str, at: int, slash: int, end: int, whole: int, top: int) -> _Number:
    """The fraction whose `/` stands at `slash`; `whole` is what stood before it."""
    found = _patterns()[0].match(text, slash + 1, end)
    if found is None or found.group(2) is not None or found.group(4) is not None:
        raise _Refused(
            "not-a-number",
            f"`{printable(text[at:end])}` is not a fraction of whole numbers",
            hint="write a fraction as in `3/8`, without blanks; a decimal number as in `0.375`",
            start=at,
            end=end,
        )
    after = found.end()
    if after - at > NUMBER_CHARACTERS:
        raise _too_long(at, after)
    bottom = int(found.group(1))
    if not bottom:
        raise _Refused("division-by-zero", "a fraction has no zero below the line", start=at, end=after)
    if after < end and text[after] in "/,._'’xX×*+-−":
        _refuse_follower(text, at, after, end)
    rest = text[after:end].lstrip(_BLANKS)[:1]
    if rest and after < end and text[after] in _BLANKS and (rest in "0123456789" or rest in "±+/×*"):
        if rest in "0123456789":
            raise _Refused("two-numbers", "two numbers with no unit between them", start=at, end=end)
        _refuse_apart(text, after, end)
    if whole and top >= bottom:
        raise _Refused(
            "improper-fraction",
            f"the fraction after the whole number, {top}/{bottom}, is not below one",
            hint=f"{whole} {top}/{bottom} may be a slip; write {whole * bottom + top}/{bottom} if it is meant",
            start=at,
            end=after,
        )
    return _Number(whole + Fraction(top, bottom), False, after)


def _no_number(text: str, at: int, end: int) -> _Refused:
    shown = printable(text[at:end].strip(_BLANKS))
    if shown.startswith("±"):
        return _Refused("uncertainty-typed", "a tolerance is not a number", hint=_ALONE, start=at, end=end)
    return _Refused(
        "not-a-number",
        f"`{shown}` is not a number" if shown else "a number is missing after the sign",
        hint="begin with a digit, the sign directly before it, as in `-12.5 mm`",
        start=at,
        end=end,
    )


_TOLERANCE_MARKS = ("±", "+/-", "+-", "+/−", "+−")
_ONLY = "give the number and its unit alone"
_ALONE = "give the number alone; the uncertainty comes from the instrument"


def _refuse_follower(text: str, at: int, after: int, end: int) -> None:
    """Refuse what may not touch the number that ends at `after`. Returns when a unit may begin there."""
    follow = text[after]
    following = text[after + 1 : after + 2]
    digit_next = following != "" and following in "0123456789"
    if follow == "/":
        raise _Refused(
            "not-a-number",
            f"`{printable(text[at:end])}` is not a fraction of whole numbers",
            hint="write a fraction as in `3/8`, anything else in decimals",
            start=at,
            end=end,
        )
    if follow == ",":
        groups = text[at:after].isdigit() and after - at <= 3 and re.match(r"(?:,[0-9]{3})+(?![0-9])", text[after:end])
        if groups:
            raise _thousands(text, at, end)
        hint = f"write `{text[at:after]}.{text[after + 1 : end]}`" if digit_next else "a decimal point is a point"
        raise _Refused(
            "decimal-comma", "a comma is not a decimal point", hint=printable(hint), start=after, end=after + 1
        )
    if follow == "." and digit_next:
        if re.match(r"[0-9]{1,3}(?:\.[0-9]{3}){2,}(?![0-9])", text[at:end]):
            raise _thousands(text, at, end)
        raise _Refused("not-a-number", "a number has one point", start=at, end=end)
    if follow == ".":
        raise _Refused(
            "not-a-number",
            "a digit is missing after the point",
            hint=f"write `{text[at:after]}`",
            start=at,
            end=after + 1,
        )
    if follow == "_" or (follow in "'’" and re.match(r"[0-9]{3}(?![0-9])", text[after + 1 : end])):
        raise _thousands(text, at, end)
    if follow in "±+-−":
        _refuse_apart(text, after, end)
    if text[at:after] == "0" and re.match(r"[xX][0-9a-fA-F]|[bB][01]|[oO][0-7]", text[after:end]):
        raise _Refused("not-a-number", "only decimal numbers are read", hint="write it in decimals", start=at, end=end)
    if follow in "xX×*":
        _refuse_apart(text, after, end)


def _refuse_apart(text: str, after: int, end: int) -> None:
    """Refuse a number followed by an operator, with or without blanks between."""
    rest = text[after:end].lstrip(_BLANKS)
    start = end - len(rest)
    if rest.startswith(_TOLERANCE_MARKS):
        raise _Refused("uncertainty-typed", "a tolerance follows the number", hint=_ALONE, start=start, end=end)
    if rest[0] in "xX×*" and not re.match(r"[xX×*][" + _BLANKS + r"]*[0-9]", rest):
        return
    if rest[0] in "xX×*":
        hint = "write a power of ten as in `1.5e3`"
    elif rest[0] == "/":
        hint = "write a fraction as in `3/8`, without blanks"
    else:
        hint = "one number is read, not a sum"
    raise _Refused("not-a-number", f"`{printable(rest)}` does not belong to a number", hint=hint, start=start, end=end)


def _thousands(text: str, at: int, end: int) -> _Refused:
    run = re.match(r"[0-9]+(?:[" + _BLANKS + r",._'’][0-9]+)*", text[at:end])
    stop = at + run.end() if run else end
    marks = set(re.sub("[0-9]", "", text[at:stop]))
    hint = "write the digits together"
    if len(marks) == 1:
        hint += f": `{re.sub('[^0-9]', '', text[at:stop])}`"
    return _Refused(
        "thousands-mark",
        "digits are not set in groups",
        hint=hint + ("; if the comma is a decimal point, write a point" if "," in marks else ""),
        start=at,
        end=stop,
    )


def _too_long(start: int, end: int) -> _Refused:
    return _Refused("number-too-long", f"a number has at most {NUMBER_CHARACTERS} characters", start=start, end=end)


def _refuse_other_digits(text: str) -> None:
    if text.isascii():
        return
    for at, character in enumerate(text):
        if not character.isascii() and character not in "²³" and (character.isnumeric() or character == "⁄"):
            raise _Refused(
                "other-digits",
                f"`{printable(character)}` is not one of the digits 0 to 9",
                hint="write fractions as in `1/2`, powers as in `^2`",
                start=at,
                end=at + 1,
            )


# --- units


def _skip(text: str, at: int, end: int) -> int:
    while at < end and text[at] in _BLANKS:
        at += 1
    return at


def _starts_number(text: str, at: int, end: int) -> bool:
    if text.startswith(_TOLERANCE_MARKS, at, end):
        raise _Refused("uncertainty-typed", "a tolerance follows the number", hint=_ALONE, start=at, end=end)
    return text[at] in "0123456789.+-−"


def _unit(text: str, at: int, end: int, before: list[_Part], reply: bool) -> tuple[Unit, int]:
    """The unit text at `at`, and where it ends. `before` are the earlier parts of a sum."""
    found = _patterns()[2].match(text, at, end)
    if found is None:
        if at < end:
            raise _Refused("trailing-text", f"`{printable(text[at:end])}` is not a unit", hint=_ONLY, start=at, end=end)
        number = printable(text[before[-1].end : end].strip(_BLANKS))
        raise _Refused(
            "sum-without-unit",
            f"`{number}` has no unit",
            hint="every part of a sum has its unit; a power is written `m^2`",
            start=_skip(text, before[-1].end, end),
            end=end,
        )
    word, stop = found.group(), found.end()
    if reply_only(word) and not reply:
        hint = "write `inch`" if word[0] in 'i"″' else "write `ft` or `arcmin`"
        raise _Refused("reply-only-unit", f"`{word}` is not a unit in source text", hint=hint, start=at, end=stop)
    marked = _marked(word, before, at, stop)
    if marked:
        return marked, stop
    unit = find_unit(word)
    if isinstance(unit, Problem):
        raise _Refused(unit.code, unit.message, unit.hint, start=at + unit.start, end=at + (unit.end or len(word)))
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
    raise _Refused(
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
    raise _Refused(
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
            raise _Refused(
                "sum-units",
                f"`{before.unit.symbol}` and `{part.unit.symbol}` are not added in one number",
                hint="write it in one unit",
                start=part.start,
                end=part.end,
            )
        if part.unit.factor >= before.unit.factor:
            raise _Refused("sum-order", "the units of a sum go from the greatest down", start=part.start, end=part.end)
        if not before.number.whole:
            raise _Refused(
                "sum-decimals",
                "only the last part of a sum may have decimals or a fraction",
                hint="write it in one unit",
                start=before.start,
                end=before.end,
            )
        if part.number.value * part.unit.factor >= before.unit.factor:
            raise _Refused(
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
        raise _Refused(
            "wrong-north",
            f"`{typed}` is {got.phrase}; this reading is {wanted.phrase}",
            hint=north.hint,
            start=start,
            end=end,
        )
    named = f", in {declared.symbol}" if declared.symbol else ""
    raise _Refused(
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
    if declared.dimension == dim.NUMBER:
        return "give the number without a unit"
    return dim.mismatch_hint(got.dimension, declared.dimension)


def _in_range(entered: Entered) -> Entered:
    quantity = entered.quantity
    if quantity.dimension.is_bearing and not _LOWEST_BEARING <= quantity.value <= _HIGHEST_BEARING:
        raise _Refused(
            "bearing-out-of-range",
            "a bearing lies between -360 and 720 deg",
            hint="give the bearing within one turn; an angle that counts on has no north",
            end=len(entered.typed),
        )
    return entered
