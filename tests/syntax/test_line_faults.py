"""Every damaged line is reported, and no other: one mistake is one finding, however many there are."""

from __future__ import annotations

from pathlib import Path

import pytest
from line_faults import OPERATORS, PROCEDURES, SAMPLES, spoil

from proclang.syntax.parse import parse
from proclang.text.decode import decode
from proclang.text.span import Source

CASES = 500


def reported_lines(text: str) -> dict[int, str]:
    """Line numbers with a finding, and the code of one."""
    decoded = decode(text.encode(), "spoilt.proc")
    findings = (*decoded.findings, *parse(decoded.source).findings)
    return {decoded.source.place(f.span.start)[0]: f.code for f in findings}


@pytest.mark.parametrize("part", range(10))
def test_exactly_the_damaged_lines_are_reported(part: int) -> None:
    """500 seeded cases over the samples, each with 1 to 10 damaged lines."""
    for seed in range(part, CASES, 10):
        path = SAMPLES[seed // 10 % len(SAMPLES)]
        text, spoilt = spoil(path, seed)
        assert set(spoilt) == set(reported_lines(text)), (seed, path.name, spoilt)


@pytest.mark.parametrize("path", PROCEDURES, ids=lambda path: path.name)
def test_damaged_lines_of_the_procedures_are_reported(path: Path) -> None:
    """The same on the files people use, as far as there are any."""
    for seed in range(10):
        text, spoilt = spoil(path, seed)
        assert set(spoilt) == set(reported_lines(text)), (seed, spoilt)


def test_every_kind_of_fault_is_tried() -> None:
    """The generator reaches each operator, so that none passes for want of a try."""
    used: set[str] = set()
    for seed in range(CASES):
        used |= set(spoil(SAMPLES[seed // 10 % len(SAMPLES)], seed)[1].values())
    assert used == {operator.__name__ for operator in OPERATORS}


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name)
def test_undamaged_samples_have_no_findings(path: Path) -> None:
    """What is reported comes from the damage."""
    assert reported_lines(path.read_text(encoding="utf-8")) == {}


@pytest.mark.parametrize("unit", ["\t", "   ", "    ", "        "])
@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name)
def test_another_width_throughout_is_one_mistake(path: Path, unit: str) -> None:
    """A file indented by tabs or by four blanks is told so once, and then read as it was meant."""
    lines = path.read_text(encoding="utf-8").split("\n")
    levels = [(len(line) - len(line.lstrip(" "))) // 2 for line in lines]
    text = "\n".join(unit * level + line.lstrip(" ") for level, line in zip(levels, lines, strict=True))
    parsed = parse(Source("wide.proc", text))
    assert [f.code for f in parsed.findings] == ["tab" if unit == "\t" else "indentation"]
    assert parsed.tree == parse(Source("wide.proc", "\n".join(lines))).tree


def test_a_block_pushed_in_as_a_whole_is_one_mistake() -> None:
    """Lines pasted two blanks too deep are told at the first of them."""
    text = (
        'proclang 1\nprocedure p "P"\nsection s "S"\n'
        '      step a "A"\n      step b "B"\n        confirm c "C"\n      step d "D"\n  step e "E"\n'
    )
    assert reported_lines(text) == {4: "indentation"}
