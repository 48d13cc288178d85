"""The Sun as a mark for direction: its azimuth and elevation, the shadow of a plumb line, equal shadows, rise and set.

The direction of a shadow is always the azimuth of the Sun plus half a turn. It is never taken from the hemisphere: in
the tropics the noon shadow points north in one season and south in another.
"""

from __future__ import annotations

import math

import attrs

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.refraction import PRESSURE_OF_AIR, TEMPERATURE_OF_AIR, from_true
from proclang.field.sky import (
    ARCSEC,
    DAY,
    LATITUDE,
    LONGITUDE,
    SUN,
    TURN,
    UT1_SPREAD,
    WHEN,
    YEARS,
    Direction,
    check_years,
    from_middle,
    over_place,
    terrestrial,
)
from proclang.values.dimension import ANGLE, ANGULAR_SPEED, BEARING_TRUE, INSTANT, TIME

SOLAR_RATE = TURN / DAY
_OWN = 1 * ARCSEC
_HIGHEST = math.radians(85)
_AT_HORIZON = math.radians(-50 / 60)
_SUN_CAUTION = (
    "The Sun blinds. Never look at it, least of all through a telescope, a level or a theodolite, and keep every"
    " uncovered optic turned away from it: use the shadow. Local rules and the competent person on site come first."
)
_ERFA = "ERFA, the IAU's standard routines (epv00, apci13, atciqz), Earth rotation angle of IAU 2000"
_TURNING = f"{_ERFA}; UT1 taken to be UTC, polar motion left out"
_HORIZON = f"{_TURNING}; 34 arcmin of refraction and 16 arcmin of radius, the almanacs' convention, from memory"
_DAYLIGHT = f"{YEARS}; the Sun from 0 to 85 deg above the horizon"


def _sun(latitude: float, longitude: float, instant: float) -> Direction:
    return over_place(SUN, latitude, longitude, instant)


def _azimuth(latitude: float, longitude: float, instant: float) -> float:
    sun = _sun(latitude, longitude, instant)
    if math.cos(sun.altitude) < 1e-4:
        raise CannotCompute("the Sun stands in the zenith or the nadir and has no azimuth")
    return sun.azimuth


def _turned(latitude: float, longitude: float, instant: float) -> tuple[Direction, Direction, Direction]:
    """The Sun with the Earth turned back by the uncertainty of UT1, as it is, and turned on."""
    tt = terrestrial(instant)
    back, now, on = (over_place(SUN, latitude, longitude, instant + step * UT1_SPREAD, tt) for step in (-1, 0, 1))
    return back, now, on


def _azimuth_own(latitude: float, longitude: float, instant: float) -> tuple[float]:
    back, now, on = _turned(latitude, longitude, instant)
    level = max(math.cos(now.altitude), 1e-4)
    return (math.hypot(math.remainder(on.azimuth - back.azimuth, TURN) / 2, _OWN / level),)


def _elevation(
    latitude: float, longitude: float, instant: float, pressure: float | None, temperature: float | None
) -> float:
    true = _sun(latitude, longitude, instant).altitude
    if pressure is None and temperature is None:
        return true
    if pressure is None or temperature is None:
        raise CannotCompute("refraction needs the pressure and the temperature, both or none")
    return true + from_true(true, pressure, temperature)


def _elevation_own(
    latitude: float, longitude: float, instant: float, pressure: float | None, temperature: float | None
) -> tuple[float]:
    back, now, on = _turned(latitude, longitude, instant)
    bent = 0.0 if pressure is None or temperature is None else 0.05 * from_true(now.altitude, pressure, temperature)
    return (math.hypot((on.altitude - back.altitude) / 2, _OWN, bent),)


def _in_shadow_range(latitude: float, longitude: float, instant: float) -> Direction:
    sun = _sun(latitude, longitude, instant)
    if sun.altitude <= 0:
        raise CannotCompute("the Sun is below the horizon and throws no shadow")
    if sun.altitude > _HIGHEST:
        raise CannotCompute("the Sun stands above 85 deg: the shadow is too short to have a direction")
    return sun


def _shadow(latitude: float, longitude: float, instant: float) -> float:
    return (_in_shadow_range(latitude, longitude, instant).azimuth + math.pi) % TURN


