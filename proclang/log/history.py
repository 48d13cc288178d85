"""The course of a run in the order of the clock: when each reply came, what it was, and what befell the journal.

A clock is evidence and never logic. Between entries of one boot the time since then is that of the monotonic clock;
across a restart there is none. Where the clock of day and the monotonic clock disagree, somebody moved the first, and
the log says by how much.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable
from typing import Any

from proclang.engine.model import Entry
from proclang.log.markdown import Md, code

_UTC = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})T([0-9]{2}):([0-9]{2}):([0-9]{2})Z")
_DAY = 86_400
_MOST = 1e12
"""More seconds than any machine has been running."""

CLOCK_SLACK = 5
"""Seconds by which two clocks may disagree between entries: stamps are kept to the second, and a clock that is being
set right over the network creeps. Common practice, no source."""


def course(entries: Iterable[Entry]) -> list[Md]:
    """One line an entry, with lines between them where the machine was restarted or its clock moved."""
    lines: list[Md] = []
    before: dict[str, Any] = {}
    for entry in entries:
        stamp = entry.reply.stamp
        passed, aside = _between(before, stamp)
        lines.extend(aside)
        when = _when(stamp)
        lines.append(Md(f"{when}{passed}: {_said(entry)}"))
        before = stamp
    return lines


def _said(entry: Entry) -> Md:
    reply = entry.reply
    if reply.kind == "open":
        return Md("begun")
    what = {"answer": "", "note": "note at ", "stop": "stop at "}.get(reply.kind)
    kind = f"{code(reply.kind)} at " if what is None else what
    return Md(f"{kind}{code(entry.ask)}: {code(reply.text)}")


def _when(stamp: dict[str, Any]) -> Md:
    utc, offset = stamp.get("utc"), stamp.get("offset")
    if not isinstance(utc, str):
        return Md("no time recorded")
    local = f" ({code(offset)})" if isinstance(offset, str) and offset not in ("", "+00:00") else ""
    return Md(f"{code(utc)}{local}")


def _between(before: dict[str, Any], now: dict[str, Any]) -> tuple[str, list[Md]]:
    """The time since the last entry, and what to say before this one."""
    if not before:
        return "", []
    clock, earlier = seconds_of(now.get("utc")), seconds_of(before.get("utc"))
    moved = clock - earlier if clock is not None and earlier is not None else None
    if before.get("boot") != now.get("boot"):
        aside = [Md("restarted")]
        if moved is not None and moved < 0:
            aside.append(Md(f"clock moved back by {-moved:,} s or more"))
        return ", across a restart", aside
    passed = _passed(before, now)
    if passed is None:
        return "", []
    if passed < 0:
        return "", [Md("the monotonic clock went back, which no clock does")]
    aside = []
    if moved is not None and abs(moved - passed) > CLOCK_SLACK:
        sign = "+" if moved > passed else "-"
        aside.append(Md(f"clock moved {sign}{abs(moved - passed):,} s"))
    return f", {passed:,} s later", aside


def _passed(before: dict[str, Any], now: dict[str, Any]) -> int | None:
    """Whole seconds on the monotonic clock between two stamps of one boot; None where it did not tell."""
    last, mono = before.get("mono"), now.get("mono")
    if not isinstance(last, (int, float)) or not isinstance(mono, (int, float)):
        return None
    return round(mono) - round(last) if abs(mono) < _MOST and abs(last) < _MOST else None


def seconds_of(utc: object) -> int | None:
    """Seconds since the year 1 of a recorded time; a leap second counts as the second after it. None for no time."""
    found = _UTC.fullmatch(utc) if isinstance(utc, str) else None
    if found is None:
        return None
    year, month, day, hour, minute, second = map(int, found.groups())
    if hour > 23 or minute > 59 or second > 60:
        return None
    try:
        days = datetime.date(year, month, day).toordinal()
    except ValueError:
        return None
    return days * _DAY + hour * 3_600 + minute * 60 + second


def worked(entries: Iterable[Entry]) -> int:
    """Seconds between entries of one boot, added up: the time the run took, restarts left out."""
    total = 0
    before: dict[str, Any] = {}
    for entry in entries:
        now = entry.reply.stamp
        if before.get("boot") == now.get("boot"):
            total += max(0, _passed(before, now) or 0)
        before = now
    return total
