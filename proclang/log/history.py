"""The course of a run in the order of the clock: when each reply came, what it was, and what befell the journal.

A clock is evidence and never logic. Between entries of one boot the time since then is that of the monotonic clock;
across a restart there is none. Where the clock of day and the monotonic clock disagree, somebody moved the first, and
the log says by how much.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Any

import attrs

from proclang.engine.model import Entry
from proclang.log.markdown import Md, code, inline

_UTC = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})T([01][0-9]|2[0-3]):([0-5][0-9]):([0-5][0-9]|60)Z")
_DAY = 86_400
_MOST = 1e12
"""More seconds than any machine has been running."""

CLOCK_SLACK = 5
"""Seconds by which two clocks may disagree between entries: stamps are kept to the second, and a clock that is being
set right over the network creeps. Common practice, no source."""


@attrs.frozen
class Course:
    """One line an entry, with lines between them where the machine was restarted or its clock moved.

    `seconds` is the time between entries added up, restarts left out; `sittings` is how often the run was sat down to.
    """

    lines: tuple[Md, ...]
    seconds: int
    sittings: int


@attrs.define
class _Moment:
    """A stamp, taken apart once."""

    stamp: dict[str, Any]
    clock: int | None
    """Seconds on the clock of day."""

    mono: int | None
    """Seconds on the monotonic clock."""


def course(entries: Iterable[Entry]) -> Course:
    """The course of a run."""
    lines: list[Md] = []
    seconds = 0
    before: _Moment | None = None
    sitting: object = 1
    sittings, paused = 1, True
    for entry in entries:
        stamp = entry.reply.stamp
        now_sitting = stamp.get("sitting", 1)
        if now_sitting != sitting:
            sitting, sittings = now_sitting, sittings + 1
            lines.append(Md(f"sitting {sittings} begins" + ("" if paused else "; the one before ended without a word")))
        paused = entry.reply.kind == "pause"
        now = _Moment(stamp, seconds_of(stamp.get("utc")), _whole(stamp.get("mono")))
        later, aside, passed = _between(before, now) if before is not None else ("", (), 0)
        seconds += passed
        lines.extend(aside)
        lines.append(Md(f"{_when(stamp)}{later}: {_said(entry)}"))
        before = now
    return Course(tuple(lines), seconds, sittings)


def _said(entry: Entry) -> Md:
    reply = entry.reply
    if reply.kind == "open":
        return Md("begun")
    if reply.kind == "pause":
        return Md(f"paused at {code(entry.ask)}")
    what = {"answer": "", "note": "note at ", "stop": "stop at "}.get(reply.kind)
    kind = f"{code(reply.kind)} at " if what is None else what
    return Md(f"{kind}{code(entry.ask)}: {code(reply.text)}{_not_taken(reply.refused)}")


def _not_taken(refused: tuple[tuple[str, str], ...]) -> str:
    """What was typed before and not taken: a reviewer sees where a procedure is misread."""
    if not refused:
        return ""
    return "; before it, not taken: " + ", ".join(f"{code(text)} ({inline(why)})" for text, why in refused)


def _when(stamp: dict[str, Any]) -> Md:
    utc, offset = stamp.get("utc"), stamp.get("offset")
    if not isinstance(utc, str):
        return Md("no time recorded")
    local = f" ({code(offset)})" if isinstance(offset, str) and offset not in ("", "+00:00") else ""
    return Md(f"{code(utc)}{local}")


def _between(before: _Moment, now: _Moment) -> tuple[str, tuple[Md, ...], int]:
    """The time since the last entry in words, what to say before this one, and the time in seconds."""
    moved = now.clock - before.clock if now.clock is not None and before.clock is not None else None
    if before.stamp.get("boot") != now.stamp.get("boot"):
        back = (Md(f"clock moved -{-moved:,} s or more"),) if moved is not None and moved < 0 else ()
        return ", across a restart", (Md("restarted"), *back), 0
    if now.mono is None or before.mono is None:
        return "", (), 0
    passed = now.mono - before.mono
    if passed < 0:
        return "", (Md("the monotonic clock went back, which no clock does"),), 0
    aside: tuple[Md, ...] = ()
    if moved is not None and abs(moved - passed) > CLOCK_SLACK:
        aside = (Md(f"clock moved {moved - passed:+,} s"),)
    return f", {passed:,} s later", aside, passed


def _whole(mono: object) -> int | None:
    """Whole seconds on a monotonic clock; None for what no clock shows."""
    return round(mono) if isinstance(mono, (int, float)) and abs(mono) < _MOST else None


def seconds_of(utc: object) -> int | None:
    """Seconds since the year 1 of a recorded time; a leap second counts as the second after it. None for no time."""
    found = _UTC.fullmatch(utc) if isinstance(utc, str) else None
    if found is None:
        return None
    hour, minute, second = int(found[2]), int(found[3]), int(found[4])
    days = _days(found[1])
    return days * _DAY + hour * 3_600 + minute * 60 + second if days is not None else None


@lru_cache(maxsize=64)
def _days(date: str) -> int | None:
    """Days since the year 1; the entries of a run have few dates."""
    try:
        return datetime.date.fromisoformat(date).toordinal()
    except ValueError:
        return None
