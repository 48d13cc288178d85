"""Quoted texts: plain pieces and the inserts in braces, each read with the same grammar as the rest."""

from __future__ import annotations

import re

from proclang.syntax import nodes as n
from proclang.syntax.driver import drive
from proclang.syntax.scan import scan_piece
from proclang.text.diagnostic import Diagnostic
from proclang.text.limits import EXPRESSION_DEPTH
from proclang.text.span import Span

PIECES = re.compile(r"\\(?P<escaped>.)|\{(?P<insert>[^{}]*)\}|(?P<stray>[{}])|(?P<plain>[^\\{}]+)")
_ESCAPES = '"\\{}'


def read_text(quoted: str, file: str, begin: int) -> tuple[n.Text, list[Diagnostic]]:
    """A text in its quotes, which stands at `begin`, as a `Text`, and what is wrong inside it.

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

    offset = begin + 1
    for match in PIECES.finditer(quoted[1:-1]):
        place = Span(file, match.start() + offset, match.end() + offset)
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
            node = _read_insert(insert, file, place.start + 1)
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
    return n.Text(tuple(pieces), span=Span(file, begin, begin + len(quoted))), findings


def _read_insert(text: str, file: str, offset: int) -> n.Insert | None:
    lexemes = scan_piece(text, offset)
    if len(lexemes) > EXPRESSION_DEPTH:
        return None  # nobody reads a sum as long as that in a sentence, and no walk of the tree runs out of stack
    end = offset + len(text)
    result = drive([*lexemes, ("$END", "", end, end)], file, "insert", [])
    assert result is None or isinstance(result, n.Insert)
    return result
