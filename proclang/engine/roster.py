"""Who holds which role: roles that are two people, and a role that is taken over while a run is under way.

A roster in which one person holds two roles that are two people is refused, with the line that says so. The way out is
another person: named for the role that is asked for, or taking over one that was given already. A role is taken over at
any question, and that is an entry of its own; who joins in a section with hazards is briefed on them first.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from proclang.engine.model import Frame, State
from proclang.engine.people import initials, read_name
from proclang.engine.wording import spoken
from proclang.engine.working import Working
from proclang.program import model as m
from proclang.program.staffing import one_holds_both
from proclang.text.diagnostic import Problem

CREW = "crew"
"""The kind of a reply by which somebody takes a role over."""

TWO_PEOPLE = 2
"""From these rules of a run on, roles that are two people are looked at; see `State.rules`."""


def why_two(two: m.TwoPeople) -> str:
    """Why two roles are two people: the line that says so, by its name."""
    place = two.place
    if two.why == "needs":
        return f"the needs of `{place}` say so"
    if two.why == "witness":
        return f"one witnesses the other at `{place}`"
    return f"both {({'step': 'do', 'confirm': 'confirm', 'hold': 'release'})[two.why]} `{place}`"


def wanted(work: Working, instr: m.AskReady) -> tuple[str, ...]:
    """The tools or parts that are to be at hand."""
    return instr.most if work.state.rules >= TWO_PEOPLE else instr.things


def not_both(work: Working, role: str, name: str) -> Problem | None:
    """Why this person cannot hold this role as well."""
    if work.state.rules < TWO_PEOPLE:
        return None
    two = one_holds_both({**work.state.people, role: name}, work.program.pairs, role)
    if two is None:
        return None
    other = two.other if two.one == role else two.one
    return Problem(
        "two-people",
        f"{name} is the {spoken(other)}, and nobody is both {spoken(two.one)} and {spoken(two.other)}: {why_two(two)}",
        hint=f"name somebody else as {spoken(role)}"
        f"; or first let somebody else be the {spoken(other)}: `crew: {other} NAME`",
    )


def known_name(state: State, text: str) -> str | Problem:
    """A name as it is kept: one that is on the roster in any spelling of its capitals, else as it was typed."""
    name = read_name(text)
    if isinstance(name, Problem):
        return name
    return next((x for x in dict.fromkeys(state.people.values()) if x.casefold() == name.casefold()), name)


def put_on(work: Working, role: str, name: str, **more: Any) -> None:
    """Put somebody on the roster; with it goes whose initials are the same, and how many people are wanting."""
    roster = tuple(dict.fromkeys(work.state.people.values()))
    same = [n for n in roster if n != name and initials(n).casefold() == initials(name).casefold()]
    work.emit(
        "person",
        role=role,
        name=name,
        shares_initials=same[0] if same else None,
        short=_short(work, {**work.state.people, role: name}),
        **more,
    )


def _short(work: Working, people: dict[str, str]) -> list[int] | None:
    """How many people are named and how many it takes, where every role is given and they are too few."""
    named, wanted = len(set(people.values())), work.program.fewest.number
    if work.state.rules < TWO_PEOPLE or named >= wanted or any(r not in people for r in work.program.opening.crew):
        return None
    return [named, wanted]


def not_witness(work: Working, instr: m.Sign) -> tuple[str, ...]:
    """Who cannot witness here: who has released the hold; at a witness point who did the step before it."""
    if instr.kind == "hold":
        return tuple(work.state.rest["by"])
    return tuple(work.frame.did) if work.state.rules >= TWO_PEOPLE else ()


# ---------------------------------------------------------------------------- a role is taken over


def take_over(work: Working, text: str) -> Problem | None:
    """`rigger Bo Tarn`: somebody takes a role over from whoever has it. What was done stays theirs who did it."""
    state = work.state
    found = _role_and_name(text, state.people)
    if isinstance(found, Problem):
        return found
    role, typed = found
    name = known_name(state, typed)
    if isinstance(name, Problem):
        return name
    before = state.people[role]
    if name == before:
        return Problem("no-change", f"{name} is the {spoken(role)} already")
    problem = not_both(work, role, name)
    if problem is not None:
        return problem
    joins = name not in state.people.values()
    rest = dict(state.rest)
    instr = work.routine.code[work.routine.index[work.frame.address]]
    put_on(work, role, name, before=before, at=work.at(instr))
    if joins and rest.get("phase") != "briefing" and any(True for _ in hazards_now(work)):
        work.rest(instr, "joining", of=rest, name=name)
    return None


def _role_and_name(text: str, people: dict[str, str]) -> tuple[str, str] | Problem:
    words = " ".join(text.replace(":", " ", 1).split())
    for role in sorted(people, key=len, reverse=True):
        said = re.compile(re.escape(role).replace("_", "[_ ]"), re.IGNORECASE).match(words)
        if said is not None and words[said.end() :].startswith(" "):
            return role, words[said.end() :].strip()
    known = ", ".join(spoken(role) for role in people) or "nobody has one yet"
    return Problem(
        "no-role",
        f"`{words[:60]}` is no role and name" if words else "a role and a name are wanted",
        hint=f"`crew: ROLE NAME`, the role and who takes it over; roles: {known}",
    )


def hazards_now(work: Working) -> Iterator[tuple[Frame, m.HazardInfo]]:
    """The hazards of the section that is gone through, and of those it was performed from; none once a run is stopped:
    whoever makes safe is not kept from it."""
    if work.state.status == "stopping":
        return
    told: set[str] = set()
    for frame in reversed(work.state.frames):
        routine = work.program.routine(frame.routine)
        enter = routine.code[routine.index[frame.section]] if frame.section else None
        for hazard in enter.hazards if isinstance(enter, m.EnterSection) else ():
            if hazard.name not in told:
                told.add(hazard.name)
                yield frame, hazard
