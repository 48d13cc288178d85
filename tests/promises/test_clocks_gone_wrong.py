"""The clock is evidence, never logic: whatever it says, the day goes on, the log renders, no time is negative.

The clocks are put in from outside: set back or forward, running fast, with a dead battery, through a leap second, a
change of summer time, a suspended laptop, a restart. The rules line by line are in the tests of the log.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import attrs
import pytest
from invented import BAD_DAY, SEAT_SET
from log_help import begin, body_of, carry_on, log_of, opened

from proclang.engine.model import Over, Refused
from proclang.log.verify import passed, verify
from proclang.session import clock as session_clock
from proclang.session.clock import SteppedClock, SystemClock
from proclang.session.run import Run, resume

Stamp = dict[str, Any]
START = datetime.datetime(2031, 5, 1, 8, 0, tzinfo=datetime.UTC)


@attrs.define
class Bent:
    """A clock whose n-th stamp is bent."""

    bend: Callable[[int, Stamp], Stamp]
    true: SteppedClock = attrs.field(factory=SteppedClock)

    def stamp(self) -> Stamp:
        """The next moment, as this clock has it."""
        number = self.true.stamps
        return self.bend(number, self.true.stamp())


def moved(by: datetime.timedelta, since: int = 10) -> Callable[[int, Stamp], Stamp]:
    """Set by so much at the n-th stamp; the monotonic clock knows nothing of it."""

    def bend(number: int, stamp: Stamp) -> Stamp:
        if number < since:
            return stamp
        at = datetime.datetime.fromisoformat(stamp["utc"]) + by
        return {**stamp, "utc": at.strftime("%Y-%m-%dT%H:%M:%SZ"), "date": at.strftime("%Y-%m-%d")}

    return bend


def fast(number: int, stamp: Stamp) -> Stamp:
    """Ten times as fast as the monotonic clock."""
    at = START + datetime.timedelta(seconds=200 * number)
    return {**stamp, "utc": at.strftime("%Y-%m-%dT%H:%M:%SZ"), "date": at.strftime("%Y-%m-%d")}


def dead_battery(number: int, stamp: Stamp) -> Stamp:
    """The clock began again at the epoch when the machine was switched on."""
    at = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC) + datetime.timedelta(seconds=20 * number)
    return {**stamp, "utc": at.strftime("%Y-%m-%dT%H:%M:%SZ"), "date": at.strftime("%Y-%m-%d")}


def leap_second(number: int, stamp: Stamp) -> Stamp:
    """23:59:60, which the standard library's datetime does not know (ISO 8601 has it, ITU-R TF.460 makes it)."""
    return {**stamp, "utc": "2016-12-31T23:59:60Z"} if number == 12 else stamp


def summer_time(number: int, stamp: Stamp) -> Stamp:
    """The local offset changes while nothing else does."""
    return {**stamp, "offset": "+01:00" if number < 14 else "+02:00"}


def suspended(number: int, stamp: Stamp) -> Stamp:
    """A night in between, which the boot-time clock counted as well."""
    if number < 12:
        return stamp
    at = datetime.datetime.fromisoformat(stamp["utc"]) + datetime.timedelta(hours=14)
    bent = {**stamp, "utc": at.strftime("%Y-%m-%dT%H:%M:%SZ"), "date": at.strftime("%Y-%m-%d")}
    return {**bent, "mono": stamp["mono"] + 14 * 3600}


def restarted(number: int, stamp: Stamp) -> Stamp:
    """Another boot: the monotonic clock begins again."""
    return stamp if number < 12 else {**stamp, "boot": "second", "mono": stamp["mono"] - 200.0}


def no_boot_id(number: int, stamp: Stamp) -> Stamp:
    """A system that does not say which boot it is."""
    return {**stamp, "boot": ""}


def back_and_forth(number: int, stamp: Stamp) -> Stamp:
    """Time is set and set again, an hour each way."""
    hours = datetime.timedelta(hours=1 if number % 2 else -1)
    return moved(hours, 0)(number, stamp)


CLOCKS: dict[str, tuple[Callable[[int, Stamp], Stamp], str]] = {
    "a day back": (moved(datetime.timedelta(days=-1)), "clock moved -86,400 s"),
    "ten years on": (moved(datetime.timedelta(days=3_653)), "clock moved +315,619,200 s"),
    "back to 1970": (moved(datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC) - START), "clock moved -1,9"),
    "ten times as fast": (fast, "clock moved +180 s"),
    "a dead battery": (dead_battery, "`1970-01-01T00:"),
    "a leap second": (leap_second, "`2016-12-31T23:59:60Z`"),
    "summer time": (summer_time, "(`+02:00`)"),
    "a suspended laptop": (suspended, "50,420 s later"),
    "a restart": (restarted, "restarted"),
    "no boot id": (no_boot_id, "20 s later"),
    "back and forth": (back_and_forth, "clock moved -7,200 s"),
}


