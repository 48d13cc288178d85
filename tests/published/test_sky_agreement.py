"""The Sun, the pole stars and the declination agree with another library over 500 random places and instants.

The Sun and the stars come from ERFA in the built-ins; here they are checked with the ephem library (its own VSOP87 and
nutation), and the instants between the six-hourly places ERFA is asked for, with ERFA itself at the very instant. The
declination comes from the pygeomag library; here the model is summed a second time, from the coefficient file as issued
and with scipy's Legendre functions. The places and instants come from a fixed seed.
"""

from __future__ import annotations

import datetime
import math
import random
from pathlib import Path

import pytest
from rows import HERE
from sky_help import EPOCH, call

from proclang.field import sky
from proclang.field.declare import CannotCompute
from proclang.field.magnetic import LAST, decimal_year, field_at, spread_of
from proclang.field.registry import find
from proclang.field.sky import STARS, SUN, Direction, over_place, seconds_of

COUNT = 500
ARCSEC = math.radians(1 / 3600)


def places(seed: int, first: float, last: float) -> list[tuple[float, float, float]]:
    """Latitude and longitude in degrees, even over the globe, and an instant."""
    draw = random.Random(seed)
    return [
        (math.degrees(math.asin(draw.uniform(-1, 1))), draw.uniform(-180, 180), draw.uniform(first, last))
        for _ in range(COUNT)
    ]


def apart(seen: Direction, azimuth: float, altitude: float) -> float:
    """Angle on the sky between two directions, in radians."""
    across = math.remainder(seen.azimuth - azimuth, 2 * math.pi) * math.cos(altitude)
    return math.hypot(across, seen.altitude - altitude)


def observer(latitude: float, longitude: float, instant: float):  # type: ignore[no-untyped-def]  # ephem has no types
    """An observer of ephem at sea level without air. ephem is told UT1, which the built-ins take for UTC."""
    import ephem

    here = ephem.Observer()
    here.lat, here.lon, here.elevation, here.pressure = math.radians(latitude), math.radians(longitude), 0, 0
    here.date = EPOCH + datetime.timedelta(seconds=instant)
    return here


def test_the_sun_agrees_with_ephem() -> None:
    """2.5 arcsec on the sky, 0.0007 deg; the built-in claims UT1 (7.8 arcsec) and 1 arcsec as its own uncertainty, and
    both libraries take the same UT1 here. Through the door for azimuth and elevation."""
    import ephem

    worst = 0.0
    for latitude, longitude, instant in places(1, seconds_of(2000), seconds_of(2035) - 1):
        here = observer(latitude, longitude, instant)
        sun = ephem.Sun(here)
        where = {"latitude": f"{latitude:.9f} deg", "longitude": f"{longitude:.9f} deg", "instant": instant}
        (azimuth,), (elevation,) = call("sun_azimuth", **where), call("sun_elevation", **where)
        seen = Direction(math.radians(azimuth), math.radians(elevation), 0.0, 0.0)
        worst = max(worst, apart(seen, float(sun.az), float(sun.alt)))
    assert worst < 2.5 * ARCSEC


@pytest.mark.parametrize("star", STARS)
def test_the_pole_stars_agree_with_ephem(star: str) -> None:
    """1.5 arcsec on the sky, both given the same catalogue values. Azimuths through the door where the star is up."""
    import ephem

    given = STARS[star]
    worst, up = 0.0, 0
    for latitude, longitude, instant in places(2, seconds_of(2000), seconds_of(2035) - 1):
        here = observer(latitude, longitude, instant)
        body = ephem.FixedBody()
        body._ra, body._dec = math.radians(given.right_ascension), math.radians(given.declination)
        # ephem takes the motion in right ascension on the sky, in milliarcseconds a year, as the catalogue prints it.
        body._pmra, body._pmdec, body._epoch = given.ra_motion, given.declination_motion, ephem.J2000
        body.compute(here)
        seen = over_place(star, math.radians(latitude), math.radians(longitude), instant)
        worst = max(worst, apart(seen, float(body.az), float(body.alt)))
        if 0.01 < float(body.alt) < 1.4:
            up += 1
            where = {"latitude": f"{latitude:.9f} deg", "longitude": f"{longitude:.9f} deg", "instant": instant}
            (azimuth,) = call("pole_star_azimuth", star=star, **where)
            off = math.remainder(math.radians(azimuth) - float(body.az), 2 * math.pi)
            assert abs(off) * math.cos(float(body.alt)) < 1.5 * ARCSEC
    assert up > COUNT / 3
    assert worst < 1.5 * ARCSEC


@pytest.mark.parametrize("body", [SUN, *STARS])
def test_what_lies_between_two_knots_agrees_with_erfa_there(body: str) -> None:
    """0.001 arcsec: the cubic through four places six hours apart against ERFA asked at the instant itself, which is
    the knot of a grid moved there."""
    import erfa

    draw = random.Random(3)
    for _ in range(60):
        tt = draw.uniform(seconds_of(1972), seconds_of(2035))
        x, y, z, *_ = sky.of_date(body, tt)
        days = tt / sky.DAY
        if body == SUN:
            earth, _ = erfa.epv00(2451544.5, days)
            away = -earth["p"]
            astrom, _ = erfa.apci13(2451544.5, days)
            alpha, delta = erfa.atciqz(math.atan2(away[1], away[0]), math.asin(away[2] / erfa.pm(away)), astrom)
        else:
            star = STARS[body]
            mas, dec = ARCSEC / 1000, math.radians(star.declination)
            alpha, delta, _ = erfa.atci13(
                math.radians(star.right_ascension), dec, star.ra_motion * mas / math.cos(dec),
                star.declination_motion * mas, star.parallax / 1000, star.speed, 2451544.5, days,
            )  # fmt: skip
        there = erfa.s2c(alpha, delta)
        assert math.dist((x, y, z), [float(part) for part in there]) < 0.001 * ARCSEC


