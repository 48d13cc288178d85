"""Bubbles, staffs, digital readings and a level's drift against simulated instruments, statistics and numpy."""

from __future__ import annotations

import math
import statistics
from fractions import Fraction

import numpy as np
import pytest
from field_help import inside, number, refusal, run
from hypothesis import given
from hypothesis import strategies as st

from proclang.field.declare import Series
from proclang.text.diagnostic import Problem


def both(name: str, unit: str, **arguments: object) -> tuple[float, ...]:
    """All results in a unit."""
    found = run(name, **arguments)
    assert not isinstance(found, Problem), found
    return tuple(inside(value, unit) for value in found)


@given(st.floats(0.5, 5), st.floats(1, 300))
def test_radius_and_sensitivity_belong_together(division: float, sensitivity: float) -> None:
    """A staff that shows one division at a distance equal to the radius rises by about a division: two derivations."""
    angle = f"{Fraction(sensitivity)} arcsec"
    radius = number("bubble_radius", "m", run=f"{Fraction(division)} mm", angle=angle)
    found = number(
        "bubble_sensitivity", "arcsec", difference=f"{Fraction(division)} mm", distance=f"{Fraction(radius)} m",
        divisions=1,
    )  # fmt: skip
    # The staff stands upright, so its reading is a tangent and not an arc: a third of the square of the angle.
    assert found == pytest.approx(sensitivity, rel=1e-6)


@pytest.mark.parametrize("wide", [6, 7.5, 11])
def test_the_length_of_a_bubble_drops_out(wide: float) -> None:
    """Simulated: a bubble that grows in the cold, its middle 1.25 divisions to the plus side; and what that tilts."""
    offset = number("bubble_offset", "", minus_end=Fraction(wide - 1.25), plus_end=Fraction(wide + 1.25))
    assert offset == 1.25
    assert number("bubble_tilt", "arcsec", divisions=Fraction(offset), sensitivity="20 arcsec") == 25


@given(st.floats(-500, 500))
def test_a_slope_is_the_tangent_of_its_angle(slope: float) -> None:
    """Oracle: numpy's arctangent; a rise over a metre and the slope in mm/m are the same thing."""
    found = number("slope_angle", "rad", slope=f"{Fraction(slope)} mm/m")
    assert found == pytest.approx(float(np.arctan(slope / 1000)), rel=1e-10, abs=1e-15)
    assert number("tilt_over", "rad", rise=f"{Fraction(slope)} mm", baseline="1 m") == found


@given(st.floats(-80, 80), st.floats(0.05, 20))
def test_rise_and_tilt_are_each_other_backwards(tilt: float, baseline: float) -> None:
    """There and back."""
    length = f"{Fraction(baseline)} m"
    rise = number("rise_over", "m", tilt=f"{Fraction(tilt)} deg", baseline=length)
    assert number("tilt_over", "deg", rise=f"{Fraction(rise)} m", baseline=length) == pytest.approx(tilt, abs=1e-9)


def test_a_loop_of_heights_closes() -> None:
    """Surveying practice: differences round a loop add up to nothing; readings of an invented staff, exact."""
    readings = ["1.432 m", "1.118 m", "0.907 m", "1.655 m"]
    loop = [
        run("height_difference", back=a, fore=b) for a, b in zip(readings, readings[1:] + readings[:1], strict=True)
    ]
    assert sum(value for (value,) in loop) == 0
    assert loop[0][0] > 0


def test_a_staff_upside_down_is_refused() -> None:
    """A negative reading turns a difference round."""
    assert "below zero" in refusal("height_difference", back="-1 m", fore="1 m").message


angles = st.lists(st.integers(-2000, 2000).map(lambda n: Fraction(n, 100)), min_size=1, max_size=6)


@given(angles, st.integers(-500, 500).map(lambda n: Fraction(n, 100)))
def test_means_of_reversed_readings_separate_tilt_and_zero(noise: list[Fraction], zero: Fraction) -> None:
    """A simulated digital level with a zero; means by the standard library's statistics, exact fractions."""
    direct = [Fraction(3) + zero + part for part in noise]
    turned = [-Fraction(3) + zero + part for part in reversed(noise)]
    found = run(
        "reversed_means",
        direct=[f"{value} arcmin" for value in direct],
        turned=[f"{value} arcmin" for value in turned],
    )
    assert not isinstance(found, Problem)
    assert found[0] * 60 == 3
    assert found[1] * 60 == zero + statistics.mean(noise)


