"""How few people can hold a set of roles, where some pairs of roles are two people.

People are colours and pairs are edges: the question is the chromatic number of a small graph. It is answered exactly,
by trying one number of people after the other; roles are placed hardest first, and people not named yet are all alike.
The search has a bound, past which what has been shown so far is said, and that it is not all (`exact`).
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

import attrs

Pair = frozenset[str]

STEPS = 200_000
"""What one question may take: places tried, each as much as there are roles. An ordinary crew takes some hundreds."""

ROLES = 40
"""Roles with pairs that a search is tried for; of more than that only a lower bound is given."""

SUBSETS = 2_000
"""Sets of roles looked at for the smallest that too few people cannot hold."""


@attrs.frozen
class Fewest:
    """`number` people at least are needed; with `exact`, so many are enough, and `held` is one way: role to person,
    counted from 0. Empty where none was found within the bound."""

    number: int
    exact: bool
    held: Mapping[str, int]


def fewest_people(roles: Collection[str], pairs: Collection[Pair], steps: int = STEPS) -> Fewest:
    """The fewest people that can hold all roles, no pair of them held by one person."""
    beside, left = _beside(roles, pairs), _Left(steps)
    for number in range(_clique(beside), len(beside) + 1):
        try:
            held = _held(beside, number, left)
        except _TooLong:
            return Fewest(number, False, {})
        if held is not None:
            return Fewest(number, True, held)
    return Fewest(0, True, {})


def too_many_for(roles: Collection[str], pairs: Collection[Pair], people: int) -> tuple[Pair, ...]:
    """The smallest contradiction: pairs that so many people cannot satisfy, of which none can be left out.

    Of all such sets it has the fewest roles, as far as the bound lets that be looked for; else it is only one that
    cannot be made smaller. Empty where the people are enough, or where it is not known within the bound.
    """
    ordered, left_of = tuple(dict.fromkeys(pairs)), _Left(STEPS)

    def fails(chosen: Iterable[Pair]) -> bool:
        chosen = tuple(chosen)
        within = dict.fromkeys(role for pair in chosen for role in sorted(pair))
        try:
            return _held(_beside(within, chosen), people, left_of) is None
        except _TooLong:
            return False

    if not fails(ordered):
        return ()
    left = list(_fewest_roles(tuple(roles), ordered, people, fails))
    for pair in reversed(tuple(left)):
        without = [other for other in left if other != pair]
        if fails(without):
            left = without
    return tuple(left)


def _fewest_roles(
    roles: Sequence[str], pairs: Sequence[Pair], people: int, fails: Callable[[Iterable[Pair]], bool]
) -> Sequence[Pair]:
    """The pairs among the fewest roles that fail; all pairs where that is too much to look through."""
    looked = 0
    for size in range(people + 1, len(roles)):
        for some in itertools.combinations(roles, size):
            looked += 1
            if looked > SUBSETS:
                return pairs
            among = [pair for pair in pairs if pair.issubset(some)]
            if len(among) >= size * people / 2 and fails(among):
                return among
    return pairs


# ---------------------------------------------------------------------------- the search


class _TooLong(Exception):
    """The bound of a search is reached."""


@attrs.define
class _Left:
    """How much of the bound is left."""

    steps: int

    def take(self, steps: int) -> None:
        """Raises `_TooLong`."""
        self.steps -= steps
        if self.steps < 0:
            raise _TooLong


def _beside(roles: Iterable[str], pairs: Iterable[Pair]) -> dict[str, set[str]]:
    """For each role, those that somebody else holds."""
    beside: dict[str, set[str]] = {role: set() for role in roles}
    for pair in pairs:
        one, other = sorted(pair)
        beside.setdefault(one, set()).add(other)
        beside.setdefault(other, set()).add(one)
    return beside


def _clique(beside: Mapping[str, set[str]]) -> int:
    """So many roles are all held by different people: found by taking from each role on what still fits."""
    best = 1 if beside else 0
    for role in itertools.islice(beside, ROLES):
        chosen = [role]
        for other in sorted(beside[role], key=lambda x: -len(beside[x])):
            if beside[other].issuperset(chosen):
                chosen.append(other)
        best = max(best, len(chosen))
    return best


def _held(beside: Mapping[str, set[str]], people: int, left: _Left) -> dict[str, int] | None:
    """Who holds what, with so many people; None where it cannot be. Raises `_TooLong`."""
    free = [role for role, others in beside.items() if not others]
    if free and not people:
        return None
    held: dict[str, int] = dict.fromkeys(free, 0)  # whoever is there may hold these as well
    if len(beside) - len(free) > ROLES:
        raise _TooLong

    def hardest() -> str:
        open_roles = (role for role in beside if role not in held)
        return max(open_roles, key=lambda r: (len({held[x] for x in beside[r] if x in held}), len(beside[r])))

    def place(used: int) -> bool:
        if len(held) == len(beside):
            return True
        role = hardest()
        taken = {held[x] for x in beside[role] if x in held}
        for person in range(min(used + 1, people)):
            if person in taken:
                continue
            left.take(len(beside))
            held[role] = person
            if place(max(used, person + 1)):
                return True
            del held[role]
        return False

    return held if place(0) else None
