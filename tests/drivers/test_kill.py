"""Acceptance: whatever was acknowledged is on the disk, however often and whenever the process is killed."""

from __future__ import annotations

import contextlib
import io
import os
import random
import select
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import pytest
from drive_help import (
    CALL_LIMIT,
    PROGRAM,
    ROOT,
    SAMPLES,
    as_scripted,
    environment,
    opened,
    ordinary,
    recorded,
    resume_arguments,
    run_arguments,
)

from proclang.cli.main import main
from proclang.session.run import OpenedRun, open_run

RUNS = 100
DAY = as_scripted(ordinary())


def acknowledged(shown: bytes) -> int:
    """The last entry a screen says is kept; only whole lines count."""
    lines = shown[: shown.rfind(b"\n") + 1].decode().splitlines()
    return max((int(line.split()[1].rstrip(":")) for line in lines if line.startswith("  entry ")), default=1) - 1


def begun(arguments: Sequence[str]) -> tuple[int, int]:
    """The program as a process of its own: its number, and where its output can be read.

    Forked from this process, which has everything imported already, so that its life is all run and no start.
    """
    reading, writing = os.pipe()
    process = os.fork()
    if process:
        os.close(writing)
        return process, reading
    code = 70
    try:
        os.dup2(writing, 1)
        nowhere = os.open(os.devnull, os.O_RDWR)
        os.dup2(nowhere, 0)
        os.dup2(nowhere, 2)
        sys.stdout = open(1, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
        code = main([*arguments])
        sys.stdout.flush()
    finally:
        os._exit(code)


def killed(delay: float, process: int, reading: int, *, from_start: bool = False) -> tuple[bytes, float]:
    """What a process showed until it was killed, and the seconds it had from its first line on.

    The delay counts from the first line shown, or from now.
    """
    shown = b"" if from_start else os.read(reading, 1 << 16)
    since = time.monotonic()
    while (left := since + delay - time.monotonic()) > 0:
        if select.select([reading], [], [], left)[0]:
            part = os.read(reading, 1 << 16)
            if not part:
                break
            shown += part
    lasted = time.monotonic() - since
    os.kill(process, signal.SIGKILL)
    while part := os.read(reading, 1 << 16):
        shown += part
    os.close(reading)
    os.waitpid(process, 0)
    return shown, lasted


def killed_in_start(delay: float, arguments: Sequence[str]) -> bytes:
    """The same of a process that starts from nothing."""
    child = subprocess.Popen(
        [*PROGRAM, *arguments], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, cwd=ROOT, env=environment()
    )
    with child:
        time.sleep(delay)
        child.kill()
        assert child.stdout is not None
        return child.stdout.read()


def has_entries(folder: Path) -> bool:
    """Whether there is a run in a folder with at least its first entry."""
    if not (folder / "journal.jsonl").exists():
        return False
    run = open_run(folder)
    assert isinstance(run, OpenedRun) or run.code == "no-entry", run
    return isinstance(run, OpenedRun)


def finish(folder: Path, arguments: Sequence[str]) -> None:
    """Let a run go to its end."""
    process, reading = begun(arguments)
    while os.read(reading, 1 << 16):
        pass
    os.close(reading)
    _, status = os.waitpid(process, 0)
    assert os.waitstatus_to_exitcode(status) == 0
    assert recorded(folder) == DAY
    assert opened(folder).state.status == "finished"
    assert (folder / "log.md").exists()


@pytest.mark.slow
def test_a_hundred_runs_killed_at_random_moments(tmp_path: Path) -> None:
    """After each kill all acknowledged replies are there, in order and unchanged; then the run goes on to its end.

    One run in ten is killed while its interpreter starts, one in ten from its first instruction on, the others while
    replies are being taken; one in three is killed again when it is gone on with.
    """
    replies = ("--replies", str(SAMPLES / "ordinary.replies"))
    with contextlib.redirect_stdout(io.StringIO()):  # once in this process, so that those forked from it are quick
        assert main([*run_arguments(tmp_path / "here", *replies)]) == 0
    shown, lasting = killed(CALL_LIMIT, *begun(run_arguments(tmp_path / "whole", *replies)))
    assert acknowledged(shown) == len(DAY)
    chance = random.Random(20310501)
    cut_short = 0
    for number in range(RUNS):
        folder = tmp_path / f"run{number}"
        arguments = run_arguments(folder, *replies)
        if number % 10 == 0:
            shown = killed_in_start(chance.uniform(0, 1), arguments)
        elif number % 10 == 5:
            shown, _ = killed(chance.uniform(0, lasting), *begun(arguments), from_start=True)
        else:
            shown, _ = killed(chance.uniform(0, lasting), *begun(arguments))
        kept = check_kept(folder, acknowledged(shown))
        if not (folder / "run.json").exists():
            shutil.rmtree(folder, ignore_errors=True)  # killed before there was a run to go on with
            finish(folder, arguments)
            continue
        cut_short += 0 < kept < len(DAY)
        arguments = resume_arguments(folder, *replies)
        if number % 3 == 0 and kept < len(DAY):
            shown, _ = killed(chance.uniform(0, lasting), *begun(arguments))
            kept = check_kept(folder, max(kept, acknowledged(shown)))
        finish(folder, arguments)
    assert cut_short >= RUNS // 4  # the storm did hit runs in the middle


def check_kept(folder: Path, least: int) -> int:
    """How many replies a run has; they are those of the day in their order, and at least so many."""
    kept = recorded(folder) if has_entries(folder) else []
    assert kept == DAY[: len(kept)]
    assert least <= len(kept)
    return len(kept)
