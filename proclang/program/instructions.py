"""The instructions a procedure is lowered to: flat, addressed, and knowing nothing of how they are gone through."""

from __future__ import annotations

from collections.abc import Mapping

import attrs

from proclang.program.declared import HazardInfo, Instrument, ItemPlace, Symbol
from proclang.program.types import Formula, Template
from proclang.text.span import Span


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
    """`now` or `require` as a step will meet it, to look ahead for interlocks; it counts when all of `when` hold."""

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
    silent: bool = False
    """Not written by the author as a line: nothing is told of it."""


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
    """Before the first section: tools and parts are at hand. Where several procedures need a part, `most` has the most
    that any of them needs, `things` what the last of them needs, as it was asked for in runs of the first rules."""

    kind: str
    things: tuple[str, ...]
    most: tuple[str, ...]


@attrs.frozen(kw_only=True)
class AskFound(Instr):
    """Before the first section: the state an item is found in. `keys` are asked about together."""

    keys: tuple[str, ...]
    title: str
    states: tuple[str, ...]
    expected: str
    counted: bool = False
    """It is counted out and back, and nothing has been counted out: there is nothing to ask."""


@attrs.frozen(kw_only=True)
class EndStopped(Instr):
    """The end of `if stopped`: the run is over."""
