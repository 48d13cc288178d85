"""Mirrors, beams and focus against traced rays and numpy; the published rows have their own file."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from field_help import inside, number, refusal, run
from hypothesis import given
from hypothesis import strategies as st

from proclang.text.diagnostic import Problem


def values(name: str, units: list[str], **arguments: object) -> list[float]:
    """All results, each in its unit."""
    found = run(name, **arguments)
    assert not isinstance(found, Problem), found
    return [inside(value, symbol) for value, symbol in zip(found, units, strict=True)]


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


def heights_made_slopes(places: np.ndarray, heights: np.ndarray) -> np.ndarray:
    """Slopes right and up of the mirror on three supports: the plane through them, by numpy."""
    return np.linalg.solve(np.column_stack([places, np.ones(3)]), heights)[:2]


def returned(slopes: np.ndarray, throw: float) -> np.ndarray:
    """Where the spot falls, seen from behind the mirror, the beam having come from the mark."""
    normal = np.array([-slopes[0], -slopes[1], 1.0])
    normal /= np.linalg.norm(normal)
    beam = np.array([0.0, 0.0, -1.0])
    back = beam - 2 * (beam @ normal) * normal
    return throw * back[:2] / back[2]


supports = st.lists(st.floats(20, 100), min_size=2, max_size=2).flatmap(
    lambda gaps: st.floats(0, 359).map(lambda first: [first, first + gaps[0], first + sum(gaps)])
)


@given(st.floats(-0.03, 0.03), st.floats(-0.03, 0.03), st.floats(1, 30), supports, st.booleans())
def test_screws_anywhere_bring_the_spot_back(
    right: float, up: float, throw: float, angles: list[float], pivots: bool
) -> None:
    """A mirror on three supports is tilted at will; advanced as told it sends a traced ray back to its mark."""
    radius, pitch = 0.1, 0.0005
    places = np.array([[radius * math.sin(math.radians(a)), radius * math.cos(math.radians(a))] for a in angles])
    start = places @ np.array([right, up])
    dx, dy = returned(np.array([right, up]), throw)
    common = {
        "dx": f"{Fraction(dx)} m", "dy": f"{Fraction(dy)} m", "throw": f"{Fraction(throw)} m",
        "radius": "100 mm", "pitch": "0.5 mm/turn",
        "a": f"{Fraction(angles[0])} deg", "b": f"{Fraction(angles[1])} deg",
    }  # fmt: skip
    third = f"{Fraction(angles[2])} deg"
    if pivots:
        turns = [*values("two_screw_turns", ["turn"] * 2, **common, pivot=third), 0.0]
    else:
        turns = values("three_screw_turns", ["turn"] * 3, **common, c=third)
    left = returned(heights_made_slopes(places, start + pitch * np.array(turns)), throw)
    assert np.abs(left).max() < 1e-9 * throw


def test_three_screws_hold_the_middle() -> None:
    """120 deg apart the turns add up to nothing, so the focus stays."""
    turns = values(
        "three_screw_turns", ["turn"] * 3, dx="3 mm", dy="-5 mm", throw="8 m", radius="100 mm", pitch="0.5 mm/turn",
        a="40 deg", b="160 deg", c="280 deg",
    )  # fmt: skip
    assert sum(turns) == pytest.approx(0, abs=1e-11)


def test_the_side_the_spot_lies_on_is_pushed_forward() -> None:
    """Signs: spot high, the top screw forward; no spot off its mark, no turn at all."""
    usual = {"throw": "8 m", "radius": "100 mm", "pitch": "0.5 mm/turn", "a": "0 deg", "b": "120 deg", "c": "240 deg"}
    top, lower_right, lower_left = values("three_screw_turns", ["turn"] * 3, dx="0 mm", dy="4 mm", **usual)
    assert top > 0 > lower_right == lower_left
    assert values("three_screw_turns", ["turn"] * 3, dx="0 mm", dy="0 mm", **usual) == [0, 0, 0]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"dx": "1 m"}, "tenth of the throw"),
        ({"b": "350 deg"}, "within 15 deg"),
        ({"c": "-240 deg"}, "within 15 deg"),
        ({"throw": "0 m"}, "above 0 mm"),
        ({"pitch": "-1 mm/turn"}, "above 0 mm/turn"),
    ],
)
def test_three_screws_outside_the_validity_are_refused(changed: dict[str, str], said: str) -> None:
    """Supports on one place set no plane."""
    usual = {
        "dx": "1 mm", "dy": "1 mm", "throw": "8 m", "radius": "100 mm", "pitch": "0.5 mm/turn", "a": "0 deg",
        "b": "120 deg", "c": "240 deg",
    }  # fmt: skip
    found = refusal("three_screw_turns", **(usual | changed))
    assert found.code == "cannot-compute"
    assert said in found.message


def turned_about(axis: np.ndarray, angle: float, vector: np.ndarray) -> np.ndarray:
    """Rodrigues' rotation."""
    return (
        vector * math.cos(angle)
        + np.cross(axis, vector) * math.sin(angle)
        + axis * (axis @ vector) * (1 - math.cos(angle))
    )


