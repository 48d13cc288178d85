"""What a procedure is once its names are resolved: symbols with types, and routines of instructions.

An *identity* is the path of names the author wrote, `level_base/final_level/read_tilt/ns`; an *address* also says in
which arm of which branch, so that it names one instruction of one routine: `final_level/hemisphere=north/point_mark`.
Journals hold addresses and identities, never positions in the list, so lowering may change without breaking old runs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Protocol

import attrs

from proclang.field.declare import Series
from proclang.text.span import Span
from proclang.values.dimension import Dimension
from proclang.values.quantity import Quantity
from proclang.values.tolerance import Limits
from proclang.values.unit import Unit

# ---------------------------------------------------------------------------- types of values


@attrs.frozen
class Amount:
    """A quantity, or a labelled series of them: one axis of labels for each bracketed set."""

    dimension: Dimension
    axes: tuple[tuple[str, ...], ...] = ()

    def describe(self) -> str:
        """The kind of value in the user's words."""
        return f"a series, each {self.dimension.phrase}" if self.axes else self.dimension.phrase


@attrs.frozen
class Choice:
    """One of a fixed set of labels: a site fact, an answer, the hemisphere, a loop's label."""

    options: tuple[str, ...]

    def describe(self) -> str:
        """The kind of value in the user's words."""
        return "a choice of " + ", ".join(self.options[:6]) + (", ..." if len(self.options) > 6 else "")


@attrs.frozen
class Words:
    """Free text: a note, a name, a file name."""

    def describe(self) -> str:
        """The kind of value in the user's words."""
        return "a text"


@attrs.frozen
class Truth:
    """The outcome of a comparison or of `passes`."""

    def describe(self) -> str:
        """The kind of value in the user's words."""
        return "a condition"


Type = Amount | Choice | Words | Truth
Value = Fraction | Series | str | bool


class Env(Protocol):
    """What a formula may ask while it is evaluated."""

    def amount(self, name: str, key: str) -> Fraction:
        """The value of a name, or of one label of a series. Raises `NotKnown`."""

    def series(self, name: str) -> Series:
        """A whole series, in label order. Raises `NotKnown`."""

    def label(self, name: str) -> str:
        """A choice, a text, or the label a loop stands at. Raises `NotKnown`."""

    def outcome(self, name: str, key: str) -> str:
        """`passes`, `fails`, `undecided`, or `unknown` when nothing was judged."""


class NotKnown(Exception):
    """A value that is not there yet, or that could not be computed; the text says which."""


@attrs.frozen
class Formula:
    """An expression whose names and dimensions have been proved, ready to be evaluated again and again."""

    type: Type
    evaluate: Callable[[Env], Value] = attrs.field(eq=False, repr=False)
    text: str
    names: tuple[str, ...]
    unit: Unit | None = None
    """The unit its value is best shown in, where the expression suggests one."""


@attrs.frozen
class Insert:
    """A value inside a text, and how it is to be shown."""

    formula: Formula
    unit: Unit | None
    step: Quantity | None
    signed: bool
    words: tuple[str, str] | None
    name: str


@attrs.frozen
class Template:
    """A quoted text: plain pieces and inserts in turn."""

    pieces: tuple[str | Insert, ...]

    @property
    def plain(self) -> str:
        """The text with each insert shown as the name it inserts."""
        return "".join(p if isinstance(p, str) else "{" + p.name + "}" for p in self.pieces)


# ---------------------------------------------------------------------------- what is declared


@attrs.frozen
class Facets:
    """The limits on a value. Each entry of `limits` gives the limits and the line they were written in."""

    limits: tuple[tuple[Callable[[Env], Limits], str], ...] = ()
    plausible: tuple[Quantity, Quantity] | None = None
    spread: Quantity | None = None
    worst: bool = False

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
    repeats_to: Quantity | None = None
    accurate_to: Quantity | None = None
    calibrated_within: Quantity | None = None


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
    """A standing rule of the machine. `state` None: the item may change only while the conditions hold."""

    place: ItemPlace
    state: str | None
    conditions: tuple[Condition, ...]
    text: str


@attrs.frozen
class Machine:
    """A machine file, resolved."""

    name: str
    title: str
    items: Mapping[str, MachineItem]
    interlocks: tuple[Interlock, ...]
    hazards: Mapping[str, HazardInfo]
    counted: tuple[str, ...]


