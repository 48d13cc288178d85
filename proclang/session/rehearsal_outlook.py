"""Looking ahead from a question of a run: which values would be read, worked out and judged from here, and how they
would come out with certain readings.

It is a sketch of the engine, quick enough to be gone through a thousand times: values are judged as they stand, without
their uncertainty, and of each loop one pass is looked at. What really comes of a reading is for the engine to say.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any, cast

import attrs

from proclang.engine.model import State
from proclang.engine.working import stored
from proclang.field.declare import Series
from proclang.program import model as m
from proclang.values.number import NumberError
from proclang.values.quantity import Quantity
from proclang.values.tolerance import Limits, Outcome, judge

Key = tuple[Any, ...]
"""Where a question stands: for each procedure that is gone through its instruction and where its loops stand."""

_MOST_STEPS = 4_000
_MOST_READINGS = 40


@attrs.frozen
class ToRead:
    """A reading that is to come."""

    key: Key
    instr: m.Instr
    symbol: m.Symbol | None
    routine: str
    allowed: tuple[Limits, ...]
    value: Fraction


@attrs.frozen
class ToJudge:
    """A value that is judged on the way. `computed` ones follow from readings."""

    routine: str
    instr: m.Instr
    symbol: m.Symbol
    key: str
    value: Fraction
    allowed: tuple[Limits, ...]
    spread: Fraction | None
    computed: bool
    handled: bool
    loop: bool
    """Inside a `repeat` that begins on the way."""

    @property
    def passes(self) -> bool:
        """Whether it lies within its limits as it stands."""
        assert isinstance(self.symbol.type, m.Amount)
        quantity = Quantity(self.value, self.symbol.type.dimension)
        inside = all(judge(quantity, limits).outcome is Outcome.PASSES for limits in self.allowed)
        return inside and (self.spread is None or self.spread_passes)

    @property
    def spread_passes(self) -> bool:
        """Whether the spread of its series is allowed."""
        allowed = self.symbol.facets.spread
        return self.spread is None or allowed is None or self.spread <= allowed.value


@attrs.frozen
class Way:
    """A condition that was met with, and how it came out; None where it is not known."""

    routine: str
    instr: m.Instr
    took: str | None


@attrs.define
class Outlook:
    """What lies ahead with certain readings and answers."""

    readings: list[ToRead] = attrs.field(factory=list)
    judged: list[ToJudge] = attrs.field(factory=list)
    ways: list[Way] = attrs.field(factory=list)
    asked: list[tuple[Key, m.Ask, str]] = attrs.field(factory=list)
    unknown: int = 0
    """How many values could not be worked out."""

    lost: list[tuple[str, str]] = attrs.field(factory=list)
    """Procedure and name of each."""

    left: bool | None = None
    """Whether the loop that is being gone through would be left; None where the way does not come to that."""


@attrs.define
class _Frame:
    routine: m.Routine
    pc: int
    loops: list[tuple[str, int | str]]
    values: dict[str, dict[str, Fraction | str]]
    outcomes: dict[str, dict[str, str]]
    series: dict[str, list[Fraction]]
    orders: dict[str, list[str]]
    begun: list[str] = attrs.field(factory=list)
    """The `repeat` loops that began on the way."""


def key_of(program: m.Program, state: State) -> Key:
    """The key of the question a run rests at."""
    return tuple(
        (frame.routine, program.routine(frame.routine).index[frame.address], tuple(frame.loops))
        for frame in state.frames
    )


class Ahead:
    """Looks ahead from one state."""

    def __init__(self, program: m.Program, state: State, behind: dict[tuple[str, str], frozenset[str]]) -> None:
        """`behind` is kept between looks: see `behind`."""
        self.program = program
        self._behind = behind
        self._facts = state.facts
        self._rest = state.rest
        self._depth = len(state.frames)
        self._below = key_of(program, state)[:-1]
        top = state.frames[-1]
        self._routine = program.routine(top.routine)
        self._pc = self._routine.index[top.address]
        self._loops = list(top.loops)
        symbols = self._routine.symbols
        self._values = {
            name: {key: _value(symbols.get(name), text) for key, text in keys.items()}
            for name, keys in top.values.items()
        }
        self._outcomes = {name: dict(keys) for name, keys in top.outcomes.items()}
        self._series = {
            key: [stored(text).value for text in texts]
            for key, texts in top.series.items()
            if texts and isinstance(_type_of(symbols.get(key.partition("|")[0])), m.Amount)
        }
        self._orders = {name: list(done) for name, done in top.orders.items()}
        self._joining = bool(top.rereads) and top.rereads[-1][0] == "again"
        self.inside = next((name for name, value in reversed(self._loops) if isinstance(value, int)), None)
        """The innermost `repeat` that is being gone through."""

    def look(self, readings: Mapping[Key, Fraction], answers: Mapping[Key, str]) -> Outlook:
        """What lies ahead with these readings and answers; where none is given, a likely one is taken."""
        values = {name: dict(keys) for name, keys in self._values.items()}
        outcomes = {name: dict(keys) for name, keys in self._outcomes.items()}
        series = {key: list(all_) for key, all_ in self._series.items()}
        orders = {name: list(done) for name, done in self._orders.items()}
        frame = _Frame(self._routine, self._pc, list(self._loops), values, outcomes, series, orders)
        walk = _Walk(self, [frame], readings, answers, Outlook())
        walk.go()
        return walk.out

    def amounts_like(self, symbol: m.Symbol | None) -> list[Fraction]:
        """Single values above zero that are known here, of the quantity of a symbol."""
        kind = _type_of(symbol)
        if not isinstance(kind, m.Amount):
            return []
        found: dict[Fraction, None] = {}
        for name, keys in self._values.items():
            like = _type_of(self._routine.symbols.get(name))
            value = keys.get("")
            if (
                isinstance(like, m.Amount)
                and like.dimension == kind.dimension
                and isinstance(value, Fraction)
                and value > 0
            ):
                found[value] = None
        return list(found)

    def behind(self, routine: m.Routine, name: str) -> frozenset[str]:
        """The names a value rests on, itself included, as the statements of its procedure say."""
        known = self._behind.get((routine.name, name))
        if known is None:
            known = self._behind[routine.name, name] = _names_behind(routine, name)
        return known


def _names_behind(routine: m.Routine, name: str) -> frozenset[str]:
    found = {name}
    todo = [name]
    while todo:
        wanted = todo.pop()
        for instr in routine.code:
            names: tuple[str, ...] = ()
            if isinstance(instr, m.ComputeValue) and any(symbol.name == wanted for symbol, _, _ in instr.targets):
                names = instr.formula.names
            elif isinstance(instr, m.Call) and any(symbol.name == wanted for _, symbol in instr.gives):
                names = tuple(routine.symbols)
            todo.extend(other for other in names if other not in found)
            found.update(names)
    return frozenset(found)


def _type_of(symbol: m.Symbol | None) -> m.Type | None:
    return symbol.type if symbol is not None else None


def _value(symbol: m.Symbol | None, text: str) -> Fraction | str:
    return stored(text).value if symbol is not None and isinstance(symbol.type, m.Amount) else text


@attrs.define
class _Walk:
    """One look. It is also what formulas ask."""

    ahead: Ahead
    frames: list[_Frame]
    readings: Mapping[Key, Fraction]
    answers: Mapping[Key, str]
    out: Outlook
    first: bool = True

    @property
    def top(self) -> _Frame:
        return self.frames[-1]

    def go(self) -> None:
        for _ in range(_MOST_STEPS):
            frame = self.top
            instr = frame.routine.code[frame.pc]
            handler = _HANDLERS.get(type(instr))
            pc = handler(self, instr) if handler is not None else frame.pc + 1
            self.first = False
            if pc is None or len(self.out.readings) > _MOST_READINGS:
                return
            frame = self.top
            frame.pc = pc

    def here(self) -> Key:
        inner = tuple((frame.routine.name, frame.pc, tuple(frame.loops)) for frame in self.frames)
        return (*self.ahead._below, *inner)

    # ------------------------------------------------------------------ what formulas ask

    def amount(self, name: str, key: str) -> Fraction:
        value = self.top.values.get(name, {}).get(key)
        if not isinstance(value, Fraction):
            raise m.NotKnown(name)
        return value

    def series(self, name: str) -> Series:
        keys = self.top.values.get(name)
        if not keys:
            raise m.NotKnown(name)
        kind = _type_of(self.top.routine.symbols.get(name))
        order = kind.axes[0] if isinstance(kind, m.Amount) and len(kind.axes) == 1 else tuple(keys)
        return Series(tuple((label, self.amount(name, label)) for label in order))

    def label(self, name: str) -> str:
        for loop, value in reversed(self.top.loops):
            if loop == name:
                return str(value)
        known = self.top.values.get(name, {}).get("")
        if isinstance(known, str):
            return known
        if name == "hemisphere" and name in self.ahead._facts:
            return self.ahead._facts[name]
        raise m.NotKnown(name)

    def outcome(self, name: str, key: str) -> str:
        judged = self.top.outcomes.get(name)
        if not judged:
            raise m.NotKnown(name)
        if key:
            return judged.get(key, "undecided")
        return next((o for o in ("fails", "undecided") if o in judged.values()), "passes")

    def off(self, calculation: str) -> float:
        return 0.0

    # ------------------------------------------------------------------ values

    def _labels(self, labels: tuple[str, ...], variables: tuple[bool, ...]) -> str:
        return ",".join(self.label(x) if variable else x for x, variable in zip(labels, variables, strict=True))

    def _allowed(self, symbol: m.Symbol) -> tuple[Limits, ...]:
        found = []
        for make, _ in symbol.facets.limits:
            try:
                found.append(make(self))
            except (m.NotKnown, NumberError):
                continue
        return tuple(found)

    def _judge(self, instr: Any, symbol: m.Symbol, key: str, value: Fraction, *, computed: bool) -> None:
        spread = None
        series = [x for x in self.top.values[symbol.name].values() if isinstance(x, Fraction)]
        if symbol.facets.spread is not None and len(series) > 1:
            spread = max(series) - min(series)
        if not symbol.facets.judged:
            return
        judged = ToJudge(
            self.top.routine.name, instr, symbol, key, value, self._allowed(symbol), spread, computed,
            instr.handled, bool(self.top.begun or any(f.begun for f in self.frames)),
        )  # fmt: skip
        self.out.judged.append(judged)
        self.top.outcomes.setdefault(symbol.name, {})[key] = "passes" if judged.passes else "fails"

    def read(self, instr: m.Read) -> int:
        frame, symbol = self.top, instr.symbol
        key = self._labels(instr.labels, instr.variables)
        allowed = self._allowed(symbol)
        here = self.here()
        value = self.readings.get(here)
        if value is None:
            value = likely(symbol, allowed)
        self.out.readings.append(ToRead(here, instr, symbol, frame.routine.name, allowed, value))
        before = frame.series.get(f"{symbol.name}|{key}", [])
        joins = (not self.ahead._rest.get("new", True)) if self.first else (instr.again or self.ahead._joining)
        readings = [*before, value] if joins else [value]
        frame.series[f"{symbol.name}|{key}"] = readings
        stands = _mean(symbol, readings)
        frame.values.setdefault(symbol.name, {})[key] = stands
        self._judge(instr, symbol, key, stands, computed=False)
        return frame.pc + 1

    def compute(self, instr: m.ComputeValue) -> int:
        frame = self.top
        try:
            outcome = instr.formula.evaluate(self)
        except (m.NotKnown, NumberError):
            self.out.unknown += 1
            self.out.lost.append((frame.routine.name, instr.targets[0][0].name))
            return frame.pc + 1
        outcomes = cast("tuple[Any, ...]", outcome) if isinstance(outcome, tuple) else (outcome,)
        for (symbol, labels, variables), value in zip(instr.targets, outcomes, strict=True):
            key = self._labels(labels, variables)
            pairs = value.items if isinstance(value, Series) else ((key, value),)
            for label, amount in pairs:
                frame.values.setdefault(symbol.name, {})[label] = amount
            for label, amount in pairs:
                self._judge(instr, symbol, label, amount, computed=True)
        return frame.pc + 1

    def set_value(self, instr: m.SetInstr) -> int:
        try:
            value = cast(Fraction, instr.formula.evaluate(self))
            self.top.values[instr.symbol.name] = {"": value}
            self.top.outcomes[instr.symbol.name] = {"": "passes"}
        except (m.NotKnown, NumberError):
            self.out.unknown += 1
        return self.top.pc + 1

    def ask(self, instr: m.Ask) -> int:
        here = self.here()
        options = instr.symbol.type.options if isinstance(instr.symbol.type, m.Choice) else ()
        usual = "yes" if instr.kind == "confirm" else options[0] if options else "rehearsed"
        word = self.answers.get(here, usual)
        self.out.asked.append((here, instr, word))
        self.top.values[instr.symbol.name] = {"": word}
        return self.top.pc + 1

    def acknowledge(self, instr: m.Acknowledge) -> int:
        for asked in instr.hazard.asks:
            known: Fraction | str = asked.unit.factor * 3 if asked.unit is not None else "rehearsed"
            self.top.values.setdefault(asked.name, {"": known})
        return self.top.pc + 1

    def upsets(self, instr: m.UpsetsInstr) -> int:
        for name in instr.names:
            for key in list(self.top.series):
                if key.partition("|")[0] == name:
                    self.top.series[key] = []
        return self.top.pc + 1

    # ------------------------------------------------------------------ ways

    def arms(self, instr: m.Arms) -> int | None:
        try:
            label = str(instr.subject.evaluate(self))
        except m.NotKnown:
            return None
        self.out.ways.append(Way(self.top.routine.name, instr, label))
        return instr.targets.get(label)

    def _holds(self, instr: m.Branch | m.Leave) -> bool | None:
        try:
            holds: bool | None = bool(instr.condition.evaluate(self))
        except (m.NotKnown, NumberError):
            holds = None
        took = None if holds is None else "yes" if holds else "no"
        self.out.ways.append(Way(self.top.routine.name, instr, took))
        return holds

    def branch(self, instr: m.Branch) -> int:
        return self.top.pc + 1 if self._holds(instr) else instr.otherwise

    def leave(self, instr: m.Leave) -> int | None:
        holds = self._holds(instr)
        if instr.loop not in self.top.begun:
            # The loop that is being gone through: what comes after it is another matter.
            if len(self.frames) == 1:
                self.out.left = bool(holds)
            if holds or len(self.frames) > 1:
                return None
            return self.top.pc + 1
        if holds:
            self._out_of(instr.loop)
            return instr.out
        return self.top.pc + 1

    def begin_loop(self, instr: m.BeginLoop) -> int:
        self.top.loops.append((instr.name, 1))
        self.top.begun.append(instr.name)
        return self.top.pc + 1

    def end_loop(self, instr: m.EndLoop) -> int | None:
        if instr.name not in self.top.begun:
            return None
        self._out_of(instr.name)
        return instr.out  # as if it were left: the verdict that keeps it in tells against these readings

    def _out_of(self, loop: str) -> None:
        frame = self.top
        while frame.loops and frame.loops.pop()[0] != loop:
            pass
        frame.begun = [name for name in frame.begun if name in {x for x, _ in frame.loops}]

    def begin_each(self, instr: m.BeginEach) -> int:
        self.top.loops.append((instr.variable, instr.labels[0]))
        return self.top.pc + 1

    def end_each(self, instr: m.EndEach) -> int:
        place = instr.labels.index(self.label(instr.variable)) + 1
        self.top.loops.pop()
        if place < len(instr.labels):
            self.top.loops.append((instr.variable, instr.labels[place]))
            return instr.begin
        return self.top.pc + 1

    def any_order(self, instr: m.AnyOrderInstr) -> int:
        done = self.top.orders.get(instr.address, [])
        return next((begin for name, _, begin in instr.steps if name not in done), instr.out)

    def order_done(self, instr: m.OrderDone) -> int:
        self.top.orders.setdefault(self.top.routine.code[instr.back].address, []).append(instr.step)
        return instr.back

    def jump(self, instr: m.Jump) -> int:
        return instr.target

    def call(self, instr: m.Call) -> int | None:
        routine = self.ahead.program.routine(instr.routine)
        values: dict[str, dict[str, Fraction | str]] = {}
        try:
            for symbol, formula in instr.arguments:
                value = formula.evaluate(self)
                values[symbol.name] = {"": value if isinstance(value, Fraction) else str(value)}
        except (m.NotKnown, NumberError):
            return None
        for symbol in routine.inputs:
            if symbol.name in values:
                continue
            text = self.ahead._facts.get(symbol.name)
            if text is not None:
                values[symbol.name] = {"": _value(symbol, text)}
            elif isinstance(symbol.default, Quantity):
                values[symbol.name] = {"": symbol.default.value}
            elif symbol.default is not None:
                values[symbol.name] = {"": symbol.default}
        self.frames.append(_Frame(routine, 0, [], values, {}, {}, {}))
        return 0

    def end_routine(self, instr: m.Return) -> int | None:
        if len(self.frames) == 1:
            return None
        inner = self.frames.pop()
        call = self.top.routine.code[self.top.pc]
        assert isinstance(call, m.Call)
        for name, symbol in call.gives:
            self.top.values[symbol.name] = dict(inner.values.get(name, {}))
            if name in inner.outcomes:
                self.top.outcomes[symbol.name] = dict(inner.outcomes[name])
        return self.top.pc + 1

    def end(self, instr: m.Instr) -> None:
        return None


_HANDLERS: dict[type[m.Instr], Any] = {
    m.Read: _Walk.read,
    m.ComputeValue: _Walk.compute,
    m.SetInstr: _Walk.set_value,
    m.Ask: _Walk.ask,
    m.Acknowledge: _Walk.acknowledge,
    m.UpsetsInstr: _Walk.upsets,
    m.Arms: _Walk.arms,
    m.Branch: _Walk.branch,
    m.Leave: _Walk.leave,
    m.BeginLoop: _Walk.begin_loop,
    m.EndLoop: _Walk.end_loop,
    m.BeginEach: _Walk.begin_each,
    m.EndEach: _Walk.end_each,
    m.AnyOrderInstr: _Walk.any_order,
    m.OrderDone: _Walk.order_done,
    m.Jump: _Walk.jump,
    m.Call: _Walk.call,
    m.Return: _Walk.end_routine,
    m.EndStopped: _Walk.end,
}


def _mean(symbol: m.Symbol, readings: list[Fraction]) -> Fraction:
    if len(readings) == 1:
        return readings[0]
    assert isinstance(symbol.type, m.Amount)
    if symbol.type.dimension.is_bearing:
        apart = [(r - readings[0] + 180) % 360 - 180 for r in readings]
        return (readings[0] + sum(apart, Fraction(0)) / len(apart)) % 360
    return sum(readings, Fraction(0)) / len(readings)


def likely(symbol: m.Symbol, allowed: tuple[Limits, ...]) -> Fraction:
    """A reading to begin with: well within its limits and what can be expected, else a few of its unit."""
    assert isinstance(symbol.type, m.Amount)
    lows = [x.low for x in allowed if x.low is not None]
    highs = [x.high for x in allowed if x.high is not None]
    unit = symbol.unit.factor if symbol.unit is not None else Fraction(1)
    if symbol.type.dimension.is_bearing:
        if lows and highs:
            return (lows[0] + (highs[0] - lows[0]) % 360 / 2) % 360
        plausible = symbol.facets.plausible
        if plausible is None:
            return Fraction(40)
        return (plausible[0].value + (plausible[1].value - plausible[0].value) % 360 / 2) % 360
    low, high = (max(lows) if lows else None), (min(highs) if highs else None)
    plausible = symbol.facets.plausible
    if plausible is not None:
        low = plausible[0].value if low is None else max(low, min(plausible[0].value, low))
        high = plausible[1].value if high is None else high
    if low is not None and high is not None:
        return (low + high) / 2
    if symbol.type.dimension.is_instant:
        # A one-sided limit on an instant is another instant: an hour after it, or before.
        return low + 3_600 if low is not None else high - 3_600 if high is not None else Fraction(986_000_000)
    if low is not None:
        return low + max(abs(low) / 2, unit)
    if high is not None:
        return high / 2 if high > 0 else high - max(abs(high) / 2, unit)
    return 10 * unit
