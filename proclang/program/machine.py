"""A machine file, resolved: kinds and their states, items and sets, standing interlocks, reusable hazards."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from proclang.program.declared import (
    BACK,
    COUNTED,
    OUT,
    Asked,
    Condition,
    Demand,
    HazardInfo,
    Interlock,
    ItemPlace,
    Machine,
    MachineItem,
)
from proclang.program.scope import Scope, once
from proclang.program.texts import compile_text, plain_text
from proclang.syntax import nodes as n
from proclang.syntax.printer import print_line
from proclang.text.limits import LABELS_IN_A_SET

SIGNAL_WORDS = ("danger", "warning", "caution", "notice")
"""ANSI Z535.6 and ISO 3864-2, most serious first; a notice is about property, not people."""


MACHINE_LINES = (n.KindOfItem, n.Item, n.Interlock, n.Counted, n.MadeSafe, n.AskNothing, n.Hazard, n.Broken)
"""What stands in a machine file."""


def resolve_machine(tree: n.File, scope: Scope) -> Machine:
    """The machine a file describes; what is wrong goes to `scope.findings`."""
    title = tree.title
    name = title.name.text if isinstance(title, n.Title) else ""
    text = plain_text(title.text, scope) if isinstance(title, n.Title) else ""
    kinds = _kinds(tree, scope)
    items = _items(tree, kinds, scope)
    interlocks = tuple(
        lock for line in tree.all(n.Interlock) if line.conditions and (lock := _interlock(line, name, items, scope))
    )
    hazards: dict[str, HazardInfo] = {}
    note = once({}, scope, "there is a hazard {} already")
    for hazard in tree.all(n.Hazard):
        note(hazard.name)
        if hazard.title is None:
            scope.say_misplaced(
                "a hazard of the machine is written out, with its title", hazard.span, hint='write `danger NAME "..."`'
            )
        else:
            hazards.setdefault(hazard.name.text, resolve_hazard(hazard, scope))
    return Machine(
        name,
        text,
        items,
        interlocks,
        hazards,
        own_role=frozenset(_own_roles(tree, name, items, scope)),
        made_safe=tuple(x for line in tree.all(n.MadeSafe) for x in _conditions(line.conditions, name, items, scope)),
        ask_nothing=tuple(
            x for line in tree.all(n.AskNothing) for x in _conditions(line.conditions, name, items, scope)
        ),
        demands=tuple(demand for hazard in tree.all(n.Hazard) for demand in _demands(hazard, name, items, scope)),
    )


def _demands(hazard: n.Hazard, machine: str, items: Mapping[str, MachineItem], scope: Scope) -> Iterator[Demand]:
    for part in hazard.parts:
        if isinstance(part, n.Due):
            place = resolve_place(part.place, machine, items, scope)
            if place is not None and (part.state is None or known_state(place, part.state, items, scope)):
                state = part.state.text if part.state is not None else None
                yield Demand(hazard.name.text, place, state, part.span)


def refuse_demands(hazard: n.Hazard, scope: Scope) -> None:
    """What `due before` says is a matter of the machine: in a procedure the hazard stands where it is said."""
    for part in hazard.parts:
        if isinstance(part, n.Due):
            scope.say_misplaced(
                "`due before` stands under the hazards of a machine file",
                part.span,
                "here, say the hazard before its step",
            )


def _kinds(tree: n.File, scope: Scope) -> dict[str, tuple[str, ...]]:
    kinds: dict[str, tuple[str, ...]] = {}
    note = once({}, scope, "there is a kind {} already")
    for kind in tree.all(n.KindOfItem):
        note(kind.name)
        note_state = once({}, scope, f"`{kind.name}` has the state {{}} already")
        listed = [name for line in kind.states if isinstance(line, n.States) for name in line.names]
        states = tuple(name.text for name in listed if note_state(name))
        if len(listed) < 2 and not scope.shifted and not any(isinstance(x, n.Broken) for x in kind.states):
            scope.say("one-state", f"`{kind.name}` has fewer than two states, so it never changes", kind.name.span)
        kinds.setdefault(kind.name.text, states)
    return kinds


def _items(tree: n.File, kinds: Mapping[str, tuple[str, ...]], scope: Scope) -> dict[str, MachineItem]:
    items: dict[str, MachineItem] = {}
    note = once({}, scope, "there is an item {} already")
    for line in tree.all(n.Item):
        scope.used.add(line.kind.text)
        if not note(line.name):
            continue
        labels = scope.labels(line.labels, LABELS_IN_A_SET)
        shown = plain_text(line.title, scope) if line.title is not None else line.name.text.replace("_", " ")
        if line.kind.text not in kinds:
            scope.say_unknown(
                "unknown-kind",
                f"there is no kind `{line.kind}`",
                line.kind,
                kinds,
                f"declare it: `kind {line.kind}` and its `states`",
            )
            scope.excused.add(line.name.text)
            continue
        items[line.name.text] = MachineItem(line.name.text, line.kind.text, kinds[line.kind.text], labels, shown)
    for thing in (x for line in tree.all(n.Counted) for x in line.things):
        if note(thing.name):
            labels = scope.labels(thing.labels, LABELS_IN_A_SET)
            shown = plain_text(thing.title, scope) if thing.title is not None else thing.name.text.replace("_", " ")
            items[thing.name.text] = MachineItem(thing.name.text, COUNTED, (BACK, OUT), labels, shown)
    return items


def _own_roles(tree: n.File, machine: str, items: Mapping[str, MachineItem], scope: Scope) -> Iterator[str]:
    """Sets of which each member is one person's, such as personal locks."""
    for line in tree.all(n.Interlock):
        place = resolve_place(line.place, machine, items, scope) if not line.conditions else None
        if place is not None and not place.labels:
            scope.say(
                "no-labels", f"`{place.item}` is a single item: its labels would say whose it is", line.place.span
            )
        elif place is not None:
            yield place.item


