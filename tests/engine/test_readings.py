"""Readings: one series since the last adjustment, judged as the author said; doubted when implausible."""

from __future__ import annotations

import pytest
from engine_help import running

DEPTH = """
step look "Look."
  measure x "depth" in mm using gauge
    within 10 ± 1 mm
confirm after "After."
"""


def test_a_reading_on_the_limit_passes() -> None:
    """Limits are compared exactly and belong to what passes."""
    run = running(DEPTH)
    run.say("11 mm")
    assert run.outcome("x") == "passes"
    assert run.address == "job/work/after"


def test_one_more_reading_joins_the_others_and_their_mean_is_judged() -> None:
    """`again` adds to the series: neither the last reading nor the best replaces the others."""
    run = running(DEPTH)
    run.say("12", "again", "11")
    assert run.value("x") == "11.5 mm"
    assert run.outcome("x") == "fails"
    assert run.address == "job/work/look/x/verdict"
    run.say("again", "10")
    assert run.value("x") == "11 mm"
    assert run.outcome("x") == "passes"
    assert [e["new"] for e in run.events("read")] == [True, False, False]


def test_a_question_asked_again_shows_the_readings_it_joins() -> None:
    """Whoever reads again sees that nothing is forgotten."""
    run = running(DEPTH)
    run.say("12", "again")
    assert run.asked.facts[0] == "reads with the ones before: 12 mm"


def test_after_an_adjustment_the_series_begins_afresh() -> None:
    """What was read before an adjustment says nothing of what is there now."""
    run = running(DEPTH)
    run.say("12", "again", "12", "adjust", "10.5")
    assert run.value("x") == "10.5 mm"
    assert run.outcome("x") == "passes"


def test_bearings_are_averaged_across_north() -> None:
    """The mean of 359 and 3 is 1, not 181 (directions, Mardia and Jupp, Directional Statistics, section 2.2)."""
    run = running(
        """
        step look "Look."
          measure mark in deg true
            within 0 ± 2 deg
        confirm after "After."
        """
    )
    run.say("3", "again", "359")
    assert run.value("mark") == "1 deg true"
    assert run.outcome("mark") == "passes"


WORST = """
step look "Look."
  measure x in mm using gauge
    within 10 ± 1 mm
    judged by worst
confirm after "After."
"""


def test_judged_by_the_worst_no_mean_can_save_a_reading() -> None:
    """Every reading of the series is held to the limits, and the worst stands for it."""
    run = running(WORST)
    run.say("12", "again", "9.5")
    assert run.value("x") == "12 mm"
    assert run.outcome("x") == "fails"
    run.say("adjust", "10")
    assert run.address == "job/work/after"


def test_of_readings_within_limits_the_worst_is_the_one_nearest_to_a_limit() -> None:
    """With a limit on one side only the middle of the range says nothing: at most 10, 9.9 is worse than 2."""
    run = running(
        """
        step look "Look."
          measure x in mm using gauge
            at most 10 mm
            judged by worst
        step more "Once more."
          measure again x
        confirm after "After."
        """
    )
    run.say("9.9", "2")
    assert run.value("x") == "9.9 mm"


def test_judged_by_the_worst_every_limit_counts() -> None:
    """Two limits on one value: the reading outside the second is worse than one inside both."""
    run = running(
        """
        step look "Look."
          measure x in mm using gauge
            at least 0 mm
            at most 10 mm
            judged by worst
        confirm after "After."
        """
    )
    run.say("11", "again", "5")
    assert run.value("x") == "11 mm"
    assert run.outcome("x") == "fails"


SPREAD = """
step look "Both ways."
  measure x[direct, reversed] in mm using gauge
    spread at most 1 mm
confirm after "After."
"""


def test_too_wide_a_spread_has_the_whole_series_read_again() -> None:
    """Which of them is wrong is not known: each label gets one more reading, and the spread of the means is judged."""
    run = running(SPREAD)
    run.say("5", "7")
    assert run.address == "job/work/look/x[reversed]/verdict"
    assert any("spread at most 1 mm" in fact for fact in run.asked.facts)
    run.say("again")
    assert run.address == "job/work/look/x[direct]"
    run.say("7", "7")
    assert run.value("x", "direct") == "6 mm"
    assert run.outcome("x", "spread") == "passes"
    assert run.address == "job/work/after"


