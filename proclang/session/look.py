"""How lines look on a terminal: fragments with a style, colour or none, signs or their ASCII forms, and the width.

A style only ever repeats what the words say: with every colour taken off, the same facts remain.
"""

from __future__ import annotations

from collections.abc import Iterable

import attrs

from proclang.text.colour import painted
from proclang.text.printable import ascii_form, printable

Fragment = tuple[str, str]
"""A style and a piece of text. Styles: `heading`, `danger`, `warning`, `caution`, `notice`, `passes`, `fails`,
`undecided`, `refused`, `prompt`, `quiet`; empty for plain text."""

Line = tuple[Fragment, ...]

NARROWEST, WIDEST, USUAL = 20, 100, 80
"""Columns: below the first the terminal may break lines as it likes, beyond the second nobody can read them."""


@attrs.frozen
class Look:
    """How to show: columns, ASCII only or not, and the palette, None for no colour at all."""

    width: int = USUAL
    ascii: bool = False
    palette: str | None = None

    def shown(self, text: str) -> str:
        """Text from anybody, safe to show here."""
        text = printable(text)
        if not self.ascii or text.isascii():
            return text
        return "".join(c if c.isascii() else f"\\u{{{ord(c):x}}}" for c in ascii_form(text))

    def drawn(self, line: Line) -> str:
        """A line as it goes to the terminal, without its newline."""
        if self.palette is None:
            return "".join(text for _, text in line)
        return "".join(painted(text, style, self.palette) for style, text in line)


def plain_text(lines: Iterable[Line]) -> str:
    """Lines as bare text, each with its newline."""
    return "".join("".join(text for _, text in line) + "\n" for line in lines)


_ONE_COLUMN = dict.fromkeys(map(ord, "±°µ²³·×Ω"), "x")
"""The trade's own signs, one column each: no tables are loaded for them."""


def columns(text: str) -> int:
    """Columns a printable text takes (Unicode East Asian Width, by wcwidth)."""
    if text.isascii() or text.translate(_ONE_COLUMN).isascii():
        return len(text)
    from wcwidth import wcswidth

    return max(wcswidth(text), 0)


def wrap(text: str, width: int, first: str = "", later: str = "") -> list[str]:
    """A text broken at blanks into lines of at most `width` columns, which begin with `first` and then `later`.

    A word longer than a line is broken anywhere, and so is no other: what stands between backticks is to be typed, and
    counts as one. Runs of blanks become one; there is always at least one line.
    """
    lines: list[str] = []
    lead, line, used = first, "", columns(first)
    empty = True
    for word in _unbroken(text):
        need = columns(word)
        if not empty and used + 1 + need <= width:
            line, used = f"{line} {word}", used + 1 + need
            continue
        if not empty:
            lines.append(lead + line)
            lead, line, used, empty = later, "", columns(later), True
        pieces = [word] if used + need <= width else _broken(word, max(1, width - used), max(1, width - columns(later)))
        for piece in pieces[:-1]:
            lines.append(lead + piece)
            lead = later
        line = pieces[-1]
        used, empty = columns(lead) + columns(line), False
    lines.append((lead + line).rstrip())
    return lines


def _unbroken(text: str) -> list[str]:
    """What is not broken where it fits into a line."""
    words = text.split()
    if "`" not in text:
        return words
    joined: list[str] = []
    is_open = False
    for word in words:
        if is_open:
            joined[-1] += f" {word}"
        else:
            joined.append(word)
        is_open ^= word.count("`") % 2 == 1
    return joined


def _broken(word: str, room: int, later_room: int) -> list[str]:
    pieces, piece, used = [], "", 0
    for char in word:
        need = columns(char)
        if piece and used + need > room:
            slash = piece.rfind("/") + 1  # an address is read more easily from the beginning of a name
            cut = slash if slash > len(piece) // 2 else len(piece)
            pieces.append(piece[:cut])
            piece = piece[cut:]
            used, room = columns(piece), later_room
        piece, used = piece + char, used + need
    return [*pieces, piece]


def fit_width(columns_reported: int) -> int:
    """The columns to wrap to."""
    return min(max(columns_reported, NARROWEST), WIDEST)
