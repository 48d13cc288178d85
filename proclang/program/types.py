"""Types of values, and what an expression and a quoted text become once their names and dimensions are proved."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Protocol

import attrs

from proclang.field.declare import Series
from proclang.values.dimension import Dimension
from proclang.values.quantity import Quantity
from proclang.values.unit import Unit

HEMISPHERES = ("north", "south")


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

    def off(self, calculation: str) -> float:
        """How many of its own standard uncertainties the model of a calculation is taken to be off: mostly 0."""

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

    verdicts: tuple[str, ...] = ()
    """Names of which it asks whether they pass or fail."""

    calls: tuple[str, ...] = ()
    """The calculations it calls."""


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
