"""Builders of files, headers and machine files. See `build` for what they are given."""

from __future__ import annotations

import re

from proclang.syntax import nodes as n
from proclang.text.span import Span

_WORDS = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")


def file(at: Span, version: n.Number | n.Broken, title: n.Title | n.Broken, *body: n.Node) -> n.File:
    return n.File(version, title, body, span=Span(at.file, version.span.start, at.end))


def version(at: Span, *parts: str | n.Number | n.Broken) -> n.Number | n.Broken:
    """`proclang 1`, or a damaged line alone."""
    number = parts[-1]
    assert not isinstance(number, str)
    return number


def procedure_title(at: Span, word: str, name: n.Name, former: n.Name | None, text: n.Text) -> n.Title:
    return n.Title("procedure", name, former, text, span=at)


def machine_title(at: Span, word: str, name: n.Name, text: n.Text) -> n.Title:
    return n.Title("machine", name, None, text, span=at)


def broken_title(at: Span, broken: n.Broken) -> n.Broken:
    return broken


def broken(at: Span, line: str, *inside: n.Node) -> n.Broken:
    return n.Broken(frozenset(_WORDS.findall(line)), inside, span=at)


# ---------------------------------------------------------------------------- the header


def revision(at: Span, word: str, number: n.Number) -> n.Revision:
    return n.Revision(number, span=at)


def purpose(at: Span, word: str, text: n.Text, *more: n.Prose | n.Broken) -> n.Purpose:
    return n.Purpose((text, *(prose.text for prose in more if isinstance(prose, n.Prose))), span=at)


def gives(at: Span, word: str, *names: n.Name) -> n.Gives:
    return n.Gives(names, span=at)


def labels(at: Span, word: str, name: n.Name, labels: tuple[n.Label, ...]) -> n.Labels:
    return n.Labels(name, labels, span=at)


def table(at: Span, word: str, name: n.Name, of: str, *rest: n.Name | n.Row | n.Broken) -> n.Table:
    columns = tuple(x for x in rest if isinstance(x, n.Name))
    rows = tuple(x for x in rest if not isinstance(x, n.Name))
    return n.Table(name, columns, rows, span=at)


def row(at: Span, label: n.Label, *cells: n.Number) -> n.Row:
    return n.Row(label, cells, span=at)


def cell(at: Span, sign: str | None, number: n.Number) -> n.Number:
    return number if sign is None else n.Number("-" + number.typed, span=at)


def inputs(at: Span, word: str, *items: n.Input | n.Broken) -> n.Inputs:
    return n.Inputs(items, span=at)


def input_(
    at: Span,
    name: n.Name,
    former: n.Name | None,
    kind: n.Kind,
    default: n.Expression | None,
    title: n.Text | None,
    facets: tuple[n.Facet | n.Broken, ...] | None,
) -> n.Input:
    return n.Input(name, former, kind, default, title, facets or (), span=at)


def dimension_kind(at: Span, *words: n.Name | str) -> n.Kind:
    return n.Kind(words=tuple(word for word in words if isinstance(word, n.Name)), span=at)


def choice_kind(at: Span, one_of: str, *choices: n.Name) -> n.Kind:
    return n.Kind(choices=choices, span=at)


def needs(
    at: Span, word: str, *items: n.Instrument | n.Tool | n.Part | n.Crew | n.Apart | n.Authority | n.Broken
) -> n.Needs:
    return n.Needs(items, span=at)


def instrument(at: Span, word: str, name: n.Name, title: n.Text, *abilities: n.Ability) -> n.Instrument:
    return n.Instrument(name, title, abilities, span=at)


def ability(at: Span, words: str, value: n.Expression, k: n.Number | None = None) -> n.Ability:
    return n.Ability(" ".join(words.split()), value, k, span=at)


def tool(at: Span, word: str, name: n.Name, title: n.Text) -> n.Tool:
    return n.Tool(name, title, span=at)


def part(at: Span, word: str, name: n.Name, title: n.Text, sign: str | None, count: n.Number | None) -> n.Part:
    return n.Part(name, title, count, span=at)


def crew(at: Span, word: str, *parts: n.Name | n.Number | str | None) -> n.Crew:
    fewest = next((part for part in parts if isinstance(part, n.Number)), None)
    return n.Crew(tuple(part for part in parts if isinstance(part, n.Name)), fewest, span=at)


def apart(at: Span, word: str, one: n.Name, other: n.Name) -> n.Apart:
    return n.Apart(one, other, span=at)


def authority(at: Span, word: str, *roles: n.Name) -> n.Authority:
    return n.Authority(roles, span=at)


def machine_use(at: Span, word: str, name: n.Name, *items: n.Hardware | n.Broken) -> n.MachineUse:
    return n.MachineUse(name, items, span=at)


def hardware_found(
    at: Span, place: n.Place, found: str, state: n.Name, left: str | None, left_state: n.Name | None
) -> n.Hardware:
    return n.Hardware(place, state, left_state, span=at)


def hardware_left(at: Span, place: n.Place, left: str, state: n.Name) -> n.Hardware:
    return n.Hardware(place, None, state, span=at)


# ---------------------------------------------------------------------------- machine files


def kind_of_item(at: Span, word: str, name: n.Name, *states: n.States | n.Broken) -> n.KindOfItem:
    return n.KindOfItem(name, states, span=at)


def states(at: Span, word: str, *names: n.Name) -> n.States:
    return n.States(names, span=at)


def item(at: Span, name: n.Name, labels: tuple[n.Label, ...] | None, kind: n.Name, title: n.Text | None) -> n.Item:
    return n.Item(name, labels or (), kind, title, span=at)


def interlock_moves(
    at: Span, word: str, place: n.Place, moves: str, only_while: str, conditions: tuple[n.Standing, ...]
) -> n.Interlock:
    return n.Interlock(place, None, conditions, span=at)


def interlock_state(
    at: Span, word: str, place: n.Place, state: n.Name, only_while: str, conditions: tuple[n.Standing, ...]
) -> n.Interlock:
    return n.Interlock(place, state, conditions, span=at)


def interlock_becomes(
    at: Span, word: str, place: n.Place, becomes: str, state: n.Name, only: str, conditions: tuple[n.Standing, ...]
) -> n.Interlock:
    return n.Interlock(place, state, conditions, becomes=True, span=at)


def interlock_own(at: Span, word: str, place: n.Place, moves: str, only: str) -> n.Interlock:
    return n.Interlock(place, None, (), span=at)


def made_safe(at: Span, words: str, conditions: tuple[n.Standing, ...]) -> n.MadeSafe:
    return n.MadeSafe(conditions, span=at)


def ask_nothing(at: Span, words: str, conditions: tuple[n.Standing, ...]) -> n.AskNothing:
    return n.AskNothing(conditions, span=at)


def standing(at: Span, *conditions: n.Standing) -> tuple[n.Standing, ...]:
    return conditions


def being(at: Span, place: n.Place, state: n.Name) -> n.Standing:
    return n.Standing(place, state, span=at)


def counted(at: Span, word: str, *things: n.CountedThing) -> n.Counted:
    return n.Counted(things, span=at)


def counted_thing(
    at: Span, name: n.Name, labels: tuple[n.Label, ...] | None = None, title: n.Text | None = None
) -> n.CountedThing:
    return n.CountedThing(name, labels or (), title, span=at)
