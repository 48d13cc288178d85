"""Every damaged line found in one pass.

The ordinary parse stops at its first unexpected token. This pass runs the same LALR automaton over the same lines,
without building anything. Before each line the stack is remembered. When a token is not accepted, its line is
reported, the stack goes back to where the line began, and a `BROKEN` line is fed in its place; the grammar allows one
wherever a line may stand, with any lines inside it. What comes out is a token list that the ordinary parse is certain
to accept, and one finding for each damaged line.
"""

from __future__ import annotations

import attrs

from proclang.syntax.automaton import Automaton
from proclang.syntax.layout import STEP, irregular, sound_level
from proclang.syntax.lexer import Line, Token
from proclang.syntax.words import SOFT_WORDS
from proclang.text.diagnostic import Diagnostic

_LOOK_AHEAD = 4


@attrs.frozen
class Unexpected:
    """A token the grammar did not expect: the tokens of its line before it, and the terminals that could have come."""

    token: Token
    before: tuple[Token, ...]
    expected: frozenset[str]
    why: str = "token"
    """Or `missing-block`, `stray-block`, `outside-block`, `missing-version`, `missing-title`, `nothing`."""


@attrs.frozen
class Repaired:
    """Tokens the parse accepts, and what was wrong with the lines they came from."""

    tokens: tuple[Token, ...]
    faults: tuple[Unexpected, ...]
    layout: tuple[Diagnostic, ...]


def repair(lines: tuple[Line, ...], name: str) -> Repaired:
    """Go over all lines; replace the damaged ones."""
    return _Repair(lines, name).run()


