"""Following the sky and looking through the air: against ERFA at random, edges and refusals."""

from __future__ import annotations

import math
import random
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "published"))

from sky_help import call, refused

from proclang.field.refraction import from_apparent, from_true
from proclang.field.registry import find
from proclang.field.sky import EARTH_RATE


def test_rates_are_the_differences_of_erfas_angles() -> None:
    """erfa.hd2ae and hd2pa two seconds apart, 1e-6 of the rate of the Earth at random directions off the zenith."""
    import erfa

    calculation = find("tracking_rates")
    assert calculation is not None
    draw = random.Random(13)
    for _ in range(200):
        lat, azimuth, altitude = draw.uniform(-1.4, 1.4), draw.uniform(0, 6.28), draw.uniform(0.0, 1.4)
        hour, dec = (float(x) for x in erfa.ae2hd(azimuth, altitude, lat))
        rates = calculation.work(lat, azimuth, altitude)
        ends = []
        for step in (-1, 1):
            turned = hour + step * EARTH_RATE
            around, up = erfa.hd2ae(turned, dec, lat)
            ends.append((float(around), float(up), float(erfa.hd2pa(turned, dec, lat))))
        for rate, before, after in zip(rates, *ends, strict=True):
            assert rate == pytest.approx(math.remainder(after - before, 2 * math.pi) / 2, abs=2e-6 * EARTH_RATE)


def test_no_rate_in_the_zenith() -> None:
    """It grows without end there."""
    assert "zenith" in refused("tracking_rates", latitude="30 deg", azimuth="0 deg true", altitude="90 deg")


def test_an_axis_slower_than_the_sky_is_refused() -> None:
    """Below 15.04 arcsec/s there is no zone to speak of."""
    assert "slower than the sky" in refused("zenith_blind_zone", latitude="30 deg", greatest_rate="15 arcsec/s")
    assert "range" in refused("zenith_blind_zone", latitude="30 deg", greatest_rate="0 deg/s")


def test_what_the_altitude_limits_leave_is_what_a_search_finds() -> None:
    """Second derivation: the smallest and largest declination over a grid of azimuths and altitudes, by ERFA, for
    random latitudes and limits; 0.5 deg, the step of the grid."""
    import erfa
    import numpy as np

    draw = random.Random(14)
    for _ in range(20):
        lat, low = draw.uniform(-90, 90), draw.uniform(0, 60)
        high = draw.uniform(low, 90)
        azimuths, altitudes = np.meshgrid(np.linspace(0, 2 * np.pi, 721), np.radians(np.linspace(low, high, 181)))
        _, found = erfa.ae2hd(azimuths, altitudes, math.radians(lat))
        got = call(
            "reachable_declinations", latitude=f"{lat:.6f} deg", lowest=f"{low:.6f} deg", highest=f"{high:.6f} deg"
        )
        assert got == pytest.approx([math.degrees(found.min()), math.degrees(found.max())], abs=0.5)


def test_limits_the_wrong_way_round_are_refused() -> None:
    """The lowest above the highest."""
    given = {"latitude": "30 deg", "lowest": "80 deg", "highest": "20 deg"}
    assert "above the highest" in refused("reachable_declinations", **given)


def test_refraction_is_within_its_claim_of_erfas_constants() -> None:
    """ERFA's A tan z + B tan^3 z for the pressure and temperature, dry air, yellow light, 15 to 85 deg: 5 %, what the
    built-ins claim; both ways of counting agree with each other as well."""
    import erfa

    draw = random.Random(15)
    for _ in range(100):
        seen, pressure, temperature = math.radians(draw.uniform(15, 85)), draw.uniform(550, 1050), draw.uniform(-20, 35)
        a, b = erfa.refco(pressure, temperature, 0.0, 0.57)
        rigorous = a / math.tan(seen) + b / math.tan(seen) ** 3
        from_seen = from_apparent(seen, pressure * 100, temperature + 273.15)
        assert from_seen == pytest.approx(rigorous, rel=0.05)
        assert from_true(seen - from_seen, pressure * 100, temperature + 273.15) == pytest.approx(rigorous, rel=0.05)


def test_below_the_horizon_and_in_no_air_it_is_refused() -> None:
    """Ranges of the declarations."""
    air = {"pressure": "1010 hPa", "temperature": "10 °C"}
    assert "range" in refused("refraction_of_apparent", altitude="-1 arcsec", **air)
    assert "range" in refused("refraction_of_true", altitude="-1.01 deg", **air)
    assert "range" in refused("refraction_of_true", altitude="5 deg", pressure="10 hPa", temperature="10 °C")
    assert "range" in refused("air_mass", altitude="-1 deg")


def test_more_air_lower_down() -> None:
    """Falling without a step from the horizon to the zenith, by every formula."""
    for formula, lowest in (("kasten_young", 0), ("pickering", 0), ("secant", 1)):
        masses = [call("air_mass", altitude=f"{h} deg", formula=formula)[0] for h in range(lowest, 91)]
        assert masses == sorted(masses, reverse=True)
        assert masses[-1] == pytest.approx(1, abs=1e-3)
