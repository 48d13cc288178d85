"""What happens seldom: values that were never set where they are used, sets of hardware in the way, huge readings."""

from __future__ import annotations

import pytest
from engine_help import NEEDS, program, running
from helpers import Run, start

from proclang.engine.tell import tell


def told(run: Run) -> list[str]:
    """The sentences of the last entry."""
    return [x.text for x in tell(run.entries[-1])]


def test_judged_by_the_worst_a_bearing_counts_by_the_shorter_way() -> None:
    """Either side of north, the reading nearer to a limit stands for all of them; outside, the one farther outside."""
    body = """
    step look "Look."
      measure mark in deg true
        within 0 ± 2 deg
        judged by worst
    step more "Once more."
      measure again mark
    confirm after "After."
    """
    run = running(body)
    run.say("359.5", "1.5")
    assert run.value("mark") == "1.5 deg true"
    run = running(body)
    run.say("357", "again", "3.5")
    assert run.value("mark") == "3.5 deg true"
    assert run.outcome("mark") == "fails"


def test_a_limit_that_is_not_known_leaves_a_computed_value_without_a_verdict() -> None:
    """Not even that of the pass before."""
    run = running(
        """
        repeat tries at most 2 times
          step look "Look."
            measure x in mm using gauge
          compute y = x * 2
            at most (1 mm^2 / x)
        confirm after "After."
        """
    )
    run.say("0.5")
    assert run.outcome("y") == "passes"
    run.say("0")
    assert run.asked.phase == "unknown"
    assert run.value("y") == "0 mm"
    assert run.state.top.outcomes["y"] == {}
    assert run.asked.choices == ("again", "adjust", "accept", "stop")


def test_one_label_that_is_not_known_leaves_the_others_known() -> None:
    """And a sum over all of them is not known either."""
    run = running(
        """
        for each place of places
          step look "Look."
            measure x[place] in mm using gauge
          compute y[place] = 1 mm^2 / x[place]
        compute all = mean(y)
        confirm after "After {all}."
        """,
        header="labels places 1 .. 3",
    )
    run.say("1", "0", "accept", "Left out.", "AQ", "2")
    assert run.state.top.values["y"] == {"1": "1 mm", "3": "0.5 mm"}
    assert run.asked.facts == ("`y[2]` is not known",)
    run.say("accept", "Left out.", "AQ")
    assert run.asked.prompt == "After (not known)."


def test_a_labelled_verdict_is_asked_by_its_label() -> None:
    """`x[2] passes` is of that one; upset, it neither passes nor fails."""
    body = """
    step look "Look."
      measure x[1 .. 3] in mm using gauge
        at most 5 mm
    {between}
    when x[2] passes
      confirm good "Good."
    otherwise
      confirm bad "Bad."
    """
    run = running(body.format(between=""))
    run.say("1", "2", "9")
    assert run.address == "job/work/good"
    run = running(body.format(between='step shake "Shake."\n      upsets x'))
    run.say("1", "2", "9", "done")
    assert run.address == "job/work/bad"


@pytest.mark.parametrize(("second", "way"), [("1", "good"), ("0", "bad")])
def test_a_series_judged_only_in_part_does_not_pass(second: str, way: str) -> None:
    """Two of three labels pass; the third has no value, which was accepted, and no verdict."""
    run = running(
        """
        for each place of places
          step look "Look."
            measure x[place] in mm using gauge
          compute y[place] = 1 mm^2 / x[place]
            at most 5 mm
        when y passes
          confirm good "Good."
        otherwise
          confirm bad "Bad."
        """,
        header="labels places 1 .. 3",
    )
    run.say("1", second)
    if run.asked.phase == "unknown":
        run.say("accept", "Left out.", "AQ")
    run.say("1")
    assert run.address == f"job/work/{way}"


def test_a_confirmation_answered_no_has_no_arm_of_yes() -> None:
    """What was accepted as not so is not taken for so: the way on is chosen."""
    run = running(
        """
        confirm seated "Seated."
        according to seated
          yes
            confirm tight "Tight."
        confirm after "After."
        """
    )
    run.say("no", "accept", "Seated tomorrow.", "AQ")
    assert run.asked.facts == ("`seated` is `no`, for which nothing is said",)


def test_several_items_in_the_way_are_asked_for_one_by_one() -> None:
    """How each of them stands after it was put right."""
    from engine_help import MACHINE, procedure
    from helpers import answer_opening, program_of

    machine = MACHINE + "interlock nuts is tight only while hook is landed\n"
    job = procedure(
        'step lift "Lift."\n  now hook is test_lifted', "machine rig\n  nuts found tight\n  hook found landed"
    )
    run = answer_opening(start(program_of({"rig": machine, "job": job}, "job")))
    assert run.asked.phase == "blocked"
    run.say("changed")
    for n in (1, 2, 3):
        assert run.address == f"job/work/lift/blocked/nuts[{n}]"
        run.say("slack")
    assert run.address == "job/work/lift"


def test_a_difference_allowed_that_is_not_known_judges_nothing() -> None:
    """The reading is kept, and somebody decides."""
    run = running(
        'step s "S."\n  measure x in deg\nset n "offset" to x ± wanted, read back\nconfirm after "After."',
        header="inputs\n  wanted: angle",
    )
    run.say("5", "5")
    assert run.asked.phase == "unknown"
    run.say("accept", "It is as set.", "AQ")
    assert run.address == "job/work/after"


@pytest.mark.parametrize("reading", ["1e99", "-1e99", "1e-99", "1/999999999999999999999999"])
def test_readings_of_any_size_are_taken_or_refused(reading: str) -> None:
    """And what is computed from them is worked out or not known."""
    run = running(
        """
        step look "Look."
          measure x in mm using gauge
          measure y in mm using gauge
        compute a = x * x / y
        compute b = a * a / x
        confirm after "After {b}."
        """
    )
    for text in (reading, "1/7"):
        run.reply(text)
    if run.address == "job/work/look/x":
        return
    while run.address != "job/work/after":
        run.say({"unknown": "accept", "reason": "As it is.", "accepted by": "AQ"}.get(run.asked.phase, "1"))
    assert run.asked.prompt


def test_names_lists_and_series_are_told_short() -> None:
    """Three of many, and how many more there are."""
    run = start(program('confirm after "After."', needs=NEEDS))
    run.say("Ada Quill", "Al Quern")
    assert told(run) == ["Al Quern has the same initials as Ada Quill: type whole names"]
    run = running(
        """
        choose way from left, right "Which?"
        step look "Look."
          measure ns in arcmin
        compute turns = levelling_turns(ns, ns, 540 mm, 2.5 mm/turn, studs = 3)
        step tighten "Tighten."
          now nuts is tight
        """,
        header="machine rig\n  nuts found slack",
    )
    run.say("l")
    assert told(run) == ["taken as left"]
    run.say("0")
    assert told(run)[:2] == ["read as 0 arcmin", "turns: 1 = 0 turn, 2 = 0 turn, 3 = 0 turn"]
    assert [t[:31] for t in told(run)[2:]] == ["caution: A plate can drop when "]
    run.say("done")
    assert told(run)[0] == "nuts[1], nuts[2] and nuts[3] are now tight"
