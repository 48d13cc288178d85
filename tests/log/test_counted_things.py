"""What is counted out and back, in the log."""

from __future__ import annotations

from pathlib import Path

from log_help import begin, carry_on, log_of, opened

RIG = """\
proclang 1
machine rig "Invented rig"
counted rags "rags brought to the rig"
"""

JOB = """\
proclang 1
procedure job "Count"
purpose "Training example, all values invented."
needs
  crew lead
  authority lead
machine rig
section main "Main"
  step before "Count the rags." by lead
    measure rags_out in pieces
      counts rags out
  step after "Count the rags again." by lead
    measure rags_in in pieces
      within rags_out ± 0 pieces
      no deviation
      counts rags back
"""


def test_nothing_is_out_at_the_beginning_and_that_is_nothing_left_open(tmp_path: Path) -> None:
    carry_on(begin(tmp_path / "run", {"job": JOB, "rig": RIG}, "job"), {})
    log = log_of(opened(tmp_path / "run"))
    assert "put right" not in log
    assert "- `rags`: found back, left back" in log


def test_what_stays_out_is_left_open(tmp_path: Path) -> None:
    """The run is stopped with the rags out."""
    run = begin(tmp_path / "run", {"job": JOB, "rig": RIG}, "job")
    carry_on(run, {"rags_in": "stop the storm is here"})
    log = log_of(opened(tmp_path / "run"))
    assert "`rags`: left out; the procedure leaves it back" in log
