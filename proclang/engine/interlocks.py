"""Hardware rules at run time: what a step is about to change, against what the machine allows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import attrs

from proclang.engine.working import Working
from proclang.program import model as m


@attrs.frozen
class Breach:
    """A rule that would be broken: in words, and the states that would mend it."""

    text: str
    mend: tuple[tuple[str, str], ...]


def find_breach(work: Working, changes: Iterable[m.Change]) -> Breach | None:
    """The first rule the changes of a step would break, made one after the other from where the hardware stands."""
    hardware = dict(work.state.hardware)
    machine = work.routine.machine
    for change in changes:
        if not _counts(work, change):
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


def _counts(work: Working, change: m.Change) -> bool:
    try:
        return all(bool(formula.evaluate(work)) for formula in change.when)
    except m.NotKnown:
        return False  # it hangs on an answer of this very step; the rule is looked at again when it is known


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
    is_now = hardware.get(wrong[0], "in no known state")
    return Breach(f"{in_words(wrong)} must be {state}; it is {is_now}", tuple((key, state) for key in wrong))


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
            needed = condition.place.keys()
            if lock.state is None:
                if moving.isdisjoint(guarded):
                    continue
                broken = [key for key in needed if hardware.get(key) != condition.state]
            else:
                # `A is s only while B is t`: it must hold after the change, whichever of the two is changed.
                held = [key for key in guarded if after.get(key) == lock.state]
                if not held or (moving.isdisjoint(guarded) and moving.isdisjoint(needed)):
                    continue
                broken = [key for key in needed if after.get(key) != condition.state]
            if broken:
                mend = tuple((key, condition.state) for key in broken if key not in keys)
                return Breach(f"{lock.text}: {in_words(broken)} is {after.get(broken[0], 'in no known state')}", mend)
    return None


def in_words(keys: Iterable[str]) -> str:
    """Items as people say them, a long list cut short."""
    listed = [key.replace("_", " ") for key in keys]
    if len(listed) > 4:
        return f"{', '.join(listed[:3])} and {len(listed) - 3} more"
    return " and ".join(listed)
