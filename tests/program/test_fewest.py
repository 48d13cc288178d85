"""How few people can hold a set of roles: against every way there is to give roles to people."""

from __future__ import annotations

import itertools

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

from proclang.program import fewest
from proclang.program.fewest import Pair, fewest_people, too_many_for

ROLES = ("lead", "signaller", "rigger", "scribe", "driver", "owner")


@st.composite
def crews(draw: st.DrawFn) -> tuple[tuple[str, ...], tuple[Pair, ...]]:
    """Some roles, and pairs of them that are two people."""
    roles = ROLES[: draw(st.integers(1, len(ROLES)))]
    possible = [frozenset(pair) for pair in itertools.combinations(roles, 2)]
    pairs = draw(st.lists(st.sampled_from(possible), unique=True)) if possible else []
    return roles, tuple(pairs)


def can(roles: tuple[str, ...], pairs: tuple[Pair, ...], people: int) -> bool:
    """Whether some way to give every role to one of so many people keeps all pairs apart: by trying each."""
    for given_to in itertools.product(range(people), repeat=len(roles)):
        held = dict(zip(roles, given_to, strict=True))
        if all(len({held[role] for role in pair}) == 2 for pair in pairs):
            return True
    return False


@given(crews())
@settings(max_examples=200)
def test_the_fewest_people_are_those_of_trying_everything(crew: tuple[tuple[str, ...], tuple[Pair, ...]]) -> None:
    """And the way it gives is one."""
    roles, pairs = crew
    found = fewest_people(roles, pairs)
    assert found.exact
    assert found.number == next(n for n in range(len(roles) + 1) if can(roles, pairs, n))
    assert set(found.held) == set(roles)
    assert set(found.held.values()) == set(range(found.number))
    assert all(len({found.held[role] for role in pair}) == 2 for pair in pairs)


@given(crews(), st.integers(1, 5))
@settings(max_examples=200)
def test_a_contradiction_is_one_and_the_smallest(crew: tuple[tuple[str, ...], tuple[Pair, ...]], people: int) -> None:
    """There is one exactly where so many people cannot; without any one of its pairs they can; and no fewer roles have
    one among them."""
    roles, pairs = crew
    contradiction = too_many_for(roles, pairs, people)
    assert bool(contradiction) == (not can(roles, pairs, people))
    if not contradiction:
        return
    assert set(contradiction) <= set(pairs)
    assert not can(roles, contradiction, people)
    for left_out in contradiction:
        assert can(roles, tuple(pair for pair in contradiction if pair != left_out), people)
    in_it = {role for pair in contradiction for role in pair}
    for some in itertools.combinations(roles, len(in_it) - 1):
        among = tuple(pair for pair in pairs if pair.issubset(some))
        assert can(some, among, people)


def test_a_ring_of_five_takes_three_though_no_three_are_all_different() -> None:
    """Where looking at who stands beside whom would say two."""
    ring = [frozenset((ROLES[i], ROLES[(i + 1) % 5])) for i in range(5)]
    assert fewest_people(ROLES[:5], ring).number == 3
    assert set(too_many_for(ROLES, ring, 2)) == set(ring)


def test_nobody_is_needed_for_no_roles_and_one_for_roles_without_pairs() -> None:
    """One person may hold them all."""
    assert fewest_people((), ()).number == 0
    assert fewest_people(ROLES, ()).number == 1


def test_past_the_bound_it_is_said_that_it_is_not_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """At least as many as were shown to be needed, and no contradiction is claimed."""
    everybody = [frozenset(pair) for pair in itertools.combinations(ROLES, 2)]
    ring = [frozenset((ROLES[i], ROLES[(i + 1) % 5])) for i in range(5)]
    found = fewest_people(ROLES, ring, steps=20)
    assert (found.number, found.exact, found.held) == (2, False, {})
    monkeypatch.setattr(fewest, "STEPS", 1)
    assert too_many_for(ROLES, everybody, 2) == ()


def test_a_crew_beyond_all_size_is_answered_at_once() -> None:
    """A stranger's file may name hundreds of roles, each apart from each."""
    many = tuple(f"r{n}" for n in range(200))
    found = fewest_people(many, [frozenset(pair) for pair in itertools.combinations(many, 2)])
    assert (found.number, found.exact) == (200, False)
