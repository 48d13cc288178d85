"""How tired authors break what is read and worked out: used too early, misspelt, not read again."""

from __future__ import annotations

from collections.abc import Iterator

from edits import Mutant, Page, blocks, can_be_emptied, sections
from walked_state import Names, references
from walker import names_set

from proclang.syntax import nodes as n


def use_early(page: Page, names: Names) -> Iterator[Mutant]:
    """What uses a value comes before what reads it."""
    for _, body in blocks(page.tree):
        for at, node in enumerate(body):
            if isinstance(node, (n.Stopped, n.Hazard)):
                continue
            used = references(node)
            for before in body[:at]:
                set_there = {name for inner in before.walk() for name in names_set(inner, names)}
                shared = sorted(used & set_there)
                if shared:
                    to, _ = page.range_of(before)
                    depth = page.depth(page.range_of(node)[0])
                    yield page.moved("use_early", node, to, depth, f"{shared[0]} is used early", about=tuple(shared))
                    break


def drop_reading(page: Page, names: Names) -> Iterator[Mutant]:
    """A reading or a sum is forgotten."""
    for owner, body in blocks(page.tree):
        for node in body:
            kinds = (n.Measure, n.MeasureAgain, n.Compute, n.ComputeAgain, n.Choose)
            if not isinstance(node, kinds) or not can_be_emptied(owner, body) or counts(node):
                continue
            about = tuple(names_set(node, names))
            yield page.without("drop_reading", node, f"no {about[0]}", about=about)


def drop_count(page: Page, names: Names) -> Iterator[Mutant]:
    """A count, or what is worked out from counts, is forgotten."""
    for owner, body in blocks(page.tree):
        for node in body:
            if counts(node) and can_be_emptied(owner, body):
                about = tuple(names_set(node, names))
                yield page.without("drop_count", node, f"no {about[0]}", about=about)


def drop_counts_line(page: Page, names: Names) -> Iterator[Mutant]:
    """A count is made, and nobody says what it shows."""
    for facet in page.tree.every(n.Counts):
        thing = facet.place.name.text
        yield page.without("drop_counts_line", facet, f"counts {thing} {facet.state.text}", about=(thing,))


def counts(node: n.Node) -> bool:
    """Whether pieces are counted."""
    if not isinstance(node, (n.Measure, n.Compute)):
        return False
    return node.unit is not None and node.unit.text in ("pieces", "piece")


def misspell_use(page: Page, names: Names) -> Iterator[Mutant]:
    """One use of a name is misspelt."""
    known = {*names.defined, *names.inputs, *names.columns, *names.choices, *names.sets}
    for reference in _uses(page, names):
        name = reference.name.text
        wrong = next(w for x in "xzq" if (w := name[:-1] + x) not in known)
        yield page.written("misspell_use", reference.name, wrong, f"{wrong} for {name}", about=(name, wrong))


def rename_use(page: Page, names: Names) -> Iterator[Mutant]:
    """One use of a name is that of the next value in the file."""
    known = list(names.defined)
    for reference in _uses(page, names):
        name = reference.name.text
        if name not in known or len(known) < 2:
            continue
        other = known[(known.index(name) + 1) % len(known)]
        yield page.written(
            "rename_use", reference.name, other, f"{other} for {name}", about=(name, other), key=f"{name} {other}"
        )


def torque_last(page: Page, names: Names) -> Iterator[Mutant]:
    """A step that upsets a reading comes after the last reading of it."""
    for _, lines in sections(page.tree):
        _, end = page.range_of(lines[-1])
        depth = page.depth(page.range_of(lines[0])[0])
        for node in _upsetting(lines):
            if page.range_of(node)[1] == end:
                continue
            upset = tuple(x.text for u in node.walk() if isinstance(u, n.Upsets) for x in u.names)
            yield page.moved("torque_last", node, end, depth, f"{node.name.text} upsets {upset[0]} last", about=upset)


def _upsetting(lines: tuple[n.Node, ...]) -> Iterator[n.Step]:
    for line in lines:
        for node in line.walk():
            if isinstance(node, n.Step) and any(isinstance(inner, n.Upsets) for inner in node.walk()):
                yield node


def drop_upsets(page: Page, names: Names) -> Iterator[Mutant]:
    """Nobody says that a step makes a reading stale."""
    for owner, body in blocks(page.tree):
        for node in body:
            if isinstance(node, n.Upsets) and can_be_emptied(owner, body):
                yield page.without("drop_upsets", node, f"upsets {node.names[0].text}", about=(node.names[0].text,))


def _uses(page: Page, names: Names) -> Iterator[n.Reference]:
    """Every use of a value that the file sets, `if stopped` apart."""
    for owner, body in blocks(page.tree):
        own: list[n.Node] = [owner.title] if isinstance(owner, n.Step) else []
        if isinstance(owner, n.When):
            own.append(owner.condition)
        for node in (*own, *body):
            if getattr(node, "body", None) is not None or isinstance(node, n.According):
                continue
            for inner in node.walk():
                if isinstance(inner, n.Reference) and inner.name.text in names.defined:
                    yield inner


PROVABLE = (use_early, drop_reading, drop_count, drop_counts_line, misspell_use, torque_last)
BEYOND = (rename_use, drop_upsets)
