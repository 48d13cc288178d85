"""The head of the journal as a log prints it, so that another journal, or this one later, can be held against it."""

from __future__ import annotations

import re

import attrs

from proclang.log.markdown import Md
from proclang.text.diagnostic import Problem

_LINE = re.compile(r"`([0-9a-f]{64})` after record ([1-9][0-9]{0,15})")


@attrs.frozen
class Head:
    """The hash of the last record a log was made from, and its number."""

    sha: str
    records: int


def head_line(head: Head) -> Md:
    """The last line of a log."""
    return Md(f"`{head.sha}` after record {head.records}")


def read_head(log: str) -> Head | Problem:
    """The head printed in a log: its last line, which no text in it can imitate, since none can begin a line."""
    lines = log.rstrip("\n").rsplit("\n", 1)
    found = _LINE.fullmatch(lines[-1])
    if found is None:
        return Problem(
            "no-head", "its last line is not the head of a journal", hint="give a log that `proclang log` wrote, whole"
        )
    return Head(found[1], int(found[2]))
