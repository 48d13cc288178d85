"""Promise E4: what a run was begun with is in its first entry by digest, so that nothing can be exchanged later."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path

import pytest
from drive_help import SAMPLES, at_once, ordinary, proclang, resume_arguments, run_arguments, typed_day

from proclang import __version__
from proclang.log.verify import FAILS, verify


@pytest.fixture(scope="module")
def half(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("half") / "run"
    at_once(*run_arguments(folder), typed=typed_day(ordinary()[:12]))
    return folder


def test_the_first_entry_holds_every_source_and_the_program(half: Path) -> None:
    """SHA-256 by the standard library, of the files as they were given."""
    opened = json.loads((half / "journal.jsonl").read_bytes().split(b"\n")[0])["then"][0]
    given = {"rinse.proc": "rinse.proc", "rig.proc": "rig.proc", "site.toml": "tank.toml"}
    assert opened["sources"] == {
        name: hashlib.sha256((SAMPLES / file).read_bytes()).hexdigest() for name, file in given.items()
    }
    assert opened["program"] == f"proclang {__version__}"


@pytest.mark.parametrize("name", ["rinse.proc", "rig.proc", "site.toml"])
@pytest.mark.parametrize("how", ["changed", "removed"])
def test_a_source_changed_by_one_byte_stops_the_run(half: Path, tmp_path: Path, name: str, how: str) -> None:
    folder = Path(shutil.copytree(half, tmp_path / "run"))
    path = folder / "sources" / name
    if how == "changed":
        data = bytearray(path.read_bytes())
        data[len(data) // 2] ^= 1
        path.write_bytes(data)
    else:
        path.unlink()
    before = (folder / "journal.jsonl").read_bytes()
    checks = verify(folder)
    assert isinstance(checks, tuple)
    assert any(check.outcome == FAILS and f"sources/{name}" in f"{check.where} {check.says}" for check in checks)
    if name.endswith(".proc"):
        gone_on = proclang(*resume_arguments(folder), typed="40\n")
        assert gone_on.returncode == 2
        assert f"sources/{name}" in gone_on.stderr.decode()
        assert (folder / "journal.jsonl").read_bytes() == before
