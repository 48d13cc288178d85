"""What stands in a section."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import attrs

from proclang.syntax.nodes.base import Node
from proclang.syntax.nodes.expressions import Broken, Expression, Label, Name, Number, Place, Takes, Text, Unit
from proclang.syntax.nodes.facets import Facet


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
class Due(Node):
    """`due before laser is on` in a machine file: when the hazard is to be said; `state` is None for `moves`"""

    place: Place
    state: Name | None


@attrs.frozen
class Hazard(Node):
    """`warning plate_drops "Plate can drop"` with its parts, or `warning plate_drops` to say it again"""

    word: str
    name: Name
    former: Name | None
    title: Text | None
    parts: tuple[Risk | Avoid | Asks | Due | Broken, ...] = ()


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
class ComputeAgain(Node):
    """`compute again tilt`: the same formula and limits, from the readings as they are now"""

    name: Name


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
    no_deviation: bool


@attrs.frozen
class Confirm(Node):
    """`confirm seated "The cover is seated all round" by lead, no deviation`"""

    name: Name
    former: Name | None
    text: Text
    people: tuple[Name, ...]
    no_deviation: bool


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
    | ComputeAgain
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


def nested(statements: Iterable[Node]) -> Iterator[Node]:
    """Statements and all that stand in the blocks under them, in the order of the text."""
    stack = list(statements)
    stack.reverse()
    while stack:
        node = stack.pop()
        yield node
        below: list[Node] = []
        if isinstance(node, According):
            below += node.arms
        elif isinstance(node, Broken):
            below += node.inside
        elif isinstance(node, (Step, Arm, When, Otherwise, Repeat, ForEach, AnyOrder, Stopped)):
            below += node.body
            if isinstance(node, (When, Repeat)) and node.otherwise is not None:
                below.append(node.otherwise)
        below.reverse()
        stack += below
