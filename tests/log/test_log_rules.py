"""Each kind of thing a log has to say, brought about by a small run of its own."""

from __future__ import annotations

from pathlib import Path

import pytest
from invented import STAND
from log_help import NORTH, Script, body_of, log_of, ran
from test_log_text import part

# Invented for the tests.
HEAD = """\
proclang 1
procedure odds "Odds"
revision 1
purpose "One thing at a time."
needs
  crew lead, helper
  authority lead
"""
SITE = '[site]\nname = "flat"\n[facts]\n'


def log_after(folder: Path, body: str, script: Script, head: str = HEAD, site: str = SITE, **more: str) -> str:
    texts = {"odds": head + body, "stand": STAND, **more}
    return log_of(ran(folder / "run", texts, "odds", script, site))


def test_a_series_that_was_computed_stands_below_its_formula(tmp_path: Path) -> None:
    body = """\
section one "One"
  step read "Read."
    measure s[direct, reversed] in arcmin
    measure e[direct, reversed] in arcmin
  compute turns = levelling_turns(reverse_level(s), reverse_level(e), 540 mm, 2.5 mm/turn, studs = 3)
    spread at most 0.5 turn
  step turn "Turn nut 1 by {turns[1] to 0.05 turn}."
"""
    log = log_after(tmp_path, body, {"s[direct]": "3", "s[reversed]": "1", "e[direct]": "1", "e[reversed]": "1"})
    computed = part(log, "Computed values")
    assert computed[0] == "- `odds/one/turns`: 3 values; PASSES (spread at most 0.5 turn)"
    assert computed[1].startswith("  - by `levelling_turns(")
    assert [line.split(":")[0] for line in computed[2:]] == [
        "  - `s`", "  - `e`", "  - `1`", "  - `2`", "  - `3`",
    ]  # fmt: skip
    source, reversal = part(log, "Where the calculations come from")
    assert reversal.startswith("- `reverse_level`: ")  # arithmetic, told for its caution
    assert source.startswith("- `levelling_turns`: ")
    # Turning a loaded nut can hurt: whoever reads the number reads the caution, and that local rules come first.
    assert "; caution: " in source
    assert "Local rules and the competent person on site come first." in source


ZERO = """\
section one "One"
  step read "Read."
    measure x in mm
    measure y in mm
  compute share = x / y
  step look "Look at {share}."
"""


def test_what_cannot_be_worked_out_is_left_open_until_it_is(tmp_path: Path) -> None:
    script = {"read/x": "4 mm", "read/y": ["0", "2"], "share/verdict": "adjust"}
    log = log_after(tmp_path, ZERO, script)
    assert part(log, "Left open") == ["- none"]
    assert part(log, "Computed values")[0] == "- `odds/one/share`: 2"


def test_what_is_not_known_when_the_run_is_stopped_is_left_open(tmp_path: Path) -> None:
    log = log_after(tmp_path, ZERO, {"read/y": "0", "share/verdict": "stop"})
    left = part(log, "Left open")
    assert left[0] == "- `odds/one/share/verdict`: stopped here"
    assert left[1].startswith("- `odds/one/share`: not known; ")


def test_what_is_not_known_can_be_accepted(tmp_path: Path) -> None:
    script = {"read/y": "0", "share/verdict": "accept", "share/reason": "no load today"}
    log = log_after(tmp_path, ZERO, script)
    deviation = part(log, "Deviations")
    assert deviation[0] == "- `odds/one/share`: accepted by lead"
    assert deviation[1].startswith("  - what was not right: ")
    assert deviation[2] == "  - reason: `no load today`"
    assert part(log, "Left open") == ["- none"]


LOOP = """\
section one "One"
  repeat trying at most 2 times
    step read "Read."
      measure x in mm
        at most 1 mm
    leave when x passes
"""


