"""Procedures and runs under a real git: hunks that name their step, and bytes that git leaves alone."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "drivers"))  # the sample procedure and the ways to run it

from drive_help import at_once, ordinary, proclang, resume_arguments, run_arguments, samples_in, typed_day

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")

pytestmark = pytest.mark.skipif(shutil.which("git") is None, reason="only where there is a git")

NAMES = {"GIT_AUTHOR_NAME": "Ada", "GIT_AUTHOR_EMAIL": "a@example.invalid", "GIT_COMMITTER_NAME": "Ada"}


def git(folder: Path, *words: str, code: int = 0) -> str:
    """git with nobody's configuration but that of the folder."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith("GIT_")}
    env = {**kept, **NAMES, "GIT_COMMITTER_EMAIL": "a@example.invalid", "GIT_CONFIG_GLOBAL": "/dev/null"}
    done = subprocess.run(
        ["git", *words], cwd=folder, env={**env, "GIT_CONFIG_NOSYSTEM": "1"},
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == code, done.stderr
    return done.stdout + done.stderr


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    """A working tree that changes line ends on every checkout, as on many desktops."""
    folder = tmp_path / "tree"
    folder.mkdir()
    git(folder, "init", "-q", "-b", "main")
    git(folder, "config", "core.autocrlf", "true")
    (folder / ".gitattributes").write_text("*.proc text eol=lf\n* text=auto\n")
    return folder


def keep(folder: Path, words: str = "kept") -> None:
    git(folder, "add", "-A")
    git(folder, "commit", "-q", "-m", words)


def test_a_hunk_names_its_step(tmp_path: Path) -> None:
    """With the two lines of the README: section, step and the parts of a header stand above a change."""
    attributes = re.search(r"^\*\.proc text eol=lf diff=proclang$", README, re.M)
    command = re.search(r"^git config (diff\.proclang\.xfuncname) '(.+)'$", README, re.M)
    assert attributes is not None
    assert command is not None
    git(tmp_path, "init", "-q")
    git(tmp_path, "config", command[1], command[2])
    (tmp_path / ".gitattributes").write_text(attributes[0] + "\n")
    samples = ROOT / "procedures" / "observatory" / "level_base.proc"
    text = samples.read_text(encoding="utf-8")
    path = tmp_path / "level_base.proc"
    path.write_text(text)
    keep(tmp_path)
    lines = text.split("\n")
    opener = re.compile(r"^ *(procedure|machine|section|step|inputs|needs|kind|if stopped)( .*)?$")
    tried = 0
    for number in range(10, len(lines) - 1, 9):
        if not lines[number] or lines[number].lstrip().startswith("#"):
            continue
        path.write_text("\n".join([*lines[:number], lines[number] + "  # seen", *lines[number + 1 :]]))
        shown = re.search(r"^@@ [^@]* @@ ?(.*)$", git(tmp_path, "diff", "-U0"), re.M)
        assert shown is not None
        above = [line for line in lines[:number] if opener.match(line)]
        assert shown[1].strip() == (above[-1].strip()[:80].strip() if above else "")
        tried += 1
    assert tried > 10


def test_a_run_kept_in_git_comes_out_byte_for_byte(tmp_path: Path, tree: Path) -> None:
    """Also where git was told to change line ends, and where the sources have those of Windows: it is verified and
    gone on with in a clone."""
    samples = samples_in(tmp_path / "set")
    for path in samples.glob("*.proc"):
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    folder = tree / "runs" / "one"
    at_once(*run_arguments(folder, samples=samples), typed=typed_day(ordinary()[:12]))
    before = {p.relative_to(folder): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    assert any(b"\r\n" in data for data in before.values())
    keep(tree)
    git(tmp_path, "clone", "-q", "-c", "core.autocrlf=true", str(tree), "clone")
    there = tmp_path / "clone" / "runs" / "one"
    assert {p.relative_to(there): p.read_bytes() for p in there.rglob("*") if p.is_file()} == before
    assert at_once(*resume_arguments(there), typed=typed_day(ordinary()[12:])) == 0
    assert proclang("verify", there).returncode == 0


def test_git_merges_nothing_into_a_journal(tree: Path) -> None:
    """Two branches of one run: git says that they conflict and leaves ours as it was, without marks in it."""
    folder = tree / "runs" / "one"
    at_once(*run_arguments(folder), typed=typed_day(ordinary()[:12]))
    keep(tree)
    git(tree, "switch", "-q", "-c", "other")
    at_once(*resume_arguments(folder), typed="44\n")
    keep(tree, "theirs")
    git(tree, "switch", "-q", "main")
    at_once(*resume_arguments(folder), typed="40\n")
    keep(tree, "ours")
    ours = (folder / "journal.jsonl").read_bytes()
    assert "CONFLICT" in git(tree, "merge", "other", code=1)
    assert (folder / "journal.jsonl").read_bytes() == ours
    assert proclang("status", folder).returncode == 0


def test_the_attributes_of_this_repository_are_those_it_recommends() -> None:
    """The folder of a run in it heeds its own."""
    text = (ROOT / ".gitattributes").read_text(encoding="utf-8")
    assert re.search(r"^\*\.proc +text eol=lf diff=proclang$", text, re.M)
    assert re.search(r"^journal\.jsonl +-text merge=binary$", text, re.M)
