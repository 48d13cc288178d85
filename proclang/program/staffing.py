"""Who may be who: pairs of roles that are two people, over a procedure and all it performs.

One person may hold several roles. Two roles are two people where the needs say `nobody is both`, where both do one
step, confirm one thing or release one hold, and where one witnesses what the other releases or has just done. A role is
one person throughout a run, whichever procedure names it.

The first two are *strict*: a roster that breaks them is not taken. A witness may be somebody else in place of whoever
holds the role, also a visitor, so that such a pair counts for how many people it takes, and is looked at when it is
signed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import attrs

from proclang.program import model as m
from proclang.program.declared import TwoPeople
from proclang.program.fewest import Fewest, Pair, fewest_people
from proclang.program.successors import successors

_MOST_TOGETHER = 12
"""Of more people than that in one line, the first are looked at."""


def pairs_of(routines: Iterable[m.Routine]) -> tuple[TwoPeople, ...]:
    """The pairs of some procedures, the first line of each kind for each pair; what is said in needs comes first."""
    found: dict[tuple[Pair, bool], TwoPeople] = {}
    routines = tuple(routines)
    for routine in routines:
        for one, other, span in routine.apart:
            _note(found, TwoPeople(one, other, "needs", routine.name, span))
    for routine in routines:
        for two in _in_code(routine):
            _note(found, two)
    return tuple(found.values())


def _note(found: dict[tuple[Pair, bool], TwoPeople], two: TwoPeople) -> None:
    if two.one != two.other:
        found.setdefault((two.pair, two.strict), two)


def _in_code(routine: m.Routine) -> Iterator[TwoPeople]:
    done = done_before(routine)
    for pc, instr in enumerate(routine.code):
        if isinstance(instr, m.BeginStep):
            yield from _together(instr.people, "step", instr)
        elif isinstance(instr, m.Ask):
            yield from _together(instr.people, "confirm", instr)
        elif isinstance(instr, m.Sign):
            if instr.kind == "hold":
                yield from _together(instr.people, "hold", instr)
            for role in watching(instr):
                for other in (*released_by(instr), *done.get(pc, ())):
                    yield TwoPeople(role, other, "witness", instr.identity, instr.span)


def _together(people: tuple[str, ...], why: str, instr: m.Instr) -> Iterator[TwoPeople]:
    people = people[:_MOST_TOGETHER]
    for i, one in enumerate(people):
        for other in people[i + 1 :]:
            yield TwoPeople(one, other, why, instr.identity, instr.span)


def watching(instr: m.Sign) -> tuple[str, ...]:
    """The roles that witness at a hold or witness point."""
    return instr.witness if instr.kind == "hold" else instr.people


def released_by(instr: m.Sign) -> tuple[str, ...]:
    """The roles that release a hold."""
    return instr.people if instr.kind == "hold" else ()


def done_before(routine: m.Routine) -> dict[int, tuple[str, ...]]:
    """For each witness point, who does what it witnesses: the step before it, on every way that leads there. A section,
    and a procedure performed in between, hide what was before."""
    code = routine.code
    points = [pc for pc, instr in enumerate(code) if isinstance(instr, m.Sign) and instr.kind == "witness"]
    if not points:
        return {}
    before: list[list[int]] = [[] for _ in code]
    for pc in range(len(code)):
        for after in successors(code, pc):
            before[after].append(pc)
    return {pc: _doers(code, before, pc) for pc in points}


def _doers(code: tuple[m.Instr, ...], before: list[list[int]], point: int) -> tuple[str, ...]:
    roles: dict[str, None] = {}
    seen, stack = {point}, list(before[point])
    while stack:
        pc = stack.pop()
        if pc in seen:
            continue
        seen.add(pc)
        earlier = code[pc]
        if isinstance(earlier, m.BeginStep):
            roles.update(dict.fromkeys(earlier.people))
        elif not isinstance(earlier, (m.EnterSection, m.Call)):
            stack.extend(before[pc])
    return tuple(roles)


def fewest_of(roles: Iterable[str], pairs: Iterable[TwoPeople], said: int = 0) -> Fewest:
    """How many people it takes to hold these roles; at least as many as the author says."""
    found = fewest_people(tuple(roles), [two.pair for two in pairs])
    return attrs.evolve(found, number=said) if said > found.number else found


def one_holds_both(people: Mapping[str, str], pairs: Iterable[TwoPeople], role: str) -> TwoPeople | None:
    """A strict pair broken by who holds `role`."""
    for two in pairs:
        if two.strict and role in two.pair:
            other = two.other if two.one == role else two.one
            if people.get(other) is not None and people.get(other) == people.get(role):
                return two
    return None
