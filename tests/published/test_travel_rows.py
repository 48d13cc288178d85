"""Motion of an axis against the published rows; those of the sky are in a file of their own."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from rows import row

from proclang.text.diagnostic import Problem

sys.path.insert(0, str(Path(__file__).parents[1] / "field"))

from field_help import inside, number, run


@pytest.mark.parametrize(
    ("speed", "deceleration", "distance", "time"),
    [
        pytest.param("4 deg/s", "2 deg/s^2", 4, 2, marks=row("ALT-R11")),
        pytest.param("1.5 deg/s", "0.5 deg/s^2", 2.25, 3, marks=row("ALT-R12")),
    ],
)
def test_distance_and_time_of_a_stop(speed: str, deceleration: str, distance: float, time: float) -> None:
    """Kinematics, v^2 / 2a and v / a; tolerance 1e-6."""
    given = {"speed": speed, "deceleration": deceleration}
    assert number("stopping_distance", "deg", **given) == pytest.approx(distance, abs=1e-6)
    assert number("stopping_time", "s", **given) == pytest.approx(time, abs=1e-6)


@pytest.mark.parametrize(
    ("angle", "time", "top"),
    [
        pytest.param("90 deg", 24.5, 4, marks=row("ALT-R13")),
        pytest.param("1 deg", 1.4142, 1.4142, marks=row("ALT-R14")),
    ],
)
def test_time_of_a_slew(angle: str, time: float, top: float) -> None:
    """Kinematics at 4 deg/s and 2 deg/s^2, with and without reaching the speed; tolerance 1e-4."""
    found = run("slew_time", angle=angle, speed="4 deg/s", acceleration="2 deg/s^2")
    assert not isinstance(found, Problem)
    assert inside(found[0], "s") == pytest.approx(time, abs=1e-4)
    assert inside(found[1], "deg/s") == pytest.approx(top, abs=1e-4)
