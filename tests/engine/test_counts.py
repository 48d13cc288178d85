"""What is counted out and back, in a run."""

from __future__ import annotations

from helpers import Run, drive, program_of

RIG = """\
proclang 1
machine rig "Invented rig"
kind cover
  states fitted, removed
cap: cover "cap"
counted rags "rags brought to the rig"
interlock cap becomes fitted only while rags is back
"""

JOB = """\
proclang 1
procedure job "Count"
needs
  crew lead
  authority lead
machine rig
  cap found fitted, left fitted
section main "Main"
  step open "Take the cap off." by lead
    now cap is removed
  step before "Count the rags." by lead
    measure rags_out in pieces
      counts rags out
  repeat searching at most 2 times
    step after "Count the rags again." by lead
      measure rags_in in pieces
        within rags_out ± 0 pieces
        no deviation
        counts rags back
    leave when rags_in passes
    step seek "Look for them." by lead
  step close "Put the cap on." by lead
    now cap is fitted
"""


def _job(*replies: str) -> Run:
    return drive(program_of({"job": JOB, "rig": RIG}, "job"), {}, replies)


def test_nothing_is_asked_of_it_and_nothing_is_out_at_the_beginning() -> None:
    run = _job()
    assert run.address == "job/main/open"
    assert run.state.hardware["rags"] == "back"
    assert not [e for e in run.events("rest") if "rags" in e["address"]]


def test_it_is_out_after_the_first_count_and_back_where_the_second_agrees() -> None:
    run = _job("done", "4 pieces")
    assert run.state.hardware["rags"] == "out"
    run.say("3 pieces")
    assert run.state.hardware["rags"] == "out"
    run.say("done", "4 pieces")
    assert run.state.hardware["rags"] == "back"
    assert run.address == "job/main/close"  # and not blocked
    run.say("done")
    assert run.state.hardware["cap"] == "fitted"
    assert run.state.status == "finished"


def test_the_branch_below_a_count_is_no_line_of_the_log() -> None:
    run = _job("done", "4 pieces", "3 pieces")
    assert run.events("branch") == []


def test_a_cover_does_not_close_over_what_is_out() -> None:
    """`becomes`: taking it off was free, putting it on is not."""
    text = JOB.replace("        counts rags back\n", "")
    run = drive(program_of({"job": text, "rig": RIG}, "job"), {}, ["done", "4 pieces", "4 pieces"])
    assert run.asked.phase == "blocked"
    assert run.asked.facts[0] == "interlock cap becomes fitted only while rags is back: rags is out"
