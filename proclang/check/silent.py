"""Values that may fail without anybody being asked.

Where a procedure asks of a value whether it passes or fails, a failure is left to it, and nobody is asked at the
value itself what to do. So on every way from the value to the end some line must ask; otherwise it would be out of
tolerance in silence. A `when x passes` without an `otherwise` asks only for the way it opens: past it, where `x`
failed, nothing has been done.
"""

from __future__ import annotations

from collections.abc import Iterator

from proclang.program import model as m
from proclang.program.scope import Scope
from proclang.program.successors import successors
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Diagnostic


def find_silent_failures(tree: n.File, scope: Scope, routine: m.Routine | None) -> list[Diagnostic]:
    """Errors about one procedure. Time is linear in its length for each value whose verdict it asks for."""
    if routine is None:
        return []
    starts: dict[str, list[int]] = {}
    symbols: dict[str, m.Symbol] = {}
    for pc, instr in enumerate(routine.code):
        for symbol in _handled(instr):
            starts.setdefault(symbol.name, []).append(pc + 1)
            symbols.setdefault(symbol.name, symbol)
    found = []
    for name, places in starts.items():
        if _escapes(routine.code, name, places):
            found.append(
                Diagnostic(
                    "silent-failure",
                    f"`{name}` may fail without anybody being asked: on some way to the end no line asks if it passes",
                    symbols[name].span,
                    hint=f"ask on every way, with an `otherwise` after `when {name} passes`; or ask nowhere",
                )
            )
    return found


def _handled(instr: m.Instr) -> Iterator[m.Symbol]:
    if isinstance(instr, m.Read) and instr.handled and instr.symbol.facets.judged:
        yield instr.symbol
    elif isinstance(instr, m.ComputeValue) and instr.handled:
        yield from (symbol for symbol, _, _ in instr.targets if symbol.facets.judged)


def _escapes(code: tuple[m.Instr, ...], name: str, starts: list[int]) -> bool:
    """Whether the end is reached from one of the places without a line that asks for the verdict of `name`."""
    seen: set[int] = set()
    todo = list(starts)
    while todo:
        pc = todo.pop()
        if pc in seen:
            continue
        seen.add(pc)
        instr = code[pc]
        if isinstance(instr, m.Return):
            return True
        if isinstance(instr, m.Leave) and name in instr.condition.verdicts:
            continue
        if isinstance(instr, m.Branch) and name in instr.condition.verdicts:
            if instr.condition.text == f"{name} passes" and not isinstance(code[instr.otherwise - 1], m.Jump):
                todo.append(instr.otherwise)
            continue
        todo.extend(successors(code, pc))
    return False
