"""Values typed into equipment and read back; answers in words; what is asked before the first section."""

from __future__ import annotations

import datetime

import pytest
from engine_help import program, running
from helpers import start

from proclang.engine.typed import due
from proclang.text.diagnostic import Problem
from proclang.values.reader import read_quantity

SET = """
step look "Look."
  measure x in deg
set limit "travel limit" to x - 1 deg ± 0.05 deg, read back using readout, read again after a power cycle
confirm after "After."
"""
NEEDS = """\
needs
  instrument readout "readout", reads to 0.1 deg
  crew lead
  authority lead
"""


def test_a_value_is_shown_with_its_sign_and_read_back_twice() -> None:
    """Set, read back, and once more after a power cycle."""
    run = running(SET, needs=NEEDS)
    run.say("11")
    assert run.address == "job/work/limit/read_back"
    assert run.asked.facts == ("set the travel limit to +10 deg",)
    run.say("10.05")
    assert run.address == "job/work/limit/after_power_cycle"
    run.say("9.95")
    assert run.address == "job/work/after"
    (setting,) = run.events("setting")
    assert (setting["value"], setting["formula"], setting["inputs"]) == ("10 deg", "x - 1 deg", {"x": "11 deg"})


def test_a_lost_sign_does_not_agree() -> None:
    """By how much it is out is said past the difference allowed."""
    run = running(SET, needs=NEEDS)
    run.say("11", "-10")
    assert run.asked.choices == ("again", "accept", "stop")
    (verdict,) = run.events("verdict")
    assert verdict["beyond"] == "19.95 deg below"
    assert verdict["limits"] == "within 0.05 deg of +10 deg"


def test_what_is_lost_in_the_power_cycle_is_set_and_read_back_again() -> None:
    """And then switched off and on once more."""
    run = running(SET, needs=NEEDS)
    run.say("11", "10", "0", "again")
    assert run.address == "job/work/limit/read_back"
    run.say("10", "10")
    assert run.address == "job/work/after"


def test_a_setting_that_does_not_agree_can_be_accepted_and_is_still_read_after_the_power_cycle() -> None:
    """One deviation covers one reading."""
    run = running(SET, needs=NEEDS)
    run.say("11", "10.2", "accept", "The display rounds.", "Ada Quill")
    assert run.address == "job/work/limit/after_power_cycle"
    run.say("10.2", "accept", "The display rounds.", "Ada Quill")
    assert run.address == "job/work/after"


def test_without_a_difference_allowed_half_a_digit_of_the_readout_is() -> None:
    """A display of 0.1 deg cannot say more."""
    run = running(SET.replace(" ± 0.05 deg", ""), needs=NEEDS)
    run.say("11", "10.06")
    assert run.asked.phase == "verdict"
    run.say("again", "10.05")
    assert run.address == "job/work/limit/after_power_cycle"


def test_a_bearing_read_back_across_north_agrees() -> None:
    """359.98 and 0.01 are 0.03 deg apart."""
    run = running(
        'step s "S."\n  measure x in deg true\nset n "north" to x ± 0.05 deg, read back\nconfirm after "After."'
    )
    run.say("359.98", "0.01")
    assert run.address == "job/work/after"


def test_a_value_only_set_is_said_to_be_done() -> None:
    """Nothing to read back: a word."""
    run = running('step s "S."\n  measure x in deg\nset n "offset" to x\nconfirm after "After."')
    run.say("5")
    assert run.asked.facts == ("set the offset to +5 deg",)
    assert run.refused("5 deg") == "not-done"
    run.say("done")
    assert run.address == "job/work/after"


def test_a_value_that_cannot_be_worked_out_is_not_set() -> None:
    """The equipment stays as it is, by a deviation."""
    run = running('set n "offset" to wanted\nconfirm after "After."', "inputs\n  wanted: angle")
    assert run.asked.choices == ("accept", "stop")
    run.say("accept", "It has it from before.", "Ada Quill")
    assert run.address == "job/work/after"


# ---------------------------------------------------------------------------- words

WORDS = """
choose sense from clockwise, anticlockwise "Which way?"
confirm seated "It is seated." by rigger
note seen "What was seen?"
photo proof "The seat."
confirm after "After."
"""


def test_answers_in_words_are_kept_as_they_were_given() -> None:
    """A choice as its word, a note with its inner blanks."""
    run = running(WORDS)
    run.say("cl", "yes", "a  b", "IMG_1")
    values = {name: run.value(name) for name in ("sense", "seated", "seen", "proof")}
    assert values == {"sense": "clockwise", "seated": "yes", "seen": "a  b", "proof": "IMG_1"}


@pytest.mark.parametrize("typed", ["", "x", "c1", "0", "3", "clockwise anticlockwise"])
def test_a_word_that_is_no_answer_is_refused(typed: str) -> None:
    """With the answers there are."""
    run = running(WORDS)
    assert run.refused(typed) == "not-a-choice"


