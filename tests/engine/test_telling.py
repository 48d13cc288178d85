"""What a technician is told between two questions."""

from __future__ import annotations

import pytest
from engine_help import procedure, running
from helpers import Run

from proclang.engine.fold import EVENT_KINDS
from proclang.engine.model import Entry, Reply
from proclang.engine.tell import tell


def told(run: Run, kind: str = "") -> list[str]:
    """The sentences of the last entry, or those of one kind."""
    return [x.text for x in tell(run.entries[-1]) if not kind or x.kind == kind]


LOOK = 'step look "Look."\n  measure {what}\nconfirm after "After."'


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("9.525", ["read as 9.525 mm"]),
        ("9.5250", ["read as 9.525 mm"]),
        ("09.525 mm", []),
        ("9.525  mm", []),
        ("3/8 in", ["read as 9.525 mm"]),
        ("0.9525 cm", ["read as 9.525 mm"]),
        ("9525e-3", ["read as 9.525 mm"]),
    ],
)
def test_what_was_read_is_told_where_form_or_unit_differ(typed: str, said: list[str]) -> None:
    """A bare number comes back with its unit; what stands there in full is not told again (3/8 inch is 9.525 mm)."""
    run = running(LOOK.format(what="x in mm"))
    run.say(typed)
    assert told(run, "read as") == said


def test_a_verdict_is_told_in_capitals_with_its_limits() -> None:
    """And by how much, when it fails."""
    run = running(LOOK.format(what="x in mm\n    within 5 ± 5 mm"))
    run.say("4")
    assert told(run) == ["read as 4 mm", "PASSES: within 0 to 10 mm"]
    run = running(LOOK.format(what="x in arcmin\n    at most 2 arcmin"))
    run.say("2.3")
    assert told(run) == ["read as 2.3 arcmin", "FAILS by 0.3 arcmin above (at most 2 arcmin)"]


def test_the_verdict_of_a_series_is_named() -> None:
    """It is not that of the one reading just typed."""
    run = running(LOOK.format(what="x[direct, reversed] in mm\n    at most 9 mm\n    spread at most 1 mm"))
    run.say("5")
    assert told(run, "verdict") == ["PASSES: at most 9 mm"]
    run.say("5.5")
    assert told(run, "verdict") == ["PASSES: at most 9 mm", "x, spread PASSES: spread at most 1 mm"]


def test_an_undecided_verdict_says_so() -> None:
    """A word of its own, never a colour alone."""
    event = {"is": "verdict", "at": "a", "name": "x", "outcome": "undecided", "limits": "at most 2 mm"}
    assert [x.text for x in tell(Entry("a", Reply(""), (event,)))] == ["x UNDECIDED: at most 2 mm"]


def test_a_computed_value_is_told_at_a_glance() -> None:
    """Rounded to read it; what was judged is the stored value."""
    run = running('step look "Look."\n  measure x in mm\ncompute third = x / 3\n  at most 1 mm\nconfirm after "After."')
    run.say("2")
    assert told(run) == ["read as 2 mm", "third = 0.666667 mm", "PASSES: at most 1 mm"]


def test_ways_loops_and_hardware_are_told() -> None:
    """Where it goes on, and what has changed."""
    run = running(
        """
        choose way from left, right "Which?"
        according to way
          left
            confirm went_left "Left."
          right
            confirm went_right "Right."
        repeat tries at most 2 times
          step open "Open."
            now lid is removed
          step look "Look."
            measure x in mm
          leave when x > 5 mm
        step tighten "Tighten."
          upsets x
        """,
        header="machine rig\n  lid found fitted",
    )
    run.say("left")
    assert told(run) == ["way: left"]
    run.say("yes")
    assert told(run) == ["tries: pass 1, at most 2"]
    run.say("done")
    assert told(run) == ["lid is now removed"]
    run.say("1")
    assert told(run) == ["read as 1 mm", "tries: pass 2, at most 2"]
    run.say("done", "9")
    assert told(run) == ["read as 9 mm", "tries: left after 2 passes, x > 5 mm"]
    run.say("done")
    assert told(run) == ["x no longer counts: to be read anew", "the procedure is finished"]


def test_a_setting_a_signature_and_a_deviation_are_told() -> None:
    """With sign, role and reason."""
    run = running(
        """
        step look "Look."
          measure x in mm
            at most 2 mm
        set offset "offset" to x, read back
        hold ok "All well" by lead, witness scribe
        """
    )
    run.say("5", "accept", "Shim ordered.", "AQ")
    assert told(run) == ["accepted as a deviation by Ada Quill: Shim ordered.", "offset is to be set to +5 mm"]
    run.say("5")
    assert told(run) == ["read as 5 mm", "PASSES: within 0 mm of +5 mm"]
    run.say("AQ")
    assert told(run) == ["HOLD released by Ada Quill (lead): All well"]
    run.say("CM")
    assert told(run) == ["witnessed by Cy Moss (scribe): All well", "the procedure is finished"]


def test_what_is_not_known_and_a_stop_are_told() -> None:
    """A stop says what it does not do."""
    run = running('compute y = missing * 2\nconfirm after "After."', header="inputs\n  missing: length")
    assert told(run, "unknown") == ["not known: `missing` is not known"]
    run.stop("Gust.")
    assert told(run) == ["stop recorded: Gust.; this stops no machine by itself", "the run is over, stopped"]


def test_a_performed_procedure_is_told_when_it_begins_and_ends() -> None:
    """What it gave has been told inside it."""
    survey = procedure('step look "Look."\n  measure x in mm\n    at most 2 mm', header="gives x", name="survey")
    body = 'confirm before "Before."\nperform survey as first\n  gives x\nconfirm after "After {x}."'
    run = running(body, others={"survey": survey})
    run.say("yes")
    assert told(run) == ["now: Training example", "Work"]
    run.say("1")
    assert told(run) == ["read as 1 mm", "PASSES: at most 2 mm", "back in the procedure that performed it"]


def test_a_note_and_an_insisted_reading_are_told() -> None:
    """One word for the one, a warning for the other."""
    run = running(LOOK.format(what="x in mm\n    plausible 1 .. 5 mm"))
    run.note("Wind.")
    assert told(run) == ["noted"]
    run.say("really 9")
    assert told(run) == ["read as 9 mm", "outside what was expected here, and confirmed"]


def test_every_kind_of_event_is_told_or_left_out_on_purpose() -> None:
    """A new kind has to be put on one side."""
    from proclang.engine.tell import _SENTENCES

    left_out = {
        "opened", "rest", "value", "way", "reread", "picked", "order done", "order over", "ready", "briefed", "step",
        "done", "acknowledged", "blocked", "paused",
    }  # fmt: skip
    assert set(_SENTENCES) | left_out | {"verdict"} == set(EVENT_KINDS)
    assert not set(_SENTENCES) & left_out
