"""Several readings typed on one line: each answers its own question, is judged and kept by itself, and none answers
a question it was not meant for."""

from __future__ import annotations

from pathlib import Path

import pytest
from drive_help import Screen, opened, ordinary, proclang, recorded, run_arguments, typed_day

PROCEDURE = """\
proclang 1
procedure gaps "Gaps of a lid"
purpose "Training example, all values invented."
needs
  crew fitter
section all "All gaps"
  step read "Read the gaps round the lid." by fitter
    measure gap[near, far, left] in mm
      within 2 ± 0.5 mm
      plausible 0 .. 20 mm
    measure depth in mm
"""


@pytest.fixture
def gaps(tmp_path: Path) -> Path:
    (tmp_path / "gaps.proc").write_text(PROCEDURE, encoding="utf-8")
    (tmp_path / "hall.toml").write_text('[site]\nname = "Hall (invented)"\n', encoding="utf-8")
    return tmp_path


def arguments(folder: Path) -> tuple[str, ...]:
    into = folder / "run"
    return tuple(map(str, ("run", folder / "gaps.proc", "--site", folder / "hall.toml", "--into", into)))


def answers(folder: Path) -> list[tuple[str, str]]:
    """Last part of the address, and the reply, of each reading and what came between."""
    return [(ask.rpartition("/")[2], text) for ask, _, text in recorded(folder / "run") if "opening" not in ask]


def run(folder: Path, *lines: str) -> str:
    typed = "".join(line + "\n" for line in ("Ada Quill", *lines))
    return proclang(*arguments(folder), "--plain", typed=typed).stdout.decode()


def test_each_reading_of_a_line_is_an_entry_of_its_own(gaps: Path) -> None:
    out = run(gaps, "2.1; 2.2 ;2.05 mm", "7")
    assert answers(gaps)[:4] == [("gap[near]", "2.1"), ("gap[far]", "2.2"), ("gap[left]", "2.05 mm"), ("depth", "7")]
    assert out.count("PASSES") == 3
    assert "One line can hold all 3 readings, with ; between: near; far; left." in " ".join(out.split())
    # Each is shown behind its own prompt, so that a slip in the order can be seen.
    assert "gap, far, in mm: 2.2" in out


def test_a_line_may_hold_fewer_and_begin_later(gaps: Path) -> None:
    run(gaps, "2.1", "2.2; 2.3", "7")
    assert [text for _, text in answers(gaps)][:4] == ["2.1", "2.2", "2.3", "7"]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("2.1; 2.2; 2.3; 7", "4 readings were typed"),
        ("2.1;; 2.3", "a reading is missing beside a `;`"),
        ("2.1; 2.2;", "a reading is missing beside a `;`"),
        (";", "a reading is missing beside a `;`"),
    ],
)
def test_a_line_that_does_not_fit_is_not_taken_at_all(gaps: Path, line: str, said: str) -> None:
    out = run(gaps, line, "pause")
    assert answers(gaps) == []
    assert said in " ".join(out.split())


def test_one_reading_is_not_two(gaps: Path) -> None:
    out = run(gaps, "2; 2; 2", "7; 8", "pause")
    assert [where for where, _ in answers(gaps)] == ["gap[near]", "gap[far]", "gap[left]"]
    assert "one reading is asked here" in out


@pytest.mark.parametrize("second", ["22", "2 kg", "2..1"])
def test_what_stands_behind_a_reading_that_is_refused_is_not_used(gaps: Path, second: str) -> None:
    out = run(gaps, f"2.1; {second}; 2.3", "pause")
    assert answers(gaps) == [("gap[near]", "2.1")]
    assert "not taken, since something else is asked now: 2.3" in " ".join(out.split())


def test_what_stands_behind_a_reading_out_of_tolerance_is_not_used(gaps: Path) -> None:
    out = run(gaps, "3; 2.2; 2.3", "pause")
    assert answers(gaps) == [("gap[near]", "3")]
    assert "FAILS" in out
    assert "not taken, since something else is asked now: 2.2; 2.3" in " ".join(out.split())


def test_a_semicolon_elsewhere_is_text(gaps: Path) -> None:
    run(gaps, "! wind; then calm", "stop: too cold; home", "pause")
    assert recorded(gaps / "run")[1:3] == [
        ("gaps/all/read/gap[near]", "note", "wind; then calm"),
        ("gaps/all/read/gap[near]", "stop", "too cold; home"),
    ]


def test_an_implausible_reading_can_be_insisted_on_in_its_place(gaps: Path) -> None:
    out = run(gaps, "2.1; really 21; 2.3", "pause")
    assert answers(gaps) == [("gap[near]", "2.1"), ("gap[far]", "really 21")]
    assert "FAILS" in out


@pytest.mark.parametrize("plain", [True, False])
def test_at_a_terminal(gaps: Path, plain: bool) -> None:
    screen = Screen(*arguments(gaps), plain=plain)
    screen.answer("answer:", "Ada Quill")
    screen.answer("gap, near, in mm:", "2.1; 2.2; 2.3")
    screen.answer("depth, in mm:", "7")
    assert screen.end() == 0
    assert [text for _, text in answers(gaps)] == ["2.1", "2.2", "2.3", "7"]
    assert "gap, far, in mm: 2.2" in screen.text


def test_the_sample_day_in_fewer_lines_leaves_the_same_readings(tmp_path: Path) -> None:
    """Lines joined where a row is asked: the journal is that of single lines but for its times and hashes."""
    proclang(*run_arguments(tmp_path / "single", "--plain"), typed=typed_day())
    lines = typed_day().splitlines()
    first = next(i for i, r in enumerate(ordinary()) if r.address.endswith("depth[first]"))
    joined = [*lines[:first], f"{lines[first]}; {lines[first + 1]}", *lines[first + 2 :]]
    proclang(*run_arguments(tmp_path / "joined", "--plain"), typed="\n".join(joined) + "\n")
    assert recorded(tmp_path / "joined") == recorded(tmp_path / "single")
    assert opened(tmp_path / "joined").state.status == "finished"
