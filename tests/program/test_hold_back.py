"""Nothing is recorded as done before anybody has answered: when `now` and `upsets` take effect."""

from __future__ import annotations

import pytest
from lowering_help import routine

from proclang.program import model as m


def order(lines: str) -> list[str]:
    """The instructions of a step in short: questions by kind, hardware by state."""
    made = routine("\n".join(f"  {line}" for line in lines.split("\n")).join(['step act "Act."\n', ""]))
    told = []
    for instr in made.code:
        if isinstance(instr, m.BeginStep):
            told.append("done?" if instr.ask_done else "shown")
        elif isinstance(instr, m.Read):
            told.append(f"{instr.symbol.name}?")
        elif isinstance(instr, m.Ask):
            told.append(f"{instr.kind}?")
        elif isinstance(instr, m.NowInstr):
            told.append(f"{instr.place.text} {instr.state}")
        elif isinstance(instr, m.RequireInstr):
            told.append(f"require {instr.place.text} {instr.state}")
        elif isinstance(instr, m.UpsetsInstr):
            told.append(f"upset {','.join(instr.names)}")
        elif isinstance(instr, m.Branch):
            told.append("when")
        elif isinstance(instr, m.Arms):
            told.append("according")
    return told


def test_a_step_without_a_question_begins_with_its_answer() -> None:
    """Somebody says that it is done, and then it is so."""
    assert order("now cap is removed") == ["done?", "cap removed"]


def test_a_change_waits_for_the_next_question() -> None:
    """The question is what somebody answers when the work is done."""
    assert order('now cap is removed\nconfirm off "Is it off?"') == ["shown", "confirm?", "cap removed"]


def test_a_change_behind_the_last_question_follows_it() -> None:
    """It has been answered already."""
    assert order('confirm off "Is it off?"\nnow cap is removed') == ["shown", "confirm?", "cap removed"]


def test_changes_keep_their_order() -> None:
    """Off, a reading, on again."""
    lines = 'now cap is removed\nmeasure gap in mm\nnow cap is fitted\nconfirm on "Is it on?"\nupsets gap'
    assert order(lines) == ["shown", "gap?", "cap removed", "confirm?", "cap fitted", "upset gap"]


def test_a_change_waits_for_a_whole_series_no_longer_than_for_its_last_label() -> None:
    """A `measure` of several labels is one question of the step."""
    assert order("now cap is removed\nmeasure gap[near, far] in mm") == ["shown", "gap?", "gap?", "cap removed"]


def test_a_requirement_waits_for_nothing() -> None:
    """It is about what is so already."""
    assert order('require cap is fitted\nconfirm on "Is it on?"') == ["shown", "require cap fitted", "confirm?"]


def test_where_ways_part_what_waits_takes_effect_on_all_of_them() -> None:
    """It would otherwise be lost on the way without a question; so somebody answers before."""
    lines = 'now cap is removed\nwhen slab is steel\n  measure gap in mm\nconfirm off "Is it off?"'
    assert order(lines) == ["done?", "cap removed", "when", "gap?", "confirm?"]


def test_after_an_answer_ways_may_part_at_once() -> None:
    """The reading has been given; what it changes follows, before the ways part."""
    lines = "measure gap in mm\nnow cap is removed\nwhen slab is steel\n  now bolts is tight"
    assert order(lines) == ["shown", "gap?", "cap removed", "when", "bolts tight"]


def test_a_question_on_one_way_only_is_no_answer() -> None:
    """On the other way nobody would have said anything."""
    assert order("when slab is steel\n  measure gap in mm") == ["done?", "when", "gap?"]


def test_a_question_on_every_way_is_an_answer() -> None:
    """Each way asks something."""
    lines = "according to slab\n  concrete\n    measure gap in mm\n  steel\n    measure gap in mm"
    assert order(lines) == ["shown", "according", "gap?", "gap?"]


def test_a_change_inside_a_way_waits_inside_it() -> None:
    """For the question of that way."""
    lines = (
        'according to slab\n  concrete\n    now cap is removed\n    confirm off "Off?"\n  steel\n    confirm on "On?"'
    )
    assert order(lines) == ["shown", "according", "confirm?", "cap removed", "confirm?"]


@pytest.mark.parametrize("inner", ["now cap is removed", "upsets gap"])
def test_a_change_inside_a_way_before_any_answer_needs_one(inner: str) -> None:
    """The way has no question, and none stands before it."""
    lines = f'when slab is steel\n  {inner}\nconfirm off "Off?"\nmeasure gap in mm'
    assert order(lines)[0] == "done?"


def test_the_changes_of_a_step_are_known_before_it_is_shown() -> None:
    """In order, each with the conditions it stands under."""
    made = routine(
        'step act "Act."\n  require cap is fitted\n  when slab is steel\n    now cap is removed\n  otherwise\n'
        "    now bolts[2] is tight\n  according to slab\n    concrete\n      now bolts is slack\n    steel\n"
        "      now cap is fitted"
    )
    step = next(instr for instr in made.code if isinstance(instr, m.BeginStep))
    assert [(c.place.text, c.state, c.require, [f.text for f in c.when]) for c in step.changes] == [
        ("cap", "fitted", True, []),
        ("cap", "removed", False, ["slab is steel"]),
        ("bolts[2]", "tight", False, ["not (slab is steel)"]),
        ("bolts", "slack", False, ["slab is concrete"]),
        ("cap", "fitted", False, ["slab is steel"]),
    ]
