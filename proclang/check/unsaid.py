"""What a procedure changes and its header says nothing of: whoever performs it does not know how it is left.

It is told of the innermost procedure that does not say so; those that perform it are not told it once more.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import attrs

from proclang.check.standing import UNKNOWN, Known, Standing
from proclang.check.ways import Place, Ways
from proclang.program import model as m


@attrs.frozen
class Unsaid:
    """An item that is changed, and a state it may be left in because of that."""

    key: str
    state: str
    known: Known


def left_unsaid(ways: Ways, at: Mapping[Place, Standing], end: Place) -> Iterator[Unsaid]:
    """What a procedure that ends at `end` leaves unsaid."""
    before = at.get(Place(end.context, 0))
    if before is None:  # the run was in it already where it is looked at from
        return
    said = _said(ways.contexts[end.context].routine)
    for key, states in at[end].items.items():
        if key in said:
            continue
        found = before.items.get(key, {})
        changed = {
            state: known
            for state, known in states.items()
            if state not in found
            and known.since is not None
            and _inside(ways, known.since, end.context)
            and not _told_inside(ways, at, known.since, end.context, key, state)
        }
        # Where nothing says how it is found, it may be put back as it was: what is not is told first.
        undone = [state for state in changed if set(found) != {UNKNOWN} or not _may_be_as_found(ways, changed[state])]
        if changed:
            first = (undone or list(changed))[0]
            yield Unsaid(key, first, changed[first])


def _may_be_as_found(ways: Ways, known: Known) -> bool:
    """Whether the line that makes it so stands on a way of its own, as what puts something back does."""
    assert known.since is not None
    return bool(known.facts)


def _said(routine: m.Routine) -> set[str]:
    return set().union(*(line.place.keys() for line in routine.hardware if line.left is not None))


def _inside(ways: Ways, place: Place, context: int) -> bool:
    """Whether a place lies in a performing of a procedure, or in one performed from it."""
    return any(each == context for each in _outward(ways, place.context))


def _told_inside(ways: Ways, at: Mapping[Place, Standing], since: Place, context: int, key: str, state: str) -> bool:
    """Whether a procedure performed on the way to where it changes leaves it unsaid itself."""
    for each in _outward(ways, since.context):
        if each == context:
            return False
        before = at.get(Place(each, 0))
        if key not in _said(ways.contexts[each].routine) and before is not None:
            return state not in before.items.get(key, {})
    return False


def _outward(ways: Ways, context: int) -> Iterator[int]:
    """A performing, the one it is performed from, and so on."""
    at: int | None = context
    while at is not None:
        yield at
        caller = ways.contexts[at].caller
        at = caller.context if caller is not None else None
