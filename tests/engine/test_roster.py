"""Roles that are two people, a witness who watched and did not do, and a role that is taken over on the way."""

from __future__ import annotations

import pytest
from engine_help import NEEDS, lines, procedure, program, running
from helpers import TODAY, Run, answer_opening, program_of, start

from proclang.engine.decide import begin
from proclang.engine.fold import apply, replay
from proclang.engine.model import Entry, Refused, State
from proclang.engine.roster import CREW
from proclang.engine.tell import tell
from proclang.text.diagnostic import Problem

APART = NEEDS + "  nobody is both rigger and scribe\n"
PLAIN = 'confirm first "First."\nconfirm second "Second."'
HAZARD = 'warning pinch "Fingers can be caught"\n  risk "Crushed fingers."\n  avoid "Keep them out."\n'


def crew(run: Run, text: str) -> Entry:
    """Somebody takes a role over, and it is taken."""
    taken = run.reply(text, CREW)
    assert isinstance(taken, Entry), taken
    return taken


def crew_refused(run: Run, text: str) -> Problem:
    """Why a role is not taken over; the run stands as it was."""
    before = run.state
    refused = run.reply(text, CREW)
    assert isinstance(refused, Refused), refused
    assert run.state == before
    return refused.problem


# ---------------------------------------------------------------------------- the roster


def test_a_roster_that_breaks_the_needs_is_refused_with_who_and_why() -> None:
    """The name, both roles, the file that says so, and the way out."""
    run = start(program(PLAIN, needs=APART))
    run.say("Ada Quill", "Bo Tarn")
    assert run.asked.facts == ("somebody else than Bo Tarn, the rigger",)
    refused = run.reply("bo tarn")
    assert isinstance(refused, Refused)
    assert refused.problem.code == "two-people"
    assert refused.problem.message == (
        "Bo Tarn is the rigger, and nobody is both rigger and scribe: the needs of `job` say so"
    )
    assert "`crew: rigger NAME`" in refused.problem.hint
    run.say("Ada Quill")
    assert run.state.people == {"lead": "Ada Quill", "rigger": "Bo Tarn", "scribe": "Ada Quill"}


def test_the_way_out_is_that_somebody_else_takes_the_first_role() -> None:
    """Bo is to be the scribe after all: with that, nothing is in the way of it any more."""
    run = start(program(PLAIN, needs=APART))
    run.say("Ada Quill", "Bo Tarn")
    crew(run, "rigger Ada Quill")
    run.say("Bo Tarn")
    assert run.state.people == {"lead": "Ada Quill", "rigger": "Ada Quill", "scribe": "Bo Tarn"}
    assert run.events("person")[-2]["before"] == "Bo Tarn"


@pytest.mark.parametrize(
    ("body", "why"),
    [
        ('step lift "Lift." by lead and rigger', "both do `job/work/lift`"),
        ('hold ok "Ok" by lead and rigger', "both release `job/work/ok`"),
        ('confirm seen "Seen" by lead and rigger', "both confirm `job/work/seen`"),
    ],
)
def test_what_two_do_together_takes_two_people(body: str, why: str) -> None:
    """A step, a release, a confirmation: nobody is two of those who do it."""
    run = start(program(body))
    run.say("Ada Quill")
    refused = run.reply("Ada Quill")
    assert isinstance(refused, Refused)
    assert refused.problem.message.endswith(why)


def test_a_rule_of_a_performed_procedure_holds_for_the_whole_run() -> None:
    """The roster is one."""
    inner = procedure('step lift "Lift." by lead and scribe', name="inner")
    run = start(program("perform inner", others={"inner": inner}))
    run.say("Ada Quill", "Ada Quill")
    assert run.refused("Ada Quill") == "two-people"


def test_it_is_said_at_the_first_role_how_many_people_it_takes() -> None:
    """And at the end that they are too few, where nothing keeps them from beginning: a witness may still come."""
    body = 'hold ok "Ok" by lead, witness scribe\nhold more "More" by rigger, witness scribe\n'
    body += 'hold last "Last" by lead, witness rigger'
    run = start(program(body))
    assert run.asked.facts == ("it takes at least 3 people on site",)
    run.say("Ada Quill", "Bo Tarn")
    entry = run.say("Ada Quill")
    assert entry.then[0]["short"] == [2, 3]
    assert tell(entry)[0].text == "2 people are on the roster, and it takes at least 3: see who else comes"
    taken = crew(run, "scribe Cy Moss")
    assert "short" not in taken.then[0]


