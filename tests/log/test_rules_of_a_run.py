"""A run is taken, and recomputed, by the rules it was begun under."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from log_help import begin, carry_on, log_of, opened

from proclang.log.verify import passed, verify
from proclang.session import run as sessions

LIFT = """\
proclang 1
procedure lift "Lift the lid"
purpose "Training example, all values invented."
needs
  crew lead, rigger
  authority lead
section all "All"
  step lift "Lift it." by lead and rigger
  witness lifted "Lid off" by rigger
"""
ALONE = {"crew/lead": "Ada Quill", "crew/rigger": "Ada Quill", "lifted/rigger": "Ada Quill"}


def test_a_run_of_before_there_were_two_people_verifies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its first record names no rules: one person did what takes two today, and witnessed it."""
    opening = sessions._opening

    def of_before(*given: Any) -> dict[str, Any]:
        return {name: value for name, value in opening(*given).items() if name != "rules"}

    monkeypatch.setattr(sessions, "_opening", of_before)
    run = begin(tmp_path / "old", {"lift": LIFT}, "lift")
    carry_on(run, ALONE)
    monkeypatch.undo()
    old = opened(tmp_path / "old")
    assert old.state.over
    assert "rules" not in old.opened
    assert passed(verify(tmp_path / "old"))
    assert "- `rigger`: `Ada Quill`" in log_of(old)


def test_the_same_record_under_the_rules_of_today_is_found_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What it was begun under cannot be written into it afterwards without being seen: the reply would not be taken."""
    from proclang.engine import answer_people

    monkeypatch.setattr(answer_people, "not_both", lambda *given: None)
    monkeypatch.setattr(answer_people, "not_witness", lambda *given: ())
    carry_on(begin(tmp_path / "new", {"lift": LIFT}, "lift"), ALONE)
    monkeypatch.undo()
    checks = verify(tmp_path / "new")
    assert not passed(checks)
    assert any("nobody is both lead and rigger" in check.says for check in checks)
