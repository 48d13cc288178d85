"""The whole program in a terminal of its own: a day with everything that happens on one, and every way of leaving."""

from __future__ import annotations

import os
import re
import signal
import time
from pathlib import Path

import pytest
from drive_help import (
    Screen,
    as_scripted,
    at_once,
    opened,
    ordinary,
    proclang,
    recorded,
    resume_arguments,
    run_arguments,
    typed_day,
    widest,
)

READING = next(i for i, r in enumerate(ordinary()) if r.address.endswith("depth[first]"))
GAP = next(i for i, r in enumerate(ordinary()) if r.address.endswith("gap"))
FIRST_DEPTH = "rinse/flush/flushing#1/draw/depth[first]"


def left_at(tmp_path: Path, number: int) -> Path:
    """A run left by hand at its question of this number."""
    folder = tmp_path / "run"
    at_once(*run_arguments(folder), typed=typed_day(ordinary()[:number]))
    assert len(recorded(folder)) == number
    return folder


@pytest.mark.parametrize("plain", [False, True], ids=["full", "plain"])
@pytest.mark.parametrize("columns", [80, 40])
def test_a_day_with_everything(tmp_path: Path, plain: bool, columns: int) -> None:
    """Wrong unit, out of tolerance, accepted with reason and name, a note, a pause, and going on to the end."""
    folder = left_at(tmp_path, READING)
    screen = Screen(*resume_arguments(folder), columns=columns, plain=plain)
    unit = "in mm:"
    screen.answer(unit, "4 kg")
    screen.wait_only("is a mass")
    screen.answer(unit, "! the scale was taken by mistake")
    screen.wait_only("noted")
    screen.answer(unit, "3 mm")
    screen.answer(unit, "3 mm")
    screen.answer("names, with commas:", "AQ, BT")
    screen.answer(unit.replace("mm", "m"), "1.5")
    screen.answer(unit, "9")
    screen.wait_only("FAILS by 6.5 mm above")
    screen.answer("or stop:" if columns == 80 else "one of them:", "acc")
    screen.answer("answer:", "the seat is replaced next week")
    screen.answer("a name:", "pause")
    assert screen.end() == 0
    assert "Paused." in screen.text
    assert f"proclang resume {folder}" in screen.text.replace("\r\n", "\n")
    screen = Screen(*resume_arguments(folder), columns=columns, plain=plain)
    screen.answer("a name:", "AQ")
    screen.wait_only("accepted as a deviation")
    screen.answer("yes or no:", "y")
    screen.answer("clear or cloudy:" if columns == 80 else "one of them:", "2")
    screen.answer("answer:", "nothing to add")
    screen.answer("type done:" if columns == 40 else "Type done:", "d")
    screen.answer("a name:", "AQ")
    screen.answer("a name:", "BT")
    assert screen.end() == 0
    assert "the procedure is finished" in screen.text
    replies = [reply for _, _, reply in recorded(folder)[READING:]]
    assert replies[:3] == ["the scale was taken by mistake", "3 mm", "3 mm"]
    assert (folder / "log.md").exists()
    if plain:  # the line editor writes its line more than once, in the same place
        own = [line for line in screen.text.splitlines() if str(tmp_path) not in line]
        assert widest("\n".join(own)) <= columns


@pytest.mark.parametrize("plain", [False, True], ids=["full", "plain"])
@pytest.mark.parametrize("half_typed", ["", "12.3"], ids=["empty", "half typed"])
@pytest.mark.parametrize(("key", "code"), [("\x03", 130), ("\x04", 0)], ids=["ctrl-c", "ctrl-d"])
def test_leaving_by_a_key_loses_nothing(tmp_path: Path, plain: bool, half_typed: str, key: str, code: int) -> None:
    folder = left_at(tmp_path, READING)
    screen = Screen(*resume_arguments(folder), plain=plain)
    screen.wait("in mm:")
    screen.child.send(half_typed)
    if key == "\x04" and half_typed:
        # Ctrl-D behind text hands the text over or deletes forward; only on an empty line it leaves
        screen.child.send("\x15" if not plain else "\x7f" * len(half_typed))
    screen.child.send(key)
    assert screen.end() == code
    assert "Everything entered is kept" in screen.text
    assert f"proclang resume {folder}" in screen.text
    assert recorded(folder) == as_scripted(ordinary()[:READING])
    assert at_once(*resume_arguments(folder), typed=typed_day(ordinary()[READING:])) == 0
    assert recorded(folder) == as_scripted(ordinary())


