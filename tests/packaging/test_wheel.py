"""What is built is what is run: the grammar and the log's template travel inside the wheel."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

PROCEDURE = """\
proclang 1
procedure hello "Say hello"

needs
  crew lead

section only "Only section"
  step greet "Greet the crew." by lead
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The project, built without isolation: the build backend is among the test's own requirements."""
    out = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(ROOT)],
        check=True,
        capture_output=True,
        timeout=300,
    )
    (built,) = out.glob("*.whl")
    return built


def test_the_wheel_holds_grammar_and_template_and_no_tests(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    assert {"proclang/grammar/proclang.lark", "proclang/grammar/LANGUAGE.md", "proclang/py.typed"} <= names
    assert {
        f"proclang/cli/schemas/{form}.schema.json" for form in ("check", "check-line", "explain", "status", "verify")
    } <= names
    pages = {f"proclang/check/pages/{path.name}" for path in (ROOT / "proclang/check/pages").iterdir()}
    assert len(pages) > 100
    assert pages <= names
    assert any(name.endswith(".data/data/share/man/man1/proclang.1") for name in names)
    assert any(name.startswith("proclang/log/") and name.endswith(".j2") for name in names)
    assert not any(name.startswith(("tests/", "procedures/")) for name in names)


def test_the_installed_wheel_checks_a_procedure_from_elsewhere(wheel: Path, tmp_path: Path) -> None:
    """Installed into an empty folder, with the working tree out of reach."""
    target, elsewhere = tmp_path / "installed", tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "hello.proc").write_text(PROCEDURE, encoding="utf-8")
    (elsewhere / "wrong.proc").write_text(PROCEDURE.replace("hello", "wrong").replace("by lead", "by laed"), "utf-8")
    subprocess.run(
        [sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--no-index", "--target", str(target), str(wheel)],
        check=True,
        capture_output=True,
        timeout=300,
    )
    env = {**os.environ, "PYTHONPATH": str(target), "PYTHONSAFEPATH": "1"}

    def check(name: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "proclang", "check", name],
            cwd=elsewhere,
            env=env,
            capture_output=True,
            text=True,
            timeout=60,
        )

    where = subprocess.run(
        [sys.executable, "-c", "import proclang; print(proclang.__file__)"],
        cwd=elsewhere, env=env, capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    assert where.stdout.startswith(str(target))
    assert check("hello.proc").returncode == 0
    wrong = check("wrong.proc")
    assert wrong.returncode == 1
    assert "wrong.proc:8:" in wrong.stdout
    assert "laed" in wrong.stdout
    explained = subprocess.run(
        [sys.executable, "-m", "proclang", "explain", "unknown-role"],
        cwd=elsewhere, env=env, capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    assert "Wrong, " in explained.stdout


def test_the_grammar_is_found_in_the_working_tree() -> None:
    """As an editable install finds it: beside the package."""
    from proclang.syntax.grammar import grammar_folder, grammar_text

    assert (grammar_folder() / "proclang.lark").is_file()
    assert "file: version title top*" in grammar_text()
