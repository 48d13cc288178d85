"""Levelling against a simulated plate and level, and numpy's least squares; the published rows have their own file."""

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
from proclang.field.door import prepare
from proclang.field.registry import find
from proclang.text.diagnostic import Problem
from proclang.values.dimension import ANGLE, LENGTH, LENGTH_PER_ANGLE, NUMBER

TURN = 360


def turns_of(**arguments: str | int) -> dict[str, float]:
    """Turns by stud."""
    results = run("levelling_turns", **arguments)
    assert not isinstance(results, Problem), results
    assert isinstance(results[0], Series)
    return {label: float(value / TURN) for label, value in results[0].items}


def fitted(x: list[float], y: list[float], z: list[float], in_unit: str) -> tuple[float, float, float]:
    """Slopes along x and y, and the residual in the unit the points were given in."""
    texts = [[f"{Fraction(v)} {in_unit}" for v in values] for values in (x, y, z)]
    results = run("plane_fit", x=texts[0], y=texts[1], z=texts[2])
    assert not isinstance(results, Problem), results
    slopes = (math.tan(math.radians(float(tilt))) for tilt in results[:2])
    return *slopes, inside(results[2], in_unit)


class SimulatedLevel:
    """A level with a zero error: it shows how high its marked end is, plus the error, whichever way it is turned."""

    def __init__(self, zero: Fraction) -> None:
        self.zero = zero

    def shows(self, ground_rises_to_positive: Fraction, marked_end_to_positive: bool) -> Fraction:
        return (ground_rises_to_positive if marked_end_to_positive else -ground_rises_to_positive) + self.zero


@pytest.mark.parametrize(("tilt", "zero"), [(3, 0), (3, 2), (-3, 2), (0, -5), ("1/7", "-1/3")])
def test_reversal_separates_tilt_and_zero(tilt: str, zero: str) -> None:
    """A simulated level read both ways gives back the true tilt and its own error, exactly."""
    level = SimulatedLevel(Fraction(zero))
    readings = {
        "direct": f"{level.shows(Fraction(tilt), True)} arcmin",
        "reversed": f"{level.shows(Fraction(tilt), False)} arcmin",
    }
    assert run("reverse_level", readings=readings) == (Fraction(tilt) / 60,)
    assert run("level_zero", readings=readings) == (Fraction(zero) / 60,)
    back_to_front = dict(reversed(readings.items()))
    assert run("reverse_level", readings=back_to_front) == (Fraction(tilt) / 60,)


def retilted(ns: float, ew: float, circle: float, pitch: float, studs: int, first: float) -> tuple[float, float, float]:
    """North and east slope and middle height left after turning, by numpy on a plate built here from its normal."""
    normal = np.array([-math.tan(ew), -math.tan(ns), 1.0])
    azimuths = [first + 2 * math.pi * k / studs for k in range(studs)]
    feet = np.array([[circle / 2 * math.sin(a), circle / 2 * math.cos(a)] for a in azimuths])
    heights = -(feet @ normal[:2]) / normal[2]
    dims = {
        "ns": ANGLE, "ew": ANGLE, "circle": LENGTH, "pitch": LENGTH_PER_ANGLE, "studs": NUMBER, "first_stud": ANGLE
    }  # fmt: skip
    results = prepare(find("levelling_turns"), dims)(
        Fraction(math.degrees(ns)),
        Fraction(math.degrees(ew)),
        Fraction(circle),
        Fraction(pitch) / TURN,
        Fraction(studs),
        Fraction(math.degrees(first)),
    )
    assert not isinstance(results, Problem), results
    assert results[0].labels == tuple(str(k) for k in range(1, studs + 1))
    lifted = heights + np.array([float(v / TURN) for v in results[0].values]) * pitch
    fit = np.linalg.lstsq(np.column_stack([feet, np.ones(studs)]), lifted, rcond=None)[0]
    return float(fit[0]), float(fit[1]), float(fit[2])


@given(
    st.floats(-0.17, 0.17),
    st.floats(-0.17, 0.17),
    st.floats(0.1, 5),
    st.floats(0.0005, 0.006),
    st.integers(3, 12),
    st.floats(-math.pi, math.pi),
)
def test_turning_as_told_levels_the_plate(
    ns: float, ew: float, circle: float, pitch: float, studs: int, first: float
) -> None:
    """A plate tilted at will and moved by the turns stands level, its middle at the same height."""
    east, north, middle = retilted(ns, ew, circle, pitch, studs, first)
    assert abs(math.atan(east)) < 1e-9
    assert abs(math.atan(north)) < 1e-9
    assert abs(middle) < 1e-9


@pytest.mark.parametrize("studs", range(3, 13))
def test_turns_add_up_to_nothing(studs: int) -> None:
    """The middle keeps its height: mean turn zero, for 3 to 12 studs."""
    turns = turns_of(ns="5 arcmin", ew="-3 arcmin", circle="540 mm", pitch="2.5 mm/turn", studs=studs)
    assert len(turns) == studs
    assert abs(sum(turns.values()) / studs) < 1e-9