def test_after_an_adjustment_for_the_spread_all_labels_begin_afresh() -> None:
    """Readings from before and after an adjustment are not compared with each other."""
    run = running(SPREAD)
    run.say("5", "7", "adjust", "7", "7.5")
    assert run.value("x", "direct") == "7 mm"
    assert run.address == "job/work/after"


def test_the_spread_is_judged_anew_when_one_label_is_measured_again() -> None:
    """`measure again x[reversed]` changes one mean, and with it the spread of all."""
    run = running(
        """
        step look "Both ways."
          measure x[direct, reversed] in mm using gauge
            spread at most 1 mm
        step more "The second once more."
          measure again x[reversed]
        confirm after "After."
        """
    )
    run.say("5", "6", "10")
    assert run.value("x", "reversed") == "8 mm"
    assert run.outcome("x", "spread") == "fails"


def test_in_a_loop_the_spread_is_judged_when_the_last_label_is_read() -> None:
    """Labels not yet read have no value; after the last one all have."""
    run = running(
        """
        for each place of places
          step look "Place {place}."
            measure x[place] in mm using gauge
              spread at most 1 mm
        confirm after "After."
        """,
        header="labels places 1 .. 3",
    )
    run.say("5", "9")
    assert run.address == "job/work/place[3]/look/x"
    assert run.events("verdict") == []
    run.say("5")
    assert run.outcome("x", "spread") == "fails"


def test_in_a_second_pass_a_series_is_read_afresh() -> None:
    """Coming to a `measure` again is no `measure again`: something was done in between."""
    run = running(
        """
        repeat tries at most 3 times
          step look "Look."
            measure x in mm using gauge
              at most 1 mm
          leave when x passes
        confirm after "After."
        """
    )
    run.say("9", "0.5")
    assert run.value("x") == "0.5 mm"
    assert run.address == "job/work/after"


def test_measure_again_joins_the_series_until_the_name_was_upset() -> None:
    """As-left readings, taken after a step that upsets the value, are not averaged with the as-found ones."""
    body = """
        step look "Look."
          measure x in mm using gauge
        step between "Tighten."
          {what}
        step more "Once more."
          measure again x
        confirm after "After."
        """
    joined = running(body.format(what='confirm tight "Tight."'))
    joined.say("10", "yes", "12")
    assert joined.value("x") == "11 mm"
    parted = running(body.format(what="upsets x"))
    parted.say("10", "done", "12")
    assert parted.value("x") == "12 mm"
    assert [e["new"] for e in parted.events("read")] == [True, True]


def test_a_series_is_asked_label_by_label() -> None:
    """Each label has an address of its own, and `measure again` of the whole asks for each once more."""
    run = running(
        """
        step look "Both ways."
          measure x[direct, reversed] in mm using gauge
        step more "Both once more."
          measure again x
        confirm after "After."
        """
    )
    seen = []
    for reading in ("1", "2", "3", "4"):
        seen.append(run.address)
        run.say(reading)
    assert seen == [
        "job/work/look/x[direct]",
        "job/work/look/x[reversed]",
        "job/work/more/x[direct]",
        "job/work/more/x[reversed]",
    ]
    assert run.state.top.values["x"] == {"direct": "2 mm", "reversed": "3 mm"}


def test_what_the_procedure_judges_itself_asks_nobody() -> None:
    """`when x fails` deals with a failure: the run goes on there, and the verdict is recorded all the same."""
    run = running(
        """
        step look "Look."
          measure x in mm using gauge
            at most 1 mm
        when x fails
          confirm mended "Mended."
        confirm after "After."
        """
    )
    run.say("9")
    assert run.outcome("x") == "fails"
    assert run.address == "job/work/mended"


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        # 1 inch is 25.4 mm exactly (BIPM SI Brochure and the 1959 yard and pound agreement).
        ("3/8 in", "9.525 mm"),
        ("1 1/2 inch", "38.1 mm"),
        ("2 cm", "20 mm"),
        ("12.70", "12.7 mm"),
        ("-0.5", "-0.5 mm"),
    ],
)
def test_a_reading_is_taken_in_any_unit_of_its_kind(typed: str, value: str) -> None:
    """What was typed and what it was read as are both kept."""
    run = running(
        """
        step look "Look."
          measure x in mm using gauge
        confirm after "After."
        """
    )
    run.say(typed)
    assert run.value("x") == value
    assert run.events("read")[-1]["typed"] == typed


PLAUSIBLE = """
step look "Look."
  measure x in {unit}
    plausible {plausible}
confirm after "After."
"""


