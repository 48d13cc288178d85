"""Who is meant by what is typed, who signs, who witnesses, and hazards taken note of."""

from __future__ import annotations

import pytest
from engine_help import procedure, program, running
from helpers import TODAY, Run, answer_opening, program_of, start

from proclang.engine.decide import begin
from proclang.engine.fold import apply
from proclang.engine.model import State
from proclang.engine.people import find_people, find_person, initials, read_name
from proclang.text.diagnostic import Problem

ROSTER = {"lead": "Ada Quill", "rigger": "Bo Tarn", "site_scribe": "Cy Moss"}


@pytest.mark.parametrize("typed", ["Ada Quill", "ada  quill", "AQ", "aq", "lead", "Lead", "Ada", "ada"])
def test_a_person_is_known_by_name_role_initials_or_first_name(typed: str) -> None:
    """In any spelling of capitals and blanks."""
    assert find_person(typed, ROSTER) == "Ada Quill"


def test_a_role_of_two_words_is_typed_with_a_blank_or_as_it_is_written() -> None:
    """As people say it."""
    assert find_person("site scribe", ROSTER) == find_person("site_scribe", ROSTER) == "Cy Moss"


def test_initials_of_two_people_are_nobodys() -> None:
    """The whole name decides."""
    people = {"lead": "Ada Quill", "rigger": "Al Quern"}
    problem = find_person("AQ", people)
    assert isinstance(problem, Problem)
    assert problem.code == "which-person"
    assert find_person("al quern", people) == "Al Quern"


@pytest.mark.parametrize(("typed", "meant"), [("a", "Ada Quill"), ("B", "Bo Tarn"), ("cy m", "Cy Moss")])
def test_the_beginning_of_a_name_will_do(typed: str, meant: str) -> None:
    """In gloves one letter is what can be typed."""
    assert find_person(typed, ROSTER) == meant


def test_the_beginning_of_two_names_is_nobodys() -> None:
    """Nobody signs for another by a slip: what means two people is asked again."""
    problem = find_person("a", {"lead": "Ada Quill", "rigger": "Al Quern"})
    assert isinstance(problem, Problem)
    assert problem.code == "which-person"
    assert isinstance(find_person("q", ROSTER), Problem)
    assert isinstance(find_person("da", ROSTER), Problem)


def test_a_role_that_is_another_ones_first_name_is_nobodys() -> None:
    """A word that means two people is asked again, whatever it means of them."""
    problem = find_person("bo", {"bo": "Ada Quill", "rigger": "Bo Tarn"})
    assert isinstance(problem, Problem)
    assert problem.code == "which-person"


def test_a_name_in_two_spellings_of_one_letter_is_one_person() -> None:
    """Composed or not (Unicode normalization form C, UAX 15)."""
    composed, decomposed = "Jos\u00e9 Arn", "Jose\u0301 Arn"
    assert read_name(decomposed) == composed
    assert find_person(decomposed, {"lead": composed}) == composed


@pytest.mark.parametrize("typed", ["", "  ", "Ada and Bo", "Ada, Bo", "1234", "x" * 65, "Ada\u202eQuill", "Ada & Bo"])
def test_what_is_not_one_persons_name_is_refused(typed: str) -> None:
    """One name, of letters, that can be seen."""
    assert isinstance(read_name(typed), Problem)


def test_initials_are_of_every_part_of_a_name() -> None:
    """Hyphens part as well."""
    assert initials("Ada-Maria van Quill") == "AMVQ"


def test_several_people_are_parted_by_commas_or_and() -> None:
    """The same person twice is once."""
    assert find_people("AQ, Bo and site scribe, AQ", ROSTER) == ("Ada Quill", "Bo Tarn", "Cy Moss")
    assert isinstance(find_people(" , ", ROSTER), Problem)
    assert isinstance(find_people("AQ, ZZ", ROSTER), Problem)


# ---------------------------------------------------------------------------- before the first section


def test_shared_initials_are_pointed_out_when_the_second_is_named() -> None:
    """Before anybody signs with them. The first on the roster is named, whatever the order of a set."""
    run = start(program('hold ok "Ok" by lead'))
    run.say("Ada Quill", "Al Quern", "Abe Quist")
    shared = [e.get("shares_initials") for e in run.events("person")]
    assert shared == [None, "Ada Quill", "Ada Quill"]


def test_one_person_may_hold_several_roles() -> None:
    """The name is kept as it was first written, and shares no initials with itself."""
    run = start(program('hold ok "Ok" by lead'))
    run.say("Ada Quill", "ada quill")
    assert run.state.people == {"lead": "Ada Quill", "rigger": "Ada Quill"}
    assert "shares_initials" not in run.events("person")[-1]


# ---------------------------------------------------------------------------- signatures

HOLD = 'hold ok "All well" by lead and rigger, witness scribe\nconfirm after "After."'


def test_a_hold_is_signed_by_each_role_in_turn() -> None:
    """Nothing goes on before the last of them."""
    run = running(HOLD)
    assert run.address == "job/work/ok/lead"
    assert run.refused("BT") == "other-person"
    run.say("AQ")
    assert run.address == "job/work/ok/rigger"
    run.say("BT")
    assert run.asked.prompt == "Witnessed by the scribe"
    run.say("CM")
    assert run.address == "job/work/after"
    assert [(e["kind"], e["role"], e["name"]) for e in run.events("signed")] == [
        ("hold", "lead", "Ada Quill"),
        ("hold", "rigger", "Bo Tarn"),
        ("witness", "scribe", "Cy Moss"),
    ]


def hold_with(*names: str, body: str = HOLD) -> Run:
    run = start(program(body))
    run.say(*names)
    return answer_opening(run)


