"""What a log says, as values: every text in it is markdown already, and the template only lays it out."""

from __future__ import annotations

from typing import NamedTuple

import attrs

from proclang.log.markdown import Md


class Fact(NamedTuple):
    """One line of the log: the occurrence it belongs to, what is said of it, and lines that stand below it.

    A tuple, so that the template takes it apart at once: there are tens of thousands, and each look at an attribute
    goes through the sandbox.
    """

    where: Md
    says: Md
    under: tuple[Md, ...] = ()


@attrs.frozen
class Part:
    """A section of a procedure as it was gone through."""

    title: Md
    facts: tuple[Fact, ...]


@attrs.frozen
class Closing:
    """All that differs between two runs of one procedure at one site, kept apart so that the rest can be compared."""

    run: tuple[Md, ...]
    people: tuple[Md, ...]
    instruments: tuple[Md, ...]
    sources: tuple[Md, ...]
    notes: tuple[Fact, ...]
    history: tuple[Md, ...]
    head: Md
    """The hash of the last record of the journal, and how many records there are."""


@attrs.frozen
class Log:
    """The log of a run. Parts that hold nothing are empty, and are said to be; none is left out."""

    title: Md
    procedure: Md
    training: bool
    exercise: Md
    """What kind of run it is in which nothing is done; empty for one that counts."""

    marked: Md
    """Its mark, which stands below every heading, with the lines it takes."""

    outcome: tuple[Md, ...]
    deviations: tuple[Fact, ...]
    left_open: tuple[Fact, ...]
    site: tuple[Md, ...]
    parts: tuple[Part, ...]
    computed: tuple[Fact, ...]
    calculations: tuple[Md, ...]
    settings: tuple[Fact, ...]
    hazards: tuple[Fact, ...]
    signed: tuple[Fact, ...]
    instruments: tuple[Md, ...]
    hardware: tuple[Md, ...]
    closing: Closing
