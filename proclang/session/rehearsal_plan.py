"""What the crew of a rehearsal is up to next: something no run has shown yet, and readings from which it follows."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product
from typing import TYPE_CHECKING, cast

import attrs

from proclang.engine.model import Entry
from proclang.engine.working import Working, stored
from proclang.program import model as m
from proclang.session import outcomes as o
from proclang.session import rehearsal_aim as aiming
from proclang.session.outcomes import Outcome
from proclang.session.rehearsal_aim import Aim, Found, Judged
from proclang.session.rehearsal_crew import Instruments
from proclang.session.rehearsal_outlook import Ahead, Key, Outlook, ToJudge, ToRead, Way, key_of
from proclang.values.quantity import Quantity
from proclang.values.show import exact_text
from proclang.values.unit import NONE

if TYPE_CHECKING:
    from proclang.session.rehearsal import Course

GIVEN_UP = 20
"""How often something is tried at one site before other things come first."""

_DRAWS = 40
_MOST_CASES = 64
_REACH = (Fraction(1), Fraction(3, 10), Fraction(3), Fraction(10))
"""How far outside its limits a value is put that is to fail, in half-widths of the limits."""

_EDGE = (
    Fraction(0),
    Fraction(1, 100),
    Fraction(-1, 100),
    Fraction(1, 20),
    Fraction(-1, 20),
    Fraction(3, 20),
    Fraction(-3, 20),
)
"""How far from its limit one is put that is to be undecided."""


_INSIDE = tuple(Fraction(n, 100) for n in (97, 94, 92, 90, 88, 86, 84, 82, 80, 76, 72, 68, 62, 56))
"""How far toward a limit all readings of a series are put, where all of them together are to be doubtful."""


@attrs.define
class Plan:
    """Answers to the questions to come, and what is to come of them."""

    readings: dict[Key, str]
    answers: dict[Key, str]
    goal: Outcome | None = None
    stops_at: str = ""
    """The value that is to end out of tolerance, where that is all that is wanted."""

    loop: str = ""
    leaves: bool | None = None
    """Whether the loop is to be left, or gone round once more."""

    after: tuple[str, int] = ("", 0)
    """The last line at which the loop might be left."""

    @property
    def aimed(self) -> bool:
        """Whether anything is to come of it."""
        return self.goal is not None or bool(self.stops_at) or self.leaves is not None

    def covers(self, course: Course) -> bool:
        """Whether it answers the question a run rests at."""
        key = key_of(course.program, course.state)
        return key in self.readings or key in self.answers

    def reading(self, course: Course) -> str | None:
        """What is read here."""
        return self.readings.get(key_of(course.program, course.state))

    def answer(self, course: Course) -> str | None:
        """What is chosen here."""
        return self.answers.get(key_of(course.program, course.state))

    def reached(self, entries: Sequence[Entry], course: Course) -> bool:
        """Whether what was aimed at has come about in these entries."""
        if not self.aimed:
            return False
        if self.goal is not None and self.goal not in course.seen.outcomes:
            return False
        events = [event for entry in entries for event in entry.then]
        if self.stops_at:
            rests = (e for e in events if e["is"] == "rest" and e["phase"] == "verdict")
            if not any(e["address"].startswith(self.stops_at) for e in rests):
                return False
        if self.leaves is True:
            return any(e["is"] == "loop end" and e["loop"] == self.loop and e["why"] != "bound" for e in events)
        if self.leaves is False:
            routine, pc, loops = key_of(course.program, course.state)[-1] if course.state.frames else ("", 0, ())
            turning = next((name for name, value in reversed(loops) if isinstance(value, int)), "")
            if events and routine == self.after[0] and turning == self.loop and pc > self.after[1]:
                return True
            return any(
                (e["is"] == "pass" and e["loop"] == self.loop and e["n"] > 1)
                or (e["is"] == "loop end" and e["loop"] == self.loop and e["why"] == "bound")
                or (e["is"] == "rest" and e["phase"] == "bound")
                for e in events
            )
        return True


@attrs.define
class _Wish:
    """Something to aim at: a verdict on one value."""

    judged: ToJudge
    outcome: str
    goal: Outcome | None
    spread: bool = False
    stops_at: str = ""


@attrs.define
class Planner:
    """Makes plans. `unseen` says what no run has shown."""

    program: m.Program
    unseen: Callable[[Outcome], bool]
    leads_on: Callable[[str, str, str], bool]
    """Whether something unseen lies in the arm of a choice."""

    behind: dict[tuple[str, str], frozenset[str]]
    instruments: Instruments
    rng: random.Random

    # ------------------------------------------------------------------ plans, the one most wanted first

    def plans(
        self, course: Course, intents: Mapping[str, int], failed: Mapping[Outcome, int], outside: frozenset[str]
    ) -> Iterator[Plan]:
        """Plans from here; the last is one in which all passes as far as it can."""
        ahead = Ahead(self.program, course.state, self.behind)
        loop, stays = self._turn(course, ahead, intents)
        answers = self._answers(ahead, loop, stays)
        begin = dict(course.guesses)
        base = aiming.solve(ahead, answers, begin, {}, {}, None, self.rng)
        course.guesses.update(base.readings)
        tested = self._tested(loop)
        for wish in self._wishes(base.outlook, tested, course):
            if wish.goal is not None and failed.get(wish.goal, 0) >= GIVEN_UP:
                continue
            yield from self._aimed(ahead, answers, base, wish, None, None)
        for judged in base.outlook.judged:
            if judged.symbol.name in outside and judged.routine == course.state.top.routine and not judged.loop:
                yield from self._aimed(
                    ahead,
                    answers,
                    base,
                    _Wish(judged, o.FAILS, None, stops_at=o.statement_of(judged.instr)),
                    None,
                    None,
                )
        if loop is not None and stays:
            yield from self._staying(ahead, answers, base, loop, tested)
        if not stays:
            yield from self._sides(ahead, answers, base, failed)
        leaves = True if loop is not None and not stays else None
        for attempt in range(3):
            if attempt:
                base = aiming.solve(ahead, answers, self._drawn(ahead, answers), {}, {}, None, self.rng)
            for factor in (1.0, 0.0):
                yield self._plan(ahead, answers, base, factor, None, loop, leaves)

    def without_aim(self, course: Course) -> Plan:
        """A plan in which all passes as far as is known."""
        ahead = Ahead(self.program, course.state, self.behind)
        look = ahead.look(course.guesses, {})
        return self._plan(ahead, {}, Found(dict(course.guesses), look, 0.0), 1.0, None, None, None)

    def _turn(self, course: Course, ahead: Ahead, intents: Mapping[str, int]) -> tuple[m.EndLoop | None, bool]:
        """The loop that is being gone through, and whether it is to be gone through once more."""
        if ahead.inside is None:
            return None, False
        frame = course.state.top
        routine = self.program.routine(frame.routine)
        pc = routine.index[frame.address]
        end = next((x for x in routine.code[pc:] if isinstance(x, m.EndLoop) and x.name == ahead.inside), None)
        if end is None:
            return None, False
        now = next(n for name, n in reversed(frame.loops) if name == end.name and isinstance(n, int))
        wanted = intents.get(f"{len(course.state.frames)} {frame.path} {end.address}", 1)
        return end, wanted == 0 or now < wanted

    def _tested(self, loop: m.EndLoop | None) -> list[m.Leave]:
        if loop is None:
            return []
        routine = next(r for r in self.program.routines.values() if loop in r.code)
        return [
            x
            for x in routine.code[loop.begin : routine.index[loop.address]]
            if isinstance(x, m.Leave) and x.loop == loop.name
        ]

    # ------------------------------------------------------------------ answers in words

    def _answers(self, ahead: Ahead, loop: m.EndLoop | None, stays: bool) -> dict[Key, str]:
        """Answers that no run has shown, except where the loop is to be left and they would hold in it."""
        tested = {name for leave in self._tested(loop) for name in leave.condition.names}
        answers: dict[Key, str] = {}
        for _ in range(4):
            look = ahead.look({}, answers)
            new = {
                key: self._option(key, instr)
                for key, instr, _ in look.asked
                if instr.kind == "choose" and key not in answers and (stays or instr.symbol.name not in tested)
            }
            if not new:
                break
            answers.update(new)
        if loop is not None and not stays:
            return self._leaving(ahead, answers, tested)
        return answers

    def _option(self, key: Key, instr: m.Ask) -> str:
        assert isinstance(instr.symbol.type, m.Choice)
        options = instr.symbol.type.options
        unseen = [x for x in options if self.unseen(Outcome(key[-1][0], instr.address, o.answered(x)))]
        if not unseen:
            unseen = [x for x in options if self.leads_on(key[-1][0], instr.symbol.name, x)]
        return unseen[0] if unseen else self.rng.choice(options)

    def _leaving(self, ahead: Ahead, answers: dict[Key, str], tested: set[str]) -> dict[Key, str]:
        """Answers with which the loop is left, as far as they decide it."""
        look = ahead.look({}, answers)
        asks = [(k, i) for k, i, _ in look.asked if i.kind == "choose" and i.symbol.name in tested]
        options = [cast(m.Choice, i.symbol.type).options for _, i in asks]
        for case, words in enumerate(product(*options)):
            if case >= 4 * _MOST_CASES:
                break
            trial = {**answers, **{k: word for (k, _), word in zip(asks, words, strict=True)}}
            found = aiming.solve(ahead, trial, {}, {}, {}, None, self.rng) if case == 0 else None
            readings = found.readings if found is not None else self._last
            self._last = readings
            if ahead.look(readings, trial).left:
                return trial
        return answers

    _last: dict[Key, Fraction] = attrs.field(factory=dict)

    # ------------------------------------------------------------------ verdicts

    def _wishes(self, look: Outlook, tested: list[m.Leave], course: Course) -> Iterator[_Wish]:
        """Verdicts on the way that no run has shown."""
        kept_in = {name for leave in tested for name in leave.condition.verdicts}
        authority = bool(self.program.routine(course.state.top.routine).authority or self.program.opening.authority)
        for judged in look.judged:
            if judged.loop or (judged.handled and judged.symbol.name in kept_in):
                continue
            yield from self._of(judged)
            place = o.statement_of(judged.instr)
            accepted = Outcome(judged.routine, place, o.ACCEPTED)
            can = authority and not judged.handled and not judged.symbol.facets.no_deviation
            if can and self.unseen(accepted):
                spread = not judged.allowed
                if not spread or judged.spread is not None:
                    yield _Wish(judged, o.FAILS, None, spread, stops_at=place)

    def _of(self, judged: ToJudge) -> Iterator[_Wish]:
        place, name = o.statement_of(judged.instr), judged.symbol.name
        outcomes = [o.FAILS, *([o.UNDECIDED] if judged.symbol.facets.guarded is not None else [])]
        for outcome in outcomes if judged.allowed else ():
            goal = Outcome(judged.routine, place, o.judged(name, outcome))
            if self.unseen(goal):
                yield _Wish(judged, outcome, goal)
        if judged.spread is not None:
            goal = Outcome(judged.routine, place, o.judged(name, o.FAILS, spread=True))
            if self.unseen(goal):
                yield _Wish(judged, o.FAILS, goal, spread=True)

    def _aimed(
        self,
        ahead: Ahead,
        answers: dict[Key, str],
        base: Found,
        wish: _Wish,
        loop: m.EndLoop | None,
        leaves: bool | None,
    ) -> Iterator[Plan]:
        """Plans with which a value comes out as wished."""
        at = aiming.judged_at(wish.judged)
        missed = 0
        if wish.outcome == o.UNDECIDED and wish.judged.computed:
            for alike in self._alike(ahead, answers, base, wish):
                yield self._plan(ahead, answers, alike, 0.0, wish, loop, leaves)
        for wanted in self._wanted(wish):
            if missed > 2:
                return
            found = self._direct(ahead, answers, base, wish, wanted)
            if found is None:
                aims = {at: Aim(at, wanted, wish.spread)}
                found = aiming.solve(ahead, answers, base.readings, {}, aims, at, self.rng)
                if found.short > 0.5:
                    missed += 1
                    continue
            for factor in (1.0, 0.0) if wish.outcome == o.FAILS else (0.0,):
                yield self._plan(ahead, answers, found, factor, wish, loop, leaves)

    def _wanted(self, wish: _Wish) -> Iterator[Fraction]:
        judged = wish.judged
        if wish.spread:
            allowed = judged.symbol.facets.spread
            assert allowed is not None
            for reach in (Fraction(3, 2), Fraction(4), Fraction(20)):
                yield allowed.value * reach or aiming.unit_of(judged.symbol) * reach
            return
        scale = aiming.scale_of(judged)
        reaches = _EDGE if wish.outcome == o.UNDECIDED else _REACH
        ends = [(end, side) for x in judged.allowed for end, side in ((x.high, 1), (x.low, -1)) if end is not None]
        for reach in reaches:
            for end, side in ends:
                yield end + side * reach * scale

    def _alike(self, ahead: Ahead, answers: dict[Key, str], base: Found, wish: _Wish) -> Iterator[Found]:
        """Where the greatest or least of a series is judged: all its readings just inside, so that each passes and it
        is doubtful whether all of them do."""
        behind = ahead.behind(self.program.routine(wish.judged.routine), wish.judged.symbol.name)
        series = [x for x in base.outlook.readings if x.symbol is not None and x.symbol.name in behind]
        names = {x.symbol.name for x in series if x.symbol is not None}
        if len(names) != 1 or len(series) < 2:
            return
        for limits in series[0].allowed:
            for end in (x for x in (limits.high, limits.low) if x):
                for share in _INSIDE:
                    readings = {**base.readings, **{x.key: end * share for x in series}}
                    yield Found(readings, ahead.look(readings, answers), 0.0)

    def _direct(
        self, ahead: Ahead, answers: dict[Key, str], base: Found, wish: _Wish, wanted: Fraction
    ) -> Found | None:
        """Where the value is one reading by itself, that is put where it is wanted."""
        judged = wish.judged
        if judged.computed or wish.spread:
            return None
        for coming in base.outlook.readings:
            if coming.instr is judged.instr and coming.value == judged.value and coming.symbol is not None:
                readings = {**base.readings, coming.key: aiming.tidy(coming.symbol, wanted)}
                return Found(readings, ahead.look(readings, answers), 0.0)
        return None

    # ------------------------------------------------------------------ loops and conditions

    def _staying(
        self, ahead: Ahead, answers: dict[Key, str], base: Found, loop: m.EndLoop, tested: list[m.Leave]
    ) -> Iterator[Plan]:
        """Plans with which the loop is gone round once more."""
        names = {name for leave in tested for name in leave.condition.verdicts}
        mine = [x for x in base.outlook.judged if x.symbol.name in names and not x.loop]
        unseen = [wish for judged in mine for wish in self._of(judged)]
        others = [_Wish(judged, o.FAILS, None) for judged in mine if judged.allowed]
        self.rng.shuffle(others)
        for wish in unseen:
            yield from self._aimed(ahead, answers, base, wish, loop, False)
        if ahead.look(base.readings, answers).left is False:
            yield self._plan(ahead, answers, base, 1.0, None, loop, False)
        for wish in others:
            yield from self._aimed(ahead, answers, base, wish, loop, False)
        asked = {name for leave in tested for name in leave.condition.names}
        for key, instr, word in base.outlook.asked:
            if instr.kind == "choose" and instr.symbol.name in asked and isinstance(instr.symbol.type, m.Choice):
                for option in instr.symbol.type.options:
                    changed = {**answers, key: option}
                    if option != word and ahead.look(base.readings, changed).left is False:
                        yield self._plan(ahead, changed, base, 1.0, None, loop, False)

    def _sides(
        self, ahead: Ahead, answers: dict[Key, str], base: Found, failed: Mapping[Outcome, int]
    ) -> Iterator[Plan]:
        """Plans with which a condition comes out as no run has shown it."""
        for way in base.outlook.ways:
            if not isinstance(way.instr, m.Branch) or way.instr.silent or way.took is None:
                continue
            other = "no" if way.took == "yes" else "yes"
            goal = Outcome(way.routine, way.instr.address, o.condition_is(other))
            if not self.unseen(goal) or failed.get(goal, 0) >= GIVEN_UP:
                continue
            for found, changed in self._turned(ahead, answers, base, way, other):
                for factor in (1.0, 0.0):
                    plan = self._plan(ahead, changed, found, factor, None, None, None)
                    plan.goal = goal
                    yield plan

    def _turned(
        self, ahead: Ahead, answers: dict[Key, str], base: Found, way: Way, other: str
    ) -> Iterator[tuple[Found, dict[Key, str]]]:
        """Readings and answers with which a condition comes out the other way, found by drawing them."""
        assert isinstance(way.instr, m.Branch)
        names = way.instr.condition.names
        tried = 0
        for _ in range(_DRAWS):
            changed, held = dict(answers), {}
            for key, instr, _ in base.outlook.asked:
                if instr.symbol.name in names and isinstance(instr.symbol.type, m.Choice):
                    changed[key] = self.rng.choice(instr.symbol.type.options)
            for coming in base.outlook.readings:
                if coming.symbol is not None and any(
                    coming.symbol.name in ahead.behind(self.program.routine(way.routine), name) for name in names
                ):
                    held[coming.key] = aiming.drawn(coming, self.rng)
            readings = {**base.readings, **held}
            look = ahead.look(readings, changed)
            if not any(x.instr is way.instr and x.took == other for x in look.ways):
                continue
            yield Found(readings, look, 0.0), changed
            tried += 1
            if tried == 3:
                return

    def _drawn(self, ahead: Ahead, answers: dict[Key, str]) -> dict[Key, Fraction]:
        return {x.key: aiming.drawn(x, self.rng, 0.4) for x in ahead.look({}, answers).readings if x.symbol is not None}

    # ------------------------------------------------------------------ from values to what is read off

    def _plan(
        self,
        ahead: Ahead,
        answers: dict[Key, str],
        found: Found,
        factor: float,
        wish: _Wish | None,
        loop: m.EndLoop | None,
        leaves: bool | None,
    ) -> Plan:
        """What is read of these values with the instruments in hand. With `factor` 0 what is read is what was wanted:
        the thing measured stood a little otherwise then."""
        readings = {x.key: self._read_off(x, factor) for x in found.outlook.readings if x.symbol is not None}
        goal, stops_at = (wish.goal, wish.stops_at) if wish is not None else (None, "")
        name, after = "", ("", 0)
        if loop is not None:
            routine = next(r for r in self.program.routines.values() if loop in r.code)
            leaves_at = [routine.index[leave.address] for leave in self._tested(loop)]
            name, after = loop.name, (routine.name, max(leaves_at, default=0))
        said = {key: word for key, instr, word in found.outlook.asked if instr.kind == "choose"}
        return Plan(readings, {**said, **answers}, goal, stops_at, name, leaves, after)

    def _read_off(self, coming: ToRead, factor: float) -> str:
        symbol, value = coming.symbol, coming.value
        assert symbol is not None
        routine = self.program.routine(coming.routine)
        name = coming.instr.instrument if isinstance(coming.instr, m.Read) else None
        instrument = routine.instruments.get(name or "")
        step = None
        if instrument is not None and not aiming.is_count(symbol):
            step = instrument.reads_to.value if instrument.reads_to is not None else None
            if factor:
                value = value + self.instruments.shared(instrument, value) + self.instruments.own(instrument, value)
        return typed(symbol, aiming.tidy(symbol, value, step if factor else None))

    def usual(self, course: Course) -> str:
        """A likely reading."""
        ahead = Ahead(self.program, course.state, self.behind)
        return self._read_off(ahead.look({}, {}).readings[0], 1.0)

    def set_value(self, course: Course, instr: m.SetInstr, *, agree: bool) -> str:
        """What the equipment shows after it was set, or after it was set wrongly."""
        symbol = instr.symbol
        value = stored(course.state.top.values[symbol.name][""]).value
        if agree:
            return typed(symbol, value)
        work = Working(self.program, course.state)
        allowed = cast(Fraction, instr.allowed.evaluate(work)) if instr.allowed is not None else Fraction(0)
        return typed(symbol, aiming.tidy(symbol, value + 3 * allowed + aiming.unit_of(symbol)))


def typed(symbol: m.Symbol, value: Fraction) -> str:
    """A value as it is typed."""
    assert isinstance(symbol.type, m.Amount)
    unit = symbol.unit or NONE
    if symbol.type.dimension.is_bearing:
        value %= 360
    text = exact_text(Quantity(value, symbol.type.dimension), unit)
    if "/" in text.split(" ")[0]:
        number = round((value - unit.zero) / unit.factor, 6)
        text = exact_text(Quantity(number * unit.factor + unit.zero, symbol.type.dimension), unit)
    return text


__all__ = ["Judged", "Plan", "Planner", "typed"]
