"""Text to tokens, one line at a time in one pass. The terminals are those of the grammar file, none is repeated here.

Afterwards every character of the text has been seen: what is no terminal becomes a `STRAY` or `UNCLOSED` token, which
the grammar accepts nowhere, so that the parser reports it where it stands.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

import attrs

from proclang.text.decode import MERGE_MARK
from proclang.text.span import Source, Span


class Token:
    """A terminal and where it stands. Not an attrs class: hundreds of thousands are made, and lark asks for `type`."""

    __slots__ = ("end", "file", "start", "text", "type", "value")

    def __init__(self, kind: str, text: str, file: str, start: int, end: int) -> None:
        self.type = kind
        self.text = text
        self.file = file
        self.start = start
        self.end = end
        self.value: object = None  # a quoted text with inserts, already read

    @property
    def span(self) -> Span:
        """Where the token stands."""
        return Span(self.file, self.start, self.end)

    def __repr__(self) -> str:
        return f"Token({self.type}, {self.text!r}, {self.start})"


@attrs.frozen
class Comment:
    """`# ...` and where it stands; kept beside the tree."""

    span: Span
    text: str


@attrs.frozen
class Line:
    """A line that says something: the blanks (or tabs) it begins with, and its tokens, `_NL` last."""

    indent: str
    start: int
    tokens: tuple[Token, ...]


@attrs.frozen
class Lexed:
    """All lines that say something, and all comments, in order."""

    lines: tuple[Line, ...]
    comments: tuple[Comment, ...]


@cache
def _machinery() -> tuple[re.Pattern[str], dict[str, str]]:
    """One pattern for all terminals, and the words that are keywords."""
    from proclang.syntax.grammar import tables

    keywords: dict[str, str] = {}
    patterns: list[tuple[int, int, str, str]] = []
    name = next(t for t in tables().terminals if t.name == "NAME").pattern.to_regexp()
    for terminal in tables().terminals:
        if terminal.name in ("NAME", "_NL", "BLANK") or terminal.pattern is None:
            continue
        value = terminal.pattern.value
        if terminal.pattern.type == "str" and re.fullmatch(name, value):
            keywords[value] = terminal.name
        else:
            patterns.append((-terminal.priority, -len(value), terminal.name, terminal.pattern.to_regexp()))
    patterns.sort()
    parts = [f"(?P<{n}>{p})" for *_, n, p in patterns]
    parts.append(f"(?P<NAME>{name})")
    # The newline takes the comment before it, blank and comment lines after it, and the next line's indentation.
    parts.insert(0, rf"(?P<_NL>(?:[ \t]*(?:#[^\n]*)?\n{_MARKS})+[ \t]*)")
    parts.append(r"(?P<BLANK>[ \t]+)")
    parts.append(r'(?P<UNCLOSED>"[^\n]*)')
    parts.append(r"(?P<STRAY>.)")
    return re.compile("|".join(parts)), keywords


# Lines a merge left behind are reported by `decode` and say nothing here, as if they were comments.
_MARKS = rf"(?:{MERGE_MARK}\n)*"
_LEAD = re.compile(rf"{_MARKS}(?:[ \t]*(?:#[^\n]*)?\n{_MARKS})*[ \t]*")
_COMMENT_OR_MARK = re.compile(rf"#[^\n]*|^{MERGE_MARK}$", re.MULTILINE)


def _comments(source: Source, begin: int, end: int) -> Iterator[Comment]:
    """The comments among lines that say nothing."""
    for match in _COMMENT_OR_MARK.finditer(source.text, begin, end):
        if match.group().startswith("#"):
            yield Comment(Span(source.name, match.start(), match.end()), match.group())


def lex(source: Source) -> Lexed:
    """Cut a source into lines of tokens."""
    pattern, keywords = _machinery()
    text, name = source.text, source.name
    lines: list[Line] = []
    comments: list[Comment] = []
    tokens: list[Token] = []
    if not text.endswith("\n"):
        text += "\n"  # `decode` has done so; a source made by hand may lack it
    lead = _LEAD.match(text)
    at = lead.end() if lead else 0
    comments.extend(_comments(source, 0, at))
    start = text.rfind("\n", 0, at) + 1
    indent = text[start:at]
    for match in pattern.finditer(text, at):
        kind = match.lastgroup
        if kind == "NAME":
            word = match.group()
            tokens.append(Token(keywords.get(word, "NAME"), word, name, match.start(), match.end()))
        elif kind == "_NL":
            begin, end = match.span()
            tokens.append(Token("_NL", "\n", name, begin, begin + 1))
            lines.append(Line(indent, start, tuple(tokens)))
            tokens = []
            chunk = match.group()
            if "#" in chunk:
                comments.extend(_comments(source, begin, end))
            cut = chunk.rfind("\n") + 1
            indent, start = chunk[cut:], begin + cut
        elif kind != "BLANK":
            tokens.append(Token(kind or "STRAY", match.group(), name, match.start(), match.end()))
    return Lexed(tuple(lines), tuple(comments))


def lex_piece(text: str, name: str, offset: int) -> list[Token]:
    """Tokens of a piece of one line, placed as if it stood at `offset`."""
    pattern, keywords = _machinery()
    return [
        Token(
            keywords.get(m.group(), "NAME") if m.lastgroup == "NAME" else m.lastgroup or "STRAY",
            m.group(),
            name,
            m.start() + offset,
            m.end() + offset,
        )
        for m in pattern.finditer(text)
        if m.lastgroup != "BLANK"
    ]
