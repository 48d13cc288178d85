"""Pole stars, hour angles and sidereal time, and the two systems of angles on the sky.

Altitudes are without refraction. An hour angle is positive west of the meridian.
"""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.circle import cosine, sine, without_noise
from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.sky import (
    ARCSEC,
    EARTH_RATE,
    LATITUDE,
    LONGITUDE,
    STARS,
    TURN,
    UT1_SPREAD,
    WHEN,
    YEARS,
    check_years,
    from_middle,
    over_place,
    terrestrial,
)
from proclang.values.dimension import ANGLE, BEARING_TRUE, NUMBER
from proclang.values.quantity import Quantity

_OWN = 1 * ARCSEC
_J2000 = 2451545.0


def _pole_star_azimuth(star: str, latitude: float, longitude: float, instant: float) -> float:
    seen = over_place(star, latitude, longitude, instant)
    if seen.altitude <= 0:
        raise CannotCompute("the star is below the horizon there: take the pole star of the other hemisphere")
    if math.cos(seen.altitude) < 0.1:
        raise CannotCompute("the star stands within 6 deg of the zenith, where its azimuth is no mark")
    return seen.azimuth


def _azimuth_own(star: str, latitude: float, longitude: float, instant: float) -> tuple[float]:
    # The star goes round the pole at the rate of the Earth; a clock error moves it along that small circle.
    seen = over_place(star, latitude, longitude, instant)
    level = math.cos(seen.altitude)
    return (math.hypot(EARTH_RATE * UT1_SPREAD * math.cos(seen.declination), _OWN) / level,)


def _pole_star_altitude(star: str, latitude: float, longitude: float, instant: float) -> float:
    return over_place(star, latitude, longitude, instant).altitude


def _altitude_own(star: str, latitude: float, longitude: float, instant: float) -> tuple[float]:
    seen = over_place(star, latitude, longitude, instant)
    return (math.hypot(EARTH_RATE * UT1_SPREAD * math.cos(seen.declination), _OWN),)


def _pole_star_place(star: str, longitude: float, instant: float) -> tuple[float, float]:
    hour_angle, declination = from_middle(star, longitude, instant)
    return declination, hour_angle


def _place_own(star: str, longitude: float, instant: float) -> tuple[float, float]:
    polar = math.cos(from_middle(star, longitude, instant)[1])
    return _OWN, math.hypot(EARTH_RATE * UT1_SPREAD, _OWN / polar)


def _greatest_elongation(latitude: float, declination: float) -> tuple[float, float, float]:
    if latitude * declination <= 0:
        raise CannotCompute("the star and the place lie on different sides of the equator")
    if abs(declination) <= abs(latitude):
        raise CannotCompute("the star passes between the pole and the equator side of the zenith and has no elongation")
    if abs(declination) >= math.pi / 2:
        raise CannotCompute("a star at the pole stands still")
    return (
        math.asin(math.cos(declination) / math.cos(latitude)),
        math.acos(math.tan(latitude) / math.tan(declination)),
        math.asin(math.sin(latitude) / math.sin(declination)),
    )


def _sidereal_time(instant: float, longitude: float) -> float:
    import erfa

    check_years(instant)
    ut, tt = (seconds / 86_400 - 0.5 for seconds in (instant, terrestrial(instant)))
    return (float(erfa.gmst06(_J2000, ut, _J2000, tt)) + longitude) % TURN


def _hour_angle(sidereal_time: Fraction, right_ascension: Fraction) -> Fraction:
    turn = Fraction(360)
    way = (sidereal_time - right_ascension) % turn
    return way - turn if way > turn / 2 else way


