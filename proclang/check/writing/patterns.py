"""Patterns that are compiled when they are first used: most files break few rules, and compiling takes longer."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from functools import cached_property


class Pattern:
    """A pattern. Where `words` are said, nothing is found in texts that have none of them."""

    def __init__(self, text: str, flags: int = 0, words: Collection[str] = ()) -> None:
        self._text = text
        self._flags = flags
        self._words = frozenset(words)

    @cached_property
    def _compiled(self) -> re.Pattern[str]:
        return re.compile(self._text, self._flags)

    def possible(self, words: Collection[str]) -> bool:
        """Whether it may be found in texts of these words, in lower case."""
        return not self._words.isdisjoint(words)

    def search(self, text: str, at: int = 0) -> re.Match[str] | None:
        """As of `re`."""
        return self._compiled.search(text, at)

    def match(self, text: str) -> re.Match[str] | None:
        """As of `re`."""
        return self._compiled.match(text)

    def finditer(self, text: str) -> Iterator[re.Match[str]]:
        """As of `re`."""
        return self._compiled.finditer(text)

    def sub(self, instead: str, text: str) -> str:
        """As of `re`."""
        return self._compiled.sub(instead, text)
