"""Branches, loops and groups: which way is taken, and that every one of them ends."""

from __future__ import annotations

import pytest
from engine_help import running

ARMS = """
according to hemisphere
  north
    confirm mark_south "Due south."
  south
    confirm mark_north "Due north."
confirm after "After."
"""
LATITUDE = """
inputs
  latitude: angle
"""


@pytest.mark.parametrize(("hemisphere", "arm"), [("north", "mark_south"), ("south", "mark_north")])
def test_the_hemisphere_chooses_the_arm(hemisphere: str, arm: str) -> None:
    """Exactly one arm is gone through, and then what follows all of them."""
    run = running(ARMS, header=LATITUDE, facts={"latitude": "30 deg", "hemisphere": hemisphere})
    assert run.address == f"job/work/{arm}"
    run.say("yes")
    assert run.address == "job/work/after"
    assert [e["took"] for e in run.events("branch")] == [hemisphere]


def test_an_unknown_hemisphere_takes_no_arm_by_itself() -> None:
    """Neither the first arm nor none: somebody with the authority chooses, and that is recorded."""
    run = running(ARMS, header=LATITUDE, facts={})
    assert run.asked.phase == "unknown"
    assert run.asked.choices == ("accept", "stop")
    run.say("accept", "Seen on the way up here.", "Ada Quill")
    assert run.address == "job/work/according_to_hemisphere/which_way"
    assert run.asked.choices == ("north", "south")
    assert run.refused("west") == "not-a-choice"
    run.say("south")
    assert run.address == "job/work/mark_north"
    assert run.events("branch") == [
        {"is": "branch", "at": "job/work/according_to_hemisphere", "took": "south", "chosen": True}
    ]


UNKNOWN_CONDITION = """
when limit > 3 mm
  confirm inside "Inside."
otherwise
  confirm other "Otherwise."
confirm after "After."
"""
LIMIT = """
inputs
  limit: length
"""


@pytest.mark.parametrize(("word", "way"), [("yes", "inside"), ("no", "other")])
def test_an_unknown_condition_is_not_taken_for_no(word: str, way: str) -> None:
    """The one with the authority says whether it holds."""
    run = running(UNKNOWN_CONDITION, header=LIMIT)
    run.say("accept", "Measured on the drawing.", "Ada Quill", word)
    assert run.address == f"job/work/{way}"


@pytest.mark.parametrize(("limit", "way"), [("4 mm", "inside"), ("3 mm", "other")])
def test_a_condition_chooses_between_when_and_otherwise(limit: str, way: str) -> None:
    """`3 mm > 3 mm` does not hold."""
    run = running(UNKNOWN_CONDITION, header=LIMIT, facts={"limit": limit})
    assert run.address == f"job/work/{way}"
    run.say("yes")
    assert run.address == "job/work/after"


def test_without_otherwise_a_condition_that_fails_is_passed_by() -> None:
    """A one-sided `when`."""
    run = running('when limit > 3 mm\n  confirm inside "Inside."\nconfirm after "After."', LIMIT, {"limit": "1 mm"})
    assert run.address == "job/work/after"


# ---------------------------------------------------------------------------- loops

LOOP = """
repeat tries at most 3 times
  step look "Look."
    measure x in mm using gauge
      at most 1 mm
  leave when x passes
  step trim "Trim."
{otherwise}
confirm after "After."
"""
OTHERWISE = 'otherwise\n  confirm given_up "Given up."'


def test_a_loop_is_left_when_its_condition_holds() -> None:
    """Its pass numbers stand in the addresses, and are gone after it."""
    run = running(LOOP.format(otherwise=OTHERWISE))
    run.say("5")
    assert run.address == "job/work/tries#1/trim"
    run.say("done", "0.5")
    assert run.address == "job/work/after"
    assert run.state.top.loops == []
    assert run.events("loop end")[-1]["passes"] == 2


def test_at_its_bound_a_loop_goes_on_to_otherwise() -> None:
    """Three passes without success, and no fourth."""
    run = running(LOOP.format(otherwise=OTHERWISE))
    run.say("5", "done", "5", "done", "5", "done")
    assert run.address == "job/work/tries/given_up"
    assert run.state.top.loops == []
    run.say("yes")
    assert run.address == "job/work/after"