def _horizontal(hour_angle: float, declination: float, latitude: float) -> tuple[float, float]:
    north = cosine(latitude) * sine(declination) - sine(latitude) * cosine(declination) * cosine(hour_angle)
    up = sine(latitude) * sine(declination) + cosine(latitude) * cosine(declination) * cosine(hour_angle)
    north, east, up = without_noise([north, -cosine(declination) * sine(hour_angle), up], 1.0)
    if north == 0 and east == 0:
        raise CannotCompute("the direction is the zenith or the nadir and has no azimuth")
    return math.atan2(east, north) % TURN, math.atan2(up, math.hypot(north, east))


def _equatorial(azimuth: float, altitude: float, latitude: float) -> tuple[float, float]:
    out = cosine(latitude) * sine(altitude) - sine(latitude) * cosine(altitude) * cosine(azimuth)
    pole = sine(latitude) * sine(altitude) + cosine(latitude) * cosine(altitude) * cosine(azimuth)
    out, west, pole = without_noise([out, -cosine(altitude) * sine(azimuth), pole], 1.0)
    if out == 0 and west == 0:
        raise CannotCompute("the direction is the pole itself and has no hour angle")
    return math.atan2(west, out), math.atan2(pole, math.hypot(out, west))


def _parallactic_angle(hour_angle: float, declination: float, latitude: float) -> float:
    up = cosine(latitude) * sine(hour_angle)
    across = sine(latitude) * cosine(declination) - cosine(latitude) * sine(declination) * cosine(hour_angle)
    up, across = without_noise([up, across], 1.0)
    if up == 0 and across == 0:
        raise CannotCompute("the direction is the zenith or the nadir, where the angle has no meaning")
    return math.atan2(up, across)


def _separation(first_around: float, first_up: float, second_around: float, second_up: float) -> float:
    # From both products of the unit vectors: exact for small angles and for those near half a turn.
    turn = second_around - first_around
    east = cosine(second_up) * sine(turn)
    north = cosine(first_up) * sine(second_up) - sine(first_up) * cosine(second_up) * cosine(turn)
    ahead = sine(first_up) * sine(second_up) + cosine(first_up) * cosine(second_up) * cosine(turn)
    return math.atan2(math.hypot(east, north), ahead)


