"""Procedures of one section, lowered, and values for their formulas."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

import attrs

from proclang.field.declare import Series
from proclang.program import model as m
from proclang.program.build import Built, build
from proclang.program.load import load
from proclang.values.reader import Entered, read_quantity

HEADER = """\
proclang 1
procedure trial "Trial"
inputs
  latitude: angle
  ring: length = 540 mm
  slab: one of concrete, steel = concrete
labels corners 1 .. 4
table pulls of share
  snug 30 %
  full 100 %
needs
  instrument feeler "feeler gauges"
  crew lead, rigger
  authority lead
machine drum
  cap found fitted, left fitted
"""

DRUM = """\
proclang 1
machine drum "Drum"
kind cover
  states fitted, removed
kind bolt
  states slack, tight
cap: cover "cap"
bolts[1 .. 4]: bolt "bolt"
"""


@attrs.frozen
class Texts:
    """A library of texts by name."""

    texts: Mapping[str, str]

    def shown(self, name: str) -> str:
        """As a file would be called."""
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        """The bytes of a text."""
        return self.texts[name].encode() if name in self.texts else None

    def names(self) -> tuple[str, ...]:
        """Every name."""
        return tuple(self.texts)


def built(entry: str, files: Mapping[str, str]) -> Built:
    """The program of some texts."""
    return build(load(entry, files[entry].encode(), Texts(files)))


def routine(lines: str, *, header: str = HEADER, others: Mapping[str, str] | None = None) -> m.Routine:
    """The routine of a procedure whose one section has these lines; there must be no finding."""
    body = "".join(f"  {line}\n" for line in lines.rstrip("\n").split("\n"))
    text = f'{header}section main "Main"\n{body}'
    result = built("trial", {"trial": text, "drum": DRUM, **(others or {})})
    assert not result.findings, [(f.code, f.message) for f in result.findings]
    assert result.program is not None
    return result.program.main


def kinds(made: m.Routine) -> list[str]:
    """The instructions by their kind, without the frame of the section."""
    return [type(instr).__name__ for instr in made.code[1:-2]]


def amount(text: str) -> Fraction:
    """A quantity in base units."""
    entered = read_quantity(text)
    assert isinstance(entered, Entered)
    return entered.quantity.value


@attrs.define
class Known:
    """Values given by a test, as a formula asks for them: `{"gap": {"": "3 mm"}}`."""

    amounts: dict[str, dict[str, str]] = attrs.field(factory=dict)
    labels: dict[str, str] = attrs.field(factory=dict)
    outcomes: dict[str, dict[str, str]] = attrs.field(factory=dict)

    def amount(self, name: str, key: str) -> Fraction:
        """One value."""
        try:
            return amount(self.amounts[name][key])
        except KeyError:
            raise m.NotKnown(f"`{name}` is not known") from None

    def series(self, name: str) -> Series:
        """All labels."""
        return Series(tuple((key, amount(text)) for key, text in self.amounts[name].items()))

    def label(self, name: str) -> str:
        """A choice, a text or a loop's label."""
        try:
            return self.labels[name]
        except KeyError:
            raise m.NotKnown(f"`{name}` is not known") from None

    def off(self, calculation: str) -> float:
        """Models are taken as they stand."""
        return 0.0

    def outcome(self, name: str, key: str) -> str:
        """A verdict."""
        return self.outcomes.get(name, {}).get(key, "unknown")
