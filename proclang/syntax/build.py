"""What the parse calls at each rule of the grammar: its parts in, a node out.

A builder is named like its rule, or like the name the grammar gives one of its forms after `->`. It gets the place of
the rule and then its parts in the order of the grammar: a node for each rule, `Name`, `Number`, `Text` or `Unit` for
those terminals, and the text of any other; None for an optional part that was not written. Terminals whose names begin
with `_` are left out.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from proclang.syntax import build_header, build_statements, build_values
from proclang.syntax import nodes as n
from proclang.syntax.build_values import same as same
from proclang.syntax.words import SOFT_WORDS
from proclang.text.diagnostic import Diagnostic
from proclang.text.span import Span


def _rules(module: object) -> dict[str, Callable[..., Any]]:
    """The builders of a module: its public functions."""
    return {
        name.rstrip("_"): value
        for name, value in vars(module).items()
        if callable(value) and getattr(value, "__module__", "") == getattr(module, "__name__", "") and name[0] != "_"
    }


BUILDERS: dict[str, Callable[..., Any]] = {
    **_rules(build_values),
    **_rules(build_header),
    **_rules(build_statements),
}


def _name(text: str, file: str, begin: int, end: int, findings: list[Diagnostic]) -> n.Name:
    return n.Name(text, span=Span(file, begin, end))


def _number(text: str, file: str, begin: int, end: int, findings: list[Diagnostic]) -> n.Number:
    return n.Number(text, span=Span(file, begin, end))


def _text(text: str, file: str, begin: int, end: int, findings: list[Diagnostic]) -> n.Text:
    if "{" in text or "}" in text or "\\" in text:
        from proclang.syntax.texts import read_text

        read, inside = read_text(text, file, begin)
        findings.extend(inside)
        return read
    return n.Text((text[1:-1],) if end - begin > 2 else (), span=Span(file, begin, end))


def _unit(text: str, file: str, begin: int, end: int, findings: list[Diagnostic]) -> n.Unit:
    unit = text[2:].lstrip()
    return n.Unit(unit, span=Span(file, end - len(unit), end))


LEAVES: dict[str, Callable[[str, str, int, int, list[Diagnostic]], n.Node]] = {
    "NAME": _name,
    **dict.fromkeys(SOFT_WORDS, _name),  # mostly a word of the language, and then nobody looks at it
    "NUMBER": _number,
    "STRING": _text,
    "IN_UNIT": _unit,
}
"""What becomes a node as soon as it is met."""
