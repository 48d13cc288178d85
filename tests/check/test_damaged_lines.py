"""Several damaged lines at once: each is told, and nothing is said of any other line."""

from __future__ import annotations

import importlib.util
import random
import sys
from pathlib import Path
from types import ModuleType

import pytest
import semantic_faults
from marked_cases import Texts
from semantic_faults import OPERATORS

from proclang.check.check import Checked, check_files
from proclang.text.render import render_text

TESTS = Path(__file__).parents[1]
SAMPLES = Path(__file__).parent / "samples"
SHIPPED = TESTS.parent / "procedures"

# Only sound procedures can be spoilt: a line that is told anyway would tell nothing.
SOUND = [SAMPLES / "fault_field.proc", *(p for p in sorted(SHIPPED.rglob("*.proc")) if "procedure " in p.read_text())]

RUNS = [(path, seed) for path in SOUND for seed in range(120 if path.parent == SAMPLES else 12)]
IDS = [f"{path.stem}-{seed}" for path, seed in RUNS]


def _form_faults() -> ModuleType:
    """The ways to spoil the form of a line, which the tests of the syntax room have."""
    name = "line_faults"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, TESTS / "syntax" / "line_faults.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


def _check(path: Path, text: str) -> Checked:
    beside = {p.stem: p.read_text(encoding="utf-8") for p in path.parent.glob("*.proc")}
    return check_files(path.stem, text.encode(), Texts({**beside, path.stem: text}))


def _lines(checked: Checked) -> set[tuple[str, int]]:
    places = ((f.span.file, checked.files.sources[f.span.file].place(f.span.start)[0]) for f in checked.findings)
    return set(places)


@pytest.mark.parametrize("path", SOUND, ids=lambda path: path.stem)
def test_the_procedures_to_be_spoilt_are_sound(path: Path) -> None:
    """Otherwise the tests below would say nothing."""
    checked = _check(path, path.read_text(encoding="utf-8"))
    assert not checked.findings, render_text(checked.findings, checked.files.sources)


@pytest.mark.parametrize(("path", "seed"), RUNS, ids=IDS)
def test_exactly_the_lines_whose_meaning_is_spoilt_are_told(path: Path, seed: int) -> None:
    """1 to 10 lines with an unknown unit, name, state, role or calculation, a wrong dimension or label, a lost arm."""
    spoilt = semantic_faults.spoil(path.read_text(encoding="utf-8"), seed)
    checked = _check(path, spoilt.text)
    expected = {(f"{path.stem}.proc", line) for line in spoilt.expected}
    assert _lines(checked) == expected, (spoilt.spoilt, render_text(checked.findings, checked.files.sources))


@pytest.mark.parametrize(("path", "seed"), RUNS, ids=IDS)
def test_exactly_the_lines_whose_form_is_spoilt_are_told(path: Path, seed: int) -> None:
    """What cannot be read is told once; nothing that is missing because of it is complained about elsewhere."""
    text, spoilt = _form_faults().spoil(path, seed)
    checked = _check(path, text)
    expected = {(f"{path.stem}.proc", line) for line in spoilt}
    assert _lines(checked) == expected, (spoilt, render_text(checked.findings, checked.files.sources))


def test_every_kind_of_fault_is_made() -> None:
    """An operator that never finds a line would prove nothing."""
    made = {
        name
        for path, seed in RUNS
        for name in semantic_faults.spoil(path.read_text(encoding="utf-8"), seed).spoilt.values()
    }
    assert made == {operator.__name__ for operator in OPERATORS}


def test_a_spoilt_line_is_another_line() -> None:
    """An operator either changes the line or says that it cannot."""
    lines = [line for path in SOUND for line in path.read_text(encoding="utf-8").split("\n")]
    for operator in OPERATORS:
        for line in lines:
            assert operator(line, random.Random(1)) != line
