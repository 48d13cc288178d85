"""An independent word on instruments: whether a reading can ever be shown to lie within its limits.

Only what is plain: a value that is read, its limits written as numbers, its instrument described in numbers. Errors are
drawn at random as the words say (LANGUAGE.md, chapter 5): limits and readouts are uniform, repeats and figures with a
coverage factor are normal.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from fractions import Fraction

from judge_lookups import amount

from proclang.syntax import nodes as n

DRAWS = 4000


def judge_instruments(tree: n.File) -> Iterator[str]:
    """Readings that no instrument as described can show to pass."""
    instruments = {one.name.text: one for one in tree.every(n.Instrument)}
    for measure in tree.every(n.Measure):
        if measure.instrument is None or measure.instrument.text not in instruments:
            continue
        half = _half(measure)
        if half is None:
            continue
        guarded = any(isinstance(facet, n.Guarded) for facet in measure.facets)
        instrument = instruments[measure.instrument.text]
        reads = [amount(a.value) for a in instrument.abilities if a.what == "reads to"]
        if reads and reads[0] is not None and reads[0][0] == half[0] and reads[0][1] > 2 * half[1] > 0:
            yield f"{measure.name.text} is read in steps wider than its limits"
        elif guarded and _best(instrument, half) < 0.95:
            yield f"{measure.name.text} can never be shown to pass"


def _half(measure: n.Measure) -> tuple[str, Fraction] | None:
    for facet in measure.facets:
        if isinstance(facet, n.WithinAround):
            return amount(facet.half)
        if isinstance(facet, n.WithinRange):
            low, high = amount(facet.low, facet.high), amount(facet.high)
            if low is not None and high is not None and low[0] == high[0]:
                return low[0], (high[1] - low[1]) / 2
    return None


def _best(instrument: n.Instrument, half: tuple[str, Fraction]) -> float:
    """How many readings of the very middle lie within the limits."""
    rng = random.Random(1)
    parts: list[tuple[str, float]] = []
    for ability in instrument.abilities:
        how = amount(ability.value)
        if how is None or how[0] != half[0]:
            continue
        size = float(how[1])
        if ability.what == "reads to":
            parts.append(("uniform", size / 2))
        elif ability.what == "repeats to":
            parts.append(("normal", size))
        elif ability.what.startswith(("accurate", "calibrated to")):
            k = float(Fraction(ability.k.typed)) if ability.k is not None else 0.0
            parts.append(("normal", size / k) if k else ("uniform", size))
    within = 0
    for _ in range(DRAWS):
        off = sum(rng.uniform(-s, s) if how == "uniform" else rng.gauss(0, s) for how, s in parts)
        within += abs(off) <= float(half[1])
    return within / DRAWS
