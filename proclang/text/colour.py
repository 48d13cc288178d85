"""Colour for a stream: whether it gets any, and which by palette. Colour only ever repeats what the words say."""

from __future__ import annotations

from collections.abc import Mapping

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
"""SGR parameters (ECMA-48) by palette and style; the style of plain text is empty."""


PLAIN_AGAIN = "\x1b[0m"
"""Ends every colour."""


def painted(text: str, style: str, palette: str | None) -> str:
    """A text without line ends in the colour of its style; as it is where the palette has none for it, or is None."""
    code = PALETTES[palette].get(style) if palette is not None else None
    return f"\x1b[{code}m{text}{PLAIN_AGAIN}" if code and text else text


def painted_lines(text: str, palette: str | None) -> str:
    """Plain text of any number of lines, each painted by itself so that no colour runs on into what follows."""
    if palette is None or "" not in PALETTES[palette]:
        return text
    return "\n".join(painted(line, "", palette) for line in text.split("\n"))


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


def is_terminal(stream: object) -> bool:
    """Whether a stream of this process is a terminal; one that is closed or missing is none."""
    isatty = getattr(stream, "isatty", None)
    try:
        return isatty is not None and bool(isatty())
    except ValueError:
        return False


def needs_ascii(encoding: str | None) -> bool:
    """Whether a stream of this encoding cannot show the signs this program prints."""
    try:
        "±°→×−·≤≥".encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return True
    return False