@pytest.mark.parametrize("plain", [False, True], ids=["full", "plain"])
@pytest.mark.parametrize(
    ("at", "number"),
    [
        *((READING, n) for n in (signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT, signal.SIGINT, signal.SIGKILL)),
        *((at, n) for at in (READING - 3, GAP + 1) for n in (signal.SIGHUP, signal.SIGKILL)),  # a hazard, a verdict
    ],
)
def test_a_signal_at_any_question_loses_nothing(tmp_path: Path, plain: bool, number: int, at: int) -> None:
    """Nothing depends on a handler: even SIGKILL in the middle of typing leaves all that was acknowledged."""
    folder = left_at(tmp_path, at)
    screen = Screen(*resume_arguments(folder), plain=plain)
    screen.wait_only("Going on after entry")
    screen.child.expect(Screen.READY if not plain else r": $")
    screen.child.send("12")
    screen.child.kill(number)
    code = screen.end()
    assert code == (130 if number == signal.SIGINT else -number)
    if number != signal.SIGKILL:
        assert f"proclang resume {folder}" in screen.text
    assert recorded(folder) == as_scripted(ordinary()[:at])
    assert opened(folder).reading.torn == b""
    assert at_once(*resume_arguments(folder), typed=typed_day(ordinary()[at:])) == 0
    assert recorded(folder) == as_scripted(ordinary())


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_the_terminal_is_left_as_it_was_found(tmp_path: Path, number: int) -> None:
    """Echo and line mode are back after a signal, so that the shell behind is usable."""
    import termios

    folder = left_at(tmp_path, READING)
    screen = Screen(*resume_arguments(folder))
    before = termios.tcgetattr(screen.child.child_fd)[3]
    screen.wait("in mm:")
    assert not termios.tcgetattr(screen.child.child_fd)[3] & termios.ICANON
    screen.child.kill(number)
    screen.child.expect_exact("resume")
    for _ in range(200):
        if termios.tcgetattr(screen.child.child_fd)[3] == before:
            break
        time.sleep(0.02)
    assert termios.tcgetattr(screen.child.child_fd)[3] == before
    screen.end()


@pytest.mark.parametrize("plain", [False, True], ids=["full", "plain"])
def test_ctrl_z_and_a_changed_size_do_no_harm(tmp_path: Path, plain: bool) -> None:
    folder = left_at(tmp_path, READING)
    screen = Screen(*resume_arguments(folder), plain=plain)
    screen.wait("in mm:")
    for columns in (30, 132, 60):
        screen.child.setwinsize(24, columns)
    screen.child.send("40")
    screen.child.send("\x1a")
    screen.child.kill(signal.SIGCONT)
    if not plain:
        screen.child.expect(Screen.READY)
    # the system line editor throws a half-typed line away when it stops the process, the full one keeps it
    screen.type("40" if plain else "")
    screen.wait_only("read as 40 mm")
    screen.wait("in mm:")
    screen.type("pause")
    assert screen.end() == 0
    assert recorded(folder)[-1] == (FIRST_DEPTH, "answer", "40")