def test_the_high_side_is_lowered() -> None:
    """Direction sanity: north high lowers the north stud and raises the south one; east likewise."""
    north_high = turns_of(ns="10 arcmin", ew="0 arcmin", circle="540 mm", pitch="2.5 mm/turn", studs=4)
    assert north_high["1"] < 0 < north_high["3"]
    assert north_high["2"] == north_high["4"] == 0
    east_high = turns_of(ns="0 arcmin", ew="10 arcmin", circle="540 mm", pitch="2.5 mm/turn", studs=4)
    assert east_high["2"] < 0 < east_high["4"]
    assert east_high["1"] == east_high["3"] == 0


def test_studs_are_counted_clockwise_from_the_first() -> None:
    """With stud 1 in the east, stud 4 of four stands in the north."""
    turns = turns_of(ns="10 arcmin", ew="0 arcmin", circle="540 mm", pitch="2.5 mm/turn", studs=4, first_stud="90 deg")
    assert turns["1"] == turns["3"] == 0
    assert turns["4"] < 0 < turns["2"]
    again = turns_of(
        ns="10 arcmin", ew="0 arcmin", circle="540 mm", pitch="2.5 mm/turn", studs=4, first_stud="-270 deg"
    )
    assert again == turns


def test_a_level_plate_needs_no_turn() -> None:
    """Exactly nothing, not the rounding error of a cosine."""
    turns = turns_of(ns="0 deg", ew="0 deg", circle="540 mm", pitch="2.5 mm/turn", studs=7)
    assert set(turns.values()) == {0}


def test_a_small_turn_is_not_taken_for_noise() -> None:
    """A stud a hair off the axis of the tilt still gets its small turn: sin 1e-7 deg of the largest, by definition."""
    turns = turns_of(ns="5 deg", ew="0 deg", circle="540 mm", pitch="2.5 mm/turn", studs=4, first_stud="89.9999999 deg")
    largest = max(abs(turn) for turn in turns.values())
    assert turns["1"] == pytest.approx(-largest * math.radians(1e-7), rel=1e-6)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"studs": 2}, "three studs"),
        ({"pitch": "0 mm/turn"}, "above zero"),
        ({"circle": "-1 mm"}, "above zero"),
        ({"ns": "10.5 deg"}, "above 10 deg"),
    ],
)
def test_turns_outside_the_validity_are_refused(changed: dict[str, str | int], said: str) -> None:
    """Never an extrapolated number."""
    usual = {"ns": "1 deg", "ew": "0 deg", "circle": "540 mm", "pitch": "2.5 mm/turn", "studs": 6}
    found = refusal("levelling_turns", **(usual | changed))
    assert found.code == "cannot-compute"
    assert said in found.message


def test_reach_refuses_nothing() -> None:
    """A hand that sets no part of a turn reaches anything: that is no answer."""
    assert refusal("reach_of_hand", pitch="2 mm/turn", circle="1 m", part="0 turn").code == "cannot-compute"


@pytest.mark.parametrize("seed", range(40))
def test_plane_fit_agrees_with_numpy(seed: int) -> None:
    """Oracle: numpy.linalg.lstsq on 3 to 30 random points, off centre, with noise; invented."""
    chance = random.Random(seed)
    count = chance.randint(3, 30)
    x = [chance.uniform(-2, 2) + chance.choice((0, 50)) for _ in range(count)]
    y = [chance.uniform(-2, 2) for _ in range(count)]
    z = [chance.gauss(0.01 * a - 0.02 * b + 3, 0.001) for a, b in zip(x, y, strict=True)]
    matrix = np.column_stack([x, y, np.ones(count)])
    solution = np.linalg.lstsq(matrix, np.array(z), rcond=None)[0]
    rms = float(np.sqrt(np.mean((np.array(z) - matrix @ solution) ** 2)))
    slope_x, slope_y, residual = fitted(x, y, z, "m")
    assert slope_x == pytest.approx(float(solution[0]), rel=1e-8, abs=1e-10)
    assert slope_y == pytest.approx(float(solution[1]), rel=1e-8, abs=1e-10)
    assert residual == pytest.approx(rms, rel=1e-6, abs=1e-10)


def test_a_plane_rises_toward_plus() -> None:
    """Signs: higher at plus x and lower at plus y gives a positive and a negative tilt."""
    slope_x, slope_y, _ = fitted([0, 1, 0], [0, 0, 1], [0, 0.001, -0.002], "m")
    assert slope_x > 0 > slope_y


@pytest.mark.parametrize(
    ("x", "y", "said"),
    [
        (["0 m", "1 m", "2 m"], ["0 m", "1 m", "2 m"], "one line"),
        (["1 m", "1 m", "1 m"], ["2 m", "2 m", "2 m"], "one place"),
        (["0 m", "1 m"], ["0 m", "1 m"], "three points"),
    ],
)
def test_points_that_make_no_plane_are_refused(x: list[str], y: list[str], said: str) -> None:
    """Impossible geometry, also where all heights are alike."""
    for height in ("0 mm", "1 mm"):
        z = ["0 mm"] * (len(x) - 1) + [height]
        found = refusal("plane_fit", x=x, y=y, z=z)
        assert found.code == "cannot-compute"
        assert said in found.message
