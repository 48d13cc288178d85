"""Stopping, threads, returned spots and torque against published rows, a traced ray and a units library."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pint
import pytest
from field_help import base, inside, number, refusal, run
from hypothesis import given
from hypothesis import strategies as st

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


@pytest.mark.parametrize(
    ("row", "offset", "throw", "tilt", "tolerance"),
    [
        ("OPT-R01", "5.8178 mm", "10 m", 60, 1e-4),
        ("OPT-R02", "2.4241 mm", "25 m", 10, 1e-4),
        ("OPT-R03", "4.0 mm", "8.0 m", 51.566, 1e-3),
    ],
)
def test_opt_r01_to_r03_tilt_from_the_returned_spot(
    row: str, offset: str, throw: str, tilt: float, tolerance: float
) -> None:
    """Law of reflection: R03 as printed, R01 and R02 backwards."""
    for dx, dy in ((offset, "0 mm"), ("0 mm", offset), (f"-{offset}", "0 mm")):
        assert number("spot_tilt", "arcsec", dx=dx, dy=dy, throw=throw) == pytest.approx(tilt, rel=tolerance), row


@pytest.mark.parametrize(
    ("row", "tilt", "lever", "travel"),
    [("OPT-R06", 257.831, "100 mm", 0.125), ("OPT-R07", 137.510, "75 mm", 0.05)],
)
def test_opt_r06_r07_screw_for_a_tilt(row: str, tilt: float, lever: str, travel: float) -> None:
    """Screw travel dl = r tan(tilt), the tilt being shown to us as a spot 10 m away; tolerance 1e-3."""
    offset = 10_000 * math.tan(2 * math.radians(tilt / 3600))
    turns = run("tilt_screws", dx=f"{offset} mm", dy="0 mm", throw="10 m", lever=lever, pitch="0.5 mm/turn")
    assert not isinstance(turns, Problem)
    assert inside(turns[0], "turn") * 0.5 == pytest.approx(-travel, rel=1e-3), row
    assert turns[1] == 0


def spot_on_card(tip_right: float, tip_up: float, throw: float) -> tuple[float, float]:
    """Where a beam from the mark comes back, the normal tipped right and up: a ray traced with vectors by numpy."""
    normal = np.array([math.tan(tip_right), math.tan(tip_up), 1.0])
    normal /= np.linalg.norm(normal)
    beam = np.array([0.0, 0.0, -1.0])
    back = beam - 2 * (beam @ normal) * normal
    return throw * back[0] / back[2], throw * back[1] / back[2]


@given(st.floats(-0.02, 0.02), st.floats(-0.02, 0.02), st.floats(1, 30))
def test_turning_the_screws_as_told_brings_the_spot_back(right: float, up: float, throw: float) -> None:
    """A traced ray: after the two turns the spot lies on its mark but for what the two axes do to each other."""
    dx, dy = spot_on_card(right, up, throw)
    lever, pitch = 0.12, 0.001
    turns = run(
        "tilt_screws",
        dx=f"{Fraction(dx)} m",
        dy=f"{Fraction(dy)} m",
        throw=f"{Fraction(throw)} m",
        lever="120 mm",
        pitch="1 mm/turn",
    )
    assert not isinstance(turns, Problem), turns
    tipped = (math.atan(inside(turn, "turn") * pitch / lever) for turn in turns)
    left_x, left_y = spot_on_card(right + next(tipped), up + next(tipped), throw)
    assert math.hypot(left_x, left_y) <= 0.005 * math.hypot(dx, dy) + 1e-9 * throw


def test_each_screw_moves_its_own_axis_against_the_offset() -> None:
    """Spot right: screw A turns negative and B stays; spot low: screw B turns positive."""
    usual = {"throw": "8 m", "lever": "120 mm", "pitch": "1 mm/turn"}
    right = run("tilt_screws", dx="10 mm", dy="0 mm", **usual)
    low = run("tilt_screws", dx="0 mm", dy="-10 mm", **usual)
    assert not isinstance(right, Problem)
    assert not isinstance(low, Problem)
    assert right[0] < 0
    assert right[1] == 0
    assert low[0] == 0
    assert low[1] > 0


@pytest.mark.parametrize("changed", [{"throw": "0 m"}, {"lever": "0 mm"}, {"pitch": "0 mm/turn"}, {"dx": "1 m"}])
def test_screws_outside_the_validity_are_refused(changed: dict[str, str]) -> None:
    """Including a spot so far out that the screws no longer act apart."""
    usual = {"dx": "1 mm", "dy": "1 mm", "throw": "8 m", "lever": "120 mm", "pitch": "1 mm/turn"}
    assert refusal("tilt_screws", **(usual | changed)).code == "cannot-compute"


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
