"""The hardware from where a run stands: what is not proved on what is left of it.

Before a run everything is proved on every way from the beginning. A deviation, a correction, hardware that was put
right or found otherwise lead off those ways; from there the same analysis is made once more, with the hardware as it is
and with what is known of choices and verdicts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import attrs

from proclang.check.hardware import Look
from proclang.check.standing import UNKNOWN, Known, Standing
from proclang.check.ways import Atom, Place, Ways, verdict_of
from proclang.program import model as m
from proclang.text.diagnostic import Diagnostic


@attrs.frozen
class Standpoint:
    """Where a run stands in one procedure: an address, where the loops over labels around it stand, outermost first,
    which steps of groups in any order are done (address of the group, name of the step), and what is known."""

    address: str
    loops: tuple[tuple[str, str], ...] = ()
    done: frozenset[tuple[str, str]] = frozenset()
    choices: Mapping[str, str] = attrs.field(factory=dict)
    verdicts: Mapping[str, str] = attrs.field(factory=dict)


def unproved_from(
    program: m.Program, stack: Sequence[Standpoint], hardware: Mapping[str, str]
) -> tuple[Diagnostic, ...]:
    """What may go wrong from here on. `stack` begins with the procedure that is run, and ends where the run stands.

    Raises `KeyError` for an address that is not in the program.
    """
    ways = Ways(program)
    place = ways.start
    facts: dict[Atom, frozenset[str]] = {}
    for depth, stand in enumerate(stack):
        routine = ways.contexts[place.context].routine
        done = frozenset((routine.index[group], step) for group, step in stand.done)
        place = Place(place.context, routine.index[stand.address], stand.loops, done)
        for name, label in stand.choices.items():
            facts[ways.choice(place, name)] = frozenset((label,))
        for name, verdict in stand.verdicts.items():
            facts[verdict_of(place.context, name)] = frozenset((verdict,))
        if depth < len(stack) - 1:
            (inner,) = (way.to for way in ways.onward(place))
            place = inner
    look = Look(program, ways, place)
    items = {key: {hardware.get(key, UNKNOWN): Known({}, None)} for key in look.every_item()}
    look.settle(Standing(items, facts))
    look.report()
    return tuple(look.findings.values())
