"""The Sun and its shadow: what the hemisphere cannot tell, what is refused, equal shadows, rise and set."""

from __future__ import annotations

import math
import random
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parents[1] / "published"))

from sky_help import EPOCH, call, refused, seconds

from proclang.field.declare import CannotCompute
from proclang.field.registry import find
from proclang.field.sky import SUN, from_middle, over_place, seconds_of
from proclang.field.sun import SOLAR_RATE


def where(latitude: float, longitude: float, instant: str | float) -> dict[str, str | float]:
    moment = seconds(instant) if isinstance(instant, str) else instant
    return {"latitude": f"{latitude:.9f} deg", "longitude": f"{longitude:.9f} deg", "instant": moment}


def test_the_shadow_points_away_from_the_sun() -> None:
    """Half a turn from the azimuth, everywhere."""
    for lat, lon, instant in ((51, 0, "2026-11-25T10:15"), (-34, 18, "2026-12-21T16:45"), (0, 37, "2026-04-04T08:30")):
        (sun,), (shadow,) = (
            call("sun_azimuth", **where(lat, lon, instant)),
            call("shadow_bearing", **where(lat, lon, instant)),
        )
        assert (shadow - sun) % 360 == pytest.approx(180, abs=1e-9)


def test_in_the_tropics_the_noon_shadow_turns_with_the_season() -> None:
    """At 10 deg north the Sun passes north of the zenith in June and south of it in December: the hemisphere does not
    tell where a shadow points."""
    for date, expected in (("2026-06-21", 180.0), ("2026-12-21", 0.0)):
        (noon,) = call("meridian_passage", longitude="30 deg", instant=seconds(f"{date}T10:00"))
        (shadow,) = call("shadow_bearing", **where(10, 30, noon))
        assert math.remainder(shadow - expected, 360) == pytest.approx(0, abs=0.02)


def test_no_sun_no_shadow_and_none_to_speak_of_under_the_zenith() -> None:
    """Below the horizon and above 85 deg it is refused; so is the rate."""
    for name in ("shadow_bearing", "shadow_rate"):
        assert "below the horizon" in refused(name, **where(51, 0, "2026-11-25T22:00"))
        (noon,) = call("meridian_passage", longitude="37 deg", instant=seconds("2026-03-20T10:00"))
        assert "above 85 deg" in refused(name, **where(0, 37, noon))


def test_the_rate_is_what_a_minute_turns_the_shadow() -> None:
    """Against the ephem library, azimuths a minute apart around the instant; 0.001 deg/min."""
    import datetime

    import ephem

    for lat, lon, instant in ((28.3, -16.51, "2026-11-25T10:15"), (-24.6, -70.4, "2025-12-20T15:00")):
        ends = []
        for step in (-30, 30):
            here = ephem.Observer()
            here.lat, here.lon, here.pressure = math.radians(lat), math.radians(lon), 0
            here.date = EPOCH + datetime.timedelta(seconds=seconds(instant) + step)
            ends.append(math.degrees(float(ephem.Sun(here).az)))
        (rate,) = call("shadow_rate", **where(lat, lon, instant))
        assert rate * 60 == pytest.approx(math.remainder(ends[1] - ends[0], 360), abs=1e-3)


def test_years_outside_the_tables_are_refused() -> None:
    """1972, when leap seconds begin, up to 2035."""
    for instant in ("1971-12-31T12:00", "2035-01-01T12:00"):
        assert "1972-01-01 up to 2035-01-01" in refused("sun_azimuth", **where(40, 0, instant))
        assert "2035" in refused("meridian_passage", longitude="0 deg", instant=seconds(instant))


def test_refraction_takes_pressure_and_temperature_together() -> None:
    """One alone says nothing; far below the horizon neither does."""
    day, night = where(51, 0, "2026-11-25T12:00"), where(51, 0, "2026-11-25T22:00")
    assert "both or none" in refused("sun_elevation", **day, pressure="1010 hPa")
    assert "below the horizon" in refused("sun_elevation", **night, pressure="1010 hPa", temperature="10 °C")
    assert call("sun_elevation", **night)[0] < -30


def test_the_uncertainty_of_the_azimuth_is_that_of_the_earths_turning() -> None:
    """0.9 s of UT1 either way moves the azimuth by at most sqrt(3) times what the built-in claims, and it claims no
    more than that plus an arcsecond. Two derivations: the claim turns the Earth under a Sun at rest,
    here the Sun moves on, by a 365th of what the Earth turns and in declination: 2 %."""
    calculation = find("sun_azimuth")
    assert calculation is not None
    assert calculation.own_uncertainty is not None
    draw = random.Random(8)
    for _ in range(50):
        place = (math.radians(draw.uniform(-60, 60)), math.radians(draw.uniform(-180, 180)))
        instant = draw.uniform(seconds_of(2020), seconds_of(2030))
        early, late = (calculation.work(*place, instant + step) for step in (-0.9, 0.9))
        moved = abs(math.remainder(late - early, 2 * math.pi)) / 2 / math.sqrt(3)
        (claimed,) = calculation.own_uncertainty(*place, instant)
        level = math.cos(over_place(SUN, *place, instant).altitude)
        assert moved <= claimed * 1.02
        assert claimed <= math.hypot(moved, math.radians(1 / 3600) / level) * 1.02


