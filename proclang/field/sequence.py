"""The order in which the bolts of a circle are tightened: opposite ones in turn, so that the joint comes down flat."""

from __future__ import annotations


def star_order(count: int) -> tuple[int, ...]:
    """Positions 1 to `count`, numbered consecutively round the circle, in star order.

    For 4, 8, 12 and 20 bolts this is the cross pattern of ASME PCC-1 (legacy pattern; 12 seen in a page reproducing
    it, the others from memory): four bolts a quarter circle apart, then the next four. Other counts follow the same
    idea, each bolt as far as can be from those already tightened: common practice, no source. The maker's sequence,
    where there is one, goes before this one.
    """
    if count < 1:
        raise ValueError("a circle of bolts has at least one")
    if count % 4 == 0:
        quarter = count // 4
        starts = list(range(1, quarter + 1))
        if quarter > 3:
            starts = starts[::2] + starts[1::2]
        return tuple(s + k * quarter for s in starts for k in (0, 2, 1, 3))
    return _farthest_first(count)


def _farthest_first(count: int) -> tuple[int, ...]:
    order = [1]
    left = set(range(2, count + 1))

    def apart(a: int, b: int) -> int:
        around = abs(a - b)
        return min(around, count - around)

    while left:
        # Opposite to the last one first, then as far from all the others as possible, then the lowest number.
        best = min(left, key=lambda p: (-apart(p, order[-1]), -min(apart(p, q) for q in order), p))
        order.append(best)
        left.remove(best)
    return tuple(order)
