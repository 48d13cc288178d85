"""Performed procedures: what they are given, what they give, and how their hardware is found and left."""

from __future__ import annotations

from engine_help import procedure, running
from helpers import Run

PART = procedure(
    """
    step look "Look at {wanted}."
      measure found in mm using gauge
        at most wanted
    compute result = found * 2
      at most 20 mm
    """,
    header="""
    inputs
      wanted: length
      other: length = 7 mm
    gives result
    """,
    name="survey",
)
BODY = """
perform survey as first
  with wanted = 5 mm
  gives result
when result passes
  confirm good "Good."
otherwise
  confirm bad "Bad."
"""


def performed(body: str = BODY, part: str = PART, facts: dict[str, str] | None = None, **files: str) -> Run:
    return running(body, facts=facts, others={"survey": part, **files})


def test_arguments_come_before_site_facts_and_these_before_defaults() -> None:
    """What the caller says is meant; the site knows better than the author's default."""
    run = performed(facts={"wanted": "1 mm", "other": "8 mm"})
    assert run.value("wanted") == "5 mm"
    assert run.value("other") == "8 mm"
    assert performed().value("other") == "7 mm"


def test_names_of_the_performed_procedure_are_its_own() -> None:
    """Only what it gives reaches the caller; addresses go on below the call."""
    run = performed()
    assert run.address == "job/work/first/work/look/found"
    assert run.asked.title == "Look at 5 mm."
    run.say("4")
    assert run.address == "job/work/good"
    assert set(run.state.top.values) == {"result"}
    assert run.value("result") == "8 mm"
    assert run.outcome("result") == "passes"


def test_a_failed_verdict_is_given_with_its_value() -> None:
    """The caller deals with it as with its own."""
    run = performed(BODY, PART.replace("at most 20 mm", "at most 2 mm"))
    run.say("4", "accept", "As drawn.", "Ada Quill")
    assert run.outcome("result") == "fails"
    assert run.address == "job/work/bad"
    (given,) = [e for e in run.events("verdict") if e.get("given")]
    assert given["name"] == "result"


def test_a_value_given_again_replaces_the_one_before() -> None:
    """In the second pass of a loop nothing is left of the first, not even where nothing is given."""
    run = performed(
        """
        repeat tries at most 2 times
          perform survey as once
            with wanted = 5 mm
            gives result
          confirm between "Between."
        """,
        PART.replace("compute result = found * 2", "compute result = 8 mm^2 / found"),
    )
    run.say("4")
    assert run.value("result") == "2 mm"
    run.say("yes", "0")
    assert run.asked.phase == "unknown"
    run.say("accept", "Not needed.", "Ada Quill")
    assert run.address == "job/work/tries#2/between"
    assert "result" not in run.state.top.values
    assert "result" not in run.state.top.outcomes


def test_a_value_upset_inside_is_upset_for_the_caller() -> None:
    """It was read before the last thing the performed procedure did to it."""
    part = procedure(
        """
        step look "Look."
          measure result in mm using gauge
            at most 5 mm
        step tighten "Tighten."
          upsets result
        """,
        header="gives result",
        name="survey",
    )
    run = performed("perform survey as first\n  gives result\nwhen result passes\n  confirm good \"Good.\"\n"
                    'otherwise\n  confirm bad "Bad."', part)  # fmt: skip
    run.say("4", "done")
    assert list(run.state.top.stale) == ["result"]
    assert run.address == "job/work/bad"


def test_performing_goes_as_deep_as_it_is_written() -> None:
    """Three procedures, each giving to the one that performed it."""
    inner = procedure('step look "Look."\n  measure result in mm using gauge', header="gives result", name="survey")
    middle = procedure(
        "perform survey as deep\n  gives result\ncompute half = result / 2", header="gives half", name="middle"
    )
    run = performed('perform middle as top\n  gives half\nconfirm good "Half is {half}."', inner, middle=middle)
    assert run.address == "job/work/top/work/deep/work/look/result"
    assert [f.routine for f in run.state.frames] == ["", "job", "middle", "survey"]
    run.say("3")
    assert run.asked.prompt == "Half is 1.5 mm."