def test_the_equation_of_time_has_its_two_known_ends() -> None:
    """About +16.4 min in the first days of November, about -14.2 min near 11 February (almanacs, from memory), to a
    tenth."""
    year = [call("sun_place", instant=seconds_of(2026) + 86400.0 * day + 43200)[1] / 60 for day in range(365)]
    assert max(year) == pytest.approx(16.4, abs=0.1)
    assert min(year) == pytest.approx(-14.2, abs=0.1)
    assert 303 <= year.index(max(year)) <= 308
    assert 39 <= year.index(min(year)) <= 43


def test_at_the_passage_the_sun_stands_on_the_meridian() -> None:
    """The passage nearest the instant, within half a day of it, azimuth 0 or 180 deg to 0.001 deg."""
    draw = random.Random(9)
    for _ in range(40):
        lat, lon = draw.uniform(30, 60), draw.uniform(-180, 180)
        instant = draw.uniform(seconds_of(2000), seconds_of(2034))
        (noon,) = call("meridian_passage", longitude=f"{lon:.9f} deg", instant=instant)
        assert abs(noon - instant) < 43_300
        assert call("sun_azimuth", **where(lat, lon, noon))[0] == pytest.approx(180, abs=1e-3)


def test_sunrise_and_sunset_agree_with_ephem() -> None:
    """ephem with the middle of the disc 50 arcmin below the horizon, no air; 2 s over 60 random places."""
    import datetime

    import ephem

    draw = random.Random(10)
    for _ in range(60):
        lat, lon = draw.uniform(-60, 60), draw.uniform(-180, 180)
        instant = draw.uniform(seconds_of(2000), seconds_of(2034))
        (noon,) = call("meridian_passage", longitude=f"{lon:.9f} deg", instant=instant)
        here = ephem.Observer()
        here.lat, here.lon, here.pressure, here.horizon = math.radians(lat), math.radians(lon), 0, "-0:50"
        here.date = EPOCH + datetime.timedelta(seconds=noon)
        sun = ephem.Sun()
        up = (here.previous_rising(sun, use_center=True).datetime() - EPOCH).total_seconds()
        down = (here.next_setting(sun, use_center=True).datetime() - EPOCH).total_seconds()
        assert call("sunrise", **where(lat, lon, instant))[0] == pytest.approx(up, abs=2)
        assert call("sunset", **where(lat, lon, instant))[0] == pytest.approx(down, abs=2)


def test_where_the_sun_does_not_rise_or_set_it_says_so() -> None:
    """Far north in June and December, and at a pole."""
    for name in ("sunrise", "sunset"):
        assert "stays above" in refused(name, **where(78, 15, "2026-06-21T12:00"))
        assert "stays below" in refused(name, **where(78, 15, "2026-12-21T12:00"))
        assert "once a year" in refused(name, **where(-90, 0, "2026-06-21T12:00"))


def same_height_later(latitude: float, longitude: float, first: float) -> float:
    """The instant after noon at which the Sun is as high as at `first`, by halving."""

    def height(instant: float) -> float:
        return over_place(SUN, latitude, longitude, instant).altitude

    noon = first - from_middle(SUN, longitude, first)[0] / SOLAR_RATE
    low, high = noon, noon + 43_200
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if height(middle) > height(first) else (low, middle)
    return low


