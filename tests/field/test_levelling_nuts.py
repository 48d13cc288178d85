"""Nuts and studs: turns against pint and a simulated plate, the three studs against a search, thread that runs out."""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import combinations

import numpy as np
import pint
import pytest
from field_help import inside, refusal, run
from hypothesis import given
from hypothesis import strategies as st

from proclang.field.declare import Series
from proclang.text.diagnostic import Problem


def results(name: str, **arguments: object) -> tuple[Fraction | Series, ...]:
    """The results; it must not refuse."""
    found = run(name, **arguments)
    assert not isinstance(found, Problem), found
    return found


def items(value: Fraction | Series, factor: int = 1) -> list[Fraction]:
    """The values of a series, times a factor."""
    assert isinstance(value, Series)
    return [x * factor for x in value.values]


@pytest.mark.parametrize(("rise", "pitch"), [("0.75 mm", "2.5 mm"), ("-0.1 mm", "3.5 mm"), ("0.02 inch", "2 mm")])
def test_turns_for_a_height_agree_with_pint(rise: str, pitch: str) -> None:
    """Oracle: pint divides the lengths; six flats to a turn is the hexagon."""
    registry = pint.UnitRegistry()
    wanted = (registry.Quantity(rise) / registry.Quantity(pitch)).to("").magnitude
    turn, flats = results("turn_for_height", rise=rise, pitch=f"{pitch}/turn")
    assert inside(turn, "turn") == pytest.approx(wanted, rel=1e-12)
    assert inside(flats, "") == pytest.approx(6 * wanted, rel=1e-12)


@given(st.floats(-9.9, 9.9), st.floats(0.05, 3), st.floats(0.5, 6))
def test_turning_one_foot_as_told_levels_it(tilt: float, baseline: float, pitch: float) -> None:
    """A simulated plate on a hinge line: the foot stands baseline * tan(tilt) high, and comes down by just that."""
    rise, turn = results(
        "foot_turn",
        tilt=f"{Fraction(tilt)} deg",
        baseline=f"{Fraction(baseline)} m",
        pitch=f"{Fraction(pitch)} mm/turn",
    )
    height = baseline * math.tan(math.radians(tilt))
    assert height + inside(rise, "m") == pytest.approx(0, abs=1e-11)
    assert height + inside(turn, "turn") * pitch / 1000 == pytest.approx(0, abs=1e-11)


heights = st.lists(st.integers(-3000, 3000).map(lambda n: Fraction(n, 100)), min_size=1, max_size=12)


@given(heights, st.integers(-2000, 2000).map(lambda n: Fraction(n, 100)))
def test_turned_by_their_heights_all_studs_come_to_one(stood: list[Fraction], wanted: Fraction) -> None:
    """Exact: each height and what its turn adds is the height asked for, or without one the mean."""
    texts = [f"{height} mm" for height in stood]
    turns = items(results("turns_by_heights", heights=texts, pitch="2.5 mm/turn")[0])
    mean = sum(stood, Fraction(0)) / len(stood)
    assert [height + turn / 360 * Fraction(5, 2) for height, turn in zip(stood, turns, strict=True)] == [mean] * len(
        stood
    )
    assert sum(turns) == 0
    turns = items(results("turns_by_heights", heights=texts, pitch="2.5 mm/turn", level_to=f"{wanted} mm")[0])
    assert {height + turn / 360 * Fraction(5, 2) for height, turn in zip(stood, turns, strict=True)} == {wanted}


def test_heights_and_tilts_ask_for_the_same_turns() -> None:
    """Two derivations: heights of a stiff plate beside six studs, and its tilt through `levelling_turns`."""
    slope = math.tan(math.radians(6 / 60))
    around = [math.radians(60 * k) for k in range(6)]
    by_heights = items(
        results(
            "turns_by_heights",
            heights=[f"{Fraction(270 * math.cos(a) * slope)} mm" for a in around],
            pitch="2.5 mm/turn",
        )[0]
    )
    by_tilt = items(
        results("levelling_turns", ns="6 arcmin", ew="0 deg", circle="540 mm", pitch="2.5 mm/turn", studs=6)[0]
    )
    assert [float(turn) for turn in by_heights] == pytest.approx([float(turn) for turn in by_tilt], abs=1e-8)


