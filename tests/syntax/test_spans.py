"""Where every node, token and comment stands."""

from __future__ import annotations

from pathlib import Path

import pytest
from line_faults import PROCEDURES, SAMPLES, spoil

from proclang.syntax import nodes as n
from proclang.syntax.lexer import lex
from proclang.syntax.parse import parse
from proclang.text.decode import decode
from proclang.text.span import Source

FILES = SAMPLES + PROCEDURES


def check_spans(tree: n.File, source: Source) -> None:
    """Each slice is non-empty and inside that of the node above."""
    for node in tree.walk():
        assert source.text[node.span.start : node.span.end].strip(), node
        for child in node.children():
            assert node.span.start <= child.span.start, (node, child)
            assert child.span.end <= node.span.end, (node, child)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_a_node_covers_its_children(path: Path) -> None:
    """So that a finding about any node can be shown."""
    source = decode(path.read_bytes(), path.name).source
    tree = parse(source).tree
    check_spans(tree, source)
    for node in tree.walk():
        said = source.text[node.span.start : node.span.end]
        if isinstance(node, n.Name):
            assert said.removeprefix("formerly ") == node.text
        elif isinstance(node, n.Unit):
            assert said == node.text
        elif isinstance(node, n.Number):
            assert said.replace(" ", "").lstrip("-−") == node.typed.replace(" ", "").lstrip("-")
        elif isinstance(node, n.Text):
            assert said[0] == said[-1] == '"'


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_every_character_is_in_a_token_a_comment_or_blank(path: Path) -> None:
    """The lexer passes over nothing; comments are kept, with the place they stand."""
    source = decode(path.read_bytes(), path.name).source
    for text in (source.text, spoil(path, 3)[0]):
        covered = Source(path.name, text if text.endswith("\n") else text + "\n")
        lexed = lex(covered)
        seen = bytearray(len(covered.text))
        pieces = [t.span for line in lexed.lines for t in line.tokens if t.type != "_NL"]
        for span in pieces + [c.span for c in lexed.comments]:
            assert not any(seen[span.start : span.end]), "two tokens share a character"
            seen[span.start : span.end] = b"\x01" * (span.end - span.start)
        left = "".join(c for c, hit in zip(covered.text, seen, strict=True) if not hit)
        assert left.strip() == ""
        for comment in lexed.comments:
            assert covered.text[comment.span.start : comment.span.end] == comment.text
            assert comment.text.startswith("#")


def test_a_hash_inside_a_text_is_no_comment() -> None:
    """And a comment ends where its line does."""
    lexed = lex(Source("a", '# one\n"a # b" # two "x"\n\n  # three'))
    assert [c.text for c in lexed.comments] == ["# one", '# two "x"', "# three"]
    assert [t.type for line in lexed.lines for t in line.tokens] == ["STRING", "_NL"]
