"""A rehearsal: the engine is asked on by a crew that is made up, so that everything that can come about does, in few
runs.

Each run goes for what no run before it has shown: at every question that something hangs on, the crew looks ahead,
picks something still unseen, and finds readings from which it follows (`rehearsal_plan`). What ends a run before its
end (a stop, a bound that nobody may accept) branches off where a run came by: the entries up to there are those of that
run. Nothing here knows the list of what is feasible; that is held against the journals afterwards.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any

import attrs

from proclang.engine.decide import begin, decide
from proclang.engine.fold import apply
from proclang.engine.model import Entry, Event, Over, Refused, Reply, Request, State
from proclang.engine.request import next_request
from proclang.engine.ways import authorised
from proclang.engine.working import Working
from proclang.program import model as m
from proclang.session import outcomes as o
from proclang.session.clock import SteppedClock
from proclang.session.outcomes import Outcome
from proclang.session.outcomes_seen import Seen
from proclang.session.rehearsal_crew import Instruments, word_for
from proclang.session.rehearsal_plan import GIVEN_UP, Plan, Planner

_MOST_ENTRIES = 20_000
_TRIES = 7
"""How often the crew puts one thing right before it accepts it, or stops."""

_MISSES = 24
"""How many plans are tried at one question that lead nowhere."""

_BARREN = 2
"""Runs in a row that show nothing new, after which there is nothing more to be tried."""


@attrs.define
class Course:
    """A run in the making. It can be copied at any question, and led on from there in two ways."""

    program: m.Program
    state: State
    entries: list[Entry]
    seen: Seen
    tries: dict[str, int] = attrs.field(factory=dict)
    intents: dict[str, int] = attrs.field(factory=dict)
    """In which pass each loop is to be left; 0: never."""

    guesses: dict[Any, Fraction] = attrs.field(factory=dict)
    """Values that would do, found on the way, to begin the next search with."""

    plan: Plan | None = None
    end: Outcome | None = None
    """What it branched off for."""

    tried: dict[Any, tuple[State, Entry | Refused, State]] = attrs.field(factory=dict, repr=False)
    """What replies have led to, so that nothing is decided twice where a plan was tried first. Shared by copies."""

    branches: list[Course] = attrs.field(factory=list)
    """What branched off from it, still to be gone through."""

    def copy(self) -> Course:
        """One that can be led on by itself."""
        return Course(
            self.program, self.state, list(self.entries), self.seen.copy(), dict(self.tries), dict(self.intents),
            dict(self.guesses), self.plan, None, self.tried,
        )  # fmt: skip

    @property
    def planned(self) -> bool:
        """Whether a plan is being followed."""
        return self.plan is not None

    @property
    def request(self) -> Request | Over:
        """What is asked next."""
        return next_request(self.program, self.state)

    def reply(self, text: str, kind: str = "answer") -> Entry | Refused:
        """Give a reply."""
        before = self.state
        known = self.tried.get((id(before), text, kind))
        if known is None:
            stamp = SteppedClock(stamps=len(self.entries)).stamp()
            decided = decide(self.program, before, Reply(text, kind, stamp))
            after = apply(before, decided) if isinstance(decided, Entry) else before
            known = self.tried[id(before), text, kind] = (before, decided, after)
        decided = known[1]
        if isinstance(decided, Entry):
            self.state = known[2]
            self.entries.append(decided)
            self.seen.follow((decided,))
        return decided


@attrs.define
class Rehearsal:
    """Runs of one program, at one site after the other. `seen` is what all of them have shown."""

    program: m.Program
    seed: int = 1
    seen: dict[Outcome, None] = attrs.field(factory=dict)
    _behind: dict[tuple[str, str], frozenset[str]] = attrs.field(factory=dict)
    _failed: dict[Any, int] = attrs.field(factory=dict)
    _aside: set[Outcome] = attrs.field(factory=set)
    _runs: int = 0

    def at_site(self, opened: Mapping[str, Any]) -> list[Course]:
        """Runs at one site, until no more comes of them. `opened` is what a run there is begun with."""
        kept: list[Course] = []
        waiting: list[Course] = []
        barren = 0
        self._failed.clear()
        whole = self.program.opening
        unseen = _Unseen(self.program, lambda outcome: outcome not in self.seen)
        while barren < _BARREN and (not kept or unseen.between(whole, 0, len(whole.code))):
            course = self._fresh(opened)
            if self._go_through(course, kept):
                barren = 0
            else:
                barren += 1
            waiting.extend(course.branches)
            # The innermost first: their stops lead outward, through those around them.
            waiting.sort(key=lambda branch: (-_weight(branch), -len(branch.state.frames)))
            while waiting:
                branch = waiting.pop(0)
                if branch.end in self.seen:
                    continue
                self._go_through(branch, kept)
                waiting[:0] = branch.branches
        return kept

    def _fresh(self, opened: Mapping[str, Any]) -> Course:
        stamp = SteppedClock().stamp()
        entry = begin(self.program, dict(opened), stamp)
        seen = Seen(self.program)
        seen.follow((entry,))
        self._runs += 1
        return Course(self.program, apply(State(), entry), [entry], seen)

    def _go_through(self, course: Course, kept: list[Course]) -> bool:
        """Lead a run to its end; keep it if it shows anything that none has shown before."""
        crew = _Crew(self, course, random.Random(f"{self.seed} {self._runs} {course.end}"))
        crew.work()
        new = [x for x in course.seen.outcomes if x not in self.seen]
        if not new or not course.state.over:
            return False
        self.seen.update(dict.fromkeys(new))
        kept.append(course)
        return True


def _weight(branch: Course) -> int:
    """Ends that are reached by more than a stop come first: they stop as well."""
    return 0 if branch.end is not None and branch.end.says == o.STOPPED else 1


class _Crew:
    """Leads one run."""

    def __init__(self, rehearsal: Rehearsal, course: Course, rng: random.Random) -> None:
        self.rehearsal = rehearsal
        self.course = course
        self.rng = rng
        self.instruments = Instruments(rng)
        self.ending = course.end
        self.trying = False
        """Whether a plan is only being tried: then nothing else is aimed at on its way."""

        self.since = 0
        """How many entries there were when the plan was made."""

    def unseen(self, outcome: Outcome) -> bool:
        """Whether neither this run nor one before it has shown something."""
        return outcome not in self.rehearsal.seen and outcome not in self.course.seen.outcomes

    def work(self) -> None:
        """Answer until the run is over."""
        course = self.course
        for _ in range(_MOST_ENTRIES):
            request = course.request
            if isinstance(request, Over):
                return
            self._branch_off(request)
            self.answer(course, request)
            plan = course.plan
            if plan is not None and plan.aimed and plan.reached(course.entries[self.since :], course):
                course.plan = None

    # ------------------------------------------------------------------ ends that branch off

    def _branch_off(self, request: Request) -> None:
        """Where a stop here would show something new, keep this point for a run of its own."""
        course = self.course
        if course.state.status != "running":
            return
        frame = course.state.top
        routine = course.program.routine(frame.routine)
        enter = routine.code[routine.index[frame.section]] if frame.section else None
        if isinstance(enter, m.EnterSection) and enter.stopped is not None:
            self._keep_for(Outcome(routine.name, enter.address, o.STOPPED))

    def _keep_for(self, outcome: Outcome, intents: Mapping[str, int] | None = None) -> None:
        if not self.unseen(outcome) or outcome in self.rehearsal._aside or outcome == self.ending:
            return
        self.rehearsal._aside.add(outcome)
        branch = self.course.copy()
        branch.end = outcome
        branch.plan = None
        branch.intents.update(intents or {})
        self.course.branches.append(branch)

    # ------------------------------------------------------------------ one answer

    def answer(self, course: Course, request: Request) -> Entry:
        """Answer one question of a run. Raises `AssertionError` where the engine takes no answer."""
        if course.state.status == "running" and self._ends_here(course):
            self.ending = None
            return self._given(course, "rehearsed stop", "stop")
        if request.phase in ("read", "choose") and course.state.status == "running":
            self._plan(course)
        text = self._text(course, request)
        return self._given(course, text)

    def _ends_here(self, course: Course) -> bool:
        end = self.ending
        return end is not None and end.says == o.STOPPED and course.state.top.section == end.address

    def _given(self, course: Course, text: str, kind: str = "answer") -> Entry:
        taken = course.reply(text, kind)
        if isinstance(taken, Refused) and taken.problem.code == "implausible":
            taken = course.reply(f"really {text}", kind)
        if isinstance(taken, Refused):
            request = course.request
            where = request.address if isinstance(request, Request) else ""
            raise AssertionError(f"`{text}` was not taken at {where}: {taken.problem.message}")
        if course.plan is not None and any(_turns(event) for event in taken.then):
            course.plan = None
        return taken

    def _text(self, course: Course, request: Request) -> str:
        state = course.state
        routine = course.program.routine(state.top.routine)
        instr = routine.code[routine.index[state.top.address]]
        if request.phase in ("read", "read back", "after power cycle"):
            return self._reading(course, request, instr)
        if request.phase == "choose":
            planned = course.plan.answer(course) if course.plan is not None else None
            return planned or request.choices[0]
        if request.phase == "confirm":
            return self._confirmed(course, routine, instr)
        if request.phase == "found":
            return self._found(routine, instr, request)
        if request.phase == "accepted by":
            return authorised(Working(course.program, state))[0]
        if request.phase == "which way":
            return request.choices[0]
        if request.phase in ("verdict", "unknown", "bound", "left", "blocked"):
            return self._way(course, routine, instr, request)
        return word_for(request, state, self.rng)

    def _reading(self, course: Course, request: Request, instr: m.Instr) -> str:
        if request.phase != "read":
            return self._read_back(course, request, instr)
        if course.plan is not None and (planned := course.plan.reading(course)) is not None:
            return planned
        # On the way to the safe state nothing is aimed at.
        return self._planner(course).usual(course)

    def _read_back(self, course: Course, request: Request, instr: m.Instr) -> str:
        assert isinstance(instr, m.SetInstr)
        cycled = request.phase == "after power cycle"
        differs = o.CYCLED_DIFFERS if cycled else o.DIFFERS
        agree = not self.unseen(Outcome(course.state.top.routine, instr.address, differs))
        # Accepted is what differs, so it has to differ once more where that is still to be shown.
        accepted = Outcome(course.state.top.routine, instr.address, o.ACCEPTED)
        if agree and not instr.symbol.facets.no_deviation and self.unseen(accepted):
            agree = course.tries.get(instr.address, 0) >= _TRIES
        agree = agree or self.trying
        return self._planner(course).set_value(course, instr, agree=agree)

    def _confirmed(self, course: Course, routine: m.Routine, instr: m.Instr) -> str:
        assert isinstance(instr, m.Ask)
        if self.trying or course.state.status != "running" or course.tries.get(instr.address, 0) >= _TRIES:
            return "yes"
        if self.unseen(Outcome(routine.name, instr.address, o.answered("no"))):
            return "no"
        can = bool(authorised(Working(course.program, course.state))) and not instr.symbol.facets.no_deviation
        if can and self.unseen(Outcome(routine.name, instr.address, o.ACCEPTED)):
            return "no"
        return "yes"

    def _found(self, routine: m.Routine, instr: m.Instr, request: Request) -> str:
        assert isinstance(instr, m.AskFound)
        others = [state for state in instr.states if state != instr.expected]
        if others and not self.trying and self.unseen(Outcome(routine.name, instr.address, o.OTHERWISE)):
            return self.rng.choice(others)
        return instr.expected

    def _way(self, course: Course, routine: m.Routine, instr: m.Instr, request: Request) -> str:
        """What to do about something that is not as it has to be."""
        tried = course.tries[instr.address] = course.tries.get(instr.address, 0) + 1
        accepted = Outcome(routine.name, o.statement_of(instr), o.ACCEPTED)
        words = request.choices
        course.plan = None
        wanted = "accept" in words and request.phase in ("verdict", "bound") and self.unseen(accepted)
        if wanted and (request.phase == "bound" or not self._more_to_fail(routine, instr)):
            return "accept"
        if "accept" in words and request.phase == "verdict" and self._failing_outside(course) & _judged_names(instr):
            return "accept"
        for word in ("changed", "adjust", "again"):
            if word in words and tried <= _TRIES:
                return word
        return "accept" if "accept" in words else "stop"

    def _more_to_fail(self, routine: m.Routine, instr: m.Instr) -> bool:
        """Whether a value has still to be shown failing, or undecided: then it is put right and read once more."""
        place = o.statement_of(instr)
        symbols = [instr.symbol] if isinstance(instr, m.Read) else []
        if isinstance(instr, m.ComputeValue):
            symbols = [symbol for symbol, _, _ in instr.targets]
        for symbol in symbols:
            if not symbol.facets.limits:
                continue
            wanted = [o.FAILS, *([o.UNDECIDED] if symbol.facets.guarded is not None else [])]
            for outcome in wanted:
                unseen = Outcome(routine.name, place, o.judged(symbol.name, outcome))
                if self.unseen(unseen) and self.rehearsal._failed.get(unseen, 0) < GIVEN_UP:
                    return True
        return False

    # ------------------------------------------------------------------ plans

    def _planner(self, course: Course) -> Planner:
        unseen = _Unseen(course.program, self.unseen)
        return Planner(course.program, self.unseen, unseen.in_arm, self.rehearsal._behind, self.instruments, self.rng)

    def _plan(self, course: Course) -> None:
        """See that there is an answer to the question that is open: the plan's, or a new plan."""
        if course.plan is not None and course.plan.covers(course):
            return
        planner = self._planner(course)
        intents = self._intents(course)
        course.tried.clear()
        outside = self._failing_outside(course)
        plans = planner.plans(course, intents, self.rehearsal._failed, outside)
        for missed, plan in enumerate(plans, 1):
            if self._try(course, plan):
                course.plan, self.since = plan, len(course.entries)
                return
            last = plan
            if plan.aimed and missed > _MISSES:
                # Something nearer stands in the way: on without an aim, and see it when it comes.
                last = planner.without_aim(course)
                break
            if plan.goal is not None:
                self.rehearsal._failed[plan.goal] = self.rehearsal._failed.get(plan.goal, 0) + 1
        course.plan, self.since = last, len(course.entries)

    def _try(self, course: Course, plan: Plan) -> bool:
        """Whether a plan leads where it is to lead, by what the engine says."""
        trial = course.copy()
        trial.plan = plan
        before = len(trial.entries)
        for _ in range(200):
            request = trial.request
            if isinstance(request, Over):
                return not plan.aimed
            if request.phase in ("read", "choose") and not plan.covers(trial):
                return not plan.aimed
            if request.phase in ("verdict", "unknown", "bound"):
                return False
            self.trying = True
            try:
                self._given(trial, self._text(trial, request))
            except AssertionError:
                return False
            finally:
                self.trying = False
            if plan.reached(trial.entries[before:], trial):
                return True
            if not trial.planned:
                return not plan.aimed
        return not plan.aimed

    def _intents(self, course: Course) -> dict[str, int]:
        """In which pass each loop around here is to be left: one that no run has shown, else the first."""
        frame = course.state.top
        routine = course.program.routine(frame.routine)
        for end in (x for x in routine.code if isinstance(x, m.EndLoop)):
            if not any(name == end.name and isinstance(n, int) for name, n in frame.loops):
                continue
            key = f"{len(course.state.frames)} {frame.path} {end.address}"
            now = next(n for name, n in frame.loops if name == end.name and isinstance(n, int))
            if now == 1 or key not in course.intents:
                course.intents[key] = self._leave_in(course, routine, end, now, key)
        return course.intents

    def _failing_outside(self, course: Course) -> frozenset[str]:
        """The values of the procedure that is performed which have to fail, so that the loop it is performed in goes
        round once more."""
        frames = course.state.frames
        if len(frames) < 3:
            return frozenset()
        caller = frames[-2]
        routine = course.program.routine(caller.routine)
        pc = routine.index[caller.address]
        call = routine.code[pc]
        loop = next((x for x in reversed(caller.loops) if isinstance(x[1], int)), None)
        if not isinstance(call, m.Call) or loop is None:
            return frozenset()
        end = next((x for x in routine.code[pc:] if isinstance(x, m.EndLoop) and x.name == loop[0]), None)
        if end is None:
            return frozenset()
        tested = {
            name
            for x in routine.code[end.begin : routine.index[end.address]]
            if isinstance(x, m.Leave) and x.loop == end.name
            for name in x.condition.verdicts
        }
        names = frozenset(name for name, symbol in call.gives if symbol.name in tested)
        if not names:
            return names
        key, now = f"{len(frames) - 1} {caller.path} {end.address}", loop[1]
        assert isinstance(now, int)
        if now == 1 and key not in course.intents:
            course.intents[key] = self._leave_in(course, routine, end, now, key)
        wanted = course.intents.get(key, 1)
        return names if wanted == 0 or now < wanted else frozenset()

    def _leave_in(self, course: Course, routine: m.Routine, end: m.EndLoop, now: int, key: str) -> int:
        ending = self.ending
        if ending is not None and ending[:2] == (routine.name, end.address) and ending.says == o.BOUND:
            return 0
        bound = Outcome(routine.name, end.address, o.BOUND)
        if self.unseen(bound) and self._ends_run(course, routine, end):
            self._keep_for_bound(bound, key)
        for passes in o.loop_counts(end.bound):
            unseen = Outcome(routine.name, end.address, o.left_after(passes))
            if passes >= now and self.unseen(unseen) and self.rehearsal._failed.get(unseen, 0) < GIVEN_UP:
                return passes
        accepted = Outcome(routine.name, end.address, o.ACCEPTED)
        if not self._ends_run(course, routine, end) and (
            self.unseen(bound) or (end.unfinished and self.unseen(accepted))
        ):
            return 0
        unseen_in = _Unseen(course.program, self.unseen)
        if end.exhausted != end.out and unseen_in.between(routine, end.exhausted, end.out):
            return 0
        tail = max(
            (
                routine.index[x.address]
                for x in routine.code[end.begin : routine.index[end.address]]
                if isinstance(x, m.Leave) and x.loop == end.name
            ),
            default=end.begin,
        )
        if now == 1 and end.bound > 1 and unseen_in.between(routine, tail, routine.index[end.address]):
            return 2
        return now

    def _keep_for_bound(self, bound: Outcome, key: str) -> None:
        self._keep_for(bound, {key: 0})

    def _ends_run(self, course: Course, routine: m.Routine, end: m.EndLoop) -> bool:
        """Whether nothing but a stop follows the bound of a loop."""
        if not end.unfinished:
            return False
        body = routine.code[end.begin : routine.index[end.address]]
        tested = {name for x in body if isinstance(x, m.Leave) for name in x.condition.verdicts}
        symbols = routine.symbols
        never = any(name in symbols and symbols[name].facets.no_deviation for name in tested)
        return never or not authorised(Working(course.program, course.state))