_STAR = Parameter("star", NUMBER, "`polaris` (alpha Ursae Minoris) north, `sigma_octantis` south", choices=tuple(STARS))
_POLE_PLACE = (_STAR, LATITUDE, LONGITUDE, WHEN)
_HOUR = Parameter("hour_angle", ANGLE, "angle west of the meridian, along the equator", wraps=True)
_DECLINATION = Parameter(
    "declination", ANGLE, "angle north of the equator of the sky, south negative", least="-90 deg", most="90 deg"
)
_CATALOGUE = (
    "Hipparcos catalogue, values from memory; ERFA, the IAU's standard routines (atci13), Earth rotation angle of IAU"
    " 2000; UT1 taken to be UTC, polar motion left out"
)
_SPHERE = "spherical trigonometry; ERFA's routine gives the same"
_RIGHT_STAR = (
    "Make sure it is that star: sigma Octantis is faint, and a neighbour taken for it puts north off by degrees. Wait"
    " until the Sun is well down before a telescope points anywhere."
)
_CLOCK = "; how far UT1 may be off UTC is its own uncertainty"
_ALL_ANGLES = "any hour angle, a declination and a latitude of -90 to 90 deg"

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="pole_star_azimuth",
        topic="stars",
        parameters=_POLE_PLACE,
        results=(Result("azimuth", BEARING_TRUE, "bearing of the star, 0 up to 360 deg"),),
        formula="apparent place of the star, moved and turned with the Earth, as seen from the ground",
        source=_CATALOGUE,
        standing="computed",
        caution=_RIGHT_STAR,
        validity=f"{YEARS}, the star above the horizon and at most 84 deg high{_CLOCK}",
        own_uncertainty=_azimuth_own,
        examples=(
            Example("pole_star_azimuth(polaris, 51.4779 deg, 0 deg, 2026-11-25T20:00:00Z)", ("0.681 deg true",)),
            Example(
                "pole_star_azimuth(sigma_octantis, -30.24 deg, -70.74 deg, 2026-06-15T03:00:00Z)",
                ("178.660 deg true",),
            ),
        ),
        work=_pole_star_azimuth,
    ),
    Calculation(
        name="pole_star_altitude",
        topic="stars",
        parameters=_POLE_PLACE,
        results=(Result("altitude", ANGLE, "height above the horizon without refraction", unit="deg"),),
        formula="apparent place of the star, moved and turned with the Earth, as seen from the ground",
        source=_CATALOGUE,
        standing="computed",
        caution=_RIGHT_STAR,
        validity=f"{YEARS}{_CLOCK}",
        own_uncertainty=_altitude_own,
        examples=(Example("pole_star_altitude(polaris, 51.4779 deg, 0 deg, 2026-11-25T20:00:00Z)", ("51.934 deg",)),),
        work=_pole_star_altitude,
    ),
    Calculation(
        name="pole_star_place",
        topic="stars",
        parameters=(_STAR, LONGITUDE, WHEN),
        results=(
            Result("declination", ANGLE, "from the equator of date, north positive", unit="deg"),
            Result("hour_angle", ANGLE, "west of the meridian positive, above -180 up to 180 deg", unit="deg"),
        ),
        formula="apparent place of the star, moved and turned with the Earth, seen from the middle of the Earth",
        source=_CATALOGUE,
        standing="computed",
        validity=f"{YEARS}{_CLOCK}",
        own_uncertainty=_place_own,
        examples=(Example("pole_star_place(polaris, -105 deg, 2026-03-01T04:00:00Z)", ("89.379 deg", "67.7 deg")),),
        work=_pole_star_place,
    ),
    Calculation(
        name="greatest_elongation",
        topic="stars",
        parameters=(LATITUDE, _DECLINATION),
        results=(
            Result("offset", ANGLE, "how far the star then stands east or west of the pole's azimuth", unit="deg"),
            Result("hour_angle", ANGLE, "how far from the meridian that is, either way", unit="deg"),
            Result("altitude", ANGLE, "how high it then stands, negative where the pole is south", unit="deg"),
        ),
        formula="sin offset = cos dec / cos lat; cos hour angle = tan lat / tan dec; sin altitude = sin lat / sin dec",
        source="the right-angled triangle of star, pole and zenith; surveying textbooks",
        standing="computed",
        validity="a star nearer the pole than the zenith is, on the same side of the equator as the place",
        examples=(Example("greatest_elongation(40 deg, 89.3794 deg)", ("0.8101 deg", "89.4792 deg", "40.0028 deg")),),
        work=_greatest_elongation,
    ),
    Calculation(
        name="sidereal_time",
        topic="stars",
        parameters=(
            WHEN,
            Parameter(
                "longitude",
                ANGLE,
                "longitude of the place, east positive",
                default=Quantity(Fraction(0), ANGLE),
                least="-180 deg",
                most="360 deg",
            ),
        ),
        results=(
            Result(
                "sidereal_time", ANGLE, "mean sidereal time of the place, 0 up to 360 deg; 15 deg are 1 h", unit="deg"
            ),
        ),
        formula="Earth rotation angle + the precession of the equinox + longitude",
        source="ERFA, the IAU's standard routines (gmst06); UT1 taken to be UTC",
        standing="computed",
        validity=f"{YEARS}{_CLOCK}",
        own_uncertainty=lambda instant, longitude: (EARTH_RATE * UT1_SPREAD,),
        examples=(Example("sidereal_time(2026-11-25T20:00:00Z)", ("4.7746 deg",)),),
        work=_sidereal_time,
    ),
    Calculation(
        name="star_hour_angle",
        topic="stars",
        parameters=(
            Parameter("sidereal_time", ANGLE, "sidereal time of the place", named=True),
            Parameter("right_ascension", ANGLE, "right ascension of the star; 15 deg are 1 h", named=True),
        ),
        results=(Result("hour_angle", ANGLE, "west of the meridian positive, above -180 up to 180 deg", unit="deg"),),
        formula="sidereal time - right ascension, whole turns taken off",
        source="definition",
        standing="arithmetic",
        exact=True,
        examples=(Example("star_hour_angle(sidereal_time = 10 deg, right_ascension = 350 deg)", ("20 deg",)),),
        work=_hour_angle,
    ),
    Calculation(
        name="azimuth_altitude",
        topic="stars",
        parameters=(_HOUR, _DECLINATION, LATITUDE),
        results=(
            Result("azimuth", BEARING_TRUE, "from true north through east, 0 up to 360 deg"),
            Result("altitude", ANGLE, "above the horizon, without refraction", unit="deg"),
        ),
        formula=(
            "tan azimuth = -cos dec sin H / (cos lat sin dec - sin lat cos dec cos H); sin altitude = sin lat sin dec +"
            " cos lat cos dec cos H"
        ),
        source=_SPHERE,
        standing="computed",
        validity=f"{_ALL_ANGLES}, not in the zenith",
        examples=(
            Example("azimuth_altitude(64.352133 deg, -6.719892 deg, 38.921389 deg)", ("248.03 deg true", "15.12 deg")),
        ),
        work=_horizontal,
    ),
    Calculation(
        name="hour_angle_declination",
        topic="stars",
        parameters=(
            Parameter("azimuth", BEARING_TRUE, "from true north through east", wraps=True),
            Parameter("altitude", ANGLE, "above the horizon, without refraction", least="-90 deg", most="90 deg"),
            LATITUDE,
        ),
        results=(
            Result("hour_angle", ANGLE, "west of the meridian positive, above -180 up to 180 deg", unit="deg"),
            Result("declination", ANGLE, "north of the equator of the sky, south negative", unit="deg"),
        ),
        formula=(
            "tan H = -cos h sin A / (cos lat sin h - sin lat cos h cos A);"
            " sin dec = sin lat sin h + cos lat cos h cos A"
        ),
        source=_SPHERE,
        standing="computed",
        validity="any azimuth, an altitude and a latitude of -90 to 90 deg, not at the pole of the sky",
        examples=(Example("hour_angle_declination(45 deg true, 25.5 deg, 42 deg)", ("-99.5280 deg", "49.6728 deg")),),
        work=_equatorial,
    ),
    Calculation(
        name="parallactic_angle",
        topic="stars",
        parameters=(_HOUR, _DECLINATION, LATITUDE),
        results=(
            Result(
                "angle",
                ANGLE,
                "between the way to the zenith and the way to the north pole, positive west of the meridian",
                unit="deg",
            ),
        ),
        formula="tan q = cos lat sin H / (sin lat cos dec - cos lat sin dec cos H)",
        source=_SPHERE,
        standing="computed",
        validity=f"{_ALL_ANGLES}, not in the zenith",
        examples=(Example("parallactic_angle(30 deg, 20 deg, 40 deg)", ("45.44 deg",)),),
        work=_parallactic_angle,
    ),
    Calculation(
        name="angular_separation",
        topic="stars",
        parameters=(
            Parameter("first_around", ANGLE, "right ascension, or angle round the horizon, of the first", wraps=True),
            Parameter("first_up", ANGLE, "declination, or altitude, of the first", least="-90 deg", most="90 deg"),
            Parameter("second_around", ANGLE, "the same of the second", wraps=True),
            Parameter("second_up", ANGLE, "the same of the second", least="-90 deg", most="90 deg"),
        ),
        results=(Result("separation", ANGLE, "angle between the two directions, 0 to 180 deg", unit="deg"),),
        formula="the arctangent of (length of the vector product of the two directions / their scalar product)",
        source="vector algebra",
        standing="computed",
        examples=(Example("angular_separation(68.98 deg, 16.5092 deg, 247.35 deg, -26.4319 deg)", ("169.96 deg",)),),
        work=_separation,
    ),
)
