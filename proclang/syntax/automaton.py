"""The LALR automaton of the grammar, driven without building anything: only its stack of states moves."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from proclang.syntax.grammar import automaton


class Automaton:
    """A stack of states. The stack is never changed in place, so to remember it is to keep it."""

    def __init__(self) -> None:
        self._tables = automaton()
        self._end = self._tables.ends["file"]
        self.stack: tuple[int, ...] = (self._tables.starts["file"],)

    def feed(self, terminal: str) -> bool:
        """Take one terminal; False, and nothing moved, when it is not accepted."""
        rows, rules = self._tables.rows, self._tables.rules
        stack = list(self.stack)
        while True:
            move = rows[stack[-1]].get(terminal)
            if move is None:
                return False
            if move >= 0:
                stack.append(move)
                self.stack = tuple(stack)
                return True
            rule = rules[~move]
            del stack[-rule.size :]  # no rule is empty
            goto = rows[stack[-1]][rule.origin]
            stack.append(goto)
            if terminal == "$END" and goto == self._end:
                self.stack = tuple(stack)
                return True

    def feed_all(self, terminals: Iterable[str]) -> bool:
        """Take several; False, and nothing moved, when one of them is not accepted."""
        kept = self.stack
        for terminal in terminals:
            if not self.feed(terminal):
                self.stack = kept
                return False
        return True

    def expected(self) -> frozenset[str]:
        """The terminals that would be accepted now."""
        return _expected(self.stack)


@lru_cache(maxsize=1_024)
def _expected(stack: tuple[int, ...]) -> frozenset[str]:
    """Damaged lines mostly stand where others did: in a file of a hundred thousand, this is what they cost."""
    automaton = Automaton()
    found = set()
    for terminal in automaton._tables.rows[stack[-1]]:
        automaton.stack = stack
        if not terminal.islower() and automaton.feed(terminal):  # rules are written small
            found.add(terminal)
    return frozenset(found)
