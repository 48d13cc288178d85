"""What a value has come to so far: readings, computed values and settings, filled in as events are gone through."""

from __future__ import annotations

from typing import Any

import attrs

from proclang.engine.wording import to_read, with_doubt
from proclang.log.agree import uses_floats
from proclang.log.amounts import amount, amounts, signed_amount, typed_otherwise
from proclang.log.markdown import Md, code, inline, leading
from proclang.log.model import Fact

_WORDS = {"passes": "PASSES", "fails": "FAILS", "undecided": "UNDECIDED"}


@attrs.define
class Judged:
    """A verdict as it was recorded, and whether somebody accepted it as a deviation since."""

    at: str
    name: str
    key: str
    outcome: str
    limits: str
    beyond: str
    accepted: bool = False
    conforms: str = ""
    """The probability of conformity; empty where nothing is known of how far off the value may be."""

    guarded: str = ""
    """The probability that was asked for."""

    off: tuple[str, ...] = ()
    """How far off a guarded reading may be; a computed value says it itself."""

    @property
    def says(self) -> Md:
        """The verdict, the limits it was made with, by how much it is outside, and how sure it is."""
        limits = f" ({inline(self.limits)})" if self.limits else ""
        beyond = f", {inline(self.beyond)}" if self.beyond else ""
        asked = f" where {inline(self.guarded)} is asked for" if self.guarded else ""
        sure = f", conforms with {inline(self.conforms)}{asked}" if self.conforms else ""
        if self.off:
            sure += f", known to ± {inline(self.off[1])} ({inline(self.off[2])})"
        return Md(f"{_WORDS.get(self.outcome) or inline(self.outcome)}{limits}{beyond}{sure}")

    @property
    def stands_open(self) -> bool:
        """Out of tolerance, or not decided, and nobody has accepted it."""
        return self.outcome != "passes" and not self.accepted

    @classmethod
    def of(cls, event: dict[str, Any]) -> Judged:
        """The verdict of an event."""
        key = event.get("key", "")
        limits, beyond = event.get("limits", ""), event.get("beyond", "")
        judged = cls(event.get("at", ""), event["name"], key, event["outcome"], limits, beyond)
        judged.conforms, judged.guarded = event.get("conforms", ""), event.get("guarded", "")
        judged.off = tuple(event.get("off", ()))
        return judged


@attrs.define
class Reading:
    """One reading, and what it did to the value it is one of."""

    at: str
    typed: str
    value: str
    instrument: Md
    implausible: bool
    number: int = 1
    """Which reading of its series."""

    used: str = ""
    by_worst: bool = False
    verdicts: list[Judged] = attrs.field(factory=list)
    mark: str = ""
    struck: tuple[Md, ...] = ()
    """What was typed here wrongly, and struck."""

    @property
    def says(self) -> Md:
        """The reading in one line, without its place."""
        said: list[str] = [amount(self.value)]
        if typed_otherwise(self.typed, self.value):
            said.append(f"typed {code(self.typed)}")
        if self.number > 1:
            said.append(f"reading {self.number} of its series")
            if self.used:
                said.append(f"{'worst' if self.by_worst else 'mean'} {amount(self.used)}")
        said.extend(v.says for v in self.verdicts)
        if self.instrument:
            said.append(f"with {self.instrument}")
        if self.implausible:
            said.append("outside what was expected, and insisted on")
        if self.mark:
            said.append(self.mark)
        said.extend(self.struck)
        return Md("; ".join(said))


@attrs.define
class Computed:
    """A computed value, or the labelled values one formula gave."""

    where: str
    values: dict[str, str]
    formula: str
    inputs: dict[str, str]
    off: dict[str, list[str]] = attrs.field(factory=dict)
    """How far off each value may be, as it was recorded."""

    stands: dict[str, str] = attrs.field(factory=dict)
    """How well the calculations stand whose standing goes with every result."""

    verdicts: dict[str, Judged] = attrs.field(factory=dict)
    spread: Judged | None = None
    mark: str = ""

    def fact(self) -> Fact:
        """The value, and below it the formula and what went into it, one a line."""
        tail = [self.spread.says] if self.spread is not None else []
        tail += [Md(self.mark)] if self.mark else []
        under = [Md(f"by {code(self.formula)}"), *(Md(f"{code(n)}: {amounts(v)}") for n, v in self.inputs.items())]
        if len(self.values) == 1:
            ((label, value),) = self.values.items()
            says = [self._value(label, value), *self._verdict(label), *tail]
            return Fact(code(self.where), Md("; ".join(says)), (*under, *self._made_of(label), *self._standings()))
        for label, value in self.values.items():
            under.append(Md("; ".join([f"{code(label)}: {self._value(label, value)}", *self._verdict(label)])))
        under.extend(self._standings())
        return Fact(code(self.where), Md("; ".join([f"{len(self.values)} values", *tail])), tuple(under))

    def _value(self, label: str, value: str) -> Md:
        """The value to the digits it deserves, with what it may be off; as it was stored where nothing is known."""
        if label in self.off:
            return inline(with_doubt(value, self.off[label], 12))
        return inline(to_read(value)) if uses_floats(self.formula) else amount(value)

    def _made_of(self, label: str) -> list[Md]:
        """How the uncertainty was found, and its largest parts."""
        if label not in self.off:
            return []
        standard, _, how, parts = self.off[label]
        made = f", made of {inline(parts)}" if parts else ""
        return [Md(f"standard uncertainty {inline(standard)}; {inline(how)}{made}")]

    def _standings(self) -> list[Md]:
        """Of calculations somebody may hang a load on: how well each is known, once for all results of a line."""
        return [
            Md(f"{code(name)}: {inline(standing)}; arithmetic only, a competent person decides")
            for name, standing in self.stands.items()
        ]

    def _verdict(self, label: str) -> list[Md]:
        return [self.verdicts[label].says] if label in self.verdicts else []


@attrs.define
class Setting:
    """A value that was typed into equipment, and what the equipment showed afterwards."""

    at: str
    title: str
    value: str
    formula: str
    inputs: dict[str, str]
    entered: bool = False
    readings: list[tuple[str, Reading]] = attrs.field(factory=list)

    def fact(self) -> Fact:
        """What was to be set, how it came about, and each reading back."""
        under = [Md(f"by {code(self.formula)}"), *(Md(f"{code(n)}: {amounts(v)}") for n, v in self.inputs.items())]
        under += [Md(f"{leading(phase)}: {reading.says}") for phase, reading in self.readings]
        if self.entered:
            under.append(Md("entered"))
        title = f"{inline(self.title)}: " if self.title else ""
        return Fact(code(self.at), Md(f"{title}set to {signed_amount(self.value)}"), tuple(under))


@attrs.define
class Deviation:
    """Something that was not as it should be, and was accepted."""

    where: Md
    reason: str
    by: Md
    what: list[Md]

    def fact(self) -> Fact:
        """What it was, why it was accepted, and by which role."""
        return Fact(self.where, Md(f"accepted by {self.by}"), (*self.what, Md(f"reason: {code(self.reason)}")))
