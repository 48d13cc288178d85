"""Computed values: judged, read once more from here, not known, and no longer counting."""

from __future__ import annotations

from engine_help import running

GAP = """
step look "Look."
  measure a in mm using gauge
  measure b in mm using gauge
compute gap = b - a
  at most 2 mm
confirm after "After."
"""


def test_a_computed_value_is_kept_with_its_formula_and_inputs() -> None:
    """A reviewer can work it out again from the entry alone."""
    run = running(GAP)
    run.say("1", "2.5")
    (event,) = run.events("computed")
    assert event["values"] == {"": "1.5 mm"}
    assert event["formula"] == "b - a"
    assert event["inputs"] == {"a": "1 mm", "b": "2.5 mm"}
    assert run.outcome("gap") == "passes"


def test_again_reads_everything_behind_the_value_once_more() -> None:
    """Each reading gets one more, and the value is computed from the means."""
    run = running(GAP)
    run.say("1", "4")
    assert run.address == "job/work/gap/verdict"
    run.say("again")
    assert run.address == "job/work/look/a"
    run.say("1", "2")
    assert run.value("b") == "3 mm"
    assert run.value("gap") == "2 mm"
    assert run.address == "job/work/after"
    assert run.state.top.rereads == []


def test_adjust_reads_everything_behind_the_value_afresh() -> None:
    """What was read before the adjustment does not count any more."""
    run = running(GAP)
    run.say("1", "4", "adjust", "2", "3")
    assert run.value("a") == "2 mm"
    assert run.value("gap") == "1 mm"


def test_reading_once_more_reaches_past_other_computed_values() -> None:
    """A value computed on the way does not end what was asked for by the one further on."""
    run = running(
        """
        step first "First."
          measure a in mm using gauge
        compute doubled = 2 * a
        step second "Second."
          measure b in mm using gauge
        compute gap = b - doubled
          at most 2 mm
        confirm after "After."
        """
    )
    run.say("1", "6", "again", "1", "4")
    assert run.value("b") == "5 mm"
    assert run.address == "job/work/gap/verdict"


def test_a_value_that_fails_on_the_way_asks_for_its_own_readings() -> None:
    """Two values on one reading, the inner one adjusted: what follows begins afresh too."""
    run = running(
        """
        step first "First."
          measure a in mm using gauge
        compute doubled = 2 * a
          at most 10 mm
        step second "Second."
          measure b in mm using gauge
        compute gap = b - doubled
          at most 2 mm
        confirm after "After."
        """
    )
    run.say("1", "6", "again", "20")
    assert run.value("a") == "10.5 mm"
    assert run.address == "job/work/doubled/verdict"
    run.say("adjust", "2", "5")
    assert run.value("a") == "2 mm"
    assert run.value("gap") == "1 mm"


def test_leaving_the_loop_ends_the_reading_once_more() -> None:
    """In the next pass of the loop around it, everything is read as for the first time."""
    run = running(
        """
        repeat outer at most 3 times
          repeat inner at most 3 times
            step look "Look."
              measure a in mm using gauge
                at most 5 mm
            leave when a passes
            compute half = a / 2
              at most 3 mm
          step turn "Turn."
          leave when a fails
        confirm after "After."
        """
    )
    run.say("8")
    assert run.address == "job/work/outer#1/inner#1/half/verdict"
    run.say("again", "2")
    assert run.value("a") == "5 mm"
    assert run.address == "job/work/outer#1/turn"
    assert run.state.top.rereads == []
    run.say("done", "6")
    assert run.value("a") == "6 mm"


def test_a_loop_on_the_way_reads_each_pass_afresh() -> None:
    """Readings of different passes of a `repeat` are not of one state of the thing: they are never averaged."""
    run = running(
        """
        step look "Look."
          measure a in mm using gauge
        repeat tries at most 2 times
          step trim "Trim."
            measure b in mm using gauge
        compute gap = b - a
          at most 2 mm
        confirm after "After."
        """
    )
    run.say("1", "9", "8", "again", "3", "5", "4")
    assert run.value("a") == "2 mm"
    assert run.value("b") == "4 mm"
    assert run.value("gap") == "2 mm"


def test_without_readings_in_reach_there_is_no_again() -> None:
    """The readings behind it lie in another block: what is left is a deviation, or to stop."""
    run = running(
        """
        step look "Look."
          measure a in mm using gauge
        when a > 1 mm
          compute half = a / 2
            at most 1 mm
        confirm after "After."
        """
    )
    run.say("4")
    assert run.asked.choices == ("accept", "stop")


def test_several_results_are_each_judged() -> None:
    """One calculation, two names, two verdicts (the screws of an invented two-screw mount)."""
    run = running(
        """
        step look "Look."
          measure dx in mm using gauge
          measure dy in mm using gauge
        compute a, b = tilt_screws(dx, dy, 2 m, lever = 120 mm, pitch = 1 mm/turn) in turn
        confirm after "After."
        """
    )
    run.say("4", "-2")
    assert {e["name"] for e in run.events("computed")} == {"a", "b"}
    assert run.address == "job/work/after"


UNKNOWN = """
step look "Look."
  measure a in mm using gauge
compute ratio = 1 mm / a
  at most 2
confirm after "After."
"""


def test_a_sum_without_an_answer_is_not_known_and_read_again_from_here() -> None:
    """Divided by nothing, it has no value; another reading may give it one."""
    run = running(UNKNOWN)
    run.say("0")
    assert run.asked.phase == "unknown"
    assert run.asked.choices == ("again", "adjust", "accept", "stop")
    run.say("adjust", "2")
    assert run.value("ratio") == "0.5"
    assert run.address == "job/work/after"


