"""Whatever the procedure and whatever is typed: nothing is raised, nothing is lost, everything ends."""

from __future__ import annotations

import copy
import json
from random import Random

import hypothesis.strategies as st
from drawn import GARBAGE, any_reply, bodies, drawn_program, sensible
from helpers import Run, answer_opening, start
from hypothesis import given, settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from proclang.engine.decide import decide
from proclang.engine.fold import MISTYPED, apply, counted, replay, struck
from proclang.engine.model import Entry, Over, Refused, Reply, Request, State
from proclang.engine.request import next_request
from proclang.engine.strike import strike
from proclang.engine.tell import tell
from proclang.program import model as m
from proclang.session import strict_json
from proclang.text.limits import JOURNAL_LINE_BYTES

FACTS = st.fixed_dictionaries(
    {},
    optional={
        "latitude": st.just("30 deg"),
        "hemisphere": st.sampled_from(["north", "south"]),
        "wanted": st.sampled_from(["2 mm", "0 mm", "-1/3 mm", "100 mm"]),
    },
)
STAMP = {"date": "2031-05-01"}


def put(run: Run, text: str, kind: str) -> Entry | Refused:
    """Put a reply, and hold what comes of it to every rule there is for any reply."""
    before = copy.deepcopy(run.state)
    decided = decide(run.program, run.state, Reply(text, kind, STAMP))
    assert run.state == before, "decide changed the state it was given"
    assert decide(run.program, run.state, Reply(text, kind, STAMP)) == decided, "decide is not one function"
    if isinstance(decided, Refused):
        assert decided.problem.message
        assert next_request(run.program, run.state) == next_request(run.program, before)
        return decided
    line = strict_json.dumps(decided.to_json())
    assert len(line) < JOURNAL_LINE_BYTES - 400, "an entry must fit the line of a journal with its chain"
    assert Entry.from_json(json.loads(line)) == decided
    after = apply(run.state, decided)
    assert run.state == before, "apply changed the state it was given"
    assert apply(before, Entry.from_json(json.loads(line))) == after
    for said in tell(decided):
        assert said.text.strip()
        assert "\n" not in said.text
    run.state = after
    run.entries.append(decided)
    return decided


@given(bodies(), FACTS, st.integers(0, 2**32))
@settings(max_examples=300)
def test_any_replies_to_any_procedure(body: str, facts: dict[str, str], seed: int) -> None:
    """Sensible ones, nonsense, notes and stops, mixed."""
    rnd = Random(seed)
    run = start(drawn_program(body), facts)
    if rnd.random() < 0.8:
        answer_opening(run)
    for _ in range(120):
        request = run.request
        if isinstance(request, Over):
            break
        put(run, *any_reply(rnd, request))
    assert replay(run.entries) == run.state


WILLING = ("accept", "on", "changed", "yes", "done", "ready", "landed", "fitted")