def _shadow_rate(latitude: float, longitude: float, instant: float) -> float:
    _in_shadow_range(latitude, longitude, instant)
    before, after = (_sun(latitude, longitude, instant + step).azimuth for step in (-30.0, 30.0))
    return math.remainder(after - before, TURN) / 60


def _place(instant: float) -> tuple[float, float]:
    hour_angle, declination = from_middle(SUN, 0.0, instant)
    mean = (instant / DAY % 1.0 - 0.5) * TURN
    return declination, math.remainder(hour_angle - mean, TURN) / SOLAR_RATE


def _passage(longitude: float, instant: float) -> float:
    check_years(instant)
    step = DAY
    while abs(step) > 1e-3:  # each step leaves a 3000th of the one before: the Sun is that near to its mean rate
        step = from_middle(SUN, longitude, instant)[0] / SOLAR_RATE
        instant -= step
    return instant


def _at_horizon(latitude: float, longitude: float, instant: float, side: int) -> float:
    noon = _passage(longitude, instant)
    flat = math.cos(latitude)
    if flat < 1e-6:
        raise CannotCompute("at a pole the Sun rises and sets once a year")
    moment = noon
    for _ in range(60):
        hour_angle, declination = from_middle(SUN, longitude, moment)
        ratio = (math.sin(_AT_HORIZON) - math.sin(latitude) * math.sin(declination)) / (flat * math.cos(declination))
        if abs(ratio) >= 1:
            where = "stays above" if ratio < 0 else "stays below"
            raise CannotCompute(f"the Sun {where} the horizon that day")
        step = math.remainder(side * math.acos(ratio) - hour_angle, TURN) / SOLAR_RATE
        moment += step
        if abs(step) < 1e-4:
            return moment
    raise CannotCompute("the Sun grazes the horizon that day, and the instant cannot be told")


def _sunrise(latitude: float, longitude: float, instant: float) -> float:
    return _at_horizon(latitude, longitude, instant, -1)


def _sunset(latitude: float, longitude: float, instant: float) -> float:
    return _at_horizon(latitude, longitude, instant, 1)


def _sunrise_own(latitude: float, longitude: float, instant: float) -> tuple[float]:
    return _horizon_own(latitude, longitude, _sunrise(latitude, longitude, instant))


def _sunset_own(latitude: float, longitude: float, instant: float) -> tuple[float]:
    return _horizon_own(latitude, longitude, _sunset(latitude, longitude, instant))


def _horizon_own(latitude: float, longitude: float, moment: float) -> tuple[float]:
    """A tenth of the refraction at the horizon over the speed at which the Sun climbs there, and UT1."""
    hour_angle, declination = from_middle(SUN, longitude, moment)
    climb = SOLAR_RATE * math.cos(latitude) * math.cos(declination) * abs(math.sin(hour_angle))
    return (math.hypot(math.radians(3.4 / 60) / max(climb, 1e-9), UT1_SPREAD),)


def _equal_shadows(latitude: float, longitude: float, first: float, second: float) -> tuple[float, float, float]:
    if not first < second < first + DAY / 2:
        raise CannotCompute("the second instant comes after the first, within half a day")
    middle, half = (first + second) / 2, (second - first) / 2
    early, late = (from_middle(SUN, longitude, t)[0] for t in (first, second))
    hour_angle = ((late - early) % TURN) / 2
    _, declination = from_middle(SUN, longitude, middle)
    if abs(from_middle(SUN, longitude, middle)[0]) > math.radians(30):
        raise CannotCompute("the middle of the two instants is more than two hours from the Sun's meridian passage")
    if hour_angle < math.radians(7.5):
        raise CannotCompute("the two instants are less than an hour apart")
    drift = (from_middle(SUN, 0.0, middle + 3600)[1] - from_middle(SUN, 0.0, middle - 3600)[1]) / 7200 * half
    flat = math.cos(latitude)
    height = math.sin(latitude) * math.sin(declination) + flat * math.cos(declination) * math.cos(hour_angle)
    if height <= 0:
        raise CannotCompute("the Sun is below the horizon at the two instants")
    if abs(latitude - declination) < math.pi / 2 - _HIGHEST:
        raise CannotCompute("the Sun passes within 5 deg of the zenith: the shadow swings round too fast near noon")
    bend = math.tan(latitude) / math.sin(hour_angle) - math.tan(declination) / math.tan(hour_angle)
    correction = -bend * drift / SOLAR_RATE
    noon_shadow = 0.0 if latitude > declination else math.pi
    return middle + correction, correction, (noon_shadow + drift / (flat * math.sin(hour_angle))) % TURN


