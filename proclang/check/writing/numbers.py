"""How numbers, readings and limits are written."""

from __future__ import annotations

import re
from collections.abc import Iterator

from proclang.check.writing.patterns import Pattern
from proclang.check.writing.rule import Found, Rule, Seen
from proclang.syntax import nodes as n

_TYPED = Pattern(r"-?(?P<whole>[0-9]+)(?:\.(?P<decimals>[0-9]+))?(?: ?(?P<unit>[^0-9 ].*))?$")
_POINT = Pattern(r"(?<![\w.])\.[0-9]+")
_GLUED = Pattern(
    r"(?<![\w.-])[0-9]+(?:\.[0-9]+)?(?=(?:mm|cm|km|kg|kN|Nm|N\.m|bar|hPa|MPa|deg|min|arcmin|arcsec|Hz|rpm|mV|kW)\b)"
)
_TORQUE = Pattern(r"(?:N\.m|daN\.m|kN\.m|lbf\.ft|lbf\.inch|kgf\.m)(?:$|/)")
_TIGHTEN = Pattern(r"(?:[^:]*: ?)?(?:tighten|torque)\b", re.IGNORECASE)


def reading_without_limit(seen: Seen) -> Iterator[Found]:
    """A reading that nothing judges."""
    limits = (n.WithinAround, n.WithinUneven, n.WithinRange, n.Bound, n.Spread)
    for node in seen.tree.every(n.Measure):
        if not any(isinstance(facet, limits) for facet in node.facets):
            hint = "add `within`, `at most` or `at least`; what is only computed with is judged there"
            yield Found(node.name.span, f"nothing says which values of `{node.name}` are good", hint)


def _decimals(node: n.Node) -> tuple[int, str] | None:
    """Decimals and unit of a number as it is typed; None for anything else."""
    number = node.number if isinstance(node, n.Literal) else node
    found = _TYPED.match(number.typed) if isinstance(number, n.Number) else None
    return None if found is None else (len(found["decimals"] or ""), found["unit"] or "")


def tolerance_digits(seen: Seen) -> Iterator[Found]:
    """`within 10.000 ± 0.5 mm`."""
    facets: tuple[n.WithinAround | n.WithinUneven, ...]
    facets = (*seen.tree.every(n.WithinAround), *seen.tree.every(n.WithinUneven))
    for node in facets:
        halves: tuple[n.Node, ...] = (node.half,) if isinstance(node, n.WithinAround) else (node.plus, node.minus)
        centre = _decimals(node.centre)
        sides = [_decimals(half) for half in halves]
        if centre is None or any(side is None for side in sides):
            continue
        told = [side for side in sides if side is not None]
        if any(unit == "%" or (centre[1] and unit not in ("", centre[1])) for _, unit in told):
            continue
        if centre[0] > max(decimals for decimals, _ in told):
            message = "the middle has more decimals than the tolerance"
            yield Found(node.centre.span, message, "write both to the same decimal")


def number_form(seen: Seen) -> Iterator[Found]:
    """`.5 mm` or `5mm` in a text."""
    for raw, begin in seen.texts:
        for pattern, message, hint in (
            (_POINT, "a number begins with its point", "write a zero before it"),
            (_GLUED, "a number and its unit are run together", "write one blank between them"),
        ):
            for found in pattern.finditer(raw):
                yield Found(seen.place(found, begin), message, hint)


def torque_limits(seen: Seen) -> Iterator[Found]:
    """A step that tightens to a torque: with what, within which limits, in which order."""
    for step in seen.tree.every(n.Step):
        if _TIGHTEN.match(step.title.plain) is None:
            continue
        for node in step.body:
            if not isinstance(node, n.Measure) or _TORQUE.match(node.unit.text) is None:
                continue
            if node.instrument is None:
                yield Found(node.name.span, f"nothing says what `{node.name}` is tightened with", "add `using`")
            ends = (n.WithinAround, n.WithinUneven, n.WithinRange)
            bounds = {facet.most for facet in node.facets if isinstance(facet, n.Bound)}
            if len(bounds) < 2 and not any(isinstance(facet, ends) for facet in node.facets):
                hint = "add `within`: too loose lets go, too tight breaks"
                yield Found(node.name.span, f"`{node.name}` has no limits to both sides", hint)


def tightened_in_a_row(seen: Seen) -> Iterator[Found]:
    """Four or more of a set, tightened one after the other and not across."""
    if seen.machine is None:
        return
    for loop in seen.tree.every(n.ForEach):
        item = seen.machine.items.get(loop.labels.text)
        if loop.star or item is None or len(item.labels) < 4:
            continue
        for step in loop.body:
            if isinstance(step, n.Step) and _TIGHTEN.match(step.title.plain) is not None:
                message = f"{len(item.labels)} are tightened one after the other, round the circle"
                hint = "add `in star order`, or allow it with the reason: the maker's order is another"
                yield Found(loop.labels.span, message, hint)


RULES = (
    Rule("reading-without-limit", "a reading that nothing judges", ("NM-02",), reading_without_limit, usual=False),
    Rule(
        "tolerance-digits", "the middle of a tolerance has more decimals than its width", ("NM-10",), tolerance_digits
    ),
    Rule("number-form", "a number in a text without its zero, or run together with its unit", ("NM-11",), number_form),
    Rule("torque-limits", "what is tightened to a torque, without instrument or limits", ("NM-12",), torque_limits),
    Rule("tightened-in-a-row", "bolts are tightened one after the other, not across", ("NM-12",), tightened_in_a_row),
)
