"""What a formula asks for, as it was when a value was worked out: to work the value out once more, with some of it
shifted by as much as it may be off.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import cast

import attrs

from proclang.field.declare import Series
from proclang.program import model as m
from proclang.program.origins import Worked
from proclang.text.diagnostic import Problem
from proclang.values.show import parse_exact


@lru_cache(maxsize=4096)
def stored_value(text: str) -> Fraction:
    """A stored value in base units. Raises `ValueError` for what is none."""
    quantity = parse_exact(text)
    if isinstance(quantity, Problem):
        raise ValueError(f"the recorded value `{text[:60]}` cannot be read")
    return quantity.value


Outcome = Fraction | Series | tuple[Fraction | Series, ...] | None
"""What a formula gives: one quantity, a series, or a tuple of several results; None where it has no value."""


@attrs.frozen
class Behind:
    """The formula behind a value: which of its results the value is, and whether that is a bearing."""

    formula: m.Formula
    which: int
    bearing: bool

    def outcome(self, then: Then) -> Outcome:
        """All results of the formula with what stands in it, or None where it has none."""
        try:
            return cast(Outcome, self.formula.evaluate(then))
        except m.NotKnown:
            return None

    def pick(self, outcome: Outcome, key: str) -> Fraction | None:
        """The one result, and of a series the one label."""
        if isinstance(outcome, tuple):
            outcome = outcome[self.which]
        if isinstance(outcome, Series):
            return dict(outcome.items).get(key)
        return outcome if isinstance(outcome, Fraction) else None


Place = tuple[str, str, str]
"""What finds a formula: the kind of what works it out, its place, and the name of the result (`origins.Worked`)."""


def formulas_of(routine: m.Routine) -> dict[Place, Behind]:
    """Every formula of a routine. Of two that go by the same place, the first: they are the same text."""
    found: dict[Place, Behind] = {}
    for instr in routine.code:
        if isinstance(instr, m.ComputeValue):
            for which, (symbol, _, _) in enumerate(instr.targets):
                behind = Behind(instr.formula, which, _goes_round(symbol.type))
                found.setdefault(("compute", instr.formula.text, symbol.name), behind)
        elif isinstance(instr, m.SetInstr):
            behind = Behind(instr.formula, 0, _goes_round(instr.symbol.type))
            found.setdefault(("set", instr.formula.text, instr.symbol.name), behind)
        elif isinstance(instr, m.Call):
            for symbol, formula in instr.arguments:
                behind = Behind(formula, 0, _goes_round(symbol.type))
                found.setdefault(("argument", instr.address, symbol.name), behind)
    return found


def _goes_round(kind: m.Type) -> bool:
    return isinstance(kind, m.Amount) and kind.dimension.is_bearing


class Then:
    """What a formula asks for, as it was when the value was worked out, with some of it shifted."""

    def __init__(self, origin: Worked, symbols: Mapping[str, m.Symbol], facts: Mapping[str, str]) -> None:
        self._origin = origin
        self._symbols = symbols
        self._facts = facts
        self.shifted: dict[tuple[str, str], Fraction] = {}
        self.offs: dict[str, float] = {}
        self.asked: set[tuple[str, str]] = set()

    def amount(self, name: str, key: str) -> Fraction:
        """A value in base units."""
        self.asked.add((name, key))
        shifted = self.shifted.get((name, key))
        if shifted is not None:
            return shifted
        text = self._origin.values.get(name, {}).get(key)
        if text is None:
            raise m.NotKnown(f"`{name}` is not known")
        return stored_value(text)

    def series(self, name: str) -> Series:
        """A series in label order."""
        keys: Sequence[str] = tuple(self._origin.values.get(name, {}))
        symbol = self._symbols.get(name)
        if symbol is not None and isinstance(symbol.type, m.Amount) and len(symbol.type.axes) == 1:
            keys = symbol.type.axes[0]
        return Series(tuple((key, self.amount(name, key)) for key in keys))

    def label(self, name: str) -> str:
        """A choice, a text, or where a loop stood."""
        for loop, value in reversed(self._origin.loops):
            if loop == name:
                return str(value)
        text = self._origin.values.get(name, {}).get("")
        if text is None and name == "hemisphere":
            text = self._facts.get("hemisphere")
        if text is None:
            raise m.NotKnown(f"`{name}` is not known")
        return text

    def off(self, calculation: str) -> float:
        """How far off a model is taken to be."""
        return self.offs.get(calculation, 0.0)

    def outcome(self, name: str, key: str) -> str:
        """No formula with a verdict in it gives a quantity."""
        raise m.NotKnown(f"`{name}` is not judged here")
