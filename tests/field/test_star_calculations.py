"""Pole stars and the angles of the sky: two systems and back, greatest elongation, refusals."""

from __future__ import annotations

import math
import random
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "published"))

from sky_help import call, refused, seconds

from proclang.field.registry import find


def work(name: str, *values: float) -> tuple[float, ...]:
    calculation = find(name)
    assert calculation is not None
    found = calculation.work(*values)
    return found if isinstance(found, tuple) else (found,)


def test_the_two_systems_of_angles_agree_with_erfa_and_with_each_other() -> None:
    """erfa.hd2ae, ae2hd, hd2pa and seps over random directions, 1e-11 rad; and there and back."""
    import erfa

    draw = random.Random(12)
    for _ in range(300):
        hour, up, lat = draw.uniform(-3.1, 3.1), draw.uniform(-1.5, 1.5), draw.uniform(-1.5, 1.5)
        azimuth, altitude = work("azimuth_altitude", hour, up, lat)
        assert (azimuth, altitude) == pytest.approx([float(x) for x in erfa.hd2ae(hour, up, lat)], abs=1e-10)
        assert work("hour_angle_declination", azimuth, altitude, lat) == pytest.approx((hour, up), abs=1e-8)
        assert work("parallactic_angle", hour, up, lat)[0] == pytest.approx(float(erfa.hd2pa(hour, up, lat)), abs=1e-10)
        assert work("angular_separation", hour, up, lat, altitude)[0] == pytest.approx(
            float(erfa.seps(hour, up, lat, altitude)), abs=1e-12
        )


def test_directions_without_an_azimuth_are_refused() -> None:
    """The zenith has no azimuth and no parallactic angle, the pole no hour angle."""
    above = {"hour_angle": "0 deg", "declination": "40 deg", "latitude": "40 deg"}
    assert "zenith" in refused("azimuth_altitude", **above)
    assert "zenith" in refused("parallactic_angle", **above)
    assert "pole" in refused("hour_angle_declination", azimuth="0 deg true", altitude="40 deg", latitude="40 deg")


def test_greatest_elongation_is_where_the_azimuth_turns_back() -> None:
    """Second derivation: the largest azimuth among hour angles 1 mrad apart, by `azimuth_altitude`."""
    lat, dec = math.radians(40), math.radians(85)
    offset, hour, altitude = work("greatest_elongation", lat, dec)
    around = [work("azimuth_altitude", hour + step * 1e-3, dec, lat) for step in (-1, 0, 1)]
    west = [2 * math.pi - azimuth for azimuth, _ in around]
    assert west[1] == pytest.approx(offset, abs=1e-12)
    assert west[1] > max(west[0], west[2])
    assert around[1][1] == pytest.approx(altitude, abs=1e-12)


@pytest.mark.parametrize(
    ("latitude", "declination"), [("40", "-89"), ("40", "30"), ("0", "89"), ("40", "90"), ("40", "40")]
)
def test_stars_without_an_elongation_are_refused(latitude: str, declination: str) -> None:
    """Of the other hemisphere, passing beyond the zenith, seen from the equator, at the pole."""
    assert refused("greatest_elongation", latitude=f"{latitude} deg", declination=f"{declination} deg")


def test_the_pole_star_of_the_other_hemisphere_is_refused() -> None:
    """Polaris is below the horizon at 34 deg south; its altitude still says so."""
    place = {"latitude": "-34 deg", "longitude": "18 deg", "instant": seconds("2026-11-25T21:00")}
    assert "other hemisphere" in refused("pole_star_azimuth", star="polaris", **place)
    assert call("pole_star_altitude", star="polaris", **place)[0] == pytest.approx(-34, abs=0.7)


def test_near_the_pole_the_star_is_no_mark() -> None:
    """Within 6 deg of the zenith."""
    place = {"latitude": "89 deg", "longitude": "18 deg", "instant": seconds("2026-11-25T21:00")}
    assert "zenith" in refused("pole_star_azimuth", star="polaris", **place)


def test_an_unknown_star_is_refused() -> None:
    """The two words are the whole choice."""
    place = {"latitude": "51 deg", "longitude": "0 deg", "instant": seconds("2026-11-25T21:00")}
    assert "polaris, sigma_octantis" in refused("pole_star_azimuth", star="vega", **place)


def test_a_sidereal_day_later_the_sidereal_time_is_the_same() -> None:
    """23 h 56 min 4.0905 s (Explanatory Supplement, from memory); east of Greenwich it is later."""
    start = seconds("2026-11-25T00:00")
    (now,), (later,) = (call("sidereal_time", instant=start + step) for step in (0, 86164.0905))
    assert math.remainder(later - now, 360) == pytest.approx(0, abs=1e-5)
    (east,) = call("sidereal_time", instant=start, longitude="15 deg")
    assert (east - now) % 360 == pytest.approx(15, abs=1e-9)


@pytest.mark.parametrize(("sidereal", "ascension", "hour"), [("10", "350", 20), ("350", "10", -20), ("190", "10", 180)])
def test_an_hour_angle_goes_the_short_way(sidereal: str, ascension: str, hour: int) -> None:
    """Above -180 up to 180 deg, exactly."""
    assert call("star_hour_angle", sidereal_time=f"{sidereal} deg", right_ascension=f"{ascension} deg") == [hour]
