"""Grid convergence, zones, and the declination: signs, edges and refusals; the values are in tests/published."""

from __future__ import annotations

import math
import random
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parents[1] / "published"))

from sky_help import call, refused, seconds

from proclang.field.door import prepare_own
from proclang.field.registry import find


def krueger(latitude: float, away: float) -> float:
    """Convergence in radians by the other derivation: the series of Krueger (1912) in the third flattening n, to the
    fourth order as printed by Karney, Transverse Mercator with an accuracy of a few nanometers, J. Geodesy 85 (2011),
    equations 35 and 25 (coefficients from memory)."""
    f = 1 / 298.257223563
    n = f / (2 - f)
    alpha = (
        n / 2 - 2 / 3 * n**2 + 5 / 16 * n**3 + 41 / 180 * n**4,
        13 / 48 * n**2 - 3 / 5 * n**3 + 557 / 1440 * n**4,
        61 / 240 * n**3 - 103 / 140 * n**4,
        49561 / 161280 * n**4,
    )
    e = math.sqrt(f * (2 - f))
    tau = math.tan(latitude)
    sigma = math.sinh(e * math.atanh(e * tau / math.hypot(1, tau)))
    conformal = tau * math.hypot(1, sigma) - sigma * math.hypot(1, tau)
    xi = math.atan2(conformal, math.cos(away))
    eta = math.asinh(math.sin(away) / math.hypot(conformal, math.cos(away)))
    p, q = 1.0, 0.0
    for j, a in enumerate(alpha, 1):
        p += 2 * j * a * math.cos(2 * j * xi) * math.cosh(2 * j * eta)
        q += 2 * j * a * math.sin(2 * j * xi) * math.sinh(2 * j * eta)
    return math.atan(conformal / math.hypot(1, conformal) * math.tan(away)) + math.atan2(q, p)


def test_two_derivations_of_the_convergence_agree() -> None:
    """The complex latitude of the built-in and Krueger's series, 1e-10 rad, over random places; no outside row."""
    draw = random.Random(7)
    calculation = find("grid_convergence")
    assert calculation is not None
    for _ in range(400):
        latitude, away = math.radians(draw.uniform(-88, 88)), math.radians(draw.uniform(-9, 9))
        assert calculation.work(latitude, 0.4 + away, 0.4) == pytest.approx(krueger(latitude, away), abs=1e-10)


@pytest.mark.parametrize(
    ("latitude", "longitude", "sign"), [("45", "12", 1), ("45", "6", -1), ("-45", "12", -1), ("-45", "6", 1)]
)
def test_grid_north_leans_east_of_true_north_in_the_north_east(latitude: str, longitude: str, sign: int) -> None:
    """East of the central meridian meridians lean to the left of the grid north of the equator (any map's margin), so
    grid north lies east; mirrored in the other three quarters. Nearly the difference of longitude times sin lat."""
    (got,) = call(
        "grid_convergence", latitude=f"{latitude} deg", longitude=f"{longitude} deg", central_meridian="9 deg"
    )
    assert got == pytest.approx(sign * 3 * math.sin(math.radians(45)), rel=2e-3)


def test_across_the_date_line_the_short_way_counts() -> None:
    """179 deg east is 2 deg west of a meridian at 179 deg west."""
    (got,) = call("grid_convergence", latitude="30 deg", longitude="179 deg", central_meridian="-179 deg")
    assert got == pytest.approx(-1.0, rel=1e-2)


def test_far_from_the_meridian_and_at_the_pole_it_is_refused() -> None:
    """Validity: 10 deg of longitude, 89 deg of latitude."""
    assert "central" in refused("grid_convergence", latitude="30 deg", longitude="20 deg", central_meridian="9 deg")
    assert "pole" in refused("grid_convergence", latitude="89.5 deg", longitude="9 deg", central_meridian="9 deg")


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "meridian"),
    [
        ("0", "0", 31, 3), ("0", "-180", 1, -177), ("0", "180", 1, -177), ("0", "179.9", 60, 177),
        ("-45", "170", 59, 171),
        ("60", "4", 32, 9), ("60", "2.9", 31, 3), ("64", "4", 31, 3), ("78", "8.9", 31, 3), ("78", "9", 33, 15),
        ("78", "20.9", 33, 15), ("78", "21", 35, 27), ("78", "33", 37, 39), ("78", "42", 38, 45),
        ("40", "285", 18, -75),
    ],
)  # fmt: skip
def test_zones_with_their_exceptions(latitude: str, longitude: str, zone: int, meridian: int) -> None:
    """Zone rules of UTM: six degrees each, the widened zones 32, 31, 33, 35, 37 of the far north (from memory)."""
    assert call("utm_zone", latitude=f"{latitude} deg", longitude=f"{longitude} deg") == [zone, meridian]


def test_beyond_the_zones_it_is_refused() -> None:
    """Near the poles another projection takes over."""
    assert "84 deg north" in refused("utm_zone", latitude="85 deg", longitude="0 deg")


@given(st.integers(0, 359_999), st.integers(-180_000, 180_000))
def test_to_the_grid_and_back_is_the_same_bearing(bearing: int, convergence: int) -> None:
    """`true_to_grid` undoes `grid_to_true`, exactly."""
    true, lean = f"{bearing}e-3 deg true", f"{convergence}e-3 deg"
    (grid,) = call("true_to_grid", true=true, convergence=lean)
    (back,) = call("grid_to_true", grid=f"{grid:.3f} deg grid", convergence=lean)
    assert back == bearing / 1000


HERE = {"latitude": "43 deg", "longitude": "93 deg", "height": "65 km"}


@pytest.mark.parametrize("instant", ["2024-12-31T23:59:59", "2030-01-01T00:00:01", "1999-01-01T00:00:00"])
@pytest.mark.parametrize("name", ["magnetic_declination", "magnetic_field"])
def test_outside_its_five_years_the_model_is_refused(name: str, instant: str) -> None:
    """WMM2025 holds from 2025.0 to 2030.0 and is not carried on."""
    assert "2025-01-01 to 2030-01-01" in refused(name, **HERE, instant=seconds(instant))


def test_the_ends_of_the_five_years_are_within() -> None:
    """The first and the last instant."""
    for instant in ("2025-01-01T00:00:00", "2030-01-01T00:00:00"):
        assert call("magnetic_declination", **HERE, instant=seconds(instant))[0] == pytest.approx(0.45, abs=0.06)


def test_in_the_blackout_zone_a_declination_is_refused_and_the_field_still_told() -> None:
    """At 89 deg north, 121 deg west the official point has H = 1504 nT: no compass; the field says why."""
    where = {"latitude": "89 deg", "longitude": "-121 deg", "height": "28 km", "instant": seconds("2025-01-01")}
    assert "blackout" in refused("magnetic_declination", **where)
    assert call("magnetic_field", **where)[1] * 1e9 == pytest.approx(1504.298, abs=0.01)


def test_the_doubt_of_a_declination_leaves_the_door_in_degrees() -> None:
    """H = 24300.8 nT at the official point: sqrt(0.26^2 + (5417/24300.8)^2) = 0.3425 deg."""
    from fractions import Fraction

    calculation = find("magnetic_declination")
    assert calculation is not None
    own = prepare_own(calculation, {p.name: p.takes for p in calculation.parameters})  # type: ignore[misc]
    assert own is not None
    sizes = own(Fraction(43), Fraction(93), Fraction(65000), Fraction(int(seconds("2025-01-01"))))
    assert sizes == (pytest.approx(0.3425, abs=1e-4),)