@attrs.frozen
class _Unseen:
    """Where something that no run has shown may lie: as a procedure is written, whatever may come about in it."""

    program: m.Program
    unseen: Callable[[Outcome], bool]

    def in_arm(self, routine_name: str, choice: str, label: str) -> bool:
        """Whether there is some in an arm of a choice."""
        routine = self.program.routine(routine_name)
        for instr in routine.code:
            if isinstance(instr, m.Arms) and instr.name == choice and label in instr.targets:
                begin = instr.targets[label]
                later = [x for x in instr.targets.values() if x > begin]
                if self.between(routine, begin, min(later, default=begin + 40)):
                    return True
        return False

    def between(self, routine: m.Routine, begin: int, end: int, depth: int = 0) -> bool:
        """Whether there is some in these lines, or in what they perform."""
        for instr in routine.code[begin:end]:
            if isinstance(instr, m.Call):
                inner = self.program.routine(instr.routine)
                if depth < 20 and self.between(inner, 0, len(inner.code), depth + 1):
                    return True
            elif any(self.unseen(Outcome(routine.name, o.statement_of(instr), says)) for says in _may_come(instr)):
                return True
        return False


def _may_come(instr: m.Instr) -> Iterator[str]:
    """What may come about at a line, taken by itself."""
    if isinstance(instr, (m.Read, m.ComputeValue)):
        symbols = [instr.symbol] if isinstance(instr, m.Read) else [symbol for symbol, _, _ in instr.targets]
        for symbol in symbols:
            if symbol.facets.limits:
                yield o.judged(symbol.name, o.PASSES)
                yield o.judged(symbol.name, o.FAILS)
                if symbol.facets.guarded is not None:
                    yield o.judged(symbol.name, o.UNDECIDED)
                if not symbol.facets.no_deviation and not instr.handled:
                    yield o.ACCEPTED
    elif isinstance(instr, m.Branch) and not instr.silent:
        yield o.condition_is("yes")
        yield o.condition_is("no")
    elif isinstance(instr, m.EndLoop):
        yield from (o.left_after(passes) for passes in o.loop_counts(instr.bound))
        yield o.BOUND
    elif isinstance(instr, m.Ask) and instr.kind == "confirm":
        yield o.answered("yes")
        yield o.answered("no")
    elif isinstance(instr, m.Ask) and isinstance(instr.symbol.type, m.Choice):
        yield from map(o.answered, instr.symbol.type.options)
    elif isinstance(instr, m.EnterSection) and instr.stopped is not None:
        yield o.STOPPED
    elif isinstance(instr, m.AskFound) and not instr.counted:
        yield o.AS_DECLARED
        if len(instr.states) > 1:
            yield o.OTHERWISE


def _turns(event: Event) -> bool:
    """Whether the way goes on otherwise than a plan reaches: round a loop, out of it, or back."""
    return event["is"] in ("pass", "way") or (event["is"] == "loop end" and event["why"] != "all")


def _judged_names(instr: m.Instr) -> frozenset[str]:
    """The values a line judges."""
    if isinstance(instr, m.Read):
        return frozenset((instr.symbol.name,))
    if isinstance(instr, m.ComputeValue):
        return frozenset(symbol.name for symbol, _, _ in instr.targets)
    return frozenset()


def questions(entries: Sequence[Entry]) -> int:
    """How many questions a run answered."""
    return sum(entry.reply.kind == "answer" for entry in entries)


def events(entries: Sequence[Entry]) -> list[Event]:
    """All events of a run."""
    return [event for entry in entries for event in entry.then]