@pytest.mark.parametrize("clock_error", [0.0, 95.0, -600.0])
def test_equal_shadows_find_noon_and_the_meridian_whatever_the_clock(clock_error: float) -> None:
    """Shadows simulated with the model of the Sun: `noon` is its meridian passage by the same clock to 0.2 s, though
    near an equinox the middle of the instants is 10 s and more off; the bisector is the mean of the two azimuths,
    half a turn on, to 0.002 deg."""
    draw = random.Random(11)
    largest = 0.0
    for _ in range(60):
        latitude, longitude = math.radians(draw.uniform(-55, 55)), math.radians(draw.uniform(-180, 180))
        noon = find("meridian_passage").work(longitude, draw.uniform(seconds_of(2020), seconds_of(2030)))  # type: ignore[union-attr]
        first = noon - draw.uniform(1.0, 4.0) * 3600
        if over_place(SUN, latitude, longitude, first).altitude < 0.1:
            continue
        if over_place(SUN, latitude, longitude, noon).altitude > math.radians(80):
            continue
        second = same_height_later(latitude, longitude, first)
        got = call(
            "equal_shadows",
            latitude=f"{math.degrees(latitude):.9f} deg",
            longitude=f"{math.degrees(longitude):.9f} deg",
            first=first + clock_error,
            second=second + clock_error,
        )
        assert got[0] - clock_error == pytest.approx(noon, abs=0.2)
        assert got[0] == pytest.approx((first + second) / 2 + clock_error + got[1], abs=2e-3)
        largest = max(largest, abs(got[1]))
        azimuths = [over_place(SUN, latitude, longitude, t).azimuth for t in (first, second)]
        line = math.degrees(sum(azimuths) / 2)
        assert math.remainder(got[2] - line, 180) == pytest.approx(0, abs=2e-3)
        noon_shadow = math.degrees(over_place(SUN, latitude, longitude, noon).azimuth) + 180
        assert abs(math.remainder(got[2] - noon_shadow, 360)) < 1
    assert largest > 10


def test_instants_that_cannot_be_equal_shadows_are_refused() -> None:
    """The wrong way round, too near, far from noon, at night, under the zenith."""

    def refusal(latitude: float, longitude: float, first: str, second: str) -> str:
        place = {"latitude": f"{latitude} deg", "longitude": f"{longitude} deg"}
        return refused("equal_shadows", **place, first=seconds(first), second=seconds(second))

    assert "after the first" in refusal(45, 0, "2026-03-20T15:00", "2026-03-20T09:00")
    assert "within half a day" in refusal(45, 0, "2026-03-20T09:00", "2026-03-21T15:00")
    assert "an hour apart" in refusal(45, 0, "2026-03-20T12:00", "2026-03-20T12:20")
    assert "two hours" in refusal(45, 90, "2026-03-20T09:00", "2026-03-20T15:00")
    assert "below the horizon" in refusal(60, 0, "2026-12-20T07:00", "2026-12-20T17:00")
    assert "zenith" in refusal(0, 0, "2026-03-20T09:00", "2026-03-20T15:00")


INSTANTS = st.one_of(
    st.floats(seconds_of(1960), seconds_of(2040)),
    st.sampled_from([seconds_of(y) + step for y in (1972, 2025, 2030, 2035) for step in (-0.1, 0.0, 0.1)]),
)
LATITUDES = st.one_of(st.floats(-90, 90), st.sampled_from([-90.0, -23.5, 0.0, 23.5, 66.6, 90.0]))


@given(LATITUDES, st.floats(-180, 360), INSTANTS)
def test_no_place_and_no_instant_gives_what_is_no_number(latitude: float, longitude: float, instant: float) -> None:
    """Everything of the sky and the compass that takes a place and an instant: finite results, each with a finite
    uncertainty of its own, or a refusal; the poles, the date line and the ends of the years among them."""
    place = (math.radians(latitude), math.radians(longitude))
    for name in ("sun_azimuth", "shadow_bearing", "shadow_rate", "sunrise", "sunset"):
        check_finite(name, *place, instant)
    check_finite("sun_elevation", *place, instant, None, None)
    check_finite("sun_elevation", *place, instant, 80_000.0, 273.15)
    check_finite("meridian_passage", place[1], instant)
    check_finite("equal_shadows", *place, instant, instant + 18_000)
    for star in ("polaris", "sigma_octantis"):
        check_finite("pole_star_azimuth", star, *place, instant)
        check_finite("pole_star_altitude", star, *place, instant)
        check_finite("pole_star_place", star, place[1], instant)
    check_finite("magnetic_declination", *place, 100.0, instant)
    check_finite("magnetic_field", *place, 100.0, instant)


def check_finite(name: str, *arguments: float | str | None) -> None:
    calculation = find(name)
    assert calculation is not None
    try:
        found = calculation.work(*arguments)
    except CannotCompute:
        return
    found = found if isinstance(found, tuple) else (found,)
    assert all(math.isfinite(value) for value in found), (name, found)
    if calculation.own_uncertainty is not None:
        own = calculation.own_uncertainty(*arguments)
        assert len(own) == len(found)
        assert all(math.isfinite(size) and size > 0 for size in own), (name, own)


def test_declarations_of_the_sky_are_read_without_its_libraries() -> None:
    """`check` and the editor read names, units and cautions; only a result costs numpy, ERFA and the model."""
    code = (
        "import sys; from proclang.field.registry import find;"
        "[find(n) for n in ('sun_azimuth', 'magnetic_field', 'sidereal_time', 'grid_convergence', 'tracking_rates')];"
        "print([m for m in ('numpy', 'erfa', 'pygeomag', 'scipy') if m in sys.modules])"
    )
    printed = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert printed.strip() == "[]"
