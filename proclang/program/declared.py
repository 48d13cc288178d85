"""What a procedure or a machine file declares: values, instruments, hazards, items and the rules between them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from fractions import Fraction

import attrs

from proclang.program.types import Env, Template, Type
from proclang.text.span import Span
from proclang.values.dimension import Dimension
from proclang.values.quantity import Quantity
from proclang.values.tolerance import Limits
from proclang.values.unit import Unit


@attrs.frozen
class Claim:
    """How far off something may be, as its author says: an amount or a share, limits or with a coverage factor."""

    amount: Quantity
    k: Fraction | None = None
    """None: the amount is a limit, and the error equally likely anywhere within it."""

    share: bool = False
    """The amount is a share of the value it is said of."""


@attrs.frozen
class Facets:
    """The limits on a value. Each entry of `limits` gives the limits and the line they were written in."""

    limits: tuple[tuple[Callable[[Env], Limits], str], ...] = ()
    plausible: tuple[Quantity, Quantity] | None = None
    spread: Quantity | None = None
    worst: bool = False
    no_deviation: bool = False
    """Nobody may accept a value outside the limits."""

    guarded: Fraction | None = None
    """The probability of conformity a verdict asks for; None: a value is judged as it stands."""

    known: Claim | None = None
    """How far off a value is that no instrument answers for: a fact of the site, a reading by eye."""

    @property
    def judged(self) -> bool:
        """Whether a value with these facets has a verdict."""
        return bool(self.limits) or self.spread is not None


@attrs.frozen
class Symbol:
    """A name that holds a value. `how` is one of input, read, computed, chosen, confirmed, noted, photo, answered,
    set, given, label."""

    name: str
    type: Type
    how: str
    span: Span = attrs.field(eq=False)
    unit: Unit | None = None
    facets: Facets = attrs.field(factory=Facets)
    title: str = ""
    instrument: str | None = None
    former: str | None = None
    default: Quantity | str | None = None


@attrs.frozen
class Instrument:
    """A measuring instrument a procedure needs, and what its author says of it."""

    name: str
    title: str
    reads_to: Quantity | None = None
    """The step of its readout."""

    repeats_to: Claim | None = None
    """Standard deviation of readings repeated on one thing."""

    accurate_to: Claim | None = None
    in_all: bool = False
    """What it is accurate to includes what it reads and repeats to."""

    calibrated_to: Claim | None = None
    drifts_by: Claim | None = None
    """How far its zero may wander from one sitting to the next."""

    calibrated_within: Quantity | None = None
    said: tuple[str, ...] = ()
    """All of it as it was written, `reads to 0.1 arcmin`: people are shown the author's own units."""

    @property
    def reads(self) -> Dimension | None:
        """The quantity it reads: that of its readout, else of what else is said of it; None for shares alone."""
        if self.reads_to is not None:
            return self.reads_to.dimension
        said = (self.repeats_to, self.accurate_to, self.calibrated_to, self.drifts_by)
        return next((x.amount.dimension for x in said if x is not None and not x.amount.dimension.is_number), None)


@attrs.frozen
class Asked:
    """The fact a hazard is answered with at its step."""

    name: str
    text: Template
    unit: Unit | None


@attrs.frozen
class HazardInfo:
    """A hazard callout: signal word, what it is, what happens, how it is avoided."""

    word: str
    name: str
    title: Template
    risk: Template | None
    avoid: Template | None
    asks: tuple[Asked, ...] = ()


@attrs.frozen
class MachineItem:
    """An item of a machine or a set of them; `labels` is empty for a single one."""

    name: str
    kind: str
    states: tuple[str, ...]
    labels: tuple[str, ...]
    title: str


@attrs.frozen
class ItemPlace:
    """An item, or one or all of a set: `label` is a fixed label, the name of a loop variable, or None for all."""

    machine: str
    item: str
    labels: tuple[str, ...] = ()
    variable: str | None = None
    whole: bool = True

    def keys(self, label: str | None = None) -> tuple[str, ...]:
        """The keys of the hardware map this place stands for; `label` is where the loop variable stands."""
        if self.variable is not None:
            return (f"{self.item}[{label}]",)
        return tuple(f"{self.item}[{x}]" for x in self.labels) if self.labels else (self.item,)

    @property
    def text(self) -> str:
        """The place as it is written."""
        if self.variable is not None:
            return f"{self.item}[{self.variable}]"
        if self.labels and not self.whole:
            return f"{self.item}[{', '.join(self.labels)}]"
        return self.item


@attrs.frozen
class Condition:
    """`mirror_cover is fitted`"""

    place: ItemPlace
    state: str


@attrs.frozen
class Interlock:
    """A standing rule of the machine. `state` None: the item may change only while the conditions hold. `becomes`: they
    have to hold when it comes into the state, and not for as long as it is in it."""

    place: ItemPlace
    state: str | None
    conditions: tuple[Condition, ...]
    text: str
    becomes: bool = False

    @property
    def of_change(self) -> bool:
        """Whether it has to hold before a change, and not for as long as a state lasts."""
        return self.state is None or self.becomes

    def bears_on(self, moving: Collection[str], state: str, condition: Condition) -> bool:
        """Whether items that come into a state have to do with this rule and one condition of it."""
        moved = not set(moving).isdisjoint(self.place.keys())
        if self.of_change:
            return moved and (self.state is None or state == self.state)
        return moved or not set(moving).isdisjoint(condition.place.keys())


@attrs.frozen
class Demand:
    """`due before laser is on` below a hazard: what it is to be said before. `state` None: any change."""

    hazard: str
    place: ItemPlace
    state: str | None
    span: Span = attrs.field(eq=False)

    def touches(self, place: ItemPlace, state: str) -> bool:
        """Whether a change of some hardware is one of these."""
        if place.item != self.place.item or self.state not in (None, state):
            return False
        return not self.place.labels or not set(self.place.labels).isdisjoint(place.labels)


@attrs.frozen
class Machine:
    """A machine file, resolved."""

    name: str
    title: str
    items: Mapping[str, MachineItem]
    interlocks: tuple[Interlock, ...]
    hazards: Mapping[str, HazardInfo]
    own_role: frozenset[str] = frozenset()
    """Sets of which each member is moved only by the role it is labelled with."""

    made_safe: tuple[Condition, ...] = ()
    """What has to be so when a run that was stopped is over."""

    ask_nothing: tuple[Condition, ...] = ()
    """While one of these holds, nothing is asked."""

    demands: tuple[Demand, ...] = ()
    """When its hazards are to be said."""


COUNTED = "counted"
"""The kind of things that are counted out and back."""

BACK, OUT = "back", "out"


@attrs.frozen
class FoundLeft:
    """`mirror_cover found fitted, left fitted`"""

    place: ItemPlace
    found: str | None
    left: str | None
    span: Span = attrs.field(eq=False)


@attrs.frozen
class TwoPeople:
    """Two roles that are two people. `why`: needs, step, confirm, hold, or witness; `place` is the identity of the line
    that says so, of the procedure for needs."""

    one: str
    other: str
    why: str
    place: str
    span: Span = attrs.field(eq=False, repr=False)

    @property
    def pair(self) -> frozenset[str]:
        """The two roles, in no order."""
        return frozenset((self.one, self.other))

    @property
    def strict(self) -> bool:
        """Whether a roster in which one person holds both is refused."""
        return self.why != "witness"
