"""What a technician sees at each kind of question, wide and narrow, as golden screens."""

from __future__ import annotations

from collections.abc import Callable

import attrs
import pytest
from drive_help import SAMPLES, ordinary, typed_line

from proclang.engine.decide import begin, decide
from proclang.engine.fold import apply, replay
from proclang.engine.model import Callout, Entry, Over, Reply, Request, State
from proclang.engine.request import next_request
from proclang.engine.strike import strike
from proclang.program.build import build
from proclang.program.load import load
from proclang.program.model import Program
from proclang.session import present
from proclang.session.answered import latest_replies
from proclang.session.hazards import hazards_at_step
from proclang.session.look import Line, Look, columns, plain_text
from proclang.session.present import Place, Question
from proclang.session.steps import steps_to_come
from proclang.text.diagnostic import Problem


class SampleFiles:
    def shown(self, name: str) -> str:
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        path = SAMPLES / f"{name}.proc"
        return path.read_bytes() if path.exists() else None

    def names(self) -> tuple[str, ...]:
        return ()


def sample_program() -> Program:
    data = SampleFiles().read("rinse")
    assert data is not None
    built = build(load("rinse", data, SampleFiles()))
    assert not built.findings
    assert built.program is not None
    return built.program


PROGRAM = sample_program()


def ordinary_states() -> list[tuple[State, Request, Entry]]:
    """Every question of an ordinary day, the state it is asked in, and the entry its reply becomes."""
    state = apply(State(), begin(PROGRAM, {"facts": {}}, {"date": "2031-05-01"}))
    found = []
    for reply in ordinary():
        request = next_request(PROGRAM, state)
        assert isinstance(request, Request)
        entry = decide(PROGRAM, state, Reply(reply.said.text, reply.said.kind, {"date": "2031-05-01"}))
        assert isinstance(entry, Entry), entry
        found.append((state, request, entry))
        state = apply(state, entry)
    assert isinstance(next_request(PROGRAM, state), Over)
    return found


STATES = ordinary_states()
OPENED = {"title": "Rinse the sampling line", "revision": "2", "site_title": "Tank Seven (invented)", "training": True}


def day(look: Look) -> list[Line]:
    """A whole ordinary day on the screen."""
    lines: list[Line] = list(present.greeting(OPENED, PROGRAM.main.purpose, look))
    place = Place()
    for number, ((state, request, entry), reply) in enumerate(zip(STATES, ordinary(), strict=True), 2):
        question = Question(request, hazards_at_step(PROGRAM, state, request), steps_to_come(PROGRAM, state, request))
        asked = present.ask(question, place, look)
        place = asked.place
        lines += [*asked.lines, *present.echo(asked.prompt, typed_line(reply), look)]
        lines += present.accepted(entry, number, "0123456789abcdef" * 4, look)
    return lines


@pytest.mark.parametrize("width", [80, 40])
def test_an_ordinary_day(width: int, golden: Callable[[str, str], None]) -> None:
    text = plain_text(day(Look(width)))
    golden(f"screens/ordinary-{width}.txt", text)
    assert max(columns(line) for line in text.splitlines()) <= width


def test_forty_columns_lose_nothing() -> None:
    """The same words in the same order; only prompts may be cut shorter, since the question then stands above."""
    wide = " ".join(plain_text(day(Look(80))).split())
    narrow = " ".join(plain_text(day(Look(40))).split())
    for state, request, _ in STATES:
        for text in (request.title, *request.prose, *request.facts, *request.limits, request.plausible):
            assert " ".join(text.split()) in narrow or (text[:1].upper() + text[1:]) in narrow, (
                text,
                state.top.address,
            )
    assert len(narrow.split()) >= len(wide.split()) - 3 * len(STATES)


def test_ascii_needs_no_other_sign() -> None:
    assert plain_text(day(Look(80, ascii=True))).isascii()


@pytest.mark.parametrize("palette", ["normal", "mono", "night"])
def test_colour_carries_nothing_alone(palette: str) -> None:
    """Verdicts and signal words are words, so the screen without colour has the same facts."""
    bare, coloured = Look(80), Look(80, palette=palette)
    assert plain_text(day(coloured)) == plain_text(day(bare))


