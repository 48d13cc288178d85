"""What a newcomer needs on the screen: where they are, who is asked, what is passed over, what to do next."""

from __future__ import annotations

import io
import os
import sys
from pathlib import Path

import attrs
import pytest
from drive_help import at_once, opened, ordinary, proclang, recorded, run_arguments, typed_day
from test_screens import PROGRAM, STATES, SampleFiles

from proclang.cli import sitting, streams
from proclang.engine.decide import begin, decide
from proclang.engine.fold import apply
from proclang.engine.model import Callout, Entry, Over, Reply, Request, State
from proclang.engine.request import next_request
from proclang.program.build import build
from proclang.program.load import load
from proclang.program.model import Program
from proclang.session import present
from proclang.session.look import Look, plain_text, wrap
from proclang.session.present import Place, Question
from proclang.session.steps import steps_to_come
from proclang.text.diagnostic import Problem

MACHINE = """proclang 1
machine bench "Bench, invented"
kind bolt
  states loose, nearly_tight, tight
bolts[1 .. 4]: bolt "bench bolt"
"""

BENCH = """proclang 1
procedure bench_test "Test a bench"
purpose "Training example, all values invented."
needs
  crew lead, fitter
  authority lead
machine bench
  bolts found loose
section only "Work"
  step look "Look." by fitter
    confirm all_well "Nothing is bent" by lead
    measure x "gap" in mm
      at most 2 mm
  repeat trying at most 2 times
    step first_half "Do the first half." by fitter
    leave when x < 3 mm
    step second_half "Do the second half." by fitter
    step third_half "And one more." by fitter
  for each bolt of bolts in star order
    step turn "Turn bolt {bolt}." by fitter
  set travel "travel limit" to x, read back, read again after a power cycle
  step last "Go." by fitter
"""


def bench_program() -> Program:
    class Files(SampleFiles):
        def read(self, name: str) -> bytes | None:
            return MACHINE.encode() if name == "bench" else None

    built = build(load("bench_test", BENCH.encode(), Files()))
    assert not [f for f in built.findings if f.severity.value == "error"], built.findings
    assert built.program is not None
    return built.program


BENCH_PROGRAM = bench_program()


def shown_day(*replies: str) -> list[str]:
    """The lines before each reply and after the last, as they come upon the screen one below the other."""
    state, place, screens = apply(State(), begin(BENCH_PROGRAM, {"facts": {}}, {})), Place(), []
    for text in (*replies, None):
        request = next_request(BENCH_PROGRAM, state)
        if isinstance(request, Over):
            break
        asked = present.ask(Question(request, (), steps_to_come(BENCH_PROGRAM, state, request)), place, Look(100))
        place = asked.place
        screens.append(plain_text(asked.lines) + asked.prompt)
        if text is not None:
            entry = decide(BENCH_PROGRAM, state, Reply(text))
            assert isinstance(entry, Entry), (request.address, entry)
            state = apply(state, entry)
    return screens


BEGINNING = ("Ada Quill", "Bo Tarn", "loose", "yes", "1")


def test_a_set_is_asked_about_as_a_set() -> None:
    screen = shown_day(*BEGINNING[:2])[-1]
    assert "How is each bench bolt found?\nOne answer for all 4.\nThe procedure begins with them loose." in screen
    assert "2 nearly tight" in screen


def test_states_can_be_typed_as_they_are_shown() -> None:
    """With a blank where the author joined two words; what is kept is the author's word."""
    state = apply(State(), begin(BENCH_PROGRAM, {"facts": {}}, {}))
    for text in BEGINNING[:2]:
        entry = decide(BENCH_PROGRAM, state, Reply(text))
        assert isinstance(entry, Entry)
        state = apply(state, entry)
    for typed in ("nearly tight", "nearly_tight", "Nearly", "2"):
        entry = decide(BENCH_PROGRAM, state, Reply(typed))
        assert isinstance(entry, Entry)
        assert entry.then[0]["state"] == "nearly_tight"


def test_who_performs_the_step_and_who_is_asked_are_two_things() -> None:
    screen = shown_day(*BEGINNING[:3])[-1]
    assert "By: Bo Tarn (fitter)" in screen
    assert "Asked of: Ada Quill (lead)" in screen
    assert "Asked of" not in shown_day(*BEGINNING[:4])[-1]


def test_steps_that_are_passed_over_are_named() -> None:
    """Out of the loop in its first pass, two of its steps are never come to."""
    assert "Steps 3 and 4 do not apply now.\nStep 5 of 6: Turn bolt" in shown_day(*BEGINNING, "done")[-1]


def test_steps_that_follow_one_another_pass_none_over() -> None:
    assert not [s for s in shown_day(*BEGINNING) if "not apply" in s]


def test_where_the_loops_stand_is_said_and_an_order_of_their_own_once() -> None:
    screens = shown_day(*BEGINNING, *["done"] * 5)
    assert "Trying: pass 1, at most 2." in screens[5]
    said = [line.strip() for screen in screens[6:10] for line in screen.splitlines() if line.strip().startswith("Bolt")]
    assert said[0].startswith("Bolt 1, first of 4, in the order 1, ")
    assert [line.partition(", ")[2] for line in said[1:]] == ["second of 4.", "third of 4.", "fourth of 4."]


def test_after_a_power_cycle_nothing_is_set_again() -> None:
    """It would hide that the value had been lost; somebody has to be told to switch."""
    before, after = shown_day(*BEGINNING, *["done"] * 5, "1")[-2:]
    assert "Set the travel limit to +1 mm." in before
    assert "Switch the controller off and on; do not set it again." in after
    assert "Set the travel limit" not in after