@given(st.floats(-9, 9), st.floats(-9, 9), st.integers(0, 1000))
def test_studs_in_any_pattern_come_level(ns: float, ew: float, seed: int) -> None:
    """A simulated plate on studs at random places: heights plus what the turns add lie level, by numpy's fit."""
    places = np.random.default_rng(seed).uniform(-1, 1, (5, 2))
    turns = items(
        results(
            "turns_at",
            ns=f"{Fraction(ns)} deg",
            ew=f"{Fraction(ew)} deg",
            east=[f"{Fraction(v)} m" for v in places[:, 0]],
            north=[f"{Fraction(v)} m" for v in places[:, 1]],
            pitch="2.5 mm/turn",
        )[0]
    )
    stood = places @ np.tan(np.radians([ew, ns]))
    lifted = stood + np.array([float(turn) / 360 * 0.0025 for turn in turns])
    fit = np.linalg.lstsq(np.column_stack([places, np.ones(5)]), lifted, rcond=None)[0]
    assert np.abs(fit).max() < 1e-10


def test_studs_on_a_circle_turn_as_levelling_turns_says() -> None:
    """Two derivations of one thing: azimuths on a circle, and coordinates."""
    around = [math.radians(15 + 60 * k) for k in range(6)]
    tilts = {"ns": "6 arcmin", "ew": "-11 arcmin", "pitch": "2.5 mm/turn"}
    by_place = results(
        "turns_at",
        east=[f"{Fraction(270 * math.sin(a))} mm" for a in around],
        north=[f"{Fraction(270 * math.cos(a))} mm" for a in around],
        **tilts,
    )[0]
    by_circle = results("levelling_turns", circle="540 mm", studs=6, first_stud="15 deg", **tilts)[0]
    assert [float(t) for t in items(by_place)] == pytest.approx([float(t) for t in items(by_circle)], abs=1e-8)


def reach_inside(places: list[np.ndarray]) -> float:
    """Distance of the middle from the nearest side of the triangle, negative outside; by cross products."""
    sides = zip(places, [*places[1:], places[0]], strict=True)
    return min(float((b - a)[0] * -a[1] - (b - a)[1] * -a[0]) / float(np.linalg.norm(b - a)) for a, b in sides)


@pytest.mark.parametrize("studs", [3, *range(5, 25)])
def test_no_other_three_studs_hold_the_middle_better(studs: int) -> None:
    """Oracle: all triples searched with numpy for the one whose triangle reaches furthest round the middle."""
    circle = [np.array([math.cos(2 * math.pi * k / studs), math.sin(2 * math.pi * k / studs)]) for k in range(studs)]
    best = max(reach_inside([circle[i] for i in triple]) for triple in combinations(range(studs), 3))
    *three, margin = (inside(value, "") for value in results("three_of", studs=studs))
    assert margin == pytest.approx(best, abs=1e-11)
    assert reach_inside([circle[int(k) - 1] for k in three]) == pytest.approx(margin, abs=1e-11)


@pytest.mark.parametrize(("studs", "said"), [(2, "three studs"), (4, "two across")])
def test_studs_of_which_no_three_hold_the_middle_are_refused(studs: int, said: str) -> None:
    """On three of four studs the middle lies on the edge: the plate tips."""
    assert said in refusal("three_of", studs=studs).message


STUDS = {
    "turns": ["0.4 turn", "-0.4 turn", "0 turn"],
    "stand_off": ["20 mm", "20 mm", "21 mm"],
    "thread_above": ["31 mm", "30 mm", "30 mm"],
    "pitch": "2.5 mm/turn",
    "diameter": "20 mm",
    "engagement": "1.2",
}


def test_what_goes_below_is_missing_above() -> None:
    """A stud keeps its length: stand-off and thread above add up to what they were, exactly."""
    below, above = results("studs_after_turns", **STUDS)
    assert items(below, 1000) == [21, 19, 21]
    assert [a + b for a, b in zip(items(below, 1000), items(above, 1000), strict=True)] == [51, 50, 51]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"engagement": "1.6"}, "stud 1 would be left with less thread"),
        ({"turns": ["0.4 turn", "-9 turn", "0 turn"]}, "nut of stud 2 would meet"),
        ({"most_stand_off": "20.5 mm"}, "stud 1 would stand off further"),
        ({"engagement": "0.2"}, "at least 0.5"),
        ({"pitch": "0 mm/turn"}, "above 0 mm/turn"),
        ({"stand_off": ["20 mm", "20 mm"]}, "other labels"),
    ],
)
def test_turns_the_thread_does_not_allow_are_refused(changed: dict[str, object], said: str) -> None:
    """Found before a nut is touched, naming the stud."""
    assert said in refusal("studs_after_turns", **(STUDS | changed)).message


def test_just_enough_thread_is_enough() -> None:
    """The limit itself is allowed: 30 mm are 1.5 diameters of 20 mm, and a stand-off of 21 mm is at most 21 mm."""
    assert results("studs_after_turns", **(STUDS | {"engagement": "1.5", "most_stand_off": "21 mm"}))
