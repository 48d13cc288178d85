"""A hundred draws settle most verdicts on paper; what is found is what all of them would have found."""

from __future__ import annotations

from pathlib import Path

import pytest
from marked_cases import CASES, Case, read_cases

from proclang.check import doubtful
from proclang.check.check import check_files
from proclang.program.budget import Budget
from proclang.program.library import Disk

PROCEDURES = Path(__file__).parents[2] / "procedures" / "observatory"
DRAWN = ("level_base", "read_level", "survey_plate", "try_stop")


def _found(case: Case) -> list[tuple[str, int, str]]:
    return [(f.code, f.span.start, f.message) for f in case.check().findings]


def test_few_draws_find_what_all_of_them_do(monkeypatch: pytest.MonkeyPatch) -> None:
    """The cases about doubt, and procedures that are shipped."""
    cases = [case for path in sorted(CASES.glob("*.txt")) for case in read_cases(path) if "guarded" in str(case.files)]
    cases += read_cases(CASES / "doubt.txt")
    disk = Disk(str(PROCEDURES))
    shipped = [(name, data) for name in DRAWN if (data := disk.read(name)) is not None]
    assert len(shipped) == len(DRAWN)
    few = [_found(case) for case in cases], [check_files(name, data, disk).findings for name, data in shipped]
    drawn: list[int] = []
    doubt = Budget.doubt

    def counted(self: Budget, *arguments: object, **named: object) -> object:
        found = doubt(self, *arguments, **named)  # type: ignore[arg-type]
        if found.draws:
            drawn.append(len(found.draws))
        return found

    monkeypatch.setattr(Budget, "doubt", counted)
    monkeypatch.setattr(doubtful, "_FIRST_DRAWS", 1_000)
    every = [_found(case) for case in cases], [check_files(name, data, disk).findings for name, data in shipped]
    assert few == every
    assert max(drawn) > 500
    assert len(drawn) > 5