@given(st.floats(-0.17, 0.17), st.booleans())
def test_a_flat_of_45_deg_agrees_with_a_traced_ray(tilt: float, in_plane: bool) -> None:
    """Oracle: the normal rotated about the axis itself, the ray reflected with numpy."""
    half = math.sqrt(0.5)
    normal = np.array([-half, 0.0, half])
    # About y the normal swings toward x, the way in; about the line in the flat it swings toward plus y.
    axis = np.array([0.0, 1.0, 0.0]) if in_plane else -np.array([half, 0.0, half])
    normal = turned_about(axis, tilt, normal)
    beam = np.array([1.0, 0.0, 0.0])
    leaves = beam - 2 * (beam @ normal) * normal
    told = values(
        "flat_45", ["rad"] * 2,
        in_plane=f"{Fraction(math.degrees(tilt)) if in_plane else 0} deg",
        out_of_plane=f"{0 if in_plane else Fraction(math.degrees(tilt))} deg",
    )  # fmt: skip
    assert told == pytest.approx([math.atan2(leaves[0], leaves[2]), math.atan2(leaves[1], leaves[2])], abs=1e-11)


@given(st.floats(-4, 4), st.floats(-4, 4))
def test_tilts_of_the_flat_are_found_from_its_beam(a: float, b: float) -> None:
    """There and back."""
    beam = values("flat_45", ["deg"] * 2, in_plane=f"{Fraction(a)} deg", out_of_plane=f"{Fraction(b)} deg")
    back = values(
        "flat_45_tilts", ["deg"] * 2,
        beam_in_plane=f"{Fraction(beam[0])} deg", beam_out_of_plane=f"{Fraction(beam[1])} deg",
    )  # fmt: skip
    assert back == pytest.approx([a, b], abs=1e-9)


@given(st.floats(-5, 5), st.floats(-5, 5), st.floats(0.05, 8), st.integers(3, 12), st.floats(0, 6.2))
def test_a_laser_turned_in_its_holder_shows_its_axis(
    east: float, north: float, runout: float, positions: int, first: float
) -> None:
    """A simulated laser whose beam goes round its axis; the axis by numpy's linear circle fit, exact on a circle."""
    around = first + 2 * np.pi * np.arange(positions) / positions
    x, y = np.round(east + runout * np.cos(around), 9), np.round(north + runout * np.sin(around), 9)
    fit = np.linalg.lstsq(np.column_stack([2 * x, 2 * y, np.ones(positions)]), x * x + y * y, rcond=None)[0]
    told = values(
        "laser_turning", ["mm", "mm", "mm", "rad", "mm"],
        x=[f"{Fraction(v)} mm" for v in x], y=[f"{Fraction(v)} mm" for v in y], throw="10 m",
    )  # fmt: skip
    assert told[:2] == pytest.approx(fit[:2], abs=1e-6)
    assert told[2] == pytest.approx(runout, abs=1e-6)
    assert told[3] == pytest.approx(math.atan(runout / 10_000), abs=1e-10)
    assert told[4] < 1e-6


def test_a_laser_without_runout_points_at_one_place() -> None:
    """Nothing to be fitted, and nothing to be refused: that is what is hoped for."""
    told = values("laser_turning", ["mm", "mm", "mm", "deg", "mm"], x=["2 mm"] * 4, y=["-1 mm"] * 4, throw="10 m")
    assert told == [2, -1, 0, 0, 0]


def test_two_positions_of_a_laser_are_too_few() -> None:
    """Through two spots go circles of any size."""
    assert "three positions" in refusal("laser_turning", x=["1 mm", "2 mm"], y=["0 mm", "0 mm"], throw="10 m").message


def refracted(direction: np.ndarray, normal: np.ndarray, ratio: float) -> np.ndarray:
    """Snell's law with vectors; `ratio` is the index before over the index after, `normal` points against the ray."""
    cosine = -float(normal @ direction)
    return ratio * direction + (ratio * cosine - math.sqrt(1 - ratio**2 * (1 - cosine**2))) * normal


@given(st.floats(0.1, 50), st.floats(-80, 80), st.floats(1.05, 2.5))
def test_a_window_moves_a_traced_ray(thickness: float, tilt: float, index: float) -> None:
    """Oracle: in and out of the plate by Snell's law in vectors; the distance between the two parallel rays."""
    angle = math.radians(tilt)
    direction = np.array([math.sin(angle), math.cos(angle)])
    within = refracted(direction, np.array([0.0, -1.0]), 1 / index)
    exit_at = within * thickness / within[1]
    beside = direction[0] * exit_at[1] - direction[1] * exit_at[0]
    told = number(
        "window_shift", "mm", thickness=f"{Fraction(thickness)} mm", tilt=f"{Fraction(tilt)} deg",
        index=Fraction(index),
    )  # fmt: skip
    assert told == pytest.approx(beside, rel=1e-9, abs=1e-10)


