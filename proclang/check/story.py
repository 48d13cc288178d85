"""How it comes to that: the shortest way from where an item came into a state to where that is a fault."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping

import attrs

from proclang.check.standing import Known, Standing, compatible
from proclang.check.ways import Place, Way, Ways
from proclang.program import model as m
from proclang.text.span import Span

_MOST_TURNS = 6
"""Turns of a way that are told; of a longer one its last."""


@attrs.frozen
class Story:
    """A text, and the places in it."""

    text: str
    labels: tuple[tuple[Span, str], ...] = ()


def story(
    ways: Ways, at: Mapping[Place, Standing], end: Place, key: str, known: Known, start: Place | None = None
) -> Story:
    """The story of one state of an item at a place."""
    since = known.since
    if since == end:
        return Story("")
    start = start if start is not None else ways.start
    words = _shortest(ways, at, since if since is not None else start, end, key, known)
    if since is None:
        begun = "it is found so" if start == ways.start else "it is so now"
        return Story(f"{begun}; {_told(words, 'nothing changes it before this')}")
    instr = ways.instr(since)
    context = ways.contexts[since.context]
    step = step_of(context.routine, since.pc)
    what = f"step `{step}`" if step else "this line"
    if since.context != end.context:
        what += f" of `{context.routine.name}`"
    what += "".join(f" at `{variable}` {label}" for variable, label in since.env)
    turned = [says for says in _shortest(ways, at, start, since, "", known) if "performed" not in says]
    where = f"where {' and '.join(turned[-_MOST_TURNS:])}, " if turned else ""
    upset = isinstance(instr, m.UpsetsInstr)
    last = "nothing reads it again before this" if upset else "nothing changes it before this"
    then = _told([says for says in words if says not in turned], last)
    does = "upsets it" if upset else "makes it so"
    label = f"`{key}` becomes {instr.state} here" if isinstance(instr, m.NowInstr) else "upset here"
    return Story(f"{where}{what} {does}{_performed(ways, since, end)}; {then}", ((instr.span, label),))


def _told(turns: list[str], last: str) -> str:
    """Turns of a way, and what is so at its end."""
    if not turns:
        return last
    if len(turns) > _MOST_TURNS:
        turns = ["...", *turns[-_MOST_TURNS:]]
    return f"after that {', then '.join(turns)}, and {last}"


def _performed(ways: Ways, since: Place, end: Place) -> str:
    """Through which procedures one comes to be performed, up to one that the end lies in too."""
    around = _around(ways, end)
    told: list[str] = []
    inner = since.context
    while inner not in around:
        caller = ways.contexts[inner].caller
        assert caller is not None
        outer = caller.context
        told.append(f"`{ways.contexts[outer].routine.name}` performs `{ways.contexts[inner].routine.name}`")
        inner = outer
    return f" ({', '.join(reversed(told))})" if told else ""


def step_of(routine: m.Routine, pc: int) -> str:
    """The step an instruction stands in."""
    while pc >= 0:
        instr = routine.code[pc]
        if isinstance(instr, m.BeginStep):
            return instr.name
        if isinstance(instr, (m.EndStep, m.EnterSection)):
            return ""
        pc -= 1
    return ""


def _shortest(ways: Ways, at: Mapping[Place, Standing], start: Place, end: Place, key: str, known: Known) -> list[str]:
    """What is said along the shortest way on which the item stays as it is and nothing known is denied.

    A turn that could have been taken otherwise, and would have led to the same, is left out.
    """
    before: dict[Place, tuple[Place, Way]] = {}
    into: dict[Place, list[Place]] = {}
    seen = {start}
    todo = deque([start])
    while todo:
        place = todo.popleft()
        instr = ways.instr(place)
        if place != start and isinstance(instr, m.NowInstr) and key in _changed(place, instr):
            continue
        for way in ways.onward(place):
            if way.to not in at or (way.fact is not None and not compatible({way.fact[0]: way.fact[1]}, known.facts)):
                continue
            into.setdefault(way.to, []).append(place)
            if way.to not in seen:
                seen.add(way.to)
                before[way.to] = (place, way)
                todo.append(way.to)
    leads = _leading(into, end)
    told: list[str] = []
    stand = end
    while stand in before:
        place, way = before[stand]
        told.append(_said(ways, place, way, end, leads))
        stand = place
    return [says for says in reversed(told) if says]


def _leading(into: Mapping[Place, list[Place]], end: Place) -> set[Place]:
    """The places from which the end is reached."""
    found = {end}
    todo = [end]
    while todo:
        for place in into.get(todo.pop(), ()):
            if place not in found:
                found.add(place)
                todo.append(place)
    return found


def _said(ways: Ways, place: Place, way: Way, end: Place, leads: set[Place]) -> str:
    """A step of the way, where it matters: a turn that had to be taken, a procedure the end lies in or that is left."""
    instr = ways.instr(place)
    if isinstance(instr, m.Call):
        inside = _around(ways, end)
        return f"`{instr.name}` is performed" if way.to.context in inside else ""
    if isinstance(instr, m.Return):
        return ""
    others = [other for other in ways.onward(place) if other.to != way.to and other.to in leads]
    return "" if others else way.says


def _around(ways: Ways, place: Place) -> set[int]:
    """The performings a place lies in."""
    found: set[int] = set()
    at: int | None = place.context
    while at is not None:
        found.add(at)
        caller = ways.contexts[at].caller
        at = caller.context if caller is not None else None
    return found


def _changed(place: Place, instr: m.NowInstr) -> tuple[str, ...]:
    if instr.place.variable is None:
        return instr.place.keys()
    label = dict(place.env).get(instr.place.variable)
    return instr.place.keys(label) if label is not None else ()