def test_at_least_so_many_people_as_the_author_says() -> None:
    """More than the rules come to."""
    needs = NEEDS.replace("crew lead, rigger, scribe", "crew lead, rigger, scribe, at least 3 people")
    run = start(program(PLAIN, needs=needs))
    assert run.asked.facts == ("it takes at least 3 people on site",)
    run.say("Ada Quill", "Ada Quill", "Bo Tarn")
    assert run.events("person")[-1]["short"] == [2, 3]


# ---------------------------------------------------------------------------- witnesses

SEEN = 'step turn "Turn it." by rigger\nwitness seen "Turned once round" by scribe\nconfirm after "After."'


def test_who_did_the_step_does_not_witness_it() -> None:
    """One of the others does, and it is recorded in whose place."""
    run = start(program(SEEN))
    run.say("Ada Quill", "Bo Tarn", "Bo Tarn")
    answer_opening(run)
    run.say("done")
    assert run.asked.people == "Ada Quill"
    refused = run.reply("BT")
    assert isinstance(refused, Refused)
    assert (refused.problem.code, refused.problem.message) == (
        "own-witness",
        "Bo Tarn has done this and cannot witness it as well",
    )
    run.say("AQ")
    assert run.events("signed")[-1]["instead_of"] == "Bo Tarn"
    assert run.address == "job/work/after"


def test_alone_a_visitor_witnesses_what_one_has_done() -> None:
    """Nobody is left on the roster: the way out is a name from outside, recorded as such."""
    run = start(program(SEEN))
    run.say("Bo Tarn", "Bo Tarn", "Bo Tarn")
    answer_opening(run)
    run.say("done")
    assert run.refused("BT") == "own-witness"
    run.say("Vera Lund")
    assert run.events("signed")[-1]["visitor"] is True


def test_what_was_done_in_another_section_is_not_what_is_witnessed() -> None:
    """Only the step before the witness point, in its section."""
    text = procedure('step turn "Turn it." by rigger') + lines('section more "More"\n  witness seen "Seen" by scribe')
    run = start(program_of({"job": text}, "job"))
    run.say("Ada Quill", "Bo Tarn", "Bo Tarn")
    answer_opening(run)
    run.say("done", "BT")
    assert run.address == "finished"


# ---------------------------------------------------------------------------- taking a role over


def test_a_role_is_taken_over_at_any_question() -> None:
    """Recorded as an entry of its own; the question stands, and who did what stays as it was."""
    run = running('step one "One." by rigger\nstep two "Two." by rigger')
    run.say("done")
    asked = run.asked
    entry = crew(run, "rigger: Dee Rook")
    assert (entry.reply.kind, entry.ask) == (CREW, asked.address)
    assert [e["is"] for e in entry.then] == ["person"]
    assert tell(entry)[0].text == "Dee Rook is the rigger from now on, in place of Bo Tarn"
    assert run.asked.address == asked.address
    assert run.asked.by == "Dee Rook (rigger)"
    run.say("done")
    assert run.events("step")[0]["by"] == ["Bo Tarn"]
    assert run.state == replay(run.entries)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "no-role"),
        ("rigger", "no-role"),
        ("riggerDee Rook", "no-role"),
        ("welder Dee Rook", "no-role"),
        ("rigger 12", "no-name"),
        ("rigger Dee and Cy", "no-name"),
        ("rigger bo tarn", "no-change"),
        ("rigger Cy Moss", "two-people"),
        ("rigger Dee\u202eRook", "hidden-character"),
    ],
)
def test_what_is_no_taking_over_is_refused(text: str, code: str) -> None:
    """And nothing has happened."""
    assert crew_refused(running(PLAIN, needs=APART), text).code == code


def test_a_role_of_two_words_is_said_with_a_blank_or_as_it_is_written() -> None:
    """The longest role that fits is meant."""
    run = running(PLAIN, needs="needs\n  crew site, site_scribe\n")
    crew(run, "Site Scribe Dee Rook")
    crew(run, "site_scribe: Eli Fenn")
    assert run.state.people == {"site": "Ada Quill", "site_scribe": "Eli Fenn"}


