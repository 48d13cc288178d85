"""Quoted texts: plain pieces and the inserts in braces, each read with the same grammar as the rest."""

from __future__ import annotations

import re

from proclang.syntax import nodes as n
from proclang.syntax.lexer import Token, lex_piece
from proclang.text.diagnostic import Diagnostic
from proclang.text.span import Span

_PIECES = re.compile(r"\\(?P<escaped>.)|\{(?P<insert>[^{}]*)\}|(?P<stray>[{}])|(?P<plain>[^\\{}]+)")
_ESCAPES = '"\\{}'


def read_text(token: Token) -> tuple[n.Text, list[Diagnostic]]:
    """A STRING token as a `Text`, and what is wrong inside it.

    Codes: `insert` for braces that hold no value or are not closed, `escape` for a backslash before anything but a
    quote, a brace or a backslash.
    """
    pieces: list[str | n.Insert] = []
    findings: list[Diagnostic] = []

    def plain(text: str) -> None:
        if pieces and isinstance(pieces[-1], str):
            pieces[-1] += text
        else:
            pieces.append(text)

    offset = token.start + 1
    for match in _PIECES.finditer(token.text[1:-1]):
        place = Span(token.file, match.start() + offset, match.end() + offset)
        escaped, insert = match.group("escaped"), match.group("insert")
        if escaped is not None:
            if escaped not in _ESCAPES:
                findings.append(
                    Diagnostic(
                        "escape", f"`\\{escaped}` is not an escape", place, hint=r"write `\"`, `\{`, `\}` or `\\`"
                    )
                )
            plain(escaped)
        elif insert is not None:
            node = _read_insert(insert, token.file, place.start + 1)
            if node is None:
                findings.append(
                    Diagnostic(
                        "insert",
                        f"`{{{insert}}}` inserts nothing that can be read",
                        place,
                        hint="write `{name}`, `{name to 0.1 mm}`, `{name to 0.1 deg, signed}` or "
                        r"`{name to 0.05 turn, raise or lower}`; a brace as such is `\{`",
                    )
                )
            else:
                pieces.append(node)
        elif match.group("stray"):
            findings.append(
                Diagnostic(
                    "insert", f"this `{match.group()}` has no partner", place, hint=r"a brace as such is `\{` or `\}`"
                )
            )
        else:
            plain(match.group())
    return n.Text(tuple(pieces), span=token.span), findings


def _read_insert(text: str, file: str, offset: int) -> n.Insert | None:
    from lark.exceptions import UnexpectedInput

    from proclang.syntax.grammar import tables

    parser = tables().parse_interactive(start="insert")
    try:
        for token in lex_piece(text, file, offset):
            parser.feed_token(token)  # type: ignore[arg-type]
        result = parser.feed_token(Token("$END", "", file, offset + len(text), offset + len(text)))  # type: ignore[arg-type]
    except UnexpectedInput:
        return None
    assert isinstance(result, n.Insert)
    return result