def test_no_leads_to_what_can_be_done_about_it() -> None:
    """Answered once more, or accepted: then the value stays what was answered."""
    run = running(WORDS)
    run.say("1", "no")
    assert run.asked.prompt == "Not so: It is seated. What now?"
    run.say("again", "n", "accept", "A shim is on its way.", "Ada Quill")
    assert run.value("seated") == "no"
    assert run.address == "job/work/seen"


@pytest.mark.parametrize("text", ["x" * 2001, "a\u202eb", "two\nlines", "tab\there", "\u200b", "a\x1b[2Jb", "\ud800"])
def test_text_that_is_too_long_or_cannot_be_seen_is_refused(text: str) -> None:
    """At every question, whatever it asks for."""
    run = running(WORDS)
    for answer in ("1", "yes", "seen", "IMG_1", "yes"):
        assert run.refused(text) in ("too-long", "hidden-character")
        run.say(answer)


def test_a_note_beside_the_question_changes_nothing_else() -> None:
    """It is an entry, and the question stands."""
    run = running(WORDS)
    before = run.state.copy()
    run.note("Wind is picking up.")
    assert run.state.entries == before.entries + 1
    before.entries += 1
    assert run.state == before
    assert run.refused("", "note") == "no-text"


def test_a_reply_of_an_unknown_kind_is_refused() -> None:
    """There are answers, notes and stops."""
    run = running(WORDS)
    assert run.refused("1", "undo") == "unknown-reply"


# ---------------------------------------------------------------------------- instruments, tools, parts

CALIBRATED = """\
needs
  instrument level_bar "precision level", reads to 0.1 arcmin, calibrated within 12 months
  tool wrench "torque wrench"
  part nut "M20 nut" x 12
  crew lead
"""


def test_an_instrument_is_named_with_its_serial_number_and_calibration() -> None:
    """The date in one form only: 04/05 is read in two ways."""
    run = start(program('confirm after "After."', needs=CALIBRATED))
    run.say("Ada Quill", "LB 7")
    assert run.address == "opening/instrument/level_bar/calibrated"
    for wrong in ("", "04/05/2031", "2031-13-01", "20310401", "2031-W16-4", "2031-02-30", "1 May", "2031-05-02"):
        assert run.refused(wrong) == "not-a-date"
    run.say("2031-05-01")
    assert run.state.instruments["level_bar"] == {
        "title": "precision level",
        "serial": "LB 7",
        "calibrated": "2031-05-01",
    }


@pytest.mark.parametrize(("date", "overdue"), [("2030-05-01", False), ("2030-04-30", True), ("2029-01-01", True)])
def test_a_calibration_that_has_run_out_is_recorded_and_refuses_nothing(date: str, overdue: bool) -> None:
    """Twelve months end on the same day of the next year (common practice on calibration labels, no source)."""
    run = start(program('confirm after "After."', needs=CALIBRATED))
    run.say("Ada Quill", "LB 7", date)
    assert ("overdue" in run.events("instrument")[-1]) is overdue
    assert run.address == "opening/tools"


@pytest.mark.parametrize(
    ("date", "interval", "last_day"),
    [
        ("2027-05-01", "12 months", "2028-05-01"),  # a leap day in between
        ("2031-08-31", "6 months", "2032-02-29"),
        ("2031-08-31", "18 months", "2033-02-28"),
        ("2031-12-31", "1 month", "2032-01-31"),
        ("2031-12-15", "12 months", "2032-12-15"),
        ("2031-01-01", "90 d", "2031-04-01"),
        ("2031-01-01", "36 h", "2031-01-02"),
        ("9999-06-01", "12 months", "9999-12-31"),
        ("9999-06-01", "400 d", "9999-12-31"),
    ],
)
def test_an_interval_ends_by_the_calendar(date: str, interval: str, last_day: str) -> None:
    """Months are months of the calendar, shortened where the day does not exist; days are days (ISO 8601 dates)."""
    entered = read_quantity(interval)
    assert not isinstance(entered, Problem)
    assert due(datetime.date.fromisoformat(date), entered.quantity).isoformat() == last_day


@pytest.mark.parametrize("date", [None, "yesterday", 7, "2031-5-1"])
def test_without_a_known_day_no_calibration_is_overdue(date: object) -> None:
    """The day comes with the reply; a session that does not know it says nothing, and nothing breaks."""
    from helpers import Run

    from proclang.engine.decide import decide
    from proclang.engine.model import Entry, Reply

    run: Run = start(program('confirm after "After."', needs=CALIBRATED))
    run.say("Ada Quill", "LB 7")
    decided = decide(run.program, run.state, Reply("2001-01-01", stamp={"date": date}))
    assert isinstance(decided, Entry)
    assert "overdue" not in decided.then[0]


def test_tools_and_parts_are_at_hand_before_anything_begins() -> None:
    """Enter alone is no answer."""
    run = start(program('confirm after "After."', needs=CALIBRATED))
    run.say("Ada Quill", "LB 7", "2031-01-01")
    assert run.asked.facts == ("torque wrench",)
    assert run.refused("") == "not-done"
    run.say("ready")
    assert run.asked.facts == ("12 x M20 nut",)
    run.say("r")
    assert run.address == "job/work/after"
