"""Faults are put into the text of a file: lines are left out, moved or exchanged, words are written otherwise.

The parsed tree says where things stand. What is not touched stays as it was, comments too, so that a fault has a line.
"""

from __future__ import annotations

from collections.abc import Iterator

import attrs

from proclang.syntax import nodes as n

INDENT = "  "


@attrs.frozen
class Mutant:
    """A file with one fault in it."""

    operator: str
    file: str
    text: str
    line: int
    """Where the fault is, counted from 1 in the broken text: the changed line, or the first behind what is left out."""
    what: str
    """The fault in a few words."""
    about: tuple[str, ...] = ()
    """Names that a finding about this fault would be expected to say."""
    key: str = ""
    """What a judge of this kind of fault needs to know of it."""


@attrs.define
class Page:
    """One file to be broken."""

    name: str
    text: str
    tree: n.File
    lines: list[str] = attrs.field(init=False)
    starts: list[int] = attrs.field(init=False)

    def __attrs_post_init__(self) -> None:
        self.lines = self.text.splitlines()
        self.starts = []
        at = 0
        for line in self.lines:
            self.starts.append(at)
            at += len(line) + 1

    def line_of(self, offset: int) -> int:
        """The index of the line an offset lies in."""
        low, high = 0, len(self.starts)
        while high - low > 1:
            middle = (low + high) // 2
            if self.starts[middle] <= offset:
                low = middle
            else:
                high = middle
        return low

    def range_of(self, node: n.Node) -> tuple[int, int]:
        """The lines of a statement: first, and one past the last."""
        end = max([node.span.end, *(inner.span.end for inner in node.walk())])
        return self.line_of(node.span.start), self.line_of(max(end - 1, node.span.start)) + 1

    def depth(self, line: int) -> int:
        """How far in a line stands."""
        text = self.lines[line]
        return len(text) - len(text.lstrip(" "))

    # ------------------------------------------------------------------ faults

    def without(self, operator: str, node: n.Node, what: str, **more: object) -> Mutant:
        """Lines left out."""
        first, last = self.range_of(node)
        return self._made(operator, [*self.lines[:first], *self.lines[last:]], first, what, **more)

    def moved(self, operator: str, node: n.Node, to: int, depth: int, what: str, **more: object) -> Mutant:
        """A statement moved to stand before the line `to` of the old text, so far in."""
        first, last = self.range_of(node)
        shift = depth - self.depth(first)
        block = [_indented(line, shift) for line in self.lines[first:last]]
        if to >= last:
            lines = [*self.lines[:first], *self.lines[last:to], *block, *self.lines[to:]]
            at = to - (last - first)
        else:
            lines = [*self.lines[:to], *block, *self.lines[to:first], *self.lines[last:]]
            at = to
        return self._made(operator, lines, at, what, **more)

    def exchanged(self, operator: str, one: n.Node, two: n.Node, what: str, **more: object) -> Mutant:
        """Two statements of one block, the second further down, each at the other's place."""
        a, b = self.range_of(one)
        c, d = self.range_of(two)
        lines = [*self.lines[:a], *self.lines[c:d], *self.lines[b:c], *self.lines[a:b], *self.lines[d:]]
        return self._made(operator, lines, a, what, **more)

    def written(self, operator: str, node: n.Node, instead: str, what: str, **more: object) -> Mutant:
        """Other words at one place of a line."""
        return self.written_at(operator, node.span.start, node.span.end, instead, what, **more)

    def written_at(self, operator: str, start: int, end: int, instead: str, what: str, **more: object) -> Mutant:
        """Other words between two offsets."""
        text = self.text[:start] + instead + self.text[end:]
        return Mutant(operator, self.name, text, self.line_of(start) + 1, what, **more)  # type: ignore[arg-type]

    def _made(self, operator: str, lines: list[str], at: int, what: str, **more: object) -> Mutant:
        text = "\n".join(lines) + "\n"
        return Mutant(operator, self.name, text, at + 1, what, **more)  # type: ignore[arg-type]


def _indented(line: str, shift: int) -> str:
    if not line.strip():
        return line
    return " " * shift + line if shift >= 0 else line[-shift:]


def blocks(tree: n.File) -> Iterator[tuple[n.Node, tuple[n.Node, ...]]]:
    """Every block with what it stands under, `if stopped` apart: a stop is no run of the procedure's own."""
    stack: list[n.Node] = list(reversed(tree.all(n.Section)))
    while stack:
        node = stack.pop()
        if isinstance(node, n.Stopped):
            continue
        body = getattr(node, "body", None)
        if body is not None:
            yield node, body
        below: list[n.Node] = list(body or ())
        if isinstance(node, n.According):
            below = list(node.arms)
        elif isinstance(node, (n.When, n.Repeat)) and node.otherwise is not None:
            below.append(node.otherwise)
        stack += reversed(below)


def statements(tree: n.File, *kinds: type[n.Node]) -> Iterator[n.Node]:
    """Every statement of some kinds, wherever it stands, `if stopped` apart."""
    for _, body in blocks(tree):
        for node in body:
            if isinstance(node, kinds):
                yield node


def sections(tree: n.File) -> Iterator[tuple[n.Section, tuple[n.Node, ...]]]:
    """Each section with its lines, without its `if stopped`."""
    for section in tree.all(n.Section):
        yield section, tuple(node for node in section.body if not isinstance(node, n.Stopped))


def can_be_emptied(owner: n.Node, body: tuple[n.Node, ...]) -> bool:
    """Whether a line may be left out without leaving a block empty."""
    return isinstance(owner, n.Step) or len([node for node in body if not isinstance(node, n.Stopped)]) > 1


def nows(node: n.Node) -> list[n.Now]:
    """What a statement changes, all below it included."""
    return [inner for inner in node.walk() if isinstance(inner, n.Now)]
