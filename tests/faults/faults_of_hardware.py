"""How tired authors break what is taken off, put back, switched, locked and lifted."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from edits import Mutant, Page, blocks, can_be_emptied, nows
from walked_state import Names, labels_of

from proclang.syntax import nodes as n


def drop_put_back(page: Page, names: Names) -> Iterator[Mutant]:
    """The line that says what a step leaves is forgotten."""
    for owner, body in blocks(page.tree):
        for node in body:
            if isinstance(node, n.Now) and can_be_emptied(owner, body):
                item = node.place.name.text
                yield page.without("drop_put_back", node, f"now {item} is {node.state.text}", about=(item,))


def drop_from_stop(page: Page, names: Names) -> Iterator[Mutant]:
    """What makes the site safe after a stop is forgotten."""
    for stopped in page.tree.every(n.Stopped):
        for node in stopped.walk():
            if isinstance(node, n.Now):
                item = node.place.name.text
                yield page.without("drop_from_stop", node, f"stop without {item} {node.state.text}", about=(item,))


def drop_step(page: Page, names: Names) -> Iterator[Mutant]:
    """A whole step that changes something is forgotten."""
    for owner, body in blocks(page.tree):
        for node in body:
            if isinstance(node, n.Step) and nows(node) and can_be_emptied(owner, body):
                items = tuple(now.place.name.text for now in nows(node))
                yield page.without("drop_step", node, f"step {node.name.text}", about=(node.name.text, *items))


def drop_perform(page: Page, names: Names) -> Iterator[Mutant]:
    """A whole performed procedure is forgotten."""
    for owner, body in blocks(page.tree):
        for node in body:
            if isinstance(node, n.Perform) and can_be_emptied(owner, body):
                name = node.procedure.text
                yield page.without("drop_perform", node, f"perform {name}", about=(name,))


def late_put_back(page: Page, names: Names) -> Iterator[Mutant]:
    """A step that changes something comes last in its block."""
    for _, body in blocks(page.tree):
        lines = [node for node in body if not isinstance(node, n.Stopped)]
        for at, node in enumerate(lines[:-1]):
            if isinstance(node, n.Step) and nows(node):
                _, end = page.range_of(lines[-1])
                depth = page.depth(page.range_of(node)[0])
                items = tuple(now.place.name.text for now in nows(node))
                yield page.moved(
                    "late_put_back", node, end, depth, f"step {node.name.text} past {len(lines) - 1 - at}",
                    about=(node.name.text, *items),
                )  # fmt: skip


def swap_steps(page: Page, names: Names) -> Iterator[Mutant]:
    """Two neighbours, steps or performed procedures, are exchanged."""
    for owner, body in blocks(page.tree):
        if isinstance(owner, n.AnyOrder):
            continue
        movable = [node for node in body if isinstance(node, (n.Step, n.Perform))]
        for one, two in itertools.pairwise(movable):
            between = body[body.index(one) + 1 : body.index(two)]
            if not any(isinstance(node, (n.When, n.Repeat, n.ForEach, n.According)) for node in between):
                items = {now.place.name.text for now in (*nows(one), *nows(two))}
                first, second = one.name.text, two.name.text
                yield page.exchanged(
                    "swap_steps", one, two, f"{second} before {first}", about=(first, second, *sorted(items))
                )


def other_state(page: Page, names: Names) -> Iterator[Mutant]:
    """A step is said to leave an item in another of its states."""
    for _, body in blocks(page.tree):
        for node in body:
            if isinstance(node, n.Now):
                for state in _states(names, node.place.name.text):
                    if state != node.state.text:
                        item = node.place.name.text
                        yield page.written("other_state", node.state, state, f"now {item} is {state}", about=(item,))


def other_item(page: Page, names: Names) -> Iterator[Mutant]:
    """A step is said to change another item of the same kind."""
    kinds = _kinds(names)
    for _, body in blocks(page.tree):
        for node in body:
            if not isinstance(node, (n.Now, n.Require)) or node.place.labels:
                continue
            item = node.place.name.text
            for other in sorted(kinds):
                if other != item and kinds[other] == kinds.get(item):
                    word = "now" if isinstance(node, n.Now) else "require"
                    yield page.written(
                        "other_item", node.place, other, f"{word} {other}, not {item}", about=(item, other)
                    )


def drop_one_of_set(page: Page, names: Names) -> Iterator[Mutant]:
    """One of several like things is forgotten."""
    for _, body in blocks(page.tree):
        for node in body:
            if not isinstance(node, n.Now):
                continue
            item = node.place.name.text
            labels = list(labels_of(node.place.labels)) or list(names.sets.get(item, ()))
            loops = {loop.variable.text for loop in page.tree.every(n.ForEach)}
            if len(labels) < 2 or set(labels) & loops:
                continue
            for gone in (labels[0], labels[-1]):
                kept = ", ".join(label for label in labels if label != gone)
                end = node.place.span.end + page.text[node.place.span.end :].startswith("]")
                yield page.written_at(
                    "drop_one_of_set", node.place.span.start, end, f"{item}[{kept}]", f"now {item} without {gone}",
                    about=(item,),
                )  # fmt: skip


def act_early(page: Page, names: Names) -> Iterator[Mutant]:
    """A step for which something has to be so comes before the step that makes it so: energised before proved dead."""
    for _, body in blocks(page.tree):
        for at, node in enumerate(body):
            for before in body[:at]:
                if _makes_ready(names, before, node):
                    to, _ = page.range_of(before)
                    depth = page.depth(page.range_of(node)[0])
                    items = {now.place.name.text for now in (*nows(node), *nows(before))}
                    yield page.moved(
                        "act_early", node, to, depth, f"{_called(node)} before {_called(before)}",
                        about=(_called(node), _called(before), *sorted(items)),
                    )  # fmt: skip


def release_early(page: Page, names: Names) -> Iterator[Mutant]:
    """A step that requires something comes first in its block: the sling comes off before the bolts are tight."""
    for _, body in blocks(page.tree):
        for at, node in enumerate(body):
            if at and isinstance(node, n.Step) and any(isinstance(inner, n.Require) for inner in node.body):
                to, _ = page.range_of(body[0])
                needed = [inner.place.name.text for inner in node.body if isinstance(inner, n.Require)]
                yield page.moved(
                    "release_early", node, to, page.depth(to), f"{_called(node)} first", about=(_called(node), *needed)
                )


def _called(node: n.Node) -> str:
    name = getattr(node, "name", None)
    return name.text if isinstance(name, n.Name) else type(node).__name__.lower()


def _makes_ready(names: Names, before: n.Node, node: n.Node) -> bool:
    """Whether a statement makes so what an interlock asks of a later one."""
    if names.machine is None or not isinstance(node, n.Step) or not isinstance(before, n.Step):
        return False
    made = {(now.place.name.text, now.state.text) for now in nows(before)}
    changed = {(now.place.name.text, now.state.text) for now in nows(node)}
    for lock in names.machine.every(n.Interlock):
        guarded = lock.place.name.text
        acts = any(item == guarded and (lock.state is None or lock.state.text == state) for item, state in changed)
        if acts and any((c.place.name.text, c.state.text) in made for c in lock.conditions):
            return True
    return False


def _kinds(names: Names) -> dict[str, str]:
    if names.machine is None:
        return {}
    return {item.name.text: item.kind.text for item in names.machine.every(n.Item)}


def _states(names: Names, item: str) -> list[str]:
    kind = _kinds(names).get(item)
    if names.machine is None or kind is None:
        return []
    for one in names.machine.every(n.KindOfItem):
        if one.name.text == kind:
            return [state.text for states in one.states if isinstance(states, n.States) for state in states.names]
    return []


OPERATORS = (
    drop_put_back,
    drop_from_stop,
    drop_step,
    drop_perform,
    late_put_back,
    swap_steps,
    other_state,
    other_item,
    drop_one_of_set,
    act_early,
    release_early,
)