def _conditions(
    conditions: Iterable[n.Standing], machine: str, items: Mapping[str, MachineItem], scope: Scope
) -> Iterator[Condition]:
    for standing in conditions:
        place = resolve_place(standing.place, machine, items, scope)
        if place is not None and known_state(place, standing.state, items, scope):
            yield Condition(place, standing.state.text)


def _interlock(line: n.Interlock, machine: str, items: Mapping[str, MachineItem], scope: Scope) -> Interlock | None:
    place = resolve_place(line.place, machine, items, scope)
    sound = place is not None and (line.state is None or known_state(place, line.state, items, scope))
    conditions: list[Condition] = []
    for standing in line.conditions:
        other = resolve_place(standing.place, machine, items, scope)
        if other is None or not known_state(other, standing.state, items, scope):
            sound = False
        else:
            conditions.append(Condition(other, standing.state.text))
    if not sound or place is None:
        return None
    state = line.state.text if line.state is not None else None
    return Interlock(place, state, tuple(conditions), print_line(line), line.becomes)


def resolve_place(place: n.Place, machine: str, items: Mapping[str, MachineItem], scope: Scope) -> ItemPlace | None:
    """The item or items a place names, or None after having said that there is none."""
    item = items.get(place.name.text)
    if item is None:
        scope.say_unknown("unknown-item", f"the machine has no item `{place.name}`", place.name, items)
        return None
    scope.used.add(item.name)
    if not place.labels:
        return ItemPlace(machine, item.name, item.labels)
    if not item.labels:
        scope.say("no-labels", f"`{item.name}` is a single item and has no labels", place.span)
        return None
    first = place.labels[0]
    if len(place.labels) == 1 and isinstance(first, n.Name):
        through = scope.loop_labels(first.text)
        if through is not None:
            scope.used.add(first.text)
            strange = [x for x in through if x not in item.labels and x not in scope.excused]
            if strange:
                message = f"`{item.name}` has no label `{strange[0]}`"
                scope.say_unlisted("unknown-label", message, first.span, strange[0], item.labels)
                return None
            return ItemPlace(machine, item.name, item.labels, variable=first.text)
    labels = scope.labels(place.labels, LABELS_IN_A_SET)
    for label in labels:
        if label not in item.labels:
            message = f"`{item.name}` has no label `{label}`"
            scope.say_unlisted("unknown-label", message, place.span, label, item.labels)
            return None
    return ItemPlace(machine, item.name, labels, whole=set(labels) == set(item.labels))


def known_state(place: ItemPlace, state: n.Name, items: Mapping[str, MachineItem], scope: Scope) -> bool:
    """Whether the item can be in that state; said when not."""
    states = items[place.item].states
    if state.text in states:
        return True
    if not states:
        return False
    scope.say_unlisted("unknown-state", f"`{place.item}` is never `{state}`", state.span, state.text, states)
    return False


def resolve_hazard(hazard: n.Hazard, scope: Scope) -> HazardInfo:
    """A hazard written out. Each says how it is avoided; all but a notice, what happens to people; a DANGER is
    answered with a fact from the site."""
    assert hazard.title is not None
    risk = next((compile_text(p.text, scope) for p in hazard.parts if isinstance(p, n.Risk)), None)
    avoid = next((compile_text(p.text, scope) for p in hazard.parts if isinstance(p, n.Avoid)), None)
    asks = []
    for part in hazard.parts:
        if isinstance(part, n.Asks):
            unit = scope.unit(part.unit) if part.unit is not None else None
            if part.unit is None or unit is not None:
                asks.append(Asked(part.name.text, compile_text(part.text, scope), unit))
    whole = not scope.shifted and not any(isinstance(p, n.Broken) for p in hazard.parts)
    if whole and hazard.word != "notice" and risk is None:
        scope.say(
            "hazard-parts",
            f"`{hazard.name}` does not say what happens to people",
            hazard.name.span,
            hint='add `risk "..."`',
        )
    if whole and avoid is None:
        scope.say(
            "hazard-parts",
            f"`{hazard.name}` does not say how it is avoided",
            hazard.name.span,
            hint='add `avoid "..."`',
        )
    if whole and hazard.word == "danger" and not asks:
        scope.say(
            "danger-without-fact",
            f"the danger `{hazard.name}` is not answered with a fact from the site",
            hazard.name.span,
            hint='add a line such as `asks gust "Gust now" in m/s` or `asks signaller "Who signals?"`',
        )
    return HazardInfo(hazard.word, hazard.name.text, compile_text(hazard.title, scope), risk, avoid, tuple(asks))