@pytest.mark.parametrize("wedge", [0.01, 1.0, 10.0, 20.0])
@pytest.mark.parametrize("index", [1.0, 1.46, 1.52, 1.9])
def test_a_wedge_turns_a_traced_ray(wedge: float, index: float) -> None:
    """Oracle: straight in, out of the tilted face by Snell's law in vectors."""
    angle = math.radians(wedge)
    leaves = refracted(np.array([0.0, 1.0]), np.array([math.sin(angle), -math.cos(angle)]), index)
    told = number("wedge_deviation", "rad", wedge=f"{Fraction(wedge)} deg", index=Fraction(index))
    assert told == pytest.approx(abs(math.atan2(leaves[0], leaves[1])), rel=1e-9, abs=1e-12)


def test_light_that_stays_in_a_wedge_is_refused() -> None:
    """Total reflection: 4 sin 20 deg is above one."""
    assert "reflected inside" in refusal("wedge_deviation", wedge="20 deg", index="4").message


@given(st.floats(0.1, 20), st.floats(1, 2.5))
def test_a_filter_moves_the_focus_of_a_slender_cone(thickness: float, index: float) -> None:
    """Oracle: a ray a thousandth steep traced through the plate crosses the axis later by the shift, to 1e-6."""
    slope = 1e-3
    angle = math.atan(slope)
    inside_slope = math.tan(math.asin(math.sin(angle) / index))
    later = thickness - thickness * inside_slope / slope
    told = number("filter_shift", "mm", thickness=f"{Fraction(thickness)} mm", index=Fraction(index))
    assert told == pytest.approx(later, rel=1e-6, abs=2e-6 * thickness)


def test_a_stack_is_filled_by_its_spacer() -> None:
    """Two derivations: the spacer and the parts add up to the back focus and what `filter_shift` says."""
    shift = number("filter_shift", "mm", thickness="2 mm", index="1.52")
    spacer = number(
        "back_focus_spacer", "mm", back_focus="55 mm", parts=["17.5 mm", "16.3 mm", "6 mm"], filter_thickness="2 mm",
        filter_index="1.52",
    )  # fmt: skip
    assert spacer + 17.5 + 16.3 + 6 == pytest.approx(55 + shift, rel=1e-11)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"parts": ["40 mm", "20 mm"]}, "longer than the back focus"),
        ({"filter_thickness": "2 mm"}, "together"),
        ({"filter_index": "1.5"}, "together"),
        ({"filter_thickness": "2 mm", "filter_index": "0.9"}, "1 to 4"),
        ({"parts": ["-1 mm"]}, "at least 0 mm"),
    ],
)
def test_a_stack_that_cannot_be_is_refused(changed: dict[str, object], said: str) -> None:
    """Never a negative spacer."""
    found = refusal("back_focus_spacer", **({"back_focus": "55 mm", "parts": ["17.5 mm"]} | changed))
    assert found.code == "cannot-compute"
    assert said in found.message


@given(st.lists(st.floats(-300, 300), min_size=1, max_size=8))
def test_a_collimation_budget_agrees_with_numpy(parts: list[float]) -> None:
    """Oracle: numpy's norms of order one and two; the likely sum is never above the worst."""
    worst, likely = values("collimation_budget", ["arcsec"] * 2, parts=[f"{Fraction(part)} arcsec" for part in parts])
    assert worst == pytest.approx(float(np.linalg.norm(parts, 1)), rel=1e-10, abs=1e-12)
    assert likely == pytest.approx(float(np.linalg.norm(parts, 2)), rel=1e-10, abs=1e-12)
    assert likely <= worst * (1 + 1e-11)


@given(st.floats(-600, 600), st.floats(0.1, 3))
def test_an_autocollimator_is_read_back(tilt: float, focal_length: float) -> None:
    """There and back, and the shift is that of a spot at the focal length."""
    given_tilt = {"tilt": f"{Fraction(tilt)} arcsec"}
    length = f"{Fraction(focal_length)} m"
    _, shift = values("autocollimator", ["arcsec", "m"], **given_tilt, focal_length=length)
    assert values("spot_offset", ["arcsec", "m"], **given_tilt, throw=length)[1] == shift
    back = number("autocollimator_tilt", "arcsec", shift=f"{Fraction(shift)} m", focal_length=length)
    assert back == pytest.approx(tilt, rel=1e-9, abs=1e-9)


def test_a_beam_is_half_as_far_off_as_its_mirror_would_make_it() -> None:
    """The same spot: the beam's own deviation is twice the tilt of a mirror that sent it there."""
    spot = {"dx": "3 mm", "dy": "-4 mm", "throw": "7 m"}
    assert number("beam_angle", "arcsec", **spot) == pytest.approx(2 * number("spot_tilt", "arcsec", **spot), rel=1e-11)
