"""The one layout of a file: the same lines with the same words, comments included, and only the blanks put in order.

The levels of a sound file are as they have to be already. What is laid out is the blanks inside a line, the place of
its comment, the levels of comments on lines of their own, and blank lines.
"""

from __future__ import annotations

from collections.abc import Sequence

import attrs

from proclang.syntax.format_line import line_text
from proclang.syntax.layout import STEP
from proclang.syntax.parse import parse
from proclang.syntax.scan import scan
from proclang.text.decode import decode
from proclang.text.diagnostic import Diagnostic
from proclang.text.span import Source

_BLOCKS = frozenset({"SECTION", "INPUTS", "NEEDS", "MACHINE", "TABLE"})
"""Lines of the top level with a blank line above them; the second line of a file, which may be one, has none."""


@attrs.frozen
class Formatted:
    """A file laid out; or, where anything is wrong with its form, no text and what is wrong."""

    source: Source
    text: str | None
    findings: tuple[Diagnostic, ...] = ()


def format_file(data: bytes, name: str) -> Formatted:
    """Lay out a procedure or machine file. Time is linear in its length. A text that was laid out stays as it is."""
    decoded = decode(data, name)
    source = decoded.source
    if decoded.findings:
        return Formatted(source, None, decoded.findings)
    parsed = parse(source)
    if parsed.findings:
        return Formatted(source, None, parsed.findings)
    text = _laid_out(source.text)
    again = parse(Source(name, text))
    if again.findings or again.tree != parsed.tree or len(again.comments) != len(parsed.comments):
        raise AssertionError("a layout that changes what a file says")  # a fault of ours; the file is left alone
    return Formatted(source, text)


@attrs.define
class _Line:
    """A line that is not blank: its words, its comment, or both. `gap`: whether a blank line stands above it."""

    level: int
    words: str
    comment: str
    gap: bool
    block: bool = False

    @property
    def remark(self) -> bool:
        """Whether it is a comment on a line of its own; its level is, at first, what its own indentation says."""
        return not self.words

    @property
    def text(self) -> str:
        between = "  " if self.words and self.comment else ""
        return " " * (STEP * self.level) + self.words + between + self.comment


def _laid_out(text: str) -> str:
    lines = _lines(text)
    _settle_levels(lines)
    _settle_gaps(lines)
    return "".join(("\n" if line.gap else "") + line.text + "\n" for line in lines)


def _lines(text: str) -> list[_Line]:
    """The lines that are not blank, as they stand."""
    said, places = scan(text)
    told = {start: (number, indent, lexemes) for number, (indent, start, lexemes) in enumerate(said)}
    comments = {text.rfind("\n", 0, begin) + 1: (begin, _comment(text[begin:end])) for begin, end in places}
    lines: list[_Line] = []
    start, gap = 0, False
    for written in text.split("\n"):
        begin, comment = comments.get(start, (start, ""))
        if start in told:
            number, indent, lexemes = told[start]
            block = number > 1 and not indent and lexemes[0][0] in _BLOCKS
            lines.append(_Line(len(indent) // STEP, line_text(text, lexemes), comment, gap, block))
        elif comment:
            lines.append(_Line(len(text[start:begin].expandtabs(STEP)) // STEP, "", comment, gap))
        gap = start not in told and not comment
        start += len(written) + 1
    return lines


def _comment(text: str) -> str:
    """A comment with a blank behind its sign. Further blanks stay: they may draw something."""
    text = text.rstrip(" \t")
    return f"# {text[1:]}" if len(text) > 1 and text[1] not in " \t#" else text


def _settle_levels(lines: Sequence[_Line]) -> None:
    """Put each comment on a line of its own at the level of the line it stands above.

    Where its own indentation says that it belongs to a block that ends there, or to one that the line above opens and
    has nothing else in it, it stays in that block, as long as no comment above it has left the block.
    """
    follows = [0] * len(lines)
    level = 0
    for index in range(len(lines) - 1, -1, -1):
        if not lines[index].remark:
            level = lines[index].level
        follows[index] = level
    deepest = 0
    for line, least in zip(lines, follows, strict=True):
        if line.remark:
            deepest = line.level = max(least, min(deepest, line.level))
        else:
            deepest = line.level + 1


def _settle_gaps(lines: Sequence[_Line]) -> None:
    """One blank line where there were any, none at the top of the file and of a block, one above each large block and
    the comments right above it."""
    for index, line in enumerate(lines):
        if index == 0 or line.level > lines[index - 1].level:
            line.gap = False
        if line.block:
            top = index
            while not lines[top].gap and lines[top - 1].remark and lines[top - 1].level == 0:
                top -= 1
            lines[top].gap = True
