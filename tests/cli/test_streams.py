"""The streams of every command: a reader that goes away, streams that are closed, and what is written where."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "drivers"))  # the sample procedure and the ways to run it

from drive_help import PROGRAM, ROOT, SAMPLES, at_once, environment, opened, proclang, run_arguments, typed_day

from proclang.cli.main import PIPE_CLOSED


@pytest.fixture(scope="module")
def over(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run that is over."""
    folder = tmp_path_factory.mktemp("streams") / "over"
    at_once(*run_arguments(folder), typed=typed_day())
    return folder


PRINTING = {
    "version": ("--version",),
    "help": ("--help",),
    "help of a command": ("verify", "--help"),
    "settings": ("check", "--show-settings"),
    "check": ("check", "--statistics", "WRONG"),
    "status": ("status", "OVER"),
    "status for programs": ("status", "OVER", "--format", "json"),
    "log": ("log", "OVER", "--stdout"),
    "verify": ("verify", "OVER"),
    "completions": ("completions", "zsh"),
}


@pytest.mark.parametrize("name", PRINTING)
def test_a_reader_that_has_gone_is_no_news(over: Path, tmp_path: Path, name: str) -> None:
    """`| head` ends the reading. The code is that of SIGPIPE, as of any filter; nothing is said."""
    wrong = tmp_path / "x.proc"
    wrong.write_text("proclang 1\n")
    arguments = [str({"OVER": over, "WRONG": wrong}.get(word, word)) for word in PRINTING[name]]
    read, written = os.pipe()
    os.close(read)
    done = subprocess.run(
        [*PROGRAM, *arguments],
        stdout=written,
        stderr=subprocess.PIPE,
        cwd=ROOT,
        env=environment(),
        timeout=60,
        check=False,
    )
    os.close(written)
    assert done.returncode == PIPE_CLOSED == 128 + signal.SIGPIPE
    assert done.stderr in (b"", b"1 file, 1 error\n")  # the summary, where the stream is written at the end


@pytest.mark.parametrize("name", PRINTING)
def test_results_go_to_one_stream_and_words_to_the_other(over: Path, tmp_path: Path, name: str) -> None:
    """What is asked for, and nothing else, can be piped on."""
    wrong = tmp_path / "x.proc"
    wrong.write_text("proclang 1\n")
    arguments = [{"OVER": over, "WRONG": wrong}.get(word, word) for word in PRINTING[name]]
    done = proclang(*arguments)
    assert done.stdout.endswith(b"\n")
    assert done.stderr == (b"1 file, 1 error\n" if name == "check" else b"")


def test_a_message_never_goes_into_the_journal(tmp_path: Path) -> None:
    """With standard error closed, the next file that is opened would get its number: the journal, and then what is
    said when a signal ends the run would be written into it."""
    folder = tmp_path / "run"
    words = " ".join([*PROGRAM, *run_arguments(folder)])
    child = subprocess.Popen(
        ["/bin/sh", "-c", f"exec {words} 2>&-"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT, env=environment(),
    )  # fmt: skip
    assert child.stdin is not None
    assert child.stdout is not None
    child.stdin.write(b"Ada Quill\n")
    child.stdin.flush()
    while b"entry 2" not in child.stdout.readline():
        pass
    child.send_signal(signal.SIGTERM)
    assert child.wait(60) == -signal.SIGTERM
    child.stdin.close()
    child.stdout.close()
    reading = opened(folder).reading
    assert len(reading.entries) == 2
    assert reading.torn == b""


def test_the_streams_are_told_apart_in_a_shell() -> None:
    """Findings on the one, the summary on the other, each by itself."""
    quiet = subprocess.run(
        ["/bin/sh", "-c", f"{' '.join(PROGRAM)} check {SAMPLES} 2>/dev/null"],
        capture_output=True, cwd=ROOT, env=environment(), timeout=60, check=True,
    )  # fmt: skip
    assert quiet.stdout == b""