def test_one_pair_of_means_is_the_reversal() -> None:
    """With one reading each way it is `reverse_level` and `level_zero`."""
    pair = {"direct": "6 arcmin", "reversed": "-1 arcmin"}
    assert run("reversed_means", direct=["6 arcmin"], turned=["-1 arcmin"]) == (
        *run("reverse_level", readings=pair),
        *run("level_zero", readings=pair),
    )


@pytest.mark.parametrize(("start", "end"), [(0, 0), (2, 5), (-4, 1), (3, -3)])
def test_the_drift_of_a_zero_bounds_what_a_single_reading_leaves(start: int, end: int) -> None:
    """A simulated level whose zero goes steadily from one to the other, read on two places.

    Any single reading in between, less the zero halfway, is off by at most half the drift.
    """
    found = run(
        "zero_drift",
        before={"direct": f"{7 + start} arcmin", "reversed": f"{-7 + start} arcmin"},
        after={"direct": f"{-2 + end} arcmin", "reversed": f"{2 + end} arcmin"},
    )
    assert not isinstance(found, Problem)
    drift, zero = (value * 60 for value in found)
    assert drift == end - start
    for k in range(11):
        zero_then = start + Fraction(end - start) * k / 10
        assert abs(zero_then - zero) <= abs(drift) / 2


@given(st.floats(-60, 60), st.floats(-60, 60))
def test_total_tilt_and_downhill_agree_with_a_normal(ns: float, ew: float) -> None:
    """Oracle: the normal of the plane as a cross product by numpy; its horizontal part points downhill."""
    north = np.array([0.0, 1.0, math.tan(math.radians(ns))])
    east = np.array([1.0, 0.0, math.tan(math.radians(ew))])
    normal = np.cross(east, north)
    tilts = {"ns": f"{Fraction(ns)} deg", "ew": f"{Fraction(ew)} deg"}
    total = number("total_tilt", "rad", **tilts)
    level = float(np.hypot(normal[0], normal[1]))
    assert total == pytest.approx(math.atan2(level, normal[2]), rel=1e-9, abs=1e-12)
    if level > 1e-9:
        way = number("downhill", "rad", **tilts)
        assert 0 <= way <= 2 * math.pi
        assert [math.sin(way), math.cos(way)] == pytest.approx(list(normal[:2] / level), abs=1e-9)


def test_a_level_plane_has_no_way_down() -> None:
    """No direction is made up."""
    assert number("total_tilt", "deg", ns="0 deg", ew="0 deg") == 0
    assert "no way down" in refusal("downhill", ns="0 deg", ew="0 deg").message
    assert "below 90 deg" in refusal("total_tilt", ns="90 deg", ew="0 deg").message


def test_what_is_left_over_agrees_with_numpy() -> None:
    """Oracle: numpy.linalg.lstsq, six invented points; the residuals keep the labels of the points and cancel."""
    x, y, z = [0, 1, 2, 0, 1, 2], [0, 0, 0, 1, 1, 1], [0.1, 1.2, 1.9, -0.4, 0.8, 1.7]
    labels = "abcdef"
    found = run(
        "plane_residuals",
        x={k: f"{v} m" for k, v in zip(labels, x, strict=True)},
        y={k: f"{v} m" for k, v in zip(labels, y, strict=True)},
        z={k: f"{v} mm" for k, v in zip(labels, z, strict=True)},
    )
    assert not isinstance(found, Problem)
    assert isinstance(found[0], Series)
    assert found[0].labels == tuple(labels)
    matrix = np.column_stack([x, y, np.ones(6)])
    wanted = np.array(z) - matrix @ np.linalg.lstsq(matrix, np.array(z), rcond=None)[0]
    assert [float(value) * 1000 for value in found[0].values] == pytest.approx(list(wanted), abs=1e-9)
    assert sum(float(value) for value in found[0].values) == pytest.approx(0, abs=1e-12)