@pytest.fixture(scope="module")
def usual(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The log of the same day by a clock that goes as it should."""
    folder = tmp_path_factory.mktemp("usual") / "run"
    carry_on(begin(folder, SEAT_SET, "seat"), BAD_DAY)
    return log_of(opened(folder))


def undated(log: str) -> list[str]:
    """The lines of a log's body that say nothing of a day."""
    said_of_a_day = r"\d{4}-\d\d-\d\d|overdue|calibrated|left open"
    return [line for line in body_of(log).splitlines() if not re.search(said_of_a_day, line)]


@pytest.mark.parametrize("name", CLOCKS)
def test_the_day_is_the_same_and_its_log_says_what_the_clock_did(tmp_path: Path, name: str, usual: str) -> None:
    bend, words = CLOCKS[name]
    folder = tmp_path / "run"
    carry_on(begin(folder, SEAT_SET, "seat", clock=Bent(bend)), BAD_DAY)
    run = opened(folder)
    log = log_of(run)
    run.folder.write_log(log)
    assert words in log
    assert not re.search(r"-[0-9,]+ s later", log)
    # Nothing measured, decided or judged hangs on the clock; whether a calibration is overdue is said of the day it is,
    # and counts among what is left open.
    if name not in ("ten years on", "a suspended laptop"):
        assert undated(log) == undated(usual)
    checks = verify(folder)
    assert isinstance(checks, tuple)
    assert passed(checks)
    # The order is that of the numbers.
    assert [record["n"] for record in run.reading.entries] == list(range(1, len(run.entries) + 1))


def test_a_run_gone_on_with_by_another_clock_goes_on(tmp_path: Path) -> None:
    """Begun on one machine, finished on one whose clock is forty years behind."""
    folder = tmp_path / "run"
    first = begin(folder, SEAT_SET, "seat")
    carry_on(first, BAD_DAY, lambda request: first.state.entries == 12)
    run = resume(folder, Bent(lambda number, stamp: {**dead_battery(number, stamp), "boot": "other"}))
    assert isinstance(run, Run)
    assert not isinstance(run.request, Over)
    carry_on(run, BAD_DAY)
    log = log_of(opened(folder))
    assert "across a restart" in log
    assert re.search(r"clock moved -1,9[0-9,]+ s or more", log)
    checks = verify(folder)
    assert isinstance(checks, tuple)
    assert passed(checks)


def at_calibration(folder: Path, bend: Callable[[int, Stamp], Stamp]) -> Run:
    """A run at the question when its level was calibrated."""
    run = begin(folder, SEAT_SET, "seat", clock=Bent(bend))
    for text in ("Ada Quill", "Bo Tarn", "LX-7"):
        assert not isinstance(run.reply(text), Refused)
    return run


def test_a_date_of_calibration_can_be_given_though_the_clock_is_dead(tmp_path: Path) -> None:
    """Found here: a clock that began again in 1970 refused every date, and with it the whole run."""
    run = at_calibration(tmp_path / "run", dead_battery)
    taken = run.reply("2031-01-15")
    assert not isinstance(taken, Refused), taken
    assert "the clock said 1970-01-01" in str(taken.then)
    run.close()


def test_a_date_that_has_not_come_yet_is_asked_for_again(tmp_path: Path) -> None:
    """With a clock that may be right, a slip of the pen is likelier; the words say what to do if it is the clock."""
    run = at_calibration(tmp_path / "run", lambda number, stamp: stamp)
    refused = run.reply("2031-06-01")
    assert isinstance(refused, Refused)
    assert "set the clock of this machine" in refused.problem.hint
    assert "2031-05-01" in refused.problem.hint
    run.close()


class Zone(datetime.tzinfo):
    """An offset of some minutes and seconds, as some zones had before 1972."""

    def utcoffset(self, at: datetime.datetime | None) -> datetime.timedelta:
        return datetime.timedelta(hours=-3, minutes=-30, seconds=-52)

    def dst(self, at: datetime.datetime | None) -> datetime.timedelta:
        return datetime.timedelta(0)


def test_the_clock_of_the_machine_gives_whole_stamps(monkeypatch: pytest.MonkeyPatch) -> None:
    """UTC to the second, an offset of hours and minutes, a date of here, seconds that only go on."""
    clock = SystemClock()
    first, second = clock.stamp(), clock.stamp()
    for stamp in (first, second):
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", stamp["utc"])
        assert re.fullmatch(r"[+-]\d\d:\d\d", stamp["offset"])
        assert datetime.date.fromisoformat(stamp["date"])
    assert second["mono"] >= first["mono"]
    assert second["boot"] == first["boot"]

    class Odd(datetime.datetime):
        """A machine in an odd zone."""

        def astimezone(self, tz: datetime.tzinfo | None = None) -> datetime.datetime:
            return super().astimezone(Zone())

    monkeypatch.setattr(session_clock.datetime, "datetime", Odd)
    assert clock.stamp()["offset"] == "-03:30"