def test_a_loop_that_does_not_get_there_is_accepted_with_what_it_was_to_reach(tmp_path: Path) -> None:
    script = {"read/x": "4 mm", "trying#2/last_pass/verdict": "accept", "verdict": "accept", "reason": "worn"}
    log = log_after(tmp_path, LOOP, script)
    assert part(log, "Deviations") == [
        "- `odds/one/trying#2`: accepted by lead",
        "  - not reached in the passes allowed",
        "  - `x` 4 mm; FAILS (at most 1 mm), 3 mm above",
        "  - reason: `worn`",
    ]
    assert part(log, "Left open") == ["- none"]
    assert "- `odds/one/trying#2`: left after pass 2, the last allowed" in part(log, "Section by section")


def test_a_confirmation_refused_can_be_accepted(tmp_path: Path) -> None:
    body = """\
section one "One"
  step look "Look."
    confirm clean "It is clean" by helper
"""
    log = log_after(tmp_path, body, {"clean": "no", "verdict": "accept", "reason": "it will be wiped"})
    assert part(log, "Deviations")[:2] == [
        "- `odds/one/look/clean`: accepted by lead",
        "  - confirmed no by helper; It is clean",
    ]


def test_a_value_that_is_not_read_back_is_said_to_be_entered(tmp_path: Path) -> None:
    body = """\
section one "One"
  step read "Read."
    measure x in mm
  set gap "gap of the gate" to x + 1 mm
"""
    log = log_after(tmp_path, body, {"read/x": "4 mm"})
    assert part(log, "Settings") == [
        "- `odds/one/gap`: gap of the gate: set to +5 mm",
        "  - by `x + 1 mm`",
        "  - `x`: 4 mm",
        "  - entered",
    ]


def test_a_rule_broken_by_an_answer_of_the_same_step_is_left_open(tmp_path: Path) -> None:
    body = """\
section one "One"
  step look "Look."
    choose need from yes_now, not_now "Whether light is needed"
    when need is yes_now
      now lamp is on
  step dark "Lamp off."
    now lamp is off
"""
    head = HEAD + "machine stand\n  lid found fitted, left fitted\n  lamp found off, left off\n"
    log = log_after(tmp_path, body, {"look/need": "yes_now"}, head)
    (left,) = part(log, "Left open")
    assert left.startswith("- `odds/one/look/now_lamp`: a rule of the machine was broken; ")


def test_who_witnesses_for_somebody_else_is_named_by_role(tmp_path: Path) -> None:
    body = """\
section one "One"
  step look "Look."
  hold seen "All seen" by lead, witness helper
"""
    head = HEAD.replace("crew lead, helper", "crew lead, helper, scribe")
    # One person has both roles, so somebody else has to witness.
    script = {"crew/helper": "Ada Quill", "seen/helper": "Cy Moss"}
    log = log_after(tmp_path, body, script, head)
    assert part(log, "Holds and witness points")[1] == (
        "- `odds/one/seen`: witnessed by scribe in place of helper; All seen"
    )
    assert "Cy Moss" not in body_of(log)


PIECE = """\
proclang 1
procedure piece "A piece"
revision 1
purpose "It is performed."
gives width
needs
  crew lead
  authority lead
section inner "Inner"
  step read "Read."
    measure width in mm
      at most 1 mm
"""


def test_a_verdict_handed_up_is_counted_once(tmp_path: Path) -> None:
    body = """\
section one "One"
  perform piece as first_part
    gives width
  when width fails
    step note_it "Say so."
"""
    script = {"read/width": "3 mm", "width/verdict": "accept", "width/reason": "thick paint"}
    log = log_after(tmp_path, body, script, piece=PIECE)
    assert len([line for line in part(log, "Deviations") if line.startswith("- ")]) == 1
    assert part(log, "Left open") == ["- none"]
    sections = part(log, "Section by section")
    assert "- `odds/one/first_part`: gave `width`: 3 mm" in sections
    assert "### A piece: Inner (`odds/one/first_part`)" in sections