def test_what_is_not_known_keeps_no_value_of_an_earlier_pass() -> None:
    """A loop is not left on the verdict of the pass before."""
    run = running(
        """
        repeat tries at most 3 times
          step look "Look."
            measure a in mm using gauge
          compute ratio = 1 mm / a
            at most 2
          step trim "Trim."
          leave when ratio fails
        confirm after "After."
        """
    )
    run.say("1", "done", "0")
    assert run.asked.phase == "unknown"
    assert "ratio" not in run.state.top.values
    assert "ratio" not in run.state.top.outcomes
    run.say("accept", "It is at its stop.", "Ada Quill", "done")
    assert run.address == "job/work/tries#2/leave_when/verdict"
    assert run.asked.phase == "unknown"


def test_a_value_accepted_as_unknown_asks_again_where_it_is_used() -> None:
    """Every use of it is a question of its own, and all of them end."""
    run = running(
        """
        step look "Look."
          measure a in mm using gauge
        compute ratio = 1 mm / a
        compute double = 2 * ratio
        confirm after "After."
        """
    )
    run.say("0")
    for name in ("ratio", "double"):
        assert run.address == f"job/work/{name}/verdict"
        run.say("accept", "Not needed today.", "Ada Quill")
    assert run.address == "job/work/after"


# ---------------------------------------------------------------------------- what no longer counts

UPSET = """
step look "Look."
  measure a in mm using gauge
  measure b in mm using gauge
compute gap = b - a
  at most 2 mm
step tighten "Tighten."
  upsets gap
{then}
when gap passes
  confirm good "Good."
otherwise
  confirm bad "Bad."
"""


def test_an_upset_value_neither_passes_nor_fails() -> None:
    """What passed before the bolts were tightened is not taken for what is there now."""
    run = running(UPSET.format(then='confirm between "Between."'))
    run.say("1", "2", "done")
    assert list(run.state.top.stale) == ["gap"]
    run.say("yes")
    assert run.address == "job/work/bad"


def test_a_value_counts_again_when_computed_from_a_new_reading() -> None:
    """The readings behind it end with the upset: the next ones begin a series."""
    then = """step more "Once more."
  measure again a
  measure again b
compute gap_left = b - a
  at most 2 mm"""
    run = running(UPSET.format(then=then))
    run.say("1", "2", "done", "5", "6")
    assert run.value("a") == "5 mm"
    assert list(run.state.top.stale) == ["gap"]
    assert run.outcome("gap_left") == "passes"


def test_a_value_computed_from_what_was_read_before_the_upset_does_not_count() -> None:
    """Computing it once more from the old readings makes nothing new of them."""
    run = running(UPSET.format(then="compute gap_left = b - a\n  at most 2 mm"))
    run.say("1", "2", "done")
    assert set(run.state.top.stale) == {"gap", "gap_left"}
    (event,) = run.events("unfresh")
    assert event["names"] == ["gap_left"]


def test_upsetting_a_reading_upsets_what_was_computed_from_it() -> None:
    """`upsets a` is enough: whoever writes a step need not know every sum made of it."""
    run = running(
        """
        step look "Look."
          measure a in mm using gauge
          measure b in mm using gauge
        compute gap = b - a
        compute half = gap / 2
        step tighten "Tighten."
          upsets a
        confirm after "After."
        """
    )
    run.say("1", "2", "done")
    assert list(run.state.top.stale) == ["a", "gap", "half"]
    (event,) = run.events("stale")
    assert event["names"] == ["a"]
    assert event["also"] == ["gap", "half"]


def test_a_series_counts_again_when_all_its_labels_are_read() -> None:
    """One label read anew says nothing of the others."""
    run = running(
        """
        step look "Both."
          measure x[direct, reversed] in mm using gauge
        step tighten "Tighten."
          upsets x
        step more "Both once more."
          measure again x
        confirm after "After."
        """
    )
    run.say("1", "2", "done", "3")
    assert run.state.top.stale == {"x": ["reversed"]}
    run.say("4")
    assert run.state.top.stale == {}


def test_what_has_not_been_read_yet_is_not_upset() -> None:
    """There is nothing to read anew."""
    run = running(
        """
        step tighten "Tighten."
          upsets x
        step look "Look."
          measure x in mm using gauge
        confirm after "After."
        """
    )
    run.say("done")
    assert run.events("stale") == []
    run.say("5")
    assert run.state.top.stale == {}


def test_a_loop_reads_what_it_upset_and_is_left_on_the_new_verdict() -> None:
    """The usual levelling loop: read, turn, read again."""
    run = running(
        """
        repeat levelling at most 3 times
          step look "Look."
            measure a in mm using gauge
          compute tilt = a / 2
            at most 1 mm
          leave when tilt passes
          step turn "Turn."
            upsets tilt
        confirm after "After."
        """
    )
    run.say("8", "done", "1")
    assert run.value("a") == "1 mm"
    assert run.state.top.stale == {}
    assert run.address == "job/work/after"


def test_the_first_readings_of_one_reading_step_are_averaged_only_up_to_an_upset() -> None:
    """Going back past a step that upsets the value, `again` does not average across it."""
    run = running(
        """
        step before "Before."
          measure a in mm using gauge
        step load "Load it."
          upsets a
        step loaded "Loaded."
          measure b in mm using gauge
        compute sag = a - b
          at most 2 mm
        confirm after "After."
        """
    )
    run.say("10", "done", "1")
    assert run.asked.phase == "verdict"
    run.say("again", "4", "done", "3")
    assert run.value("a") == "4 mm"
    assert run.value("b") == "2 mm"
