"""Where the Sun and a star stand over a place at an instant.

The slow part, the direction seen from the middle of the Earth, comes from ERFA, the routines of the field, at fixed
instants six hours apart and is carried between them by a cubic: the error of that is far below 0.001 arcsec. The turn
of the Earth, the parallax and the place are plain arithmetic. Earth turns as UTC says (UT1 = UTC, wrong by 0.9 s at
most while leap seconds keep it so, that is 13.5 arcsec of hour angle) and polar motion, below 1 arcsec, is left out.

Directions of date are unit vectors (x, y, z): x toward the celestial intermediate origin, z toward the pole. Angles
are in radians; an instant is in seconds since 2000-01-01 00:00:00 UTC, leap seconds not counted.
"""

from __future__ import annotations

import math
from functools import cache, lru_cache

import attrs

from proclang.field.declare import CannotCompute, Parameter
from proclang.values.dimension import ANGLE, INSTANT

DAY = 86_400.0
TURN = 2 * math.pi
ARCSEC = math.pi / 648_000
EARTH_RATE = TURN * 1.00273781191135448 / DAY
"""How fast the Earth turns against the stars, rad/s of UT1; from the Earth rotation angle of IAU 2000."""

UT1_SPREAD = 0.9 / math.sqrt(3)
"""Standard uncertainty, in seconds, of taking UTC for UT1: anything up to 0.9 s either way (JCGM 100, 4.3.7)."""

FIRST_YEAR, LAST_YEAR = 1972, 2035
YEARS = f"instants from {FIRST_YEAR}-01-01 up to {LAST_YEAR}-01-01 UTC"
_JD_OF_2000 = 2451544.5
_KNOT = 21_600.0
_TT_LESS_TAI = 32.184
_ABERRATION = 1.5513e-6  # speed of the equator, 465.1 m/s, over the speed of light
_EQUATOR_IN_AU = 6378137.0 / 149_597_870_700.0
_FLATTENING = 1 / 298.257223563

LATITUDE = Parameter("latitude", ANGLE, "latitude of the place, north positive", least="-90 deg", most="90 deg")
LONGITUDE = Parameter("longitude", ANGLE, "longitude of the place, east positive", least="-180 deg", most="360 deg")
WHEN = Parameter("instant", INSTANT, "date and time of day in UTC")


@attrs.frozen
class Star:
    """A star of a catalogue, at the epoch 2000.0 in ICRS: right ascension and declination in degrees, motion on the
    sky (`ra_motion` is that of the right ascension times the cosine of the declination) and parallax in
    milliarcseconds, speed away from us in km/s."""

    right_ascension: float
    declination: float
    ra_motion: float
    declination_motion: float
    parallax: float
    speed: float


STARS = {
    "polaris": Star(37.954560667, 89.264108972, 44.48, -11.85, 7.54, -16.42),
    "sigma_octantis": Star(317.195264875, -88.956499528, 26.58, 5.02, 11.10, 12.0),
}
"""The star nearest each pole that the bare eye finds: alpha Ursae Minoris and sigma Octantis. Hipparcos values, from
memory; they agree with the rows POL-R01 to POL-R04 of the published checks."""

SUN = "sun"


@attrs.frozen
class Direction:
    """Where a body stands over a place. `azimuth` from true north through east, 0 up to a turn; `altitude` without
    refraction; `hour_angle` west positive, above -pi up to pi; `declination` of date, both as seen from the place."""

    azimuth: float
    altitude: float
    hour_angle: float
    declination: float


def seconds_of(year: int, month: int = 1, day: int = 1) -> float:
    """The instant at which a date of the calendar begins."""
    import datetime

    return (datetime.date(year, month, day) - datetime.date(2000, 1, 1)).days * DAY


def check_years(instant: float) -> None:
    """Refuses what lies outside the years the tables are good for."""
    if not seconds_of(FIRST_YEAR) <= instant < seconds_of(LAST_YEAR):
        raise CannotCompute(f"the date is outside {FIRST_YEAR}-01-01 up to {LAST_YEAR}-01-01")


@cache
def _leap_seconds() -> tuple[tuple[float, float], ...]:
    """From which instant on TAI is how many seconds ahead of UTC, latest first. After the last entry it stays."""
    import erfa

    table = erfa.leap_seconds.get()
    rows = [(seconds_of(int(row["year"]), int(row["month"])), float(row["tai_utc"])) for row in table]
    return tuple(reversed([row for row in rows if row[0] >= seconds_of(FIRST_YEAR)]))


