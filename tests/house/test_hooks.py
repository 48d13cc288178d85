"""The hooks for those who keep procedures in git: the entry runs, on the files it is meant for."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).parents[2]
HOOKS = {hook["id"]: hook for hook in yaml.safe_load((ROOT / ".pre-commit-hooks.yaml").read_text(encoding="utf-8"))}
SOUND = 'proclang 1\nprocedure {} "Invented"\nsection main "Main"\n  step look "Look."\n'


@pytest.mark.parametrize("name", ["check", "format"])
def test_a_hook_is_a_command_of_this_package(name: str) -> None:
    hook = HOOKS[f"proclang-{name}"]
    command, *words = shlex.split(hook["entry"])
    scripts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["scripts"]
    assert command in scripts
    assert words == [name]
    assert (hook["language"], hook["pass_filenames"], hook["require_serial"]) == ("python", True, False)


def test_the_hook_checks_the_files_it_is_given(tmp_path: Path) -> None:
    """As a hook is run: at the top of the repository, the entry, then the changed files that match."""
    hook = HOOKS["proclang-check"]
    for name in ("a.proc", "set/b.proc", "set/with blank.proc"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(SOUND.format(path.stem.replace(" ", "_")))
    (tmp_path / "notes.md").write_text("words")
    changed = sorted(str(p.relative_to(tmp_path)) for p in tmp_path.rglob("*") if p.is_file())
    matching = [name for name in changed if re.search(hook["files"], name)]
    assert matching == ["a.proc", "set/b.proc", "set/with blank.proc"]

    def run(*names: str) -> int:
        words = [sys.executable, "-m", *shlex.split(hook["entry"]), *names]
        env = {**os.environ, "PYTHONPATH": str(ROOT)}
        return subprocess.run(words, cwd=tmp_path, env=env, capture_output=True, timeout=60, check=False).returncode

    assert run(*matching[:2]) == 0
    assert run(*matching) == 1  # a name with a blank is none a procedure can have
