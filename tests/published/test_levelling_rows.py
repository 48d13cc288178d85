"""Levelling against the published rows: bubbles, slopes, screws, the plane through points."""

from __future__ import annotations

import math
import sys
from fractions import Fraction
from pathlib import Path

import pytest
from rows import row

from proclang.field.declare import Series
from proclang.text.diagnostic import Problem

sys.path.insert(0, str(Path(__file__).parents[1] / "field"))

from field_help import inside, number, run


@row("LVL-R01")
def test_radius_of_a_tube_of_30_arcsec() -> None:
    """Surveying question read in three pages: R = s / alpha = 13.75 m, tolerance 0.01 m."""
    assert number("bubble_radius", "m", run="2 mm", angle="30 arcsec") == pytest.approx(13.75, abs=0.01)


@pytest.mark.parametrize(
    ("sensitivity", "radius", "slope"),
    [
        pytest.param("20 arcsec", 20.6265, 0.09696, marks=row("LVL-R02")),
        pytest.param("4 arcsec", 103.1324, 0.01939, marks=row("LVL-R03")),
    ],
)
def test_radius_and_slope_of_a_sensitivity(sensitivity: str, radius: float, slope: float) -> None:
    """Computed rows; radius for 2 mm divisions, and the sensitivity in mm/m; tolerance 1e-3 relative."""
    assert number("bubble_radius", "m", run="2 mm", angle=sensitivity) == pytest.approx(radius, rel=1e-3)
    assert number("rise_over", "mm", tilt=sensitivity, baseline="1 m") == pytest.approx(slope, rel=1e-3)


@row("LVL-R04")
@pytest.mark.parametrize(("slope", "angle"), [("0.02", 4.125), ("0.05", 10.31), ("0.1", 20.63), ("0.3", 1.031 * 60)])
def test_slopes_as_angles(slope: str, angle: float) -> None:
    """Computed; a sensitivity table read in a page gives 0.3 mm/m as 1 arcmin, rounded. Tolerance 0.1 %."""
    assert number("slope_angle", "arcsec", slope=f"{slope} mm/m") == pytest.approx(angle, rel=1e-3)
    assert number("tilt_over", "arcsec", rise=f"{slope} mm", baseline="1 m") == pytest.approx(angle, rel=1e-3)


@row("LVL-R05")
def test_sensitivity_from_staff_readings() -> None:
    """Surveying formula s / (n D) * 206265, numbers computed: 30.94" a division, R 13.333 m; tolerance 0.1 %."""
    found = number("bubble_sensitivity", "arcsec", difference="0.075 m", distance="100 m", divisions="5")
    assert found == pytest.approx(30.94, rel=1e-3)
    assert number("bubble_radius", "m", run="2 mm", angle=f"{found} arcsec") == pytest.approx(13.333, rel=1e-3)


@row("LVL-R06")
def test_the_printed_radius_of_57_m_is_not_reproduced() -> None:
    """DO NOT USE row: 4 divisions of 2 mm subtending 0.007 rad make 1.143 m; an exam page prints 57.14 m."""
    found = number("bubble_radius", "m", run="8 mm", angle="0.007 rad")
    assert found == pytest.approx(1.143, abs=5e-4)
    assert abs(found - 57.14) > 50


@pytest.mark.parametrize(
    ("pitch", "rise", "turns", "degrees", "flats"),
    [
        pytest.param("1.5 mm/turn", "0.75 mm", 0.5, 180, 3, marks=row("LVL-R07")),
        pytest.param("2.0 mm/turn", "0.35 mm", 0.175, 63, 1.05, marks=row("LVL-R08")),
    ],
)
def test_turns_for_a_change_of_height(pitch: str, rise: str, turns: float, degrees: float, flats: float) -> None:
    """Computed rows, tolerance 1e-4; exact here."""
    found = run("turn_for_height", rise=rise, pitch=pitch)
    assert not isinstance(found, Problem)
    assert inside(found[0], "turn") == pytest.approx(turns, rel=1e-4)
    assert inside(found[0], "deg") == pytest.approx(degrees, rel=1e-4)
    assert inside(found[1], "") == pytest.approx(flats, rel=1e-4)


@pytest.mark.parametrize(
    ("pitch", "baseline", "tilt", "rise", "turns", "degrees"),
    [
        pytest.param("1.5 mm/turn", "400 mm", "60 arcsec", 0.1164, 0.0776, 27.93, marks=row("LVL-R09")),
        pytest.param("2.0 mm/turn", "850 mm", "300 arcsec", 1.2363, 0.6181, 222.53, marks=row("LVL-R10")),
    ],
)
def test_turn_of_one_foot(pitch: str, baseline: str, tilt: str, rise: float, turns: float, degrees: float) -> None:
    """Computed rows, tolerance 1e-3. A foot that is high comes down, so here they are negative."""
    found = run("foot_turn", tilt=tilt, baseline=baseline, pitch=pitch)
    assert not isinstance(found, Problem)
    assert inside(found[0], "mm") == pytest.approx(-rise, rel=1e-3)
    assert inside(found[1], "turn") == pytest.approx(-turns, rel=1e-3)
    assert inside(found[1], "deg") == pytest.approx(-degrees, rel=1e-3)
    reached = number("reach_of_hand", "arcsec", pitch=pitch, circle=baseline, part=f"{turns} turn")
    assert reached == pytest.approx(float(tilt.split()[0]), rel=1e-3)


