"""Where a piece of text stands: a source, and half-open character ranges in it."""

from __future__ import annotations

from bisect import bisect_right

import attrs


@attrs.frozen(init=False)
class Span:
    """Characters `start` up to, not including, `end` of the source called `file`. Offsets count from 0."""

    file: str
    start: int
    end: int

    def __init__(self, file: str, start: int, end: int) -> None:
        # As attrs would write it, but straight into the slots: a third of what is made in a parse is spans.
        _set_file(self, file)
        _set_start(self, start)
        _set_end(self, end)

    def to(self, other: Span) -> Span:
        """The span from the beginning of this one to the end of `other`."""
        return Span(self.file, self.start, max(self.end, other.end))


_set_file, _set_start, _set_end = (vars(Span)[name].__set__ for name in ("file", "start", "end"))


@attrs.frozen
class Source:
    """A named text, with line ends already made `\\n`. Lines and columns count from 1, columns in characters."""

    name: str
    text: str = attrs.field(repr=False)
    _starts: tuple[int, ...] = attrs.field(init=False, repr=False, eq=False)

    def __attrs_post_init__(self) -> None:
        starts = [0]
        find = self.text.find
        at = find("\n")
        while at >= 0:
            starts.append(at + 1)
            at = find("\n", at + 1)
        object.__setattr__(self, "_starts", tuple(starts))

    @property
    def line_count(self) -> int:
        """Lines in the text; a final newline does not begin another line."""
        return len(self._starts) - (1 if self.text.endswith("\n") or not self.text else 0)

    def place(self, offset: int) -> tuple[int, int]:
        """Line and column of a character offset."""
        offset = min(max(offset, 0), len(self.text))
        line = bisect_right(self._starts, offset)
        return line, offset - self._starts[line - 1] + 1

    def line_start(self, line: int) -> int:
        """Offset of the first character of a line."""
        return self._starts[line - 1]

    def line(self, number: int) -> str:
        """One line, without its newline. An empty string for a line the text does not have."""
        if not 1 <= number <= len(self._starts):
            return ""
        start = self._starts[number - 1]
        end = self._starts[number] - 1 if number < len(self._starts) else len(self.text)
        return self.text[start:end]
