"""The plain driver over pipes: the whole program, as a script, a screen reader or a serial line meets it."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from drive_help import (
    as_scripted,
    at_once,
    environment,
    opened,
    ordinary,
    proclang,
    recorded,
    resume_arguments,
    run_arguments,
    typed_day,
    typed_line,
    widest,
    without_colour,
)
from hypothesis import given, settings
from hypothesis import strategies as st

TYPICAL = (*(typed_line(r) for r in ordinary()), "help", "here", "entered", "stop", "no", "2", "accept", "= x", "! y")
FIRST_READING = next(i for i, r in enumerate(ordinary()) if r.address.endswith("depth[first]"))


def test_a_day_typed_on_a_pipe_finishes_and_is_recorded_as_typed(tmp_path: Path) -> None:
    done = proclang(*run_arguments(tmp_path / "run"), typed=typed_day())
    assert done.returncode == 0, done.stderr.decode()
    assert recorded(tmp_path / "run") == as_scripted(ordinary())
    assert b"the procedure is finished" in done.stdout
    assert (tmp_path / "run" / "log.md").read_text().startswith("# Rinse the sampling line")
    assert f"Its log: {tmp_path / 'run' / 'log.md'}" in done.stderr.decode()


@pytest.mark.parametrize("width", [80, 40])
def test_no_line_is_wider_than_the_terminal(tmp_path: Path, width: int) -> None:
    done = proclang(*run_arguments(tmp_path / "run"), typed=typed_day(), env=environment(COLUMNS=str(width)))
    assert done.returncode == 0
    assert widest(done.stdout.decode()) <= width


def test_one_column_is_survived(tmp_path: Path) -> None:
    done = proclang(*run_arguments(tmp_path / "run"), typed=typed_day(), env=environment(COLUMNS="1"))
    assert done.returncode == 0


def test_the_pipe_may_end_and_the_run_goes_on_later(tmp_path: Path) -> None:
    """An input that ends is no answer: exit 1, everything kept, and the command to go on with."""
    half = ordinary()[:FIRST_READING]
    done = proclang(*run_arguments(tmp_path / "run"), typed=typed_day(half))
    assert done.returncode == 1
    assert f"proclang resume {tmp_path / 'run'}" in done.stderr.decode()
    assert recorded(tmp_path / "run") == as_scripted(half)
    rest = proclang(*resume_arguments(tmp_path / "run"), typed=typed_day(ordinary()[FIRST_READING:]))
    assert rest.returncode == 0
    assert recorded(tmp_path / "run") == as_scripted(ordinary())
    shown = rest.stdout.decode()
    assert f"Going on after entry {len(half) + 1}." in shown
    assert "Step 2 of 2: Draw 2.0 L and pour it away." in shown


def test_a_last_line_without_its_end_is_not_taken(tmp_path: Path) -> None:
    """`4` may be the first half of `40`."""
    typed = typed_day(ordinary()[:FIRST_READING]) + "4"
    done = proclang(*run_arguments(tmp_path / "run"), typed=typed)
    assert done.returncode == 1
    assert "`4` was not followed by Enter and was not taken" in done.stderr.decode()
    assert len(recorded(tmp_path / "run")) == FIRST_READING


def test_pause_leaves_without_loss_and_without_fault(tmp_path: Path) -> None:
    done = proclang(*run_arguments(tmp_path / "run"), typed="Ada Quill\npause\n")
    assert done.returncode == 0
    assert "Paused." in done.stderr.decode()
    assert len(recorded(tmp_path / "run")) == 1


def test_enter_alone_and_what_cannot_be_read_are_asked_again(tmp_path: Path) -> None:
    """Nothing of it is recorded, and the reason is said."""
    typed = typed_day(ordinary()[:FIRST_READING]) + "\n4 kg\nabc\n300\n40\n"
    done = proclang(*run_arguments(tmp_path / "run"), typed=typed)
    shown = done.stdout.decode()
    assert "not taken: nothing was typed" in shown
    assert "mass" in shown  # what a kilogram is, and a depth is not
    assert "300 mm is outside what can be expected here, 0 mm to 200 mm" in shown
    assert recorded(tmp_path / "run")[FIRST_READING:] == [("rinse/flush/flushing#1/draw/depth[first]", "answer", "40")]


def test_help_here_and_entered_change_nothing(tmp_path: Path) -> None:
    typed = typed_day(ordinary()[:FIRST_READING]) + "help\nhere\nentered\n?\n"
    done = proclang(*run_arguments(tmp_path / "run"), typed=typed)
    shown = done.stdout.decode()
    assert shown.count("At any question:\n") == 2
    assert shown.count("Step 2 of 2: Draw") == 2
    assert "  2: Who is the lead? Ada Quill\n" in shown
    assert len(recorded(tmp_path / "run")) == FIRST_READING


def test_a_stop_needs_no_second_word_and_leads_to_the_safe_state(tmp_path: Path) -> None:
    typed = typed_day(ordinary()[:FIRST_READING]) + "stop: ice on the steps\ndone\n"
    done = proclang(*run_arguments(tmp_path / "run"), typed=typed, env=environment(COLUMNS="100"))
    assert done.returncode == 1  # a run that was stopped is not a run that was finished
    shown = done.stdout.decode()
    assert "recorded; this stops nothing on the machine: use its emergency stop" in shown
    assert "Shut the tap." in shown
    assert recorded(tmp_path / "run")[-2:] == [
        ("rinse/flush/flushing#1/draw/depth[first]", "stop", "ice on the steps"),
        ("rinse/flush/if_stopped/shut_first", "answer", "done"),
    ]
    assert opened(tmp_path / "run").state.status == "stopped"


def test_out_of_tolerance_accepted_with_a_reason_and_a_name(tmp_path: Path) -> None:
    """Nothing out of tolerance passes silently, and who may not accept it is told so."""
    gap = next(i for i, r in enumerate(ordinary()) if r.address.endswith("gap"))
    replies = ["2.7", "accept", "the seat is replaced next week", "Bo Tarn", "Ada Quill"]
    typed = typed_day(ordinary()[:gap]) + "".join(r + "\n" for r in replies)
    done = proclang(*run_arguments(tmp_path / "run"), typed=typed)
    shown = " ".join(done.stdout.decode().split())
    assert "FAILS by 0.2 mm above (1.5 to 2.5 mm)" in shown
    assert "Bo Tarn may not accept a deviation here" in shown
    assert "accepted as a deviation by Ada Quill: the seat is replaced next week" in shown
    assert [reply for _, _, reply in recorded(tmp_path / "run")[gap:]] == [r for r in replies if r != "Bo Tarn"]


def test_a_pipe_that_never_answers_comes_to_an_end(tmp_path: Path) -> None:
    """Bounded time for any input: an endless stream of refused replies is given up."""
    done = proclang(*run_arguments(tmp_path / "run"), typed=typed_day(ordinary()[:FIRST_READING]) + "abc\n" * 5_000)
    assert done.returncode == 1
    assert "lines in a row led nowhere" in done.stderr.decode()
    assert len(recorded(tmp_path / "run")) == FIRST_READING


@pytest.mark.parametrize("length", [2_001, 9_000, 3 << 20])
def test_an_endless_line_is_refused_or_given_up(tmp_path: Path, length: int) -> None:
    done = proclang(*run_arguments(tmp_path / "run"), typed="x" * length + "\nAda Quill\n")
    assert done.returncode == 1
    assert [r for _, _, r in recorded(tmp_path / "run")] in ([], ["Ada Quill"])


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    done = proclang(*run_arguments(tmp_path / "run"), typed=b"\xff\xfe Quill\n\x00\x1b[2J\nAda Quill\n")
    assert recorded(tmp_path / "run") == [("opening/crew/lead", "answer", "Ada Quill")]
    assert b"\x1b" not in done.stdout


def test_lines_may_end_like_on_windows(tmp_path: Path) -> None:
    proclang(*run_arguments(tmp_path / "run"), typed=typed_day(ordinary()[:3]).replace("\n", "\r\n"))
    assert recorded(tmp_path / "run") == as_scripted(ordinary()[:3])


def test_a_text_answer_that_looks_like_a_word_can_be_given(tmp_path: Path) -> None:
    """Behind `=` stands an answer, whatever it is."""
    typed = typed_day(ordinary()[:2]) + "= stop\n"
    proclang(*run_arguments(tmp_path / "run"), typed=typed)
    assert recorded(tmp_path / "run")[-1] == ("opening/instrument/gauge", "answer", "stop")


def test_what_was_typed_is_echoed_only_where_no_terminal_does(tmp_path: Path) -> None:
    done = proclang(*run_arguments(tmp_path / "run"), typed="Ada Quill\n")
    assert b"answer: Ada Quill\n" in done.stdout


@settings(max_examples=60)
@given(st.lists(st.text(st.characters(exclude_characters="\n"), max_size=30) | st.sampled_from(TYPICAL), max_size=40))
def test_anything_may_be_typed(lines: list[str]) -> None:
    """Whatever comes down the pipe, the run is finished, stopped, left or unfinished, and can be looked at."""
    with tempfile.TemporaryDirectory() as folder:
        run = Path(folder) / "run"
        assert at_once(*run_arguments(run), typed="".join(line + "\n" for line in lines)) in (0, 1)
        assert len(recorded(run)) <= len(lines)


PLAIN_PLACES = {
    "ascii locale": {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
    "dumb terminal": {"TERM": "dumb"},
    "no terminal name": {"TERM": None},
    "unknown terminal": {"TERM": "unknown"},
    "no colour": {"NO_COLOR": "1"},
    "no home": {"HOME": None},
    "large environment": {"FILLER": "x" * 100_000},
}


@pytest.mark.parametrize("changes", PLAIN_PLACES.values(), ids=PLAIN_PLACES)
def test_any_surroundings_serve(tmp_path: Path, changes: dict[str, str | None]) -> None:
    done = proclang(*run_arguments(tmp_path / "run"), typed=typed_day(), env=environment(**changes))
    assert done.returncode == 0, done.stderr.decode()
    assert b"\x1b" not in done.stdout
    if "LC_ALL" in changes:
        assert done.stdout.isascii()
        assert b"2.7" in done.stdout


def test_an_ascii_terminal_still_takes_what_its_keys_send(tmp_path: Path) -> None:
    """Python reads bytes as ASCII there; the reply is UTF-8 all the same."""
    env = environment(LC_ALL="C", PYTHONUTF8="0", PYTHONCOERCECLOCALE="0")
    done = proclang(*run_arguments(tmp_path / "run"), typed="Zoë Müller\n", env=env)
    assert recorded(tmp_path / "run") == [("opening/crew/lead", "answer", "Zoë Müller")]
    assert b"answer: Zo\\u{eb} M\\u{fc}ller" in done.stdout


def test_colour_can_be_forced_and_says_the_same(tmp_path: Path) -> None:
    bare = proclang(*run_arguments(tmp_path / "a"), typed=typed_day())
    coloured = proclang(*run_arguments(tmp_path / "b", "--color", "always"), typed=typed_day())
    assert b"\x1b[" in coloured.stdout
    shown = without_colour(coloured.stdout.decode())
    heads = [line for line in bare.stdout.decode().splitlines() if "head of the journal" not in line]
    assert [line for line in shown.splitlines() if "head of the journal" not in line] == heads


def test_every_acknowledgement_names_the_entry_it_is_kept_as(tmp_path: Path) -> None:
    done = proclang(*run_arguments(tmp_path / "run"), typed=typed_day())
    numbers = [
        int(line.split()[1].rstrip(":")) for line in done.stdout.decode().splitlines() if line.startswith("  entry ")
    ]
    assert numbers == list(range(2, len(ordinary()) + 2))
    assert typed_line(ordinary()[0]) == "Ada Quill"
