"""Which names a procedure sets and where, before anything is resolved: the whole of it is known from the tree alone."""

from __future__ import annotations

from collections.abc import Iterator

import attrs

from proclang.syntax import nodes as n
from proclang.text.span import Span

Ways = tuple[tuple[int, int], ...]
"""The branches a place stands in, each with which arm: two places exclude each other when they differ in an arm."""


@attrs.frozen
class Definition:
    """One place that sets a name. `damaged`: under a damaged line, so that nobody knows which way it lies on."""

    name: n.Name
    ways: Ways
    damaged: bool = False


@attrs.define
class Definitions:
    """Every place that sets a name, in source order."""

    places: dict[str, list[Definition]] = attrs.field(factory=dict)

    def first(self) -> dict[str, Span]:
        """Where each name is first set."""
        return {name: found[0].name.span for name, found in self.places.items()}

    def exclusive(self, name: str, at: n.Name) -> bool:
        """Whether the place at `at` excludes every earlier place that sets the same name."""
        earlier: list[Definition] = []
        for definition in self.places.get(name, ()):
            if definition.name is at or definition.name.span == at.span:
                return all(
                    definition.damaged or other.damaged or apart(definition.ways, other.ways) for other in earlier
                )
            earlier.append(definition)
        return False


def apart(a: Ways, b: Ways) -> bool:
    """Whether no run comes through both places."""
    arms = dict(a)
    return any(branch in arms and arms[branch] != arm for branch, arm in b)


def find_definitions(tree: n.File) -> Definitions:
    """All names set by the statements of a procedure."""
    found = Definitions()
    counter = 0

    def visit(statements: tuple[n.Node, ...], ways: Ways, damaged: bool = False) -> None:
        nonlocal counter
        for node in statements:
            for name in _set_by(node):
                found.places.setdefault(name.text, []).append(Definition(name, ways, damaged))
            if isinstance(node, n.According):
                counter += 1
                branch = counter
                for index, arm in enumerate(node.arms):
                    inside = arm.body if isinstance(arm, n.Arm) else arm.inside
                    visit(inside, (*ways, (branch, index)), damaged or isinstance(arm, n.Broken))
            elif isinstance(node, (n.When, n.Repeat)):
                # A repeat is left either by its body or through its `otherwise`: what both set, one of them has set.
                counter += 1
                branch = counter
                visit(node.body, (*ways, (branch, 0)), damaged)
                if node.otherwise is not None:
                    visit(node.otherwise.body, (*ways, (branch, 1)), damaged)
            elif isinstance(node, n.Broken):
                visit(node.inside, ways, True)
            elif isinstance(node, (n.Step, n.ForEach, n.AnyOrder, n.Stopped, n.Section, n.Otherwise, n.Arm)):
                visit(node.body, ways, damaged)

    visit(tuple(x for x in tree.body if isinstance(x, (n.Section, n.Broken))), ())
    return found


def _set_by(node: n.Node) -> Iterator[n.Name]:
    if isinstance(node, n.Compute):
        for target in node.targets:
            yield target.name
    elif isinstance(node, (n.Measure, n.Confirm, n.Choose, n.Note, n.Photo, n.SetValue)):
        yield node.name
    elif isinstance(node, n.Take):
        yield node.into or node.name
    elif isinstance(node, n.Perform):
        for part in node.parts:
            yield from _set_by(part)


def judged_names(tree: n.File) -> frozenset[str]:
    """Values whose verdict the procedure asks for: it deals with a failure itself, nobody is asked what to do."""
    values = (node.value for node in tree.every(n.Judged))
    return frozenset(value.name.text for value in values if isinstance(value, n.Reference))
