"""What a log says of ordinary, bad, stopped and unfinished runs, and what it may differ in."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from invented import BAD_DAY, PLAIN_DAY, SEAT_SET
from log_help import NORTH, SOUTH, begin, body_of, carry_on, log_of, opened, ran

from proclang.engine.fold import EVENT_KINDS
from proclang.engine.model import Request
from proclang.log.gather import SILENT, TOLD

Golden = Callable[[str, str], None]


def masked(log: str) -> str:
    """Without what no two runs share: the run's name and digests."""
    log = re.sub(r"\b[0-9a-f]{64}\b", "(digest)", log)
    return re.sub(r"\b2031-05-01-[0-9a-f]{8}\b", "(run)", log)


def without_numbers(text: str) -> list[str]:
    return [re.sub(r"-?[0-9]+(\.[0-9]+)?", "0", line) for line in text.split("\n")]


def part(log: str, title: str) -> list[str]:
    """The lines below a heading of the second level."""
    after = log.partition(f"\n## {title}\n")[2]
    return [line for line in after.partition("\n## ")[0].split("\n") if line]


def test_an_ordinary_run(tmp_path: Path, golden: Golden) -> None:
    golden("log/plain_day.md", masked(log_of(ran(tmp_path / "run", SEAT_SET, "seat", PLAIN_DAY))))


def test_a_bad_day(tmp_path: Path, golden: Golden) -> None:
    # Readings again (mean), after adjustment (as found, as left), a performed procedure, a deviation, a doubtful
    # reading, a confirmation refused first, a setting that did not read back.
    golden("log/bad_day.md", masked(log_of(ran(tmp_path / "run", SEAT_SET, "seat", BAD_DAY))))


def test_a_stopped_run(tmp_path: Path, golden: Golden) -> None:
    script = {**PLAIN_DAY, "face_north/mark": "stop fog came in | over the *edge*"}
    golden("log/stopped.md", masked(log_of(ran(tmp_path / "run", SEAT_SET, "seat", script))))


def test_an_unfinished_run_says_where_it_stands(tmp_path: Path) -> None:
    def until(request: Request) -> bool:
        return request.address.endswith("gap/slot")

    run = begin(tmp_path / "run", SEAT_SET, "seat")
    carry_on(run, PLAIN_DAY, until)
    log = log_of(opened(tmp_path / "run"))
    assert part(log, "How it ended")[0] == "- unfinished; the next question is at `seat/level/gap/slot`"
    # Nothing has been left yet, so nothing is left as it should not be.
    assert part(log, "Left open") == ["- none"]
    assert "- `lid`: found fitted, now fitted" in part(log, "Hardware")


def test_north_and_south_differ_in_their_arms_and_their_site_facts_only(tmp_path: Path) -> None:
    north = without_numbers(body_of(log_of(ran(tmp_path / "north", SEAT_SET, "seat", PLAIN_DAY, NORTH))))
    south = without_numbers(body_of(log_of(ran(tmp_path / "south", SEAT_SET, "seat", PLAIN_DAY, SOUTH))))
    assert len(north) == len(south)
    differing = [(a, b) for a, b in zip(north, south, strict=True) if a != b]
    assert differing == [
        ("- site: Pine Hill (invented) (`pine_hill`)", "- site: Dune Flat (invented) (`dune_flat`)"),
        ("- `hemisphere`: north", "- `hemisphere`: south"),
        ("- `seat/point/according_to_hemisphere`: the way of north",
         "- `seat/point/according_to_hemisphere`: the way of south"),
        ("- `seat/point/face_north`: step by lead; Turn the mark north.",
         "- `seat/point/face_south`: step by lead; Turn the mark south."),
        ("- `seat/point/face_north/mark`: 0 deg true; PASSES (0 to 0 deg true)",
         "- `seat/point/face_south/mark`: 0 deg true; PASSES (0 to 0 deg true)"),
    ]  # fmt: skip


