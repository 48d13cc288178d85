"""The project's own scanner and shift-reduce loop against lark's parser, a general library, on the same grammar.

Both are given every sample and every shipped procedure. Lark drives its own parser from its own tables and builds its
own tree; the builders are then called on that tree by lark's transformer. The nodes must be equal, places included.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import attrs
import pytest
from lark import Token as LarkToken
from lark import Tree

from proclang.syntax import nodes as n
from proclang.syntax.build import BUILDERS, LEAVES
from proclang.syntax.grammar import tables
from proclang.syntax.layout import lay_out
from proclang.syntax.parse import parse
from proclang.syntax.scan import scan
from proclang.text.decode import decode
from proclang.text.span import Span

HERE = Path(__file__).parent
FILES = sorted([*(HERE / "samples").glob("*.proc"), *(HERE.parents[1] / "procedures").rglob("*.proc")])


def place_of(children: list[Any], name: str) -> Span:
    """From the first child that stands anywhere to the end of the last, as lark keeps them."""
    places = [place for child in children for place in places_of(child, name)]
    return Span(name, min(p.start for p in places), max(p.end for p in places))


def places_of(child: Any, name: str) -> list[Span]:
    if isinstance(child, LarkToken):
        return [Span(name, child.start_pos or 0, child.end_pos or 0)]
    if isinstance(child, Tree):
        return [place_of(child.children, name)]
    return []


def built(tree: Any, name: str) -> Any:
    """The builders called on a tree of lark's."""
    if isinstance(tree, LarkToken):
        leaf = LEAVES.get(tree.type)
        return str(tree) if leaf is None else leaf(str(tree), name, tree.start_pos or 0, tree.end_pos or 0, [])
    if not isinstance(tree, Tree):
        return tree
    build: Callable[..., Any] = BUILDERS[tree.data]
    return build(place_of(tree.children, name), *(built(child, name) for child in tree.children))


def same_places(a: Any, b: Any) -> bool:
    if isinstance(a, n.Node):
        fields = attrs.fields(type(a))
        return a.span == b.span and all(same_places(getattr(a, f.name), getattr(b, f.name)) for f in fields)
    if isinstance(a, tuple) and not isinstance(a, str):
        return len(a) == len(b) and all(map(same_places, a, b))
    return True


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_the_tree_is_the_one_lark_makes(path: Path) -> None:
    source = decode(path.read_bytes(), path.name).source
    lexemes = lay_out(scan(source.text)[0])
    parsed = parse(source).tree
    parser = tables().parse_interactive(start="file")
    if parsed.broken or lexemes is None:
        pytest.skip("a damaged file, which lark refuses")
    *said, _ = lexemes
    for kind, text, begin, end in said:
        parser.feed_token(LarkToken(kind, text, start_pos=begin, end_pos=end))
    theirs = built(parser.feed_eof(), path.name)
    assert theirs == parsed
    assert same_places(theirs, parsed)


def test_lark_is_given_files_worth_comparing() -> None:
    """A skip of every file would be a green test of nothing."""
    sound = [path for path in FILES if not parse(decode(path.read_bytes(), path.name).source).tree.broken]
    assert len(sound) > 30


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_the_terminals_are_those_lark_finds_where_they_stand(path: Path) -> None:
    """Each lexeme, matched anew by the pattern the grammar gives its terminal, is that text and no longer; a name is no
    word of the language."""
    import re

    patterns = {t.name: t.pattern.to_regexp() for t in tables().terminals if t.pattern is not None}
    words = {t.pattern.value for t in tables().terminals if t.pattern.type == "str"}
    source = decode(path.read_bytes(), path.name).source
    for _, _, lexemes in scan(source.text)[0]:
        for kind, text, begin, end in lexemes:
            assert kind == "_NL" or source.text[begin:end] == text
            if kind in patterns and kind != "_NL":
                found = re.compile(patterns[kind]).match(source.text, begin)
                assert found is not None
                assert found.group() == text
            if kind == "NAME":
                assert text not in words
