"""The LALR automaton of the grammar, driven without building anything: only its stack of states moves."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Any

import attrs


@attrs.frozen
class Table:
    """What lark worked out from the grammar, for one start rule."""

    states: dict[Any, dict[str, tuple[Any, Any]]]
    start: Any
    end: Any
    shift: Any


@cache
def file_table() -> Table:
    """The table for whole files."""
    from lark.parsers.lalr_analysis import Shift

    from proclang.syntax.grammar import tables

    table = tables().parse_interactive(start="file").parser_state.parse_conf.parse_table
    return Table(table.states, table.start_states["file"], table.end_states["file"], Shift)


class Automaton:
    """A stack of states. The stack is never changed in place, so to remember it is to keep it."""

    def __init__(self, table: Table) -> None:
        self._table = table
        self.stack: tuple[Any, ...] = (table.start,)

    def feed(self, terminal: str) -> bool:
        """Take one terminal; False, and nothing moved, when it is not accepted."""
        table = self._table
        stack = list(self.stack)
        while True:
            move = table.states[stack[-1]].get(terminal)
            if move is None:
                return False
            action, argument = move
            if action is table.shift:
                stack.append(argument)
                self.stack = tuple(stack)
                return True
            size = len(argument.expansion)
            if size:
                del stack[-size:]
            _, goto = table.states[stack[-1]][argument.origin.name]
            stack.append(goto)
            if terminal == "$END" and goto == table.end:
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
        kept = self.stack
        found = set()
        for terminal in self._table.states[kept[-1]]:
            if not terminal.islower() and self.feed(terminal):  # rules are written small
                found.add(terminal)
            self.stack = kept
        return frozenset(found)
