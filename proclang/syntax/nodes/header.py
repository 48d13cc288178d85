"""What stands above the sections of a procedure, and the lines of a machine file."""

from __future__ import annotations

import attrs

from proclang.syntax.nodes.base import Node
from proclang.syntax.nodes.expressions import Broken, Expression, Label, Name, Number, Place, Text
from proclang.syntax.nodes.facets import Facet


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
    """`reads to 0.1 arcmin`, `accurate to 0.2 arcmin at k 2`; `what` is the words before the amount"""

    what: str
    value: Expression
    k: Number | None = None


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
    """`crew lead, rigger, scribe, at least 2 people`"""

    roles: tuple[Name, ...]
    fewest: Number | None = None


@attrs.frozen
class Apart(Node):
    """`nobody is both signaller and rigger`"""

    one: Name
    other: Name


@attrs.frozen
class Authority(Node):
    """`authority lead`: the roles that may accept a deviation"""

    roles: tuple[Name, ...]


@attrs.frozen
class Needs(Node):
    """`needs` and its lines"""

    items: tuple[Instrument | Tool | Part | Crew | Apart | Authority | Broken, ...]


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
    """`interlock hook is hanging only while mirror_cover is fitted`; `state` is None for `moves`. `becomes` looks
    only at the change into the state. Without conditions: `moves only by their own role`."""

    place: Place
    state: Name | None
    conditions: tuple[Standing, ...]
    becomes: bool = False


@attrs.frozen
class MadeSafe(Node):
    """`if stopped laser is off`: however a run is stopped"""

    conditions: tuple[Standing, ...]


@attrs.frozen
class AskNothing(Node):
    """`ask nothing while hook is hanging`"""

    conditions: tuple[Standing, ...]


@attrs.frozen
class CountedThing(Node):
    """`rags "rags brought to the drum"` behind `counted`"""

    name: Name
    labels: tuple[Label, ...] = ()
    title: Text | None = None


@attrs.frozen
class Counted(Node):
    """`counted caps, rags`: what is out or back, and is shown by a count to be"""

    things: tuple[CountedThing, ...]
