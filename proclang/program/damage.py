"""What damaged lines leave behind: words nothing may be said about, kinds of name that may be missing because of
them, and sound lines under a damaged one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TypeVar

from proclang.syntax import nodes as n
from proclang.syntax.parse import Parsed

N = TypeVar("N", bound=n.Node)

_WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_LEVELS = frozenset({"tab", "indentation", "stray-block", "missing-block", "too-deep"})

# Lines that are still looked at where they stand under a damaged one; the names of any others are excused.
_STILL_READ = (n.Input, n.Instrument, n.Tool, n.Part, n.Crew, n.Apart, n.Authority, n.Section, n.Arm, n.With, n.Take)

EVERYTHING = frozenset({"value", "role", "instrument", "labels", "label", "hazard", "item", "kind", "state"})
"""Kinds of name a line can declare."""

MACHINE_NAMES = frozenset({"item", "hazard", "labels", "label", "state"})
"""Kinds of name that come from the machine file."""

# What a damaged line may have declared, by the block it stands in ...
_IN_BLOCK: dict[type[n.Node], frozenset[str]] = {
    n.Inputs: frozenset({"value"}),
    n.Needs: frozenset({"role", "instrument"}),
    n.Table: frozenset({"label"}),
    n.MachineUse: frozenset(),
    n.KindOfItem: frozenset({"state"}),
    n.Perform: frozenset({"value"}),
    n.Hazard: frozenset({"value"}),
    n.Measure: frozenset(),
    n.Compute: frozenset(),
    n.Input: frozenset(),
    n.According: frozenset(),
}
# ... and elsewhere by the word it begins with; a word that begins no line may have been any.
_HAZARD = frozenset({"hazard", "value"})
_NOTHING: frozenset[str] = frozenset()
_VALUE = frozenset({"value"})
_BY_WORD: dict[str, frozenset[str]] = {
    "inputs": _VALUE,
    "needs": frozenset({"role", "instrument"}),
    "machine": MACHINE_NAMES,
    "labels": frozenset({"labels", "label"}),
    "table": frozenset({"labels", "label", "value"}),
    "kind": frozenset({"kind", "state"}),
    "choose": frozenset({"value", "label"}),
    "for": frozenset({"value", "labels", "label"}),
    "danger": _HAZARD, "warning": _HAZARD, "caution": _HAZARD, "notice": _HAZARD,
    "measure": _VALUE, "compute": _VALUE, "confirm": _VALUE, "note": _VALUE, "photo": _VALUE, "set": _VALUE,
    "perform": _VALUE, "gives": _VALUE,
    "proclang": _NOTHING, "procedure": _NOTHING, "revision": _NOTHING, "purpose": _NOTHING, "interlock": _NOTHING,
    "counted": _NOTHING, "section": _NOTHING, "step": _NOTHING, "figure": _NOTHING, "hold": _NOTHING,
    "witness": _NOTHING, "now": _NOTHING, "require": _NOTHING, "upsets": _NOTHING, "according": _NOTHING,
    "when": _NOTHING, "otherwise": _NOTHING, "repeat": _NOTHING, "leave": _NOTHING, "in": _NOTHING, "if": _NOTHING,
}  # fmt: skip


def excused_words(parsed: Parsed) -> set[str]:
    """The words of every line that has a mistake of form: one of them may be the name somebody misses elsewhere."""
    words: set[str] = set()
    for line in {parsed.source.place(finding.span.start)[0] for finding in parsed.findings}:
        words.update(_WORD.findall(parsed.source.line(line)))
    for node in parsed.tree.walk():
        if not isinstance(node, n.Broken):
            continue
        words |= node.words
        for inner in node.inside:
            if isinstance(inner, (*_STILL_READ, *n.Statement.__args__)):
                continue
            words.update(name.text for name in inner.walk() if isinstance(name, n.Name))
    return words


def hidden_kinds(parsed: Parsed) -> frozenset[str]:
    """The kinds of name that a damaged line may have declared: what is missing of them may stand there."""
    hidden: set[str] = set()
    for node in parsed.tree.walk():
        for child in node.children():
            if isinstance(child, n.Broken):
                known = _IN_BLOCK.get(type(node))
                hidden |= _BY_WORD.get(first_word_of(child, parsed), EVERYTHING) if known is None else known
    return frozenset(hidden)


def first_word_of(node: n.Broken, parsed: Parsed) -> str:
    """The word a damaged line begins with, empty where it begins with none."""
    line, _ = parsed.source.place(node.span.start)
    word = _WORD.match(parsed.source.line(line).lstrip())
    return word.group() if word is not None else ""


def levels_damaged(parsed: Parsed) -> bool:
    """Whether the indentation of the file is damaged somewhere, so that a sound line may stand in the wrong block."""
    return any(finding.code in _LEVELS for finding in parsed.findings)


def orphans(tree: n.File, kind: type[N]) -> Iterator[N]:
    """Sound lines of the header under a damaged line: `inputs` misspelt does not hide its inputs."""
    for item in tree.all(n.Broken):
        for inner in item.inside:
            if isinstance(inner, kind):
                yield inner