@attrs.frozen
class FoundLeft:
    """`mirror_cover found fitted, left fitted`"""

    place: ItemPlace
    found: str | None
    left: str | None
    span: Span = attrs.field(eq=False)


# ---------------------------------------------------------------------------- instructions


@attrs.frozen(kw_only=True)
class Instr:
    """One instruction. `address` is unique in its routine; `identity` is the author's path of names."""

    address: str
    identity: str
    span: Span = attrs.field(eq=False, repr=False)


@attrs.frozen(kw_only=True)
class EnterSection(Instr):
    """A section begins: its hazards are briefed once, signed by everyone."""

    name: str
    title: Template
    takes: str
    hazards: tuple[HazardInfo, ...]
    stopped: int | None
    """Where its `if stopped` begins."""


@attrs.frozen(kw_only=True)
class LeaveSection(Instr):
    """A section ends."""


@attrs.frozen(kw_only=True)
class Acknowledge(Instr):
    """A hazard at its step: acknowledged by who performs, a DANGER with a fact."""

    hazard: HazardInfo
    people: tuple[str, ...]


@attrs.frozen(kw_only=True)
class Change:
    """`now` or `require` as a step will meet it; used to look ahead for interlocks. It counts when all of `when` hold."""

    place: ItemPlace
    state: str
    require: bool
    when: tuple[Formula, ...]


@attrs.frozen(kw_only=True)
class BeginStep(Instr):
    """A step is shown. `changes` are looked at first: a step that would break an interlock is not shown."""

    name: str
    title: Template
    prose: tuple[Template, ...]
    figures: tuple[tuple[str, Template], ...]
    people: tuple[str, ...]
    takes: str
    changes: tuple[Change, ...]
    ask_done: bool


@attrs.frozen(kw_only=True)
class EndStep(Instr):
    """A step ends; with `ask_done`, somebody says that it is done."""

    name: str
    ask_done: bool


@attrs.frozen(kw_only=True)
class Read(Instr):
    """One reading of a name; `labels` are fixed labels or loop variables (`variables`), empty for a single value."""

    symbol: Symbol
    labels: tuple[str, ...]
    variables: tuple[bool, ...]
    last_of_series: bool
    again: bool
    handled: bool
    instrument: str | None


@attrs.frozen(kw_only=True)
class ComputeValue(Instr):
    """A value worked out. `reread` is where the readings it rests on begin, if they can be taken again from here."""

    targets: tuple[tuple[Symbol, tuple[str, ...], tuple[bool, ...]], ...]
    formula: Formula
    handled: bool
    reread: int | None


@attrs.frozen(kw_only=True)
class Ask(Instr):
    """A question that is answered with a word: `kind` is confirm, choose, note or photo."""

    kind: str
    symbol: Symbol
    text: Template
    people: tuple[str, ...]


@attrs.frozen(kw_only=True)
class SetInstr(Instr):
    """A computed value typed into equipment, and read back."""

    symbol: Symbol
    title: Template
    formula: Formula
    allowed: Formula | None
    instrument: str | None
    read_back: bool
    power_cycle: bool


@attrs.frozen(kw_only=True)
class NowInstr(Instr):
    """Hardware changes state."""

    place: ItemPlace
    state: str
    ensure: bool
    """In `if stopped`: make sure; no finding when it is in that state already or may not move."""


@attrs.frozen(kw_only=True)
class RequireInstr(Instr):
    """Hardware must be in a state."""

    place: ItemPlace
    state: str


@attrs.frozen(kw_only=True)
class UpsetsInstr(Instr):
    """What was read of these names is stale."""

    names: tuple[str, ...]


@attrs.frozen(kw_only=True)
class Arms(Instr):
    """`according to`: where each label goes."""

    subject: Formula
    name: str
    targets: Mapping[str, int]


@attrs.frozen(kw_only=True)
class Branch(Instr):
    """`when`: on to the next instruction, or to `otherwise`."""

    condition: Formula
    otherwise: int


@attrs.frozen(kw_only=True)
class Jump(Instr):
    """Go on elsewhere."""

    target: int


@attrs.frozen(kw_only=True)
class BeginLoop(Instr):
    """`repeat`: the next pass."""

    name: str
    bound: int


