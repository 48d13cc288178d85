"""Rules of the machine at run time: a step that would break one is not shown."""

from __future__ import annotations

import pytest
from engine_help import running

ALL = """
machine rig
  lid found {lid}
  hood found {hood}
  nuts found slack
  hook found {hook}
  lamp found off
"""


def rig(lid: str = "fitted", hood: str = "fitted", hook: str = "landed") -> str:
    return ALL.format(lid=lid, hood=hood, hook=hook)


def test_what_moves_only_while_something_else_is_so() -> None:
    """The hood hides behind the lid: the lid first."""
    run = running('step take_off "Take it off."\n  now hood is removed\nconfirm after "After."', rig())
    assert run.asked.phase == "blocked"
    assert run.address == "job/work/take_off/blocked"
    assert run.asked.facts == (
        "interlock hood moves only while lid is removed: lid is fitted",
        "to put right: lid removed",
    )
    run.say("changed")
    assert run.state.hardware["lid"] == "removed"
    assert run.address == "job/work/take_off"
    assert [e["why"] for e in run.events("hardware") if e["items"] == ["lid"]][-1] == "put right"
    run.say("done")
    assert run.state.hardware["hood"] == "removed"


def test_what_is_so_only_while_something_else_is_so() -> None:
    """The lamp is on only while the hood is removed."""
    run = running('step light "Light."\n  now lamp is on', rig(lid="removed"))
    assert run.asked.facts[0] == "interlock lamp is on only while hood is removed: hood is fitted"
    run.say("changed", "done")
    assert run.state.hardware["lamp"] == "on"


def test_what_is_put_right_is_held_to_the_rules_as_well() -> None:
    """The hood cannot have come off under the lid: that it is said to have is recorded."""
    run = running('step light "Light."\n  now lamp is on', rig())
    run.say("changed")
    assert run.state.hardware["hood"] == "removed"
    assert [e["why"] for e in run.events("breach")] == ["interlock hood moves only while lid is removed: lid is fitted"]
    run = running('step light "Light."\n  now lamp is on', rig(lid="removed"))
    run.say("changed")
    assert run.events("breach") == []


def test_the_condition_may_not_be_taken_away_either() -> None:
    """Nothing but the hook itself can give way, and how it stands afterwards is asked: two states would do."""
    run = running('step take_off "Take it off."\n  now lid is removed\nconfirm after "After."', rig(hook="hanging"))
    assert run.asked.facts == (
        "interlock hook is hanging only while lid is fitted: lid would be removed",
        "to put right first: hook",
    )
    run.say("changed")
    assert run.address == "job/work/take_off/blocked/hook"
    assert run.asked.choices == ("landed", "test_lifted", "hanging")
    run.say("hanging")
    assert run.asked.phase == "blocked"
    run.say("changed", "landed")
    assert run.state.hardware["hook"] == "landed"
    assert run.address == "job/work/take_off"


def test_changes_of_one_step_are_looked_at_one_after_the_other() -> None:
    """First the lid, then the hood, then the lamp: each is allowed after the one before."""
    run = running(
        """
        step open "Open."
          now lid is removed
          now hood is removed
          now lamp is on
        """,
        rig(),
    )
    assert run.address == "job/work/open"
    run.say("done")
    assert run.state.hardware["lamp"] == "on"


def test_a_rule_is_put_right_or_the_run_stopped_never_accepted() -> None:
    """A deviation is for tolerances."""
    run = running('step light "Light."\n  now lamp is on', rig())
    assert run.asked.choices == ("changed", "stop")
    assert run.refused("accept") == "not-a-choice"


def test_require_is_looked_at_again_after_it_was_put_right() -> None:
    """And the run goes on from there."""
    run = running('step fit "Fit."\n  require lid is removed\n  confirm fits "It fits."', rig())
    assert run.asked.phase == "blocked"
    assert "lid must be removed; it is fitted" in run.asked.facts[0]
    run.say("changed")
    assert run.address == "job/work/fit/fits"


