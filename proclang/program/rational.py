"""Arithmetic of a formula on pairs of whole numbers, with one common divisor taken at the end.

A `Fraction` looks for a common divisor at every sign, and makes an object of every result between. Here a result
between is a pair (top, bottom), not reduced, with a bottom above 0; numbers the formula itself holds are worked out
ahead and gathered into one factor. The values are the same to the last digit: as long as no pair is longer than
`bounded` lets a number be, `bounded` would have changed nothing. A pair that is longer raises `TooLong`, and the
formula is worked out the plain way, sign by sign.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import NamedTuple, cast

from proclang.program.types import Env, NotKnown, Value
from proclang.values.number import SHORT_BITS

Pair = tuple[int, int]
Ratio = Callable[[Env], Pair]

_MOST = 1 << SHORT_BITS


class TooLong(Exception):
    """A number between has more digits than are kept without rounding."""


class Rational(NamedTuple):
    """`base` times `top / bottom`; a number the formula holds has no base. `top` is never 0."""

    base: Ratio | None
    top: int
    bottom: int


def constant(value: Fraction) -> Rational | None:
    """A number that stands in the formula."""
    return _kept(None, value.numerator, value.denominator)


def value_of(evaluate: Callable[[Env], Value]) -> Rational:
    """Whatever a function gives that gives a single quantity."""
    amount = cast("Callable[[Env], Fraction]", evaluate)
    return Rational(lambda env: amount(env).as_integer_ratio(), 1, 1)


def negated(x: Rational) -> Rational:
    """`-x`."""
    return Rational(x.base, -x.top, x.bottom)


def product(x: Rational, y: Rational) -> Rational | None:
    """`x * y`."""
    top, bottom = x.top * y.top, x.bottom * y.bottom
    f, g = x.base, y.base
    if f is None or g is None:
        return _kept(f or g, top, bottom)

    def ratio(env: Env) -> Pair:
        a, b = f(env)
        c, d = g(env)
        n, d = a * c, b * d
        if -_MOST < n < _MOST and d < _MOST:
            return n, d
        raise TooLong

    return _kept(ratio, top, bottom)


def quotient(x: Rational, y: Rational) -> Rational | None:
    """`x / y`. Evaluating it raises `NotKnown` for a divisor of 0."""
    top, bottom = x.top * y.bottom, x.bottom * y.top
    if bottom < 0:
        top, bottom = -top, -bottom
    g = y.base
    if g is None:
        return _kept(x.base, top, bottom)
    f = x.base or (lambda env: (1, 1))

    def ratio(env: Env) -> Pair:
        a, b = f(env)
        c, d = g(env)
        n, d = a * d, b * c
        if d < 0:
            n, d = -n, -d
        elif not d:
            raise NotKnown("it would divide by zero")
        if -_MOST < n < _MOST and d < _MOST:
            return n, d
        raise TooLong

    return _kept(ratio, top, bottom)


def total(x: Rational, y: Rational) -> Rational | None:
    """`x + y`."""
    if x.base is None and y.base is None:
        return _kept(None, x.top * y.bottom + y.top * x.bottom, x.bottom * y.bottom)
    f, g = _whole(x), _whole(y)

    def ratio(env: Env) -> Pair:
        a, b = f(env)
        c, d = g(env)
        if b == d:
            n = a + c
        else:
            n, d = a * d + c * b, b * d
        if -_MOST < n < _MOST and d < _MOST:
            return n, d
        raise TooLong

    return Rational(ratio, 1, 1)


def evaluator(x: Rational, plainly: Callable[[Env], Fraction]) -> Callable[[Env], Fraction]:
    """The function of a formula. `plainly` gives the same sign by sign, and is asked where a number grows too long."""
    ratio = _whole(x)

    def evaluate(env: Env) -> Fraction:
        try:
            n, d = ratio(env)
        except TooLong:
            return plainly(env)
        return Fraction(n, d)

    return evaluate


def _kept(base: Ratio | None, top: int, bottom: int) -> Rational | None:
    """None where the gathered numbers are too long themselves, or are nothing: 0 times what is too large is no 0."""
    return Rational(base, top, bottom) if 0 < abs(top) < _MOST and bottom < _MOST else None


def _whole(x: Rational) -> Ratio:
    """The function of a rational with its factor."""
    base, top, bottom = x
    if base is None:
        return lambda env: (top, bottom)
    if top == bottom == 1:
        return base

    def ratio(env: Env) -> Pair:
        n, d = base(env)
        n *= top
        d *= bottom
        if -_MOST < n < _MOST and d < _MOST:
            return n, d
        raise TooLong

    return ratio
