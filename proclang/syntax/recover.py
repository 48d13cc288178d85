"""Every damaged line found in one pass.

The ordinary parse stops at its first unexpected token. This pass runs the same LALR automaton over the same tokens,
without building anything: only its stack of states moves. Before each line the stack is remembered. When a token is
not accepted, its line is reported, the stack goes back to where the line began, and a `BROKEN` line is fed in its
place; the grammar allows one wherever a line may stand, with any lines inside it. What comes out is a token list that
the ordinary parse is certain to accept, and one finding for each damaged line.
"""

from __future__ import annotations

from typing import Any

import attrs

from proclang.syntax.lexer import Token


@attrs.frozen
class Unexpected:
    """A token the grammar did not expect: the tokens of its line before it, and the terminals that could have come."""

    token: Token
    before: tuple[Token, ...]
    expected: frozenset[str]
    why: str = "token"  # or "missing-block", "stray-block", "missing-version", "missing-title"


class Automaton:
    """The stack of states of an LALR table; terminals go in, nothing is built."""

    def __init__(self, table: Any, start: str) -> None:
        self._states: dict[Any, dict[str, tuple[Any, Any]]] = table.states
        self.stack: list[Any] = [table.start_states[start]]
        self._end_state = table.end_states[start]

    def feed(self, terminal: str) -> bool:
        """Take one terminal; False, and nothing moved, when it is not accepted."""
        from lark.parsers.lalr_analysis import Shift

        stack = list(self.stack)
        while True:
            move = self._states[stack[-1]].get(terminal)
            if move is None:
                return False
            action, argument = move
            if action is Shift:
                stack.append(argument)
                self.stack = stack
                return True
            size = len(argument.expansion)
            if size:
                del stack[-size:]
            _, goto = self._states[stack[-1]][argument.origin.name]
            stack.append(goto)
            if terminal == "$END" and goto == self._end_state:
                self.stack = stack
                return True

    def expected(self) -> frozenset[str]:
        """The terminals that would be accepted now."""
        kept = self.stack
        found = set()
        for terminal in self._states[kept[-1]]:
            if terminal.isupper():
                if self.feed(terminal):
                    found.add(terminal)
                self.stack = kept
        return frozenset(found)


def repair(table: Any, tokens: list[Token], name: str) -> tuple[list[Token], list[Unexpected]]:
    """The tokens with each damaged line replaced, and what was damaged."""
    automaton = Automaton(table, "file")
    out: list[Token] = []
    faults: list[Unexpected] = []
    dropped_dedents: list[int] = []  # depths whose _INDENT was dropped, so that its _DEDENT is dropped too
    depth = 0
    index = 0
    line_begin = 0
    previous: Token | None = None
    end_of_text = tokens[-1].end if tokens else 0

    def give(*items: Token) -> bool:
        kept, length = automaton.stack, len(out)
        for item in items:
            if not automaton.feed(item.type):
                automaton.stack = kept
                del out[length:]
                return False
            out.append(item)
        return True

    def stub(at: Token, text: str) -> tuple[Token, Token]:
        return _put_in("BROKEN", text, at, at.end), _put_in("_NL", "\n", at, at.end)

    while index < len(tokens):
        token = tokens[index]
        if token.type == "_INDENT":
            depth += 1
            if not give(token):
                after = tokens[index + 1]
                faults.append(Unexpected(after, (), automaton.expected(), "stray-block"))
                dropped_dedents.append(depth)
            index += 1
            continue
        if token.type == "_DEDENT":
            if dropped_dedents and dropped_dedents[-1] == depth:
                dropped_dedents.pop()
            elif not give(token):  # a block in which nothing could be kept
                give(*stub(token, ""), token)
            depth -= 1
            index += 1
            continue
        # a line: everything up to its _NL
        line_begin = index
        end = index
        while tokens[end].type != "_NL":
            end += 1
        line = tokens[line_begin : end + 1]
        if give(*line):
            previous = tokens[end]
            index = end + 1
            continue
        fault = _find_fault(automaton, line)
        first = line[0]
        if fault.token is first and "_INDENT" in fault.expected and previous is not None:
            # The line above opens a block and none came; this line may well be sound.
            faults.append(attrs.evolve(fault, token=previous, why="missing-block"))
            broken, newline = stub(previous, "")
            give(_put_in("_INDENT", "", previous), broken, newline, _put_in("_DEDENT", "", previous))
            continue
        if fault.token is first and not out and first.type in ("PROCEDURE", "MACHINE"):
            faults.append(attrs.evolve(fault, why="missing-version"))
            give(*stub(first, ""))
            continue
        if fault.token is first and "PROCEDURE" in fault.expected and len(out) == _VERSION_TOKENS:
            faults.append(attrs.evolve(fault, why="missing-title"))
            give(*stub(first, ""))
            if first.type != "NAME":
                continue
        elif not _same_line_reported(faults, fault):
            faults.append(fault)
        text = " ".join(t.text for t in line[:-1])
        whole = _put_in("BROKEN", text, first, line[-1].start)
        give(whole, line[-1])  # when even this is not accepted, the line is left out; it has been reported
        previous = line[-1]
        index = end + 1
    if not automaton.feed("$END") and not faults:
        faults.append(Unexpected(Token("$END", "", name, end_of_text, end_of_text), (), automaton.expected()))
    _complete(out, name)
    return out, faults


_VERSION_TOKENS = 3


def _find_fault(automaton: Automaton, line: list[Token]) -> Unexpected:
    kept = automaton.stack
    for position, token in enumerate(line):
        if not automaton.feed(token.type):
            expected = automaton.expected()
            automaton.stack = kept
            return Unexpected(token, tuple(line[:position]), expected)
    raise AssertionError("the line was refused a moment ago")


def _same_line_reported(faults: list[Unexpected], fault: Unexpected) -> bool:
    return bool(faults) and faults[-1].token is fault.token


def _put_in(type: str, text: str, at: Token, end: int | None = None) -> Token:
    return Token(type, text, at.file, at.start, at.start if end is None else end)


def _complete(out: list[Token], name: str) -> None:
    """A file needs a version and a title; stand-ins go where both are missing."""
    lines = sum(1 for t in out if t.type == "_NL")
    at = out[-1].end if out else 0
    for _ in range(lines, 2):
        out.append(Token("BROKEN", "", name, at, at))
        out.append(Token("_NL", "\n", name, at, at))
