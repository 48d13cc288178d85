"""What an answer does, by the instruction the engine rests at and the phase it rests in.

A handler reads the text; what it cannot take it returns as a `Problem`, and nothing has happened. Otherwise it emits
events and returns the instruction to go on from, or None when it has come to rest again by itself.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction
from typing import Any, cast

from proclang.engine.advance import advance, leave_routine, spread_fails, stop
from proclang.engine.people import find_people, find_person, initials, read_name
from proclang.engine.ways import authorised, ways_at
from proclang.engine.working import Working, amount_text, beyond_text, difference_unit, shown, stored
from proclang.program import model as m
from proclang.text import limits
from proclang.text.diagnostic import Problem
from proclang.text.printable import has_hidden
from proclang.text.suggest import nearest
from proclang.values.number import bounded
from proclang.values.quantity import FULL_TURN, Quantity
from proclang.values.quantity import difference as difference_of
from proclang.values.reader import Entered, read_quantity
from proclang.values.show import exact_text, show
from proclang.values.tolerance import Outcome, Verdict, between, judge
from proclang.values.unit import NONE

Going = int | None
Answered = Going | Problem
SURE = "really "
"""Typed before a reading outside its plausible range, to say that it is no slip."""


def answer(work: Working, instr: m.Instr, pc: int, text: str) -> Problem | None:
    """Take an answer where the engine rests, and go on to the next question."""
    phase = str(work.state.rest["phase"])
    handler = _BY_PHASE.get(phase)
    if handler is None:
        return Problem("other-version", f"nothing is known of the question `{phase}`")
    going = handler(work, instr, pc, " ".join(text.split()) if phase not in _FREE else text.strip())
    if isinstance(going, Problem):
        return going
    if going is not None:
        advance(work, going)
    return None


# ---------------------------------------------------------------------------- small readers


def read_choice(text: str, options: tuple[str, ...]) -> str | Problem:
    """One of a few words: the word, its number in the list, or a beginning that only one has."""
    folded = text.casefold()
    if folded in (o.casefold() for o in options):
        return next(o for o in options if o.casefold() == folded)
    if (
        text.isascii()
        and text.isdigit()
        and 1 <= int(text[:4]) <= len(options)
        and not any(o.isdigit() for o in options)
    ):
        return options[int(text) - 1]
    starts = [o for o in options if folded and o.casefold().startswith(folded)]
    if len(starts) == 1:
        return starts[0]
    near = nearest(text, options, most=1)
    hint = f"did you mean `{near[0]}`?" if near else "type one of: " + ", ".join(options)
    return Problem(
        "not-a-choice", f"`{text[:60]}` is not one of the answers" if text else "an answer is wanted", hint=hint
    )


def read_words(text: str, what: str) -> str | Problem:
    """Free text, not empty and not endless."""
    if not text:
        return Problem("no-text", f"{what} is wanted", hint="type it, then Enter")
    if len(text) > limits.REPLY_CHARACTERS:
        return Problem("too-long", f"at most {limits.REPLY_CHARACTERS:,} characters are taken here")
    if has_hidden(text):
        return Problem("hidden-character", "the text holds a character that cannot be seen", hint="type it again")
    return text


def _done(text: str, word: str = "done") -> Problem | None:
    if text.casefold() in (word, word[0], "y", "yes"):
        return None
    return Problem("not-done", f"type `{word}` when it is", hint=f"`{word[0]}` is enough; Enter alone is not")


# ---------------------------------------------------------------------------- the opening


def _role(work: Working, instr: m.AskRole, pc: int, text: str) -> Answered:
    name = read_name(text)
    if isinstance(name, Problem):
        return name
    same = [
        n for n in set(work.state.people.values()) if initials(n) == initials(name) and n.casefold() != name.casefold()
    ]
    known = next((n for n in work.state.people.values() if n.casefold() == name.casefold()), name)
    work.emit("person", role=instr.role, name=known, shares_initials=same[0] if same else None)
    return pc + 1


def _serial(work: Working, instr: m.AskInstrument, pc: int, text: str) -> Answered:
    serial = read_words(text, "the serial number")
    if isinstance(serial, Problem):
        return serial
    if instr.instrument.calibrated_within is not None:
        work.rest(instr, "calibrated", serial=serial)
        return None
    work.emit("instrument", name=instr.instrument.name, title=instr.instrument.title, serial=serial)
    return pc + 1


def _calibrated(work: Working, instr: m.AskInstrument, pc: int, text: str) -> Answered:
    within = instr.instrument.calibrated_within
    assert within is not None
    try:
        date = datetime.date.fromisoformat(text)
    except ValueError:
        return Problem("not-a-date", f"`{text[:40]}` is not a date", hint="write it as 2031-04-17")
    now = work.state.rest.get("today")
    today = datetime.date.fromisoformat(now) if isinstance(now, str) else None
    if today is not None and date > today:
        return Problem("not-a-date", f"{date} has not come yet", hint="type the date of the last calibration")
    overdue = None
    if today is not None and (today - date).days * 86400 > within.value:
        overdue = f"calibrated {(today - date).days} days ago; its interval is {shown(exact_text(within, _days()))}"
    work.emit(
        "instrument",
        name=instr.instrument.name,
        title=instr.instrument.title,
        serial=work.state.rest["serial"],
        calibrated=date.isoformat(),
        overdue=overdue,
    )
    return pc + 1


def _days() -> Any:
    from proclang.values.unit import find_unit

    return find_unit("d")


def _ready(work: Working, instr: m.AskReady, pc: int, text: str) -> Answered:
    problem = _done(text, "ready")
    if problem is not None:
        return problem
    work.emit("ready", at=work.at(instr), kind=instr.kind, things=list(instr.things))
    return pc + 1


def _found(work: Working, instr: m.AskFound, pc: int, text: str) -> Answered:
    state = read_choice(text, instr.states)
    if isinstance(state, Problem):
        return state
    work.emit("hardware", at=work.at(instr), items=list(instr.keys), state=state, why="found")
    if state != instr.expected:
        mend = [[key, instr.expected] for key in instr.keys]
        why = f"{instr.title} is {state}; the procedure begins with it {instr.expected}"
        work.rest(instr, "blocked", why=why, mend=mend)
        return None
    return pc + 1


# ---------------------------------------------------------------------------- hazards, steps


def _briefing(work: Working, instr: m.EnterSection, pc: int, text: str) -> Answered:
    people = find_people(text, work.state.people)
    if isinstance(people, Problem):
        return people
    missing = [name for name in dict.fromkeys(work.state.people.values()) if name not in people]
    if missing:
        return Problem(
            "not-everyone", f"not signed by {' and '.join(missing)}", hint="everyone on the roster signs a briefing"
        )
    work.emit("briefed", at=work.at(instr), hazards=[h.name for h in instr.hazards], by=list(people))
    return pc + 1


def _acknowledge(work: Working, instr: m.Acknowledge, pc: int, text: str) -> Answered:
    person = find_person(text, work.state.people)
    if isinstance(person, Problem):
        return person
    _acknowledged(work, instr, [person])
    return pc + 1


def _acknowledged(work: Working, instr: m.Acknowledge, by: list[str]) -> None:
    hazard = instr.hazard
    work.emit(
        "acknowledged", at=work.at(instr), hazard=hazard.name, word=hazard.word, title=work.text(hazard.title), by=by
    )


def _asks(work: Working, instr: m.Acknowledge, pc: int, text: str) -> Answered:
    n = int(work.state.rest["n"])
    asked = instr.hazard.asks[n]
    if asked.unit is None:
        words = read_words(text, "an answer")
        if isinstance(words, Problem):
            return words
        if words.casefold() in ("yes", "y", "ok", "done", "no"):
            return Problem("not-a-fact", f"`{words}` says nothing about the site", hint="answer with what is there now")
        value = words
    else:
        entered = read_quantity(text, unit=asked.unit, reply=True)
        if isinstance(entered, Problem):
            return entered
        value = exact_text(entered.quantity, asked.unit)
    work.emit("value", name=asked.name, value=value)
    work.emit(
        "answered", at=work.at(instr, asked.name), name=asked.name, text=work.text(asked.text), value=value, typed=text
    )
    if n + 1 < len(instr.hazard.asks):
        work.rest(instr, "asks", n=n + 1)
        return None
    _acknowledged(work, instr, work.names(instr.people))
    return pc + 1


def _step_done(work: Working, instr: m.BeginStep, pc: int, text: str) -> Answered:
    problem = _done(text)
    if problem is not None:
        return problem
    work.emit("done", at=work.at(instr))
    return pc + 1


# ---------------------------------------------------------------------------- readings


def _read(work: Working, instr: m.Read, pc: int, text: str) -> Answered:
    symbol, rest = instr.symbol, work.state.rest
    sure = text.casefold().startswith(SURE)
    entered = read_quantity(text[len(SURE) :] if sure else text, unit=symbol.unit, reply=True)
    if isinstance(entered, Problem):
        return entered
    slip = _implausible(symbol, entered)
    if slip is not None and not sure:
        return slip
    key = str(rest["key"])
    value = amount_text(symbol, entered.quantity.value)
    work.emit(
        "read",
        at=work.at(instr),
        name=symbol.name,
        key=key or None,
        typed=text,
        value=value,
        instrument=instr.instrument,
        new=bool(rest["new"]),
        implausible=True if slip is not None else None,
    )
    readings = [stored(t).value for t in work.frame.series[f"{symbol.name}|{key}"]]
    try:
        value_of = _representative(work, symbol, readings)
        work.keep(symbol, key, value_of)
        verdict = work.judged(instr, symbol, key, readings if symbol.facets.worst else [value_of])
        failed = verdict is not None and verdict.outcome is Outcome.FAILS
        if instr.last_of_series and symbol.facets.spread is not None and len(work.frame.values[symbol.name]) > 1:
            failed |= spread_fails(work, instr, symbol, [amount for _, amount in work.series(symbol.name).items])
    except m.NotKnown as reason:
        work.emit("unknown", at=work.at(instr), why=str(reason))
        work.rest(instr, "unknown", why=str(reason), key=key)
        return None
    if failed and not instr.handled:
        work.rest(instr, "verdict", key=key)
        return None
    return pc + 1


def _representative(work: Working, symbol: m.Symbol, readings: list[Fraction]) -> Fraction:
    """The one value of a series: its mean, or the reading farthest outside, or else farthest from the middle."""
    assert isinstance(symbol.type, m.Amount)
    if len(readings) == 1:
        return readings[0]
    if symbol.facets.worst and symbol.facets.limits:
        allowed = symbol.facets.limits[0][0](work)

        def outside(value: Fraction) -> tuple[Fraction, Fraction]:
            beyond = abs(judge(Quantity(value, cast(m.Amount, symbol.type).dimension), allowed).beyond)
            ends = [x for x in (allowed.low, allowed.high) if x is not None]
            middle = sum(ends, Fraction(0)) / len(ends) if ends else Fraction(0)
            return beyond, abs(value - middle)

        return max(readings, key=outside)
    if symbol.type.dimension.is_bearing:
        # Bearings are averaged as differences from the first, so that 359 and 1 give 0.
        first = Quantity(readings[0], symbol.type.dimension)
        apart = [difference_of(Quantity(r, symbol.type.dimension), first).value for r in readings]
        return (readings[0] + bounded(sum(apart, Fraction(0)) / len(apart))) % FULL_TURN
    return bounded(sum(readings, Fraction(0)) / len(readings))


def _implausible(symbol: m.Symbol, entered: Entered) -> Problem | None:
    plausible = symbol.facets.plausible
    if plausible is None:
        return None
    low, high = plausible
    if judge(entered.quantity, between(low, high)).outcome is Outcome.PASSES:
        return None
    unit = symbol.unit or NONE
    got = show(entered.quantity, unit)
    return Problem(
        "implausible",
        f"{got} is outside what can be expected here, {show(low, unit)} to {show(high, unit)}",
        hint=_likely_slip(symbol, entered) + f"if it is so, type `{SURE}{entered.typed}`",
    )


def _likely_slip(symbol: m.Symbol, entered: Entered) -> str:
    """What a reading outside its plausible range looks like: a slipped point, a lost sign, another unit."""
    assert symbol.facets.plausible is not None
    allowed = between(*symbol.facets.plausible)
    unit = symbol.unit or NONE
    value, dimension = entered.quantity.value, entered.quantity.dimension

    def fits(candidate: Fraction) -> bool:
        return judge(Quantity(candidate, dimension), allowed).outcome is Outcome.PASSES

    if dimension.is_plain and fits(-value):
        return f"a lost sign? {show(Quantity(-value, dimension), unit)} would be; "
    for factor in (Fraction(1, 10), Fraction(10), Fraction(1, 100), Fraction(100)):
        if dimension.is_plain and fits(value * factor):
            return f"a slipped decimal point? {show(Quantity(value * factor, dimension), unit)} would be; "
    return ""


# ---------------------------------------------------------------------------- words


def _confirm(work: Working, instr: m.Ask, pc: int, text: str) -> Answered:
    word = read_choice(text, ("yes", "no"))
    if isinstance(word, Problem):
        return word
    _answered(work, instr, word, text)
    if word == "no":
        work.rest(instr, "verdict")
        return None
    work.emit("value", name=instr.symbol.name, value="yes")
    return pc + 1


def _answered(work: Working, instr: m.Ask, value: str, typed: str) -> None:
    work.emit(
        "answered",
        at=work.at(instr),
        name=instr.symbol.name,
        kind=instr.kind,
        text=work.text(instr.text),
        value=value,
        typed=typed,
        by=work.names(instr.people) or None,
    )


def _choose(work: Working, instr: m.Ask, pc: int, text: str) -> Answered:
    assert isinstance(instr.symbol.type, m.Choice)
    word = read_choice(text, instr.symbol.type.options)
    if isinstance(word, Problem):
        return word
    _answered(work, instr, word, text)
    work.emit("value", name=instr.symbol.name, value=word)
    return pc + 1


def _write(work: Working, instr: m.Ask, pc: int, text: str) -> Answered:
    words = read_words(text, "a file name or number" if instr.kind == "photo" else "a note")
    if isinstance(words, Problem):
        return words
    _answered(work, instr, words, text)
    work.emit("value", name=instr.symbol.name, value=words)
    return pc + 1


def _set(work: Working, instr: m.SetInstr, pc: int, text: str) -> Answered:
    problem = _done(text)
    if problem is not None:
        return problem
    work.emit("done", at=work.at(instr))
    return pc + 1


def _read_back(work: Working, instr: m.SetInstr, pc: int, text: str) -> Answered:
    phase = str(work.state.rest["phase"])
    entered = read_quantity(text, unit=instr.symbol.unit, reply=True)
    if isinstance(entered, Problem):
        return entered
    wanted = Quantity(work.amount(instr.symbol.name, ""), entered.quantity.dimension)
    apart = difference_of(entered.quantity, wanted)
    try:
        allowed = (
            cast(Fraction, instr.allowed.evaluate(work)) if instr.allowed is not None else _resolution(work, instr)
        )
    except m.NotKnown as reason:
        return Problem("cannot-compute", str(reason))
    agrees = abs(apart.value) <= allowed
    verdict = Verdict(Outcome.PASSES if agrees else Outcome.FAILS, Fraction(0) if agrees else apart.value)
    unit, dimension = difference_unit(instr.symbol)
    work.emit(
        "read",
        at=work.at(instr, phase.replace(" ", "_")),
        name=f"{instr.symbol.name}.{phase.replace(' ', '_')}",
        typed=text,
        value=amount_text(instr.symbol, entered.quantity.value),
        instrument=instr.instrument,
        new=True,
    )
    work.emit(
        "verdict",
        at=work.at(instr, phase.replace(" ", "_")),
        name=instr.symbol.name,
        outcome=verdict.outcome.value,
        beyond=beyond_text(verdict, instr.symbol) if not agrees else None,
        limits=f"within {show(Quantity(allowed, dimension), unit)} of {show(wanted, instr.symbol.unit or NONE)}",
    )
    if not agrees:
        work.rest(instr, "verdict", of=phase)
        return None
    return _after_read_back(work, instr, pc, phase)


def _after_read_back(work: Working, instr: m.SetInstr, pc: int, phase: str) -> Going:
    if phase == "read back" and instr.power_cycle:
        work.rest(instr, "after power cycle")
        return None
    return pc + 1


def _resolution(work: Working, instr: m.SetInstr) -> Fraction:
    """Half a digit of the readout, which is all it can say; nothing where no instrument is named."""
    instrument = work.routine.instruments.get(instr.instrument or "")
    return instrument.reads_to.value / 2 if instrument is not None and instrument.reads_to is not None else Fraction(0)


# ---------------------------------------------------------------------------- people


def _sign(work: Working, instr: m.Sign, pc: int, text: str) -> Answered:
    n = int(work.state.rest["n"])
    roles = (*instr.people, *instr.witness)
    role = roles[n]
    person = find_person(text, work.state.people)
    if isinstance(person, Problem):
        return person
    holder = work.state.people.get(role)
    if holder is not None and person != holder:
        return Problem("other-person", f"the {role} is {holder}, not {person}", hint=f"{holder} signs here")
    witnessing = n >= len(instr.people)
    signed = {work.state.people.get(r) for r in instr.people}
    if witnessing and person in signed:
        return Problem("own-witness", f"{person} has signed this and cannot witness it as well")
    work.emit(
        "signed",
        at=work.at(instr),
        kind="witness" if witnessing or instr.kind == "witness" else "hold",
        text=work.text(instr.text),
        role=role,
        name=person,
    )
    if n + 1 < len(roles):
        work.rest(instr, "sign", n=n + 1)
        return None
    return pc + 1


def _pick(work: Working, instr: m.AnyOrderInstr, pc: int, text: str) -> Answered:
    done = work.frame.orders.get(instr.address, [])
    left = tuple(name for name, _, _ in instr.steps if name not in done)
    name = read_choice(text, left)
    if isinstance(name, Problem):
        return name
    work.emit("picked", at=work.at(instr), order=instr.address, step=name)
    return next(target for step, _, target in instr.steps if step == name)


# ---------------------------------------------------------------------------- ways on


def _way(work: Working, instr: m.Instr, pc: int, text: str) -> Answered:
    rest = dict(work.state.rest)
    phase = str(rest["phase"])
    word = read_choice(text, tuple(way.word for way in ways_at(work, instr, phase)))
    if isinstance(word, Problem):
        return word
    if word == "stop":
        work.emit("way", at=work.at(instr), way="stop")
        stop(work, "")
        return None
    if word == "accept":
        work.emit("way", at=work.at(instr), way="accept")
        work.rest(instr, "reason", of=rest)
        return None
    if word == "changed":
        return _changed(work, instr, pc, rest)
    back = isinstance(instr, m.ComputeValue)
    work.emit("way", at=work.at(instr), way=word, back=back or None)
    if isinstance(instr, m.ComputeValue):
        return instr.reread
    if isinstance(instr, m.Read):
        work.rest(instr, "read", key=rest.get("key", ""), new=word == "adjust")
    elif isinstance(instr, m.SetInstr):
        if phase == "unknown":
            return pc
        work.rest(instr, str(rest.get("of", "read back")))
    elif isinstance(instr, m.Ask):
        work.rest(instr, instr.kind)
    return None


def _changed(work: Working, instr: m.Instr, pc: int, rest: dict[str, Any]) -> Going:
    """Hardware has been put right, which no step foresaw: recorded, and the rule is looked at once more."""
    work.emit("blocked", at=work.at(instr), why=rest["why"])
    for item, state in rest["mend"]:
        work.emit("hardware", at=work.at(instr), items=[item], state=state, why="put right")
    return pc + 1 if isinstance(instr, m.AskFound) else pc


def _reason(work: Working, instr: m.Instr, pc: int, text: str) -> Answered:
    reason = read_words(text, "a reason")
    if isinstance(reason, Problem):
        return reason
    work.rest(instr, "accepted by", of=work.state.rest["of"], reason=reason)
    return None


def _accepted_by(work: Working, instr: m.Instr, pc: int, text: str) -> Answered:
    person = find_person(text, work.state.people)
    if isinstance(person, Problem):
        return person
    allowed = authorised(work)
    if person not in allowed:
        return Problem("no-authority", f"{person} may not accept a deviation here", hint=f"{' or '.join(allowed)} may")
    rest = work.state.rest
    before = cast("dict[str, Any]", rest["of"])
    work.emit(
        "deviation", at=work.at(instr), reason=rest["reason"], by=person, key=before.get("key"), why=before.get("why")
    )
    phase = str(before["phase"])
    if isinstance(instr, m.Return):
        return leave_routine(work)
    if isinstance(instr, m.EndLoop):
        work.emit("loop end", loop=instr.name, at=work.at(instr), why="deviation", passes=before.get("passes"))
        return instr.exhausted
    if isinstance(instr, m.Branch):
        return instr.otherwise
    if isinstance(instr, m.SetInstr) and phase == "verdict":
        return _after_read_back(work, instr, pc, str(before.get("of", "")))
    if isinstance(instr, m.Ask):
        work.emit("value", name=instr.symbol.name, value="yes")
    if isinstance(instr, m.ComputeValue) and work.frame.rereading:
        work.emit("reread")
    return pc + 1


Handler = Callable[[Working, Any, int, str], Answered]

_BY_PHASE: dict[str, Handler] = {
    "role": _role,
    "serial": _serial,
    "calibrated": _calibrated,
    "ready": _ready,
    "found": _found,
    "briefing": _briefing,
    "acknowledge": _acknowledge,
    "asks": _asks,
    "done": _step_done,
    "read": _read,
    "confirm": _confirm,
    "choose": _choose,
    "note": _write,
    "photo": _write,
    "set": _set,
    "read back": _read_back,
    "after power cycle": _read_back,
    "sign": _sign,
    "pick": _pick,
    "verdict": _way,
    "unknown": _way,
    "blocked": _way,
    "left": _way,
    "bound": _way,
    "reason": _reason,
    "accepted by": _accepted_by,
}

_FREE = frozenset({"note", "photo", "reason", "asks"})
"""Phases whose answer is kept as it was typed, inner blanks and all."""

PHASES = frozenset(_BY_PHASE)
"""Every way the engine can rest."""
