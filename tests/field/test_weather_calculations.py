"""Dew, wind, heat and lightning: limits, refusals, and other ways to the same number."""

from __future__ import annotations

import datetime as dt
import math
from fractions import Fraction

import pytest
from field_help import number, refusal
from hypothesis import given
from hypothesis import strategies as st
from test_structure_calculations import EPOCH, at

from proclang.text.diagnostic import Problem

constants = st.sampled_from(["sonntag", "alduchov_eskridge", "bolton", "older"])


@given(temperature=st.integers(10, 35), humidity=st.integers(55, 100), which=constants)
def test_humidity_from_the_dew_point_is_the_humidity(temperature: int, humidity: int, which: str) -> None:
    """There and back with one pair of constants; the dew point is never above the air."""
    air = {"temperature": f"{temperature} degC", "constants": which}
    dew = number("dew_point", "degC", humidity=f"{humidity} %", **air)
    assert dew <= temperature + 1e-9
    if humidity < 100:
        assert number("relative_humidity", "%", dew=f"{dew:.12f} degC", **air) == pytest.approx(humidity, rel=1e-8)


@given(temperature=st.integers(1, 35), humidity=st.integers(60, 100))
def test_the_four_pairs_of_constants_agree(temperature: int, humidity: int) -> None:
    """Published independently of each other; within 0.12 K of dew point in mild air."""
    found = [
        number("dew_point", "degC", temperature=f"{temperature} degC", humidity=f"{humidity} %", constants=which)
        for which in ("sonntag", "alduchov_eskridge", "bolton", *(["older"] if temperature > 10 else []))
    ]
    assert max(found) - min(found) < 0.12


def test_the_margin_is_the_surface_less_the_dew_point() -> None:
    """By definition; a wet surface has none or less."""
    air = {"temperature": "12 degC", "humidity": "65 %"}
    dew = number("dew_point", "degC", **air)
    assert number("dew_margin", "K", surface="8 degC", **air) == pytest.approx(8 - dew)
    assert number("dew_margin", "K", surface="2 degC", **air) < 0


@pytest.mark.parametrize(("temperature", "humidity"), [(-5, 80), (-20, 70), (2, 60)])
def test_frost_comes_before_dew(temperature: int, humidity: int) -> None:
    """Independent: vapour pressure over ice after Murphy and Koop 2005, from memory, solved by scipy; 0.03 K. The
    margin of a cold surface is that to the frost."""
    from scipy.optimize import brentq

    air = {"temperature": f"{temperature} degC", "humidity": f"{humidity} %"}
    pressure = number("saturation_pressure", "Pa", temperature=f"{temperature} degC") * humidity / 100

    def over_ice(t: float) -> float:
        return math.exp(9.550426 - 5723.265 / t + 3.53068 * math.log(t) - 0.00728332 * t) - pressure

    frost = number("frost_point", "degC", **air)
    assert frost == pytest.approx(brentq(over_ice, 200, 273.15) - 273.15, abs=0.03)
    assert number("dew_point", "degC", **air) < frost < temperature
    assert number("dew_margin", "K", surface="1 degC", **air) == pytest.approx(1 - frost)
    assert "dew forms" in refusal("frost_point", temperature="20 degC", humidity="50 %").message


@pytest.mark.parametrize(
    ("name", "changed"),
    [
        ("dew_point", {"humidity": "0 %"}),
        ("dew_point", {"humidity": "101 %"}),
        ("dew_point", {"temperature": "61 degC"}),
        ("dew_point", {"temperature": "-1 degC", "constants": "older"}),
        ("dew_point", {"temperature": "5 degC", "humidity": "10 %", "constants": "older"}),
        ("absolute_humidity", {"temperature": "36 degC", "constants": "bolton"}),
    ],
)
def test_air_outside_the_constants_is_refused(name: str, changed: dict[str, str]) -> None:
    """Never an extrapolated number, not even for the dew point that comes out."""
    found = refusal(name, **({"temperature": "20 degC", "humidity": "50 %"} | changed))
    assert found.code == "cannot-compute"


def test_a_dew_point_above_the_air_is_refused() -> None:
    """The two typed in each other's place."""
    assert "exchanged" in refusal("relative_humidity", temperature="10 degC", dew="12 degC").message


def test_pressure_falls_as_the_weight_of_the_air_above() -> None:
    """Independent: hydrostatic equilibrium dp/dh = -rho g, by a central difference at 2400 m; constants of ISO 2533."""
    above, below = (number("standard_pressure", "Pa", height=f"{h} m") for h in (2401, 2399))
    density = number("standard_pressure", "Pa", height="2400 m") / (287.05287 * (288.15 - 0.0065 * 2400))
    assert (above - below) / 2 == pytest.approx(-density * 9.80665, rel=1e-6)
    assert "range" in refusal("standard_pressure", height="11001 m").message


