"""What a performed procedure gives is told as given; what is worked out right behind the call is not."""

from __future__ import annotations

from pathlib import Path

from log_help import body_of, log_of, ran

# Invented for the tests.
OUTER = """\
proclang 1
procedure outer "Outer"
needs
  crew lead
  authority lead
section one "One"
  perform inner
    gives gap
  compute twice = gap * 2
    at most 9 mm
"""
INNER = """\
proclang 1
procedure inner "Inner"
needs
  crew lead
gives gap
section one "One"
  step read "Read."
    measure gap in mm
"""
SITE = '[site]\nname = "flat"\n[facts]\n'


def test_a_value_computed_behind_a_call_is_not_told_as_given(tmp_path: Path) -> None:
    run = ran(tmp_path / "run", {"outer": OUTER, "inner": INNER}, "outer", {"read/gap": "4 mm"}, SITE)
    lines = body_of(log_of(run)).split("\n")
    assert [line for line in lines if "gave" in line] == ["- `outer/one/inner`: gave `gap`: 4 mm"]
    assert [line for line in lines if line.startswith("- `outer/one/twice`: 8 mm; PASSES")]