def willing(run: Run, request: Request) -> str:
    """An answer of somebody who wants to get through: every deviation is accepted, everything is put right."""
    if request.phase == "briefing":
        return ", ".join(request.choices)
    if request.phase == "acknowledge":
        return request.people.partition(" (")[0] or "AQ"
    if request.phase == "sign":
        return request.people.partition(" (")[0]
    if request.phase == "state now":
        # Asked again as long as the state does not do: one after the other, two entries each time.
        return request.choices[run.state.entries // 2 % len(request.choices)]
    if request.kind == "quantity":
        return "1"
    if request.choices:
        return next((word for word in WILLING if word in request.choices), request.choices[0])
    return "A word or two."


@given(bodies(), FACTS)
def test_every_procedure_ends_for_somebody_who_wants_to_get_through(body: str, facts: dict[str, str]) -> None:
    """Left to itself it comes to its end: loops have bounds, and each deviation is accepted once."""
    run = answer_opening(start(drawn_program(body), facts))
    asked: list[str] = []
    while not isinstance(request := run.request, Over):
        asked.append(request.address)
        if asked[-30:].count(request.address) > 10:
            # Two rules of the machine in one step may stand against each other: then it can only be stopped.
            assert request.phase in ("blocked", "state now"), asked[-20:]
            run.stop()
            continue
        assert len(asked) < 2_000, asked[-20:]
        run.say(willing(run, request))
    assert replay(run.entries) == run.state


SAME = {"unknown": "verdict", "left": "blocked"}
"""Phases whose questions come from one place, one instead of the other."""


@given(bodies(), FACTS, st.integers(0, 2**32))
def test_an_address_stands_for_one_question(body: str, facts: dict[str, str], seed: int) -> None:
    """It names the instruction, the call, the pass and the label: only the same question asked again has it too."""
    rnd = Random(seed)
    run = answer_opening(start(drawn_program(body), facts))
    asked: dict[str, tuple[str, ...]] = {}
    for _ in range(120):
        request = run.request
        if isinstance(request, Over):
            break
        instr = run.program.routine(run.state.top.routine).code[
            run.program.routine(run.state.top.routine).index[run.state.top.address]
        ]
        # A hazard said before two steps is one question asked twice, and so is a reading taken again in its step.
        line = "" if isinstance(instr, (m.Acknowledge, m.Read, m.RequireInstr)) else instr.address
        question = (line, SAME.get(request.phase, request.phase), request.prompt)
        assert asked.setdefault(request.address, question) == question
        put(run, sensible(rnd, request), "answer")


class Sitting(RuleBasedStateMachine):
    """A run at a terminal that is answered, refused, noted, stopped, broken off and resumed."""

    @initialize(body=bodies(), facts=FACTS)
    def begin(self, body: str, facts: dict[str, str]) -> None:
        self.run = answer_opening(start(drawn_program(body), facts))

    def going(self) -> bool:
        return not self.run.state.over

    @precondition(going)
    @rule(seed=st.integers(0, 2**32))
    def answer_some(self, seed: int) -> None:
        rnd = Random(seed)
        for _ in range(1 + seed % 5):
            if not self.run.state.over:
                put(self.run, sensible(rnd, self.run.asked), "answer")

    @precondition(going)
    @rule(text=GARBAGE)
    def say_nonsense(self, text: str) -> None:
        put(self.run, text, "answer")

    @precondition(going)
    @rule(text=GARBAGE)
    def take_a_note(self, text: str) -> None:
        asked = self.run.asked
        put(self.run, text, "note")
        assert self.run.asked == asked

    @precondition(going)
    @rule(text=GARBAGE, sure=st.integers(0, 5))
    def stop(self, text: str, sure: int) -> None:
        if sure == 0:
            assert isinstance(put(self.run, text, "stop"), Entry)
            assert self.run.state.status in ("stopping", "stopped")

    @rule(data=st.data())
    def break_off_and_resume(self, data: st.DataObject) -> None:
        """From any number of entries that reached the disk: the same replies lead to the same entries."""
        kept = data.draw(st.integers(1, len(self.run.entries)))
        state = replay(self.run.entries[:kept])
        for entry in self.run.entries[kept:]:
            if entry.reply.kind == MISTYPED:
                assert strike(self.run.program, self.run.entries[:kept], entry.reply) == entry
                state = replay(self.run.entries[: kept + 1])
            else:
                again = decide(self.run.program, state, entry.reply)
                assert again == entry
                state = apply(state, again)
            kept += 1
        assert state == self.run.state

    @precondition(going)
    @rule(reason=st.sampled_from(["", "The point was left out."]))
    def strike_the_latest_reading(self, reason: str) -> None:
        """Back at its question with everything as it was, or refused and nothing has changed."""
        entries, before = list(self.run.entries), self.run.state
        decided = self.run.reply(reason, MISTYPED)
        if isinstance(decided, Refused):
            assert decided.problem.code == "no-reading"
            assert (self.run.entries, self.run.state) == (entries, before)
            return
        at = max(struck(self.run.entries), key=lambda i: struck(self.run.entries)[i])
        assert self.run.asked.address == entries[at].ask
        unstruck = replay(list(counted(entries))[: list(counted(entries)).index(entries[at])])
        unstruck.entries = self.run.state.entries
        assert self.run.state == unstruck

    @precondition(lambda self: self.run.state.over)
    @rule(text=GARBAGE, kind=st.sampled_from(["answer", "note", "stop"]))
    def answer_when_it_is_over(self, text: str, kind: str) -> None:
        assert isinstance(put(self.run, text, kind), Refused)

    @invariant()
    def state_is_the_fold_of_its_entries(self) -> None:
        if hasattr(self, "run"):
            assert replay(self.run.entries) == self.run.state
            assert self.run.state.over or self.run.state.frames
            assert self.run.state != State()


Sitting.TestCase.settings = settings(max_examples=50, stateful_step_count=30)
test_a_sitting = Sitting.TestCase
