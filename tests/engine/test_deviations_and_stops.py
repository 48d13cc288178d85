"""What is accepted, by whom and why; and stopping, at every kind of question."""

from __future__ import annotations

import pytest
from engine_help import lines, procedure, program, running
from helpers import Run, answer_opening, start

from proclang.engine.answers import PHASES
from proclang.engine.model import Entry

READ = """
step look "Look."
  measure x in mm using gauge
    at most 2 mm
confirm after "After."
"""


def test_a_deviation_has_a_reason_and_a_name_that_may() -> None:
    """Neither a word that says nothing, nor somebody without the authority."""
    run = running(READ)
    run.say("5", "accept")
    assert run.address == "job/work/look/x/reason"
    assert run.asked.facts == ("x: 3 mm above (at most 2 mm)",)
    for nothing in ("", "ok", "Yes", "-"):
        assert run.refused(nothing) in ("no-text", "not-a-reason")
    run.say("Shim ordered.")
    assert run.asked.choices == ("Ada Quill",)
    assert run.refused("Bo Tarn") == "no-authority"
    assert run.refused("Zoe") == "unknown-person"
    run.say("lead")
    assert run.events("deviation") == [
        {"is": "deviation", "at": "job/work/look/x", "reason": "Shim ordered.", "by": "Ada Quill", "key": ""}
    ]
    assert run.outcome("x") == "fails"
    assert run.address == "job/work/after"


@pytest.mark.parametrize("before", [(), ("Shim ordered.",)])
def test_back_leads_back_to_the_ways_on(before: tuple[str, ...]) -> None:
    """From the reason and from the name; nothing has been accepted."""
    run = running(READ)
    run.say("5")
    verdict = run.asked
    run.say("accept", *before, "back")
    assert run.asked == verdict
    assert run.events("deviation") == []
    run.say("adjust", "1")
    assert run.address == "job/work/after"


def test_without_anybody_who_may_nothing_is_accepted() -> None:
    """What is left is to read, to adjust, to stop."""
    run = running(READ, needs='needs\n  instrument gauge "gauge"\n  crew rigger\n')
    run.say("5")
    assert run.asked.choices == ("again", "adjust", "stop")


# ---------------------------------------------------------------------------- stopping

SAFE = """
section work "Work"
  step look "Look."
    measure x in mm using gauge
      at most 2 mm
  if stopped
    step lower "Lower it."
    confirm dark "Lamp off."
"""


def test_a_stop_leads_to_the_safe_state_of_the_section() -> None:
    """And the run is over after it, stopped."""
    run = running(SAFE.replace('\nsection work "Work"', "").replace("\n  ", "\n"))
    run.stop("Gust.")
    assert run.state.status == "stopping"
    assert run.address == "job/work/if_stopped/lower"
    run.say("done", "yes")
    assert run.address == "stopped"
    assert run.events("stopped")[-1]["reason"] == "Gust."


def test_the_way_stop_at_a_verdict_is_a_stop() -> None:
    """The same as the key for it."""
    run = running(SAFE.replace('\nsection work "Work"', "").replace("\n  ", "\n"))
    run.say("5", "stop")
    assert run.address == "job/work/if_stopped/lower"


def test_a_section_without_a_safe_state_ends_at_once() -> None:
    """There is nothing to make safe, as far as the procedure knows."""
    run = running(READ)
    run.stop()
    assert run.address == "stopped"


def nested(caller: str, inner: str, innermost: str = "") -> Run:
    """Three procedures, each performed by the one before, stopped in the last."""

    def with_stopped(body: str, stopped: str) -> str:
        return body + (f'\nif stopped\n  step {stopped} "Make safe."\n' if stopped else "")

    last = procedure(with_stopped('confirm there "There."', innermost), name="last")
    middle = procedure(with_stopped("perform last as deep", inner), name="middle")
    body = with_stopped("repeat tries at most 2 times\n  perform middle as once", caller)
    run = running(body, others={"last": last, "middle": middle})
    assert run.address == "job/work/tries#1/once/work/deep/work/there"
    run.stop()
    return run