def test_nobody_takes_over_a_role_that_is_not_given_yet() -> None:
    """It is asked for anyway."""
    run = start(program(PLAIN))
    assert crew_refused(run, "lead Ada Quill").code == "no-role"
    run.say("Ada Quill")
    assert crew_refused(run, "scribe Bo Tarn").code == "no-role"


def test_who_joins_is_briefed_before_the_question_comes_back() -> None:
    """On the hazards of the section; nobody else signs for them."""
    run = running(HAZARD + 'step one "One." by rigger')
    run.say("AQ, BT, CM", "BT")
    crew(run, "rigger Dee Rook")
    assert (run.asked.phase, run.asked.address) == ("joining", "job/work/one/briefing")
    assert [hazard.title for hazard in run.asked.hazards] == ["Fingers can be caught"]
    assert run.refused("AQ") == "unknown-person"
    run.say("DR")
    assert run.events("briefed")[-1] == {
        "is": "briefed",
        "at": "job/work/one",
        "hazards": ["pinch"],
        "by": ["Dee Rook"],
        "joined": True,
    }
    assert run.address == "job/work/one"
    run.say("done")
    assert run.address == "finished"


def test_who_is_on_the_roster_already_has_been_briefed() -> None:
    """And at the briefing itself who joins signs with all the others."""
    run = running(HAZARD + 'step one "One." by rigger')
    crew(run, "scribe Dee Rook")
    assert run.asked.phase == "briefing"
    run.say("AQ, BT, DR", "BT")
    crew(run, "rigger Ada Quill")
    assert run.address == "job/work/one"


def test_in_a_performed_procedure_the_hazards_around_it_count_too() -> None:
    """Whoever joins stands in all the sections that are open."""
    inner = procedure('caution edge "Edge"\n  risk "Cuts."\n  avoid "Gloves."\nstep cut "Cut." by rigger', name="inner")
    run = running(HAZARD + 'step one "One." by rigger\nperform inner', others={"inner": inner})
    run.say("AQ, BT, CM", "BT", "done", "AQ, BT, CM", "BT")
    crew(run, "scribe Dee Rook")
    assert [hazard.title for hazard in run.asked.hazards] == ["Edge", "Fingers can be caught"]
    run.say("DR", "done")
    assert run.address == "finished"


def test_on_the_way_to_the_safe_state_nobody_is_kept_by_a_briefing() -> None:
    """Making safe comes first; who takes over is recorded all the same."""
    run = running(HAZARD + 'step one "One." by rigger\nif stopped\n  step safe "Safe." by rigger')
    run.say("AQ, BT, CM", "BT")
    run.stop("Wind.")
    crew(run, "rigger Dee Rook")
    assert run.address == "job/work/if_stopped/safe"
    run.say("done")
    assert run.address == "stopped"


def test_two_may_join_one_after_the_other() -> None:
    """The second while the first is being briefed: each signs, the last to come first."""
    run = running(HAZARD + 'step one "One." by rigger')
    run.say("AQ, BT, CM", "BT")
    crew(run, "rigger Dee Rook")
    crew(run, "scribe Eli Fenn")
    run.say("EF", "DR")
    assert run.address == "job/work/one"
    assert [e["by"] for e in run.events("briefed")] == [["Ada Quill", "Bo Tarn", "Cy Moss"], ["Eli Fenn"], ["Dee Rook"]]


def test_a_deviation_is_accepted_by_whoever_has_the_role_now() -> None:
    """Authority goes with the role."""
    run = running('step look "Look."\n  measure x in mm using gauge\n    at most 2 mm')
    run.say("5", "accept", "Known.")
    crew(run, "lead Dee Rook")
    assert run.refused("Ada Quill") == "unknown-person"
    run.say("DR")
    assert run.address == "finished"
    assert run.events("deviation")[0]["by"] == "Dee Rook"


def test_of_a_part_the_most_that_any_procedure_needs_is_asked_for() -> None:
    """Not what the last one needs; a run begun before asks as it did."""
    needs = 'needs\n  part shim "brass shim" x 12\n'
    inner = procedure('step two "Two."', name="inner", needs=needs.replace("12", "4"))
    made = program('step one "One."\nperform inner', others={"inner": inner}, needs=needs)
    assert start(made).asked.facts == ("12 x brass shim",)
    old = begin(made, {"facts": {}}, {"date": TODAY})
    assert Run(made, apply(State(), old), [old]).asked.facts == ("4 x brass shim",)
