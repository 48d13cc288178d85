"""Exact rational numbers: rounding, size limits, decimal text. Nothing here knows of units.

Problem codes raised by `NumberError`: `number-too-large`, `number-too-small`, `division-by-zero`, `step-not-positive`.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from math import isfinite

from proclang.text.diagnostic import Problem
from proclang.text.limits import EXACT_DIGITS

SIGNIFICANT_WHEN_ROUNDED = 30
"""Digits kept when an exact value has grown past `EXACT_DIGITS`."""

GREATEST_MAGNITUDE = 400
"""No value may be as large as ten to this power, nor smaller than its inverse. Wider than any float."""

SHORT_BITS = int(EXACT_DIGITS * 3.3219)
"""A number of no more bits has no more than `EXACT_DIGITS` digits: the quick way out of `bounded`."""

_MAGNITUDE_BITS = int(GREATEST_MAGNITUDE * 3.3219)


class NumberError(ArithmeticError):
    """Arithmetic that has no answer here. `problem` says why, in the user's words."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.message)
        self.problem = problem


def digits(number: int) -> int:
    """How many decimal digits a whole number has; 0 has one. Takes no detour over text, which is slow when long."""
    number = abs(number)
    if not number:
        return 1
    least = int((number.bit_length() - 1) * 0.301029995663981) + 1
    return least + 1 if number >= 10**least else least


def leading_place(value: Fraction) -> int:
    """The power of ten of the first significant digit: 2 for 345, -3 for 0.0067. 0 for 0."""
    if not value:
        return 0
    top, bottom = abs(value.numerator), value.denominator
    place = digits(top) - digits(bottom)
    below = top < bottom * 10**place if place >= 0 else top * 10**-place < bottom
    return place - 1 if below else place


def to_significant(value: Fraction, n: int) -> Fraction:
    """`value` rounded to `n` significant decimal digits, a half to the even digit."""
    return _rounded(value, n, round_nearest)


def bounded(value: Fraction) -> Fraction:
    """`value`, rounded to 30 significant digits when its numerator or denominator is longer than 60 digits.

    Raises `NumberError` beyond ten to the power 400 either way; nothing is turned into infinity or nothing.
    """
    top, bottom = value.numerator, value.denominator
    top_bits, bottom_bits = top.bit_length(), bottom.bit_length()
    if top_bits <= SHORT_BITS and bottom_bits <= SHORT_BITS:
        return value
    if top_bits - bottom_bits > _MAGNITUDE_BITS:
        raise NumberError(Problem("number-too-large", "the result is too large to be a quantity"))
    if top and bottom_bits - top_bits > _MAGNITUDE_BITS:
        raise NumberError(Problem("number-too-small", "the result is too small to be a quantity"))
    if digits(top) <= EXACT_DIGITS and digits(bottom) <= EXACT_DIGITS:
        return value
    return to_significant(value, SIGNIFICANT_WHEN_ROUNDED)


def round_down(value: Fraction, step: Fraction) -> Fraction:
    """The greatest multiple of `step` that is not above `value`: toward minus infinity, so -0.15 to 0.1 is -0.2."""
    return value // _positive(step) * step


def round_up(value: Fraction, step: Fraction) -> Fraction:
    """The least multiple of `step` that is not below `value`: toward plus infinity, so -0.15 to 0.1 is -0.1."""
    return -(-value // _positive(step)) * step


def round_nearest(value: Fraction, step: Fraction) -> Fraction:
    """The multiple of `step` nearest to `value`; half way, the even multiple."""
    return round(value / _positive(step)) * step


def significant_down(value: Fraction, n: int) -> Fraction:
    """`value` at `n` significant digits, rounded toward minus infinity."""
    return _rounded(value, n, round_down)


def significant_up(value: Fraction, n: int) -> Fraction:
    """`value` at `n` significant digits, rounded toward plus infinity."""
    return _rounded(value, n, round_up)


def power_of_ten(exponent: int) -> Fraction:
    """Ten to a whole power, exactly."""
    return Fraction(10**exponent) if exponent >= 0 else Fraction(1, 10**-exponent)


def decimal_places(value: Fraction) -> int | None:
    """How many decimals write `value` exactly; None when no number of them does."""
    bottom = value.denominator
    twos = (bottom & -bottom).bit_length() - 1
    bottom >>= twos
    fives = 0
    while bottom % 5 == 0:
        bottom //= 5
        fives += 1
    return max(twos, fives) if bottom == 1 else None


def terminates(value: Fraction) -> bool:
    """Whether decimals write `value` exactly."""
    return decimal_places(value) is not None


def fixed_text(value: Fraction, places: int) -> str:
    """`value` with exactly `places` decimals, a half to the even digit; zero never has a sign."""
    scaled = round(value * 10**places)
    sign = "-" if scaled < 0 else ""
    text = str(abs(scaled)).rjust(places + 1, "0")
    return f"{sign}{text[:-places]}.{text[-places:]}" if places else sign + text


def decimal_text(value: Fraction, max_significant: int = 12) -> str:
    """`value` in decimals, exact when `max_significant` digits suffice and rounded half to even otherwise.

    No superfluous zeros; a power of ten (`1.5e-9`) for what is smaller than a millionth or has more than 15 whole
    digits.
    """
    rounded = to_significant(value, max_significant)
    place = leading_place(rounded)
    if -7 < place < 15:
        return fixed_text(rounded, decimal_places(rounded) or 0)
    return scientific_text(rounded)


def scientific_text(value: Fraction) -> str:
    """A value that decimals write exactly, as `1.25e-9`. Raises ValueError for any other."""
    places = decimal_places(value)
    if places is None:
        raise ValueError("the value has no finite decimal form")
    place = leading_place(value)
    mantissa = value / power_of_ten(place)
    text = fixed_text(mantissa, decimal_places(mantissa) or 0)
    return f"{text}e{place}" if place else text


def from_float(x: float, significant: int = 12) -> Fraction | None:
    """The decimal of `significant` digits nearest to `x`, exactly; None for nan and the infinities."""
    if not isfinite(x):
        return None
    mantissa, _, exponent = f"{x:.{significant - 1}e}".partition("e")
    whole, _, decimals = mantissa.partition(".")
    return int(whole + decimals) * power_of_ten(int(exponent) - len(decimals))


def _rounded(value: Fraction, n: int, how: Callable[[Fraction, Fraction], Fraction]) -> Fraction:
    return how(value, power_of_ten(leading_place(value) - n + 1)) if value else value


def _positive(step: Fraction) -> Fraction:
    if step <= 0:
        raise NumberError(Problem("step-not-positive", "the step to round to must be above 0"))
    return step
