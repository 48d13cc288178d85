"""Rules of writing, and what lets a finding stand, each on its line and nothing beside it.

The cases are written as those of `marked_cases`. A case named `CODE: ...` is looked at with that rule too, if it is one
that is off by default.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import attrs
import pytest
from marked_cases import Case, read_cases

from proclang.check.writing.registry import BY_CODE
from proclang.check.writing.rule import Wanted
from proclang.text.render import render_text

FILES = sorted((Path(__file__).parent / "writing").glob("*.txt"))


def _cases(path: Path) -> list[Case]:
    return [attrs.evolve(case, writing=Wanted(also=frozenset({case.name.split(":")[0]}))) for case in read_cases(path)]


ALL = [(path, case) for path in FILES for case in _cases(path)]


@pytest.mark.parametrize(("path", "case"), ALL, ids=[f"{path.stem}: {case.name}" for path, case in ALL])
def test_exactly_what_is_marked_is_found(path: Path, case: Case) -> None:
    """What is written on a line is found on it, and nothing else is found anywhere."""
    beside = () if "section-without-stop" in case.name else ("section-without-stop",)
    found = {line: tuple(c for c in codes if c not in beside) for line, codes in case.found().items()}
    assert {line: codes for line, codes in found.items() if codes} == case.expected


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
    for case in _cases(path):
        if case.expected:
            checked = case.check()
            wanted = {code for codes in case.expected.values() for code in codes}
            findings = [f for f in checked.findings if f.code in wanted]
            shown.append(f"=== {case.name}\n\n{render_text(findings, checked.files.sources)}")
    golden(f"check/writing_{path.stem}.txt", "\n".join(shown))


def test_most_rules_have_a_case_that_they_let_pass() -> None:
    """What nags is worse than what is missed: beside its page, a rule shows what it must not find."""
    about = {case.name.split(":")[0] for _, case in ALL}
    assert len(about & set(BY_CODE)) > len(BY_CODE) / 2
