"""Every finding about names, values, ways, hardware and performing, each on its line and nothing beside it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from marked_cases import CASES, Case, read_cases

from proclang.text.render import render_text

FILES = sorted(CASES.glob("*.txt"))
ALL = [(path, case) for path in FILES for case in read_cases(path)]


@pytest.mark.parametrize(("path", "case"), ALL, ids=[f"{path.stem}: {case.name}" for path, case in ALL])
def test_exactly_what_is_marked_is_found(path: Path, case: Case) -> None:
    """What is written on a line is found on it, and nothing else is found anywhere."""
    assert case.found() == case.expected


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_each_failing_case_has_a_mended_twin(path: Path) -> None:
    """A finding is worth something only if what it asks for makes it go away."""
    cases = read_cases(path)
    names = [case.name for case in cases]
    assert len(set(names)) == len(names)
    mended = {case.name for case in cases if not case.expected}
    assert {case.name + " mended" for case in cases if case.expected} <= mended


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_words_of_each_finding(path: Path, golden: Callable[[str, str], None]) -> None:
    """Message, place and hint as they are shown; read the difference as prose before taking it over."""
    shown = []
    for case in read_cases(path):
        if case.expected:
            checked = case.check()
            wanted = {code for codes in case.expected.values() for code in codes}
            findings = [f for f in checked.findings if f.code in wanted]
            shown.append(f"=== {case.name}\n\n{render_text(findings, checked.files.sources)}")
    golden(f"check/{path.stem}.txt", "\n".join(shown))