class _Repair:
    def __init__(self, lines: tuple[Line, ...], name: str) -> None:
        self._lines = lines
        self._name = name
        self._automaton = Automaton()
        self._out: list[Token] = []
        self._faults: list[Unexpected] = []
        self._layout: list[Diagnostic] = []
        # For each level of the text that is open, whether the automaton was told of it.
        self._open: list[bool] = []
        self._shifted: dict[int, int] = {}  # indentation of a line that jumped in -> the level it was given
        self._lines_out = 0  # at the left margin; what stands in a block is neither version nor title
        self._depth = 0

    def run(self) -> Repaired:
        for index, line in enumerate(self._lines):
            level = self._level(index, line)
            self._move(line.tokens[0], level)
            self._line(line)
        end = self._out[-1].end if self._out else 0
        last = Token("$END", "", self._name, end, end)
        self._move(last, 0)
        self._complete(last)
        return Repaired(tuple(self._out), tuple(self._faults), tuple(self._layout))

    # ------------------------------------------------------------------ levels

    def _level(self, index: int, line: Line) -> int:
        """The level of a line: what its blanks say, or what fits best when they say nothing sound."""
        level = len(self._open)
        width = len(line.indent)
        self._shifted = {w: v for w, v in self._shifted.items() if w <= width}
        sound = sound_level(line.indent, level)
        if self._shifted and "\t" not in line.indent and width % STEP == 0:
            # A block that was pushed in as a whole is one mistake, told at its first line.
            nearest = max(self._shifted)
            known = self._shifted[nearest] + (width - nearest) // STEP
            if known <= level + 1 and (sound is None or self._fit(index, line, known) > self._fit(index, line, sound)):
                return known
        if sound is not None:
            return sound
        after = self._lines[index + 1] if index + 1 < len(self._lines) else None
        damage = irregular(line, after, level)
        chosen = 0  # where the version and the title stand
        if self._lines_out >= 2:
            chosen = max(damage.levels, key=lambda each: self._fit(index, line, each))
        if damage.code == "too-deep":
            if not self._deep_already(index):
                self._layout.append(damage.finding(line, self._name))
        else:
            self._layout.append(damage.finding(line, self._name))
            if damage.code == "indentation" and width % STEP == 0:
                self._shifted[width] = chosen
        return chosen

    def _deep_already(self, index: int) -> bool:
        return index > 0 and sound_level(self._lines[index - 1].indent, len(self._open)) is None

    def _fit(self, index: int, line: Line, level: int) -> int:
        """How many lines, this one first, would be accepted if it stood at this level."""
        automaton = Automaton()
        automaton.stack = self._automaton.stack
        opened = list(self._open)
        if not _turn(automaton, opened, level):
            return 0
        if automaton.feed_all(t.type for t in line.tokens):
            fitting = 2
        elif automaton.feed_all(("BROKEN", "_NL")):
            fitting = 1
        else:
            return 0
        highest = len(self._open) + 1
        untold = 0  # lines passed over, each of which may have opened a block
        for following in self._lines[index + 1 : index + 1 + _LOOK_AHEAD]:
            highest += 1
            after = len(following.indent) // STEP
            if "\t" in following.indent or len(following.indent) % STEP or after > highest:
                untold += 1  # damaged as well, so its level tells nothing
                continue
            if not len(opened) + 1 + untold >= after or not _turn(automaton, opened, after):
                break
            untold = 0
            if automaton.feed_all(t.type for t in following.tokens):
                fitting += 2
            elif automaton.feed_all(("BROKEN", "_NL")):
                fitting += 1
            else:
                break
        return fitting

    # ------------------------------------------------------------------ tokens

    def _give(self, *items: Token) -> bool:
        if not self._automaton.feed_all(item.type for item in items):
            return False
        self._out.extend(items)
        for item in items:
            if item.type == "_NL":
                self._lines_out += not self._depth
            else:
                self._depth += (item.type == "_INDENT") - (item.type == "_DEDENT")
        return True

    def _stub(self, at: int, layout: bool = False) -> list[Token]:
        """A line that says nothing, at a place of no width; with `layout`, in a block of its own."""
        kinds = ("_INDENT", "BROKEN", "_NL", "_DEDENT") if layout else ("BROKEN", "_NL")
        return [Token(kind, "", self._name, at, at) for kind in kinds]

    def _move(self, at: Token, level: int) -> None:
        """Open or close blocks until the line may stand at its level."""
        while len(self._open) < level:
            indent = Token("_INDENT", "", self._name, at.start, at.start)
            told = self._give(indent)
            if not told:
                self._faults.append(Unexpected(at, (), self._automaton.expected(), "stray-block"))
            self._open.append(told)
        while len(self._open) > level:
            if not self._open.pop():
                continue
            dedent = Token("_DEDENT", "", self._name, at.start, at.start)
            if self._give(dedent):
                continue
            if self._block_missing():
                self._fill_block(at)
                self._give(dedent)
            else:  # a block in which nothing could be kept
                self._give(*self._stub(at.start), dedent)

    def _line(self, line: Line) -> None:
        if self._give(*line.tokens):
            return
        first = line.tokens[0]
        if self._block_missing():
            self._fill_block(first)
            if self._give(*line.tokens):
                return
        fault = self._find_fault(line)
        if fault.token is first and self._lines_out < 2 and first.type in self._top():
            self._stand_in(first, fault)
            self._line(line)
            return
        if fault.token is first and "_INDENT" in fault.expected and self._fits_inside(line):
            fault = attrs.evolve(fault, why="outside-block")
        self._faults.append(fault)
        *said, newline = line.tokens
        broken = Token("BROKEN", " ".join(t.text for t in said), self._name, first.start, newline.start)
        self._give(broken, newline)  # when even this has no place, the line is left out; it has been reported

    def _find_fault(self, line: Line) -> Unexpected:
        kept = self._automaton.stack
        for position, token in enumerate(line.tokens):
            if not self._automaton.feed(token.type):
                expected = self._automaton.expected()
                self._automaton.stack = kept
                return Unexpected(token, tuple(line.tokens[:position]), expected)
        raise AssertionError("the line was refused a moment ago")

    def _block_missing(self) -> bool:
        return self._automaton.expected() == {"_INDENT"}

    def _fill_block(self, at: Token) -> None:
        """The line above opens a block and none came; the line at hand may well be sound."""
        above = self._out[-1] if self._out else at
        self._faults.append(Unexpected(above, (), frozenset({"_INDENT"}), "missing-block"))
        self._give(*self._stub(above.start, layout=True))

    def _fits_inside(self, line: Line) -> bool:
        kept = self._automaton.stack
        fits = self._automaton.feed_all(("_INDENT", *(t.type for t in line.tokens)))
        self._automaton.stack = kept
        return fits

    # ------------------------------------------------------------------ the first two lines

    def _top(self) -> frozenset[str]:
        """Terminals that begin a line of the file proper, so that they tell of a missing line above them."""
        automaton = Automaton()
        automaton.feed_all(("PROCLANG", "NUMBER", "_NL", "BROKEN", "_NL"))
        starters = automaton.expected() | {"PROCEDURE", "MACHINE"}
        return frozenset(starters - SOFT_WORDS - {"NAME", "BROKEN", "_INDENT", "$END"})

    def _stand_in(self, at: Token, fault: Unexpected) -> None:
        why = "missing-version" if self._lines_out == 0 else "missing-title"
        self._faults.append(attrs.evolve(fault, why=why))
        self._give(*self._stub(at.start))

    def _complete(self, last: Token) -> None:
        """A file needs a version and a title; where it ends before them, stand-ins are put there."""
        if self._block_missing():
            self._fill_block(last)
        if self._lines_out < 2:
            why = "missing-title" if self._lines_out else "nothing"
            self._faults.append(Unexpected(last, (), self._automaton.expected(), why))
        while self._lines_out < 2:
            self._give(*self._stub(last.start))


_CLOSINGS = (("_DEDENT",), ("BROKEN", "_NL", "_DEDENT"))


def _turn(automaton: Automaton, opened: list[bool], level: int) -> bool:
    """Open or close blocks up to a level; False when the grammar has no block there."""
    while len(opened) < level:
        if not automaton.feed("_INDENT"):
            return False
        if len(opened) + 1 < level and not automaton.feed_all(("BROKEN", "_NL")):
            return False
        opened.append(True)
    while len(opened) > level:
        if opened.pop() and not any(automaton.feed_all(close) for close in _CLOSINGS):
            return False
    return True
