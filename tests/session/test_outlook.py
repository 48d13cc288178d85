"""What is said of the rest of a run that has left the ways on which everything was proved."""

from __future__ import annotations

import pytest
from helpers import Run, drive, program_of

from proclang.session.outlook import off_the_ways, said_unproved, unproved_now

RIG = """\
proclang 1
machine rig "Invented rig"
kind cover
  states fitted, removed
cap: cover "cap"
"""

INNER = """\
proclang 1
procedure inner "Look below the cap"
needs
  crew lead
  authority lead
machine rig
  cap found fitted, left fitted
section look "Look"
  step see "Look." by lead
"""

OUTER = """\
proclang 1
procedure outer "Adjust, then look"
needs
  crew lead
  authority lead
machine rig
  cap found fitted, left fitted
section adjust "Adjust"
  repeat trying at most 1 times
    step read "Read." by lead
      measure gap in mm
        at most 2 mm
    leave when gap passes
    step open "Take the cap off." by lead
      now cap is removed
    step close "Put the cap back." by lead
      {back}
  perform inner
  step end "Write it down." by lead
"""


def _outer(back: str) -> Run:
    files = {"outer": OUTER.replace("{back}", back), "inner": INNER, "rig": RIG}
    run = drive(program_of(files, "outer"), {}, ["3 mm", "done", "done"])
    assert run.asked.phase == "bound"
    return run


def test_a_bound_that_is_accepted_leads_where_nothing_was_proved() -> None:
    """No way of the procedure leads past the bound; somebody does, with the cap off."""
    run = _outer('"The cap lies on the bench."')
    assert unproved_now(run.program, run.state) == ()  # as the procedure has it, nobody goes on from here
    entry = run.say("accept")
    while run.asked.phase in ("reason", "authority") or "accepted_by" in run.address or "reason" in run.address:
        entry = run.say("Ada Quill" if "by" in run.address.rpartition("/")[2] else "the owner wants to see it")
    assert off_the_ways(entry)
    found = unproved_now(run.program, run.state)
    assert [x.code for x in found] == ["begins-otherwise"]
    assert said_unproved(found) == [
        "Not proved any more on what is left:",
        "- `inner` begins with `cap` fitted, and here it may be removed (it is so now; nothing changes it before this)",
    ]


def test_the_same_with_the_cap_back_is_proved() -> None:
    run = _outer("now cap is fitted")
    entry = run.say("accept")
    while "reason" in run.address or "accepted_by" in run.address:
        entry = run.say("Ada Quill" if "by" in run.address.rpartition("/")[2] else "the owner wants to see it")
    assert off_the_ways(entry)
    assert unproved_now(run.program, run.state) == ()


FILES = {"outer": OUTER.replace("{back}", "now cap is fitted"), "inner": INNER, "rig": RIG}


@pytest.mark.parametrize("kind", ["answer", "note"])
def test_what_stays_on_the_ways(kind: str) -> None:
    run = drive(
        program_of({"outer": OUTER.replace("{back}", "now cap is fitted"), "inner": INNER, "rig": RIG}, "outer")
    )
    entry = run.say("1 mm") if kind == "answer" else run.note("cold")
    assert not off_the_ways(entry)
    assert unproved_now(run.program, run.state) == ()


def test_nothing_is_said_of_a_run_that_is_over_or_stopped() -> None:
    run = _outer('"The cap lies on the bench."')
    run.stop("storm")
    assert unproved_now(run.program, run.state) == ()
