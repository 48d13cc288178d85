"""Along every way until nothing new is learnt."""

from __future__ import annotations

import heapq
from collections.abc import Callable

from proclang.check.standing import Standing, joined
from proclang.check.ways import Place, Ways


def settle(
    ways: Ways, begin: Standing, after: Callable[[Place, Standing], Standing], start: Place | None = None
) -> dict[Place, Standing]:
    """What is known at each place that can be come to from `start`, usually the beginning. `after` says what an
    instruction does to it.

    It comes to rest: the states of an item only grow, what is known of them only shrinks. Places are looked at in the
    order in which a run comes to them, so that where no loop goes round each is looked at once. A graph past every
    bound is looked at in part; what is said of it is true all the same.
    """
    start = start if start is not None else ways.start
    order, onward = ways.in_order(start)
    at = {start: begin}
    todo = [(order[start], start)]
    waiting = {start}
    while todo:
        _, place = heapq.heappop(todo)
        waiting.discard(place)
        here = after(place, at[place])
        for way in onward.get(place, ()):
            told = here if way.fact is None else here.where(way.fact)
            if told is None:
                continue
            before = at.get(way.to)
            now = told if before is None else joined(before, told)
            if before is None or (now is not before and now != before):
                at[way.to] = now
                if way.to not in waiting:
                    waiting.add(way.to)
                    heapq.heappush(todo, (order[way.to], way.to))
    return at
