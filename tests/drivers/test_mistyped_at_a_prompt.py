"""`mistyped` at a prompt and in a file of replies: struck, asked again, told in the log, and recomputed by verify."""

from __future__ import annotations

from pathlib import Path

import pytest
from drive_help import Screen, opened, ordinary, proclang, resume_arguments, run_arguments, typed_day, typed_line

LINES = typed_day().splitlines()
AT = next(n for n, r in enumerate(ordinary()) if r.address.endswith("depth[first]"))
REASON = "the point was left out"


def day_with_a_slip() -> list[str]:
    """The ordinary day, the first depth typed wrongly, noticed at the next question."""
    return [*LINES[:AT], "140", f"mistyped: {REASON}", *LINES[AT:]]


@pytest.fixture(scope="module")
def slipped(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    folder = tmp_path_factory.mktemp("slip") / "run"
    done = proclang(*run_arguments(folder, "--plain"), typed="\n".join(day_with_a_slip()) + "\n")
    assert done.returncode == 0, done.stderr.decode()
    return folder, done.stdout.decode()


def test_it_is_said_and_asked_again(slipped: tuple[Path, str]) -> None:
    _, out = slipped
    said = " ".join(out.split())
    assert "140 is struck as mistyped: it stays in the record, and depth, first is asked for again" in said


def test_everything_after_it_is_as_if_it_had_not_been(slipped: tuple[Path, str], tmp_path: Path) -> None:
    proclang(*run_arguments(tmp_path / "plain", "--plain"), typed=typed_day())
    good, slip = opened(tmp_path / "plain").state, opened(slipped[0]).state
    assert slip.entries == good.entries + 2
    slip.entries = good.entries
    assert slip == good


def test_the_log_tells_it_where_the_reading_stands_and_in_the_course(slipped: tuple[Path, str]) -> None:
    log = (slipped[0] / "log.md").read_text(encoding="utf-8")
    line = next(x for x in log.splitlines() if "depth[first]`: 40 mm" in x)
    assert line.endswith(f"; struck before it as mistyped: `140` (`{REASON}`)")
    assert f"the reading before is struck as mistyped: `{REASON}`" in log
    body = log.split("## What differs from run to run")[0]
    assert body.count("140") == 1


def test_verify_recomputes_it_and_finds_a_strike_that_was_none(slipped: tuple[Path, str]) -> None:
    assert proclang("verify", slipped[0]).returncode == 0


def test_the_same_from_a_file_of_replies(tmp_path: Path, slipped: tuple[Path, str]) -> None:
    replies = []
    for n, reply in enumerate(ordinary()):
        if n == AT:
            replies.append(f"{reply.address} = 140")
            replies.append(f"{ordinary()[n + 1].address} mistyped {REASON}")
        mark = {"answer": "= ", "note": "! ", "stop": "stop "}[reply.said.kind]
        replies.append(f"{reply.address} {mark}{reply.said.text}")
    (tmp_path / "day.replies").write_text("\n".join(replies) + "\n", encoding="utf-8")
    done = proclang(*run_arguments(tmp_path / "run", "--replies", tmp_path / "day.replies"))
    assert done.returncode == 0, done.stderr.decode()
    assert opened(tmp_path / "run").state == opened(slipped[0]).state


def test_after_a_resume_the_last_reading_can_still_be_struck(tmp_path: Path) -> None:
    folder = tmp_path / "run"
    proclang(*run_arguments(folder, "--plain"), typed="\n".join([*LINES[:AT], "140", "pause"]) + "\n")
    lines = ["mistyped", *LINES[AT:]]
    assert proclang(*resume_arguments(folder, "--plain"), typed="\n".join(lines) + "\n").returncode == 0
    assert proclang("verify", folder).returncode == 0


def test_where_there_is_nothing_to_strike_it_says_what_to_do(tmp_path: Path) -> None:
    out = proclang(*run_arguments(tmp_path / "run", "--plain"), typed="mistyped\npause\n").stdout.decode()
    said = " ".join(out.split())
    assert "only the latest answer can be struck, and only a reading" in said
    assert "put anything else right by a note" in said


def test_a_struck_reading_that_was_not_read_again_is_left_open(tmp_path: Path) -> None:
    folder = tmp_path / "run"
    rest = [typed_line(r) for r in ordinary()]
    typed = [*rest[:AT], "140", "mistyped", "stop: no light", *["done"] * 20]
    proclang(*run_arguments(folder, "--plain"), typed="\n".join(typed) + "\n")
    log = (folder / "log.md").read_text(encoding="utf-8")
    left_open = log.split("## Left open")[1].split("##")[0]
    assert "struck before it as mistyped: `140`; not read again" in left_open


def test_at_a_full_terminal_at_the_verdict_of_the_slip(tmp_path: Path) -> None:
    (tmp_path / "one.proc").write_text(
        'proclang 1\nprocedure one "One gap"\npurpose "Training example, all values invented."\nneeds\n'
        '  crew fitter\n  authority fitter\nsection all "All"\n  step read "Read it." by fitter\n'
        "    measure gap in mm\n      at most 5 mm\n",
        encoding="utf-8",
    )
    (tmp_path / "hall.toml").write_text('[site]\nname = "Hall (invented)"\n', encoding="utf-8")
    call = ("run", tmp_path / "one.proc", "--site", tmp_path / "hall.toml", "--into", tmp_path / "run")
    screen = Screen(*map(str, call))
    screen.answer("answer:", "Ada Quill")
    screen.answer("gap, in mm:", "21")
    screen.wait_only("FAILS by 16 mm")
    screen.answer("accept or stop:", "mistyped")
    screen.wait_only("is struck as mistyped")
    screen.answer("gap, in mm:", "2.1")
    assert screen.end() == 0
    log = (tmp_path / "run" / "log.md").read_text(encoding="utf-8")
    assert "without deviation" in log
    assert "2.1 mm; typed `2.1`" in log or "2.1 mm; PASSES" in log
