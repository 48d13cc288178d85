"""Text from anyone, made safe to show: no character may move the cursor, hide itself or reorder its neighbours."""

from __future__ import annotations

import re

# Controls (C0, DEL, C1), soft hyphen, Arabic letter mark, Mongolian separator, zero-width and bidi marks,
# line and paragraph separators, word joiner and invisible operators, byte-order mark, interlinear marks,
# variation selectors supplement and tags, lone surrogates, noncharacters at the end of the BMP.
HIDDEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b-\u200f\u2028-\u202e"
    "\u2060-\u206f\u3164\ud800-\udfff\ufe00-\ufe0f\ufeff\uffa0\ufff0-\uffff\U0001d173-\U0001d17a\U000e0000-\U000e0fff]"
)


def printable(text: str) -> str:
    """`text` with every hidden or controlling character written as `\\u{hex}`. A newline is one of them."""
    return HIDDEN.sub(lambda m: f"\\u{{{ord(m.group()):x}}}", text)


def has_hidden(text: str) -> bool:
    """Whether `printable` would change the text."""
    return HIDDEN.search(text) is not None


_ASCII = {
    "±": "+/-", "°": "deg", "→": "->", "×": "x", "−": "-", "·": ".", "µ": "u", "μ": "u", "≤": "<=", "≥": ">=",
    "–": "-", "—": "-", "“": '"', "”": '"', "‘": "'", "’": "'", "…": "...", "²": "^2", "³": "^3", "′": "'", "″": '"',
}  # fmt: skip


def ascii_form(text: str) -> str:
    """The signs this program prints, in ASCII, for a terminal that has nothing else. Other characters stay."""
    return text.translate({ord(k): v for k, v in _ASCII.items()})
