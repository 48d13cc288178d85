"""`measure again` and `compute again`: one value as found and as left, under one name and one set of limits."""

from __future__ import annotations

import pytest
from engine_help import running
from helpers import TextLibrary

from proclang.program.build import build
from proclang.program.load import load

TWICE = """
step look "Look."
  measure a in mm using gauge
  measure b in mm using gauge
compute apart = a - b
  within 0 ± 1 mm
step tighten "Tighten."
  upsets a, b, apart
step look_once_more "Look once more."
  measure again a
  measure again b
compute again apart
confirm after "After {apart}."
"""


def test_the_same_value_is_judged_again_from_the_new_readings() -> None:
    run = running(TWICE)
    run.say("10", "10.4", "done")
    assert run.value("apart") == "-0.4 mm"
    assert set(run.state.top.stale) == {"a", "b", "apart"}
    run.say("10", "9.8")
    assert run.value("apart") == "0.2 mm"
    assert not run.state.top.stale
    assert run.address == "job/work/after"
    # What was upset is not averaged with what is read now.
    assert [e["new"] for e in run.events("read")] == [True, True, True, True]


def test_a_failure_the_second_time_is_asked_about() -> None:
    run = running(TWICE)
    run.say("10", "10.4", "done", "10", "8")
    assert run.outcome("apart") == "fails"
    assert run.address == "job/work/apart/verdict"
    run.say("adjust")
    assert run.address == "job/work/look_once_more/a"
    run.say("10", "9.9")
    assert run.address == "job/work/after"


def test_a_failure_is_asked_about_outside_the_loop_that_tested_it() -> None:
    """Inside the loop the procedure deals with a failure itself; after it nobody else would."""
    run = running(
        """
        repeat nudge at most 3 times
          step look "Look."
            measure a in mm using gauge
          compute twice = a * 2
            at most 2 mm
          leave when twice passes
        step look_once_more "Look once more."
          measure again a
        compute again twice
        confirm after "After."
        """
    )
    run.say("5", "1")
    assert run.address == "job/work/look_once_more/a"
    run.say("7")
    assert run.address == "job/work/twice/verdict"


PROCEDURE = """\
proclang 1
procedure job "Job"
labels feet 1 .. 3
needs
  crew lead
  authority lead
section work "Work"
  step look "Look." by lead
    measure a in mm
      at most 10 mm
  for each foot of feet
    compute half[foot] = a / 2
      at most 10 mm
"""


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("compute again a", "not-computed"),
        ("compute again half", "not-here"),
        ("compute again nothing", "unknown-name"),
    ],
)
def test_what_cannot_be_computed_again_is_said(line: str, code: str) -> None:
    text = f"{PROCEDURE}  {line}\n"
    built = build(load("job", text.encode(), TextLibrary({"job": text})))
    assert [f.code for f in built.findings] == [code]


def test_a_label_read_anew_does_not_wait_for_the_others() -> None:
    """What is computed from one label of an upset series counts as soon as that label has been read again."""
    run = running(
        """
        repeat rounds at most 3 times
          for each foot of feet
            step look "Look."
              measure gap[foot] in mm using gauge
            compute twice[foot] = gap[foot] * 2
              at most 4 mm
          leave when twice passes
          step pack "Pack."
            upsets gap
        confirm after "After."
        """,
        header="labels feet left, right",
    )
    run.say("3", "1", "done", "1", "1")
    assert run.address == "job/work/after"
    assert run.outcome("twice", "left") == "passes"
