"""A machine file, resolved: kinds and their states, items and sets, standing interlocks, reusable hazards."""

from __future__ import annotations

from proclang.program.facets import compile_text, plain_text
from proclang.program.model import Asked, Condition, HazardInfo, Interlock, ItemPlace, Machine, MachineItem
from proclang.program.scope import Scope
from proclang.syntax import nodes as n
from proclang.syntax.printer import print_line
from proclang.text.diagnostic import Label
from proclang.text.limits import LABELS_IN_A_SET
from proclang.text.span import Span
from proclang.text.suggest import did_you_mean

SIGNAL_WORDS = ("danger", "warning", "caution", "notice")
"""ANSI Z535.6 and ISO 3864-2, most serious first; a notice is about property, not people."""


def resolve_machine(tree: n.File, scope: Scope) -> Machine:
    """The machine a file describes; what is wrong goes to `scope.findings`."""
    title = tree.title
    name = title.name.text if isinstance(title, n.Title) else ""
    text = plain_text(title.text, scope) if isinstance(title, n.Title) else ""
    for item in tree.body:
        if not isinstance(item, (n.KindOfItem, n.Item, n.Interlock, n.Counted, n.Hazard, n.Broken)):
            scope.say("misplaced", "this line belongs in a procedure, not in a machine file", item.span)
    kinds: dict[str, tuple[str, ...]] = {}
    where: dict[str, Span] = {}
    for kind in tree.all(n.KindOfItem):
        _once(kind.name, where, scope, "kind")
        states: list[str] = []
        for listed in kind.states:
            if isinstance(listed, n.States):
                states.extend(x.text for x in listed.names)
        for twice in sorted({s for s in states if states.count(s) > 1}):
            scope.say("duplicate-name", f"the state `{twice}` stands twice", kind.span)
        if len(states) < 2 and not any(isinstance(x, n.Broken) for x in kind.states):
            scope.say("one-state", f"`{kind.name}` has fewer than two states, so it never changes", kind.name.span)
        kinds[kind.name.text] = tuple(states)
    items: dict[str, MachineItem] = {}
    places: dict[str, Span] = {}
    for line in tree.all(n.Item):
        _once(line.name, places, scope, "item")
        if line.kind.text not in kinds:
            if line.kind.text not in scope.excused:
                scope.say(
                    "unknown-kind",
                    f"there is no kind `{line.kind}`",
                    line.kind.span,
                    hint=did_you_mean(line.kind.text, kinds),
                )
            continue
        labels = scope.labels(line.labels, LABELS_IN_A_SET)
        shown = plain_text(line.title, scope) if line.title is not None else line.name.text.replace("_", " ")
        items[line.name.text] = MachineItem(line.name.text, line.kind.text, kinds[line.kind.text], labels, shown)
    interlocks = []
    for lock in tree.all(n.Interlock):
        place = resolve_place(lock.place, name, items, scope)
        conditions = []
        for standing in lock.conditions:
            other = resolve_place(standing.place, name, items, scope)
            if other is not None and known_state(other, standing.state, items, scope):
                conditions.append(Condition(other, standing.state.text))
        state = lock.state
        if place is None or (state is not None and not known_state(place, state, items, scope)):
            continue
        if len(conditions) == len(lock.conditions):
            interlocks.append(
                Interlock(place, state.text if state is not None else None, tuple(conditions), print_line(lock))
            )
    hazards = {h.name.text: resolve_hazard(h, scope) for h in tree.all(n.Hazard) if h.title is not None}
    counted = tuple(x.text for c in tree.all(n.Counted) for x in c.names)
    return Machine(name, text, items, tuple(interlocks), hazards, counted)


def _once(name: n.Name, seen: dict[str, Span], scope: Scope, what: str) -> None:
    if name.text in seen:
        scope.say(
            "duplicate-name",
            f"there is a {what} `{name}` already",
            name.span,
            also=(Label(seen[name.text], "first here"),),
        )
    seen.setdefault(name.text, name.span)


def resolve_place(place: n.Place, machine: str, items: dict[str, MachineItem], scope: Scope) -> ItemPlace | None:
    """The item or items a place names, or None after having said that there is none."""
    item = items.get(place.name.text)
    if item is None:
        if place.name.text not in scope.excused:
            scope.say(
                "unknown-item",
                f"the machine has no item `{place.name}`",
                place.name.span,
                hint=did_you_mean(place.name.text, items),
            )
        return None
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
            strange = [x for x in through if x not in item.labels]
            if strange:
                scope.say("unknown-label", f"`{item.name}` has no label `{strange[0]}`", first.span)
                return None
            return ItemPlace(machine, item.name, item.labels, variable=first.text)
    labels = scope.labels(place.labels, LABELS_IN_A_SET)
    for label in labels:
        if label not in item.labels and label not in scope.excused:
            scope.say(
                "unknown-label",
                f"`{item.name}` has no label `{label}`",
                place.span,
                hint=did_you_mean(label, item.labels) or f"its labels are {', '.join(item.labels[:8])}",
            )
            return None
    return ItemPlace(machine, item.name, labels, whole=set(labels) == set(item.labels))


def known_state(place: ItemPlace, state: n.Name, items: dict[str, MachineItem], scope: Scope) -> bool:
    """Whether the item can be in that state; said when not."""
    states = items[place.item].states
    if state.text in states:
        return True
    if state.text not in scope.excused:
        scope.say(
            "unknown-state",
            f"`{place.item}` is never `{state}`",
            state.span,
            hint=did_you_mean(state.text, states) or f"it is one of {', '.join(states)}",
        )
    return False


def resolve_hazard(hazard: n.Hazard, scope: Scope) -> HazardInfo:
    """A hazard callout written out. A DANGER needs a fact to be answered with; people's hazards need risk and avoidance."""
    assert hazard.title is not None
    risk = next((compile_text(p.text, scope) for p in hazard.parts if isinstance(p, n.Risk)), None)
    avoid = next((compile_text(p.text, scope) for p in hazard.parts if isinstance(p, n.Avoid)), None)
    asks = []
    for part in hazard.parts:
        if isinstance(part, n.Asks):
            unit = scope.unit(part.unit) if part.unit is not None else None
            if part.unit is None or unit is not None:
                asks.append(Asked(part.name.text, compile_text(part.text, scope), unit))
    whole = not any(isinstance(p, n.Broken) for p in hazard.parts)
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


def excused_words(tree: n.File) -> frozenset[str]:
    """The words of the lines that could not be read."""
    words: set[str] = set()
    for node in tree.walk():
        if isinstance(node, n.Broken):
            words |= node.words
    return frozenset(words)
