"""Promise H15: what git does to a run folder by mistake is refused in words that name it."""

from __future__ import annotations

import contextlib
import io
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from drive_help import at_once, ordinary, resume_arguments, run_arguments, typed_day

from proclang.cli.main import main

HALF = 12


def lines_of(folder: Path) -> list[bytes]:
    return (folder / "journal.jsonl").read_bytes().splitlines(keepends=True)


def conflict(folder: Path, other: list[bytes], base: bool = False) -> None:
    """The journal as git leaves it where two branches of a run were merged."""
    ours = lines_of(folder)
    same = next(k for k, (a, b) in enumerate(zip(ours, other, strict=False)) if a != b)
    middle = [b"||||||| 1a2b3c4\n"] if base else []
    marked = [
        *ours[:same],
        b"<<<<<<< HEAD\n",
        *ours[same:],
        *middle,
        b"=======\n",
        *other[same:],
        b">>>>>>> laptop-b\n",
    ]
    (folder / "journal.jsonl").write_bytes(b"".join(marked))


def union(folder: Path, other: list[bytes]) -> None:
    """The same with git's union driver: both sides, one after the other, without marks."""
    ours = lines_of(folder)
    same = next(k for k, (a, b) in enumerate(zip(ours, other, strict=False)) if a != b)
    (folder / "journal.jsonl").write_bytes(b"".join([*ours, *other[same:]]))


def crlf(folder: Path, other: list[bytes], name: str = "journal.jsonl") -> None:
    """`core.autocrlf` on a checkout."""
    path = folder / name
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))


CASES: dict[str, tuple[Callable[[Path, list[bytes]], None], tuple[str, ...]]] = {
    "marks of a conflict": (conflict, ("a mark git left when merging", "a journal cannot be merged")),
    "marks with a base": (lambda f, o: conflict(f, o, True), ("a mark git left when merging",)),
    "both sides without marks": (union, ("stands here a second time",)),
    "changed line ends": (crlf, ("line end was changed to CR LF", "`journal.jsonl -text`")),
    "line ends of a source": (
        lambda f, o: crlf(f, o, "sources/rinse.proc"),
        ("line ends of sources/rinse.proc were changed to CR LF", "-text"),
    ),
    "line ends of a machine": (
        lambda f, o: crlf(f, o, "sources/rig.proc"),
        ("line ends of sources/rig.proc were changed to CR LF", "-text"),
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_it_is_named_and_nothing_is_changed(tmp_path: Path, case: str) -> None:
    """Two laptops went on from one copy; or one checkout changed the bytes."""
    one, two = tmp_path / "one", tmp_path / "two"
    at_once(*run_arguments(one), typed=typed_day(ordinary()[:HALF]))
    shutil.copytree(one, two)
    at_once(*resume_arguments(one), typed="40\n41\n")
    at_once(*resume_arguments(two), typed="44\n")
    bend, words = CASES[case]
    bend(one, lines_of(two))
    kept = {p: p.read_bytes() for p in one.rglob("*") if p.is_file()}
    for command in (("status", one), resume_arguments(one), ("verify", one)):
        shown = io.StringIO()
        with contextlib.redirect_stdout(shown), contextlib.redirect_stderr(shown):
            assert main([*map(str, command)]) in (1, 2)
        told = " ".join(shown.getvalue().split())
        for word in words:
            assert word in told, told
    assert {p: p.read_bytes() for p in one.rglob("*") if p.is_file()} == kept