def test_stopped_inside_performed_procedures_each_makes_safe_from_the_inside_out() -> None:
    """Innermost first; loops are left behind."""
    run = nested("outer_safe", "middle_safe", "inner_safe")
    seen = []
    while run.address != "stopped":
        seen.append(run.address)
        run.say("done")
    assert seen == [
        "job/work/tries#1/once/work/deep/work/if_stopped/inner_safe",
        "job/work/tries#1/once/work/if_stopped/middle_safe",
        "job/work/if_stopped/outer_safe",
    ]


def test_procedures_without_a_safe_state_are_passed_by() -> None:
    """Only the caller has one."""
    run = nested("outer_safe", "")
    assert run.address == "job/work/if_stopped/outer_safe"
    run.say("done")
    assert run.address == "stopped"


def test_a_stop_on_the_way_to_safety_goes_on_with_the_next_one_out() -> None:
    """It leaves out what cannot be done, and never begins the same again."""
    run = nested("outer_safe", "middle_safe", "inner_safe")
    run.stop("Cannot be reached.")
    assert run.address == "job/work/tries#1/once/work/if_stopped/middle_safe"
    run.stop()
    run.stop()
    assert run.address == "stopped"
    assert [e.get("again", False) for e in run.events("stopped")] == [False, True, True, True]


def test_a_verdict_on_the_way_to_safety_can_be_stopped_at_too() -> None:
    """`stop` there does not begin the safe state over again."""
    run = running(
        """
        confirm here "Here."
        if stopped
          step lower "Lower."
            measure height in mm using gauge
              at most 5 mm
        """
    )
    run.stop()
    run.say("50", "stop")
    assert run.address == "stopped"


def test_no_rule_stands_against_making_safe() -> None:
    """`now` makes sure, `require` is recorded when it does not hold."""
    run = running(
        """
        confirm here "Here."
        if stopped
          step shut "Shut."
            require lid is removed
            now hood is fitted
        """,
        header="machine rig\n  lid found fitted\n  hood found removed",
    )
    run.stop()
    assert run.address == "job/work/if_stopped/shut"
    run.say("done")
    assert run.state.hardware["hood"] == "fitted"
    assert run.address == "stopped"
    assert [e["why"] for e in run.events("breach")] == ["lid must be removed; it is fitted"]


@pytest.mark.parametrize("reason", ["x" * 5000, "a\u202eb\x1b[2J", "two\nlines", "\ud800", ""])
def test_a_stop_is_never_refused_for_its_text(reason: str) -> None:
    """The text is cut and made visible; the stop is recorded."""
    run = running(READ)
    entry = run.stop(reason)
    assert run.address == "stopped"
    assert len(entry.reply.text) <= 2000
    assert entry.reply.text.isprintable()


def test_when_it_is_over_nothing_more_is_taken() -> None:
    """Neither an answer nor a note nor another stop."""
    run = running(READ)
    run.stop()
    for kind in ("answer", "note", "stop"):
        assert run.refused("x", kind) == "run-over"


def test_during_the_opening_a_stop_ends_the_run() -> None:
    """Nothing has been begun."""
    run = start(program(READ))
    run.stop()
    assert run.address == "stopped"


EVERYTHING = """
inputs
  unknown_input: length
needs
  instrument gauge "gauge", calibrated within 12 months
  instrument coarse "coarse gauge", reads to 0.1 mm, repeats to 0.1 mm
  instrument fine "fine gauge", reads to 0.01 mm, repeats to 0.01 mm
  tool wrench "wrench"
  crew lead, rigger
  authority lead
machine rig
  lid found fitted, left fitted
  hook found landed
  lamp found off
section work "Work"
  warning pinch "Pinch"
    risk "Fingers."
    avoid "Keep out."
  step first "First."
  danger beam "Beam"
    risk "Eyes."
    avoid "Eyewear."
    asks marking "Marking"
  step second "Second."
    measure x in mm using gauge
      at most 2 mm
    confirm seated "Seated."
    choose sense from left, right "Sense"
    note seen "Seen"
    photo proof "Proof"
    measure narrow in mm using coarse
      at most 2 mm
      guarded
  set offset "offset" to x ± 0.1 mm, read back, read again after a power cycle
  set trim "trim" to x
  in any order
    step one "One."
    step two "Two."
  repeat tries at most 1 times
    confirm tried "Tried."
    leave when x > 1000 mm
  compute off = x + unknown_input
  when off > 1 mm
    confirm far "Far."
  step lift "Lift."
    now hook is hanging
  step open "Open."
    now lid is removed
  hold ok "Ok" by lead, witness rigger
  for each n of numbers
    compute y[n] = x * 2
  if stopped
    step lower "Lower."
"""


