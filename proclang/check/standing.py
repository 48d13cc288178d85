"""In which states hardware may stand at a place, and what has to be true for it.

For each item a map from state to what is known where it is in that state: `removed` only where `slab` is steel. Where
ways meet, states are put together and knowledge is what both sides know; a branch takes away the states whose knowledge
it denies. So `when full` take off, `when full` put back, comes out as put back.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import attrs

from proclang.check.ways import Atom, Fact, Place

Facts = Mapping[Atom, frozenset[str]]


@attrs.frozen
class Known:
    """What is known where an item is in a state, and where it came into that state; None at the beginning."""

    facts: Facts
    since: Place | None = attrs.field(eq=False)
    mended: bool = False
    """Taken to be so since a fault was found with what it was."""


States = Mapping[str, Known]
"""An item's states."""

ABSENT = ""
"""The state of what is there on one of two ways that met, and not on the other."""

_NOT_THERE: States = {ABSENT: Known({}, None)}

UNKNOWN = "?"
"""The state of an item of which nothing says how it is found."""


@attrs.frozen
class Standing:
    """The hardware at a place. `facts` are known on every way there."""

    items: Mapping[str, States]
    facts: Facts
    used: frozenset[Atom] = attrs.field(default=frozenset(), eq=False)
    """Atoms that may stand in what is known of an item: no others have to be looked for."""

    def where(self, fact: Fact) -> Standing | None:
        """The same on a branch that tells a fact; None where nothing is left."""
        atom, labels = fact
        here = self.facts.get(atom)
        labels = labels if here is None else here & labels
        if not labels:
            return None
        if atom not in self.used:
            return Standing(self.items, {**self.facts, atom: labels}, self.used)
        items = dict(self.items)
        for key, states in self.items.items():
            left = {state: known for state, known in states.items() if not _denied(known.facts.get(atom), labels)}
            if len(left) != len(states):
                if not left:
                    return None
                items[key] = left
        return Standing(items, {**self.facts, atom: labels}, self.used)

    def without(self, names: frozenset[str], context: int) -> Standing:
        """The same after some names of a call were set anew."""

        def kept(facts: Facts) -> Facts:
            if all(atom.context != context or atom.names.isdisjoint(names) for atom in facts):
                return facts
            return {a: x for a, x in facts.items() if a.context != context or a.names.isdisjoint(names)}

        facts = kept(self.facts)
        if all(atom.context != context or atom.names.isdisjoint(names) for atom in self.used):
            return self if facts is self.facts else Standing(self.items, facts, self.used)
        items = dict(self.items)
        for key, states in self.items.items():
            if any(known.facts for known in states.values()):
                items[key] = {s: attrs.evolve(known, facts=kept(known.facts)) for s, known in states.items()}
        return Standing(items, facts, self.used)

    def told(self, facts: Facts) -> Standing:
        """The same where something more is known on every way."""
        return Standing(self.items, {**self.facts, **facts}, self.used) if facts else self

    def forgotten(self, atoms: frozenset[Atom]) -> Standing:
        """The same with some atoms known no more."""
        items = dict(self.items)
        for key, states in self.items.items():
            if any(not atoms.isdisjoint(known.facts) for known in states.values()):
                items[key] = {
                    s: attrs.evolve(known, facts={a: x for a, x in known.facts.items() if a not in atoms})
                    for s, known in states.items()
                }
        facts = {atom: labels for atom, labels in self.facts.items() if atom not in atoms}
        return Standing(items, facts, self.used - atoms)

    def moved(self, keys: Iterable[str], state: str, place: Place) -> Standing:
        """The same after some items came into a state."""
        states = {state: Known({}, place)}
        return Standing({**self.items, **dict.fromkeys(keys, states)}, self.facts, self.used)

    def only(self, key: str, state: str) -> Standing:
        """The same where an item can only be in one state: what was found fault with is not said again."""
        known = self.items.get(key, {}).get(state, Known({}, None))
        return Standing({**self.items, key: {state: attrs.evolve(known, mended=True)}}, self.facts, self.used)


def _denied(known: frozenset[str] | None, labels: frozenset[str]) -> bool:
    return known is not None and not known & labels


def compatible(a: Facts, b: Facts) -> bool:
    """Whether two things known may be true together."""
    return not any(atom in b and not labels & b[atom] for atom, labels in a.items())


def joined(a: Standing, b: Standing) -> Standing:
    """What is known where two ways meet."""
    if a is b or (a.facts == b.facts and a.items is b.items):
        return a
    facts = _both(a.facts, b.facts)
    only_a = {atom: x for atom, x in a.facts.items() if facts.get(atom) != x}
    only_b = {atom: x for atom, x in b.facts.items() if facts.get(atom) != x}
    items: dict[str, States] = dict(a.items)
    changed = False
    keys = a.items if a.items.keys() == b.items.keys() else dict.fromkeys((*a.items, *b.items))
    for key in keys:
        states, others = a.items.get(key, _NOT_THERE), b.items.get(key, _NOT_THERE)
        if others is states or others == states:
            continue
        changed = True
        merged: dict[str, Known] = {}
        for state in (*states, *(x for x in others if x not in states)):
            left, right = states.get(state), others.get(state)
            from_a = None if left is None else {**only_a, **left.facts}
            from_b = None if right is None else {**only_b, **right.facts}
            since = left.since if left is not None else right.since if right is not None else None
            mended = any(side is not None and side.mended for side in (left, right))
            if from_a is None or from_b is None:
                merged[state] = Known(from_a if from_a is not None else from_b or {}, since, mended)
            else:
                merged[state] = Known(_both(from_a, from_b), since, mended)
        items[key] = merged
    if not changed:
        return Standing(a.items, facts, a.used | b.used)
    return Standing(items, facts, a.used | b.used | only_a.keys() | only_b.keys())


def _both(a: Facts, b: Facts) -> Facts:
    return a if a == b else {atom: labels | b[atom] for atom, labels in a.items() if atom in b}
