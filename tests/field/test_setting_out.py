"""The circle through measured bolts: a published circle, whole-numbered triangles, numpy, and what is refused."""

from __future__ import annotations

import math
import random
from fractions import Fraction

import numpy as np
import pytest
from field_help import inside, refusal, run
from hypothesis import given
from hypothesis import strategies as st

from proclang.field.declare import Series
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


def patterned(x: list[float], y: list[float], circle: float, first: float) -> tuple[float, float, float, list[float]]:
    """Middle, turn in degrees and what each bolt is off, in mm."""
    results = run(
        "pattern_fit",
        x=[f"{Fraction(v)} mm" for v in x],
        y=[f"{Fraction(v)} mm" for v in y],
        circle=f"{Fraction(circle)} mm",
        first_stud=f"{Fraction(first)} deg",
    )
    assert not isinstance(results, Problem), results
    assert isinstance(results[3], Series)
    return *(inside(results[k], unit) for k, unit in enumerate(("mm", "mm", "deg"))), [
        float(value) * 1000 for value in results[3].values
    ]


def drawn(count: int, circle: float, first: float) -> np.ndarray:
    """Places of the drawing, clockwise from `first` degrees, east and north."""
    around = np.radians(first) + 2 * np.pi * np.arange(count) / count
    return circle / 2 * np.column_stack([np.sin(around), np.cos(around)])


@pytest.mark.parametrize("seed", range(30))
def test_a_turned_pattern_agrees_with_scipy(seed: int) -> None:
    """Oracle: scipy's fit of a turn between two sets of directions, on bolts moved, turned and off at random."""
    from scipy.spatial.transform import Rotation

    chance = random.Random(seed)
    count, circle, first = chance.randint(3, 12), chance.uniform(200, 900), chance.uniform(-180, 180)
    places = drawn(count, circle, first)
    turned = drawn(count, circle, first + chance.uniform(-5, 5))
    bolts = turned + np.array([[chance.gauss(0, 1), chance.gauss(0, 1)] for _ in range(count)])
    bolts += np.array([chance.uniform(-50, 50), chance.uniform(-50, 50)])
    x, y, rotation, off = patterned(list(bolts[:, 0]), list(bolts[:, 1]), circle, first)
    assert (x, y) == pytest.approx(tuple(bolts.mean(axis=0)), abs=1e-7)
    flat = np.zeros((count, 1))
    found, _ = Rotation.align_vectors(np.hstack([bolts - bolts.mean(axis=0), flat]), np.hstack([places, flat]))
    # scipy counts from east to north, a bearing from north to east.
    assert rotation == pytest.approx(-found.as_euler("zyx", degrees=True)[0], abs=1e-6)
    left = bolts - bolts.mean(axis=0) - found.apply(np.hstack([places, flat]))[:, :2]
    assert off == pytest.approx(list(np.hypot(left[:, 0], left[:, 1])), abs=1e-5)


def test_bolts_turned_clockwise_are_turned_by_a_positive_angle() -> None:
    """Signs: four bolts that stand 2 deg further clockwise than drawn."""
    bolts = drawn(4, 540, 2)
    x, y, rotation, off = patterned(list(bolts[:, 0]), list(bolts[:, 1]), 540, 0)
    assert (x, y, rotation) == pytest.approx((0, 0, 2), abs=1e-9)
    assert max(off) < 1e-9


@pytest.mark.parametrize("wrong", ["anticlockwise", "diameter", "two"])
def test_bolts_that_are_not_the_pattern_are_refused(wrong: str) -> None:
    """Read the wrong way round, against the wrong circle, or too few to be a pattern."""
    bolts = drawn(6, 540, 0)
    if wrong == "anticlockwise":
        bolts = bolts[::-1]
    if wrong == "two":
        bolts = bolts[:2]
    found = refusal(
        "pattern_fit",
        x=[f"{Fraction(v)} mm" for v in bolts[:, 0]],
        y=[f"{Fraction(v)} mm" for v in bolts[:, 1]],
        circle="200 mm" if wrong == "diameter" else "540 mm",
    )
    assert found.code == "cannot-compute"
    assert ("three bolts" if wrong == "two" else "place of another") in found.message


@given(st.floats(5, 40), st.floats(0, 4), st.floats(100, 900))
def test_a_plate_turned_by_its_play_just_touches(bolt: float, wider: float, circle: float) -> None:
    """Oracle: a hole moved along the circle by that angle has its middle one play from its bolt, by coordinates."""
    play, rotation = (
        inside(value, unit)
        for value, unit in zip(
            run(
                "hole_clearance",
                hole=f"{Fraction(bolt) + Fraction(wider)} mm",
                bolt=f"{Fraction(bolt)} mm",
                circle=f"{Fraction(circle)} mm",
            ),
            ("mm", "rad"),
            strict=True,
        )
    )
    assert play == pytest.approx(wider / 2, rel=1e-9, abs=1e-12)
    moved = math.hypot(circle / 2 * (math.cos(rotation) - 1), circle / 2 * math.sin(rotation))
    assert moved == pytest.approx(play, rel=1e-6, abs=1e-9)


def test_a_bolt_thicker_than_its_hole_is_refused() -> None:
    """Impossible geometry."""
    assert "thicker" in refusal("hole_clearance", hole="22 mm", bolt="24 mm", circle="540 mm").message