def test_wind_grows_with_height_by_either_law() -> None:
    """A power law fitted to the logarithmic one at the two heights gives the same wind; and nothing changes where it
    was measured."""
    place = {"wind": "6 m/s", "measured_at": "2 m", "height": "10 m"}
    by_log = number("wind_at_height", "m/s", roughness="30 mm", **place)
    exponent = math.log(math.log(10 / 0.03) / math.log(2 / 0.03)) / math.log(5)
    assert number("wind_at_height", "m/s", exponent=f"{exponent:.15f}", **place) == pytest.approx(by_log)
    assert by_log > 6
    assert number("wind_at_height", "m/s", exponent="0.2", **(place | {"height": "2 m"})) == pytest.approx(6)
    gust = number("gust_at_height", "m/s", roughness="30 mm", gust_factor="1.5", **place)
    assert gust == pytest.approx(1.5 * by_log)


@pytest.mark.parametrize(
    "changed",
    [
        {"exponent": "0.2", "roughness": "30 mm"},
        {},
        {"exponent": "0.6"},
        {"roughness": "0.5 m"},
        {"exponent": "0.2", "height": "300 m"},
    ],
)
def test_a_profile_that_is_not_one_is_refused(changed: dict[str, str]) -> None:
    """Both laws, none, or too near to the ground's own roughness."""
    found = refusal("wind_at_height", **({"wind": "6 m/s", "measured_at": "2 m", "height": "10 m"} | changed))
    assert found.code in {"bad-argument", "cannot-compute"}


def test_beaufort_never_steps_back() -> None:
    """Force 12 has no end; calm is force 0."""
    forces = [number("beaufort", "", wind=f"{speed / 10} m/s") for speed in range(600)]
    assert forces == sorted(forces)
    assert (forces[0], forces[-1]) == (0, 12)
    assert set(forces) == set(range(13))


def test_heat_is_refused_where_the_index_is_not_made() -> None:
    """Mild air, or hotter than any table: no number is drawn out of the regression."""
    assert "27 degC" in refusal("heat_index", temperature="26 degC", humidity="5 %").message
    assert "table" in refusal("heat_index", temperature="44 degC", humidity="90 %").message
    assert "range" in refusal("heat_index", temperature="20 degC", humidity="50 %").message


@given(temperature=st.integers(28, 36), humidity=st.integers(20, 70))
def test_heat_grows_with_moisture(temperature: int, humidity: int) -> None:
    """More water in the air never feels cooler."""
    found = [
        number("heat_index", "degC", temperature=f"{temperature} degC", humidity=f"{h} %")
        for h in (humidity, humidity + 5)
    ]
    assert found[0] < found[1]


@given(temperature=st.integers(-45, 5), wind=st.integers(10, 100))
def test_cold_grows_with_wind(temperature: int, wind: int) -> None:
    """And the index lies below the air."""
    found = [
        number("wind_chill", "degC", temperature=f"{temperature} degC", wind=f"{v} km/h") for v in (wind, wind + 5)
    ]
    assert temperature > found[0] > found[1]


@pytest.mark.parametrize(("temperature", "speed"), [("0 degC", 331.3), ("20 degC", 343.2), ("-40 degC", 306.1)])
def test_speed_of_sound(temperature: str, speed: float) -> None:
    """Independent: sqrt(1.4 * 287.05 * T), printed in textbooks as 343 m/s at 20 degC; from memory. 0.1 %."""
    assert number("lightning_distance", "m", delay="1 s", temperature=temperature) == pytest.approx(speed, rel=1e-3)


def test_the_wait_after_thunder() -> None:
    """30 min if no rule is given, none less; zero when it is over; the standard library counts the minutes."""
    heard = dt.datetime(2026, 11, 25, 23, 50, tzinfo=dt.UTC)
    over = heard + dt.timedelta(minutes=30)

    def wait(minutes: int, **given: str) -> list[Fraction] | Problem:
        asked = heard + dt.timedelta(minutes=minutes)
        return at("lightning_wait", {"last_thunder": heard, "checked": asked}, **given)

    assert wait(18) == [12 * 60, (over - EPOCH).total_seconds()]
    assert wait(31) == [0, (over - EPOCH).total_seconds()]
    assert wait(18, wait="45 min") == [27 * 60, (over - EPOCH).total_seconds() + 900]
    assert isinstance(wait(18, wait="29 min"), Problem)
    assert isinstance(wait(-1), Problem)
