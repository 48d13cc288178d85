"""Promise H12: a run folder from a stranger never raises, in any command, and nothing in it passes that should not.

The tests of the session and the log rooms do this to the readers (52 forged lines, 5,000 damaged journals, 1,000 odd
entries); here the commands meet such folders, also `resume`, which goes on with what it finds.
"""

from __future__ import annotations

import contextlib
import copy
import io
import json
import random
import shutil
from pathlib import Path
from typing import Any

import pytest
from drive_help import at_once, ordinary, run_arguments, typed_day
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from journal_samples import forged
from test_foreign_journals import STRANGE, mutate
from test_strict_json import FORGED
from test_verify_finds import records, write_anew

from proclang.cli.main import main
from proclang.log.verify import passed, verify
from proclang.session import chain
from proclang.session.chain import UnfitEntry

TYPED = "entered\nhere\nhelp\n? \n! a note\n40\nyes\n1\nAda Quill\ndone\nstop: enough\ndone\nAQ\n"


@pytest.fixture(scope="module")
def half(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run left in its middle, in a loop, in a step."""
    folder = tmp_path_factory.mktemp("half") / "run"
    at_once(*run_arguments(folder), typed=typed_day(ordinary()[:12]))
    return folder


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("whole") / "run"
    assert at_once(*run_arguments(folder), typed=typed_day()) == 0
    return folder


def called(*arguments: object, typed: str = "") -> tuple[int, str]:
    """Exit code and all that was printed. Any exception of the program is a failure of the test."""
    out = io.StringIO()
    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        patch.setattr("sys.stdin", io.StringIO(typed))
        code = main([*map(str, arguments)])
    return code, out.getvalue()


@pytest.mark.parametrize("members", FORGED, ids=range(len(FORGED)))
def test_a_forged_line_is_refused_by_every_command(half: Path, tmp_path: Path, members: bytes) -> None:
    """Its hash and its place are right; what it holds is not JSON as this program keeps it."""
    folder = Path(shutil.copytree(half, tmp_path / "run"))
    lines = (folder / "journal.jsonl").read_bytes().splitlines()
    run = json.loads(lines[0])["run"]
    bad = forged(members, len(lines) + 1, chain.head_of(lines[-1]), run)
    (folder / "journal.jsonl").write_bytes(b"\n".join([*lines, bad, b""]))
    before = (folder / "journal.jsonl").read_bytes()
    for command in ("status", "verify", "log", "resume"):
        code, told = called(command, folder, typed=TYPED)
        assert code in (0, 1, 2)
        # A last line that is not whole could be the mark of a crash; a whole one with a right hash could not.
        assert code != 0 or not chain.is_whole(bad), (command, told)
    if chain.is_whole(bad):
        assert (folder / "journal.jsonl").read_bytes() == before
        assert not list(folder.glob("journal.torn-*"))


def test_odd_entries_in_a_right_chain_never_raise(half: Path, tmp_path: Path) -> None:
    """One to three changes anywhere in the entries, chained anew; then the run is looked at and gone on with."""
    chance = random.Random(20310503)
    sound = records(half)
    folder, met = tmp_path / "run", 0
    for _ in range(150):
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(half, folder)
        entries = copy.deepcopy(sound)
        try:
            mutate(entries, chance)
            write_anew(folder, entries)
        except (UnfitEntry, IndexError):
            continue
        met += 1
        for command in (("status",), ("status", "--format", "json"), ("resume",)):
            code, told = called(command[0], folder, *command[1:], typed=TYPED)
            assert code in (0, 1, 2, 3), told
            assert "Traceback" not in told
    assert met > 120


@pytest.mark.parametrize("value", STRANGE, ids=range(len(STRANGE)))
def test_strange_values_in_every_member_of_the_opening(half: Path, tmp_path: Path, value: Any) -> None:
    """What the first entry says of the run is used by every command."""
    sound = records(half)
    folder = Path(shutil.copytree(half, tmp_path / "run"))
    for member in sound[0]["then"][0]:
        entries = copy.deepcopy(sound)
        entries[0]["then"][0][member] = value
        write_anew(folder, entries)
        for command in ("status", "verify", "log"):
            code, _ = called(command, folder)
            assert code in (0, 1, 2)
        shutil.copy(half / "journal.jsonl", folder / "journal.jsonl")
    for name in ("run.json", "holder.json"):
        (folder / name).write_text(json.dumps({"sources": value, "run": value, "procedure": value, "pid": value}))
        (folder / "journal.jsonl").write_bytes(b"")
        assert called("resume", folder, typed=TYPED)[0] in (0, 1, 2)


PIECES = [b"\n", b"\0", b'"', b"}", b"{", b",", b"\xff", b"\\u", b"NaN", b"9" * 40, b'"n":1', b"\r\n", b"", b"[" * 40]


@settings(max_examples=100, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(
    changes=st.lists(st.tuples(st.floats(0, 1), st.integers(0, 300), st.sampled_from(PIECES)), min_size=1, max_size=3)
)
def test_a_damaged_journal_never_raises_and_never_passes(
    whole: Path, tmp_path: Path, changes: list[tuple[float, int, bytes]]
) -> None:
    folder = tmp_path / "run"
    if not folder.exists():
        shutil.copytree(whole, folder)
    good = (whole / "journal.jsonl").read_bytes()
    data = bytearray(good)
    for where, length, piece in changes:
        at = int(where * len(data))
        data[at : at + length] = piece
    (folder / "journal.jsonl").write_bytes(data)
    checks = verify(folder)
    # The newline is not part of a record; what no record is may follow as the mark of a crash, and is said to; a record
    # more or less at the end shows against the log that stands beside it.
    if isinstance(checks, tuple) and passed(checks):
        assert bytes(data).startswith(good.rstrip(b"\n"))
    assert called("status", folder)[0] in (0, 1, 2)
