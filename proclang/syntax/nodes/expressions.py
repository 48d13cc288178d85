"""Names, numbers, texts, and expressions made of them."""

from __future__ import annotations

import attrs

from proclang.syntax.nodes.base import Node


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
    """`{turns[1] to 0.05 turn, raise or lower}` or `{round_up(gap, to = 1 mm)}` inside a quoted text"""

    value: Reference | Call
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
        return "".join(
            p if isinstance(p, str) else "{" + p.value.name.text + ("(...)" if isinstance(p.value, Call) else "") + "}"
            for p in self.pieces
        )


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
