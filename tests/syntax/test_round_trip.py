"""A tree printed and read again is the same tree, for any tree."""

from __future__ import annotations

import inspect

import pytest
import strategies
from hypothesis import Phase, find, given, settings
from line_faults import PROCEDURES, SAMPLES

from proclang.syntax import nodes as n
from proclang.syntax.parse import parse
from proclang.syntax.printer import print_tree
from proclang.text.decode import decode
from proclang.text.span import Source


@settings(max_examples=150)
@given(strategies.files)
def test_reading_what_was_printed_gives_the_tree(tree: n.File) -> None:
    """Nothing is lost and nothing is read differently; printing twice is printing once."""
    text = print_tree(tree)
    parsed = parse(Source("printed.proc", text))
    assert parsed.findings == ()
    assert parsed.tree == tree
    assert print_tree(parsed.tree) == text


SURE = SAMPLES[0].parent.parent / "sure_limits.proc"
"""Lines about how sure a verdict is; beside the samples, whose seeded faults know nothing of it."""

DUE = SURE.parent / "due_hazards.proc"
"""A machine whose hazards say when they are due."""


@pytest.mark.parametrize("path", [*SAMPLES, SURE, DUE, *PROCEDURES], ids=lambda path: path.name)
def test_written_files_survive_printing(path: object) -> None:
    """The same for files people wrote."""
    source = decode(path.read_bytes(), path.name).source  # type: ignore[attr-defined]
    parsed = parse(source)
    assert parsed.findings == ()
    tree = parsed.tree
    text = print_tree(tree)
    again = parse(Source(source.name, text))
    assert again.tree == tree
    assert print_tree(again.tree) == text


def _kinds() -> list[type[n.Node]]:
    kinds = [k for _, k in inspect.getmembers(n, inspect.isclass) if issubclass(k, n.Node)]
    return [k for k in kinds if k not in (n.Node, n.Broken)]


@pytest.mark.parametrize("kind", _kinds(), ids=lambda kind: kind.__name__)
def test_the_samples_have_every_kind_of_node(kind: type[n.Node]) -> None:
    """No kind goes untested for want of being written once; `Broken` is no kind that is written."""
    trees = [parse(decode(p.read_bytes(), p.name).source).tree for p in (*SAMPLES, SURE, DUE)]
    assert any(isinstance(node, kind) for tree in trees for node in tree.walk())


def test_the_strategies_reach_deep_blocks() -> None:
    """The generator is no flat one: an `otherwise` inside a step is found quickly."""

    def deep(tree: n.File) -> bool:
        return any(isinstance(i, n.Otherwise) for s in tree.walk() if isinstance(s, n.Step) for i in s.walk())

    found = find(
        strategies.procedures,
        deep,
        settings=settings(max_examples=5_000, derandomize=True, deadline=None, phases=[Phase.generate]),
    )
    assert deep(found)
