"""What a stop leads to: from every question of a section through its `if stopped`, and outward.

A run may be stopped at any question. What is so after that depends on where it was stopped, so each state in which the
hardware may be at a question of a section is followed by itself: joined, a step that is only undone where it was done
would look as if it were undone where it was not.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping

import attrs

from proclang.check.settle import settle
from proclang.check.standing import Standing, joined
from proclang.check.ways import Place, Ways
from proclang.program import model as m

_MOST = 40
"""States that are followed each by itself through one `if stopped`; past them they are joined."""

AfterStop = Callable[[Place, Place, Standing], Standing]
"""What an instruction of an `if stopped` does: where the run was stopped, the instruction's place, what was so."""


@attrs.frozen
class Stop:
    """A run that was stopped at `place`, and the hardware then or after an `if stopped`."""

    place: Place
    standing: Standing


def is_question(instr: m.Instr) -> bool:
    """Whether a run asks for something here; for a step to be done it waits, and asks nothing."""
    if isinstance(instr, m.ComputeValue):
        return not instr.handled and any(symbol.facets.judged for symbol, _, _ in instr.targets)
    if isinstance(instr, m.EnterSection):
        return bool(instr.hazards)
    return isinstance(instr, (m.Read, m.Ask, m.SetInstr, m.Sign, m.Acknowledge))


def section_of(routine: m.Routine, pc: int) -> m.EnterSection | None:
    """The section an instruction stands in."""
    while pc >= 0:
        instr = routine.code[pc]
        if isinstance(instr, m.EnterSection):
            return instr
        pc -= 1
    return None


def over_after_stops(ways: Ways, at: Mapping[Place, Standing], after: AfterStop) -> Iterator[Stop]:
    """Each way in which a run that was stopped may end. Performed procedures first: a stop there leads outward."""
    sections = _Sections(ways)
    by_section: dict[tuple[int, int], list[Stop]] = {}
    for place, standing in at.items():
        if _may_stop(ways.instr(place)):
            _add(by_section.setdefault(sections.around(place), []), Stop(place, standing))
    for context in range(len(ways.contexts) - 1, -1, -1):
        routine = ways.contexts[context].routine
        caller = ways.contexts[context].caller
        for pc in sorted(pc for number, pc in by_section if number == context):
            enter = routine.code[pc]
            stops = by_section.pop((context, pc))
            if isinstance(enter, m.EnterSection) and enter.stopped is not None:
                stops = [_through(ways, Place(context, enter.stopped), stop, after) for stop in stops]
            if caller is None:
                yield from stops
            else:
                outward = by_section.setdefault(sections.around(caller), [])
                for stop in stops:
                    _add(outward, stop)


def _may_stop(instr: m.Instr) -> bool:
    return is_question(instr) or isinstance(instr, (m.BeginStep, m.AnyOrderInstr))


class _Sections:
    """In which section of its procedure each place stands, as the instruction that begins it."""

    def __init__(self, ways: Ways) -> None:
        self._ways = ways
        self._begins: dict[str, list[int]] = {}

    def around(self, place: Place) -> tuple[int, int]:
        """The context and the number of the instruction that begins the section."""
        routine = self._ways.contexts[place.context].routine
        begins = self._begins.get(routine.name)
        if begins is None:
            begins = [pc for pc, instr in enumerate(routine.code) if isinstance(instr, m.EnterSection)]
            self._begins[routine.name] = begins
        at = bisect_right(begins, place.pc)
        return place.context, begins[at - 1] if at else 0


def _add(known: list[Stop], stop: Stop) -> None:
    """Note a stop in a section, once for each state of the hardware."""
    for other in reversed(known):
        if other.standing.items is stop.standing.items or other.standing.items == stop.standing.items:
            return
    if len(known) < _MOST:
        known.append(stop)
    else:
        known[-1] = Stop(known[-1].place, joined(known[-1].standing, stop.standing))


def _through(ways: Ways, start: Place, stop: Stop, after: AfterStop) -> Stop:
    """The hardware after the `if stopped` that begins at `start`."""
    at = settle(ways, stop.standing, lambda place, here: after(stop.place, place, here), start)
    ends = [standing for place, standing in at.items() if isinstance(ways.instr(place), m.EndStopped)]
    return Stop(stop.place, ends[0]) if ends else stop
