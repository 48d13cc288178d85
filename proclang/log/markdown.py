"""Text from anyone, made fit to stand in the log: the one place where it is escaped, once, on its way into the model.

`Md` is text that has been through here, or words of this program's own; a type checker sees to it that nothing else
gets into the model. Words people typed, and names an author wrote, stand in code spans, where no character means
anything, not even to readers that make links of bare addresses. Sentences a procedure holds are escaped sign by sign.

The rules are those of CommonMark 0.31.2 (code spans, 6.1; backslash escapes, 2.4) and of the extensions in common use:
tables, struck text, formulas between dollar signs, bare addresses.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NewType

from proclang.text.printable import printable

Md = NewType("Md", str)

NONE_TYPED = Md("(nothing)")
"""What stands for an empty text: two backticks with nothing between them are no code span."""

_NOT_PLAIN_WORDS = re.compile(r"[^A-Za-z0-9 .,;()=+/'±°-]|[wW]{3}")
_NOT_PLAIN = re.compile(r"[^A-Za-z0-9 /.,()=+#\[\]_-]")
# An underscore inside a word begins and ends no emphasis, and names are full of them.
_SIGNS = re.compile(r"[\\`*\[\]<>&~|$@]|(?<![A-Za-z0-9])_|_(?![A-Za-z0-9])|:(?=//)|(?<=[wW]{3})\.")
_STARTS_PLAIN = re.compile("[A-Za-z]")
_NUMBERED = re.compile(r"^([0-9]+)([.)])")
_TICKS = re.compile("`+")
_QUOTED = re.compile("`([^`]+)`")


@lru_cache(maxsize=1024)
def inline(text: str) -> Md:
    """A text among other words of a line, never at its beginning."""
    if _NOT_PLAIN_WORDS.search(text) is None:
        return Md(text)  # most of them: limits, titles, roles
    return Md(_SIGNS.sub(lambda m: "\\" + m.group(), printable(text)))


def leading(text: str) -> Md:
    """A text that begins a line of a list, where a sign or a number could begin a block of another kind."""
    if _STARTS_PLAIN.match(text):
        return inline(text)
    shown = inline(text)
    if shown[:1] == " ":
        return Md("&#32;" + shown[1:])
    if shown[:1] in ("#", ">", "+", "-", "="):
        return Md("\\" + shown)
    return Md(_NUMBERED.sub(r"\1\\\2", shown))


def heading(text: str) -> Md:
    """A text in a heading, where a closing row of `#` would otherwise be dropped."""
    return Md(inline(text).replace("#", "\\#"))


def code(text: str) -> Md:
    """A text exactly as it is, in a code span; an empty one in words."""
    if text and text[0] != " " != text[-1] and _NOT_PLAIN.search(text) is None:
        return Md(f"`{text}`")  # nearly every name and number: nothing in it needs a second look
    shown = printable(text)
    if not shown:
        return NONE_TYPED
    longest = max((len(run) for run in _TICKS.findall(shown)), default=0)
    fence = "`" * (longest + 1)
    blank_ends = shown[0] == " " == shown[-1] and shown.strip(" ") != ""
    pad = " " if blank_ends or shown[0] == "`" or shown[-1] == "`" else ""
    return Md(f"{fence}{pad}{shown}{pad}{fence}")


def told(text: str) -> Md:
    """A sentence of this program's own in which names stand in backticks: names as code, the rest escaped."""
    pieces = _QUOTED.split(text)
    return Md("".join(code(piece) if k % 2 else inline(piece) for k, piece in enumerate(pieces)))
