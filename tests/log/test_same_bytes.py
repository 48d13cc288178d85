"""The same run folder gives the same log, byte for byte, wherever and however it is made."""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
from pathlib import Path

from invented import BAD_DAY, SEAT_SET
from log_help import log_of, ran

import proclang
from proclang.cli.main import main

ROOT = Path(proclang.__file__).parent.parent


def test_one_log_under_every_environment(tmp_path: Path) -> None:
    # Time zones and locales need not exist on the machine: then the system falls back, which is one more case.
    folder = tmp_path / "run"
    expected = log_of(ran(folder, SEAT_SET, "seat", BAD_DAY)).encode()
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    zones = ("UTC", "Pacific/Kiritimati", "America/St_Johns")
    locales = ("C", "POSIX", "de_DE.ISO-8859-1", "tr_TR.UTF-8")
    cases = list(itertools.product(zones, locales, (str(ROOT), str(elsewhere)), (0o000, 0o077)))
    made = set()
    for k, (zone, locale, cwd, umask) in enumerate(cases[::3] + cases[1::12]):
        environment = {
            "PATH": os.environ.get("PATH", ""),
            "PYTHONPATH": str(ROOT),
            "PYTHONHASHSEED": str(k + 1),
            "PYTHONUTF8": str(k % 2),
            "TZ": zone,
            "LC_ALL": locale,
        }
        command = [sys.executable, "-m", "proclang", "log", str(folder), "--stdout"]
        done = subprocess.run(
            command, env=environment, cwd=cwd, umask=umask, capture_output=True, check=False, timeout=120
        )
        assert (done.returncode, done.stderr) == (0, b"")
        made.add(done.stdout)
    assert k + 1 == 20
    assert made == {expected}


def test_written_and_printed_are_one(tmp_path: Path) -> None:
    folder = tmp_path / "run"
    expected = log_of(ran(folder, SEAT_SET, "seat", BAD_DAY)).encode()
    assert main(["log", str(folder)]) == 0
    assert (folder / "log.md").read_bytes() == expected
    assert (folder / "log.md").stat().st_mode & 0o777 == 0o600
    assert main(["log", str(folder)]) == 0
    assert (folder / "log.md").read_bytes() == expected
    assert not [p.name for p in folder.iterdir() if p.name.startswith(".")]
