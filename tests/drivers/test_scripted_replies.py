"""Replies from a file: strict order, findings at their place, and going on where a run stands."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from drive_help import (
    SAMPLES,
    as_scripted,
    opened,
    ordinary,
    proclang,
    recorded,
    resume_arguments,
    run_arguments,
    typed_day,
)
from hypothesis import given
from hypothesis import strategies as st

from proclang.session.scripted import Script, read_script

LINES = (SAMPLES / "ordinary.replies").read_text().splitlines()


def write(folder: Path, lines: list[str]) -> Path:
    path = folder / "day.replies"
    path.write_text("\n".join(lines) + "\n")
    return path


def line_of(address: str) -> int:
    """Index of the first line with an address."""
    return next(i for i, line in enumerate(LINES) if line.startswith(f"{address} "))


def test_an_ordinary_day_from_a_file(tmp_path: Path) -> None:
    done = proclang(*run_arguments(tmp_path / "run", "--replies", SAMPLES / "ordinary.replies", "--no-input"))
    assert done.returncode == 0, done.stderr.decode()
    assert recorded(tmp_path / "run") == as_scripted(ordinary())


def test_a_script_and_a_pipe_leave_the_same_journal_but_for_its_run(tmp_path: Path) -> None:
    """One engine, one loop: only the driver differs. The stepped clock gives both the same times."""
    proclang(*run_arguments(tmp_path / "a", "--replies", SAMPLES / "ordinary.replies"))
    proclang(*run_arguments(tmp_path / "b"), typed=typed_day())
    first, second = (opened(tmp_path / name).entries for name in "ab")
    assert first[1:] == second[1:]


def test_an_address_holds_blanks_between_its_brackets() -> None:
    """Several labels at once are written with commas and blanks, as the question itself is printed."""
    script = read_script(b"opening/found/crates[fork, tube] = closed\na/b[x, y]/c ! seen\n", "day.replies")
    assert isinstance(script, Script), script
    assert [line.address for line in script.replies] == ["opening/found/crates[fork, tube]", "a/b[x, y]/c"]
    assert [line.said.text for line in script.replies] == ["closed", "seen"]


def test_replies_can_come_on_standard_input(tmp_path: Path) -> None:
    text = (SAMPLES / "ordinary.replies").read_text()
    done = proclang(*run_arguments(tmp_path / "run", "--replies", "-"), typed=text)
    assert done.returncode == 0
    assert recorded(tmp_path / "run") == as_scripted(ordinary())


FAULTS: dict[str, Callable[[list[str]], list[str]]] = {
    "mismatch": lambda lines: [line.replace("crew/sampler =", "crew/scribe =") for line in lines],
    "out-of-order": lambda lines: [
        *lines[: line_of("opening/tools")],
        lines[line_of("opening/found/tap")],
        lines[line_of("opening/tools")],
        *lines[line_of("opening/found/tap") + 1 :],
    ],
    "refused": lambda lines: [line.replace("= 3 cm", "= 3 kg") for line in lines],
    "implausible": lambda lines: [line.replace("= 3 cm", "= 3 m") for line in lines],
    "early-end": lambda lines: lines[:12],
    "left-over": lambda lines: [*lines, "rinse/close/accepted/lead = AQ", "rinse/close/accepted/sampler = BT"],
    "nothing": lambda lines: ["# Training example: nothing is answered."],
}


def said(shown: bytes, folder: Path) -> str:
    """What is shown, without where this test runs and by which interpreter the program was called."""
    text = shown.decode().replace(str(folder), "FOLDER")
    return re.sub("To go on: .* -m proclang ", "To go on: python3 -m proclang ", text)


@pytest.mark.parametrize("fault", FAULTS)
def test_what_does_not_fit_is_told_at_its_place(tmp_path: Path, golden: Callable[[str, str], None], fault: str) -> None:
    """Both sides are named: what is asked, and what the file has. What was answered before is kept."""
    path = write(tmp_path, FAULTS[fault](LINES))
    done = proclang(*run_arguments(tmp_path / "run", "--replies", path))
    assert done.returncode == 1
    golden(f"replies/{fault}.txt", said(done.stderr, tmp_path))
    kept = recorded(tmp_path / "run")
    assert kept == as_scripted(ordinary())[: len(kept)]


SHAPES = {
    "no-reply": ["opening/crew/lead =", "opening/crew/sampler"],
    "no-mark": ["opening/crew/lead Ada Quill", "opening/crew/sampler: Bo Tarn"],
    "no-note": ["opening/crew/lead !"],
    "tight": ["opening/crew/lead=Ada Quill"],
}


@pytest.mark.parametrize("shape", SHAPES)
def test_lines_that_are_no_replies_are_all_told_before_the_run_begins(
    tmp_path: Path, golden: Callable[[str, str], None], shape: str
) -> None:
    path = write(tmp_path, ["# Training example.", *SHAPES[shape]])
    done = proclang(*run_arguments(tmp_path / "run", "--replies", path))
    assert done.returncode == 1
    golden(f"replies/shape-{shape}.txt", done.stderr.decode().replace(str(tmp_path), "FOLDER"))
    assert not (tmp_path / "run").exists()


def test_blank_lines_comments_and_blanks_around_a_reply_mean_nothing() -> None:
    script = read_script(b"\n  # a comment = none\n\ta/b[1] \t=  12 mm  \n", "x")
    assert isinstance(script, Script)
    assert as_scripted(script.replies) == [("a/b[1]", "answer", "12 mm")]


def test_a_reply_is_taken_as_it_stands() -> None:
    """No quotes, no comments behind it: what follows the mark is the reply."""
    script = read_script(b'a = nut #3 = "tight"\nb stop\nc stop the wind: 20 m/s\nd ! it is = 4\n', "x")
    assert isinstance(script, Script)
    assert as_scripted(script.replies) == [
        ("a", "answer", 'nut #3 = "tight"'),
        ("b", "stop", ""),
        ("c", "stop", "the wind: 20 m/s"),
        ("d", "note", "it is = 4"),
    ]


@given(st.binary(max_size=200))
def test_any_file_is_a_script_or_findings_in_it(data: bytes) -> None:
    read = read_script(data, "x")
    if isinstance(read, Script):
        assert all(r.address and r.address == r.address.strip() for r in read.replies)
    else:
        assert read
        assert {f.span.file for f in read} == {"x"}


def half_run(tmp_path: Path) -> int:
    """A run left by hand in the middle; gives how many replies it has."""
    half = 12
    proclang(*run_arguments(tmp_path / "run"), typed=typed_day(ordinary()[:half]))
    assert len(recorded(tmp_path / "run")) == half
    return half


def test_a_file_of_the_whole_run_goes_on_where_the_run_stands(tmp_path: Path) -> None:
    half_run(tmp_path)
    done = proclang(*resume_arguments(tmp_path / "run"), "--replies", SAMPLES / "ordinary.replies")
    assert done.returncode == 0, done.stderr.decode()
    assert recorded(tmp_path / "run") == as_scripted(ordinary())


def test_a_file_may_begin_at_the_open_question(tmp_path: Path) -> None:
    half = half_run(tmp_path)
    path = write(tmp_path, LINES[half + 1 :])
    done = proclang(*resume_arguments(tmp_path / "run"), "--replies", path)
    assert done.returncode == 0, done.stderr.decode()
    assert recorded(tmp_path / "run") == as_scripted(ordinary())


def test_a_file_that_tells_the_past_otherwise_is_refused(tmp_path: Path, golden: Callable[[str, str], None]) -> None:
    """What is recorded stays recorded; nothing is added to it."""
    half = half_run(tmp_path)
    path = write(tmp_path, [line.replace("SG-7", "SG-8") for line in LINES])
    done = proclang(*resume_arguments(tmp_path / "run"), "--replies", path)
    assert done.returncode == 1
    golden("replies/differs.txt", said(done.stderr, tmp_path))
    assert len(recorded(tmp_path / "run")) == half


def test_after_a_mismatch_the_mended_file_goes_on(tmp_path: Path) -> None:
    path = write(tmp_path, FAULTS["refused"](LINES))
    assert proclang(*run_arguments(tmp_path / "run", "--replies", path)).returncode == 1
    write(tmp_path, LINES)
    assert proclang(*resume_arguments(tmp_path / "run"), "--replies", path, "--no-input").returncode == 0
    assert recorded(tmp_path / "run") == as_scripted(ordinary())


def test_after_a_mismatch_the_run_can_be_finished_by_hand(tmp_path: Path) -> None:
    path = write(tmp_path, FAULTS["mismatch"](LINES))
    assert proclang(*run_arguments(tmp_path / "run", "--replies", path)).returncode == 1
    left = ordinary()[len(recorded(tmp_path / "run")) :]
    assert proclang(*resume_arguments(tmp_path / "run"), typed=typed_day(left)).returncode == 0


@pytest.mark.parametrize(("data", "code"), [(b"\xff\xfe", "not-utf8"), (b"a = b\x07\n", "hidden-character")])
def test_a_file_that_is_no_text_is_told(tmp_path: Path, data: bytes, code: str) -> None:
    path = tmp_path / "day.replies"
    path.write_bytes(data)
    done = proclang(*run_arguments(tmp_path / "run", "--replies", path))
    assert done.returncode == 1
    assert f"error[{code}]" in done.stderr.decode()


def test_a_missing_file_of_replies_is_an_unusable_call(tmp_path: Path) -> None:
    done = proclang(*run_arguments(tmp_path / "run", "--replies", tmp_path / "none"))
    assert done.returncode == 2
    assert "no such file" in done.stderr.decode()
    assert not (tmp_path / "run").exists()
