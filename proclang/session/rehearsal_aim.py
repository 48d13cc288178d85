"""Finding readings from which the values that are worked out come out as they are wanted.

What is wanted is a sum of squares: how far each judged value is from the middle of its limits, or from where it is to
come out. It is made small by damped least squares (Levenberg 1944, Marquardt 1963, from memory) with differences for
derivatives, from a likely beginning and then from drawn ones.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

import attrs

from proclang.program import model as m
from proclang.session.rehearsal_outlook import Ahead, Key, Outlook, ToJudge, ToRead

Judged = tuple[str, str, str, str]
"""Procedure, address, name and label of a value that is judged."""

_ROUNDS = 14
_BEGINNINGS = 7
_NEAR = 0.3
"""So little is left to the engine to judge: a value a tenth of its limits off the middle part of them still passes."""

_UNKNOWN = 1e6
"""What a value that cannot be worked out counts: more than one that is ever so far off."""

_RINGS = 250
"""Circles that are tried where points have to stand in order."""

_WELL_WITHIN = 0.6
"""The share of the limits, from their middle, in which a value that is to pass is left alone."""


@attrs.frozen
class Aim:
    """A value that is to come out at `wanted`; or, with `spread`, the spread of its series."""

    at: Judged
    wanted: Fraction
    spread: bool = False


@attrs.frozen
class Found:
    """Readings, what they lead to, and how far that is from what is wanted (0: all of it)."""

    readings: dict[Key, Fraction]
    outlook: Outlook
    short: float


def judged_at(judged: ToJudge) -> Judged:
    """Which judged value it is."""
    return judged.routine, judged.instr.address, judged.symbol.name, judged.key


def is_count(symbol: m.Symbol) -> bool:
    """Whether a value is in pieces, of which there are no halves."""
    return symbol.unit is not None and symbol.unit.symbol == "pieces"


def unit_of(symbol: m.Symbol) -> Fraction:
    """The size of its unit."""
    return symbol.unit.factor if symbol.unit is not None else Fraction(1)


def scale_of(judged: ToJudge) -> Fraction:
    """A size to measure by how far a value is from its limits."""
    for limits in judged.allowed:
        if limits.low is not None and limits.high is not None:
            apart = limits.high - limits.low
            half = (apart % 360 if limits.dimension.is_bearing else apart) / 2
            if half > 0:
                return half
    ends = [abs(e) for limits in judged.allowed for e in (limits.low, limits.high) if e]
    unit = unit_of(judged.symbol)
    if judged.symbol.type.dimension.is_instant:  # type: ignore[union-attr]
        return Fraction(600)
    return max([unit / 100, *(e / 2 for e in ends)]) if ends else unit


def solve(
    ahead: Ahead,
    answers: Mapping[Key, str],
    begin: Mapping[Key, Fraction],
    held: Mapping[Key, Fraction],
    aims: Mapping[Judged, Aim],
    until: Judged | None,
    rng: random.Random,
) -> Found:
    """Readings with which every value up to `until` passes well, but those aimed at come out as wanted. `held` are not
    touched."""
    best = _from(ahead, answers, _beginning(ahead, answers, begin, held, rng), held, aims, until)
    for attempt in range(1, _BEGINNINGS):
        if best.short < _NEAR and not best.outlook.unknown:
            break
        around = None
        if best.outlook.unknown:
            for anew in (_round_circles, _scattered):
                around = around or anew(ahead, answers, best, held, aims, until, rng)
        start = around if around is not None else _redrawn(ahead, best, held, aims, until, attempt, rng)
        found = _from(ahead, answers, start, held, aims, until)
        if found.short < best.short:
            best = found
    return best


def _beginning(
    ahead: Ahead,
    answers: Mapping[Key, str],
    begin: Mapping[Key, Fraction],
    held: Mapping[Key, Fraction],
    rng: random.Random,
) -> dict[Key, Fraction]:
    readings = {**begin, **held}
    for coming in ahead.look(readings, answers).readings:
        if coming.key not in readings:
            # Never quite the same for two readings: many a sum has no value for points that are one.
            readings[coming.key] = drawn(coming, rng, 0.005)
    return readings


def _redrawn(
    ahead: Ahead,
    best: Found,
    held: Mapping[Key, Fraction],
    aims: Mapping[Judged, Aim],
    until: Judged | None,
    attempt: int,
    rng: random.Random,
) -> dict[Key, Fraction]:
    """The best so far, with those readings drawn anew that bear on what is not as wanted."""
    residuals, _ = _residuals(best.outlook, aims, until)
    readings = dict(best.readings)
    for coming in best.outlook.readings:
        if coming.key not in held and (
            _is_behind(ahead, best.outlook, coming) or _bears(ahead, best.outlook, coming, residuals)
        ):
            readings[coming.key] = drawn(coming, rng, min(1.0, 0.2 * attempt))
    return readings


def _round_circles(
    ahead: Ahead,
    answers: Mapping[Key, str],
    best: Found,
    held: Mapping[Key, Fraction],
    aims: Mapping[Judged, Aim],
    until: Judged | None,
    rng: random.Random,
) -> dict[Key, Fraction] | None:
    """Readings as of points that stand round a circle, in the order of their labels: there many a sum has a value that
    has none for points drawn anywhere. Its size is a length that is known of the site, or half of it."""
    series: dict[tuple[str, str], list[ToRead]] = {}
    for coming in best.outlook.readings:
        if coming.key not in held and not coming.allowed and coming.symbol is not None:
            series.setdefault((coming.routine, coming.symbol.name), []).append(coming)
    rings = {name: points for name, points in series.items() if len(points) >= 3}
    if not rings:
        return None
    sizes = [half for size in ahead.amounts_like(next(iter(rings.values()))[0].symbol) for half in (size / 2, size)]
    found: dict[Key, Fraction] | None = None
    least = best.short
    for _ in range(_RINGS if sizes else 0):
        size, readings = rng.choice(sizes), dict(best.readings)
        for points in rings.values():
            turn = rng.randrange(4)
            for n, coming in enumerate(points):
                share = math.cos(2 * math.pi * n / len(points) + turn * math.pi / 2)
                assert coming.symbol is not None
                readings[coming.key] = _rounded(coming.symbol, size * Fraction(round(share, 9)))
        look = ahead.look(readings, answers)
        short = _residuals(look, aims, until)[1]
        if short < least:
            found, least = readings, short
    return found


def _scattered(
    ahead: Ahead,
    answers: Mapping[Key, str],
    best: Found,
    held: Mapping[Key, Fraction],
    aims: Mapping[Judged, Aim],
    until: Judged | None,
    rng: random.Random,
) -> dict[Key, Fraction] | None:
    """Readings drawn over all that can be expected, small ones as often as great ones."""
    found: dict[Key, Fraction] | None = None
    least = best.short
    for _ in range(_RINGS):
        readings = dict(best.readings)
        small = rng.random()
        for coming in best.outlook.readings:
            symbol = coming.symbol
            if coming.key in held or coming.allowed or symbol is None or not _is_behind(ahead, best.outlook, coming):
                continue
            plausible = symbol.facets.plausible
            if plausible is not None and plausible[0].value >= 0 and rng.random() < 0.8:
                low, high = plausible[0].value, plausible[1].value
                share = Fraction(round(rng.random() ** (1 + 4 * small), 6))
                readings[coming.key] = tidy(symbol, low + (high - low) * share)
            else:
                readings[coming.key] = drawn(coming, rng)
        short = _residuals(ahead.look(readings, answers), aims, until)[1]
        if short < least:
            found, least = readings, short
    return found


def _is_behind(ahead: Ahead, outlook: Outlook, coming: ToRead) -> bool:
    """Whether a reading may bear on a value that could not be worked out."""
    return any(
        name != coming.routine
        or (coming.symbol is not None and coming.symbol.name in ahead.behind(ahead.program.routine(name), lost))
        for name, lost in outlook.lost
    )


def drawn(coming: ToRead, rng: random.Random, width: float = 1.0) -> Fraction:
    """A reading from around where it may be expected."""
    symbol = coming.symbol
    assert symbol is not None
    value, reach = coming.value, _reach(coming)
    plausible = symbol.facets.plausible
    drawn_ = value + reach * Fraction(round(rng.uniform(-width, width), 6))
    if plausible is not None and not symbol.type.dimension.is_bearing:  # type: ignore[union-attr]
        drawn_ = min(max(drawn_, plausible[0].value), plausible[1].value)
    return tidy(symbol, drawn_)


def _reach(coming: ToRead) -> Fraction:
    symbol = coming.symbol
    assert symbol is not None
    for limits in coming.allowed:
        if limits.low is not None and limits.high is not None and limits.high != limits.low:
            apart = limits.high - limits.low
            return (apart % 360 if limits.dimension.is_bearing else apart) / 2
    plausible = symbol.facets.plausible
    if plausible is not None:
        return (plausible[1].value - plausible[0].value) / 2
    if symbol.type.dimension.is_instant:  # type: ignore[union-attr]
        return Fraction(43_200)
    return max(abs(coming.value) / 2, unit_of(symbol))


def tidy(symbol: m.Symbol, value: Fraction, step: Fraction | None = None) -> Fraction:
    """A value as somebody could read it off: in steps of the readout, of a count in whole pieces."""
    unit = symbol.unit
    if unit is None:
        return Fraction(round(value * 10_000), 10_000)
    number = (value - unit.zero) / unit.factor
    if is_count(symbol):
        return Fraction(max(0, round(number))) * unit.factor
    if symbol.type.dimension.is_instant:  # type: ignore[union-attr]
        return Fraction(round(value))
    if step is not None and step > 0:
        return round(number * unit.factor / step) * step + unit.zero
    size = abs(number)
    places = 4
    while size and size < Fraction(1, 10 ** (places - 3)) and places < 12:
        places += 1
    return Fraction(round(number * 10**places), 10**places) * unit.factor + unit.zero


# ---------------------------------------------------------------------------- least squares


def _residuals(outlook: Outlook, aims: Mapping[Judged, Aim], until: Judged | None) -> tuple[dict[Any, float], float]:
    """How far each value is from what is wanted; and how much of that counts as not reached."""
    found: dict[Any, float] = {}
    short = _UNKNOWN * outlook.unknown
    for judged in outlook.judged:
        at = judged_at(judged)
        scale = scale_of(judged)
        aim = aims.get(at)
        number = len(found)
        if aim is not None and not aim.spread:
            off = float(_apart(judged, judged.value, aim.wanted) / scale)
            found[(*at, number)] = 3 * off
            short += max(0.0, abs(off) - 0.02)
        elif aim is None:
            off = _off_middle(judged, scale)
            found[(*at, number)] = off
            short += abs(off)
        if judged.spread is not None and judged.symbol.facets.spread is not None:
            allowed = judged.symbol.facets.spread.value
            wide = allowed if allowed else unit_of(judged.symbol)
            if aim is not None and aim.spread:
                off = float((judged.spread - aim.wanted) / wide)
                short += max(0.0, abs(off) - 0.05)
            else:
                off = max(0.0, float(judged.spread / wide) - _WELL_WITHIN)
                short += off
            found[(*at, "spread", number)] = off
        if at == until:
            break
    for coming in outlook.readings:
        symbol = coming.symbol
        if symbol is not None and symbol.facets.plausible is not None:
            low, high = (end.value for end in symbol.facets.plausible)
            wide = (high - low) or unit_of(symbol)
            if not symbol.type.dimension.is_bearing:  # type: ignore[union-attr]
                off = 4 * float(max(low - coming.value, coming.value - high, Fraction(0)) / wide)
                found[coming.key] = off
                short += off
    return found, short


def _apart(judged: ToJudge, a: Fraction, b: Fraction) -> Fraction:
    bearing = judged.symbol.type.dimension.is_bearing  # type: ignore[union-attr]
    return (a - b + 180) % 360 - 180 if bearing else a - b


def _off_middle(judged: ToJudge, scale: Fraction) -> float:
    """How far a value that is to pass lies outside the inner part of its limits, by their size."""
    worst = 0.0
    for limits in judged.allowed:
        low, high = limits.low, limits.high
        if limits.dimension.is_bearing:
            if low is None or high is None:
                continue
            middle = low + (high - low) % 360 / 2
            off = float(_apart(judged, judged.value, middle) / scale)
            over = abs(off) - _WELL_WITHIN
            signed = over if off > 0 else -over
        elif low is not None and high is not None:
            off = float((judged.value - (low + high) / 2) / scale)
            over = abs(off) - _WELL_WITHIN if high > low else abs(off)
            signed = over if off > 0 else -over
        elif high is not None:
            over = float((judged.value - high) / scale) + (1 - _WELL_WITHIN) / 2
            signed = over
        elif low is not None:
            over = float((low - judged.value) / scale) + (1 - _WELL_WITHIN) / 2
            signed = -over
        else:
            continue
        if over > abs(worst):
            worst = signed
    return worst


def _from(
    ahead: Ahead,
    answers: Mapping[Key, str],
    begin: dict[Key, Fraction],
    held: Mapping[Key, Fraction],
    aims: Mapping[Judged, Aim],
    until: Judged | None,
) -> Found:
    readings = dict(begin)
    outlook = ahead.look(readings, answers)
    residuals, short = _residuals(outlook, aims, until)
    damping = 1e-3
    for _ in range(_ROUNDS):
        if short < 0.02:
            break
        free = [x for x in outlook.readings if x.key not in held and _bears(ahead, outlook, x, residuals)]
        if not free:
            break
        names = list(residuals)
        now = [residuals[name] for name in names]
        slopes: list[list[float]] = []
        for coming in free:
            shifted, _ = _residuals(
                ahead.look({**readings, coming.key: coming.value + _step(coming)}, answers), aims, until
            )
            slopes.append([(shifted.get(name, r) - r) * 1000.0 for name, r in zip(names, now, strict=True)])
        square = [[_times(x, y) for y in slopes] for x in slopes]
        pull = [-_times(x, now) for x in slopes]
        bettered = False
        for _ in range(5):
            damped = [
                [x + damping * (1 + x) if i == j else x for j, x in enumerate(row)] for i, row in enumerate(square)
            ]
            move = _solved(damped, pull)
            moved = dict(readings)
            for coming, by in zip(free, move, strict=True):
                change = Fraction(round(min(5.0, max(-5.0, by)), 7)) * _step(coming) * 1000
                assert coming.symbol is not None
                moved[coming.key] = _rounded(coming.symbol, coming.value + change)
            ahead_of = ahead.look(moved, answers)
            then, still = _residuals(ahead_of, aims, until)
            if still < short:
                bettered = still < 0.97 * short
                readings, outlook, residuals, short = moved, ahead_of, then, still
                damping = max(1e-9, damping / 5)
                break
            damping *= 8
        if not bettered:
            break
    return _tidied(ahead, answers, readings, held, aims, until, Found(readings, outlook, short))


def _times(a: list[float], b: list[float]) -> float:
    return sum(x * y for x, y in zip(a, b, strict=True))


def _solved(square: list[list[float]], right: list[float]) -> list[float]:
    """The solution of equations whose matrix is symmetric and, being damped, positive: by elimination."""
    rows = [[*row, value] for row, value in zip(square, right, strict=True)]
    count = len(rows)
    for i in range(count):
        for j in range(i + 1, count):
            factor = rows[j][i] / rows[i][i]
            if factor:
                rows[j] = [a - factor * b for a, b in zip(rows[j], rows[i], strict=True)]
    found = [0.0] * count
    for i in reversed(range(count)):
        rest = sum(rows[i][j] * found[j] for j in range(i + 1, count))
        found[i] = (rows[i][count] - rest) / rows[i][i]
    return found


def _tidied(
    ahead: Ahead,
    answers: Mapping[Key, str],
    readings: dict[Key, Fraction],
    held: Mapping[Key, Fraction],
    aims: Mapping[Judged, Aim],
    until: Judged | None,
    found: Found,
) -> Found:
    """The same in numbers that somebody could read off; counts are tried one up and one down."""
    tidied = {
        x.key: x.value if x.key in held or x.symbol is None else tidy(x.symbol, x.value) for x in found.outlook.readings
    }
    outlook = ahead.look(tidied, answers)
    short = _residuals(outlook, aims, until)[1]
    counts = [x for x in outlook.readings if x.symbol is not None and is_count(x.symbol) and x.key not in held]
    for coming in counts[:12]:
        for by in (1, -1, 2, -2):
            if short < 1e-6:
                break
            assert coming.symbol is not None
            other = {**tidied, coming.key: max(Fraction(0), tidied[coming.key] + by * unit_of(coming.symbol))}
            look = ahead.look(other, answers)
            less = _residuals(look, aims, until)[1]
            if less < short:
                tidied, outlook, short = other, look, less
    return Found(tidied, outlook, short)


def _rounded(symbol: m.Symbol, value: Fraction) -> Fraction:
    """A value whose fraction stays short, so that a thousand sums stay quick."""
    fine = unit_of(symbol) / 10**6
    value = round(value / fine) * fine
    plausible = symbol.facets.plausible
    if plausible is not None and not symbol.type.dimension.is_bearing:  # type: ignore[union-attr]
        value = min(max(value, plausible[0].value), plausible[1].value)
    return value % 360 if symbol.type.dimension.is_bearing else value  # type: ignore[union-attr]


def _step(coming: ToRead) -> Fraction:
    return _reach(coming) / 1000


def _bears(ahead: Ahead, outlook: Outlook, coming: ToRead, residuals: Mapping[Any, float]) -> bool:
    """Whether a reading may bear on any value that is not as wanted."""
    if residuals.get(coming.key):
        return True
    routine = ahead.program.routine(coming.routine)
    for at, off in residuals.items():
        if not off or not isinstance(at[0], str):
            continue
        if at[0] != coming.routine:
            return True
        if coming.symbol is not None and coming.symbol.name in ahead.behind(routine, at[2]):
            return True
    return False