def terrestrial(instant: float) -> float:
    """TT for an instant of UTC, both counted in seconds since the beginning of 2000."""
    check_years(instant)
    ahead = next(seconds for since, seconds in _leap_seconds() if instant >= since)
    return instant + ahead + _TT_LESS_TAI


def earth_angle(instant: float) -> float:
    """Earth rotation angle of IAU 2000, 0 up to a turn; UT1 is taken to be UTC."""
    days = instant / DAY - 0.5
    return TURN * ((days % 1.0 + 0.7790572732640 + 0.00273781191135448 * days) % 1.0)


@lru_cache(maxsize=4096)
def _knot(body: str, number: int) -> tuple[float, float, float, float, float]:
    """Direction of date from the middle of the Earth (x, y, z), distance in astronomical units (0 for a star) and the
    equation of the origins, at a knot."""
    import erfa

    days = number * _KNOT / DAY
    if body == SUN:
        earth, _ = erfa.epv00(_JD_OF_2000, days)
        x, y, z = (-float(part) for part in earth["p"])
        distance = math.sqrt(x * x + y * y + z * z)
        astrom, origins = erfa.apci13(_JD_OF_2000, days)
        right_ascension, declination = erfa.atciqz(math.atan2(y, x), math.asin(z / distance), astrom)
    else:
        star, distance = STARS[body], 0.0
        delta = math.radians(star.declination)
        mas = ARCSEC / 1000
        right_ascension, declination, origins = erfa.atci13(
            math.radians(star.right_ascension),
            delta,
            star.ra_motion * mas / math.cos(delta),
            star.declination_motion * mas,
            star.parallax / 1000,
            star.speed,
            _JD_OF_2000,
            days,
        )
    alpha, delta = float(right_ascension), float(declination)
    flat = math.cos(delta)
    return flat * math.cos(alpha), flat * math.sin(alpha), math.sin(delta), distance, float(origins)


def of_date(body: str, tt: float) -> tuple[float, float, float, float, float]:
    """What `_knot` gives, at any instant of TT, through the two knots on either side."""
    place = tt / _KNOT
    number = math.floor(place)
    u = place - number
    a, b, c, d = (_knot(body, number + step) for step in (-1, 0, 1, 2))
    wa, wb = -u * (u - 1) * (u - 2) / 6, (u + 1) * (u - 1) * (u - 2) / 2
    wc, wd = -(u + 1) * u * (u - 2) / 2, (u + 1) * u * (u - 1) / 6
    x, y, z, distance, origins = (wa * p + wb * q + wc * r + wd * s for p, q, r, s in zip(a, b, c, d, strict=True))
    return x, y, z, distance, origins


def over_place(body: str, latitude: float, longitude: float, instant: float, tt: float | None = None) -> Direction:
    """Where the Sun or a star of `STARS` stands over a place at sea level; `tt` overrides the leap-second table."""
    x, y, z, distance, _ = of_date(body, terrestrial(instant) if tt is None else tt)
    turn = earth_angle(instant) + longitude
    sin_turn, cos_turn = math.sin(turn), math.cos(turn)
    sin_lat, cos_lat = math.sin(latitude), math.cos(latitude)
    # Toward the meridian in the plane of the equator, east, and toward the pole; then from the ground, not the middle.
    p, e, q = x * cos_turn + y * sin_turn, y * cos_turn - x * sin_turn, z
    squash = (1 - _FLATTENING) ** 2
    across = 1 / math.sqrt(cos_lat * cos_lat + squash * sin_lat * sin_lat)
    if distance:
        p -= _EQUATOR_IN_AU / distance * across * cos_lat
        q -= _EQUATOR_IN_AU / distance * across * squash * sin_lat
    e += _ABERRATION * across * cos_lat
    north, up = cos_lat * q - sin_lat * p, cos_lat * p + sin_lat * q
    level = math.hypot(north, e)
    azimuth = math.atan2(e, north) % TURN if level > 0 else 0.0
    return Direction(azimuth, math.atan2(up, level), math.atan2(-e, p), math.atan2(q, math.hypot(p, e)))


def from_middle(body: str, longitude: float, instant: float) -> tuple[float, float]:
    """Hour angle at a longitude, above -pi up to pi, and declination of date, seen from the middle of the Earth."""
    x, y, z, _, _ = of_date(body, terrestrial(instant))
    turn = earth_angle(instant) + longitude
    return math.remainder(turn - math.atan2(y, x), TURN), math.atan2(z, math.hypot(x, y))
