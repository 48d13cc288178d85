"""The clock is evidence, never logic: every stamp renders, no duration is negative, steps and restarts are said."""

from __future__ import annotations

from typing import Any

import pytest

from proclang.engine.model import Entry, Reply
from proclang.log.history import course, seconds_of


def at(utc: Any = None, mono: Any = None, boot: str = "one") -> dict[str, Any]:
    return {k: v for k, v in {"utc": utc, "mono": mono, "boot": boot}.items() if v is not None}


def lines(*stamps: dict[str, Any]) -> list[str]:
    return list(course(Entry("a", Reply("b", "answer", stamp), ()) for stamp in stamps).lines)


def test_time_between_entries_is_that_of_the_monotonic_clock() -> None:
    told = lines(at("2031-05-01T09:00:00Z", 10.0), at("2031-05-01T09:00:12Z", 22.2))
    assert told == ["`2031-05-01T09:00:00Z`: `a`: `b`", "`2031-05-01T09:00:12Z`, 12 s later: `a`: `b`"]


def test_a_clock_set_back_is_said_and_no_time_is_negative() -> None:
    told = lines(at("2031-05-01T09:00:00Z", 10.0), at("2031-05-01T08:00:30Z", 40.0))
    assert told[1:] == ["clock moved -3,600 s", "`2031-05-01T08:00:30Z`, 30 s later: `a`: `b`"]


def test_a_clock_set_forward_is_said() -> None:
    told = lines(at("1970-01-01T00:00:00Z", 1.0), at("2031-05-01T09:00:00Z", 2.0))
    assert told[1] == "clock moved +1,935,392,399 s"


def test_a_creeping_clock_is_let_be() -> None:
    assert len(lines(at("2031-05-01T09:00:00Z", 0.0), at("2031-05-01T09:10:04Z", 600.0))) == 2


def test_across_a_restart_no_time_is_given() -> None:
    told = lines(at("2031-05-01T09:00:00Z", 900.0), at("2031-05-01T08:59:00Z", 5.0, boot="two"))
    assert told[1:] == [
        "restarted",
        "clock moved -60 s or more",
        "`2031-05-01T08:59:00Z`, across a restart: `a`: `b`",
    ]


def test_restarts_are_left_out_of_the_time_the_run_took() -> None:
    stamps = [at("2031-05-01T09:00:00Z", 0.0), at("2031-05-01T09:01:00Z", 60.0), at(mono=5.0, boot="two")]
    stamps.append(at(mono=15.0, boot="two"))
    assert course(Entry("a", Reply("b", "answer", s), ()) for s in stamps).seconds == 70


def test_sittings_are_counted_and_a_sitting_that_broke_off_is_told_from_a_pause() -> None:
    kinds = [("answer", 1), ("pause", 1), ("answer", 2), ("answer", 2), ("answer", 3)]
    entries = [
        Entry("a", Reply("" if kind == "pause" else "b", kind, {"sitting": n} if n > 1 else {}), ())
        for kind, n in kinds
    ]
    told = course(entries)
    assert told.sittings == 3
    assert told.lines[1:] == (
        "no time recorded: paused at `a`",
        "sitting 2 begins",
        "no time recorded: `a`: `b`",
        "no time recorded: `a`: `b`",
        "sitting 3 begins; the one before ended without a word",
        "no time recorded: `a`: `b`",
    )


def test_what_was_typed_and_not_taken_stands_with_the_reply_that_was() -> None:
    reply = Reply("18.7 mm", "answer", {}, (("187", "implausible"), ("<b>`x`", "not-a-number")))
    (line,) = course([Entry("a", reply, ())]).lines
    assert line.endswith("`18.7 mm`; before it, not taken: `187` (implausible), `` <b>`x` `` (not-a-number)")


@pytest.mark.parametrize(
    "stamp",
    [
        {},
        {"utc": 5, "mono": "x", "boot": None},
        {"utc": "yesterday", "mono": 1e300},
        {"utc": "2031-13-45T99:99:99Z", "mono": -1e9},
        {"utc": "<b>", "mono": True, "offset": 7},
        {"utc": "9999-12-31T23:59:60Z", "mono": float(10**11)},
        {"utc": "0000-00-00T00:00:00Z"},
    ],
)
def test_any_stamp_renders(stamp: dict[str, Any]) -> None:
    told = lines(at("2031-05-01T09:00:00Z", 10.0), stamp, at("2031-05-01T09:00:00Z", 10.0))
    assert told[-1].endswith("`a`: `b`")
    assert not any("-" in line and " s later" in line.replace("clock moved -", "") for line in told if ", -" in line)


def test_a_monotonic_clock_that_goes_back_is_said() -> None:
    told = lines(at("2031-05-01T09:00:00Z", 100.0), at("2031-05-01T09:00:05Z", 5.0))
    assert told[1] == "the monotonic clock went back, which no clock does"


def test_a_leap_second_is_a_time() -> None:
    # 2016-12-31T23:59:60Z was the last leap second inserted (IERS Bulletin C 52, from memory).
    before, leap, after = (
        seconds_of(t) for t in ("2016-12-31T23:59:59Z", "2016-12-31T23:59:60Z", "2017-01-01T00:00:00Z")
    )
    assert before is not None
    assert leap == before + 1 == after


def test_seconds_agree_with_the_calendar_of_the_standard_library() -> None:
    import datetime

    one, two = datetime.datetime(1999, 2, 27, 23, 5, 9), datetime.datetime(2031, 5, 1, 9, 22, 13)
    first, second = (seconds_of(t.strftime("%Y-%m-%dT%H:%M:%SZ")) for t in (one, two))
    assert first is not None
    assert second is not None
    assert second - first == (two - one).total_seconds()
