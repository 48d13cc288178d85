"""The search for stale values forgets what no line asks for any more; it finds the same as if it forgot nothing."""

from __future__ import annotations

import pytest
from typed import SURVEY, drawn

from proclang.check import staleness
from proclang.check.staleness import find_stale_values
from proclang.check.standing import Standing
from proclang.check.ways import Place
from proclang.program.build import build
from proclang.program.load import load
from proclang.program.model import Program
from proclang.text.span import Span


class _Texts:
    def shown(self, name: str) -> str:
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        return SURVEY.encode() if name == "survey" else None

    def names(self) -> tuple[str, ...]:
        return ("survey",)


def _program(seed: int) -> Program | None:
    return build(load("job", drawn(seed)[0].encode(), _Texts())).program


def _said(program: Program) -> list[tuple[Span, str]]:
    """Where and what; the way that is told with it may be another."""
    return [(finding.span, finding.message) for finding in find_stale_values(program)]


def test_nothing_is_lost_by_forgetting(monkeypatch: pytest.MonkeyPatch) -> None:
    """Procedures drawn at random, with readings upset, computed from and handed up, in loops, branches and groups."""
    programs = [program for seed in range(300) if (program := _program(seed)) is not None]
    found = [_said(program) for program in programs]

    def all_kept(self: object, place: Place, here: Standing) -> Standing:
        return here

    monkeypatch.setattr(staleness._Look, "_trimmed", all_kept)
    assert found == [_said(program) for program in programs]
    assert len(programs) > 250
    stale = sum(map(bool, found))
    assert 30 < stale < len(programs) - 30
