"""A mistyped reading is struck: it stays in the record, counts for nothing, and is asked for again."""

from __future__ import annotations

import pytest
from engine_help import running
from helpers import Run

from proclang.engine.fold import MISTYPED, MOST_STRUCK, apply, counted, replay, struck
from proclang.engine.model import BadEntry, Entry, Refused, Reply, State
from proclang.engine.tell import tell

BODY = """
step look "Look."
  measure gap[near, far] in mm using gauge
    within 2 ± 0.5 mm
compute middle = mean(gap)
step close "Close it."
  measure slack in mm
hold ok "Ok" by lead
"""


def strike(run: Run, reason: str = "") -> Entry:
    decided = run.reply(reason, MISTYPED)
    assert isinstance(decided, Entry), decided
    return decided


def as_far(*replies: str) -> State:
    run = running(BODY)
    run.say(*replies)
    return run.state


def alike(state: State, other: State) -> bool:
    """The same but for how many entries led there."""
    other = other.copy()
    other.entries = state.entries
    return state == other


def test_the_question_is_asked_again_and_the_reading_counts_for_nothing() -> None:
    run = running(BODY)
    run.say("2", "2.1")
    assert run.state.top.values["middle"][""] == "2.05 mm"
    entry = strike(run, "The scribe heard 2.1, it was 2.3.")
    assert run.address.endswith("gap[far]")
    assert "middle" not in run.state.top.values
    run.say("2.3")
    assert run.state.top.values["middle"][""] == "2.15 mm"
    assert alike(run.state, as_far("2", "2.3"))
    assert entry.then[0] == {
        "is": "struck",
        "at": run.entries[-3].ask,
        "name": "gap",
        "typed": "2.1",
        "key": "far",
        "reason": "The scribe heard 2.1, it was 2.3.",
    }
    assert [t.text for t in tell(entry)] == [
        "2.1 is struck as mistyped: it stays in the record, and gap, far is asked for again"
    ]


def test_a_reading_that_failed_is_struck_at_its_verdict() -> None:
    """No deviation, no adjustment that nobody made, and no mean of a true reading and a slip."""
    run = running(BODY)
    run.say("25")
    assert run.address.endswith("verdict")
    strike(run)
    run.say("2.5")
    assert alike(run.state, as_far("2.5"))


def test_readings_are_struck_one_after_the_other_backwards() -> None:
    run = running(BODY)
    run.say("1.9", "2.1")
    strike(run)
    strike(run)
    assert run.address.endswith("gap[near]")
    run.say("2", "2")
    assert alike(run.state, as_far("2", "2"))
    assert struck(run.entries) == {
        len(run.entries) - 5: len(run.entries) - 4,
        len(run.entries) - 6: len(run.entries) - 3,
    }


def test_notes_between_stay_and_do_not_stand_in_the_way() -> None:
    run = running(BODY)
    run.say("2")
    run.note("That was the far side.")
    strike(run)
    assert run.address.endswith("gap[near]")
    assert "noted" in [e["is"] for entry in counted(run.entries) for e in entry.then]


@pytest.mark.parametrize("before", [(), ("25", "accept"), ("25", "accept", "Shim ordered.", "AQ")])
def test_only_the_latest_answer_and_only_a_reading(before: tuple[str, ...]) -> None:
    run = running(BODY)
    if before:
        run.say(*before)
    assert run.refused("x", MISTYPED) == "no-reading"


def test_not_behind_a_stop_and_not_when_the_run_is_over() -> None:
    run = running(BODY)
    run.say("2")
    run.stop("The wind.")
    assert run.refused("", MISTYPED) in ("no-reading", "run-over")


@pytest.mark.parametrize(("reason", "code"), [("x" * 3000, "too-long"), ("a\u202eb", "hidden-character")])
def test_a_reason_is_a_text_like_any_other(reason: str, code: str) -> None:
    run = running(BODY)
    run.say("2")
    assert run.refused(reason, MISTYPED) == code


def test_one_run_has_room_for_so_many_and_then_no_more() -> None:
    run = running(BODY)
    for _ in range(MOST_STRUCK):
        run.say("2")
        strike(run)
    run.say("2")
    assert run.refused("", MISTYPED) == "too-many-struck"
    forged = [*run.entries, Entry("x", Reply("", MISTYPED), ({"is": "struck"},))]
    with pytest.raises(BadEntry, match="more than"):
        replay(forged)


def test_what_strikes_nothing_is_no_run() -> None:
    run = running(BODY)
    entry = Entry("x", Reply("", MISTYPED), ({"is": "struck"},))
    opening = [e for e in run.entries if e.reply.kind == "open"]
    with pytest.raises(BadEntry, match="none before it"):
        replay([*opening, entry])
    with pytest.raises(BadEntry):
        apply(run.state, entry)


def test_replaying_gives_the_state() -> None:
    run = running(BODY)
    run.say("2", "2")
    strike(run, "Misheard.")
    assert replay(run.entries) == run.state
    run.say("2.2")
    assert replay(run.entries) == run.state
    assert not isinstance(run.reply("4"), Refused)
