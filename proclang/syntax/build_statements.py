"""Builders of sections and of what stands in them. See `build` for what they are given."""

from __future__ import annotations

from typing import Any

from proclang.syntax import nodes as n
from proclang.text.span import Span

Body = tuple[n.Statement, ...]
People = tuple[n.Name, ...]
Facets = tuple[n.Facet | n.Broken, ...]


def section(
    at: Span, word: str, name: n.Name, former: n.Name | None, title: n.Text, takes: n.Takes | None, body: Body | None
) -> n.Section:
    return n.Section(name, former, title, takes, body or (), span=at)


def block(at: Span, *statements: Any) -> Body:
    """An `otherwise` goes to the `when` or `repeat` before it; one with nothing to belong to stays where it is."""
    if not any(isinstance(statement, n.Otherwise) for statement in statements):
        return statements
    return tuple(_pair_otherwise(statements))


def _pair_otherwise(statements: Body) -> list[Any]:
    import attrs

    paired: list[Any] = []
    for statement in statements:
        if isinstance(statement, n.Otherwise) and paired:
            before = paired[-1]
            if isinstance(before, (n.When, n.Repeat)) and before.otherwise is None:
                paired[-1] = attrs.evolve(before, otherwise=statement, span=before.span.to(statement.span))
                continue
            if isinstance(before, n.Broken):
                paired[-1] = attrs.evolve(before, inside=(*before.inside, statement))
                continue
        paired.append(statement)
    return paired


def step(
    at: Span,
    word: str,
    name: n.Name,
    former: n.Name | None,
    title: n.Text,
    by: str | None,
    people: People | None,
    takes: n.Takes | None,
    body: Body | None,
) -> n.Step:
    return n.Step(name, former, title, people or (), takes, body or (), span=at)


def prose(at: Span, text: n.Text) -> n.Prose:
    return n.Prose(text, span=at)


def figure(at: Span, word: str, path: n.Text, caption: n.Text) -> n.Figure:
    return n.Figure(path, caption, span=at)


def takes(at: Span, word: str, low: n.Expression, high: n.Expression | None) -> n.Takes:
    return n.Takes(low, high, span=at)


def hazard(
    at: Span,
    word: str,
    name: n.Name,
    former: n.Name | None,
    title: n.Text | None,
    *parts: n.Risk | n.Avoid | n.Asks | n.Due | n.Broken,
) -> n.Hazard:
    return n.Hazard(word, name, former, title, parts, span=at)


def risk(at: Span, word: str, text: n.Text) -> n.Risk:
    return n.Risk(text, span=at)


def avoid(at: Span, word: str, text: n.Text) -> n.Avoid:
    return n.Avoid(text, span=at)


def asks(at: Span, word: str, name: n.Name, text: n.Text, unit: n.Unit | None) -> n.Asks:
    return n.Asks(name, text, unit, span=at)


def due_state(at: Span, word: str, place: n.Place, state: n.Name) -> n.Due:
    return n.Due(place, state, span=at)


def due_moves(at: Span, word: str, place: n.Place, moves: str) -> n.Due:
    return n.Due(place, None, span=at)


# ---------------------------------------------------------------------------- values


def measure(
    at: Span,
    word: str,
    name: n.Name,
    labels: tuple[n.Label, ...] | None,
    former: n.Name | None,
    title: n.Text | None,
    unit: n.Unit,
    using: str | None,
    instrument: n.Name | None,
    facets: Facets | None,
) -> n.Measure:
    return n.Measure(name, labels or (), former, title, unit, instrument, facets or (), span=at)


def again(
    at: Span,
    words: str,
    name: n.Name,
    labels: tuple[n.Label, ...] | None,
    using: str | None,
    instrument: n.Name | None,
) -> n.MeasureAgain:
    return n.MeasureAgain(name, labels or (), instrument, span=at)


def compute(at: Span, word: str, *parts: Any) -> n.Compute:
    """Any number of targets, then the value, its unit and its facets."""
    *targets, value, unit, facets = parts
    return n.Compute(tuple(targets), value, unit, facets or (), span=at)


def compute_again(at: Span, words: str, name: n.Name) -> n.ComputeAgain:
    return n.ComputeAgain(name, span=at)


def target(at: Span, name: n.Name, labels: tuple[n.Label, ...] | None, former: n.Name | None) -> n.Target:
    return n.Target(name, labels or (), former, span=at)


