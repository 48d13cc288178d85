"""Hardware rules at run time: what a step is about to change, against what the machine allows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import attrs

from proclang.engine.wording import are, in_words, spoken
from proclang.engine.working import Working
from proclang.program import model as m

_NO_STATE = "in no known state"


@attrs.frozen
class Breach:
    """A rule that would be broken, in words, and what would mend it: the states that are wanted, or, where any other
    state would do, the items whose state is to be asked for."""

    text: str
    mend: tuple[tuple[str, str], ...] = ()
    ask: tuple[str, ...] = ()

    def rest(self, before: str = "") -> dict[str, Any]:
        """What the question about it needs to know."""
        return {
            "why": f"{before}{self.text}",
            "mend": [list(pair) for pair in self.mend],
            "ask": list(self.ask) or None,
        }


def find_breach(work: Working, step: m.BeginStep, pc: int) -> Breach | None:
    """The first rule the changes of a step would break, made one after the other from where the hardware stands."""
    hardware = dict(work.state.hardware)
    machine = work.routine.machine
    answered_inside = _set_in_step(work.routine.code, pc) if any(c.when for c in step.changes) else frozenset()
    for change in step.changes:
        if not _counts(work, change, answered_inside):
            continue
        keys = place_keys(work, change.place)
        if change.require:
            breach = required(hardware, keys, change.state)
        else:
            breach = change_breach(hardware, machine, keys, change.state)
            hardware.update(dict.fromkeys(keys, change.state))
        if breach is not None:
            return breach
    return None


def _counts(work: Working, change: m.Change, answered_inside: frozenset[str]) -> bool:
    # What hangs on an answer of this very step is looked at again when the answer is known; until then the name may
    # still hold what was answered the last time round.
    if any(name in answered_inside for formula in change.when for name in formula.names):
        return False
    try:
        return all(bool(formula.evaluate(work)) for formula in change.when)
    except m.NotKnown:
        return False


def _set_in_step(code: tuple[m.Instr, ...], pc: int) -> frozenset[str]:
    names: set[str] = set()
    for instr in code[pc + 1 :]:
        if isinstance(instr, m.EndStep):
            break
        if isinstance(instr, (m.Read, m.Ask, m.SetInstr)):
            names.add(instr.symbol.name)
        elif isinstance(instr, m.ComputeValue):
            names.update(symbol.name for symbol, _, _ in instr.targets)
    return frozenset(names)


def place_keys(work: Working, place: m.ItemPlace) -> tuple[str, ...]:
    """The items a place means here."""
    if place.variable is None:
        return place.keys()
    return place.keys(work.label(place.variable))


def required(hardware: Mapping[str, str], keys: tuple[str, ...], state: str) -> Breach | None:
    """A `require` that does not hold."""
    wrong = [key for key in keys if hardware.get(key) != state]
    if not wrong:
        return None
    text = f"{in_words(wrong)} must be {spoken(state)}; {_are_now(hardware, wrong)}"
    return Breach(text, tuple((key, state) for key in wrong))


def not_as_declared(hardware: Mapping[str, str], wanted: Iterable[tuple[m.ItemPlace, str | None]]) -> Breach | None:
    """Everything that is not in the state a procedure says it begins with, or leaves behind."""
    breaches = [
        b for place, state in wanted if state is not None for b in [required(hardware, place.keys(), state)] if b
    ]
    if not breaches:
        return None
    return Breach("; ".join(b.text for b in breaches), tuple(pair for b in breaches for pair in b.mend))


def change_breach(
    hardware: Mapping[str, str], machine: m.Machine | None, keys: tuple[str, ...], state: str
) -> Breach | None:
    """A standing interlock that a change of `keys` to `state` would break."""
    if machine is None:
        return None
    after = {**hardware, **dict.fromkeys(keys, state)}
    moving = {key for key in keys if hardware.get(key) != state}
    for lock in machine.interlocks:
        guarded = lock.place.keys()
        for condition in lock.conditions:
            if not lock.bears_on(moving, state, condition):
                continue
            needed = condition.place.keys()
            held: list[str] = []
            if lock.of_change:
                # `A moves only while B is t`: it must hold before the change.
                broken = [key for key in needed if hardware.get(key) != condition.state]
            else:
                # `A is s only while B is t`: it must hold after the change, whichever of the two is changed.
                held = [key for key in guarded if after.get(key) == lock.state]
                if not held:
                    continue
                broken = [key for key in needed if after.get(key) != condition.state]
            if broken:
                would = "" if lock.of_change or moving.isdisjoint(broken) else " would be"
                now = f"{in_words(broken)}{would or f' {are(broken)}'} {spoken(after.get(broken[0], _NO_STATE))}"
                mend = tuple((key, condition.state) for key in broken if key not in keys)
                # Where what is moved is itself the condition, only what hangs on it can give way.
                ask = () if mend else tuple(key for key in held if key not in keys)
                return Breach(f"{lock.text}: {now}", mend, ask)
    return None


def _are_now(hardware: Mapping[str, str], wrong: list[str]) -> str:
    states = list(dict.fromkeys(hardware.get(key, _NO_STATE) for key in wrong))
    they = "it is" if len(wrong) == 1 else "they are"
    return f"{they} {' or '.join(spoken(state) for state in states)}"


def states_of(work: Working, key: str) -> tuple[str, ...]:
    """The states an item of the hardware map may be in."""
    item = key.partition("[")[0]
    machine = work.routine.machine
    return machine.items[item].states if machine is not None else ()
