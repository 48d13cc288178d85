"""The circle through measured bolts: a published circle, whole-numbered triangles, numpy, and what is refused."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from field_help import inside, refusal, run
from hypothesis import given
from hypothesis import strategies as st

from proclang.text.diagnostic import Problem


def fitted(x: list[float], y: list[float], unit: str = "mm") -> tuple[float, ...]:
    """Centre, radius and residual in the unit of the points."""
    results = run("circle_fit", x=[f"{v!r} {unit}" for v in x], y=[f"{v!r} {unit}" for v in y])
    assert not isinstance(results, Problem), results
    return tuple(inside(value, unit) for value in results)


def test_a_published_circle() -> None:
    """Gander, Golub, Strebel, BIT 34 (1994), six points: geometric fit z = (4.7398, 2.9835), r = 4.7142.

    Points and result from memory; the paper is public, and the result would not come out of wrong points.
    """
    x, y, radius, residual = fitted([1, 2, 5, 7, 9, 3], [7, 6, 8, 7, 5, 7])
    assert (x, y, radius) == pytest.approx((4.7398, 2.9835, 4.7142), abs=5e-5)
    # The residual is by definition that of the point farthest from the circle.
    far = max(
        abs(math.hypot(a - x, b - y) - radius) for a, b in zip([1, 2, 5, 7, 9, 3], [7, 6, 8, 7, 5, 7], strict=True)
    )
    assert residual == pytest.approx(far, rel=1e-9)


def test_whole_numbers_on_a_circle_come_out_whole() -> None:
    """3-4-5 triangles (Euclid): eight points at 5 from (10, -7); nothing is left over."""
    corners = [(3, 4), (4, 3), (4, -3), (3, -4), (-3, -4), (-4, -3), (-4, 3), (-3, 4)]
    assert fitted([10 + a for a, _ in corners], [-7 + b for _, b in corners]) == (10, -7, 5, 0)


def test_three_points_make_one_circle() -> None:
    """Thales: the circle through the corners of a right triangle has the long side for its diameter."""
    assert fitted([0, 6, 0], [0, 0, 8]) == pytest.approx((3, 4, 5, 0), abs=1e-9)


@pytest.mark.parametrize("seed", range(40))
def test_the_sum_of_squares_is_least(seed: int) -> None:
    """Oracle: numpy.linalg.lstsq solves each step from the circle that was found, and finds nothing to improve."""
    chance = random.Random(seed)
    count = chance.randint(4, 16)
    first = chance.uniform(0, 6)
    around = [first + 2 * math.pi * (k + chance.uniform(-0.2, 0.2)) / count for k in range(count)]
    x = [270 * math.cos(a) + 31 + chance.gauss(0, 1.5) for a in around]
    y = [270 * math.sin(a) - 8 + chance.gauss(0, 1.5) for a in around]
    cx, cy, radius, _ = fitted(x, y)
    away = np.hypot(np.array(x) - cx, np.array(y) - cy)
    matrix = np.column_stack([(np.array(x) - cx) / away, (np.array(y) - cy) / away, np.ones(count)])
    better = np.linalg.lstsq(matrix, away - radius, rcond=None)[0]
    assert np.abs(better).max() < 1e-7


@given(
    st.integers(3, 24),
    st.floats(1, 2000),
    st.floats(-5000, 5000),
    st.floats(-5000, 5000),
    st.floats(0, 6.2),
)
def test_bolts_on_a_circle_give_that_circle(count: int, radius: float, east: float, north: float, first: float) -> None:
    """Evenly spaced points, anywhere, of any number: back come centre and radius, and nothing is left over."""
    around = [first + 2 * math.pi * k / count for k in range(count)]
    x, y, found, residual = fitted(
        [round(east + radius * math.cos(a), 6) for a in around],
        [round(north + radius * math.sin(a), 6) for a in around],
    )
    assert (x, y, found) == pytest.approx((east, north, radius), abs=3e-6)
    assert residual < 3e-6


@pytest.mark.parametrize(
    ("x", "y", "said"),
    [
        ([0, 1], [0, 1], "three points"),
        ([2, 2, 2], [3, 3, 3], "one place"),
        ([0, 1, 2, 3], [0, 2, 4, 6], "one line"),
        ([0, 1, 2, 3], [0, 0.01, 0.01, 0], "less than a quarter"),
    ],
)
def test_points_that_make_no_circle_are_refused(x: list[float], y: list[float], said: str) -> None:
    """Never a circle of a mile for bolts on a short arc."""
    found = refusal("circle_fit", x=[f"{v} mm" for v in x], y=[f"{v} mm" for v in y])
    assert found.code == "cannot-compute"
    assert said in found.message
