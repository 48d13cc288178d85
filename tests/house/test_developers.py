"""DEVELOPERS.md and README.md name only what is there, and the commands they give are the ones that exist."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("page", ["DEVELOPERS.md", "README.md"])
def test_every_path_named_exists(page: str) -> None:
    """A map that names a file that is gone sends a newcomer into a wall."""
    text = (ROOT / page).read_text(encoding="utf-8")
    paths = set(re.findall(r"`((?:proclang|tests|grammar|procedures|\.ci)/[A-Za-z0-9_./-]*)`", text))
    paths |= set(re.findall(r"\]\(([A-Za-z0-9_./-]+)\)", text))
    if page == "README.md":
        paths |= set(re.findall(r"procedures/[A-Za-z0-9_./-]+", text))
    assert paths
    missing = sorted(p for p in paths if not (ROOT / p).exists())
    # Written by running the tests or a measurement, not kept in the repository.
    assert [p for p in missing if not p.startswith("tests/benchmarks")] == []


def test_every_command_in_the_readme_exists() -> None:
    from proclang.cli.main import COMMANDS

    text = (ROOT / "README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`(?:\.venv/bin/)?proclang ([a-z]+)", text))
    assert named
    assert named <= set(COMMANDS)


def test_the_readme_lists_every_command() -> None:
    from proclang.cli.main import COMMANDS

    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert {name for name in COMMANDS if f"`proclang {name}" not in text} == set()


def test_the_first_paragraph_of_the_readme_states_the_job() -> None:
    paragraph = (ROOT / "README.md").read_text(encoding="utf-8").split("\n\n")[1]
    for words in ("field", "hemisphere", "tolerances", "hazard", "log"):
        assert words in paragraph
