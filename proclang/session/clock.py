"""When something happened: evidence, never logic. The order of entries is their number, not their time."""

from __future__ import annotations

import datetime
import time
from typing import Any, Protocol

import attrs

Stamp = dict[str, Any]


class Clock(Protocol):
    """Where stamps come from."""

    def stamp(self) -> Stamp:
        """UTC to the second, the local offset, the local date, monotonic seconds, and which boot they count from."""


class SystemClock:
    """The clock of this machine."""

    def __init__(self) -> None:
        self._boot = _boot_id()

    def stamp(self) -> Stamp:
        """Now."""
        now = datetime.datetime.now(datetime.UTC)
        local = now.astimezone()
        offset = local.strftime("%z")
        return {
            "utc": now.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "offset": f"{offset[:3]}:{offset[3:5]}",
            "date": local.strftime("%Y-%m-%d"),
            "mono": round(time.clock_gettime(_SINCE_BOOT), 3),
            "boot": self._boot,
        }


# Linux's boot-time clock goes on while the machine sleeps; the plain monotonic one stands still.
_SINCE_BOOT = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)


def _boot_id() -> str:
    try:
        with open("/proc/sys/kernel/random/boot_id", encoding="ascii") as file:
            return file.read(8)
    except (OSError, UnicodeDecodeError):
        return ""


@attrs.define
class SteppedClock:
    """A clock that moves on by the same step at every stamp: for rehearsals and tests, where runs are compared."""

    start: datetime.datetime = datetime.datetime(2031, 5, 1, 8, 0, tzinfo=datetime.UTC)
    step: datetime.timedelta = datetime.timedelta(seconds=20)
    stamps: int = 0

    def stamp(self) -> Stamp:
        """The next moment."""
        now = self.start + self.stamps * self.step
        self.stamps += 1
        return {
            "utc": now.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "offset": "+00:00",
            "date": now.strftime("%Y-%m-%d"),
            "mono": (now - self.start).total_seconds(),
            "boot": "stepped",
        }
