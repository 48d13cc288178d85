"""One entry is one line of a journal: long calculations are broken, and nothing grows without end."""

from __future__ import annotations

import pytest
from engine_help import running
from helpers import Run

from proclang.session import strict_json
from proclang.text.limits import JOURNAL_LINE_BYTES, REPLY_CHARACTERS

LABELS = ", ".join(f"p{n}" for n in range(300))


def longest(run: Run) -> int:
    """Bytes of the longest entry as it stands in a journal."""
    return max(len(strict_json.dumps(entry.to_json())) for entry in run.entries)


def test_calculations_without_a_question_are_broken_by_a_pause() -> None:
    """Three hundred sums in one go: a word in between, and all of them are done."""
    run = running(
        """
        step look "Look."
          measure x in mm using gauge
        for each place of places
          compute y[place] = x * 2
            at most 50 mm
        confirm after "After."
        """,
        header=f"labels places {LABELS}",
    )
    run.say("5")
    pauses = 0
    while run.asked.phase == "pause":
        assert run.refused("") == "not-done"
        run.say("on")
        pauses += 1
    assert pauses > 2
    assert run.address == "job/work/after"
    assert len(run.state.top.values["y"]) == 300
    assert longest(run) < JOURNAL_LINE_BYTES - 400


def test_at_a_pause_a_stop_is_a_stop() -> None:
    """Nobody has to see a long calculation through."""
    run = running(
        'step look "Look."\n  measure x in mm using gauge\n'
        "for each place of places\n  compute y[place] = x * 2\n"
        'if stopped\n  step lower "Lower."',
        header=f"labels places {LABELS}",
    )
    run.say("5")
    assert run.asked.phase == "pause"
    run.stop()
    assert run.address == "job/work/if_stopped/lower"


def test_a_calculation_with_more_results_than_an_entry_holds_is_refused() -> None:
    """The reply is not taken, the question stands, and the run can be stopped: nothing is lost."""
    run = running(
        """
        step look "Look."
          measure ns in arcmin
        compute turns = levelling_turns(ns, ns, 540 mm, 2.5 mm/turn, studs = 900)
          within 0 ± 1 turn
        confirm after "After."
        """
    )
    assert run.refused("3.3") == "too-much"
    run.stop()
    assert run.address == "stopped"


@pytest.mark.parametrize("character", ["x", "\u00e9", "\U0001f4a5"])
def test_long_notes_shown_again_and_again_still_fit(character: str) -> None:
    """A text with its values in place is cut where nobody would read on."""
    run = running(
        """
        step look "Look."
          note seen "What is seen?"
        step show "{seen} {seen} {seen} {seen} {seen} {seen} {seen} {seen}"
          note more "{seen} {seen} {seen} {seen} {seen} {seen} {seen} {seen}"
        hold ok "{seen} {more} {seen} {more} {seen} {more}" by lead
        confirm after "{seen} {more}"
        """
    )
    for text in (character * REPLY_CHARACTERS, character * REPLY_CHARACTERS, "AQ", "yes"):
        run.say(text)
        while run.address != "finished" and run.asked.phase == "pause":
            run.say("on")
    assert run.address == "finished"
    assert longest(run) < JOURNAL_LINE_BYTES - 400
