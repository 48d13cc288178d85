"""The questions answered with a reading. One phase each; see `request`."""

from __future__ import annotations

from typing import Any

import attrs

from proclang.engine.model import Request
from proclang.engine.wording import shown, to_read, value_name, with_doubt
from proclang.engine.working import Working, stored
from proclang.program import model as m
from proclang.values.show import show
from proclang.values.tolerance import limits_text
from proclang.values.unit import NONE

Rest = dict[str, Any]


def read(work: Working, instr: m.Read, rest: Rest) -> Request:
    """A reading, with its limits, the instrument, and the readings it joins."""
    symbol, key = instr.symbol, str(rest["key"])
    unit = symbol.unit or NONE
    readings = work.frame.series.get(f"{symbol.name}|{key}", []) if not rest["new"] else []
    facts = [f"reads with the ones before: {', '.join(shown(r, unit) for r in readings)}"] if readings else []
    instrument = work.routine.instruments.get(work.instrument_in_hand(instr.instrument) or "")
    if instrument is not None:
        serial = work.state.instruments.get(instrument.name, {}).get("serial", "")
        facts.append(f"with the {instrument.title}" + (f", {serial}" if serial else ""))
    plausible = symbol.facets.plausible
    row = _row(work, instr)
    return Request(
        "quantity",
        work.at(instr),
        symbol.title + (f", {', '.join(key.split(','))}" if key else "")
        if symbol.title
        else value_name(symbol.name, key),
        unit=unit.symbol,
        limits=limit_texts(work, symbol),
        plausible=f"{show(plausible[0], unit)} to {show(plausible[1], unit)}" if plausible is not None else "",
        facts=tuple(facts),
        help=_reading_help(unit.symbol, row),
        row=row,
    )


def _reading_help(unit: str, row: tuple[str, ...]) -> str:
    one = f"A number in {unit}, or with another unit of its kind." if unit else "A number."
    if unit == "UTC":
        one = "A date with a time of day, in UTC, such as 2026-11-25 14:30."
    return f"{one} Several can stand on one line, in their order, with `;` between them." if row else one


def _row(work: Working, instr: m.Read) -> tuple[str, ...]:
    """Addresses of the readings that follow one another from here, this one first; empty where it stands alone."""
    code = work.routine.code
    row = []
    for pc in range(work.routine.index[work.frame.address], len(code)):
        following = code[pc]
        if not isinstance(following, m.Read) or following.symbol != instr.symbol:
            break
        row.append(work.at(following))
        if following.last_of_series:
            break
    return tuple(row) if len(row) > 1 else ()


def limit_texts(work: Working, symbol: m.Symbol) -> tuple[str, ...]:
    """The limits on a name as they stand now, in its unit."""
    texts = []
    for make, _ in symbol.facets.limits:
        try:
            texts.append(limits_text(make(work), symbol.unit or NONE))
        except m.NotKnown:
            continue
    return tuple(texts)


def read_back(work: Working, instr: m.SetInstr, rest: Rest) -> Request:
    """What the equipment shows after a value was typed into it."""
    phase = str(rest["phase"])
    unit = instr.symbol.unit or NONE
    told = show(stored(work.frame.values[instr.symbol.name][""]), unit, signed=True)
    what = work.text(instr.title)
    cycled = "switch the controller off and on; do not set it again"
    return Request(
        "quantity",
        work.at(instr, phase.replace(" ", "_")),
        f"{what} now reads" if phase == "read back" else f"{what}, after switching off and on, now reads",
        unit=unit.symbol,
        facts=(cycled if phase == "after power cycle" else f"set the {what} to {told}",),
        help="What the equipment shows, sign and all.",
    )


def set_value(work: Working, instr: m.SetInstr, rest: Rest) -> Request:
    """Whether a value has been typed into the equipment."""
    return attrs.evolve(
        read_back(work, instr, rest),
        kind="word",
        address=work.at(instr),
        prompt="Is it set?",
        unit="",
        choices=("done",),
        help="Type `done` when the value has been entered.",
    )


def value_facts(work: Working, symbol: m.Symbol, key: str) -> list[str]:
    """The value of a name as it stands."""
    value = work.frame.values.get(symbol.name, {}).get(key)
    if value is None:
        return []
    readings = len(work.frame.series.get(f"{symbol.name}|{key}", ()))
    which = "worst" if symbol.facets.worst else "mean"
    of = f"{which} of {readings} readings: " if readings > 1 and symbol.how == "read" else ""
    return [f"{value_name(symbol.title or symbol.name, key)}: {of}{_as_known(work, symbol, key, value)}"]


def _as_known(work: Working, symbol: m.Symbol, key: str, value: str) -> str:
    """A computed value to the digits it deserves; a reading as it was taken."""
    if symbol.how != "computed":
        return shown(value, symbol.unit)
    off = work.frame.off.get(symbol.name, {}).get(key)
    return with_doubt(value, off) if off is not None else to_read(value)
