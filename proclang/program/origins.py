"""Where a value came from, as far as its uncertainty needs to know: the readings behind it, or the formula and what
stood in it then. Kept beside the values, put together from the events alone, so that a resumed run knows the same.
"""

from __future__ import annotations

from typing import NamedTuple


class Reading(NamedTuple):
    """One reading that counts."""

    number: int
    """Which of the run's readings it is: no two share their resolution."""

    value: str
    instrument: str
    sitting: int
    """How often the run had been left before: the zero of an instrument may wander meanwhile."""


class Taken(NamedTuple):
    """A value read: the series it stands for."""

    routine: str
    name: str
    key: str
    readings: list[Reading]
    """The list the state goes on adding to; what counts is its first `upto`."""

    upto: int


class Worked(NamedTuple):
    """A value worked out: which formula, and all that stood in it, as it was then."""

    routine: str
    kind: str
    """`compute`, `argument` of a performed procedure, or `set`."""

    place: str
    """What finds the formula: its text, or for an argument the address of the call."""

    name: str
    key: str
    value: str
    values: dict[str, dict[str, str]]
    origins: dict[str, dict[str, Origin]]
    loops: tuple[tuple[str, int | str], ...]


Origin = Taken | Worked
