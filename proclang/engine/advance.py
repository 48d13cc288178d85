"""From an answered question to the next one: what each instruction does when it is reached.

A handler returns where to go on, or None when it has come to rest at a question. Everything here ends: loops are
bounded, calls are not recursive, and the program was refused if it would come to too many steps.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any, cast

from proclang.engine.interlocks import change_breach, find_breach, place_keys, required
from proclang.engine.working import Working, amount_text, shown
from proclang.field.declare import Series
from proclang.program import model as m
from proclang.values.quantity import Quantity
from proclang.values.show import exact_text
from proclang.values.tolerance import Outcome, Verdict
from proclang.values.unit import NONE


def advance(work: Working, pc: int) -> None:
    """Go on from instruction `pc` of the top frame until something has to be asked or the run is over."""
    going: int | None = pc
    while going is not None:
        instr = work.routine.code[going]
        going = _HANDLERS[type(instr)](work, instr, going)


# ---------------------------------------------------------------------------- sections and steps


def _enter_section(work: Working, instr: m.EnterSection, pc: int) -> int | None:
    work.emit("section", address=instr.address, at=work.at(instr), title=work.text(instr.title))
    if instr.hazards and work.state.people:
        work.rest(instr, "briefing")
        return None
    return pc + 1


def _next(work: Working, instr: m.Instr, pc: int) -> int:
    return pc + 1


def _acknowledge(work: Working, instr: m.Acknowledge, pc: int) -> int | None:
    hazard = instr.hazard
    if hazard.word != "danger" and hazard.name in work.frame.heard:
        return pc + 1  # said once in this section; a DANGER is answered every time
    work.rest(instr, "asks" if hazard.asks else "acknowledge", n=0 if hazard.asks else None)
    return None


def _begin_step(work: Working, instr: m.BeginStep, pc: int) -> int | None:
    breach = find_breach(work, instr.changes)
    if breach is not None and work.state.status != "stopping":
        work.rest(instr, "blocked", why=breach.text, mend=[list(pair) for pair in breach.mend])
        return None
    work.emit("step", at=work.at(instr), title=work.text(instr.title), by=work.names(instr.people) or None)
    if instr.ask_done:
        work.rest(instr, "done")
        return None
    return pc + 1


# ---------------------------------------------------------------------------- values


def reading_key(work: Working, instr: m.Read) -> str:
    """The labels of a reading here."""
    return ",".join(
        work.label(label) if variable else label for label, variable in zip(instr.labels, instr.variables, strict=True)
    )


def _read(work: Working, instr: m.Read, pc: int) -> int | None:
    # A reading come to afresh begins a series; one of `measure again`, or taken again on purpose, adds to it.
    fresh = not instr.again and work.frame.rereading != "again"
    work.rest(instr, "read", key=reading_key(work, instr), new=fresh)
    return None


def targets_keys(work: Working, instr: m.ComputeValue) -> list[tuple[m.Symbol, str]]:
    """What a compute sets, with the labels its loops stand at."""
    return [
        (
            symbol,
            ",".join(work.label(x) if variable else x for x, variable in zip(labels, variables, strict=True)),
        )
        for symbol, labels, variables in instr.targets
    ]


def _compute(work: Working, instr: m.ComputeValue, pc: int) -> int | None:
    try:
        outcome = instr.formula.evaluate(work)
    except m.NotKnown as reason:
        return unknown(work, instr, str(reason))
    targets = targets_keys(work, instr)
    outcomes = cast("tuple[Any, ...]", outcome) if isinstance(outcome, tuple) else (outcome,)
    inputs = {name: text for name in instr.formula.names for text in [_input_text(work, name)] if text}
    failed = False
    for (symbol, key), value in zip(targets, outcomes, strict=True):
        pairs = value.items if isinstance(value, Series) else ((key, value),)
        kept = {label: work.keep(symbol, label, amount) for label, amount in pairs}
        work.emit(
            "computed",
            at=work.at(instr),
            name=symbol.name,
            key=key or None,
            values=kept,
            formula=instr.formula.text,
            inputs=inputs,
        )
        for label, amount in pairs:
            try:
                verdict = work.judged(instr, symbol, label, [amount])
            except m.NotKnown as reason:
                return unknown(work, instr, str(reason))
            failed |= verdict is not None and verdict.outcome is Outcome.FAILS
        failed |= spread_fails(work, instr, symbol, [amount for _, amount in pairs])
    if work.frame.rereading:
        work.emit("reread")
    if failed and not instr.handled:
        work.rest(instr, "verdict")
        return None
    return pc + 1


def _input_text(work: Working, name: str) -> str:
    """The inputs of a formula as the log shows them."""
    keys = work.frame.values.get(name)
    if keys is None:
        return next((str(value) for loop, value in work.frame.loops if loop == name), "")
    if list(keys) == [""]:
        return keys[""]
    return ", ".join(f"{key}: {value}" for key, value in keys.items())


def spread_fails(work: Working, instr: m.Instr, symbol: m.Symbol, values: list[Fraction]) -> bool:
    """Judge the spread of a series, if its name has a limit on it."""
    allowed = symbol.facets.spread
    if allowed is None or len(values) < 2:
        return False
    spread = max(values) - min(values)
    fails = spread > allowed.value
    verdict = Verdict(Outcome.FAILS if fails else Outcome.PASSES, max(spread - allowed.value, Fraction(0)))
    unit = symbol.unit or NONE
    work.record(instr, symbol, "spread", verdict, f"spread at most {shown(exact_text(allowed, unit))}")
    return fails


def unknown(work: Working, instr: m.Instr, why: str) -> int | None:
    """Come to rest at a value that cannot be worked out."""
    work.emit("unknown", at=work.at(instr), why=why)
    work.rest(instr, "unknown", why=why)
    return None


def _ask(work: Working, instr: m.Ask, pc: int) -> int | None:
    work.rest(instr, instr.kind)
    return None


def _set(work: Working, instr: m.SetInstr, pc: int) -> int | None:
    try:
        value = cast(Fraction, instr.formula.evaluate(work))
    except m.NotKnown as reason:
        return unknown(work, instr, str(reason))
    work.keep(instr.symbol, "", value)
    inputs = {name: text for name in instr.formula.names for text in [_input_text(work, name)] if text}
    work.emit(
        "setting",
        at=work.at(instr),
        name=instr.symbol.name,
        title=instr.symbol.title,
        value=amount_text(instr.symbol, value),
        formula=instr.formula.text,
        inputs=inputs,
    )
    work.rest(instr, "read back" if instr.read_back else "set")
    return None


# ---------------------------------------------------------------------------- people


def _sign(work: Working, instr: m.Sign, pc: int) -> int | None:
    work.rest(instr, "sign", n=0)
    return None


# ---------------------------------------------------------------------------- hardware


def _now(work: Working, instr: m.NowInstr, pc: int) -> int | None:
    keys = place_keys(work, instr.place)
    if not instr.ensure:
        breach = change_breach(work.state.hardware, work.routine.machine, keys, instr.state)
        if breach is not None:
            work.emit("breach", at=work.at(instr), why=breach.text)
    work.emit("hardware", at=work.at(instr), items=list(keys), state=instr.state, why="now")
    return pc + 1


def _require(work: Working, instr: m.RequireInstr, pc: int) -> int | None:
    breach = required(work.state.hardware, place_keys(work, instr.place), instr.state)
    if breach is None:
        return pc + 1
    work.rest(instr, "blocked", why=breach.text, mend=[list(pair) for pair in breach.mend])
    return None


def _upsets(work: Working, instr: m.UpsetsInstr, pc: int) -> int:
    work.emit("stale", at=work.at(instr), names=list(instr.names))
    return pc + 1


# ---------------------------------------------------------------------------- ways through


def _arms(work: Working, instr: m.Arms, pc: int) -> int | None:
    try:
        label = str(instr.subject.evaluate(work))
    except m.NotKnown as reason:
        return unknown(work, instr, str(reason))
    target = instr.targets.get(label)
    if target is None:
        return unknown(work, instr, f"`{instr.name}` is `{label}`, for which nothing is said")
    work.emit("branch", at=work.at(instr), took=label)
    return target


def _branch(work: Working, instr: m.Branch, pc: int) -> int | None:
    try:
        holds = bool(instr.condition.evaluate(work))
    except m.NotKnown as reason:
        return unknown(work, instr, str(reason))
    work.emit("branch", at=work.at(instr), took="yes" if holds else "no", condition=instr.condition.text)
    return pc + 1 if holds else instr.otherwise


def _jump(work: Working, instr: m.Jump, pc: int) -> int:
    return instr.target


def _begin_loop(work: Working, instr: m.BeginLoop, pc: int) -> int:
    work.emit("pass", loop=instr.name, n=1)
    return pc + 1


def _end_loop(work: Working, instr: m.EndLoop, pc: int) -> int | None:
    n = next(int(value) for loop, value in reversed(work.frame.loops) if loop == instr.name)
    if n < instr.bound:
        work.emit("pass", loop=instr.name, n=n + 1)
        return instr.begin + 1
    at = work.at(instr)
    if instr.unfinished:
        work.rest(instr, "bound", passes=n)
        return None
    work.emit("loop end", loop=instr.name, at=at, why="bound", passes=n)
    return instr.exhausted


def _leave(work: Working, instr: m.Leave, pc: int) -> int | None:
    try:
        holds = bool(instr.condition.evaluate(work))
    except m.NotKnown as reason:
        return unknown(work, instr, str(reason))
    if not holds:
        return pc + 1
    n = next(int(value) for loop, value in reversed(work.frame.loops) if loop == instr.loop)
    work.emit("loop end", loop=instr.loop, at=work.at(instr), why=instr.condition.text, passes=n)
    return instr.out


def _begin_each(work: Working, instr: m.BeginEach, pc: int) -> int:
    work.emit("label", each=instr.variable, label=instr.labels[0], first=True)
    return pc + 1


def _end_each(work: Working, instr: m.EndEach, pc: int) -> int:
    label = next(str(value) for loop, value in reversed(work.frame.loops) if loop == instr.variable)
    place = instr.labels.index(label) + 1
    if place < len(instr.labels):
        work.emit("label", each=instr.variable, label=instr.labels[place], first=False)
        return instr.begin
    work.emit("loop end", loop=instr.variable, at=work.at(instr), why="all", passes=place)
    return pc + 1


def _any_order(work: Working, instr: m.AnyOrderInstr, pc: int) -> int | None:
    done = work.frame.orders.get(instr.address, [])
    left = [(name, target) for name, _, target in instr.steps if name not in done]
    if not left:
        if done:
            work.emit("order over", order=instr.address)
        return instr.out
    if len(left) == 1:
        work.emit("picked", at=work.at(instr), order=instr.address, step=left[0][0])
        return left[0][1]
    work.rest(instr, "pick")
    return None


def _order_done(work: Working, instr: m.OrderDone, pc: int) -> int:
    order = work.routine.code[instr.back].address
    work.emit("order done", order=order, step=instr.step)
    return instr.back


# ---------------------------------------------------------------------------- performing


def _call(work: Working, instr: m.Call, pc: int) -> int | None:
    routine = work.program.routine(instr.routine)
    given: dict[str, str] = {}
    for symbol, formula in instr.arguments:
        try:
            value = formula.evaluate(work)
        except m.NotKnown as reason:
            return unknown(work, instr, str(reason))
        given[symbol.name] = amount_text(symbol, value) if isinstance(value, Fraction) else str(value)
    for line in routine.hardware:
        if line.found is None or instr.address.startswith("opening/"):
            continue
        breach = required(work.state.hardware, line.place.keys(), line.found)
        if breach is not None:
            work.rest(instr, "blocked", why=f"`{instr.routine}` begins with this: {breach.text}",
                      mend=[list(pair) for pair in breach.mend])  # fmt: skip
            return None
    main = instr.address.startswith("opening/")
    path = instr.routine if main else work.at(instr)
    work.emit("called", at=instr.address, routine=instr.routine, path=path, title=routine.title)
    for symbol in routine.inputs:
        text = given.get(symbol.name) or work.state.facts.get(symbol.name)
        if text is None and isinstance(symbol.default, Quantity):
            text = exact_text(symbol.default, symbol.unit or NONE)
        elif text is None and isinstance(symbol.default, str):
            text = symbol.default
        if text is not None:
            work.emit("value", name=symbol.name, value=text, input=True)
    return 0


def _return(work: Working, instr: m.Return, pc: int) -> int | None:
    routine = work.routine
    for line in routine.hardware:
        if line.left is None:
            continue
        breach = required(work.state.hardware, line.place.keys(), line.left)
        if breach is not None:
            work.rest(instr, "left", why=breach.text, mend=[list(pair) for pair in breach.mend])
            return None
    return leave_routine(work)


def leave_routine(work: Working) -> int | None:
    """Back to the caller, with what is given; at the end of the opening the run is finished."""
    inner = work.frame
    if len(work.state.frames) == 1:
        work.emit("finished", status="finished")
        return None
    stale = list(inner.stale)
    work.emit("returned", at=inner.path, stale=stale or None)
    caller = work.frame
    pc = work.routine.index[caller.address]
    call = work.routine.code[pc]
    assert isinstance(call, m.Call)
    for name, symbol in call.gives:
        for key, text in inner.values.get(name, {}).items():
            work.emit("value", name=symbol.name, key=key or None, value=text)
        for key, outcome in inner.outcomes.get(name, {}).items():
            work.emit("verdict", at=work.at(call), name=symbol.name, key=key or None, outcome=outcome, given=True)
    return pc + 1


# ---------------------------------------------------------------------------- the opening, and stopping


def _ask_role(work: Working, instr: m.AskRole, pc: int) -> int | None:
    work.rest(instr, "role")
    return None


def _ask_instrument(work: Working, instr: m.AskInstrument, pc: int) -> int | None:
    work.rest(instr, "serial")
    return None


def _ask_ready(work: Working, instr: m.AskReady, pc: int) -> int | None:
    work.rest(instr, "ready")
    return None


def _ask_found(work: Working, instr: m.AskFound, pc: int) -> int | None:
    work.rest(instr, "found")
    return None


def stop(work: Working, reason: str) -> None:
    """Make the site safe: `if stopped` of the section being gone through, then of the sections it was called from."""
    work.emit("stopped", at=work.frame.path, reason=reason or None)
    go_to_safe_state(work)


def go_to_safe_state(work: Working) -> None:
    """On to the innermost `if stopped` not yet gone through; the run is over when there is none."""
    while True:
        frame = work.frame
        enter = work.routine.code[work.routine.index[frame.section]] if frame.section else None
        if isinstance(enter, m.EnterSection) and enter.stopped is not None:
            advance(work, enter.stopped)
            return
        if not leave_stopped(work):
            return


def leave_stopped(work: Working) -> bool:
    """Out of a procedure that is stopped; False when that was the last."""
    if len(work.state.frames) == 1:
        work.emit("finished", status="stopped")
        return False
    work.emit("returned", at=work.frame.path)
    return True


def _end_stopped(work: Working, instr: m.EndStopped, pc: int) -> int | None:
    if leave_stopped(work):
        go_to_safe_state(work)
    return None


Handler = Callable[[Working, Any, int], "int | None"]

_HANDLERS: dict[type[m.Instr], Handler] = {
    m.EnterSection: _enter_section,
    m.LeaveSection: _next,
    m.Acknowledge: _acknowledge,
    m.BeginStep: _begin_step,
    m.EndStep: _next,
    m.Read: _read,
    m.ComputeValue: _compute,
    m.Ask: _ask,
    m.SetInstr: _set,
    m.Sign: _sign,
    m.NowInstr: _now,
    m.RequireInstr: _require,
    m.UpsetsInstr: _upsets,
    m.Arms: _arms,
    m.Branch: _branch,
    m.Jump: _jump,
    m.BeginLoop: _begin_loop,
    m.EndLoop: _end_loop,
    m.Leave: _leave,
    m.BeginEach: _begin_each,
    m.EndEach: _end_each,
    m.AnyOrderInstr: _any_order,
    m.OrderDone: _order_done,
    m.Call: _call,
    m.Return: _return,
    m.AskRole: _ask_role,
    m.AskInstrument: _ask_instrument,
    m.AskReady: _ask_ready,
    m.AskFound: _ask_found,
    m.EndStopped: _end_stopped,
}
