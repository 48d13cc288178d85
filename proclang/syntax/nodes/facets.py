"""The lines under a value that say what it may be."""

from __future__ import annotations

import attrs

from proclang.syntax.nodes.base import Node
from proclang.syntax.nodes.expressions import Expression, Name, Number, Place


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


@attrs.frozen
class NoDeviation(Node):
    """`no deviation`: nobody may accept a value outside its limits"""


@attrs.frozen
class Counts(Node):
    """`counts rags back`: what a count shows of things that are counted"""

    place: Place
    state: Name


@attrs.frozen
class Guarded(Node):
    """`guarded` or `guarded at 99 %`"""

    probability: Number | None = None


@attrs.frozen
class KnownTo(Node):
    """`known to 0.5 mm at k 2`"""

    value: Expression
    k: Number | None = None


Facet = (
    WithinAround
    | WithinUneven
    | WithinRange
    | Bound
    | Plausible
    | Spread
    | JudgedBy
    | Guarded
    | KnownTo
    | Counts
    | NoDeviation
)
