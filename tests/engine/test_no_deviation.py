"""`no deviation`: what nobody may accept is put right, or the procedure is stopped."""

from __future__ import annotations

import pytest
from engine_help import running
from helpers import Run

from proclang.engine.model import Request


def ways(run: Run) -> tuple[str, ...]:
    assert isinstance(run.request, Request)
    return run.request.choices


READING = """
step look "Look."
  measure x in mm using gauge
    at most 2 mm
    {rule}
"""


def test_a_reading_outside_is_read_again_adjusted_or_stopped_at() -> None:
    run = running(READING.format(rule="no deviation"))
    run.say("5")
    assert ways(run) == ("again", "adjust", "stop")
    assert run.refused("accept") == "not-a-choice"
    assert "no deviation: nobody may accept this" in run.asked.facts
    run.say("adjust", "1")
    assert run.state.over or run.address


def test_without_the_line_it_can_be_accepted() -> None:
    run = running(READING.format(rule="judged by mean"))
    run.say("5")
    assert ways(run) == ("again", "adjust", "accept", "stop")
    assert not any("no deviation" in fact for fact in run.asked.facts)


def test_a_computed_value_goes_back_to_its_readings_or_stops() -> None:
    run = running('step look "Look."\n  measure x in mm\ncompute y = x * 2\n  at most 2 mm\n  no deviation')
    run.say("5")
    assert ways(run) == ("again", "adjust", "stop")


def test_of_several_results_only_the_one_that_failed_counts() -> None:
    body = """
    step look "Look."
      measure x in mm
        at most 9 mm
        no deviation
    compute y = x * 2
      at most 2 mm
    """
    run = running(body)
    run.say("5")
    assert ways(run) == ("again", "adjust", "accept", "stop")


def test_a_confirmation_is_answered_again_or_stopped_at() -> None:
    run = running('step look "Look."\n  confirm dark "The lamp is dark" by lead, no deviation\nconfirm after "After."')
    run.say("no")
    assert ways(run) == ("again", "stop")
    run.say("again", "yes")
    assert run.address.endswith("after")


def test_what_is_typed_into_the_equipment_is_set_again_or_stopped_at() -> None:
    look = 'step look "Look."\n  measure x in mm\n'
    run = running(look + 'set offset "offset" to x, read back, no deviation\nconfirm after "After."')
    run.say("5", "6")
    assert ways(run) == ("again", "stop")


LOOP = """
repeat tries at most 2 times
  step look "Look."
    measure x in mm
      at most 2 mm
      {rule}
  leave when x passes
step after "After."
"""


@pytest.mark.parametrize(("rule", "open_ways"), [("no deviation", ("stop",)), ("judged by mean", ("accept", "stop"))])
def test_a_loop_is_not_left_without_it(rule: str, open_ways: tuple[str, ...]) -> None:
    run = running(LOOP.format(rule=rule))
    run.say("5", "5")
    assert ways(run) == open_ways


def test_what_is_not_known_is_not_accepted_either() -> None:
    run = running('step look "Look."\n  measure x in mm\ncompute y = 1 mm / x\n  at most 2\n  no deviation')
    run.say("0")
    assert run.asked.phase == "unknown"
    assert "accept" not in ways(run)


def test_a_way_that_hangs_on_it_is_not_chosen_by_hand() -> None:
    body = """
    step look "Look."
      measure x in mm
    compute y = 1 mm / x
      at most 2
      no deviation
    when y passes
      step go "Go on."
    otherwise
      step halt "Halt."
    """
    run = running(body)
    run.say("0")
    assert run.asked.phase == "unknown"
    assert "accept" not in ways(run)


def test_no_authority_is_missed_where_nothing_can_be_accepted() -> None:
    """The warning that nobody may accept would be idle."""
    from proclang.program.whole import can_fail

    run = running(READING.format(rule="no deviation"))
    assert not any(can_fail(instr) for instr in run.program.main.code)
    run = running(READING.format(rule="judged by mean"))
    assert any(can_fail(instr) for instr in run.program.main.code)
