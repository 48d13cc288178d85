"""How tired authors break numbers: another unit, a sign, a limit ten times as large, two limits exchanged."""

from __future__ import annotations

import re
from collections.abc import Iterator

from edits import Mutant, Page, blocks
from judge_dimensions import number_dimension, unit_dimension
from walked_state import Names

from proclang.syntax import nodes as n

_ODD = {"mm": "deg", "deg": "mm", "arcmin": "mm", "V": "A", "N.m": "N", "min": "mm", "s": "m", "pieces": "kg", "h": "m"}
_LIKE = {"mm": "cm", "arcmin": "deg", "deg": "turn", "min": "h", "ms": "s", "V": "mV", "turn": "deg", "m": "mm"}


def numbers_of(page: Page) -> Iterator[n.Number]:
    """Every number with a unit under a value, an instrument or in a formula, `if stopped` apart."""
    stopped = [(node.span.start, node.span.end) for node in page.tree.every(n.Stopped)]
    seen: set[int] = set()
    for node in page.tree.walk():
        if isinstance(node, n.Number) and node.span.start not in seen:
            seen.add(node.span.start)
            typed = page.text[node.span.start : node.span.end]
            if typed == node.typed and not any(a <= node.span.start < b for a, b in stopped):
                yield node


def _unit(typed: str) -> tuple[str, str]:
    found = re.match(r"^([-+−]?\s*[0-9][0-9.]*)\s*(.*)$", typed)
    return (found[1], found[2]) if found else (typed, "")


def odd_unit(page: Page, names: Names) -> Iterator[Mutant]:
    """A number is in a unit of another kind."""
    for number in numbers_of(page):
        amount, unit = _unit(number.typed)
        if unit and unit_dimension(unit) is not None:
            odd = _ODD.get(unit, "mm" if unit_dimension(unit) != unit_dimension("mm") else "deg")
            yield page.written("odd_unit", number, f"{amount} {odd}", f"{odd} for {unit}", about=())


def like_unit(page: Page, names: Names) -> Iterator[Mutant]:
    """A number is in another unit of the same kind: arcminutes read as degrees."""
    for number in numbers_of(page):
        amount, unit = _unit(number.typed)
        if unit in _LIKE:
            yield page.written("like_unit", number, f"{amount} {_LIKE[unit]}", f"{_LIKE[unit]} for {unit}")


def odd_reading(page: Page, names: Names) -> Iterator[Mutant]:
    """A reading is asked for in a unit of another kind."""
    for _, body in blocks(page.tree):
        for node in body:
            if isinstance(node, n.Measure):
                unit = node.unit.text
                odd = _ODD.get(unit, "mm" if unit_dimension(unit) != unit_dimension("mm") else "deg")
                found = re.search(rf"\bin {re.escape(unit)}", page.text[node.span.start :])
                if found is not None:
                    at = node.span.start + found.start() + 3
                    yield page.written_at(
                        "odd_reading", at, at + len(unit), odd, f"{node.name.text} in {odd}", about=(node.name.text,)
                    )


def other_north(page: Page, names: Names) -> Iterator[Mutant]:
    """A bearing is taken to be from another north."""
    for found in re.finditer(r"\b(deg) (true|magnetic)\b", page.text):
        if page.lines[page.line_of(found.start())].lstrip().startswith(("#", '"', "purpose")):
            continue
        other = "magnetic" if found[2] == "true" else "true"
        yield page.written_at("other_north", found.start(2), found.end(2), other, f"{other} for {found[2]}")


def flip_sign(page: Page, names: Names) -> Iterator[Mutant]:
    """A number loses its sign, or gets one."""
    facets = (n.Bound, n.WithinAround, n.WithinRange, n.Plausible, n.Compute, n.Input, n.SetValue)
    for node in page.tree.walk():
        if not isinstance(node, facets) or _stopped(page, node):
            continue
        for number in _literals(node):
            start = number.span.start
            before = page.text[:start].rstrip(" ")
            if number.typed.startswith(("-", "−")):
                yield page.written("flip_sign", number, number.typed[1:].lstrip(), f"{number.typed} without its sign")
            elif before.endswith("-") and not isinstance(node, n.Compute):
                continue
            elif not re.fullmatch(r"0(\.0*)?(\s.*)?", number.typed) and not isinstance(node, n.Compute):
                yield page.written("flip_sign", number, f"-{number.typed}", f"-{number.typed}")
        if isinstance(node, n.Compute):
            for binary in node.walk():
                if isinstance(binary, n.Binary) and binary.operator in ("+", "-"):
                    yield from _other_operator(page, binary)


def _other_operator(page: Page, binary: n.Binary) -> Iterator[Mutant]:
    between = page.text[binary.left.span.end : binary.right.span.start]
    found = re.search(r"[-+]", between)
    if found is not None:
        at = binary.left.span.end + found.start()
        other = "-" if found[0] == "+" else "+"
        yield page.written_at("flip_sign", at, at + 1, other, f"{other} for {found[0]}")


def _literals(node: n.Node) -> Iterator[n.Number]:
    for child in node.children():
        if isinstance(child, n.Literal):
            yield child.number


def _stopped(page: Page, node: n.Node) -> bool:
    return any(s.span.start <= node.span.start < s.span.end for s in page.tree.every(n.Stopped))


def swap_limits(page: Page, names: Names) -> Iterator[Mutant]:
    """The two numbers of a range are exchanged."""
    yield from _swapped(page, "swap_limits", plain=True)


def swap_named_limits(page: Page, names: Names) -> Iterator[Mutant]:
    """The two ends of a range are exchanged, of which one at least is a name."""
    yield from _swapped(page, "swap_named_limits", plain=False)


def _swapped(page: Page, operator: str, plain: bool) -> Iterator[Mutant]:
    for node in page.tree.walk():
        if not isinstance(node, (n.WithinRange, n.Plausible)) or _stopped(page, node):
            continue
        if plain != (_is_plain(node.low) and _is_plain(node.high)):
            continue
        low = page.text[node.low.span.start : node.low.span.end]
        high = page.text[node.high.span.start : node.high.span.end]
        unit = _unit(high)[1]
        last = f"{low} {unit}" if unit and re.fullmatch(r"[-+−]?\s*[0-9.]+", low) else low
        if low != high:
            both = f"{high} .. {last}"
            yield page.written_at(operator, node.low.span.start, node.high.span.end, both, both)


def _is_plain(value: n.Node) -> bool:
    return isinstance(value, n.Literal) or (isinstance(value, n.Unary) and isinstance(value.operand, n.Literal))


def tenfold_limit(page: Page, names: Names) -> Iterator[Mutant]:
    """A limit is ten times what it should be: a point in the wrong place."""
    for node in page.tree.walk():
        if not isinstance(node, (n.Bound, n.WithinAround, n.WithinRange)) or _stopped(page, node):
            continue
        for number in list(_literals(node))[-1:]:
            amount, unit = _unit(number.typed)
            if number_dimension(number.typed) is None or not re.fullmatch(r"[-+−]?[0-9.]+", amount):
                continue
            tenfold = f"{float(amount.replace('−', '-')) * 10:g}"
            if float(tenfold):
                yield page.written("tenfold_limit", number, f"{tenfold} {unit}".strip(), f"{tenfold} for {amount}")


PROVABLE = (odd_unit, odd_reading, other_north, swap_limits)
BEYOND = (like_unit, flip_sign, tenfold_limit, swap_named_limits)
