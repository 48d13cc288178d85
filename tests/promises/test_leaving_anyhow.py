"""Promise D9: however a sitting at a terminal ends, and whatever stands on the screen, nothing acknowledged is lost.

Eight ways of leaving or of disturbing, at five places, in real terminals: one half of the forty in the full terminal,
the other in the plain one. After each: every acknowledged entry is there, the terminal has its echo and its line mode
back, the exit code is the documented one or the signal's, and standard error says how to go on.
"""

from __future__ import annotations

import re
import signal
import sys
import termios
import time
from collections.abc import Callable
from pathlib import Path

import attrs
import pexpect
import pytest
from drive_help import (
    CALL_LIMIT,
    ROOT,
    as_scripted,
    at_once,
    environment,
    opened,
    ordinary,
    recorded,
    resume_arguments,
    run_arguments,
    typed_day,
)

# Messages go to a file, so that they can be read when the terminal is gone; a saved record waits between its write and
# its sync, so that something can happen there. A core file of SIGQUIT would be left lying in the folder. Ctrl-Z stops
# only what has somebody to wake it: for that the program is a job of a parent that does what a shell does.
PROGRAM = """
import os, resource, sys, time
resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
os.dup2(os.open(sys.argv[1], os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600), 2)
from proclang.cli.main import entry
from proclang.session.files import Files
if sys.argv[2] == "wait":
    extent, fsync, saving = Files.extent, Files.fsync, []
    def slow_extent(self, descriptor):
        saving.append(descriptor)
        return extent(self, descriptor)
    def slow_fsync(self, descriptor):
        if saving and saving.pop() == descriptor:
            os.write(1, b"<saving>")
            until = time.monotonic() + 0.5
            while (left := until - time.monotonic()) > 0:
                time.sleep(left)
        fsync(self, descriptor)
    Files.extent, Files.fsync = slow_extent, slow_fsync
sys.argv[1:] = sys.argv[3:]
if os.environ.get("AS_A_JOB"):
    import signal
    signal.signal(signal.SIGTTOU, signal.SIG_IGN)
    job = os.fork()
    os.setpgid(job, job)
    if job:
        os.tcsetpgrp(0, job)
        while True:
            _, status = os.waitpid(job, os.WUNTRACED)
            if not os.WIFSTOPPED(status):
                os._exit(os.waitstatus_to_exitcode(status))
            os.tcsetpgrp(0, os.getpgrp())
            os.write(1, b"<stopped>")
            os.read(0, 1)
            os.tcsetpgrp(0, job)
            os.kill(-job, signal.SIGCONT)
    signal.signal(signal.SIGTTOU, signal.SIG_DFL)
    while os.tcgetpgrp(0) != os.getpgrp():
        time.sleep(0.001)
entry()
"""

DAY = ordinary()
READING = next(k for k, r in enumerate(DAY) if r.address.endswith("depth[first]"))
HAZARD = next(k for k, r in enumerate(DAY) if r.address.endswith("hot_water"))
HOLD = next(k for k, r in enumerate(DAY) if r.address.endswith("accepted/lead"))
PLACES = {"prompt": READING, "half typed": READING, "hazard": HAZARD, "hold": HOLD, "saving": READING}
PROMPTS = {READING: "in mm:", HAZARD: "a name:", HOLD: "a name:"}
READY = re.escape("\x1b[?25h")
SANE = termios.ECHO | termios.ICANON | termios.ISIG


@attrs.define
class Sitting:
    """A terminal with the program in it, waiting at its question or in the middle of saving a reply."""

    folder: Path
    place: str
    plain: bool
    said: Path
    child: pexpect.spawn

    @classmethod
    def at(cls, tmp_path: Path, place: str, plain: bool, job: bool) -> Sitting:
        """Go to a place; as a job of a shell, or alone in the terminal."""
        folder, said = tmp_path / "run", tmp_path / "said"
        at_once(*run_arguments(folder), typed=typed_day(DAY[: PLACES[place]]))
        words = ["-c", PROGRAM, str(said), "wait" if place == "saving" else "go"]
        words += [*resume_arguments(folder), *(["--plain"] if plain else [])]
        child = pexpect.spawn(
            sys.executable, words, env=environment(AS_A_JOB="1" if job else None), cwd=str(ROOT), timeout=CALL_LIMIT
        )
        child.delaybeforesend = None
        sitting = cls(folder, place, plain, said, child)
        child.expect_exact("Going on after entry")
        sitting.wait()
        if place == "half typed":
            child.send("12")
        elif place == "saving":
            child.send("40\r")
            child.expect_exact("<saving>")
        return sitting

    def wait(self) -> None:
        """Until the prompt takes keys: the full terminal shows its cursor behind it."""
        self.child.expect_exact(PROMPTS[PLACES[self.place]])
        if not self.plain:
            self.child.expect(READY)

    def leave(self, key: str = "pause\r") -> None:
        """By hand, after whatever happened was survived."""
        if self.place == "saving":
            self.wait()
        elif self.place == "half typed":
            self.child.send("\x15")
        self.child.send(key)

    def ended(self) -> int:
        """The exit code, or minus the number of the signal; the terminal must be as it was."""
        if not self.child.closed:
            self.child.expect(pexpect.EOF)
            assert termios.tcgetattr(self.child.child_fd)[3] & SANE == SANE
        self.child.wait()
        code, number = self.child.exitstatus, self.child.signalstatus
        return code if number is None else -number


