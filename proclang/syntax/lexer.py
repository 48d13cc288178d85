"""What was scanned, as objects: for the passes that look closely at a damaged text.

A sound text is parsed from the lexemes themselves, see `parse`.
"""

from __future__ import annotations

import attrs

from proclang.syntax.scan import scan
from proclang.text.span import Source, Span


class Token:
    """A terminal and where it stands."""

    __slots__ = ("end", "file", "start", "text", "type")

    def __init__(self, kind: str, text: str, file: str, start: int, end: int) -> None:
        self.type = kind
        self.text = text
        self.file = file
        self.start = start
        self.end = end

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


def lex(source: Source) -> Lexed:
    """Cut a source into lines of tokens."""
    name = source.name
    lines, comments = scan(source.text)
    return Lexed(
        tuple(
            Line(indent, start, tuple(Token(kind, text, name, begin, end) for kind, text, begin, end in lexemes))
            for indent, start, lexemes in lines
        ),
        comments_at(source, comments),
    )


def comments_at(source: Source, places: list[tuple[int, int]]) -> tuple[Comment, ...]:
    """The comments that stand at those places."""
    return tuple(Comment(Span(source.name, begin, end), source.text[begin:end]) for begin, end in places)