def everything() -> Run:
    """One run that rests in nearly every way there is."""
    from engine_help import MACHINE
    from helpers import program_of

    labels = "labels numbers 1 .. 200"
    head = f'proclang 1\nprocedure job "Training example"\nrevision 1\n{labels}\n'
    return start(program_of({"job": head + lines(EVERYTHING), "rig": MACHINE}, "job"))


SCRIPT = (
    "Ada Quill", "Bo Tarn", "G 1", "2031-01-01", "C 1", "F 1", "ready", "removed", "changed", "landed", "off",
    "AQ, BT", "AQ", "done", "crew: rigger Cy Moss", "CM",
    "R3", "5", "accept", "Known.", "AQ", "no", "again", "yes", "left", "seen it", "IMG 1",
    "2", "exchange", "fine", "1.9", "5", "5", "done", "one", "done", "done", "yes", "accept", "Known.", "AQ",
    "accept", "Known.", "AQ", "accept", "Known.", "AQ", "no",
    "done", "changed", "landed", "done", "AQ", "CM",
)  # fmt: skip


def put(run: Run, text: str) -> None:
    """A line of the script: an answer, or somebody taking a role over."""
    if text.startswith("crew: "):
        assert isinstance(run.reply(text.removeprefix("crew: "), "crew"), Entry)
    else:
        run.say(text)


def whole_script() -> list[str]:
    """Replies from the first question to the last; pauses in the long calculation at the end are gone on from."""
    run = everything()
    given = []
    for text in SCRIPT:
        put(run, text)
        given.append(text)
    while run.address not in ("finished", "stopped"):
        text = {"pause": "on", "left": "changed"}[run.asked.phase]
        run.say(text)
        given.append(text)
    return given


def test_at_every_question_of_a_run_a_note_and_a_stop_are_taken() -> None:
    """Whatever is asked: the stop leads to the safe state or to the end, and from there to the end."""
    script = whole_script()
    for cut in range(len(script) + 1):
        run = everything()
        for text in script[:cut]:
            put(run, text)
        if run.state.over:
            assert cut == len(script)
            continue
        run.note("A note here.")
        run.stop("Here.")
        assert run.address in ("stopped", "job/work/if_stopped/lower")
        if not run.state.over:
            run.say("done")
        assert run.address == "stopped"


def test_the_script_above_rests_in_every_way_there_is() -> None:
    """So that the tests of every question mean it."""
    run = everything()
    phases = {run.asked.phase}
    for text in whole_script():
        put(run, text)
        if not run.state.over:
            phases.add(run.asked.phase)
    assert PHASES - phases == set()


def test_different_questions_have_different_addresses() -> None:
    """One address stands for one question; the same question asked again has the same one."""
    run = everything()
    asked: dict[str, set[str]] = {}
    for text in [*whole_script(), None]:
        if run.state.over:
            break
        asked.setdefault(run.address, set()).add(run.asked.prompt)
        assert text is not None
        put(run, text)
    several = {address: prompts for address, prompts in asked.items() if len(prompts) > 1}
    assert several == {}


def test_the_opening_is_answered_by_the_helper_as_by_hand() -> None:
    """The helper of the tests reaches the section."""
    run = answer_opening(everything())
    assert run.address == "job/work/briefing"
