"""Ways through a tree find the same nodes, in the order of the text."""

from __future__ import annotations

from pathlib import Path

import pytest

from proclang.syntax import nodes as n
from proclang.syntax.parse import parse
from proclang.text.decode import decode
from proclang.text.span import Span

ROOT = Path(__file__).parents[2]
LEAVES = (n.Name, n.Number, n.Unit, n.NoDeviation)
"""Nodes that can hold no others."""
FILES = sorted([*(ROOT / "tests" / "syntax" / "samples").glob("*.proc"), *(ROOT / "procedures").rglob("*.proc")])


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_what_is_found_at_once_is_what_a_walk_finds(path: Path) -> None:
    tree = parse(decode(path.read_bytes(), path.name).source).tree
    walked = list(tree.walk())
    assert [id(x) for x in tree.walk_holders()] == [id(x) for x in walked if not isinstance(x, LEAVES)]
    for kind in {type(node) for node in walked} - set(LEAVES):
        assert [id(x) for x in tree.every(kind)] == [id(x) for x in walked if type(x) is kind]
    sections = tree.all(n.Section)
    statements = {id(x) for section in sections for x in section.walk() if isinstance(x, n.Statement | n.Arm)}
    assert {id(x) for section in sections for x in n.nested(section.body)} == statements


def test_what_holds_nothing_is_found_by_nothing() -> None:
    name = n.Name("x", span=Span("f", 0, 1))
    assert list(name.walk_holders()) == []
    assert list(name.walk()) == [name]


def test_trees_compare_by_meaning_also_after_something_was_looked_for() -> None:
    source = decode(FILES[0].read_bytes(), "f").source
    one, other = parse(source).tree, parse(source).tree
    one.every(n.Step)
    assert one == other
    assert repr(one) == repr(other)
