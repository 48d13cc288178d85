"""Text to lexemes, by one pattern over the whole of it. The terminals are those of the grammar, none is repeated here.

Afterwards every character of the text has been seen: what is no terminal becomes a `STRAY` or `UNCLOSED` lexeme, which
the grammar accepts nowhere, so that the parser reports it where it stands.
"""

from __future__ import annotations

import re
from functools import cache

from proclang.syntax.grammar import automaton
from proclang.text.decode import MERGE_MARK

Lexeme = tuple[str, str, int, int]
"""A terminal: its kind, how it is written, and the characters it takes up. A plain tuple: many thousands are made."""

ScannedLine = tuple[str, int, list[Lexeme]]
"""A line that says something: the blanks (or tabs) it begins with, where they begin, and its lexemes, `_NL` last."""

# Lines a merge left behind are reported by `decode` and say nothing here, as if they were comments.
_MARKS = rf"(?:{MERGE_MARK}\n)*"
_LEAD = re.compile(rf"{_MARKS}(?:[ \t]*(?:#[^\n]*)?\n{_MARKS})*+[ \t]*")
_COMMENT_OR_MARK = re.compile(rf"#[^\n]*|^{MERGE_MARK}$", re.MULTILINE)
_NEWLINE, _JOINED = 1, 2


@cache
def _machinery() -> tuple[re.Pattern[str], dict[str, str], tuple[str, ...]]:
    """One pattern for all terminals, the kinds of those always written alike, and the kind of each group."""
    tables = automaton()
    lettered = [each for each in tables.patterns if each[1][0].isalpha()]
    others = [each for each in tables.patterns if each not in lettered]
    groups = [
        # The newline takes the comment before it, blank and comment lines after it, and the next line's indentation.
        # Possessive: nothing is ever given back, so a million blank lines need not be remembered one by one.
        ("_NL", rf"(?:#[^\n]*)?\n{_MARKS}(?:[ \t]*(?:#[^\n]*)?\n{_MARKS})*+[ \t]*"),
        ("", rf"(?:{'|'.join(tables.joined)})\b"),
        *lettered,
        ("NAME", tables.name),
        *others,
        ("UNCLOSED", r'"[^\n]*'),
        ("STRAY", "."),
    ]
    pattern = "|".join(f"({text})" for _, text in groups)
    return re.compile(f"[ \t]*(?:{pattern})"), tables.words, ("", *(kind for kind, _ in groups))


def scan(text: str) -> tuple[list[ScannedLine], list[tuple[int, int]]]:
    """The lines of a text that say something, and where its comments stand."""
    pattern, words, kinds = _machinery()
    if not text.endswith("\n"):
        text += "\n"  # `decode` has done so; a source made by hand may lack it
    lines: list[ScannedLine] = []
    lexemes: list[Lexeme] = []
    lead = _LEAD.match(text)
    at = lead.end() if lead else 0
    comments = _comments(text, 0, at)
    start = text.rfind("\n", 0, at) + 1
    indent = text[start:at]
    name = kinds.index("NAME")
    for match in pattern.finditer(text, at):
        group = match.lastindex or 0
        if group == name:
            word = match[group]
            begin, end = match.span(group)
            lexemes.append((words.get(word, "NAME"), word, begin, end))
        elif group == _NEWLINE:
            begin, end = match.span()
            lexemes.append(("_NL", "\n", begin, begin + 1))
            lines.append((indent, start, lexemes))
            lexemes = []
            start = text.rfind("\n", begin, end) + 1
            indent = text[start:end]
            if end - begin > 1 and "#" in match[group]:
                comments += _comments(text, begin, end)
        else:
            word = match[group]
            begin, end = match.span(group)
            lexemes.append((kinds[group] or words[" ".join(word.split())], word, begin, end))
    return lines, comments


def scan_piece(text: str, offset: int) -> list[Lexeme]:
    """Lexemes of a piece of one line, placed as if it stood at `offset`."""
    pattern, words, kinds = _machinery()
    found: list[Lexeme] = []
    for match in pattern.finditer(text):
        group = match.lastindex or 0
        word = match[group]
        kind = kinds[group]
        if kind in ("", "NAME"):
            kind = words.get(" ".join(word.split()), kind)
        found.append((kind, word, match.start(group) + offset, match.end(group) + offset))
    return found


def _comments(text: str, begin: int, end: int) -> list[tuple[int, int]]:
    """Where the comments stand among lines that say nothing."""
    return [match.span() for match in _COMMENT_OR_MARK.finditer(text, begin, end) if match.group().startswith("#")]