def test_not_so_ends_its_sentence() -> None:
    assert "Not so: Nothing is bent. What now?" in shown_day(*BEGINNING[:3], "no")[-1]


def test_a_mean_that_is_judged_says_so() -> None:
    """The mean of 3 mm and 4 mm is 3.5 mm."""
    screen = shown_day(*BEGINNING[:4], "3", "again", "4")[-1]
    assert "Gap: mean of 2 readings: 3.5 mm." in screen
    assert "mean" not in shown_day(*BEGINNING[:4], "3")[-1]


WARNING = Callout("warning", "Hot", "Burns.", "Wear gloves.")


@pytest.mark.parametrize(
    ("hazard", "shortened"), [(WARNING, True), (attrs.evolve(WARNING, word="danger"), False)], ids=["warning", "danger"]
)
def test_a_hazard_just_read_out_is_short_at_its_step_unless_it_is_a_danger(hazard: Callout, shortened: bool) -> None:
    briefing = Request("names", "a/briefing", "Who?", section="S", hazards=(hazard,))
    at_step = Request("name", "a/hot", "Who takes note?", section="S", hazards=(hazard,))
    asked = present.ask(Question(briefing), Place(), Look())
    later = plain_text(present.ask(Question(at_step), asked.place, Look()).lines)
    assert ("Burns." not in later) is shortened
    assert ("Hot (as briefed)" in later) is shortened
    assert "Wear gloves." in later


def test_a_hazard_of_another_section_or_sitting_is_whole() -> None:
    at_step = Request("name", "b/hot", "Who takes note?", section="T", hazards=(WARNING,))
    for place in (Place(), Place("S", briefed=(WARNING,))):
        assert "Burns." in plain_text(present.ask(Question(at_step), place, Look()).lines)


def test_the_ways_out_of_a_refusal_stand_one_below_the_other() -> None:
    problem = Problem("implausible", "too much", hint="a lost sign? -1 mm would be; if it is so, type `really 1`")
    assert plain_text(present.refused(problem, Look())).splitlines()[1:] == [
        "  a lost sign? -1 mm would be",
        "  if it is so, type `really 1`",
    ]


def test_what_is_to_be_typed_is_not_broken() -> None:
    for width in range(20, 60):
        lines = wrap("if it is really so, then type `really 187` or `really 18.7 mm`, and Enter", width)
        assert all(line.count("`") % 2 == 0 for line in lines), lines


def test_a_word_of_the_prompt_is_no_name_unless_somebody_insists(tmp_path: Path) -> None:
    folder = tmp_path / "run"
    at_once(*run_arguments(folder), typed="ready\nok\nx\n= ready\nBo Tarn\nyes\n= yes\n")
    assert [text for _, _, text in recorded(folder)] == ["ready", "Bo Tarn", "yes"]


def test_a_stop_is_never_doubted(tmp_path: Path) -> None:
    at_once(*run_arguments(tmp_path / "run"), typed="stop\n")
    assert [kind for _, kind, _ in recorded(tmp_path / "run")] == ["stop"]


def test_how_to_go_on_is_how_it_was_called(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """By its path where the shell would not find it, quoted; by its name where it would."""
    program = tmp_path / "its place" / "proclang"
    program.parent.mkdir()
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    monkeypatch.setattr(sys, "argv", [str(program)])
    monkeypatch.setattr(sys.modules["__main__"], "__spec__", None)
    monkeypatch.setenv("PATH", os.defpath)
    assert present.called() == f"'{program}'"
    monkeypatch.setenv("PATH", str(program.parent))
    assert present.called() == "proclang"
    done = proclang(*run_arguments(tmp_path / "run"), typed="Ada Quill\npause\n")
    assert f"-m proclang resume {tmp_path / 'run'}\n" in done.stderr.decode()


def test_the_end_is_summed_up(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Deviations, notes and instruments whose calibration was overdue, and once more that it was training."""
    folder = tmp_path / "run"
    typed = typed_day().replace("2031-01-15", "2029-01-15")
    done = proclang(*run_arguments(folder), typed=typed)
    said = done.stderr.decode()
    notes = sum(reply.said.kind == "note" for reply in ordinary())
    assert f"Deviations accepted: 0. Notes: {notes}.\n" in said
    assert "Calibration overdue: sediment gauge, SG-7: calibrated " in said
    assert present.TRAINING in said
    assert "The run may go on" in " ".join(done.stdout.decode().split())
    assert opened(folder).state.over


def test_words_at_the_end_fit_the_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where there is one; into a file and for programs lines stay whole."""

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setenv("COLUMNS", "40")
    for stream, most in ((Terminal(), 40), (io.StringIO(), 60)):
        monkeypatch.setattr(sys, "stderr", stream)
        sitting.say_wrapped("Paused. Everything entered is kept, 3 entries. " + "x" * 10)
        lines = stream.getvalue().splitlines()
        assert max(map(len, lines)) <= most
        assert (len(lines) > 1) == stream.isatty()
    assert streams.fitted("a b", None) == ["a b"]


def test_status_says_section_and_step_by_number(tmp_path: Path) -> None:
    gap = next(i for i, r in enumerate(ordinary()) if r.address.endswith("gap"))
    at_once(*run_arguments(tmp_path / "run"), typed=typed_day(ordinary()[:gap]))
    shown = proclang("status", tmp_path / "run").stdout.decode()
    assert "Where: section 2 of 2, Close and judge; step 1 of 2, Shut the tap.\n" in shown


def test_help_at_every_question_ends_with_its_own() -> None:
    for _, request, _ in STATES:
        if request.help and request.kind != "choice":
            told = " ".join(plain_text(present.help_lines(request, Look())).split())
            assert told.endswith(" ".join(request.help.split()))
    assert PROGRAM.main.purpose
