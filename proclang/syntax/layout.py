"""Levels of indentation to _INDENT and _DEDENT: our own post-lexer.

Each level is two blanks. Where a line's indentation is damaged (a tab, an odd number of blanks, a jump of two levels)
it tells too little, and `lay_out` gives up: recovery then tries the levels the line may have meant against the
grammar and the lines that follow, so that nothing but the damaged line is reported.
"""

from __future__ import annotations

from collections.abc import Iterable

import attrs

from proclang.syntax.lexer import Line
from proclang.syntax.scan import Lexeme, ScannedLine
from proclang.text import limits
from proclang.text.diagnostic import Diagnostic
from proclang.text.span import Span

STEP = 2


@attrs.frozen
class Irregular:
    """A line whose indentation is damaged: what is wrong, and the levels it may have meant, the likeliest first."""

    code: str
    message: str
    hint: str
    levels: tuple[int, ...]

    def finding(self, line: Line, name: str) -> Diagnostic:
        """The finding, at the blanks the line begins with."""
        span = Span(name, line.start, line.start + max(1, len(line.indent)))
        return Diagnostic(self.code, self.message, span, hint=self.hint)


def lay_out(lines: Iterable[ScannedLine]) -> list[Lexeme] | None:
    """All lexemes in a row with those of the layout put in, up to the end of the text; None when the indentation of
    some line is damaged."""
    row: list[Lexeme] = []
    level = 0
    for indent, _, lexemes in lines:
        wanted = len(indent) >> 1
        if wanted != level or indent != "  " * level:
            found = sound_level(indent, level)
            if found is None:
                return None
            at = lexemes[0][2]
            if found > level:
                row.append(("_INDENT", "", at, at))
            else:
                row += [("_DEDENT", "", at, at)] * (level - found)
            level = found
        row += lexemes
    end = row[-1][3] if row else 0
    row += [("_DEDENT", "", end, end)] * level
    row.append(("$END", "", end, end))
    return row


def even_out(lines: tuple[Line, ...], name: str) -> tuple[tuple[Line, ...], list[Diagnostic]]:
    """A file that is indented throughout by tabs, or by a width of its own, is one mistake: told once, then mended."""
    indented = [line for line in lines if line.indent]
    if len(indented) < 2:
        return lines, []
    unit = min((line.indent for line in indented), key=len)
    if unit == "\t":
        said = "a tab"
    elif unit.isspace() and "\t" not in unit and len(unit) > STEP:
        said = f"{len(unit)} blanks"
    else:
        return lines, []
    if any(line.indent != unit * (len(line.indent) // len(unit)) for line in indented):
        return lines, []
    first = indented[0]
    finding = Diagnostic(
        "tab" if unit == "\t" else "indentation",
        f"this file is indented by {said} a level",
        Span(name, first.start, first.start + len(first.indent)),
        hint="indent by two blanks a level, here and in all that follows",
    )
    mended = tuple(attrs.evolve(line, indent=" " * (STEP * (len(line.indent) // len(unit)))) for line in lines)
    return mended, [finding]


def sound_level(indent: str, level: int) -> int | None:
    """The level of a line after one at `level`; None when its indentation is damaged or too deep."""
    width = len(indent)
    wanted = width // STEP
    if width % STEP or wanted > level + 1 or wanted > limits.BLOCK_DEPTH or "\t" in indent:
        return None
    return wanted


def irregular(line: Line, after: Line | None, level: int) -> Irregular:
    """What is wrong with the indentation of a line that has no sound level, and what it may have meant."""
    indent = line.indent
    width = len(indent)
    deepest = min(level + 1, limits.BLOCK_DEPTH)
    following = None if after is None or "\t" in after.indent else len(after.indent) // STEP
    if "\t" in indent:
        meant = indent.count("\t") + indent.count(" ") // STEP
        levels = _near(deepest, following, meant, level)
        return Irregular("tab", "a tab stands in the indentation", "indent by two blanks a level, without tabs", levels)
    if width % STEP:
        sides = [side for side in ((width + 1) // STEP, width // STEP) if side <= deepest]
        levels = tuple(side for side in _near(deepest, following, level) if side in sides) or _near(deepest, level)
        blanks = "1 blank" if width == 1 else f"{width} blanks"
        return Irregular(
            "indentation",
            f"this line begins with {blanks}, which is between two levels",
            "indent by two blanks a level",
            levels,
        )
    if width // STEP > level + 1 and level < limits.BLOCK_DEPTH:
        return Irregular(
            "indentation",
            f"this line is indented by {width} blanks, but the line above allows {(level + 1) * STEP} at most",
            "indent it two blanks further than the line it belongs to",
            _near(deepest, following, level + 1, level),
        )
    return Irregular(
        "too-deep",
        f"blocks stand more than {limits.BLOCK_DEPTH} deep here",
        "move the inner part to a procedure of its own and `perform` it",
        (limits.BLOCK_DEPTH,),
    )


def _near(deepest: int, *likely: int | None) -> tuple[int, ...]:
    """Every level there can be: the likely ones first, then from the deepest outwards."""
    wanted = [*likely, *range(deepest, -1, -1)]
    return tuple(dict.fromkeys(level for level in wanted if level is not None and 0 <= level <= deepest))
