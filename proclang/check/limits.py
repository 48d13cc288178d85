"""Limits that no plausible value meets, or that every one does, and defaults outside what is written under them.

For each value with limits the range it can be in is worked out from what is plausible for the readings and facts in its
formula (`ranges`), and so are the limits. What is found is so for every value that is admitted; an input with a default
is also taken to stand at it, for limits that nothing meets.

Codes: `never-passes`, `default-outside` (errors), `always-passes` (warning).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

import attrs

from proclang.check.ranges import End, Range, Ranges, point
from proclang.program import model as m
from proclang.program.facets import shared_unit
from proclang.program.scope import Scope, read_number
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Diagnostic, Label, Problem, Severity
from proclang.values.dimension import NUMBER, Dimension
from proclang.values.number import NumberError
from proclang.values.quantity import FULL_TURN, Quantity
from proclang.values.tolerance import Limits, Outcome, between, judge
from proclang.values.unit import Unit

_LIMITS = (n.WithinAround, n.WithinUneven, n.WithinRange, n.Bound)


def find_idle_limits(tree: n.File, scope: Scope, routine: m.Routine | None) -> list[Diagnostic]:
    """Findings about one procedure."""
    if routine is None:
        return []
    found = [finding for symbol in routine.inputs for finding in _about_default(symbol)]
    looks = [_Look(scope, routine, defaults=False)]
    if any(isinstance(symbol.default, Quantity) for symbol in routine.inputs):
        looks.append(_Look(scope, routine, defaults=True))
    for node in (x for section in tree.all(n.Section) for x in n.nested(section.body)):
        if isinstance(node, n.Measure):
            found += _told(looks, node, node.name, node.facets)
        elif isinstance(node, n.Compute) and len(node.targets) == 1:
            found += _told(looks, node, node.targets[0].name, node.facets)
        elif isinstance(node, (n.Compute, n.Perform, n.SetValue)):
            for look in looks:
                look.forget(node)
    return found


def _told(
    looks: Sequence[_Look], node: n.Measure | n.Compute, name: n.Name, facets: Sequence[n.Facet | n.Broken]
) -> Iterator[Diagnostic]:
    """What is found with one value: what is certain for every fact of the site before what is so at the defaults."""
    values = [look.range_of(node, facets) for look in looks]
    for look, value in zip(looks, values, strict=True):
        finding = next(look.about(name, value, facets), None) if facets else None
        if finding is not None:
            yield finding
            break
    for look, value in zip(looks, values, strict=True):
        look.note(name.text, value)


# ---------------------------------------------------------------------------- inputs


def _about_default(symbol: m.Symbol) -> Iterator[Diagnostic]:
    if not isinstance(symbol.default, Quantity):
        return
    allowed: list[tuple[Limits, str]] = []
    for make, written in symbol.facets.limits:
        try:
            allowed.append((make(_Nothing()), written))
        except (m.NotKnown, NumberError):
            continue
    if symbol.facets.plausible is not None:
        allowed.append((between(*symbol.facets.plausible), "plausible"))
    for limits, written in allowed:
        if judge(symbol.default, limits).outcome is not Outcome.PASSES:
            what = "what is plausible for it" if written == "plausible" else f"its own `{written}`"
            yield Diagnostic(
                "default-outside",
                f"the default of `{symbol.name}` lies outside {what}",
                symbol.span,
                hint="a site that says nothing of it would be refused; mend one of the two",
            )
            return


class _Nothing:
    """Where limits ask for a value there is none yet."""

    def _not_known(self, name: str, key: str = "") -> Any:
        raise m.NotKnown(name)

    amount = series = label = outcome = _not_known

    def off(self, calculation: str) -> float:
        """No calculation is off here."""
        return 0.0


# ---------------------------------------------------------------------------- readings and results


@attrs.define
class _Look:
    """One going through a file. With `defaults`, inputs that have a default stand at it."""

    scope: Scope
    routine: m.Routine
    defaults: bool
    known: dict[str, Range] = attrs.field(factory=dict)
    ranges: Ranges = attrs.field(init=False)
    _unknown: set[str] = attrs.field(factory=set)

    @ranges.default
    def _ranges(self) -> Ranges:
        return Ranges(self.scope, self.known)

    def __attrs_post_init__(self) -> None:
        for symbol in self.routine.inputs:
            if isinstance(symbol.type, m.Amount) and not symbol.type.dimension.is_bearing:
                if self.defaults and isinstance(symbol.default, Quantity):
                    self.known[symbol.name] = point(symbol.default)
                else:
                    self.known[symbol.name] = _admitted(symbol, symbol.type.dimension)

    def note(self, name: str, found: Range | None) -> None:
        """What a line makes of a name; lines that exclude each other may all set it."""
        if found is None or name in self._unknown:
            self._unknown.add(name)
            self.known.pop(name, None)
        else:
            before = self.known.get(name)
            self.known[name] = found if before is None else found.joined(before)

    def forget(self, node: n.Compute | n.Perform | n.SetValue) -> None:
        """Nothing is known of what these lines set."""
        if isinstance(node, n.Compute):
            names = [target.name for target in node.targets]
        elif isinstance(node, n.Perform):
            names = [part.into or part.name for part in node.parts if isinstance(part, n.Take)]
        else:
            names = [node.name]
        for name in names:
            self.note(name.text, None)

    def range_of(self, node: n.Measure | n.Compute, facets: Sequence[n.Facet | n.Broken]) -> Range | None:
        """Where the value of a line lies: what is plausible for a reading, what a formula can come to."""
        if isinstance(node, n.Compute):
            return self.ranges.of(node.value)
        symbol = self.routine.symbols[node.name.text]
        assert isinstance(symbol.type, m.Amount)
        dimension = symbol.type.dimension
        if dimension.is_bearing:
            return None
        plausible = next((x for x in facets if isinstance(x, n.Plausible)), None)
        if plausible is None:
            return Range(None, None, dimension)
        unit = shared_unit(plausible.low, plausible.high)
        low, high = self._bound(plausible.low, unit), self._bound(plausible.high, unit)
        return None if low is None or high is None else Range(low.low, high.high, dimension)

    def about(self, name: n.Name, value: Range | None, facets: Sequence[n.Facet | n.Broken]) -> Iterator[Diagnostic]:
        """Findings about one value that lies within a range, the most telling first."""
        symbol = self.routine.symbols[name.text]
        limits = [x for x in facets if isinstance(x, _LIMITS)]
        if isinstance(symbol.type, m.Amount) and symbol.type.dimension.is_bearing:
            if not self.defaults:
                yield from _round(symbol, name, limits)
            return
        ends = [self._ends(x) for x in limits]
        lows = [(low, x) for (low, _), x in zip(ends, limits, strict=True) if low is not None]
        highs = [(high, x) for (_, high), x in zip(ends, limits, strict=True) if high is not None]
        yield from self._never(name, value, lows, highs)
        if not self.defaults and value is not None:
            yield from self._always(symbol, name, value, ends, facets)

    def _never(
        self,
        name: n.Name,
        value: Range | None,
        lows: Sequence[tuple[Range, n.Facet]],
        highs: Sequence[tuple[Range, n.Facet]],
    ) -> Iterator[Diagnostic]:
        low = max(((x.low, at) for x, at in lows if x.low is not None), key=lambda x: x[0], default=None)
        high = min(((x.high, at) for x, at in highs if x.high is not None), key=lambda x: x[0], default=None)
        where = ", with the inputs at their defaults," if self.defaults else ""
        if low is not None and high is not None and low[0] > high[0]:
            also = (Label(low[1].span, "and this is above it"),) if low[1] is not high[1] else ()
            message = f"{where} no value lies within the limits of `{name}`".removeprefix(", ").strip()
            yield Diagnostic("never-passes", message, high[1].span, hint="mend the limits", also=also)
        if value is None:
            return
        beyond: n.Facet | None = None
        if low is not None and value.high is not None and value.high < low[0]:
            beyond = low[1]
        elif high is not None and value.low is not None and value.low > high[0]:
            beyond = high[1]
        if beyond is not None:
            message = f"{where} no plausible value of `{name}` lies within this limit".removeprefix(", ").strip()
            hint = "every crew would fail here; mend the limit, or what is plausible for what it is made of"
            yield Diagnostic("never-passes", message, beyond.span, hint=hint)

    def _always(
        self,
        symbol: m.Symbol,
        name: n.Name,
        value: Range,
        ends: list[tuple[Range | None, Range | None] | tuple[None, None]],
        facets: Sequence[n.Facet | n.Broken],
    ) -> Iterator[Diagnostic]:
        if any(isinstance(x, (n.Counts, n.Guarded, n.Broken)) for x in facets):
            return
        spread = next((x for x in facets if isinstance(x, n.Spread)), None)
        if spread is not None and symbol.facets.spread is not None:
            apart = None if value.low is None or value.high is None else value.high - value.low
            if apart is not None and symbol.facets.spread.value >= apart:
                yield _idle(name, spread, "no two plausible readings of", "lie further apart")
            return
        if ends and all(_inside(value, low, high) for low, high in ends):
            limit = next(x for x in facets if isinstance(x, _LIMITS))
            yield _idle(name, limit, "every plausible value of", "passes")

    # ------------------------------------------------------------------ limits

    def _ends(self, facet: n.Facet) -> tuple[Range | None, Range | None]:
        """Between what the lower and the upper limit lie; a `Range` without ends where nothing is known."""
        if isinstance(facet, n.Bound):
            end = self._bound(facet.value, None) or _NOT_KNOWN
            return (None, end) if facet.most else (end, None)
        if isinstance(facet, n.WithinRange):
            unit = shared_unit(facet.low, facet.high)
            return self._bound(facet.low, unit) or _NOT_KNOWN, self._bound(facet.high, unit) or _NOT_KNOWN
        if isinstance(facet, n.WithinAround):
            unit = shared_unit(facet.centre, facet.half)
            halves = (facet.half, facet.half)
        else:
            assert isinstance(facet, n.WithinUneven)
            halves = (n.Literal(facet.minus, span=facet.minus.span), n.Literal(facet.plus, span=facet.plus.span))
            unit = shared_unit(facet.centre, halves[1], halves[0])
        centre = self._bound(facet.centre, unit if unit is not None and unit.symbol != "%" else None)
        under, over = (self._amount(centre, half, unit) for half in halves)
        if centre is None or under is None or over is None:
            return _NOT_KNOWN, _NOT_KNOWN
        low = Range(_less(centre.low, under.high), _less(centre.high, under.low), centre.dimension)
        high = Range(_plus(centre.low, over.low), _plus(centre.high, over.high), centre.dimension)
        return low, high

    def _amount(self, centre: Range | None, half: n.Expression, unit: Unit | None) -> Range | None:
        """A tolerance in base units; a share is one of the size of the value in the middle."""
        share = isinstance(half, n.Literal) and half.number.typed.rstrip().endswith("%")
        amount = self._bound(half, None if share else unit)
        if centre is None or amount is None or not share or centre.dimension.is_number:
            return amount
        if centre.low is None or centre.high is None or amount.low is None:
            return Range(Fraction(0), None, centre.dimension)
        sizes = (abs(centre.low), abs(centre.high))
        least = Fraction(0) if centre.low < 0 < centre.high else min(sizes)
        return Range(least * amount.low, max(sizes) * amount.low, centre.dimension)

    def _bound(self, node: n.Expression, unit: Unit | None) -> Range | None:
        if not isinstance(node, n.Literal):
            return self.ranges.of(node)
        entered = read_number(node.number.typed)
        if not isinstance(entered, Problem) and unit is not None and entered.unit.symbol == "":
            entered = read_number(node.number.typed, unit)
        return None if isinstance(entered, Problem) else point(entered.quantity)


_NOT_KNOWN = Range(None, None, NUMBER)


def _less(a: End, b: End) -> End:
    return None if a is None or b is None else a - b


def _plus(a: End, b: End) -> End:
    return None if a is None or b is None else a + b


def _inside(value: Range, low: Range | None, high: Range | None) -> bool:
    """Whether every value of a range lies within a limit, wherever that is."""
    if low is not None and (value.low is None or low.high is None or value.low < low.high):
        return False
    return high is None or (value.high is not None and high.low is not None and value.high <= high.low)


def _admitted(symbol: m.Symbol, dimension: Dimension) -> Range:
    """What a site may say of a fact: within its limits and what is plausible for it."""
    lows: list[Fraction] = []
    highs: list[Fraction] = []
    if symbol.facets.plausible is not None:
        lows.append(symbol.facets.plausible[0].value)
        highs.append(symbol.facets.plausible[1].value)
    for make, _ in symbol.facets.limits:
        try:
            limits = make(_Nothing())
        except (m.NotKnown, NumberError):
            continue
        lows += [limits.low] if limits.low is not None else []
        highs += [limits.high] if limits.high is not None else []
    return Range(max(lows, default=None), min(highs, default=None), dimension)


def _idle(name: n.Name, facet: n.Facet, who: str, does: str) -> Diagnostic:
    return Diagnostic(
        "always-passes",
        f"{who} `{name}` {does}: this limit judges nothing",
        facet.span,
        hint="tighten the limit, widen what is plausible, or leave the limit out",
        severity=Severity.WARNING,
    )


# ---------------------------------------------------------------------------- bearings


def _round(symbol: m.Symbol, name: n.Name, limits: Sequence[n.Facet]) -> Iterator[Diagnostic]:
    """Limits of a bearing, written in numbers, which go round from the lower clockwise to the upper."""
    arcs: list[tuple[_Arc, n.Facet]] = []
    for (make, _), facet in zip(symbol.facets.limits, limits, strict=False):
        try:
            arc = make(_Nothing())
        except (m.NotKnown, NumberError):
            continue
        if arc.low is not None and arc.high is not None:
            arcs.append(((arc.low, (arc.high - arc.low) % FULL_TURN), facet))
    for number, (one, facet) in enumerate(arcs):
        for other, elsewhere in arcs[:number]:
            if not _meet(one, other):
                message = f"no value lies within the limits of `{name}`"
                also = (Label(elsewhere.span, "this limit is elsewhere on the circle"),)
                yield Diagnostic("never-passes", message, facet.span, hint="mend the limits", also=also)
    if symbol.facets.plausible is None or not arcs:
        return
    low, high = (end.value for end in symbol.facets.plausible)
    expected = (low % FULL_TURN, (high - low) % FULL_TURN)
    for arc_of, facet in arcs:
        if not _meet(expected, arc_of):
            message = f"no plausible value of `{name}` lies within this limit"
            hint = "bearings go clockwise from the first to the second"
            yield Diagnostic("never-passes", message, facet.span, hint=hint)
    if all((expected[0] - start) % FULL_TURN + expected[1] <= width for (start, width), _ in arcs):
        yield _idle(name, arcs[0][1], "every plausible value of", "passes")


_Arc = tuple[Fraction, Fraction]
"""Where an arc begins, and how wide it is, clockwise."""


def _meet(a: _Arc, b: _Arc) -> bool:
    """Whether two arcs have a bearing in common."""
    return (b[0] - a[0]) % FULL_TURN <= a[1] or (a[0] - b[0]) % FULL_TURN <= b[1]