@pytest.mark.parametrize(
    ("points", "a", "b", "total", "downhill", "rms"),
    [
        pytest.param(
            [(0, 0, 0.0), (300, 0, 0.45), (150, 260, -0.2)], 1.5e-3, -1.634615e-3, 457.6, 317.46, 0.0,
            marks=row("LVL-R11"),
        ),
        pytest.param(
            [(-200, -200, 0.12), (200, -200, 0.31), (200, 200, 0.52), (-200, 200, 0.25)], 5.75e-4, 4.25e-4, 147.5,
            233.53, 0.02, marks=row("LVL-R12"),
        ),
    ],
)  # fmt: skip
def test_plane_through_points(
    points: list[tuple[float, float, float]], a: float, b: float, total: float, downhill: float, rms: float
) -> None:
    """numpy lstsq; slopes and rms to 1e-4, tilt and direction to the digit printed (0.1 arcsec is 7e-4 of 147.5)."""
    x, y, z = ([f"{v} mm" for v in column] for column in zip(*points, strict=True))
    found = run("plane_fit", x=x, y=y, z=z)
    assert not isinstance(found, Problem)
    slopes = [math.tan(math.radians(inside(tilt, "deg"))) for tilt in found[:2]]
    assert slopes == pytest.approx([a, b], rel=1e-4)
    assert inside(found[2], "mm") == pytest.approx(rms, rel=1e-4, abs=1e-9)
    tilts = {"ew": f"{Fraction(found[0])} deg", "ns": f"{Fraction(found[1])} deg"}
    assert number("total_tilt", "arcsec", **tilts) == pytest.approx(total, abs=0.05)
    assert number("downhill", "deg", **tilts) == pytest.approx(downhill, abs=0.005)
    left = run("plane_residuals", x=x, y=y, z=z)
    assert not isinstance(left, Problem)
    assert isinstance(left[0], Series)
    squares = [float(value * 1000) ** 2 for value in left[0].values]
    assert math.sqrt(math.fsum(squares) / len(squares)) == pytest.approx(rms, rel=1e-4, abs=1e-9)


WIRE_X1 = [2, 8, 11, 10, 8, 4, 2, 2, 9, 8, 4, 11, 12, 2, 4, 4, 20, 1, 10, 15, 15, 16, 17, 6, 5]
WIRE_X2 = [50, 110, 120, 550, 295, 200, 375, 52, 100, 300, 412, 400, 500, 360, 205, 400, 600, 585, 540, 250, 290, 510,
           590, 100, 400]  # fmt: skip
WIRE_Y = [9.95, 24.45, 31.75, 35.0, 25.02, 16.86, 14.38, 9.6, 24.35, 27.5, 17.08, 37.0, 41.95, 11.66, 21.65, 17.89,
          69.0, 10.3, 34.93, 46.59, 44.88, 54.12, 56.63, 22.13, 21.15]  # fmt: skip


@row("LVL-R13")
def test_wire_bond_data() -> None:
    """Montgomery and Runger, wire-bond example: slopes 2.74427 and 0.01253, SSE 115.1735; tolerance 1e-5.

    The data were read in a public repository; the book's slopes are from memory and were computed again with numpy.
    The numbers stand for metres here; a plane does not care.
    """
    x, y, z = ([f"{Fraction(str(v))} m" for v in values] for values in (WIRE_X1, WIRE_X2, WIRE_Y))
    found = run("plane_fit", x=x, y=y, z=z)
    assert not isinstance(found, Problem)
    slopes = [math.tan(math.radians(inside(tilt, "deg"))) for tilt in found[:2]]
    assert slopes == pytest.approx([2.74427, 0.01253], abs=1e-5)
    assert inside(found[2], "m") ** 2 * len(WIRE_Y) == pytest.approx(115.1735, rel=1e-5)
    left = run("plane_residuals", x=x, y=y, z=z)
    assert not isinstance(left, Problem)
    assert isinstance(left[0], Series)
    # The intercept 2.26379 is the height less what the slopes and the residual account for.
    heights = zip(WIRE_X1, WIRE_X2, WIRE_Y, left[0].values, strict=True)
    for x1, x2, height, residual in heights:
        assert height - float(residual) - slopes[0] * x1 - slopes[1] * x2 == pytest.approx(2.26379, abs=1e-5)
