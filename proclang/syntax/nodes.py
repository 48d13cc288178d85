"""The tree. Every node is frozen, shows the lines that make it, and compares by meaning: spans are left out.

Nodes say what was written, not whether it makes sense; that is for the program and check rooms. A `Broken` stands
where a damaged line stood, and keeps the words of that line, so that nothing later complains for want of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeVar

import attrs

from proclang.text.span import Span

N = TypeVar("N", bound="Node")


@attrs.frozen(kw_only=True)
class Node:
    """Base of every node; `span` covers the text it came from, blocks included."""

    span: Span = attrs.field(eq=False, repr=False)

    def children(self) -> Iterator[Node]:
        """The nodes directly below this one, in the order they were declared."""
        for field in attrs.fields(type(self)):
            value = getattr(self, field.name)
            if isinstance(value, Node):
                yield value
            elif isinstance(value, tuple):
                for item in value:
                    if isinstance(item, Node):
                        yield item

    def walk(self) -> Iterator[Node]:
        """This node and all below it, parents first."""
        stack = [self]
        while stack:
            node = stack.pop()
            yield node
            stack.extend(reversed(list(node.children())))


# ---------------------------------------------------------------------------- small parts


@attrs.frozen
class Name(Node):
    """`read_tilt`"""

    text: str

    def __str__(self) -> str:
        return self.text


@attrs.frozen
class Number(Node):
    """`0.1 arcmin`, `-5 mm` where a sign is part of an operand; kept as typed, read later."""

    typed: str


@attrs.frozen
class LabelRange(Node):
    """`1 .. 8` in a set of labels"""

    first: Number
    last: Number


Label = Name | Number | LabelRange


@attrs.frozen
class Place(Node):
    """`nuts[stud]`: an item of a machine, or one of a set"""

    name: Name
    labels: tuple[Label, ...] = ()


@attrs.frozen
class Insert(Node):
    """`{turns[1] to 0.05 turn, raise or lower}` inside a quoted text"""

    value: Reference
    step: Number | None = None
    signed: bool = False
    words: tuple[Name, ...] = ()
    unit: Unit | None = None


@attrs.frozen
class Text(Node):
    """`"Tighten nut {stud}."`: plain pieces and inserts in turn"""

    pieces: tuple[str | Insert, ...]

    @property
    def inserts(self) -> tuple[Insert, ...]:
        """The pieces in braces."""
        return tuple(p for p in self.pieces if isinstance(p, Insert))

    @property
    def plain(self) -> str:
        """The text with each insert shown as the name it inserts."""
        return "".join(p if isinstance(p, str) else "{" + p.value.name.text + "}" for p in self.pieces)

    def children(self) -> Iterator[Node]:
        """The inserts."""
        yield from self.inserts


@attrs.frozen
class Unit(Node):
    """`in arcmin`, `in deg true`: the unit text after `in`"""

    text: str


@attrs.frozen
class Takes(Node):
    """`, takes 30 .. 50 min`"""

    low: Expression
    high: Expression | None = None


@attrs.frozen
class Broken(Node):
    """A line that could not be read. `words` are the names and words it held."""

    words: frozenset[str] = attrs.field(eq=False)
    inside: tuple[Node, ...] = ()


# ---------------------------------------------------------------------------- expressions


@attrs.frozen
class Literal(Node):
    """`2.5 mm/turn` in an expression"""

    number: Number


@attrs.frozen
class Reference(Node):
    """`torque[pass, stud]`"""

    name: Name
    labels: tuple[Label, ...] = ()


@attrs.frozen
class Argument(Node):
    """`studs = 6` or `ns` in a call"""

    name: Name | None
    value: Expression


@attrs.frozen
class Call(Node):
    """`reverse_level(ns)`"""

    name: Name
    arguments: tuple[Argument, ...] = ()


@attrs.frozen
class Binary(Node):
    """`a + b`; `operator` is one of `+ - * / < <= > >= and or`"""

    operator: str
    left: Expression
    right: Expression


@attrs.frozen
class Unary(Node):
    """`-a`, `not a`"""

    operator: str
    operand: Expression


@attrs.frozen
class Power(Node):
    """`a ^ 2`"""

    base: Expression
    exponent: Number


@attrs.frozen
class Judged(Node):
    """`tilt passes`, `tilt fails`"""

    value: Expression
    outcome: str


@attrs.frozen
class Being(Node):
    """`pass is full`, `sense is clockwise`"""

    value: Expression
    label: Name


Expression = Literal | Reference | Call | Binary | Unary | Power | Judged | Being


# ---------------------------------------------------------------------------- the header


@attrs.frozen
class Revision(Node):
    """`revision 3`"""

    number: Number


@attrs.frozen
class Purpose(Node):
    """`purpose "The plate stands level."`"""

    sentences: tuple[Text, ...]


@attrs.frozen
class Gives(Node):
    """`gives residual` in the header of a performed procedure"""

    names: tuple[Name, ...]


@attrs.frozen
class Labels(Node):
    """`labels studs 1 .. 6`"""

    name: Name
    labels: tuple[Label, ...]


@attrs.frozen
class Row(Node):
    """`snug 30 %, 2 min` in a table"""

    label: Label
    cells: tuple[Number, ...]


@attrs.frozen
class Table(Node):
    """`table passes of share, settle` and its rows"""

    name: Name
    columns: tuple[Name, ...]
    rows: tuple[Row | Broken, ...]


@attrs.frozen
class Kind(Node):
    """`length per angle`: dimension words; or `one of concrete, steel`: choices"""

    words: tuple[Name, ...] = ()
    choices: tuple[Name, ...] = ()


@attrs.frozen
class Input(Node):
    """`pitch: length per angle = 2.5 mm/turn "Pitch of the stud"`"""

    name: Name
    former: Name | None
    kind: Kind
    default: Expression | None
    title: Text | None
    facets: tuple[Facet | Broken, ...] = ()


@attrs.frozen
class Inputs(Node):
    """`inputs` and its lines"""

    items: tuple[Input | Broken, ...]


@attrs.frozen
class Ability(Node):
    """`reads to 0.1 arcmin`; `what` is one of `reads to`, `repeats to`, `accurate to`, `calibrated within`"""

    what: str
    value: Expression


@attrs.frozen
class Instrument(Node):
    """`instrument level_bar "precision level", reads to 0.1 arcmin`"""

    name: Name
    title: Text
    abilities: tuple[Ability, ...] = ()


@attrs.frozen
class Tool(Node):
    """`tool wrench "open spanner, 30 mm"`"""

    name: Name
    title: Text


@attrs.frozen
class Part(Node):
    """`part nut "M20 levelling nut" x 12`"""

    name: Name
    title: Text
    count: Number | None = None


@attrs.frozen
class Crew(Node):
    """`crew lead, rigger, scribe`"""

    roles: tuple[Name, ...]


@attrs.frozen
class Authority(Node):
    """`authority lead`: the roles that may accept a deviation"""

    roles: tuple[Name, ...]


@attrs.frozen
class Needs(Node):
    """`needs` and its lines"""

    items: tuple[Instrument | Tool | Part | Crew | Authority | Broken, ...]


@attrs.frozen
class Hardware(Node):
    """`nuts found slack, left tight`"""

    place: Place
    found: Name | None
    left: Name | None


@attrs.frozen
class MachineUse(Node):
    """`machine fork_mount` in a procedure, with what is found and left"""

    name: Name
    items: tuple[Hardware | Broken, ...] = ()


# ---------------------------------------------------------------------------- a machine file


@attrs.frozen
class States(Node):
    """`states fitted, removed`"""

    names: tuple[Name, ...]


@attrs.frozen
class KindOfItem(Node):
    """`kind cover` and its `states`"""

    name: Name
    states: tuple[States | Broken, ...]


@attrs.frozen
class Item(Node):
    """`nuts[1 .. 8]: nut "base nut"`"""

    name: Name
    labels: tuple[Label, ...]
    kind: Name
    title: Text | None = None


@attrs.frozen
class Standing(Node):
    """`drive_cover is removed` in an interlock"""

    place: Place
    state: Name


@attrs.frozen
class Interlock(Node):
    """`interlock hook is hanging only while mirror_cover is fitted`; `state` is None for `moves`"""

    place: Place
    state: Name | None
    conditions: tuple[Standing, ...]


@attrs.frozen
class Counted(Node):
    """`counted caps, rags`"""

    names: tuple[Name, ...]


# ---------------------------------------------------------------------------- facets of a value


@attrs.frozen
class WithinAround(Node):
    """`within 180 ± 1 deg`"""

    centre: Expression
    half: Expression


@attrs.frozen
class WithinUneven(Node):
    """`within 540 +4 deg / -2 deg`"""

    centre: Expression
    plus: Number
    minus: Number


@attrs.frozen
class WithinRange(Node):
    """`within 20 .. 300 N.m`"""

    low: Expression
    high: Expression


@attrs.frozen
class Bound(Node):
    """`at most 2 arcmin`, `at least 3 mm`"""

    most: bool
    value: Expression


@attrs.frozen
class Plausible(Node):
    """`plausible -60 .. 60 mm`"""

    low: Expression
    high: Expression


@attrs.frozen
class Spread(Node):
    """`spread at most 0.2 mm`: the largest less the smallest of a series"""

    most: Expression


@attrs.frozen
class JudgedBy(Node):
    """`judged by worst`"""

    how: Name


Facet = WithinAround | WithinUneven | WithinRange | Bound | Plausible | Spread | JudgedBy


# ---------------------------------------------------------------------------- statements


@attrs.frozen
class Risk(Node):
    """`risk "Crushed fingers."`"""

    text: Text


@attrs.frozen
class Avoid(Node):
    """`avoid "Keep three nuts bearing."`"""

    text: Text


@attrs.frozen
class Asks(Node):
    """`asks gust "Gust now" in m/s`: the fact a DANGER is answered with; without a unit it is a word or a name"""

    name: Name
    text: Text
    unit: Unit | None = None


@attrs.frozen
class Hazard(Node):
    """`warning plate_drops "Plate can drop"` with its parts, or `warning plate_drops` to say it again"""

    word: str
    name: Name
    former: Name | None
    title: Text | None
    parts: tuple[Risk | Avoid | Asks | Broken, ...] = ()


@attrs.frozen
class Step(Node):
    """`step read_tilt "Read the plate both ways." by rigger`"""

    name: Name
    former: Name | None
    title: Text
    people: tuple[Name, ...]
    takes: Takes | None
    body: tuple[Statement, ...]


@attrs.frozen
class Prose(Node):
    """`"Stop at the first click."`: one more sentence of a step"""

    text: Text


@attrs.frozen
class Figure(Node):
    """`figure "figures/star.png" "Order of the eight studs."`"""

    path: Text
    caption: Text


@attrs.frozen
class Measure(Node):
    """`measure ns[direct, reversed] in arcmin using level_bar`"""

    name: Name
    labels: tuple[Label, ...]
    former: Name | None
    title: Text | None
    unit: Unit
    instrument: Name | None
    facets: tuple[Facet | Broken, ...] = ()


@attrs.frozen
class MeasureAgain(Node):
    """`measure again ns[direct, reversed]`: one more reading of the same series"""

    name: Name
    labels: tuple[Label, ...]
    instrument: Name | None


@attrs.frozen
class Target(Node):
    """What a compute sets: `target[pass]`"""

    name: Name
    labels: tuple[Label, ...] = ()
    former: Name | None = None


@attrs.frozen
class Compute(Node):
    """`compute tilt = hypot(a, b) in arcmin`"""

    targets: tuple[Target, ...]
    value: Expression
    unit: Unit | None
    facets: tuple[Facet | Broken, ...] = ()


@attrs.frozen
class ReadBack(Node):
    """`, read back using readout`"""

    instrument: Name | None


@attrs.frozen
class SetValue(Node):
    """`set azimuth_plus "plus travel limit" to limit_plus ± 0.05 deg, read back using readout`"""

    name: Name
    former: Name | None
    title: Text
    value: Expression
    allowed: Expression | None
    unit: Unit | None
    read_back: ReadBack | None
    again_after_power_cycle: bool


@attrs.frozen
class Confirm(Node):
    """`confirm seated "The cover is seated all round" by lead`"""

    name: Name
    former: Name | None
    text: Text
    people: tuple[Name, ...]


@attrs.frozen
class Choose(Node):
    """`choose sense from clockwise, anticlockwise "Seen from above the fork turned"`"""

    name: Name
    former: Name | None
    options: tuple[Name, ...]
    text: Text


@attrs.frozen
class Note(Node):
    """`note sky "What the sky looks like"`: free text the procedure asks for"""

    name: Name
    former: Name | None
    text: Text


@attrs.frozen
class Photo(Node):
    """`photo cover_seated "Cover seated all round."`: evidence, answered with a file name"""

    name: Name
    former: Name | None
    text: Text


@attrs.frozen
class Hold(Node):
    """`hold accepted "Level accepted" by lead, witness owner`"""

    name: Name
    former: Name | None
    text: Text
    people: tuple[Name, ...]
    witness: tuple[Name, ...] = ()


@attrs.frozen
class Witness(Node):
    """`witness seen "First slow turn seen" by owner`"""

    name: Name
    former: Name | None
    text: Text
    people: tuple[Name, ...]


@attrs.frozen
class Now(Node):
    """`now nuts[stud] is tight`"""

    place: Place
    state: Name


@attrs.frozen
class Require(Node):
    """`require mirror_cover is fitted`"""

    place: Place
    state: Name


@attrs.frozen
class Upsets(Node):
    """`upsets tilt`: what was read of it is stale from here on"""

    names: tuple[Name, ...]


@attrs.frozen
class Arm(Node):
    """`north` and its block in an `according to`"""

    labels: tuple[Label, ...]
    body: tuple[Statement, ...]


@attrs.frozen
class According(Node):
    """`according to hemisphere` and its arms"""

    subject: Name
    arms: tuple[Arm | Broken, ...]


@attrs.frozen
class When(Node):
    """`when pass is full` and its block; `otherwise` is None where none was written"""

    condition: Expression
    body: tuple[Statement, ...]
    otherwise: Otherwise | None = None


@attrs.frozen
class Otherwise(Node):
    """`otherwise` and its block, after a `when` or a `repeat`"""

    body: tuple[Statement, ...]


@attrs.frozen
class Repeat(Node):
    """`repeat levelling at most 5 times`; `otherwise` runs when the bound is reached without leaving"""

    name: Name
    former: Name | None
    times: Number
    body: tuple[Statement, ...]
    otherwise: Otherwise | None = None


@attrs.frozen
class LeaveWhen(Node):
    """`leave when tilt passes`"""

    condition: Expression


@attrs.frozen
class ForEach(Node):
    """`for each stud of studs in star order`"""

    variable: Name
    labels: Name
    star: bool
    body: tuple[Statement, ...]


@attrs.frozen
class AnyOrder(Node):
    """`in any order`: the steps below may be done in whatever order suits the site"""

    body: tuple[Statement, ...]


@attrs.frozen
class With(Node):
    """`with throw = throw`"""

    name: Name
    value: Expression


@attrs.frozen
class Take(Node):
    """`gives residual as new_residual`"""

    name: Name
    into: Name | None


@attrs.frozen
class Perform(Node):
    """`perform full_alignment as again` with arguments and what it gives"""

    procedure: Name
    alias: Name | None
    former: Name | None
    parts: tuple[With | Take | Broken, ...] = ()

    @property
    def name(self) -> Name:
        """The name this call goes by in identities."""
        return self.alias or self.procedure


@attrs.frozen
class Stopped(Node):
    """`if stopped` and the steps that make the site safe"""

    body: tuple[Statement, ...]


Statement = (
    Step
    | Hazard
    | Measure
    | MeasureAgain
    | Compute
    | Confirm
    | Choose
    | Note
    | Photo
    | Figure
    | Prose
    | SetValue
    | Now
    | Require
    | Upsets
    | According
    | When
    | Otherwise
    | Repeat
    | LeaveWhen
    | ForEach
    | AnyOrder
    | Perform
    | Hold
    | Witness
    | Stopped
    | Broken
)


@attrs.frozen
class Section(Node):
    """`section final_level "Final level", takes 30 .. 50 min`"""

    name: Name
    former: Name | None
    title: Text
    takes: Takes | None
    body: tuple[Statement, ...]


# ---------------------------------------------------------------------------- files


@attrs.frozen
class Title(Node):
    """`procedure level_base "Level the base plate"` or `machine fork_mount "Fork mount"`"""

    what: str
    name: Name
    former: Name | None
    text: Text


@attrs.frozen
class File(Node):
    """A whole procedure or machine file. `body` holds its top-level lines and blocks in source order."""

    version: Number | Broken
    title: Title | Broken
    body: tuple[Node, ...]

    def all(self, kind: type[N]) -> tuple[N, ...]:
        """The top-level lines of one kind."""
        return tuple(item for item in self.body if isinstance(item, kind))

    @property
    def broken(self) -> bool:
        """Whether any line could not be read."""
        return any(isinstance(node, Broken) for node in self.walk())