def test_at_its_bound_without_otherwise_somebody_decides() -> None:
    """What the loop was for is not reached: that is out of tolerance, and never passed by."""
    run = running(LOOP.format(otherwise=""))
    run.say("5", "done", "5", "done", "5", "done")
    assert run.asked.phase == "bound"
    assert run.asked.choices == ("accept", "stop")
    run.say("accept", "Good enough for transport.", "Ada Quill")
    assert run.address == "job/work/after"
    assert run.events("loop end")[-1]["why"] == "deviation"


def test_a_loop_without_a_way_out_just_ends() -> None:
    """Nothing was to be reached: so many times, and on."""
    run = running('repeat wipe at most 2 times\n  confirm wiped "Wiped."\nconfirm after "After."')
    run.say("yes", "yes")
    assert run.address == "job/work/after"


def test_an_unknown_condition_to_leave_is_asked_in_every_pass() -> None:
    """Whether to leave is said by somebody with the authority; the bound holds all the same."""
    body = 'repeat tries at most 2 times\n  confirm tried "Tried."\n  leave when limit > 3 mm\nconfirm after "After."'
    run = running(body, LIMIT)
    run.say("yes", "accept", "It is well short of it.", "Ada Quill", "no")
    assert run.address == "job/work/tries#2/tried"
    run.say("yes", "accept", "It is well past it.", "Ada Quill", "yes")
    assert run.address == "job/work/after"
    assert run.events("loop end")[-1]["chosen"] is True


def test_leaving_from_inside_a_for_each_leaves_both() -> None:
    """The `repeat` around it is meant; the label it stood at is gone with it."""
    run = running(
        """
        repeat outer at most 3 times
          repeat tries at most 3 times
            for each place of places
              step look "Look."
                measure x[place] in mm using gauge
              leave when x[place] > 5 mm
          confirm between "Between."
        confirm after "After."
        """,
        header="labels places 1 .. 3",
    )
    assert run.address == "job/work/outer#1/tries#1/place[1]/look/x"
    run.say("1", "9")
    assert run.state.top.loops == [("outer", 1)]
    assert run.address == "job/work/outer#1/between"


def test_for_each_takes_its_labels_in_turn_or_in_star_order() -> None:
    """Six bolts crosswise: 1, 4, 2, 5, 3, 6 (common practice for round flanges, no source)."""
    for order, expected in (("", ["1", "2", "3", "4", "5", "6"]), (" in star order", ["1", "4", "2", "5", "3", "6"])):
        run = running(
            f'for each stud of studs{order}\n  step turn "Turn {{stud}}."\nconfirm after "After."',
            header="labels studs 1 .. 6",
        )
        turned = []
        while run.address != "job/work/after":
            turned.append(run.asked.title.split()[1].rstrip("."))
            run.say("done")
        assert turned == expected


def test_a_section_and_a_loop_of_one_name_are_told_apart() -> None:
    """The pass number stands behind the loop."""
    run = running('repeat work at most 2 times\n  confirm tried "Tried."\nconfirm after "After."')
    assert run.address == "job/work/work#1/tried"


def test_loops_of_one_name_inside_each_other_keep_their_own_passes() -> None:
    """The inner one is meant where both are open."""
    run = running(
        """
        repeat a at most 2 times
          repeat a at most 2 times
            confirm inner "Inner."
          confirm outer "Outer."
        confirm after "After."
        """
    )
    seen = []
    while run.address != "job/work/after":
        seen.append(run.address.removeprefix("job/work/"))
        run.say("yes")
    assert seen == [
        "a#1/a#1/inner", "a#1/a#2/inner", "a#1/outer", "a#2/a#1/inner", "a#2/a#2/inner", "a#2/outer",
    ]  # fmt: skip


# ---------------------------------------------------------------------------- in any order

GROUP = """
repeat rounds at most 2 times
  in any order
    step one "One."
    step two "Two."
    step three "Three."
confirm after "After."
"""


def test_steps_of_a_group_are_picked_and_all_of_them_done() -> None:
    """The last one left needs no picking."""
    run = running(GROUP)
    assert run.asked.choices == ("one", "two", "three")
    run.say("two", "done")
    assert run.asked.choices == ("one", "three")
    assert run.refused("two") == "not-a-choice"
    run.say("three", "done")
    assert run.address == "job/work/rounds#1/one"


def test_a_group_is_whole_again_in_the_next_pass() -> None:
    """What was done in the first pass is not done in the second."""
    run = running(GROUP)
    run.say("two", "done", "three", "done", "done")
    assert run.address.startswith("job/work/rounds#2")
    assert run.asked.choices == ("one", "two", "three")