@pytest.mark.parametrize("plain", [False, True], ids=["full", "plain"])
def test_keys_pressed_early_answer_nothing(tmp_path: Path, plain: bool) -> None:
    """Typed while the program is still starting: thrown away, whatever the terminal echoed."""
    folder = left_at(tmp_path, READING)
    screen = Screen(*resume_arguments(folder), plain=plain)
    screen.child.send("7\r8\r9\r")
    screen.wait("in mm:")
    screen.type("40")
    screen.wait_only("read as 40 mm")
    screen.wait("in mm:")
    screen.type("pause")
    assert screen.end() == 0
    assert recorded(folder)[READING:] == [(FIRST_DEPTH, "answer", "40")]


def test_a_closed_terminal_loses_nothing(tmp_path: Path) -> None:
    folder = left_at(tmp_path, READING)
    screen = Screen(*resume_arguments(folder))
    screen.wait("in mm:")
    screen.child.send("4")
    screen.child.close(force=True)
    assert recorded(folder) == as_scripted(ordinary()[:READING])


def test_a_second_process_is_kept_out_and_told_who_has_the_run(tmp_path: Path) -> None:
    folder = left_at(tmp_path, READING)
    screen = Screen(*resume_arguments(folder))
    screen.wait("in mm:")
    second = proclang(*resume_arguments(folder), typed="40\n")
    assert second.returncode == 3
    assert f"process {screen.child.pid}" in second.stderr.decode()
    status = proclang("status", folder)
    assert status.returncode == 0
    assert f"Open in: process {screen.child.pid}" in status.stdout.decode()
    screen.type("pause")
    assert screen.end() == 0
    assert "Open in" not in proclang("status", folder).stdout.decode()


def test_no_colour_is_no_colour_on_a_terminal_too(tmp_path: Path) -> None:
    """Whatever moves the cursor stays; nothing sets a colour."""
    folder = left_at(tmp_path, READING)
    screen = Screen(*resume_arguments(folder), NO_COLOR="1")
    screen.wait("in mm:")
    screen.child.send("12\x03")
    screen.end()
    assert set(re.findall(r"\x1b\[([0-9;]*)m", screen.seen)) <= {"0", ""}


def test_night_is_red_on_the_whole_screen(tmp_path: Path) -> None:
    """Every SGR sequence sets red or resets, also those of the line editor and of a line that is left."""
    folder = left_at(tmp_path, GAP)
    screen = Screen(*resume_arguments(folder, "--palette", "night"))
    screen.answer("in mm:", "9")
    screen.wait("or stop:")
    screen.child.send("ag\x03")
    screen.end()
    codes = set(re.findall(r"\x1b\[([0-9;]*)m", screen.seen))
    assert codes <= {"0", "31", "0;31"}
    assert "FAILS" in screen.text


def test_nothing_but_lines_in_plain_mode(tmp_path: Path) -> None:
    """No sequence of any kind: what a screen reader or a capture can use."""
    folder = left_at(tmp_path, GAP)
    screen = Screen(*resume_arguments(folder), plain=True)
    screen.answer("in mm:", "9")
    screen.answer("or stop:", "pause")
    assert screen.end() == 0
    assert "\x1b" not in screen.seen


def test_a_terminal_that_can_only_print_gets_plain_lines(tmp_path: Path) -> None:
    folder = left_at(tmp_path, GAP)
    screen = Screen(*resume_arguments(folder), TERM="dumb")
    screen.plain = True
    screen.answer("in mm:", "pause")
    assert screen.end() == 0
    assert "\x1b" not in screen.seen


def test_the_editor_asks_the_terminal_nothing(tmp_path: Path) -> None:
    """No report of the cursor, no title, no other screen, no mouse, no bell."""
    folder = left_at(tmp_path, GAP)
    screen = Screen(*resume_arguments(folder))
    screen.answer("in mm:", "\t\x08abc")
    screen.answer("in mm:", "pause")
    assert screen.end() == 0
    for sequence in ("\x1b[6n", "\x1b]", "\x1b[?1049h", "\x1b[?1000h", "\x07", "\x1b[2J"):
        assert sequence not in screen.seen
    assert os.path.exists(folder / "journal.jsonl")
