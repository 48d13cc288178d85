"""Builders of names, places, expressions and the limits made of them. See `build` for what they are given."""

from __future__ import annotations

from typing import TypeVar

from proclang.syntax import nodes as n
from proclang.text.span import Span

T = TypeVar("T")


def same(at: Span, only: T) -> T:
    """A rule whose one part is all there is to it."""
    return only


# ---------------------------------------------------------------------------- names and places


def formerly(at: Span, word: str, name: n.Name) -> n.Name:
    """The old name, placed together with the word before it."""
    return n.Name(name.text, span=at)


def people(at: Span, *names: n.Name) -> tuple[n.Name, ...]:
    return names


def label_set(at: Span, *labels: n.Label) -> tuple[n.Label, ...]:
    return labels


name = places = label_name = label_number = inner = same


def place(at: Span, name: n.Name, labels: tuple[n.Label, ...] | None) -> n.Place:
    return n.Place(name, labels or (), span=at)


def label_range(at: Span, first: n.Number, last: n.Number) -> n.LabelRange:
    return n.LabelRange(first, last, span=at)


# ---------------------------------------------------------------------------- expressions


def operand(at: Span, value: n.Number | n.Expression) -> n.Expression:
    return n.Literal(value, span=at) if isinstance(value, n.Number) else value


def negative_operand(at: Span, sign: str, number: n.Number) -> n.Literal:
    return n.Literal(n.Number("-" + number.typed, span=at), span=at)


def literal(at: Span, number: n.Number) -> n.Literal:
    return n.Literal(number, span=at)


def reference(at: Span, name: n.Name, labels: tuple[n.Label, ...] | None) -> n.Reference:
    return n.Reference(name, labels or (), span=at)


def call(at: Span, name: n.Name, *arguments: n.Argument) -> n.Call:
    return n.Call(name, arguments, span=at)


def positional(at: Span, value: n.Expression) -> n.Argument:
    return n.Argument(None, value, span=at)


def named(at: Span, name: n.Name, value: n.Expression) -> n.Argument:
    return n.Argument(name, value, span=at)


def argument_name(at: Span, name: n.Name | str) -> n.Name:
    """A name, or `to`."""
    return n.Name(name, span=at) if isinstance(name, str) else name


def raised(at: Span, base: n.Expression, sign: str, exponent: n.Number) -> n.Power:
    return n.Power(base, exponent, span=at)


def negative(at: Span, sign: str, operand: n.Expression) -> n.Unary:
    return n.Unary("-", operand, span=at)


def denied(at: Span, word: str, operand: n.Expression) -> n.Unary:
    return n.Unary("not", operand, span=at)


def either(at: Span, left: n.Expression, right: n.Expression) -> n.Binary:
    return n.Binary("or", left, right, span=at)


def both(at: Span, left: n.Expression, right: n.Expression) -> n.Binary:
    return n.Binary("and", left, right, span=at)


def compared(at: Span, left: n.Expression, sign: str, right: n.Expression) -> n.Binary:
    return n.Binary(sign, left, right, span=at)


def plus(at: Span, left: n.Expression, sign: str, right: n.Expression) -> n.Binary:
    return n.Binary("+", left, right, span=at)


def minus(at: Span, left: n.Expression, sign: str, right: n.Expression) -> n.Binary:
    return n.Binary("-", left, right, span=at)


def times(at: Span, left: n.Expression, sign: str, right: n.Expression) -> n.Binary:
    return n.Binary("*", left, right, span=at)


def over(at: Span, left: n.Expression, sign: str, right: n.Expression) -> n.Binary:
    return n.Binary("/", left, right, span=at)


def passes(at: Span, value: n.Expression, word: str) -> n.Judged:
    return n.Judged(value, "passes", span=at)


def fails(at: Span, value: n.Expression, word: str) -> n.Judged:
    return n.Judged(value, "fails", span=at)


def is_label(at: Span, value: n.Expression, label: n.Name) -> n.Being:
    return n.Being(value, label, span=at)


def insert(
    at: Span,
    value: n.Reference | n.Call,
    to: str | None,
    step: n.Number | None,
    signed: str | None,
    up: n.Name | None,
    down: n.Name | None,
    unit: n.Unit | None,
) -> n.Insert:
    words = () if up is None or down is None else (up, down)
    return n.Insert(value, step, signed is not None, words, unit, span=at)


# ---------------------------------------------------------------------------- facets


def facet_block(at: Span, *facets: n.Facet | n.Broken) -> tuple[n.Facet | n.Broken, ...]:
    return facets


def within_around(at: Span, word: str, centre: n.Expression, sign: str, half: n.Expression) -> n.WithinAround:
    return n.WithinAround(centre, half, span=at)


def within_uneven(
    at: Span, word: str, centre: n.Expression, up: str, plus: n.Number, slash: str, down: str, minus: n.Number
) -> n.WithinUneven:
    return n.WithinUneven(centre, plus, minus, span=at)


def within_range(at: Span, word: str, low: n.Expression, high: n.Expression) -> n.WithinRange:
    return n.WithinRange(low, high, span=at)


def bound(at: Span, words: str, value: n.Expression) -> n.Bound:
    return n.Bound(words.endswith("most"), value, span=at)


def plausible(at: Span, word: str, low: n.Expression, high: n.Expression) -> n.Plausible:
    return n.Plausible(low, high, span=at)


def spread(at: Span, word: str, at_most: str, most: n.Expression) -> n.Spread:
    return n.Spread(most, span=at)


def judged(at: Span, words: str, how: n.Name) -> n.JudgedBy:
    return n.JudgedBy(how, span=at)


def coverage(at: Span, words: str, k: n.Number) -> n.Number:
    return k


def guarded(at: Span, word: str, sign: str | None, probability: n.Number | None) -> n.Guarded:
    return n.Guarded(probability, span=at)


def known(at: Span, words: str, value: n.Expression, k: n.Number | None) -> n.KnownTo:
    return n.KnownTo(value, k, span=at)


def counts(at: Span, word: str, place: n.Place, state: n.Name) -> n.Counts:
    return n.Counts(place, state, span=at)


def no_deviation(at: Span, words: str) -> n.NoDeviation:
    return n.NoDeviation(span=at)