@attrs.frozen(kw_only=True)
class EndLoop(Instr):
    """The end of a loop's body: round again, or on to `exhausted` when the bound is reached."""

    name: str
    bound: int
    begin: int
    exhausted: int
    out: int
    unfinished: bool
    """No `otherwise` was written: reaching the bound is out of tolerance."""


@attrs.frozen(kw_only=True)
class Leave(Instr):
    """`leave when`: out of the loop if the condition holds."""

    loop: str
    condition: Formula
    out: int


@attrs.frozen(kw_only=True)
class BeginEach(Instr):
    """`for each`: the first label."""

    variable: str
    labels: tuple[str, ...]


@attrs.frozen(kw_only=True)
class EndEach(Instr):
    """On to the next label, or out."""

    variable: str
    labels: tuple[str, ...]
    begin: int


@attrs.frozen(kw_only=True)
class AnyOrderInstr(Instr):
    """Which of the remaining steps next? `steps` maps a name to where it begins; each ends in a jump back here."""

    steps: tuple[tuple[str, str, int], ...]
    out: int


@attrs.frozen(kw_only=True)
class OrderDone(Instr):
    """One step of an `in any order` is done."""

    step: str
    back: int


@attrs.frozen(kw_only=True)
class Call(Instr):
    """`perform`: arguments by input name; what it gives goes into the caller's names."""

    routine: str
    name: str
    arguments: tuple[tuple[Symbol, Formula], ...]
    gives: tuple[tuple[str, Symbol], ...]


@attrs.frozen(kw_only=True)
class Return(Instr):
    """The end of a procedure."""


@attrs.frozen(kw_only=True)
class Sign(Instr):
    """A hold or a witness point."""

    kind: str
    name: str
    text: Template
    people: tuple[str, ...]
    witness: tuple[str, ...]


@attrs.frozen(kw_only=True)
class AskRole(Instr):
    """Before the first section: who is the lead, the rigger, ..."""

    role: str


@attrs.frozen(kw_only=True)
class AskInstrument(Instr):
    """Before the first section: which instrument of that kind is in hand, and when it was calibrated."""

    instrument: Instrument


@attrs.frozen(kw_only=True)
class AskReady(Instr):
    """Before the first section: tools and parts are at hand."""

    kind: str
    things: tuple[str, ...]


@attrs.frozen(kw_only=True)
class AskFound(Instr):
    """Before the first section: the state an item is found in. `keys` are asked about together."""

    keys: tuple[str, ...]
    title: str
    states: tuple[str, ...]
    expected: str


@attrs.frozen(kw_only=True)
class EndStopped(Instr):
    """The end of `if stopped`: the run is over."""


@attrs.frozen
class Routine:
    """One procedure, lowered."""

    name: str
    title: str
    revision: str
    former: str | None
    purpose: tuple[str, ...]
    inputs: tuple[Symbol, ...]
    symbols: Mapping[str, Symbol]
    label_sets: Mapping[str, tuple[str, ...]]
    tables: Mapping[str, Mapping[str, Mapping[str, Quantity]]]
    instruments: Mapping[str, Instrument]
    tools: tuple[tuple[str, str], ...]
    parts: tuple[tuple[str, str, str], ...]
    crew: tuple[str, ...]
    authority: tuple[str, ...]
    machine: Machine | None
    hardware: tuple[FoundLeft, ...]
    gives: tuple[str, ...]
    code: tuple[Instr, ...]
    index: Mapping[str, int] = attrs.field(eq=False, repr=False)
    formerly: Mapping[str, str] = attrs.field(factory=dict)
    """Old identity to new, for comparing runs of two revisions."""


@attrs.frozen
class Program:
    """A procedure and all it performs."""

    entry: str
    routines: Mapping[str, Routine]
    site_facts: Mapping[str, Symbol]
    """Inputs that the site file must give, and those it may give (with a default)."""

    uses_hemisphere: bool

    opening: Routine
    """What is asked before the first section, and then the procedure itself."""

    machines: Mapping[str, Machine]

    def routine(self, name: str) -> Routine:
        """A routine by the name frames carry; the opening has the empty name."""
        return self.opening if not name else self.routines[name]

    @property
    def main(self) -> Routine:
        """The procedure that is run."""
        return self.routines[self.entry]


HEMISPHERES = ("north", "south")