_PLACE = (LATITUDE, LONGITUDE, WHEN)
_NEAR = Parameter("instant", INSTANT, "any instant near that midday; the Sun's meridian passage nearest to it counts")
_MODEL = "; how far UT1 may be off UTC is its own uncertainty"

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="sun_azimuth",
        topic="sun",
        parameters=_PLACE,
        results=(Result("azimuth", BEARING_TRUE, "bearing of the middle of the Sun's disc, 0 up to 360 deg"),),
        formula="apparent place of the Sun from its theory, turned with the Earth, as seen from the ground",
        source=_TURNING,
        standing="computed",
        caution=_SUN_CAUTION,
        validity=YEARS + _MODEL,
        own_uncertainty=_azimuth_own,
        examples=(
            Example("sun_azimuth(28.3 deg, -16.51 deg, 2026-11-25T10:15:00Z)", ("137.742 deg true",)),
            Example("sun_azimuth(-33.934 deg, 18.477 deg, 2026-12-21T16:45:00Z)", ("250.125 deg true",)),
        ),
        work=_azimuth,
    ),
    Calculation(
        name="sun_elevation",
        topic="sun",
        parameters=(
            *_PLACE,
            attrs.evolve(PRESSURE_OF_AIR, optional=True, named=True),
            attrs.evolve(TEMPERATURE_OF_AIR, optional=True, named=True),
        ),
        results=(
            Result(
                "elevation",
                ANGLE,
                "height of the middle of the disc above the horizon: without air, or as seen where pressure and"
                " temperature are given; negative below the horizon",
                unit="deg",
            ),
        ),
        formula="apparent place of the Sun turned with the Earth, from the ground, + refraction_of_true if asked for",
        source=f"{_TURNING}; refraction after Saemundsson 1986",
        standing="computed",
        caution=_SUN_CAUTION,
        validity=f"{YEARS}; refraction with pressure and temperature together, from -1 deg up" + _MODEL,
        own_uncertainty=_elevation_own,
        examples=(
            Example("sun_elevation(28.3 deg, -16.51 deg, 2026-11-25T10:15:00Z)", ("27.835 deg",)),
            Example(
                "sun_elevation(28.3 deg, -16.51 deg, 2026-11-25T10:15:00Z, pressure = 765 hPa, temperature = 12 degC)",
                ("27.859 deg",),
            ),
        ),
        work=_elevation,
    ),
    Calculation(
        name="shadow_bearing",
        topic="sun",
        parameters=_PLACE,
        results=(
            Result("bearing", BEARING_TRUE, "where the shadow of a plumb line points on level ground, 0 up to 360 deg"),
        ),
        formula="azimuth of the Sun + 180 deg",
        source=_TURNING,
        standing="computed",
        caution=_SUN_CAUTION,
        validity=_DAYLIGHT + _MODEL,
        own_uncertainty=_azimuth_own,
        examples=(Example("shadow_bearing(28.3 deg, -16.51 deg, 2026-11-25T10:15:00Z)", ("317.742 deg true",)),),
        work=_shadow,
    ),
    Calculation(
        name="shadow_rate",
        topic="sun",
        parameters=_PLACE,
        results=(
            Result(
                "rate",
                ANGULAR_SPEED,
                "how fast that shadow turns, clockwise positive: times the error of the clock it is the error of the"
                " bearing",
                unit="deg/min",
            ),
        ),
        formula="(azimuth 30 s later - azimuth 30 s earlier) / 60 s",
        source=_TURNING,
        standing="computed",
        caution=_SUN_CAUTION,
        validity=_DAYLIGHT,
        examples=(Example("shadow_rate(28.3 deg, -16.51 deg, 2026-11-25T10:15:00Z)", ("0.205 deg/min",)),),
        work=_shadow_rate,
    ),
    Calculation(
        name="sun_place",
        topic="sun",
        parameters=(WHEN,),
        results=(
            Result("declination", ANGLE, "of the Sun, from the equator of date, north positive", unit="deg"),
            Result(
                "equation_of_time",
                TIME,
                "how far a sundial is ahead of a clock that keeps the mean time of its place",
                unit="min",
            ),
        ),
        formula="apparent place of the Sun from its theory; true hour angle of the Sun - its mean hour angle",
        source=_TURNING,
        standing="computed",
        caution=_SUN_CAUTION,
        validity=YEARS,
        own_uncertainty=lambda instant: (_OWN, UT1_SPREAD),
        examples=(Example("sun_place(2026-11-25T12:00:00Z)", ("-20.8 deg", "13.03 min")),),
        work=_place,
    ),
    Calculation(
        name="meridian_passage",
        topic="sun",
        parameters=(LONGITUDE, _NEAR),
        results=(
            Result("passage", INSTANT, "when the Sun crosses the meridian: its shadow then lies in true north-south"),
        ),
        formula="the instant at which the hour angle of the Sun is 0",
        source=_TURNING,
        standing="computed",
        caution=_SUN_CAUTION,
        validity=YEARS + _MODEL,
        own_uncertainty=lambda longitude, instant: (UT1_SPREAD,),
        examples=(Example("meridian_passage(-16.51 deg, 2026-11-25T12:00:00Z)", ("2026-11-25T12:53:01Z",)),),
        work=_passage,
    ),
    Calculation(
        name="sunrise",
        topic="sun",
        parameters=(LATITUDE, LONGITUDE, _NEAR),
        results=(Result("sunrise", INSTANT, "when the upper edge of the Sun comes over a sea horizon before midday"),),
        formula="the instant before midday at which the Sun's middle is 50 arcmin below the horizon",
        source=_HORIZON,
        standing="computed",
        caution=_SUN_CAUTION,
        validity=f"{YEARS}, where the Sun rises that day; its own uncertainty is a tenth of the refraction at the"
        " horizon (common practice, no source)",
        own_uncertainty=_sunrise_own,
        examples=(Example("sunrise(35 deg, 0 deg, 1994-01-02T12:00:00Z)", ("1994-01-02T07:08:13Z",)),),
        work=_sunrise,
    ),
    Calculation(
        name="sunset",
        topic="sun",
        parameters=(LATITUDE, LONGITUDE, _NEAR),
        results=(Result("sunset", INSTANT, "when the upper edge of the Sun goes under a sea horizon after midday"),),
        formula="the instant after midday at which the Sun's middle is 50 arcmin below the horizon",
        source=_HORIZON,
        standing="computed",
        caution=_SUN_CAUTION,
        validity=f"{YEARS}, where the Sun sets that day; its own uncertainty is a tenth of the refraction at the"
        " horizon (common practice, no source)",
        own_uncertainty=_sunset_own,
        examples=(Example("sunset(35 deg, 0 deg, 1994-01-02T12:00:00Z)", ("1994-01-02T16:59:56Z",)),),
        work=_sunset,
    ),
    Calculation(
        name="equal_shadows",
        topic="sun",
        parameters=(
            LATITUDE,
            LONGITUDE,
            Parameter("first", INSTANT, "when the shadow of the plumb line shrank to a length, before midday"),
            Parameter("second", INSTANT, "when it grew back to that length, after midday, by the same clock"),
        ),
        results=(
            Result("noon", INSTANT, "the Sun's meridian passage by that clock, whatever the clock's error"),
            Result(
                "correction",
                TIME,
                "what the Sun's changing declination added to the middle of the two instants, within `noon` already",
                unit="s",
            ),
            Result(
                "bisector",
                BEARING_TRUE,
                "bearing of the line that halves the angle between the two shadows, on the side of the noon shadow",
            ),
        ),
        formula=(
            "noon = (first + second) / 2 + correction; correction = -(tan lat / sin H - tan dec / tan H) * drift / 15"
            " deg/h; bisector = noon shadow + drift / (cos lat * sin H); H half the hour angle between the two, drift"
            " the change of declination in half the time between them"
        ),
        source=f"{_ERFA}; the equation of equal altitudes, derived here from the altitude formula at one altitude",
        standing="computed",
        caution=_SUN_CAUTION,
        validity=(
            f"{YEARS}; instants 1 to 12 h apart, their middle within 2 h of the meridian passage, the Sun up at both"
            " and passing 5 deg from the zenith or more"
        ),
        examples=(
            Example(
                "equal_shadows(-30.24 deg, -70.74 deg, 2026-03-20T13:50:00Z, 2026-03-20T19:50:00Z)",
                ("2026-03-20T16:50:10Z", "9.8 s", "180.08 deg true"),
            ),
        ),
        work=_equal_shadows,
    ),
)
