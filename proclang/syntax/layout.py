"""Levels of indentation to _INDENT and _DEDENT: our own post-lexer.

Each level is two blanks. A line whose indentation is damaged (a tab, an odd number of blanks, a jump of two levels)
is reported once, at itself, and given the level its neighbours make likeliest, so that nothing follows from it.
"""

from __future__ import annotations

from proclang.syntax.lexer import Line, Token
from proclang.text import limits
from proclang.text.diagnostic import Diagnostic
from proclang.text.span import Span

STEP = 2


def lay_out(lines: tuple[Line, ...], name: str) -> tuple[list[Token], list[Diagnostic]]:
    """All tokens in a row, with the layout tokens put in, and what is wrong with the indentation."""
    tokens: list[Token] = []
    findings: list[Diagnostic] = []
    level = 0
    for index, line in enumerate(lines):
        wanted, problem = _level(lines, index, level)
        at = line.tokens[0].start if line.tokens else line.start
        if problem is None and wanted > limits.BLOCK_DEPTH:
            problem = ("too-deep", f"blocks stand more than {limits.BLOCK_DEPTH} deep here", "use a procedure of its own")
            wanted = limits.BLOCK_DEPTH
        if problem is not None:
            code, message, hint = problem
            findings.append(Diagnostic(code, message, Span(name, line.start, max(at, line.start + 1)), hint=hint))
        while level < wanted:
            tokens.append(Token("_INDENT", "", name, at, at))
            level += 1
        while level > wanted:
            tokens.append(Token("_DEDENT", "", name, at, at))
            level -= 1
        tokens.extend(line.tokens)
    end = tokens[-1].end if tokens else 0
    tokens.extend(Token("_DEDENT", "", name, end, end) for _ in range(level))
    return tokens, findings


def _level(lines: tuple[Line, ...], index: int, level: int) -> tuple[int, tuple[str, str, str] | None]:
    indent = lines[index].indent
    width = len(indent)
    if "\t" in indent:
        return _likeliest(lines, index, level), ("tab", "a tab stands in the indentation", "use two blanks a level")
    if width % STEP:
        blanks = f"{width} blanks"
        return (
            _nearest(lines, index, level, width),
            ("indentation", f"this line begins with {blanks}; a level is two blanks", "use an even number of blanks"),
        )
    wanted = width // STEP
    if wanted > level + 1:
        likely = _likeliest(lines, index, level)
        return likely, ("indentation", "this line jumps more than one level in", "use two blanks more than the line above")
    return wanted, None


def _likeliest(lines: tuple[Line, ...], index: int, level: int) -> int:
    """The level of a line whose own indentation tells nothing: that of the next line, if it can be."""
    if index + 1 < len(lines):
        after = lines[index + 1].indent
        if "\t" not in after and len(after) == (level + 1) * STEP:
            return level + 1
    return level


def _nearest(lines: tuple[Line, ...], index: int, level: int, width: int) -> int:
    """The level of a line one blank off: the neighbour's level if that is one blank away, else the deeper one."""
    candidates = [c for c in ((width + 1) // STEP, (width - 1) // STEP) if c <= level + 1]
    if index + 1 < len(lines):
        after = len(lines[index + 1].indent)
        if after % STEP == 0 and after // STEP in candidates:
            return after // STEP
    if level in candidates:
        return level
    return candidates[0] if candidates else level