def test_who_signed_cannot_witness_and_somebody_else_on_the_roster_may() -> None:
    """The scribe has signed as lead: the witness is one of the others, and it is recorded instead of whom."""
    run = hold_with(
        "Ada Quill", "Bo Tarn", "Ada Quill", body='hold ok "Ok" by lead, witness scribe\nhold b "B" by lead'
    )
    run.say("AQ")
    assert run.asked.people == "Bo Tarn"
    assert run.refused("Ada Quill") == "own-witness"
    assert run.refused("Cy Moss") == "unknown-person"
    run.say("Bo")
    assert run.events("signed")[-1]["instead_of"] == "Ada Quill"
    assert run.address == "job/work/b/lead"


def test_with_nobody_else_on_the_roster_a_visitor_witnesses() -> None:
    """One person cannot be signer and witness; a name from outside is recorded as such."""
    run = hold_with(
        "Ada Quill", "Ada Quill", "Ada Quill", body='hold ok "Ok" by lead, witness scribe\nhold b "B" by lead'
    )
    run.say("AQ")
    assert run.refused("AQ") == "own-witness"
    assert run.refused("ada quill") == "own-witness"
    assert run.refused("") == "no-name"
    run.say("Vera Lund")
    signed = run.events("signed")[-1]
    assert (signed["name"], signed["visitor"], signed["instead_of"]) == ("Vera Lund", True, "Ada Quill")


def test_a_hold_of_two_roles_is_released_by_two_people() -> None:
    """One person does not sign for both: the roster is refused already. A run begun before that rule goes on by its
    own."""
    run = start(program(HOLD))
    run.say("Ada Quill")
    assert run.refused("Ada Quill") == "two-people"
    old = begin(run.program, {"facts": {}}, {"date": TODAY})
    before = Run(run.program, apply(State(), old), [old])
    before.say("Ada Quill", "Ada Quill", "Cy Moss")
    answer_opening(before)
    before.say("AQ", "AQ", "CM")
    assert before.address == "job/work/after"


def test_a_witness_point_is_signed_as_one() -> None:
    """It is witnessed, not released."""
    run = running('witness seen "Contact seen" by rigger')
    assert run.asked.prompt == "Witnessed by the rigger"
    run.say("BT")
    assert run.events("signed")[-1]["kind"] == "witness"


# ---------------------------------------------------------------------------- hazards

HAZARDS = """
warning pinch "Fingers can be caught"
  risk "Crushed fingers."
  avoid "Keep them out."
step first "First." by rigger
warning pinch
step second "Second." by rigger
danger beam "Beam"
  risk "Eyes."
  avoid "Eyewear."
  asks marking "Marking on the eyewear"
  asks power "Power of the beam" in W
step third "Third." by lead
danger beam
step fourth "Fourth." by lead
"""


def test_the_briefing_of_a_section_is_signed_by_everyone_on_the_roster() -> None:
    """All its hazards at once, the gravest first."""
    run = running(HAZARDS)
    assert run.address == "job/work/briefing"
    assert [h.word for h in run.asked.hazards] == ["danger", "warning"]
    assert run.refused("AQ, BT") == "not-everyone"
    run.say("AQ, BT and CM")
    assert run.events("briefed")[-1]["by"] == ["Ada Quill", "Bo Tarn", "Cy Moss"]


def test_a_hazard_is_taken_note_of_by_who_does_the_step_once_in_a_section() -> None:
    """Said again before the second step, it needs no second answer."""
    run = running(HAZARDS)
    run.say("AQ, BT, CM")
    assert run.address == "job/work/pinch"
    assert run.refused("AQ") == "other-person"
    run.say("BT")
    assert run.address == "job/work/first"
    run.say("done")
    assert run.address == "job/work/second"


def test_a_danger_is_answered_with_facts_every_time() -> None:
    """Never with a fixed word, and a quantity as a quantity."""
    run = running(HAZARDS)
    run.say("AQ, BT, CM", "BT", "done", "done")
    for _ in range(2):
        assert run.address == "job/work/beam/marking"
        assert run.refused("yes") == "not-a-fact"
        assert run.refused("OK") == "not-a-fact"
        run.say("DIN 3 R")
        assert run.refused("strong") != ""
        run.say("1/2 W")
        run.say("done")
    assert run.address == "finished"
    assert [e["by"] for e in run.events("acknowledged")] == [["Bo Tarn"], ["Ada Quill"], ["Ada Quill"]]


def test_in_the_next_section_a_hazard_is_taken_note_of_again() -> None:
    """Another briefing, another time."""
    first = """
    warning pinch "Fingers can be caught"
      risk "Crushed fingers."
      avoid "Keep them out."
    step first "First." by rigger
    """
    second = 'section more "More"\n  warning pinch\n  step second "Second." by rigger\n'
    run = answer_opening(start(program_of({"job": procedure(first) + second}, "job")))
    run.say("AQ, BT, CM", "BT", "done")
    assert run.address == "job/more/briefing"
    run.say("AQ, BT, CM")
    assert run.address == "job/more/pinch"
    run.say("BT", "done")
    assert run.address == "finished"


def test_without_a_crew_a_hazard_is_taken_note_of_by_a_name() -> None:
    """There is no roster to choose from, and the run does not stand still for that."""
    body = 'warning pinch "Fingers can be caught"\n  risk "Crushed."\n  avoid "Keep out."\nstep first "First."'
    run = running(body, needs="")
    assert run.address == "job/work/pinch"
    assert run.refused("12") == "no-name"
    run.say("Ada Quill")
    assert run.address == "job/work/first"
