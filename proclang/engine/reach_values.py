"""What happens when the engine reaches a reading, a calculation, a setting or something that upsets values.

The readings of a name since it was last adjusted are one series. A series begins where a `measure` is come to, where a
technician says that something has been adjusted, and where the name, or a value computed from it, has been upset; a
reading taken `again`, by the procedure or by a technician, joins the series there is. See `advance` for what a handler
returns.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from itertools import pairwise
from typing import Any, cast

from proclang.engine.fold import worked
from proclang.engine.judgement import doubt_texts
from proclang.engine.model import Frame
from proclang.engine.wording import difference_unit, shown
from proclang.engine.working import Working
from proclang.field.declare import Series
from proclang.program import model as m
from proclang.values.quantity import FULL_TURN
from proclang.values.show import exact_text
from proclang.values.tolerance import Outcome, Verdict

# ---------------------------------------------------------------------------- readings


def reading_key(work: Working, labels: Iterable[str], variables: Iterable[bool]) -> str:
    """The labels of a value here: fixed ones as they are, those of loops where the loops stand."""
    return ",".join(work.label(x) if variable else x for x, variable in zip(labels, variables, strict=True))


def read(work: Working, instr: m.Read, pc: int) -> int | None:
    """A reading is asked for."""
    key = reading_key(work, instr.labels, instr.variables)
    joins = _joins(work.frame, instr) and bool(work.frame.series.get(f"{instr.symbol.name}|{key}"))
    work.rest(instr, "read", key=key, new=not joins)
    return None


def _joins(frame: Frame, instr: m.Read) -> bool:
    if not frame.rereads:
        return instr.again
    way, _, depth = frame.rereads[-1]
    # A `repeat` between here and the value that is wanted again reads as it did the first time: each pass afresh.
    return way == "again" and not any(isinstance(value, int) for _, value in frame.loops[depth:])


def first_of_series(work: Working, instr: m.Read, pc: int) -> int:
    """Where the readings of one `measure` begin."""
    code = work.routine.code
    while pc > 0:
        before = code[pc - 1]
        if not isinstance(before, m.Read) or before.symbol.name != instr.symbol.name or before.span != instr.span:
            break
        pc -= 1
    return pc


def ends_series(work: Working, instr: m.Read, pc: int) -> bool:
    """Whether this is the last label of a series: of its `measure`, and of every loop its labels come from."""
    if not instr.last_of_series:
        return False
    loops = [label for label, variable in zip(instr.labels, instr.variables, strict=True) if variable]
    for variable in loops:
        end = next((x for x in work.routine.code[pc:] if isinstance(x, m.EndEach) and x.variable == variable), None)
        if end is not None and work.label(variable) != end.labels[-1]:
            return False
    return True


def spread_passes(work: Working, instr: m.Instr, symbol: m.Symbol, values: list[Fraction]) -> bool:
    """Judge the spread of a series, if its name has a limit on it; True when it has none."""
    allowed = symbol.facets.spread
    if allowed is None or len(values) < 2:
        return True
    spread = _arc(values) if _goes_round(symbol) else max(values) - min(values)
    passes = spread <= allowed.value
    verdict = Verdict(Outcome.PASSES if passes else Outcome.FAILS, max(spread - allowed.value, Fraction(0)))
    unit, _ = difference_unit(symbol)
    work.record(instr, symbol, "spread", verdict, f"spread at most {shown(exact_text(allowed, unit))}")
    return passes


def _goes_round(symbol: m.Symbol) -> bool:
    """Whether the values of a name are bearings, which go round."""
    return isinstance(symbol.type, m.Amount) and symbol.type.dimension.is_bearing


def _arc(bearings: list[Fraction]) -> Fraction:
    """The shortest arc that holds all bearings: the circle without the widest gap between neighbours."""
    around = sorted({x % FULL_TURN for x in bearings})
    gaps = [b - a for a, b in pairwise(around)]
    return FULL_TURN - max([*gaps, around[0] + FULL_TURN - around[-1]])


# ---------------------------------------------------------------------------- calculations


def targets_keys(work: Working, instr: m.ComputeValue) -> list[tuple[m.Symbol, str]]:
    """What a compute sets, with the labels its loops stand at."""
    return [(symbol, reading_key(work, labels, variables)) for symbol, labels, variables in instr.targets]


def compute(work: Working, instr: m.ComputeValue, pc: int) -> int | None:
    """A value is worked out, kept and judged."""
    targets = targets_keys(work, instr)
    work.asked.clear()
    try:
        outcome = instr.formula.evaluate(work)
    except m.NotKnown as reason:
        return unknown(work, instr, str(reason), unset=targets)
    outcomes = cast("tuple[Any, ...]", outcome) if isinstance(outcome, tuple) else (outcome,)
    inputs = work.inputs(instr.formula)
    outdated = _outdated(work.frame, work.asked)
    since, passes = len(work.events), True
    for (symbol, key), value in zip(targets, outcomes, strict=True):
        pairs = value.items if isinstance(value, Series) else ((key, value),)
        values = {label: work.keep(symbol, label, amount) for label, amount in pairs}
        work.emit(
            "computed",
            at=work.at(instr),
            name=symbol.name,
            key=key or None,
            values=values,
            formula=instr.formula.text,
            inputs=inputs,
            **(work.said_of(instr.formula) if symbol is instr.targets[0][0] else {}),
            off=_doubts(work, instr, symbol, dict(pairs), values, inputs) or None,
        )
        if outdated:
            work.emit("unfresh", at=work.at(instr), names=[symbol.name], key=key or None, why=outdated)
        for label, amount in pairs:
            try:
                passes &= work.judged(instr, symbol, label, [amount])
            except m.NotKnown as reason:
                return unknown(work, instr, str(reason), unjudged=[(symbol, label)])
        passes &= spread_passes(work, instr, symbol, [amount for _, amount in pairs])
    end_reread(work, instr)
    if not passes and not instr.handled:
        undecided = True if work.only_undecided(since) else None
        work.rest(instr, "verdict", failed=work.not_passed(since), undecided=undecided)
        return None
    return pc + 1


def _doubts(
    work: Working,
    instr: m.ComputeValue,
    symbol: m.Symbol,
    amounts: dict[str, Fraction],
    values: dict[str, str],
    inputs: Iterable[str],
) -> dict[str, list[str]]:
    """How far off each value may be, where anything is known of it."""
    found = {}
    for label, text in values.items():
        origin = worked(work.frame, "compute", instr.formula.text, symbol.name, label, text, inputs)
        doubt = work.budget.doubt(origin, amounts[label], rough=True)
        if doubt.known:
            found[label] = doubt_texts(symbol, doubt)
    return found


def end_reread(work: Working, instr: m.Instr) -> None:
    """The readings taken once more for this have all been taken."""
    if any(until == instr.address for _, until, _ in work.frame.rereads):
        work.emit("reread", until=instr.address)


def unknown(
    work: Working,
    instr: m.Instr,
    why: str,
    *,
    unset: Iterable[tuple[m.Symbol, str]] = (),
    unjudged: Iterable[tuple[m.Symbol, str]] = (),
    key: str | None = None,
) -> int | None:
    """Come to rest at a value that cannot be worked out, or a verdict that cannot be made: what an earlier pass left
    there does not stand for it."""
    work.emit(
        "unknown",
        at=work.at(instr),
        why=why,
        unset=[[symbol.name, label] for symbol, label in unset] or None,
        unjudged=[[symbol.name, label] for symbol, label in unjudged] or None,
    )
    work.rest(instr, "unknown", why=why, key=key)
    return None


def set_value(work: Working, instr: m.SetInstr, pc: int) -> int | None:
    """A value for the equipment is worked out; then it is typed in, and read back."""
    symbol = instr.symbol
    try:
        value = cast(Fraction, instr.formula.evaluate(work))
    except m.NotKnown as reason:
        return unknown(work, instr, str(reason), unset=[(symbol, "")])
    work.emit(
        "setting",
        at=work.at(instr),
        name=symbol.name,
        title=symbol.title,
        value=work.keep(symbol, "", value),
        formula=instr.formula.text,
        inputs=work.inputs(instr.formula),
        **work.said_of(instr.formula),
    )
    work.rest(instr, "read back" if instr.read_back else "set")
    return None


# ---------------------------------------------------------------------------- what no longer counts


def upsets(work: Working, instr: m.UpsetsInstr, pc: int) -> int:
    """What was read of these names, and what was computed from them, no longer counts.

    Readings behind a computed name are not marked: which of them the step has touched is not said. Their series end, so
    that the next reading is not averaged with those before, and the name counts again when it is computed from at least
    one new reading.
    """
    frame = work.frame
    known = [name for name in instr.names if name in frame.values]
    names = [name for name in known if set(frame.stale.get(name, ())) != set(frame.values[name])]
    also = [name for name in _fresh_computed(frame) if name not in known and _behind(frame, [name]) & set(known)]
    behind = _behind(frame, known)
    ended = [name for name, going in _readings(frame).items() if going and name in behind]
    if names or also or ended:
        work.emit("stale", at=work.at(instr), names=names, also=also or None, ended=ended or None)
    return pc + 1


def _fresh_computed(frame: Frame) -> list[str]:
    return [name for name in frame.rests_on if name in frame.values and name not in frame.stale]


def _behind(frame: Frame, names: Iterable[str]) -> set[str]:
    """What these names were computed from, and that from, and so on."""
    found: set[str] = set()
    todo = list(names)
    while todo:
        for name in frame.rests_on.get(todo.pop(), ()):
            if name not in found:
                found.add(name)
                todo.append(name)
    return found


def _readings(frame: Frame) -> dict[str, bool]:
    """Every name that has been read, and whether a series of it is under way."""
    readings: dict[str, bool] = {}
    for key, series in frame.series.items():
        name = key.partition("|")[0]
        readings[name] = readings.get(name, False) or bool(series)
    return readings


def _outdated(frame: Frame, asked: Iterable[tuple[str, str]]) -> str | None:
    """The reading or value for which a result computed from these does not count: upset, and not read since.

    Of a series only the labels asked for count: one that has been read anew does not wait for the others.
    """
    used = sorted(asked)
    for name, key in used:
        if key in frame.stale.get(name, ()):
            return name
    inputs = dict.fromkeys(name for name, _ in used)
    behind = _behind(frame, inputs) | set(inputs)
    readings = {name: going for name, going in _readings(frame).items() if name in behind}
    return next(iter(readings)) if readings and not any(readings.values()) else None
