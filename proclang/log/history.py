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

from proclang.engine.fold import MISTYPED
from proclang.engine.model import Entry
from proclang.log.markdown import Md, code, inline

_TO_THE_MINUTE = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})T([01][0-9]|2[0-3]):([0-5][0-9])")
_SECONDS = {f":{second:02}Z": second for second in range(61)}
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
        lines.append(Md(f"{_when(now)}{later}: {_said(entry)}"))
        before = now
    return Course(tuple(lines), seconds, sittings)


def _said(entry: Entry) -> Md:
    reply = entry.reply
    if reply.kind == "answer":
        return Md(f"{code(entry.ask)}: {code(reply.text)}{_not_taken(reply.refused)}")
    if reply.kind == "open":
        return Md("begun")
    if reply.kind == "pause":
        return Md(f"paused at {code(entry.ask)}")
    if reply.kind == MISTYPED:
        reason = f": {code(reply.text)}" if reply.text.strip() else ""
        return Md(f"the reading before is struck as mistyped{reason}{_not_taken(reply.refused)}")
    if reply.kind == "note":  # its words stand under Notes
        return Md(f"note at {code(entry.ask)}")
    kind = reply.kind if reply.kind in ("stop", "crew") else code(reply.kind)
    return Md(f"{kind} at {code(entry.ask)}: {code(reply.text)}{_not_taken(reply.refused)}")


def _not_taken(refused: tuple[tuple[str, str], ...]) -> str:
    """What was typed before and not taken: a reviewer sees where a procedure is misread."""
    if not refused:
        return ""
    return "; before it, not taken: " + ", ".join(f"{code(text)} ({inline(why)})" for text, why in refused)


def _when(now: _Moment) -> Md:
    utc, offset = now.stamp.get("utc"), now.stamp.get("offset")
    if not isinstance(utc, str):
        return Md("no time recorded")
    local = f" ({code(offset)})" if isinstance(offset, str) and offset not in ("", "+00:00") else ""
    # A time that was read as one holds no sign that a code span would mind.
    return Md(f"`{utc}`{local}" if now.clock is not None else f"{code(utc)}{local}")


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
    if not isinstance(utc, str):
        return None
    second, minute = _SECONDS.get(utc[16:]), _minute(utc[:16])
    return minute + second if second is not None and minute is not None else None


@lru_cache(maxsize=64)
def _minute(text: str) -> int | None:
    """Seconds since the year 1 at a minute; several entries of a run share one."""
    found = _TO_THE_MINUTE.fullmatch(text)
    if found is None:
        return None
    try:
        days = datetime.date.fromisoformat(found[1]).toordinal()
    except ValueError:
        return None
    return days * _DAY + int(found[2]) * 3_600 + int(found[3]) * 60
