"""The sentences of a step, with what stands in braces masked, so that words can be found at their places."""

from __future__ import annotations

import re
from collections.abc import Iterator

import attrs

from proclang.syntax import nodes as n
from proclang.text.span import Source, Span

MASK = "\u00a4"
"""Stands for each character of an inserted value."""

_INSERT = re.compile(r"\\.|\{[^}]*\}")
_END = re.compile(r"[.!?;:](?=\s|$)")
_LETTER = re.compile(rf"[\w{MASK}]")
_FIRST = re.compile(rf"[A-Za-z]+(?:'[a-z]+)?|[0-9{MASK}]")


@attrs.frozen
class Sentence:
    """One sentence: its text, masked, and where that begins in the source. `leads` is true of the first of a step."""

    step: n.Step
    text: str
    file: str
    start: int
    leads: bool

    @property
    def first_word(self) -> str:
        """The word it begins with, in lower case; a digit or `MASK` where it begins with a number or a value."""
        found = _FIRST.search(self.text)
        return found[0].lower() if found is not None else ""

    @property
    def first_span(self) -> Span:
        """Where that word stands."""
        found = _FIRST.search(self.text)
        return self.at(found) if found is not None else self.span

    @property
    def words(self) -> int:
        """How many words; a value counts as one."""
        return sum(1 for word in self.text.split() if _LETTER.search(word))

    @property
    def span(self) -> Span:
        """Where it stands."""
        return Span(self.file, self.start, self.start + len(self.text))

    def at(self, found: re.Match[str], group: int = 0) -> Span:
        """Where something found in it stands."""
        return Span(self.file, self.start + found.start(group), self.start + found.end(group))


def masked(text: n.Text, source: Source) -> tuple[str, int]:
    """A quoted text with its inserts masked, and where it begins: as long as in the source, so that places are true."""
    begin = text.span.start + 1
    raw = source.text[begin : text.span.end - 1]
    if "{" in raw:
        raw = _INSERT.sub(lambda found: found[0] if found[0][0] == "\\" else MASK * len(found[0]), raw)
    return raw, begin


def sentences_of(step: n.Step, source: Source) -> Iterator[Sentence]:
    """The sentences of a step: its title and the lines of text under it."""
    leads = True
    for text in (step.title, *(line.text for line in step.body if isinstance(line, n.Prose))):
        raw, begin = masked(text, source)
        at = 0
        for end in (*(found.start() for found in _END.finditer(raw)), len(raw)):
            piece = raw[at:end]
            bare = piece.lstrip(".!?;: ")
            if bare.strip():
                yield Sentence(step, bare.rstrip(), source.name, begin + at + len(piece) - len(bare), leads)
                leads = False
            at = end