def test_a_hazard_stands_with_its_step_however_the_run_came_there() -> None:
    """After a resume in the middle of a step, the step's hazards are shown again although nothing asks about them."""
    state, request, _ = next(found for found in STATES if found[1].address == "rinse/flush/open")
    assert request.hazards == ()
    asked = present.ask(Question(request, hazards_at_step(PROGRAM, state, request)), Place(request.section), Look())
    shown = plain_text(asked.lines)
    for part in ("WARNING: Hot water from the tap", "Scalded hands.", "Wear gloves; open the tap slowly."):
        assert part in shown
    assert shown.index("WARNING") < shown.index("Open the tap by a quarter turn.\n")


def test_a_hazard_just_answered_is_not_said_twice_over_its_step() -> None:
    lines = plain_text(day(Look()))
    assert lines.count("DANGER: Steam when the line is shut") == 2  # read out at the briefing, and at its step


def test_no_hazard_outside_a_step() -> None:
    state, request, _ = STATES[0]
    assert request.step == ""
    assert hazards_at_step(PROGRAM, state, request) == ()


def test_the_step_is_shown_once_and_then_only_its_questions() -> None:
    """`read`ing two values of one step does not repeat its sentences."""
    assert plain_text(day(Look())).count("Step 2 of 2: Draw") == 2  # one for each pass of the loop


def test_the_prompt_says_step_and_unit() -> None:
    """Nothing needed is only in what has scrolled away."""
    request = next(r for _, r, _ in STATES if r.address.endswith("gap"))
    prompt = present.ask(Question(request), Place(), Look()).prompt
    assert prompt == "step 1 of 2, gap at the seat, in mm: "


def test_a_long_question_stands_above_a_short_prompt() -> None:
    request = attrs.evolve(
        next(r for _, r, _ in STATES if r.address.endswith("gap")), prompt="gap at the seat, seen from the outlet side"
    )
    asked = present.ask(Question(request), Place(), Look(40))
    assert asked.prompt == "step 1 of 2, in mm: "
    assert "Gap at the seat" in plain_text(asked.lines)


def test_room_is_left_to_type_at_every_prompt() -> None:
    for width in (20, 40, 80):
        for _, request, _ in STATES:
            prompt = present.ask(Question(request), Place(), Look(width)).prompt
            assert columns(prompt) + present.ROOM_TO_TYPE <= width or prompt == "> "


def test_every_answer_is_in_words_however_narrow_the_screen() -> None:
    request = next(r for _, r, _ in STATES if r.choices == ("yes", "no"))
    for width in (20, 40, 80):
        asked = present.ask(Question(request), Place(), Look(width))
        shown = plain_text(asked.lines) + asked.prompt
        assert "yes" in shown
        assert "no" in shown.split()[-3:] or "no:" in shown.split()


HOSTILE = "a\x1b[2Jb\u202ec\nd\x07"


def test_text_from_anybody_cannot_move_the_cursor() -> None:
    """Every text of a request, an entry and a problem is made printable where it is shown."""
    hazard = Callout("warning", HOSTILE, HOSTILE, HOSTILE)
    request = Request(
        kind="choice",
        address=HOSTILE,
        prompt=HOSTILE,
        section=HOSTILE,
        step=HOSTILE,
        number=(1, 2),
        title=HOSTILE,
        prose=(HOSTILE,),
        figures=(HOSTILE,),
        by=HOSTILE,
        people="b",
        within=(HOSTILE,),
        takes=HOSTILE,
        hazards=(hazard,),
        unit=HOSTILE,
        limits=(HOSTILE,),
        plausible=HOSTILE,
        choices=(HOSTILE, "b"),
        facts=(HOSTILE,),
        help=HOSTILE,
    )
    entry = Entry(HOSTILE, Reply(HOSTILE, "note"), ({"is": "noted", "text": HOSTILE},))
    look = Look()
    shown: list[Line] = []
    for kind in ("choice", "quantity", "text", "name", "names", "word"):
        asked = present.ask(Question(attrs.evolve(request, kind=kind), (hazard,)), Place(), look)
        shown += [*asked.lines, (("", asked.prompt),)]
    shown += present.help_lines(request, look)
    shown += present.accepted(entry, 3, HOSTILE, look)
    shown += present.refused(Problem("x", HOSTILE, HOSTILE), look)
    shown += present.entered([(2, HOSTILE, entry)], 3, look)
    shown += present.greeting({"title": HOSTILE, "revision": HOSTILE, "site_title": HOSTILE}, (HOSTILE,), look)
    shown += present.went_on(4, HOSTILE, look)
    shown += present.echo("answer: ", HOSTILE, look)
    for line in shown:
        assert "".join(text for _, text in line).isprintable()