@pytest.mark.parametrize(
    ("unit", "plausible", "typed", "said"),
    [
        ("mm", "2 .. 40 mm", "-12", "a lost sign? 12 mm would be"),
        ("mm", "2 .. 40 mm", "120", "a slipped decimal point? 12 mm would be"),
        ("mm", "2 .. 40 mm", "0.12", "a slipped decimal point? 12 mm would be"),
        ("mm", "2 .. 40 mm", "0.5", "another unit? 0.5 inch would be"),
        ("inch", "0.1 .. 2 inch", "25", "another unit? 25 mm would be"),
        ("deg", "0.1 .. 5 deg", "90", "another unit? 90 arcmin would be"),
        ("N.m", "100 .. 300 N.m", "120 lbf.ft", ""),
    ],
)
def test_an_implausible_reading_is_asked_again_with_the_likely_slip(
    unit: str, plausible: str, typed: str, said: str
) -> None:
    """Nothing is recorded before the technician insists."""
    run = running(PLAUSIBLE.format(unit=unit, plausible=plausible))
    if not said:
        run.say(typed)
        return
    decided = run.reply(typed)
    assert decided.problem.code == "implausible"
    assert said in decided.problem.hint
    assert run.address == "job/work/look/x"


def test_an_implausible_reading_is_taken_when_insisted_on_and_marked() -> None:
    """`really` before it says that it is no slip; a plausible reading with it is no exception."""
    run = running(PLAUSIBLE.format(unit="mm", plausible="2 .. 40 mm"))
    assert run.refused("400") == "implausible"
    run.say("really 400")
    assert run.value("x") == "400 mm"
    assert run.events("read")[-1]["implausible"] is True
    again = running(PLAUSIBLE.format(unit="mm", plausible="2 .. 40 mm"))
    again.say("really 12")
    assert "implausible" not in again.events("read")[-1]


def test_the_opposite_bearing_is_never_suggested() -> None:
    """A mark turned the wrong way looks like a slip of 180 deg: whoever reads it must look, not retype."""
    run = running(PLAUSIBLE.format(unit="deg true", plausible="170 .. 190 deg"))
    decided = run.reply("0.5")
    assert decided.problem.code == "implausible"
    assert "would be" not in decided.problem.hint


@pytest.mark.parametrize("typed", ["", "really", "really ", "ten", "5 kg", "nan", "1,5", "5 3", "1e400", "yes"])
def test_what_is_no_reading_is_refused_and_the_question_stands(typed: str) -> None:
    """A refusal changes nothing."""
    run = running(DEPTH)
    before = run.state.copy()
    run.refused(typed)
    assert run.state == before


def test_a_limit_that_cannot_be_worked_out_is_no_pass() -> None:
    """The site never said what the limit hangs on: the run rests there, with the reading kept and no verdict."""
    run = running(
        """
        step look "Look."
          measure x in mm using gauge
            at most wanted
        confirm after "After."
        """,
        header="""
        inputs
          wanted: length
        """,
    )
    run.say("5")
    assert run.asked.phase == "unknown"
    assert run.asked.facts == ("`wanted` is not known",)
    assert run.value("x") == "5 mm"
    assert "x" not in run.state.top.outcomes
    run.say("accept", "Nothing hangs on it here.", "Ada Quill")
    assert run.address == "job/work/after"


@pytest.mark.parametrize(
    ("unit", "limit", "readings", "verdict"),
    [
        ("deg true", "0.5 deg", ("359.9", "0.1"), "passes"),
        ("deg true", "0.1 deg", ("359.9", "0.1"), "fails"),
        ("deg true", "10 deg", ("10", "200"), "fails"),
        ("°C", "2 K", ("19", "21"), "passes"),
        ("°C", "1 K", ("19", "21"), "fails"),
    ],
)
def test_the_spread_of_bearings_and_temperatures_is_an_amount(
    unit: str, limit: str, readings: tuple[str, str], verdict: str
) -> None:
    """Bearings either side of north lie close together; a spread of temperatures is a difference."""
    run = running(
        f"""
        step look "Look."
          measure x[near, far] in {unit}
            spread at most {limit}
        confirm after "After."
        """
    )
    run.say(*readings)
    assert run.events("verdict")[-1]["outcome"] == verdict
    assert run.address == ("job/work/after" if verdict == "passes" else "job/work/look/x[far]/verdict")