def test_people_serial_numbers_and_times_stand_in_the_closing_part_only(tmp_path: Path) -> None:
    body = body_of(log_of(ran(tmp_path / "run", SEAT_SET, "seat", PLAIN_DAY)))
    for private in ("Ada", "Quill", "Bo Tarn", "LX-12", "2031"):
        assert private not in body


def test_the_order_is_that_of_the_procedure_and_not_of_the_clock(tmp_path: Path) -> None:
    # The steps of `in any order` are picked the other way round.
    other = {**PLAIN_DAY, "point/in_any_order": "seat_look"}
    one = log_of(ran(tmp_path / "one", SEAT_SET, "seat", PLAIN_DAY))
    two = log_of(ran(tmp_path / "two", SEAT_SET, "seat", other))
    assert body_of(one) == body_of(two)
    assert one.index("/card/tint`: `amber`") < one.index("/seat_look/clean`: `yes`")
    assert two.index("/card/tint`: `amber`") > two.index("/seat_look/clean`: `yes`")


def test_a_note_is_counted_in_the_body_and_read_in_the_closing_part(tmp_path: Path) -> None:
    script = {**PLAIN_DAY, "gap/slot": ["!cold hands", "!colder", "1.05"]}
    log = log_of(ran(tmp_path / "run", SEAT_SET, "seat", script))
    assert part(log, "How it ended")[2] == "- 0 points left open, 2 notes beside the questions"
    assert "cold" not in body_of(log)
    assert "- `seat/level/gap/slot`: `cold hands`\n- `seat/level/gap/slot`: `colder`\n" in log


def test_an_overdue_instrument_and_hardware_put_right_are_left_open(tmp_path: Path) -> None:
    script = {**PLAIN_DAY, "bar/calibrated": "2029-05-01", "found/lid": "removed"}
    left = part(log_of(ran(tmp_path / "run", SEAT_SET, "seat", script)), "Left open")
    # 730 days: no leap day lies between 2029-05-01 and 2031-05-01 (calendar, checked by hand).
    assert [line for line in left if "calibrated 730 days ago" in line]
    assert [line for line in left if line.startswith("- `opening/found/lid`: could not go on")]
    assert "- `opening/found/lid`: put right, with no step for it; `lid` now fitted" in left


def test_hardware_left_otherwise_than_declared_is_left_open(tmp_path: Path) -> None:
    script = {**PLAIN_DAY, "card/tint": "stop"}
    left = part(log_of(ran(tmp_path / "run", SEAT_SET, "seat", script)), "Left open")
    assert "- `lid`: left removed; the procedure leaves it fitted" in left


def test_a_person_who_answers_for_a_hazard_is_named_by_role(tmp_path: Path) -> None:
    script = {**PLAIN_DAY, "glare/glasses": "Bo Tarn"}
    body = body_of(log_of(ran(tmp_path / "run", SEAT_SET, "seat", script)))
    assert "  - `glasses`: rigger\n" in body


def test_one_fact_a_line_and_headings_that_never_move(tmp_path: Path) -> None:
    logs = [log_of(ran(tmp_path / day, SEAT_SET, "seat", s)) for day, s in (("a", PLAIN_DAY), ("b", BAD_DAY))]
    headings = [re.findall(r"^## .*$", log, re.MULTILINE) for log in logs]
    assert headings[0] == headings[1]
    for log in logs:
        assert log.endswith("\n")
        assert not log.endswith("\n\n")
        assert "\n\n\n" not in log
        assert "|" not in body_of(log).replace("[wide] |", "")
        for line in body_of(log).split("\n"):
            assert line == "" or line.startswith(("# ", "## ", "### ", "- ", "  - ", "Procedure ", "**Training "))


def test_every_kind_of_event_is_told_or_known_to_be_silent() -> None:
    assert EVENT_KINDS <= TOLD | SILENT
    assert not TOLD & SILENT