def test_the_resume_command_can_be_pasted() -> None:
    assert present.resume_words("runs/cold night") == "To go on: proclang resume 'runs/cold night'"


def entered(entries: list[Entry]) -> str:
    latest = latest_replies(PROGRAM, entries, present.ENTERED_SHOWN)
    return plain_text(present.entered(*latest, Look(100)))


def test_entered_says_each_reply_with_its_entry_and_question() -> None:
    """In the words of the question; what stands in a reply file is for files."""
    begun = begin(PROGRAM, {"facts": {}}, {"date": "2031-05-01"})
    entries = [begun, *(entry for _, _, entry in STATES)]
    text = entered(entries)
    assert text.startswith(f"The latest {present.ENTERED_SHOWN} of {len(STATES)} replies:\n")
    assert "  13: sediment of the draw, second: 3 cm\n" in text
    assert "  10: Done? ! valve wheel is stiff\n" in entered(entries[:12])
    assert entered([begun]) == "Nothing has been entered yet.\n"


def test_entered_after_a_reading_was_struck() -> None:
    """The reading that was struck stays in the list, the word that struck it as well, and the same is asked again."""
    entries = [begin(PROGRAM, {"facts": {}}, {"date": "2031-05-01"}), *(entry for _, _, entry in STATES[:11])]
    struck = strike(PROGRAM, entries, Reply("slip", "mistyped", {"date": "2031-05-01"}))
    assert isinstance(struck, Entry)
    again = decide(PROGRAM, replay([*entries, struck]), Reply("41", "answer", {"date": "2031-05-01"}))
    assert isinstance(again, Entry)
    assert entered([*entries, struck, again]).splitlines()[-3:] == [
        "  12: sediment of the draw, first: 40",
        "  13: sediment of the draw, second: mistyped slip",
        "  14: sediment of the draw, first: 41",
    ]


def test_help_at_a_verdict_says_the_ways_once_more() -> None:
    """Last, nearest to the prompt."""
    request = next(r for _, r, _ in STATES if r.address.endswith("verdict"))
    question = plain_text(present.ask(Question(request), Place(), Look(100)).lines)
    assert "1 again: read once more; the new reading joins the others" in question
    told = plain_text(present.help_lines(request, Look(100))).splitlines()
    assert [line.split(":")[0].strip() for line in told[-len(request.choices) :]] == list(request.choices)


def test_help_leaves_the_question_on_the_screen() -> None:
    """On a terminal of 24 lines (common practice, no source)."""
    for _, request, _ in STATES:
        question = len(present.ask(Question(request), Place(request.section, request.step), Look()).lines)
        assert len(present.help_lines(request, Look())) + question + 2 <= 24, request.address
        with_row = "READING; READING" in plain_text(present.help_lines(request, Look()))
        assert with_row == bool(request.row)


def test_a_stop_says_that_it_stops_nothing() -> None:
    """Nobody may believe that a word typed here stops a machine."""
    state, request, _ = next(found for found in STATES if found[1].address.endswith("gap"))
    entry = decide(PROGRAM, state, Reply("smoke", "stop", {}))
    assert isinstance(entry, Entry)
    assert request.address == entry.ask
    text = " ".join(plain_text(present.accepted(entry, 18, "0" * 64, Look())).split())
    assert "recorded; this stops nothing on the machine: use its emergency stop" in text
    assert "reason: smoke" in text
    assert "now come the steps that make safe" in text
