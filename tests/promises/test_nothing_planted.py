"""Promise H13: nothing is read, and nothing is left, in a folder that others may write to.

A parser cache once unpickled a file of a predictable name from the shared temporary folder (lark-parser/lark#1628).
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from drive_help import CALL_LIMIT, ROOT, SAMPLES, environment, run_arguments

WATCHED = """
import json, sys
met = []
def watch(event, arguments):
    if event in ("open", "pickle.find_class", "os.listdir", "os.scandir", "tempfile.mkstemp", "tempfile.mkdtemp"):
        met.append([event, str(arguments[0])])
sys.addaudithook(watch)
from proclang.cli.main import guarded
code = guarded(json.loads(sys.argv[1]))
print("\\n" + json.dumps([code, met]))
"""


def watched(arguments: tuple[str, ...], temporary: Path) -> tuple[int, list[tuple[str, str]]]:
    """Exit code, and every file and folder opened from the first import on (PEP 578 audit events)."""
    done = subprocess.run(
        [sys.executable, "-c", WATCHED, json.dumps(arguments)],
        env=environment(TMPDIR=str(temporary), TEMP=str(temporary), TMP=str(temporary)),
        cwd=ROOT,
        capture_output=True,
        timeout=CALL_LIMIT,
        check=False,
    )
    assert done.stdout, done.stderr.decode()
    code, met = json.loads(done.stdout.splitlines()[-1])
    return code, [(event, what) for event, what in met]


@pytest.fixture
def planted(tmp_path: Path) -> Path:
    """A shared folder with traps under names a cache might have."""
    shared = tmp_path / "shared"
    shared.mkdir(0o1777)
    trap = b"\x80\x04cbuiltins\nexit\n(tR."  # a pickle that would end the process with the call it makes
    for name in ("proclang", "proclang.cache", "tables.bin", ".lark_cache_0123.tmp", "lark_cache", "python_lark"):
        (shared / name).write_bytes(trap)
    return shared


def test_no_command_looks_into_the_shared_temporary_folder(planted: Path, tmp_path: Path) -> None:
    run = tmp_path / "run"
    calls = (
        ("check", str(SAMPLES)),
        run_arguments(run, "--replies", SAMPLES / "ordinary.replies"),
        ("status", str(run)),
        ("log", str(run)),
        ("verify", str(run)),
    )
    before = sorted(planted.iterdir())
    for arguments in calls:
        code, met = watched(tuple(map(str, arguments)), planted)
        assert code == 0
        assert any(event == "open" for event, _ in met)
        assert [what for _, what in met if str(planted) in what] == []
        assert [what for event, what in met if event.startswith(("pickle", "tempfile"))] == []
    assert sorted(planted.iterdir()) == before