def by_signal(number: signal.Signals) -> Callable[[Sitting], int]:
    def leave(sitting: Sitting) -> int:
        sitting.child.kill(number)
        return 130 if number is signal.SIGINT else -number

    return leave


def by_closing_the_terminal(sitting: Sitting) -> int:
    child = sitting.child
    child.ptyproc.fileobj.close()  # the other end of the terminal, and with it the terminal
    child.closed = child.ptyproc.closed = True
    child.child_fd = child.ptyproc.fd = -1
    return -signal.SIGHUP


def by_ctrl_d(sitting: Sitting) -> int:
    if sitting.place == "saving":
        sitting.child.send("\x04")  # typed before the question: answers nothing
    sitting.leave("\x04")
    return 0


def by_ctrl_z_and_back(sitting: Sitting) -> int:
    child = sitting.child
    child.send("\x1a")
    child.expect_exact("<stopped>")
    assert termios.tcgetattr(child.child_fd)[3] & SANE == SANE, "the shell would be unusable meanwhile"
    child.send("\r")
    if not sitting.plain and sitting.place != "saving":
        sitting.wait()
    sitting.leave()
    return 0


def by_resizing(sitting: Sitting) -> int:
    for size in (1, 200, 3, 80, 20, 132, 40, 2, 60, 80):
        sitting.child.setwinsize(max(1, size // 4), size)
        time.sleep(0.002)
    sitting.leave()
    return 0


WAYS: dict[str, Callable[[Sitting], int]] = {
    "hang-up": by_signal(signal.SIGHUP),
    "terminate": by_signal(signal.SIGTERM),
    "interrupt": by_signal(signal.SIGINT),
    "quit": by_signal(signal.SIGQUIT),
    "closed terminal": by_closing_the_terminal,
    "ctrl-d": by_ctrl_d,
    "ctrl-z": by_ctrl_z_and_back,
    "resizing": by_resizing,
}
CASES = [(way, place, (i + k) % 2 == 0) for i, way in enumerate(WAYS) for k, place in enumerate(PLACES)]


def test_there_are_forty_cases_half_of_them_plain() -> None:
    assert len(CASES) == 40
    assert sum(plain for _, _, plain in CASES) == 20
    assert {(way, plain) for way, _, plain in CASES} == {(way, plain) for way in WAYS for plain in (True, False)}


@pytest.mark.parametrize(
    ("way", "place", "plain"), CASES, ids=[f"{w}-{p}-{'plain' if b else 'full'}" for w, p, b in CASES]
)
def test_nothing_acknowledged_is_lost_and_the_terminal_is_sane(
    tmp_path: Path, way: str, place: str, plain: bool
) -> None:
    sitting = Sitting.at(tmp_path, place, plain, way == "ctrl-z")
    expected = WAYS[way](sitting)
    assert sitting.ended() == expected
    said = sitting.said.read_text()
    assert f"proclang resume {sitting.folder}" in said
    assert "Everything entered is kept" in said
    assert "Traceback" not in said
    day, kept, sure = as_scripted(DAY), recorded(sitting.folder), PLACES[place]
    # A reply that was being saved was not acknowledged: it may be there, whole, or not at all.
    assert kept == day[: len(kept)]
    assert len(kept) in ((sure, sure + 1) if place == "saving" else (sure,))
    if place == "saving" and expected == 0:
        assert len(kept) == sure + 1
    assert opened(sitting.folder).reading.torn == b""
    assert at_once(*resume_arguments(sitting.folder), typed=typed_day(DAY[len(kept) :])) == 0
    assert recorded(sitting.folder) == day
