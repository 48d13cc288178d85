"""An instant is one word of the language, `2026-11-25T14:30:00Z` (ISO 8601-1), wherever a number may stand."""

from __future__ import annotations

import re

import pytest
from lark import Token as LarkToken
from test_lark_agrees import built, same_places

from proclang.syntax.grammar import tables
from proclang.syntax.layout import lay_out
from proclang.syntax.parse import parse
from proclang.syntax.printer import print_tree
from proclang.syntax.scan import scan, scan_piece
from proclang.text.span import Source

POUR = """\
proclang 1
procedure pour "Pour (invented)"
revision 1

inputs
  began: instant = 2026-11-25T08:00Z
    within 2026-11-25T00:00Z .. 2026-11-26T00:00Z

table shifts of start, length
  early 2026-11-25T08:00Z, 8 h
  late 2026-11-25T16:00:30.5Z, 2 h 30 min

section pouring "Pour"
  step look "Look."
    measure poured in UTC
      within 2026-11-25T14:30:00Z ± 5 min
      at least 2026-11-25T14:00Z
  compute waited = poured-2026-11-25T08:00Z
  compute later = later_of(2026-11-25T08:00Z, b = 2026-11-25T09:00Z) + 2 h
"""


@pytest.mark.parametrize(
    "text",
    [
        "2026-11-25T14:30:00Z",
        "2026-11-25T14:30Z",
        "2026-11-25T14:30",
        "2026-11-25T14:30:05.5Z",
        "2026-11-25T14:30:05 UTC",
        "2026-11-25T14:30+02:00",
        "2026-11-25T14:30CET",
        "2026-13-99T99:99Z",
    ],
)
def test_an_instant_is_one_word_with_whatever_zone(text: str) -> None:
    """What is not one is refused where it is read, with a hint, and not by the grammar."""
    assert [(kind, word) for kind, word, _, _ in scan_piece(text, 0)] == [("NUMBER", text)]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2026-11-25", ["2026", "-", "11", "-", "25"]),
        ("2026-11-25T14:30Z..2026-11-25T15:30Z", ["2026-11-25T14:30Z", "..", "2026-11-25T15:30Z"]),
        ("2026-11-25T14:30Z+2 h", ["2026-11-25T14:30Z", "+", "2 h"]),
        ("2026-11-25T14:30Z - 2 h", ["2026-11-25T14:30Z", "-", "2 h"]),
        ("5 mm 2026-11-25T14:30Z", ["5 mm", "2026-11-25T14:30Z"]),
    ],
)
def test_what_stands_beside_an_instant_is_not_swallowed(text: str, words: list[str]) -> None:
    assert [word for _, word, _, _ in scan_piece(text, 0)] == words


def test_lark_reads_instants_as_the_scanner_does() -> None:
    """Lark, a general library, on the same grammar: the same nodes at the same places."""
    source = Source("pour.proc", POUR)
    parsed = parse(source)
    assert not parsed.findings
    lexemes = lay_out(scan(POUR)[0])
    assert lexemes is not None
    parser = tables().parse_interactive(start="file")
    pattern = re.compile(next(t.pattern.to_regexp() for t in tables().terminals if t.name == "NUMBER"))
    for kind, text, begin, end in lexemes[:-1]:
        parser.feed_token(LarkToken(kind, text, start_pos=begin, end_pos=end))
        if kind == "NUMBER":
            found = pattern.match(POUR, begin)
            assert found is not None
            assert found.group() == text
    theirs = built(parser.feed_eof(), "pour.proc")
    assert theirs == parsed.tree
    assert same_places(theirs, parsed.tree)


def test_a_tree_with_instants_is_printed_as_they_stood() -> None:
    parsed = parse(Source("pour.proc", POUR))
    assert not parsed.findings
    printed = print_tree(parsed.tree)
    assert [line for line in POUR.splitlines() if "2026" in line and "-2026" not in line] == [
        line for line in printed.splitlines() if "2026" in line and "- 2026" not in line
    ]
    assert parse(Source("pour.proc", printed)).tree == parsed.tree