def test_universal_time_and_terrestrial_time_agree_with_erfa() -> None:
    """TT - UTC from the leap seconds, at 60 instants up to the last year ERFA calls certain."""
    import erfa

    draw = random.Random(4)
    for _ in range(60):
        instant = math.floor(draw.uniform(seconds_of(1972), seconds_of(2024)))
        moment = EPOCH + datetime.timedelta(seconds=instant)
        utc = erfa.dtf2d("UTC", moment.year, moment.month, moment.day, moment.hour, moment.minute, moment.second)
        tt = erfa.taitt(*erfa.utctai(*utc))
        assert sky.terrestrial(instant) == pytest.approx(((tt[0] - 2451544.5) + tt[1]) * sky.DAY, abs=1e-4)
        assert sky.earth_angle(instant) == pytest.approx(float(erfa.era00(2451544.5, instant / sky.DAY)), abs=1e-9)


def coefficients(path: Path) -> list[tuple[int, int, float, float, float, float]]:
    rows = []
    for line in path.read_text(encoding="ascii").splitlines()[1:]:
        if line.startswith("9999"):
            break
        n, m, *values = line.split()
        rows.append((int(n), int(m), *map(float, values)))
    return rows  # type: ignore[return-value]


def summed(
    rows: list[tuple[int, int, float, float, float, float]], latitude: float, longitude: float, km: float, year: float
) -> tuple[float, float]:
    """Declination in radians and horizontal field in nT: minus the gradient of the potential of the model, by its
    definition (WMM2025 technical report, equations of the spherical harmonic potential), with scipy's associated
    Legendre functions and their derivatives."""
    import numpy as np
    from scipy.special import assoc_legendre_p_all

    a, f, earth = 6378.137, 1 / 298.257223563, 6371.2
    phi, lam = math.radians(latitude), math.radians(longitude)
    e2 = f * (2 - f)
    normal = a / math.sqrt(1 - e2 * math.sin(phi) ** 2)
    p, z = (normal + km) * math.cos(phi), (normal * (1 - e2) + km) * math.sin(phi)
    r, geocentric = math.hypot(p, z), math.atan2(z, p)
    table = np.asarray(assoc_legendre_p_all(12, 12, math.sin(geocentric), diff_n=1))
    north = east = down = 0.0
    for n, m, g, h, g_rate, h_rate in rows:
        # Schmidt's half normalisation, without the sign (-1)^m that scipy carries.
        scale = (-1) ** m * math.sqrt((2 if m else 1) * math.factorial(n - m) / math.factorial(n + m))
        legendre, slope = scale * float(table[0, n, m]), scale * float(table[1, n, m]) * math.cos(geocentric)
        g, h = g + (year - 2025) * g_rate, h + (year - 2025) * h_rate
        size = (earth / r) ** (n + 2)
        wave, turned = g * math.cos(m * lam) + h * math.sin(m * lam), g * math.sin(m * lam) - h * math.cos(m * lam)
        north -= size * wave * slope
        east += size * m * turned * legendre / math.cos(geocentric)
        down -= (n + 1) * size * wave * legendre
    tip = geocentric - phi
    north = north * math.cos(tip) - down * math.sin(tip)
    return math.atan2(east, north), math.hypot(north, east)


def test_the_declination_agrees_with_a_second_summation() -> None:
    """1e-9 rad and 1e-6 nT beside the uncertainty of 0.3 deg the model claims; where the second summation finds less
    than 2000 nT the built-in refuses."""
    rows = coefficients(HERE / "wmm" / "WMM_2025.COF")
    assert len(rows) == 90
    calculation = find("magnetic_declination")
    assert calculation is not None
    refused = 0
    draw = random.Random(5)
    for latitude, longitude, instant in places(6, seconds_of(2025), seconds_of(LAST)):
        km = draw.uniform(-1, 8)
        declination, horizontal = summed(rows, latitude, longitude, km, decimal_year(instant))
        own, _, strength = field_at(latitude, longitude, 1000 * km, decimal_year(instant))
        assert abs(math.remainder(own - declination, 2 * math.pi)) < 1e-9 * max(1, 20000 / horizontal)
        assert strength * 1e9 == pytest.approx(horizontal, abs=1e-5)
        given = (math.radians(latitude), math.radians(longitude), 1000 * km, instant)
        if horizontal < 2000:
            refused += 1
            with pytest.raises(CannotCompute):
                calculation.work(*given)
        else:
            assert calculation.work(*given) == pytest.approx(own, abs=1e-12)
            assert calculation.own_uncertainty is not None
            assert calculation.own_uncertainty(*given)[0] == pytest.approx(spread_of(strength), rel=1e-9)
    assert 0 < refused < COUNT / 10
