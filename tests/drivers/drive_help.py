"""A small procedure of another trade, and ways to run the whole program on it: by pipe, by script, in a terminal."""

from __future__ import annotations

import contextlib
import io
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import pexpect

from proclang.cli.main import main
from proclang.engine.model import Entry
from proclang.session.look import columns
from proclang.session.run import OpenedRun, open_run
from proclang.session.scripted import Script, ScriptedReply, read_script

ROOT = Path(__file__).parents[2]
SAMPLES = Path(__file__).parent / "samples"
PROGRAM = (sys.executable, "-m", "proclang.cli.main")
CALL_LIMIT = 60
"""Seconds after which a call counts as hung; nothing is measured by it."""

_SGR = re.compile(r"\x1b\[[0-9;]*m")
_CONTROL = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]|\x1b[=>]")


def environment(**changes: str | None) -> dict[str, str]:
    """The environment of a child: that of the tests without what would colour or widen the output."""
    kept = {
        k: v
        for k, v in os.environ.items()
        if k not in ("NO_COLOR", "FORCE_COLOR", "CLICOLOR_FORCE", "COLUMNS", "LINES")
    }
    kept |= {
        "PYTHONPATH": os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH")])),
        "TERM": "xterm-256color",
    }
    for name, value in changes.items():
        if value is None:
            kept.pop(name, None)
        else:
            kept[name] = value
    return kept


def proclang(
    *arguments: object, typed: str | bytes = b"", cwd: Path = ROOT, env: Mapping[str, str] | None = None
) -> subprocess.CompletedProcess[bytes]:
    """Run the program to its end with `typed` on its input. No traceback may ever reach a user."""
    done = subprocess.run(
        [*PROGRAM, *map(str, arguments)],
        input=typed.encode() if isinstance(typed, str) else typed,
        capture_output=True,
        cwd=cwd,
        env=dict(env if env is not None else environment()),
        timeout=CALL_LIMIT,
        check=False,
    )
    assert b"Traceback" not in done.stderr, done.stderr.decode(errors="replace")
    return done


def at_once(*arguments: object, typed: str = "") -> int:
    """The same in this process, for what a test only needs to have happened; gives the exit code."""
    before = sys.stdin
    sys.stdin = io.StringIO(typed)
    try:
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            return main([*map(str, arguments)])
    finally:
        sys.stdin = before


def samples_in(folder: Path) -> Path:
    """A copy of the sample procedure, its machine and site, to be changed at will."""
    shutil.copytree(SAMPLES, folder)
    return folder


def run_arguments(into: Path, *more: object, samples: Path = SAMPLES) -> tuple[str, ...]:
    """`run` on the sample procedure."""
    words = (
        "run",
        samples / "rinse.proc",
        "--site",
        samples / "tank.toml",
        "--into",
        into,
        "--clock",
        "stepped",
        *more,
    )
    return tuple(map(str, words))


def resume_arguments(folder: Path, *more: object) -> tuple[str, ...]:
    """`resume`, with the clock going on from where it stood."""
    return tuple(map(str, ("resume", folder, "--clock", "stepped", *more)))


def ordinary() -> tuple[ScriptedReply, ...]:
    """The replies of an ordinary day."""
    script = read_script((SAMPLES / "ordinary.replies").read_bytes(), "ordinary.replies")
    assert isinstance(script, Script)
    return script.replies


def typed_line(reply: ScriptedReply) -> str:
    """A reply as it is typed at a prompt."""
    marks = {"note": "! ", "stop": "stop: ", "answer": "= " if reply.said.text.startswith("=") else ""}
    return marks[reply.said.kind] + reply.said.text


def typed_day(replies: Sequence[ScriptedReply] | None = None) -> str:
    """Replies as lines on a pipe."""
    return "".join(typed_line(r) + "\n" for r in (ordinary() if replies is None else replies))


def opened(folder: Path) -> OpenedRun:
    """The run in a folder."""
    run = open_run(folder)
    assert isinstance(run, OpenedRun), run
    return run


def recorded(folder: Path) -> list[tuple[str, str, str]]:
    """Question, kind and reply of every entry but the opening one and pauses."""
    return [as_recorded(entry) for entry in opened(folder).entries if entry.reply.kind not in ("open", "pause")]


def as_recorded(entry: Entry) -> tuple[str, str, str]:
    return entry.ask, entry.reply.kind, entry.reply.text


def as_scripted(replies: Sequence[ScriptedReply]) -> list[tuple[str, str, str]]:
    """The same of replies from a file."""
    return [(r.address, r.said.kind, r.said.text) for r in replies]


def without_colour(text: str) -> str:
    """A text without its SGR sequences."""
    return _SGR.sub("", text)


def without_controls(text: str) -> str:
    """What a terminal was sent, without any control sequence."""
    return _CONTROL.sub("", text)


def widest(text: str) -> int:
    """Columns of the widest line."""
    return max(columns(line) for line in without_colour(text).splitlines())


class Screen:
    """The program in a terminal of its own."""

    READY = re.escape("\x1b[?25h")
    """The full terminal shows its cursor when it is ready to be typed to, and not before."""

    TAKEN = re.escape("\x1b[?2004l")
    """It lets go of the line when that is entered."""

    def __init__(self, *arguments: str, columns: int = 80, plain: bool = False, **changes: str | None) -> None:
        self.plain = plain
        self.child = pexpect.spawn(
            PROGRAM[0],
            [*PROGRAM[1:], *arguments, *(["--plain"] if plain else [])],
            env=environment(**changes),
            cwd=str(ROOT),
            dimensions=(24, columns),
            timeout=CALL_LIMIT,
            encoding="utf-8",
        )
        self.child.delaybeforesend = None
        self.seen = ""

    def wait(self, words: str) -> None:
        """Until these words have been shown and the terminal is ready for the reply."""
        self.child.expect(re.escape(words))
        self._keep()
        if not self.plain:
            self.child.expect(self.READY)
            self._keep()

    def wait_only(self, words: str) -> None:
        """Until these words have been shown."""
        self.child.expect(re.escape(words))
        self._keep()

    def _keep(self) -> None:
        self.seen += self.child.before + (self.child.after if isinstance(self.child.after, str) else "")

    def type(self, text: str) -> None:
        """Keys, and Enter; then until the line has been taken. What is typed sooner answers nothing."""
        self.child.send(text + "\r")
        if not self.plain:
            self.child.expect(self.TAKEN)
            self._keep()

    def answer(self, words: str, text: str) -> None:
        """Wait for a prompt, then answer it."""
        self.wait(words)
        self.type(text)

    def end(self) -> int | None:
        """Wait for the end; gives the exit code, or minus the number of the signal that ended it."""
        self.child.expect(pexpect.EOF)
        self._keep()
        self.child.close()
        return self.child.exitstatus if self.child.signalstatus is None else -self.child.signalstatus

    @property
    def text(self) -> str:
        """Everything shown so far, without control sequences."""
        return without_controls(self.seen)
