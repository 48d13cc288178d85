"""How lines look on a terminal: fragments with a style, colour or none, signs or their ASCII forms, and the width.

A style only ever repeats what the words say: with every colour taken off, the same facts remain.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import attrs

from proclang.text.printable import ascii_form, printable

Fragment = tuple[str, str]
"""A style and a piece of text. Styles: `heading`, `danger`, `warning`, `caution`, `notice`, `passes`, `fails`,
`undecided`, `refused`, `prompt`, `quiet`; empty for plain text."""

Line = tuple[Fragment, ...]

NARROWEST, WIDEST, USUAL = 20, 100, 80
"""Columns: below the first the terminal may break lines as it likes, beyond the second nobody can read them."""

PALETTES: Mapping[str, Mapping[str, str]] = {
    "normal": {
        "heading": "1",
        "danger": "1;31",
        "warning": "1;33",
        "caution": "33",
        "notice": "36",
        "passes": "32",
        "fails": "1;31",
        "undecided": "1;33",
        "refused": "33",
        "prompt": "1",
    },
    "mono": {
        "heading": "1",
        "danger": "1",
        "warning": "1",
        "fails": "1",
        "undecided": "1",
        "prompt": "1",
    },
    # Red light keeps eyes adapted to the dark. Bold is left out: many terminals brighten it to white or pink.
    "night": dict.fromkeys(
        (
            "",
            "heading",
            "danger",
            "warning",
            "caution",
            "notice",
            "passes",
            "fails",
            "undecided",
            "refused",
            "prompt",
            "quiet",
        ),
        "31",
    ),
}
"""SGR parameters (ECMA-48) by palette and style."""


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
        codes = PALETTES[self.palette]
        return "".join(
            f"\x1b[{codes[style]}m{text}\x1b[0m" if codes.get(style) and text else text for style, text in line
        )


def plain_text(lines: Iterable[Line]) -> str:
    """Lines as bare text, each with its newline."""
    return "".join("".join(text for _, text in line) + "\n" for line in lines)


def columns(text: str) -> int:
    """Columns a printable text takes (Unicode East Asian Width, by wcwidth)."""
    if text.isascii():
        return len(text)
    from wcwidth import wcswidth

    return max(wcswidth(text), 0)


def wrap(text: str, width: int, first: str = "", later: str = "") -> list[str]:
    """A text broken at blanks into lines of at most `width` columns, which begin with `first` and then `later`.

    A word longer than a line is broken anywhere. Runs of blanks become one; there is always at least one line.
    """
    lines: list[str] = []
    lead, line, used = first, "", columns(first)
    empty = True
    for word in text.split():
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


def wants_colour(flag: str, terminal: bool, environment: Mapping[str, str]) -> bool:
    """Whether a stream is coloured: the flag, then NO_COLOR, FORCE_COLOR or CLICOLOR_FORCE, a dumb TERM, a terminal."""
    if flag != "auto":
        return flag == "always"
    if environment.get("NO_COLOR"):
        return False
    if any(environment.get(name, "0") not in ("", "0") for name in ("FORCE_COLOR", "CLICOLOR_FORCE")):
        return True
    return terminal and not is_simple(environment)


def is_simple(environment: Mapping[str, str]) -> bool:
    """Whether TERM names a terminal that can only print lines, or none."""
    return environment.get("TERM", "") in ("", "dumb", "unknown")


def needs_ascii(encoding: str | None) -> bool:
    """Whether a stream of this encoding cannot show the signs this program prints."""
    try:
        "±°→×−·≤≥".encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return True
    return False


def fit_width(columns_reported: int) -> int:
    """The columns to wrap to."""
    return min(max(columns_reported, NARROWEST), WIDEST)