def test_each_performance_stands_by_itself_behind_its_section(tmp_path: Path) -> None:
    body = """\
labels ends near, far
section one "One"
  for each end of ends
    perform piece as end_part
  step last "Look."
section two "Two"
  step look "Look."
"""
    log = log_after(tmp_path, body, {"read/width": ["1 mm", "0.5"]}, piece=PIECE)
    headings = [line for line in part(log, "Section by section") if line.startswith("### ")]
    assert headings == [
        "### One",
        "### A piece: Inner (`odds/one/end[near]/end_part`)",
        "### A piece: Inner (`odds/one/end[far]/end_part`)",
        "### Two",
    ]


@pytest.mark.parametrize(
    ("thing", "shown"),
    [
        ("# not a heading", "\\# not a heading"),
        ("1. not a number", "1\\. not a number"),
        ("- not an item", "\\- not an item"),
        ("    not code", "&#32;   not code"),
        ("12 bolts", "12 bolts"),
    ],
)
def test_a_tool_begins_no_block_of_its_own(tmp_path: Path, thing: str, shown: str) -> None:
    head = HEAD + f'  tool key "{thing}"\n'
    log = log_after(tmp_path, 'section one "One"\n  step look "Look."\n', {}, head)
    assert f"- `opening/tools`: tools at hand\n  - {shown}\n" in log


def test_readings_judged_by_the_worst_say_so(tmp_path: Path) -> None:
    body = """\
section one "One"
  step read "Read."
    measure x in mm
      at most 5 mm
      judged by worst
"""
    log = log_after(tmp_path, body, {"read/x": ["6 mm", "3"], "verdict": ["again", "accept"], "reason": "so"})
    readings = [line for line in part(log, "Section by section") if "/read/x" in line]
    assert readings[1] == (
        "- `odds/one/read/x`: 3 mm; reading 2 of its series; worst 6 mm; FAILS (at most 5 mm), 1 mm above"
    )


def test_a_site_fact_and_a_default_are_told_apart(tmp_path: Path) -> None:
    head = HEAD.replace("needs\n", "inputs\n  latitude: angle\n  arm: length = 2/3 m\nneeds\n")
    body = 'section one "One"\n  step look "Look at {latitude to 1 deg}, {arm to 1 mm}."\n'
    log = log_after(tmp_path, body, {}, head, NORTH)
    assert part(log, "Site facts") == [
        "- site: Pine Hill (invented) (`pine_hill`)",
        "- `latitude`: 31.2 deg",
        "- `arm`: 0.666667 m, as the procedure has it",
    ]


ON_THE_WAY = """\
section one "One"
  repeat balancing at most 3 times
    step weigh "Weigh."
      measure arm in mm
      measure mass in kg
    compute moment = arm * mass
      within 0 ± 1 m.kg
    leave when moment passes
    compute shift = moment / mass in mm
    step move "Move the weight by {shift to 1 mm}."
      upsets arm
  when arm > 100 mm
    step far "It stands far out."
  when moment passes
    step near "It stands near."
  when mass > 100 kg
    step heavy "It is heavy."
  otherwise
    step light "It is light."
"""


def test_what_was_worked_out_on_the_way_is_not_left_open(tmp_path: Path) -> None:
    """By how much to move a weight has served when it was moved; nor is a condition that did not hold a matter."""
    log = log_after(tmp_path, ON_THE_WAY, {"/arm": ["2000", "50"], "/mass": "2"}, HEAD)
    assert "- complete, without deviation" in log
    assert part(log, "Left open") == ["- none"]
    assert log.count("did not hold") == 2


UPSET_LAST = """\
section one "One"
  step weigh "Weigh."
    measure arm in mm
    measure mass in kg
  compute moment = arm * mass
    at most 10 m.kg
  compute half = moment / 2
  step move "Move the weight."
    upsets arm
"""


def test_what_was_judged_or_read_and_is_upset_since_is_left_open(tmp_path: Path) -> None:
    log = log_after(tmp_path, UPSET_LAST, {"/arm": "2000", "/mass": "2"}, HEAD)
    assert [line.split(":")[0] for line in part(log, "Left open")] == ["- `odds/arm`", "- `odds/moment`"]
