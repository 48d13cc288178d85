"""The grammar file is sound by itself: no conflicts, no hidden or useless parts, a word for everything."""

from __future__ import annotations

import pytest
from lark import Lark

from proclang.syntax.grammar import NoLayout, grammar_text, tables
from proclang.syntax.words import TERMINAL_WORDS, in_words

# Their pattern is written for the lexer of this project, which puts keywords before names by itself.
START = ["file", "insert"]


@pytest.fixture(scope="module")
def lark() -> Lark:
    return Lark(grammar_text(), parser="lalr", lexer="basic", start=START, postlex=NoLayout(), strict=True)


def test_the_grammar_is_lalr_and_its_terminals_do_not_collide(lark: Lark) -> None:
    """`strict` refuses shift/reduce conflicts, and terminals that could take the same text at the same priority."""
    assert lark.rules


def test_every_terminal_is_named(lark: Lark) -> None:
    """A terminal lark had to invent a name for would show that name in a message."""
    assert [t.name for t in lark.terminals if t.name.startswith("__") or "ANON" in t.name] == []


def test_every_terminal_has_words() -> None:
    """`expected ...` is said in words people write: no terminal's own name gets into a message."""
    for terminal in [t.name for t in tables().terminals] + ["_INDENT", "_DEDENT", "BROKEN", "$END"]:
        said = in_words(terminal)
        assert said
        assert "_" not in said.strip("`")
        assert said == said.lower() or terminal in ("PLUS_MINUS",)


def test_words_of_keywords_are_what_is_written() -> None:
    """A keyword without an entry of its own is shown as its text, and entries are for terminals there are."""
    terminals = {t.name: t for t in tables().terminals}
    for name, terminal in terminals.items():
        if name not in TERMINAL_WORDS and terminal.pattern.type == "str":
            assert in_words(name) == f"`{terminal.pattern.value}`"
    assert set(TERMINAL_WORDS) <= {*terminals, "_INDENT", "_DEDENT", "BROKEN", "$END"}


def test_every_rule_is_reachable(lark: Lark) -> None:
    """A rule that no text can use would be a promise not kept."""
    expansions: dict[str, set[str]] = {}
    for rule in lark.rules:
        names = {s.name for s in rule.expansion if not s.is_term}
        expansions.setdefault(rule.origin.name, set()).update(names)
    reached, waiting = set(), list(START)
    while waiting:
        name = waiting.pop()
        if name not in reached:
            reached.add(name)
            waiting.extend(expansions[name])
    assert {name for name in expansions if not name.startswith("$")} == reached


def test_character_classes_are_ascii() -> None:
    r"""`\d` and `\w` take digits and letters of every script, which look like ours and are not."""
    for line in grammar_text().splitlines():
        code = line.split("//")[0] if not line.startswith(("STRING", "NUMBER", "IN_UNIT")) else line
        assert "\\d" not in code
        assert "\\w" not in code
