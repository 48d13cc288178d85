"""One unsigned number in a text: decimal, power of ten, fraction, whole number and fraction; and what is not one.

The problem codes are listed in `reader.py`, which joins numbers to units.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache

import attrs

from proclang.text.diagnostic import Problem
from proclang.text.limits import NUMBER_CHARACTERS, NUMBER_EXPONENT
from proclang.text.printable import printable
from proclang.values.number import power_of_ten

BLANKS = " \t\u00a0\u2009\u202f"
"""What may stand between a number and its unit: blank, tab, and the no-break and thin spaces of typeset text."""

TOLERANCE_MARKS = ("±", "+/-", "+-", "+/−", "+−")
ALONE = "give the number alone; the uncertainty comes from the instrument"


class Refused(Exception):
    """Carries a problem out of the functions of the reader; `read_quantity` lets none out."""

    def __init__(self, code: str, message: str, hint: str = "", *, start: int = 0, end: int = 0) -> None:
        super().__init__(code)
        self.problem = Problem(code, message, hint, start, end)


@attrs.frozen
class Numeral:
    """What was read: the value, whether only digits wrote it, and where it ends."""

    value: Fraction
    whole: bool
    end: int


@cache
def _patterns() -> tuple[re.Pattern[str], re.Pattern[str]]:
    """A number, and what after a blank makes it mixed or two numbers; compiled when first needed."""
    blanks = f"[{BLANKS}]+"
    return (
        re.compile(r"(?=\.?[0-9])([0-9]*)(?:\.([0-9]+))?(?:[eE]([+\-−]?)([0-9]+))?"),
        re.compile(blanks + r"([0-9]+)(/)?([0-9]+)?"),
    )


def read_numeral(text: str, at: int, end: int, reply: bool) -> Numeral:
    """One unsigned number at `at`: decimal, power of ten, fraction, or whole number and fraction."""
    pattern, follower = _patterns()
    found = pattern.match(text, at, end)
    if found is None:
        raise _no_number(text, at, end)
    whole, decimals, sign, exponent = found.groups()
    after = found.end()
    if not whole and not reply:
        hint = f"write `0{text[at:after]}`"
        raise Refused("leading-point", "a number begins with a digit", hint=hint, start=at, end=after)
    if after - at > NUMBER_CHARACTERS:
        raise _too_long(at, after)
    if exponent is not None and (len(exponent) > 4 or int(exponent) > NUMBER_EXPONENT):
        raise Refused(
            "exponent-too-large", f"a power of ten goes up to {NUMBER_EXPONENT} either way", start=at, end=after
        )
    plain = decimals is None and exponent is None
    follow = text[after] if after < end else ""
    if follow and follow in "/,._'’xX×*+-−oObB":
        if follow == "/" and plain:
            return _fraction(text, at, after, end, None, int(whole))
        _refuse_follower(text, at, after, end)
    ahead = follower.match(text, after, end) if follow and follow in BLANKS else None
    if ahead is not None:
        top, slash, bottom = ahead.groups()
        if plain and slash and bottom:
            if len(top) > 1 and top[0] == "0":
                raise _thousands(text, at, end)
            return _fraction(text, at, ahead.end(1), end, int(whole), int(top))
        if len(top) == 3 and len(whole) <= 3 and decimals is None:
            raise _thousands(text, at, end)
        raise Refused(
            "two-numbers",
            f"two numbers, `{text[at:after]}` and `{top}`, with no unit between them",
            hint="write one number; a fraction after a whole number as in `1 1/2`",
            start=at,
            end=ahead.end(),
        )
    if follow and text[after:end].lstrip(BLANKS)[:1] in ("±", "+", "/", "x", "X", "×", "*"):
        _refuse_apart(text, after, end)
    value = Fraction(int((whole or "0") + (decimals or "")))
    power = (int(exponent) if exponent and sign in ("", "+") else -int(exponent or 0)) - len(decimals or "")
    return Numeral(value * power_of_ten(power) if power else value, plain, after)


def _fraction(text: str, at: int, slash: int, end: int, whole: int | None, top: int) -> Numeral:
    """The fraction whose `/` stands at `slash`; `whole` is the whole number before it, if one stood there."""
    found = _patterns()[0].match(text, slash + 1, end)
    if found is None or found.group(2) is not None or found.group(4) is not None:
        raise Refused(
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
        raise Refused("division-by-zero", "a fraction has no zero below the line", start=at, end=after)
    if after < end and text[after] in "/,._'’xX×*+-−":
        _refuse_follower(text, at, after, end)
    rest = text[after:end].lstrip(BLANKS)[:1]
    if rest and after < end and text[after] in BLANKS and (rest in "0123456789" or rest in "±+/×*"):
        if rest in "0123456789":
            raise Refused("two-numbers", "two numbers with no unit between them", start=at, end=end)
        _refuse_apart(text, after, end)
    if whole is not None and top >= bottom:
        raise Refused(
            "improper-fraction",
            f"the fraction after the whole number, {top}/{bottom}, is not below one",
            hint=f"{whole} {top}/{bottom} may be a slip; write {whole * bottom + top}/{bottom} if it is meant",
            start=at,
            end=after,
        )
    return Numeral((whole or 0) + Fraction(top, bottom), False, after)


def _no_number(text: str, at: int, end: int) -> Refused:
    shown = printable(text[at:end].strip(BLANKS))
    if shown.startswith("±"):
        return Refused("uncertainty-typed", "a tolerance is not a number", hint=ALONE, start=at, end=end)
    return Refused(
        "not-a-number",
        f"`{shown}` is not a number" if shown else "a number is missing after the sign",
        hint="begin with a digit, the sign directly before it, as in `-12.5 mm`",
        start=at,
        end=end,
    )


def _refuse_follower(text: str, at: int, after: int, end: int) -> None:
    """Refuse what may not touch the number that ends at `after`. Returns when a unit may begin there."""
    follow = text[after]
    following = text[after + 1 : after + 2]
    digit_next = following != "" and following in "0123456789"
    if follow == "/":
        raise Refused(
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
        raise Refused(
            "decimal-comma", "a comma is not a decimal point", hint=printable(hint), start=after, end=after + 1
        )
    if follow == "." and digit_next:
        if re.match(r"[0-9]{1,3}(?:\.[0-9]{3}){2,}(?![0-9])", text[at:end]):
            raise _thousands(text, at, end)
        raise Refused("not-a-number", "a number has one point", start=at, end=end)
    if follow == ".":
        raise Refused(
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
        raise Refused("not-a-number", "only decimal numbers are read", hint="write it in decimals", start=at, end=end)
    if follow in "xX×*":
        _refuse_apart(text, after, end)


def _refuse_apart(text: str, after: int, end: int) -> None:
    """Refuse a number followed by an operator, with or without blanks between."""
    rest = text[after:end].lstrip(BLANKS)
    start = end - len(rest)
    if rest.startswith(TOLERANCE_MARKS):
        raise Refused("uncertainty-typed", "a tolerance follows the number", hint=ALONE, start=start, end=end)
    if rest[0] in "xX×*" and not re.match(r"[xX×*]{1,2}[" + BLANKS + r"]*[0-9]", rest):
        return
    if rest[0] in "xX×*":
        hint = "write a power of ten as in `1.5e3`"
    elif re.match(r"[-−][0-9]+/[0-9]", rest):
        hint = "write a whole number and a fraction with a blank, as in `1 1/2`"
    elif rest[0] == "/":
        hint = "write a fraction as in `3/8`, without blanks"
    else:
        hint = "one number is read, not a sum"
    raise Refused("not-a-number", f"`{printable(rest)}` does not belong to a number", hint=hint, start=start, end=end)


def _thousands(text: str, at: int, end: int) -> Refused:
    run = re.match(r"[0-9]+(?:[" + BLANKS + r",._'’][0-9]+)*", text[at:end])
    stop = at + run.end() if run else end
    marks = set(re.sub("[0-9]", "", text[at:stop]))
    hint = "write the digits together"
    if len(marks) == 1:
        hint += f": `{re.sub('[^0-9]', '', text[at:stop])}`"
    return Refused(
        "thousands-mark",
        "digits are not set in groups",
        hint=hint + ("; if the comma is a decimal point, write a point" if "," in marks else ""),
        start=at,
        end=stop,
    )


def _too_long(start: int, end: int) -> Refused:
    return Refused("number-too-long", f"a number has at most {NUMBER_CHARACTERS} characters", start=start, end=end)


def refuse_other_digits(text: str) -> None:
    if text.isascii():
        return
    for at, character in enumerate(text):
        if not character.isascii() and character not in "²³" and (character.isnumeric() or character == "⁄"):
            raise Refused(
                "other-digits",
                f"`{printable(character)}` is not one of the digits 0 to 9",
                hint="write fractions as in `1/2`, powers as in `^2`",
                start=at,
                end=at + 1,
            )
