"""Promise H16: whatever surrounds the program, it ends with one of its exit codes, in words, and shows no traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest
from drive_help import (
    CALL_LIMIT,
    PROGRAM,
    ROOT,
    SAMPLES,
    at_once,
    environment,
    recorded,
    run_arguments,
    typed_day,
)

CODES = {0, 1, 2, 3, 130, 141}
"""The exit codes the help documents, and that of a reader that has gone away."""


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run that is over."""
    folder = tmp_path_factory.mktemp("finished") / "run"
    assert at_once(*run_arguments(folder), typed=typed_day()) == 0
    return folder


def called(
    arguments: tuple[str, ...], env: Mapping[str, str], shell: str = "{}", typed: bytes = b"", cwd: Path = ROOT
) -> subprocess.CompletedProcess[bytes]:
    """The program called through a shell, which can close or bend its streams."""
    words = " ".join([*PROGRAM, *arguments])
    done = subprocess.run(
        ["/bin/sh", "-c", shell.format(words)],
        input=typed,
        env=dict(env),
        cwd=cwd,
        capture_output=True,
        timeout=CALL_LIMIT,
        check=False,
    )
    told = done.stdout + done.stderr
    assert b"Traceback" not in told, told.decode(errors="replace")
    assert b"fault in proclang" not in told, told.decode(errors="replace")
    assert done.returncode in CODES
    return done


PLACES: dict[str, dict[str, str | None]] = {
    "POSIX locale, one column": {"LC_ALL": "POSIX", "COLUMNS": "1"},
    "latin-1 locale": {"LC_ALL": "de_DE.ISO-8859-1", "PYTHONUTF8": "0"},
    "a locale that is not there, no columns": {"LC_ALL": "xx_YY.UTF-8", "LANG": "zz", "COLUMNS": "0", "LINES": "0"},
    "streams in latin-1, columns below nothing": {"PYTHONIOENCODING": "latin-1", "COLUMNS": "-5"},
    "streams in EBCDIC, columns in words": {"PYTHONIOENCODING": "cp037", "COLUMNS": "wide"},
    "columns beyond counting": {"COLUMNS": "9" * 30},
    "a terminal nobody knows": {"TERM": "../../etc/passwd"},
    "a home that is not there": {"HOME": "/nonexistent/home", "XDG_CONFIG_HOME": "/dev/null/x", "TMPDIR": "/nowhere"},
    "a time zone that is a path": {"TZ": "../../../../etc/passwd"},
    "warnings are errors": {"PYTHONWARNINGS": "error"},
    "no assertions, no docstrings": {"PYTHONOPTIMIZE": "2"},
    "no path, no user": {"PATH": "/nonexistent", "USER": None, "LOGNAME": None, "HOME": None},
    "a mebibyte in variables": {f"FILLER_{k}": "x" * 100_000 for k in range(10)},
}


@pytest.mark.parametrize("changes", PLACES.values(), ids=PLACES)
def test_a_day_can_be_recorded_in_any_environment(tmp_path: Path, changes: dict[str, str | None]) -> None:
    """Each variable is somebody's mistake or a bare system; the entries are the same everywhere."""
    arguments = run_arguments(tmp_path / "run", "--replies", SAMPLES / "ordinary.replies")
    done = subprocess.run(
        [*PROGRAM, *arguments],
        env=environment(**changes),
        cwd=ROOT,
        capture_output=True,
        stdin=subprocess.DEVNULL,
        timeout=CALL_LIMIT,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode(errors="replace")
    assert b"Traceback" not in done.stderr
    assert len(recorded(tmp_path / "run")) == len(typed_day().splitlines())


NO_INPUT, NO_OUTPUT, NO_MESSAGES, NOTHING = "{} <&-", "{} >&-", "{} 2>&-", "{} <&- >&- 2>&-"
FULL, FULL_MESSAGES, ALL_FULL, ODD_INPUT = "{} >/dev/full", "{} 2>/dev/full", "{} >/dev/full 2>&1", "{} 0>/dev/null"
STREAMS: list[tuple[str, str, int, bytes]] = [
    ("check -", NO_INPUT, 2, b"standard input is closed"),
    ("check -", ODD_INPUT, 2, b"standard input or output does not work"),
    ("check SAMPLES", FULL, 2, b"standard input or output does not work: no space left"),
    ("check SAMPLES", FULL_MESSAGES, 0, b""),
    ("check SAMPLES", NO_MESSAGES, 0, b""),
    ("run", NO_MESSAGES, 1, b""),
    ("run", NOTHING, 2, b""),
    ("run", ODD_INPUT, 2, b"nobody can answer"),
    ("run", ALL_FULL, 2, b""),
    ("status", NO_OUTPUT, 2, b"standard input or output does not work: bad file descriptor"),
    ("status", FULL, 2, b"standard input or output does not work: no space left"),
    ("status", NO_INPUT, 0, b""),
    ("log --stdout", NO_OUTPUT, 2, b"standard input or output does not work"),
    ("log --stdout", FULL, 2, b"standard input or output does not work"),
    ("verify", NO_OUTPUT, 2, b"standard input or output does not work"),
    ("verify", NOTHING, 2, b""),
    ("--help", FULL, 2, b"standard input or output does not work"),
]


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="only where there is a device that is always full")
@pytest.mark.parametrize(("command", "shell", "code", "words"), STREAMS, ids=lambda x: x if isinstance(x, str) else "")
def test_streams_that_do_not_work_are_told_of(
    finished: Path, tmp_path: Path, command: str, shell: str, code: int, words: bytes
) -> None:
    """Found here: a full disk behind the output was called a fault of the program, and a closed one was one."""
    name, *more = command.split()
    arguments = {
        "check": ("check", *(str(SAMPLES) if word == "SAMPLES" else word for word in more)),
        "run": run_arguments(tmp_path / "run"),
        "--help": ("--help",),
    }.get(name, (name, str(finished), *more))
    done = called(arguments, environment(), shell, b"Ada Quill\n")
    assert done.returncode == code
    assert words in done.stderr


def test_a_folder_that_is_gone_from_under_the_program(tmp_path: Path) -> None:
    """The present folder was removed: every command says what it cannot find, or does its work elsewhere."""
    for number, (words, code) in enumerate(
        (
            (f"check {SAMPLES}", 0),
            ("check .", 2),
            ("status run", 2),
            ("log run", 2),
            ("verify run", 2),
            ("--version", 0),
        )
    ):
        here = tmp_path / f"here{number}"
        here.mkdir()
        entry = f"{sys.executable} -c 'from proclang.cli.main import entry; entry()' {words}"
        done = subprocess.run(
            ["/bin/sh", "-c", f"cd {here} && rmdir {here} && {entry}"],
            env=environment(),
            capture_output=True,
            timeout=CALL_LIMIT,
        )
        assert done.returncode == code, (words, done.stderr)
        assert b"Traceback" not in done.stderr
        assert b"fault in proclang" not in done.stderr
