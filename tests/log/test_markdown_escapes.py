"""Text is only ever text: what stands in a log is read back, by a CommonMark reader that is not ours, as what it was.

Outside check: markdown-it-py, with tables and struck text on; its rules are those of CommonMark 0.31.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from markdown_it.token import Token

from proclang.log.markdown import NONE_TYPED, Md, code, heading, inline, leading, told
from proclang.text.printable import printable

READER = MarkdownIt("commonmark").enable(["table", "strikethrough"])

ANY_TEXT = st.text(
    st.one_of(st.characters(), st.sampled_from(list("`*_[]()<>#&!|\\~$:@ -+=.1 \t\n"))), min_size=1, max_size=40
)


def pieces(source: str) -> list[Token]:
    """The inline tokens of the one paragraph, heading or list item there must be."""
    inlines = [t for t in READER.parse(source) if t.type == "inline"]
    assert len(inlines) == 1, source
    return inlines[0].children or []


def said(tokens: list[Token]) -> str:
    assert all(t.type in ("text", "code_inline") for t in tokens), tokens
    return "".join(t.content for t in tokens)


@given(ANY_TEXT)
def test_a_code_span_holds_exactly_the_printable_text(text: str) -> None:
    tokens = pieces(f"- said {code(text)}; after")
    assert [t.type for t in tokens] == ["text", "code_inline", "text"]
    assert tokens[1].content == printable(text)


@given(ANY_TEXT)
def test_a_sentence_stays_one_piece_of_text(text: str) -> None:
    assert said(pieces(f"- x {inline(text)} x")) == f"x {printable(text)} x"


@given(ANY_TEXT)
def test_a_sentence_at_the_start_of_a_line_begins_no_block(text: str) -> None:
    tokens = READER.parse(f"- first\n  - {leading(text)} x\n- last\n")
    kinds = [t.type for t in tokens if t.nesting == 1 or t.type == "inline"]
    expected = [t.type for t in READER.parse("- first\n  - a x\n- last\n") if t.nesting == 1 or t.type == "inline"]
    assert kinds == expected
    inner = [t for t in tokens if t.type == "inline"][1]
    assert said(inner.children or []) == f"{printable(text)} x"


@given(ANY_TEXT.filter(lambda text: text.strip() == text))
def test_a_heading_keeps_its_text_and_level(text: str) -> None:
    tokens = READER.parse(f"## {heading(text)}\n")
    assert [t.type for t in tokens] == ["heading_open", "inline", "heading_close"]
    assert tokens[0].tag == "h2"
    assert said(tokens[1].children or []) == printable(text)


@given(ANY_TEXT, ANY_TEXT)
def test_names_in_a_sentence_of_the_program_are_code_and_the_rest_is_not(name: str, rest: str) -> None:
    name, rest = name.replace("`", ""), rest.replace("`", "")
    tokens = pieces(f"- x {told(f'{rest}`{name}`{rest}')} x")
    expected = f"x {printable(rest)}{printable(name)}{printable(rest)} x"
    assert said(tokens) == expected if name else f"x {printable(rest)}``{printable(rest)} x"


def test_an_empty_text_is_said_to_be_nothing() -> None:
    # Two backticks with nothing between them would open a code span that ends somewhere later.
    assert code("") == NONE_TYPED
    assert inline("") == Md("")


@pytest.mark.parametrize("text", ["N.m", "Read the plate both ways.", "18 to 22 N.m", "12-3 ± 4 °"])
def test_plain_text_is_left_alone(text: str) -> None:
    assert inline(text) == text
    assert code(text) == f"`{text}`"


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("www.example", "www\\.example"),
        ("http://example", "http\\://example"),
        ("a@example", "a\\@example"),
        ("WWW.example", "WWW\\.example"),
    ],
)
def test_bare_addresses_are_broken_for_readers_that_would_link_them(text: str, shown: str) -> None:
    # Autolinks of GitHub Flavored Markdown 0.29, section 6.9: from memory; the reader above does not know them.
    assert inline(text) == shown