def set_(
    at: Span,
    word: str,
    name: n.Name,
    former: n.Name | None,
    title: n.Text,
    to: str,
    value: n.Expression,
    sign: str | None,
    allowed: n.Expression | None,
    unit: n.Unit | None,
    read_back: n.ReadBack | None,
    read_again: str | None,
    no_deviation: str | None,
) -> n.SetValue:
    again, strict = read_again is not None, no_deviation is not None
    return n.SetValue(name, former, title, value, allowed, unit, read_back, again, strict, span=at)


def read_back(at: Span, words: str, using: str | None, instrument: n.Name | None) -> n.ReadBack:
    return n.ReadBack(instrument, span=at)


# ---------------------------------------------------------------------------- asking, signing, changing


def confirm(
    at: Span,
    word: str,
    name: n.Name,
    former: n.Name | None,
    text: n.Text,
    by: str | None,
    people: People | None,
    no_deviation: str | None,
) -> n.Confirm:
    return n.Confirm(name, former, text, people or (), no_deviation is not None, span=at)


def choose(at: Span, word: str, name: n.Name, former: n.Name | None, from_: str, *rest: Any) -> n.Choose:
    """The options, and the question last."""
    *options, text = rest
    return n.Choose(name, former, tuple(options), text, span=at)


def note(at: Span, word: str, name: n.Name, former: n.Name | None, text: n.Text) -> n.Note:
    return n.Note(name, former, text, span=at)


def photo(at: Span, word: str, name: n.Name, former: n.Name | None, text: n.Text) -> n.Photo:
    return n.Photo(name, former, text, span=at)


def hold(
    at: Span,
    word: str,
    name: n.Name,
    former: n.Name | None,
    text: n.Text,
    by: str,
    people: People,
    and_witness: str | None,
    witness: People | None,
) -> n.Hold:
    return n.Hold(name, former, text, people, witness or (), span=at)


def witness(
    at: Span, word: str, name: n.Name, former: n.Name | None, text: n.Text, by: str, people: People
) -> n.Witness:
    return n.Witness(name, former, text, people, span=at)


def now(at: Span, word: str, place: n.Place, state: n.Name) -> n.Now:
    return n.Now(place, state, span=at)


def require(at: Span, word: str, place: n.Place, state: n.Name) -> n.Require:
    return n.Require(place, state, span=at)


def upsets(at: Span, word: str, *names: n.Name) -> n.Upsets:
    return n.Upsets(names, span=at)


# ---------------------------------------------------------------------------- ways through


def according(at: Span, words: str, subject: n.Name, *arms: n.Arm | n.Broken) -> n.According:
    return n.According(subject, arms, span=at)


def arm(at: Span, *parts: Any) -> n.Arm:
    """Any number of labels, and the block last."""
    *labels, body = parts
    return n.Arm(tuple(labels), body or (), span=at)


def when(at: Span, word: str, condition: n.Expression, body: Body | None) -> n.When:
    return n.When(condition, body or (), span=at)


def otherwise(at: Span, word: str, body: Body | None) -> n.Otherwise:
    return n.Otherwise(body or (), span=at)


def repeat(
    at: Span,
    word: str,
    name: n.Name,
    former: n.Name | None,
    at_most: str,
    count: n.Number,
    times: str,
    body: Body | None,
) -> n.Repeat:
    return n.Repeat(name, former, count, body or (), span=at)


def leave(at: Span, words: str, condition: n.Expression) -> n.LeaveWhen:
    return n.LeaveWhen(condition, span=at)


def for_each(
    at: Span, words: str, variable: n.Name, of: str, labels: n.Name, star: str | None, body: Body | None
) -> n.ForEach:
    return n.ForEach(variable, labels, star is not None, body or (), span=at)


def any_order(at: Span, words: str, body: Body | None) -> n.AnyOrder:
    return n.AnyOrder(body or (), span=at)


def perform(
    at: Span,
    word: str,
    procedure: n.Name,
    as_: str | None,
    alias: n.Name | None,
    former: n.Name | None,
    *parts: n.With | n.Take | n.Broken,
) -> n.Perform:
    return n.Perform(procedure, alias, former, parts, span=at)


def with_argument(at: Span, word: str, name: n.Name, value: n.Expression) -> n.With:
    return n.With(name, value, span=at)


def take_result(at: Span, word: str, name: n.Name, as_: str | None, into: n.Name | None) -> n.Take:
    return n.Take(name, into, span=at)


def stopped(at: Span, words: str, body: Body | None) -> n.Stopped:
    return n.Stopped(body or (), span=at)