def test_an_argument_that_is_not_known_leaves_out_the_performed_procedure() -> None:
    """Only as a deviation, and with nothing of what it would have given."""
    run = running(
        """
        perform survey as first
          with wanted = limit
          gives result
        confirm after "After."
        """,
        header="""
        inputs
          limit: length
        """,
        others={"survey": PART},
    )
    assert run.address == "job/work/first/verdict"
    assert "go on without it" in run.asked.help
    run.say("accept", "Done last week, see its log.", "Ada Quill")
    assert run.address == "job/work/after"
    assert "result" not in run.state.top.values


def test_the_performed_procedure_says_who_may_accept_a_deviation_in_it() -> None:
    """Its own `authority` holds where it has one."""
    part = PART.replace("  authority lead\n", "  authority rigger\n")
    run = performed(BODY, part)
    run.say("9", "accept", "As drawn.")
    assert run.asked.choices == ("Bo Tarn",)
    assert run.refused("Ada Quill") == "no-authority"
    run.say("BT")


# ---------------------------------------------------------------------------- hardware at both ends

HARD_PART = procedure(
    """
    step open "Open."
      now lid is removed
    """,
    header="""
    machine rig
      lid found fitted, left fitted
      lamp found off, left off
    """,
    name="survey",
)
RIG = """
machine rig
  lid found removed
  lamp found off
"""


def test_a_performed_procedure_begins_only_with_its_hardware_as_it_says() -> None:
    """All that is not so is said at once, put right, and looked at once more."""
    run = running("perform survey as first", header=RIG, others={"survey": HARD_PART})
    assert run.asked.phase == "blocked"
    assert run.address == "job/work/first/blocked"
    assert run.asked.facts[0] == "`survey` begins with this: lid must be fitted; it is removed"
    assert run.asked.choices == ("changed", "stop")
    run.say("changed")
    assert run.state.hardware["lid"] == "fitted"
    assert run.address == "job/work/first/work/open"


def test_hardware_nobody_has_looked_at_is_not_taken_to_be_as_it_should() -> None:
    """The procedure that is run says nothing of the lamp, so the opening has not asked for it."""
    run = running("perform survey as first", header="machine rig\n  lid found fitted", others={"survey": HARD_PART})
    assert "lamp must be off; it is in no known state" in run.asked.facts[0]


def test_a_performed_procedure_ends_only_with_its_hardware_as_it_says() -> None:
    """A cover left off is put right, or left as a deviation with a reason and a name."""
    run = running('perform survey as first\nconfirm after "After."', header=RIG, others={"survey": HARD_PART})
    run.say("changed", "done")
    assert run.asked.phase == "left"
    assert run.address == "job/work/first/blocked"
    assert run.asked.choices == ("changed", "accept", "stop")
    run.say("accept", "It is needed open for what follows.", "Ada Quill")
    assert run.address == "job/work/after"
    assert run.state.hardware["lid"] == "removed"
    assert run.events("deviation")[-1]["why"] == "lid must be fitted; it is removed"


def test_everything_left_otherwise_than_declared_is_put_right_together() -> None:
    """Two covers off are one question, not two."""
    part = procedure(
        """
        step open "Open."
          now lid is removed
          now hood is removed
        """,
        header="""
        machine rig
          lid found fitted, left fitted
          hood found fitted, left fitted
        """,
        name="survey",
    )
    header = "machine rig\n  lid found fitted\n  hood found fitted"
    run = running('perform survey as first\nconfirm after "After."', header=header, others={"survey": part})
    run.say("done")
    assert run.asked.facts[0] == "lid must be fitted; it is removed; hood must be fitted; it is removed"
    run.say("changed")
    assert run.state.hardware == {"lid": "fitted", "hood": "fitted"}
    assert run.address == "job/work/after"


def test_the_run_itself_ends_only_with_its_hardware_as_it_says() -> None:
    """The same holds for the procedure that is run."""
    run = running('step open "Open."\n  now lid is removed', header="machine rig\n  lid found fitted, left fitted")
    run.say("done")
    assert run.address == "job/blocked"
    run.say("changed")
    assert run.address == "finished"
