"""Stopping, threads and torque against published rows and a units library."""

from __future__ import annotations

from fractions import Fraction

import pint
import pytest
from field_help import base, inside, number, refusal, run

from proclang.field.threads import COARSE
from proclang.text.diagnostic import Problem


@pytest.mark.parametrize(
    ("row", "speed", "deceleration", "distance"), [("ALT-R11", "4", "2", "4"), ("ALT-R12", "1.5", "0.5", "2.25")]
)
def test_alt_r11_r12_stopping_distance(row: str, speed: str, deceleration: str, distance: str) -> None:
    """ALT-R11 and ALT-R12, kinematics v^2 / 2a; exact here."""
    for sign in ("", "-"):
        result = run("stopping_distance", speed=f"{sign}{speed} deg/s", deceleration=f"{deceleration} deg/s^2")
        assert result == (Fraction(distance),), row


def test_latency_runs_at_full_speed() -> None:
    """v t is added: 4 deg/s for 0.25 s is one degree more, in whatever unit it is said."""
    for speed in ("4 deg/s", "-4 deg/s"):
        assert run("stopping_distance", speed=speed, deceleration="2 deg/s^2", latency="250 ms") == (5,)


def test_stopping_agrees_with_a_simulated_drive() -> None:
    """Independent: integrate a drive that goes on for the latency and then slows down, in steps of 0.1 ms."""
    speed, slowing, latency, step = 3.0, 1.2, 0.35, 1e-4
    run_on, clock = 0.0, 0.0
    while speed > 0:
        if clock >= latency:
            speed = max(0.0, speed - slowing * step)
        run_on += speed * step
        clock += step
    told = number("stopping_distance", "deg", speed="3 deg/s", deceleration="1.2 deg/s^2", latency="0.35 s")
    assert told == pytest.approx(run_on, rel=1e-3)


@pytest.mark.parametrize(
    "changed", [{"deceleration": "0 deg/s^2"}, {"deceleration": "-2 deg/s^2"}, {"latency": "-1 s"}]
)
def test_a_drive_that_does_not_slow_down_is_refused(changed: dict[str, str]) -> None:
    """A wrong sign may not shorten a stopping distance."""
    found = refusal("stopping_distance", **({"speed": "4 deg/s", "deceleration": "2 deg/s^2"} | changed))
    assert found.code == "cannot-compute"


def test_middle_of_the_travel() -> None:
    """By definition, for turning and for sliding axes."""
    assert run("mid_travel", plus="272 deg", minus="-268 deg") == (2,)
    assert run("mid_travel", plus="900 mm", minus="100 mm") == (base("500 mm")[0],)


def test_exchanged_stops_are_refused() -> None:
    """The usual slip: the minus stop typed as plus, or a lost sign."""
    assert "exchanged" in refusal("mid_travel", plus="-268 deg", minus="272 deg").message


# BLT-R01 to BLT-R05: ISO 261 / 724 geometry, nominal stress area read in a page reproducing EN ISO 898-1.
BOLTS = [
    ("BLT-R01", 8, "1.25", 7.188, 6.647, 36.6, 36.61),
    ("BLT-R02", 12, "1.75", 10.863, 10.106, 84.3, 84.27),
    ("BLT-R03", 20, "2.5", 18.376, 17.294, 245, 244.79),
    ("BLT-R04", 30, "3.5", 27.727, 26.211, 561, 560.59),
    ("BLT-R05", 36, "4", 33.402, 31.670, 817, 816.72),
]


@pytest.mark.parametrize(("row", "nominal", "pitch", "d2", "d1", "area", "by_formula"), BOLTS)
def test_blt_r01_to_r05_coarse_threads(
    row: str, nominal: int, pitch: str, d2: float, d1: float, area: float, by_formula: float
) -> None:
    """Pitch exact, diameters 0.001 mm, stress area 0.5 % of the nominal one and the last digit of the formula's."""
    assert run("coarse_pitch", nominal=f"{nominal} mm") == (base(f"{pitch} mm/turn")[0],), row
    given = {"nominal": f"{nominal} mm", "pitch": f"{pitch} mm/turn"}
    diameters = run("thread_diameters", **given)
    assert not isinstance(diameters, Problem)
    assert [inside(d, "mm") for d in diameters] == [pytest.approx(d2, abs=1e-3), pytest.approx(d1, abs=1e-3)]
    assert number("stress_area", "mm^2", **given) == pytest.approx(area, rel=5e-3)
    assert number("stress_area", "mm^2", **given) == pytest.approx(by_formula, abs=0.006)


# Nominal stress areas of coarse threads in mm^2, read in a third-party page that gives them after ISO 898-1.
STRESS_AREAS = {3: 5.03, 4: 8.78, 5: 14.2, 6: 20.1, 8: 36.6, 10: 58, 12: 84.3, 16: 157, 20: 245, 24: 353, 30: 561,
                36: 817, 42: 1120, 48: 1470}  # fmt: skip


@pytest.mark.parametrize(("nominal", "area"), STRESS_AREAS.items())
def test_stress_areas_agree_with_the_printed_ones(nominal: int, area: float) -> None:
    """The pitch out of our own table, so this checks the table too; printed to three figures."""
    pitch = COARSE[Fraction(nominal)]
    told = number("stress_area", "mm^2", nominal=f"{nominal} mm", pitch=f"{pitch} mm/turn")
    assert told == pytest.approx(area, rel=5e-3)


@pytest.mark.parametrize("nominal", ["7 mm", "14 mm", "19 mm", "20.001 mm", "0 mm", "-20 mm", "65 mm"])
def test_a_size_not_in_the_table_is_refused(nominal: str) -> None:
    """Nothing is interpolated between sizes of a standard; M14 is a second choice."""
    assert refusal("coarse_pitch", nominal=nominal).code == "cannot-compute"


@pytest.mark.parametrize("name", ["stress_area", "thread_diameters"])
@pytest.mark.parametrize("pitch", ["0 mm/turn", "-1 mm/turn", "10 mm/turn"])
def test_a_thread_deeper_than_its_bolt_is_refused(name: str, pitch: str) -> None:
    """Impossible geometry."""
    assert refusal(name, nominal="10 mm", pitch=pitch).code == "cannot-compute"


def test_blt_r23_r24_torque_of_a_force_on_an_arm() -> None:
    """BLT-R23 and BLT-R24: one pound-force on a foot and on an inch, exact definitions, 1e-9 relative."""
    assert number("torque", "N.m", force="1 lbf", arm="1 ft") == pytest.approx(1.3558179483, rel=1e-9)
    assert number("torque", "N.m", force="1 lbf", arm="1 inch") == pytest.approx(0.112984829, rel=2e-9)


@pytest.mark.parametrize(("force", "arm"), [("120 N", "0.4 m"), ("-3 kN", "25 mm"), ("50 lbf", "18 inch")])
def test_torque_agrees_with_pint(force: str, arm: str) -> None:
    """Oracle: pint's product in newton metres."""
    registry = pint.UnitRegistry()
    wanted = (registry.Quantity(force) * registry.Quantity(arm)).to("newton * meter").magnitude
    assert number("torque", "N.m", force=force, arm=arm) == pytest.approx(wanted, rel=1e-11)
