"""Answers that are readings: taken in any unit of their kind, doubted when implausible, kept in a series and judged.
See `answers`."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import cast

from proclang.engine.reach_values import end_reread, ends_series, spread_passes, unknown
from proclang.engine.wording import amount_text, difference_unit
from proclang.engine.working import Working, stored
from proclang.program import model as m
from proclang.text.diagnostic import Problem
from proclang.values.number import NumberError, bounded
from proclang.values.quantity import FULL_TURN, Quantity
from proclang.values.quantity import difference as difference_of
from proclang.values.reader import Entered, read_quantity
from proclang.values.show import show
from proclang.values.tolerance import Limits, Outcome, Verdict, between, judge
from proclang.values.unit import NONE, Unit, find_unit

Answered = int | Problem | None

SURE = "really "
"""Typed before a reading outside its plausible range, to say that it is no slip."""


def read(work: Working, instr: m.Read, pc: int, text: str) -> Answered:
    """A reading joins its series or begins one; the name stands for the whole series, and is judged."""
    symbol, rest = instr.symbol, work.state.rest
    sure = text.casefold().startswith(SURE)
    entered = read_quantity(text[len(SURE) :] if sure else text, unit=symbol.unit, reply=True)
    if isinstance(entered, Problem):
        return entered
    slip = _implausible(symbol, entered)
    if slip is not None and not sure:
        return slip
    key, since = str(rest["key"]), len(work.events)
    work.emit(
        "read",
        at=work.at(instr),
        name=symbol.name,
        key=key or None,
        typed=text,
        value=amount_text(symbol, entered.quantity),
        instrument=work.instrument_in_hand(instr.instrument),
        new=bool(rest["new"]),
        implausible=True if slip is not None else None,
    )
    readings = [stored(t).value for t in work.frame.series[f"{symbol.name}|{key}"]]
    end_reread(work, instr)
    all_of_it = False
    try:
        value = _representative(work, symbol, readings)
        work.keep(symbol, key, value)
        passes = work.judged(instr, symbol, key, readings if symbol.facets.worst else [value])
        if symbol.facets.spread is not None and ends_series(work, instr, pc):
            all_of_it = not spread_passes(work, instr, symbol, [amount for _, amount in work.series(symbol.name).items])
            passes &= not all_of_it
    except m.NotKnown as reason:
        return unknown(work, instr, str(reason), unjudged=[(symbol, key)], key=key)
    if not passes and not instr.handled:
        work.rest(
            instr,
            "verdict",
            key=key,
            failed=work.not_passed(since),
            all=True if all_of_it else None,
            undecided=True if work.only_undecided(since) else None,
        )
        return None
    return pc + 1


def _representative(work: Working, symbol: m.Symbol, readings: list[Fraction]) -> Fraction:
    """The one value of a series: its mean, or, judged by the worst, the reading farthest outside, or else nearest to a
    limit. Raises `NotKnown`."""
    assert isinstance(symbol.type, m.Amount)
    if len(readings) == 1:
        return readings[0]
    dimension = symbol.type.dimension
    if symbol.facets.worst and symbol.facets.limits:
        allowed = [make(work) for make, _ in symbol.facets.limits]
        return max(readings, key=lambda value: max(_severity(Quantity(value, dimension), limits) for limits in allowed))
    try:
        if dimension.is_bearing:
            # Bearings are averaged as differences from the first, so that 359 and 1 give 0.
            first = Quantity(readings[0], dimension)
            apart = [difference_of(Quantity(r, dimension), first).value for r in readings]
            return (readings[0] + bounded(sum(apart, Fraction(0)) / len(apart))) % FULL_TURN
        return bounded(sum(readings, Fraction(0)) / len(readings))
    except NumberError as error:
        raise m.NotKnown(error.problem.message) from None


def _severity(value: Quantity, limits: Limits) -> tuple[Fraction, Fraction]:
    """How bad a reading is: how far outside, then how near to a limit."""
    beyond = abs(judge(value, limits).beyond)
    if beyond or (limits.low is None and limits.high is None):
        return beyond, Fraction(0)
    if value.dimension.is_bearing:
        assert limits.low is not None
        assert limits.high is not None
        inside = min((value.value - limits.low) % FULL_TURN, (limits.high - value.value) % FULL_TURN)
    else:
        inside = min(abs(value.value - end) for end in (limits.low, limits.high) if end is not None)
    return beyond, -inside


# ---------------------------------------------------------------------------- implausible readings


def _implausible(symbol: m.Symbol, entered: Entered) -> Problem | None:
    plausible = symbol.facets.plausible
    if plausible is None or _passes(entered.quantity, between(*plausible)):
        return None
    low, high = plausible
    unit = symbol.unit or NONE
    slips = _likely_slips(symbol, entered)
    return Problem(
        "implausible",
        f"{show(entered.quantity, unit)} is outside what can be expected here, {show(low, unit)} to {show(high, unit)}",
        hint="".join(f"{slip}; " for slip in slips) + f"if it is so, type `{SURE}{entered.typed}`",
    )


def _passes(quantity: Quantity, allowed: Limits) -> bool:
    return judge(quantity, allowed).outcome is Outcome.PASSES


def _likely_slips(symbol: m.Symbol, entered: Entered) -> list[str]:
    """What an implausible reading looks like: a lost sign, another unit than the one asked for, a slipped point.

    A bearing has no sign, and the opposite direction is never suggested: it may be how the thing stands.
    """
    assert symbol.facets.plausible is not None
    allowed, unit = between(*symbol.facets.plausible), symbol.unit or NONE
    value, dimension = entered.quantity.value, entered.quantity.dimension
    slips: list[str] = []
    if not dimension.is_plain:
        return slips
    if _passes(Quantity(-value, dimension), allowed):
        slips.append(f"a lost sign? {show(Quantity(-value, dimension), unit)} would be")
    meant = _in_asked_unit(entered, unit)
    if meant is not None and _passes(meant.quantity, allowed):
        return [f"{show(meant.quantity, unit)} would be"]  # somebody who writes a unit has not slipped elsewhere
    other = _other_unit(symbol, entered, allowed) if meant is None else None
    if other is not None:
        slips.append(f"another unit? {other} would be")
    for factor in (Fraction(1, 10), Fraction(10), Fraction(1, 100), Fraction(100)):
        if _passes(Quantity(value * factor, dimension), allowed):
            slips.append(f"a slipped decimal point? {show(Quantity(value * factor, dimension), unit)} would be")
            break
    return slips[:2]


def _in_asked_unit(entered: Entered, asked: Unit) -> Entered | None:
    """The number of a reading in the unit that was asked for, where it was typed with another; None where it was not,
    and of a sum."""
    number = _BARE.match(entered.typed.strip())
    if entered.unit == asked or number is None or any(c.isdigit() for c in entered.typed.strip()[number.end() :]):
        return None
    meant = read_quantity(number.group(), unit=asked, reply=True)
    return None if isinstance(meant, Problem) else meant


_BARE = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?")
_MIXED_UP = (
    "mm",
    "inch",
    "cm",
    "m",
    "ft",
    "deg",
    "arcmin",
    "arcsec",
    "mrad",
    "turn",
    "N.m",
    "lbf.ft",
    "kPa",
    "bar",
    "psi",
)
"""Units that are taken for one another at a bench, the likeliest first."""


def _other_unit(symbol: m.Symbol, entered: Entered, allowed: Limits) -> str | None:
    """The number as typed in another unit, if that would be plausible."""
    number = _BARE.match(entered.typed.strip())
    if number is None or any(c.isdigit() for c in entered.typed.strip()[number.end() :]):
        return None
    for text in _MIXED_UP:
        unit = find_unit(text)
        if isinstance(unit, Problem) or unit == entered.unit or unit.dimension != entered.quantity.dimension:
            continue
        meant = read_quantity(f"{number.group()} {unit.symbol}", unit=symbol.unit, reply=True)
        if not isinstance(meant, Problem) and _passes(meant.quantity, allowed):
            return f"{number.group()} {unit.symbol}"
    return None


# ---------------------------------------------------------------------------- settings


def read_back(work: Working, instr: m.SetInstr, pc: int, text: str) -> Answered:
    """What the equipment shows, against what was to be set."""
    phase, since = str(work.state.rest["phase"]), len(work.events)
    symbol = instr.symbol
    entered = read_quantity(text, unit=symbol.unit, reply=True)
    if isinstance(entered, Problem):
        return entered
    wanted = Quantity(work.amount(symbol.name, ""), entered.quantity.dimension)
    try:
        allowed = (
            cast(Fraction, instr.allowed.evaluate(work)) if instr.allowed is not None else _half_digit(work, instr)
        )
    except m.NotKnown as reason:
        return unknown(work, instr, str(reason), unjudged=[(symbol, "")])
    apart = difference_of(entered.quantity, wanted).value
    agrees = abs(apart) <= allowed
    # By how much it is outside, as everywhere else: past the allowed difference.
    beyond = Fraction(0) if agrees else apart - allowed if apart > 0 else apart + allowed
    unit, dimension = difference_unit(symbol)
    label = phase.replace(" ", "_")
    work.emit(
        "read",
        at=work.at(instr, label),
        name=f"{symbol.name}.{label}",
        typed=text,
        value=amount_text(symbol, entered.quantity),
        instrument=work.instrument_in_hand(instr.instrument),
        new=True,
    )
    within = show(Quantity(allowed, dimension), unit)
    told = show(wanted, symbol.unit or NONE, signed=True)
    verdict = Verdict(Outcome.PASSES if agrees else Outcome.FAILS, beyond)
    work.record(instr, symbol, "", verdict, f"within {within} of {told}", label)
    if not agrees:
        work.rest(instr, "verdict", of=phase, failed=work.not_passed(since))
        return None
    return after_read_back(work, instr, pc, phase)


def after_read_back(work: Working, instr: m.SetInstr, pc: int, phase: str) -> int | None:
    """On from a value that is set: where the author says so, it is read again after a power cycle."""
    if phase == "read back" and instr.power_cycle:
        work.rest(instr, "after power cycle")
        return None
    return pc + 1


def _half_digit(work: Working, instr: m.SetInstr) -> Fraction:
    """Half a digit of the readout, which is all it can say; nothing where no instrument is named."""
    instrument = work.routine.instruments.get(work.instrument_in_hand(instr.instrument) or "")
    return instrument.reads_to.value / 2 if instrument is not None and instrument.reads_to is not None else Fraction(0)