def test_require_behind_a_change_of_its_step_waits_with_it() -> None:
    """What the step changes is what it then requires: it is shown, and nothing has to be put right."""
    body = 'step open "Open."\n  now lid is removed\n  require lid is removed\n  confirm off "It is off."'
    run = running(body, rig())
    assert run.address == "job/work/open/off"
    run.say("yes")
    assert run.address == "finished"


def test_a_change_counts_when_the_question_of_its_step_is_answered() -> None:
    """Nothing is recorded as done before anybody has answered."""
    run = running('step open "Open."\n  confirm off "It is off."\n  now lid is removed', rig())
    assert run.state.hardware["lid"] == "fitted"
    run = running('step open "Open."\n  now lid is removed\n  confirm off "It is off."', rig())
    assert run.state.hardware["lid"] == "fitted"
    run.say("yes")
    assert run.state.hardware["lid"] == "removed"


UNDER_A_CONDITION = """
repeat rounds at most 2 times
  step try "Try."
    measure x in mm using gauge
    when x > 5 mm
      now lamp is on
  step dim "Dim."
    now lamp is off
confirm after "After."
"""


def test_a_change_that_hangs_on_an_answer_of_its_step_is_looked_at_when_it_is_known() -> None:
    """Too late to refuse it, it has been done: the broken rule is recorded."""
    run = running(UNDER_A_CONDITION, rig())
    run.say("9")
    (breach,) = run.events("breach")
    assert breach["why"] == "interlock lamp is on only while hood is removed: hood is fitted"
    assert run.state.hardware["lamp"] == "on"


def test_an_answer_of_the_pass_before_says_nothing_of_this_one() -> None:
    """In the second pass nothing is known yet of this pass's reading: the step is shown."""
    run = running(UNDER_A_CONDITION, rig())
    run.say("9", "done")
    assert run.address == "job/work/rounds#2/try/x"


def test_a_change_under_a_condition_known_before_is_looked_at_before() -> None:
    """The answer was given in an earlier step, so the step can be refused."""
    body = """
    step look "Look."
      measure x in mm using gauge
    step try "Try."
      when x > 5 mm
        now lamp is on
      confirm lit "Lit."
    """
    run = running(body, rig())
    run.say("9")
    assert run.asked.phase == "blocked"
    run = running(body, rig())
    run.say("1")
    assert run.address == "job/work/try"
    assert run.asked.phase == "done"


@pytest.mark.parametrize("label", ["1", "2", "3"])
def test_a_loop_changes_the_item_it_stands_at(label: str) -> None:
    """One nut after the other."""
    run = running('for each nut of nuts\n  step turn "Turn {nut}."\n    now nuts[nut] is tight', rig())
    for _ in range(int(label)):
        run.say("done")
    tight = [key for key, state in run.state.hardware.items() if state == "tight"]
    assert tight == [f"nuts[{n}]" for n in range(1, int(label) + 1)]


def test_a_whole_set_changes_together() -> None:
    """`now nuts is tight` is all of them."""
    run = running('step turn "Turn all."\n  now nuts is tight', rig())
    run.say("done")
    (event,) = [e for e in run.events("hardware") if e["why"] == "now"]
    assert event["items"] == ["nuts[1]", "nuts[2]", "nuts[3]"]


def test_hardware_found_otherwise_is_put_right_before_the_first_section() -> None:
    """What is found is recorded as it was found, and then as it was put right."""
    from engine_help import program
    from helpers import start

    run = start(program('confirm after "After."', "machine rig\n  lid found fitted", needs=""))
    assert run.address == "opening/found/lid"
    run.say("removed")
    assert run.asked.phase == "blocked"
    assert run.asked.facts[0] == "lid is removed; the procedure begins with it fitted"
    run.say("changed")
    assert run.state.hardware == {"lid": "fitted"}
    assert [(e["state"], e["why"]) for e in run.events("hardware")] == [("removed", "found"), ("fitted", "put right")]
