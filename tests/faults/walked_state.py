"""What a run that the walker follows knows, and what its conditions come to.

Nothing here knows the checker. A state is one concrete run: the hardware as it stands, the facts of the site, and what
the procedure at hand has learned. A fact that nobody has asked for yet is left open, and parts the run in two or more
when it is asked for: that is the same as choosing it beforehand, and keeps what has to be looked at small.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from proclang.syntax import nodes as n

Facts = frozenset[tuple[str, str]]
Env = dict[str, str]
"""Where the loops over labels around a line stand."""

HEMISPHERE = ("north", "south")


class State(NamedTuple):
    """One run under way."""

    hardware: tuple[str, ...]
    site: Facts
    own: Facts
    """Of the procedure at hand: verdicts, answers, conditions; which values are set, and which are stale."""
    shown: tuple[str, ...] = ()
    """The hardware as it was when somebody last answered: what a step changes is so only after its next answer."""


class Broken(NamedTuple):
    """A rule that some run breaks: which, where, and what it is about."""

    rule: str
    file: str
    start: int
    about: str


def value_of(facts: Facts, key: str) -> str | None:
    """What is known of something."""
    for name, value in facts:
        if name == key:
            return value
    return None


def put(facts: Facts, key: str, value: str) -> Facts:
    """The facts with one of them known."""
    return frozenset((*(f for f in facts if f[0] != key), (key, value)))


def drop(facts: Facts, keys: Iterable[str]) -> Facts:
    """The facts without some."""
    gone = set(keys)
    return frozenset(f for f in facts if f[0] not in gone)


def labels_of(labels: Iterable[n.Label]) -> Iterator[str]:
    """The labels a bracket lists, ranges written out."""
    for label in labels:
        if isinstance(label, n.Name):
            yield label.text
        elif isinstance(label, n.Number):
            yield label.typed
        else:
            for number in range(int(label.first.typed), int(label.last.typed) + 1):
                yield str(number)


class Names:
    """What the names of one file stand for."""

    def __init__(self, tree: n.File, machine: n.File | None) -> None:
        self.tree = tree
        self.sets: dict[str, tuple[str, ...]] = {}
        self.columns: set[str] = set()
        self.inputs: dict[str, n.Input] = {}
        self.choices: dict[str, tuple[str, ...]] = {"hemisphere": HEMISPHERE}
        self.defined: dict[str, n.Node] = {}
        self.hazards: dict[str, n.Hazard] = {}
        self.machine = machine
        for source in (machine, tree):
            if source is None:
                continue
            for item in source.every(n.Item):
                if item.labels:
                    self.sets[item.name.text] = tuple(labels_of(item.labels))
            for thing in source.every(n.CountedThing):
                if thing.labels:
                    self.sets[thing.name.text] = tuple(labels_of(thing.labels))
            for labels in source.every(n.Labels):
                self.sets[labels.name.text] = tuple(labels_of(labels.labels))
            for table in source.every(n.Table):
                rows = [row.label for row in table.rows if isinstance(row, n.Row)]
                self.sets[table.name.text] = tuple(labels_of(rows))
                self.columns |= {column.text for column in table.columns}
            for hazard in source.every(n.Hazard):
                if hazard.title is not None:
                    self.hazards.setdefault(hazard.name.text, hazard)
        for one in tree.every(n.Input):
            self.inputs[one.name.text] = one
            if one.kind.choices:
                self.choices[one.name.text] = tuple(c.text for c in one.kind.choices)
        for choose in tree.every(n.Choose):
            self.choices[choose.name.text] = tuple(o.text for o in choose.options)
        for measure in tree.every(n.Measure):
            self.defined.setdefault(measure.name.text, measure)
        for compute in tree.every(n.Compute):
            for target in compute.targets:
                self.defined.setdefault(target.name.text, compute)
        self.gives = [name.text for line in tree.every(n.Gives) for name in line.names]
        self.asked = {name for line in _conditions(tree) for name in references(line)}

    def judged(self, name: str) -> bool:
        """Whether a value has limits."""
        limits = (n.WithinAround, n.WithinRange, n.WithinUneven, n.Bound, n.Spread)
        return any(isinstance(facet, limits) for facet in self.facets(name))

    def guarded(self, name: str) -> bool:
        """Whether a value can be undecided."""
        return any(isinstance(facet, n.Guarded) for facet in self.facets(name))

    def no_deviation(self, name: str) -> bool:
        """Whether nobody may accept a value outside its limits."""
        return any(isinstance(facet, n.NoDeviation) for facet in self.facets(name))

    def facets(self, name: str) -> tuple[n.Node, ...]:
        """The lines under a value."""
        return getattr(self.defined.get(name), "facets", ())


def _conditions(tree: n.File) -> Iterator[n.Node]:
    for kind in (n.When, n.LeaveWhen):
        for line in tree.every(kind):
            yield line.condition
    for parted in tree.every(n.According):
        yield parted.subject


def references(node: n.Node) -> set[str]:
    """The names of values in an expression."""
    if isinstance(node, n.Name):
        return {node.text}
    found = set()
    for inner in node.walk():
        if isinstance(inner, n.Reference):
            found.add(inner.name.text)
    return found


def known_as(reference: n.Reference, env: Env, names: Names) -> str:
    """What a value, or the label of it that a loop stands at, is called among the facts."""
    return reference.name.text + "".join(f"[{label}]" for label in spelled(reference.labels, env, names, whole=False))


def spelled(labels: Iterable[n.Label], env: Env, names: Names, whole: bool) -> list[str]:
    """The labels of a bracket where loops stand; a set is written out where `whole`."""
    found: list[str] = []
    for label in labels:
        if isinstance(label, n.Name) and label.text in env:
            found.append(env[label.text])
        elif whole and isinstance(label, n.Name) and label.text in names.sets:
            found += names.sets[label.text]
        else:
            found += list(labels_of((label,)))
    return found


class Conditions:
    """What conditions come to, of one file."""

    def __init__(self, names: Names, handed: frozenset[str]) -> None:
        self.names = names
        self.handed = handed
        """Inputs that whoever performs the procedure hands over, and which are no facts of the site."""

    def outcomes(self, condition: n.Expression, state: State, env: Env) -> Iterator[tuple[bool, State]]:
        """Each way a condition may come out, and the run on that way."""
        if isinstance(condition, n.Binary) and condition.operator in ("and", "or"):
            ends = condition.operator == "or"
            for holds, after in self.outcomes(condition.left, state, env):
                if holds == ends:
                    yield ends, after
                else:
                    yield from self.outcomes(condition.right, after, env)
        elif isinstance(condition, n.Unary) and condition.operator == "not":
            for holds, after in self.outcomes(condition.operand, state, env):
                yield not holds, after
        elif isinstance(condition, n.Judged) and isinstance(condition.value, n.Reference):
            for outcome, after in self.verdicts(condition.value, state, env):
                yield outcome == condition.outcome, after
        elif isinstance(condition, n.Being) and isinstance(condition.value, n.Reference):
            for label, after in self.choice(condition.value.name.text, state, env):
                yield label == condition.label.text, after
        else:
            yield from self._other(condition, state, env)

    def verdicts(self, value: n.Reference, state: State, env: Env) -> Iterator[tuple[str, State]]:
        """A verdict passes or fails; a guarded one may be undecided."""
        key = "verdict " + known_as(value, env, self.names)
        known = value_of(state.own, key)
        if known is not None:
            yield known, state
            return
        ways = ["passes", "fails"]
        name = value.name.text
        if self.names.guarded(name) or name not in self.names.defined:
            ways.append("undecided")
        for way in ways:
            yield way, state._replace(own=put(state.own, key, way))

    def choice(self, name: str, state: State, env: Env) -> Iterator[tuple[str, State]]:
        """A choice is one of its answers, the same until it is asked again."""
        if name in env:
            yield env[name], state
            return
        of_site = name == "hemisphere" or (name in self.names.inputs and name not in self.handed)
        key = f"choice {name}"
        known = value_of(state.site if of_site else state.own, key)
        if known is not None:
            yield known, state
            return
        for label in self.names.choices.get(name, ()):
            if of_site:
                yield label, state._replace(site=put(state.site, key, label))
            else:
                yield label, state._replace(own=put(state.own, key, label))

    def _other(self, condition: n.Expression, state: State, env: Env) -> Iterator[tuple[bool, State]]:
        """Any other condition is known by its words: it holds or does not, until a name in it is set anew."""
        names = sorted(references(condition))
        around = [f"{name}={env[name]}" for name in sorted(_labels_in(condition)) if name in env]
        key = f"condition {' '.join([*names, *around])}: {condition!r}"
        of_site = all(name in self.names.inputs and name not in self.handed for name in names)
        known = value_of(state.site if of_site else state.own, key)
        for way in ("yes", "no") if known is None else (known,):
            if of_site:
                yield way == "yes", state._replace(site=put(state.site, key, way))
            else:
                yield way == "yes", state._replace(own=put(state.own, key, way))


def _labels_in(node: n.Node) -> set[str]:
    return {inner.text for inner in node.walk() if isinstance(inner, n.Name)}


def forget(own: Facts, name: str) -> Facts:
    """What was known of a value that is set anew is known no more."""

    def about(key: str) -> bool:
        what, _, rest = key.partition(" ")
        if what == "condition":
            return name in rest.partition(":")[0].split()
        return what in ("verdict", "choice") and rest.partition("[")[0] == name

    return frozenset(f for f in own if not about(f[0]))
