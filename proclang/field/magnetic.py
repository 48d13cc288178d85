"""The Earth's magnetic field from the World Magnetic Model 2025: the declination a compass needs, and how far to trust
it. The model knows nothing of iron, cables and rock near the compass."""

from __future__ import annotations

import math
from bisect import bisect_right
from functools import cache, lru_cache
from typing import Any

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.sky import LATITUDE, LONGITUDE, WHEN, seconds_of
from proclang.values.dimension import ANGLE, LENGTH, MAGNETIC_FLUX_DENSITY

BLACKOUT = 2000e-9
"""Horizontal field, in tesla, below which a compass is not to be used."""
CAUTION_ZONE = 6000e-9
"""Horizontal field, in tesla, below which a compass is used with caution."""
FIRST, LAST = 2025, 2030
_NANO = 1e-9
_INCLINATION_OWN, _HORIZONTAL_OWN = math.radians(0.20), 133 * _NANO
_COMPASS_CAUTION = (
    "Below 6000 nT of horizontal field a compass is sluggish and the declination is doubtful by a degree and more"
    " (`horizontal` of `magnetic_field` tells). Iron, cables, magnets and rock near the compass add errors the model"
    " does not know: keep it metres away from the instrument, and prefer the Sun or a star where a degree matters."
)
_WMM = "World Magnetic Model WMM2025 (NOAA/NCEI and BGS, issued 2024-11-13), as summed by the pygeomag library"
_DATES = f"instants from {FIRST}-01-01 to {LAST}-01-01 UTC, heights of -1 to 850 km"


@cache
def _year_starts() -> tuple[float, ...]:
    return tuple(seconds_of(year) for year in range(2000, LAST + 2))


def decimal_year(instant: float) -> float:
    """The instant as a year and the part of it that has gone by, from 2000 to the end of 2030."""
    starts = _year_starts()
    if not starts[0] <= instant < starts[-1]:
        raise CannotCompute(f"the date is outside {FIRST}-01-01 to {LAST}-01-01")
    place = bisect_right(starts, instant) - 1
    return 2000 + place + (instant - starts[place]) / (starts[place + 1] - starts[place])


@cache
def model(year: int = FIRST) -> Any:
    """The model of an issue, ready to be summed; built-ins use that of 2025."""
    from importlib import import_module

    from pygeomag import GeoMag

    coefficients = getattr(import_module(f"pygeomag.wmm.wmm_{year}"), f"WMM_{year}")
    return GeoMag(coefficients_data=coefficients)


@lru_cache(maxsize=64)
def field_at(
    latitude: float, longitude: float, height: float, year: float, issue: int = FIRST
) -> tuple[float, float, float]:
    """Declination and inclination in radians, horizontal field in tesla; degrees and metres in."""
    found = model(issue).calculate(glat=latitude, glon=longitude, alt=height / 1000, time=year)
    return math.radians(found.d), math.radians(found.i), float(found.h) * _NANO


def _at(latitude: float, longitude: float, height: float, instant: float) -> tuple[float, float, float]:
    year = decimal_year(instant)
    if not FIRST <= year <= LAST:
        raise CannotCompute(f"the date is outside {FIRST}-01-01 to {LAST}-01-01: the model has expired or not begun")
    return field_at(math.degrees(latitude), math.degrees(longitude), height, year)


def spread_of(horizontal: float) -> float:
    """Standard uncertainty of the declination, in radians, where the horizontal field has this strength in tesla."""
    if horizontal < BLACKOUT:
        raise CannotCompute(
            "the horizontal field is below 2000 nT, the blackout zone of the model: use no compass here"
        )
    return math.radians(math.hypot(0.26, 5417 * _NANO / horizontal))


def _declination(latitude: float, longitude: float, height: float, instant: float) -> float:
    declination, _, horizontal = _at(latitude, longitude, height, instant)
    spread_of(horizontal)
    return declination


def _declination_own(latitude: float, longitude: float, height: float, instant: float) -> tuple[float]:
    return (spread_of(_at(latitude, longitude, height, instant)[2]),)


def _field(latitude: float, longitude: float, height: float, instant: float) -> tuple[float, float]:
    _, inclination, horizontal = _at(latitude, longitude, height, instant)
    return inclination, horizontal


_HEIGHT = Parameter("height", LENGTH, "height of the place above the sea", least="-1 km", most="850 km")
_WHERE = (LATITUDE, LONGITUDE, _HEIGHT, WHEN)
_ERROR = "sqrt((0.26 deg)^2 + (5417 deg nT / horizontal field)^2)"

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="magnetic_declination",
        topic="magnetic",
        parameters=_WHERE,
        results=(
            Result(
                "declination",
                ANGLE,
                "angle from true north to magnetic north, positive where magnetic north lies east of true north",
                unit="deg",
            ),
        ),
        formula=f"the sum of the model's 168 terms; standard uncertainty {_ERROR}",
        source=_WMM,
        standing="read",
        caution=_COMPASS_CAUTION,
        validity=f"{_DATES}, and a horizontal field of at least 2000 nT (below it is the model's blackout zone)",
        own_uncertainty=_declination_own,
        examples=(
            Example("magnetic_declination(-63 deg, 178 deg, 12 km, 2027-01-01T00:00:00Z)", ("57.87 deg",)),
            Example("magnetic_declination(43 deg, 93 deg, 65 km, 2025-01-01T00:00:00Z)", ("0.50 deg",)),
        ),
        work=_declination,
    ),
    Calculation(
        name="magnetic_field",
        topic="magnetic",
        parameters=_WHERE,
        results=(
            Result("inclination", ANGLE, "dip of the field below the horizontal, positive down", unit="deg"),
            Result(
                "horizontal",
                MAGNETIC_FLUX_DENSITY,
                "strength along the ground, which turns a compass: doubtful below 6000 nT, none to use below 2000 nT",
                unit="nT",
            ),
        ),
        formula="the sum of the model's 168 terms; standard uncertainties 0.20 deg and 133 nT",
        source=_WMM,
        standing="read",
        caution=_COMPASS_CAUTION,
        validity=_DATES,
        own_uncertainty=lambda latitude, longitude, height, instant: (_INCLINATION_OWN, _HORIZONTAL_OWN),
        examples=(
            Example("magnetic_field(-63 deg, 178 deg, 12 km, 2027-01-01T00:00:00Z)", ("-79.14 deg", "11720.7 nT")),
        ),
        work=_field,
    ),
    Calculation(
        name="declination_uncertainty",
        topic="magnetic",
        parameters=(
            Parameter("horizontal", MAGNETIC_FLUX_DENSITY, "strength of the field along the ground", most="100000 nT"),
        ),
        results=(Result("uncertainty", ANGLE, "standard uncertainty of a declination from the model", unit="deg"),),
        formula=_ERROR,
        source="error model of WMM2025 (NOAA/NCEI and BGS), constants as in the pygeomag library",
        standing="read",
        caution=_COMPASS_CAUTION,
        validity="a horizontal field of 2000 nT (below it is the model's blackout zone) to 100000 nT",
        examples=(
            Example("declination_uncertainty(20000 nT)", ("0.3754 deg",)),
            Example("declination_uncertainty(5000 nT)", ("1.1142 deg",)),
        ),
        work=spread_of,
    ),
)
