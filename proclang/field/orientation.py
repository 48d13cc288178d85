"""Map grids: how far grid north lies from true north, and which grid a place belongs to."""

from __future__ import annotations

import cmath
import math
from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.sky import LATITUDE, LONGITUDE
from proclang.values.dimension import ANGLE, BEARING_GRID, BEARING_TRUE, NUMBER

_FLATTENING = 1 / 298.257223563
_SQUARE = _FLATTENING * (2 - _FLATTENING)
_ECCENTRICITY = math.sqrt(_SQUARE)
_WIDEST = math.radians(10)
_STEEPEST = math.radians(89)
_TURN = Fraction(360)
_SIGN_CAUTION = (
    "Maps differ in the sign they print for the convergence: check it against the sketch of the norths, and the central"
    " meridian against the map's legend."
)


def _convergence(latitude: float, longitude: float, central_meridian: float) -> float:
    away = math.remainder(longitude - central_meridian, 2 * math.pi)
    if abs(away) > _WIDEST:
        raise CannotCompute("the place is more than 10 deg of longitude from the central meridian")
    if abs(latitude) > _STEEPEST:
        raise CannotCompute("within 1 deg of a pole grid and true north are no longer compared this way")
    # The grid is the length of the meridian continued to complex isometric latitude, so true north in it is the
    # argument of its derivative, radius of the prime vertical times the cosine of the latitude.
    sine = math.sin(latitude)
    isometric = complex(math.atanh(sine) - _ECCENTRICITY * math.atanh(_ECCENTRICITY * sine), away)
    turned = cmath.tanh(isometric)
    for _ in range(12):
        turned = cmath.tanh(isometric + _ECCENTRICITY * cmath.atanh(_ECCENTRICITY * turned))
    slope = cmath.sqrt(1 - turned * turned) / cmath.sqrt(1 - _SQUARE * turned * turned)
    return -cmath.phase(slope)


def _utm_zone(latitude: Fraction, longitude: Fraction) -> tuple[Fraction, Fraction]:
    if not -80 <= latitude <= 84:
        raise CannotCompute("the zones go from 80 deg south to 84 deg north")
    east = (longitude + 180) % _TURN
    zone = Fraction(east // 6 + 1)
    if 56 <= latitude < 64 and 183 <= east < 192:
        zone = Fraction(32)
    elif latitude >= 72 and 180 <= east < 222:
        zone = Fraction(31 + 2 * ((east - 180 + 3) // 12))
    return zone, 6 * zone - 183


def _true_to_grid(true: Fraction, convergence: Fraction) -> Fraction:
    if abs(convergence) > 180:
        raise CannotCompute("a convergence is at most half a turn either way")
    return (true - convergence) % _TURN


_CONVERGENCE = "angle from true north to grid north, positive where grid north lies east of true north"

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="grid_convergence",
        topic="orientation",
        parameters=(
            LATITUDE,
            LONGITUDE,
            Parameter(
                "central_meridian",
                ANGLE,
                "longitude of the grid's central meridian, as on the map or from `utm_zone`",
                least="-180 deg",
                most="360 deg",
            ),
        ),
        results=(Result("convergence", ANGLE, _CONVERGENCE, unit="deg"),),
        formula=(
            "-argument of (cos p / sqrt(1 - e^2 sin^2 p)), p the complex latitude whose isometric latitude is that of"
            " the place + i * (longitude - central meridian); nearly (longitude - central meridian) * sin latitude"
        ),
        source="transverse Mercator projection (Gauss, Krueger 1912) of the WGS 84 ellipsoid",
        standing="computed",
        caution=_SIGN_CAUTION,
        validity="a place within 10 deg of longitude of the central meridian, and not within 1 deg of a pole",
        examples=(
            Example("grid_convergence(45 deg, 12 deg, 9 deg)", ("2.122 deg",)),
            Example("grid_convergence(-30.24 deg, -70.74 deg, -69 deg)", ("0.877 deg",)),
        ),
        work=_convergence,
    ),
    Calculation(
        name="utm_zone",
        topic="orientation",
        parameters=(LATITUDE, LONGITUDE),
        results=(
            Result("zone", NUMBER, "number of the zone, 1 to 60"),
            Result("central_meridian", ANGLE, "longitude of its middle, east positive", unit="deg"),
        ),
        formula=(
            "whole part of ((longitude + 180 deg) / 6 deg) + 1; 32 from 3 deg east on between 56 and 64 deg north; 31,"
            " 33, 35, 37 from 72 deg north on between 0 and 42 deg east; central meridian 6 deg * zone - 183 deg"
        ),
        source="Universal Transverse Mercator, zone rules as in NGA.STND.0037 (2014), from memory",
        standing="from memory",
        caution=_SIGN_CAUTION,
        validity="80 deg south to 84 deg north",
        exact=True,
        examples=(
            Example("utm_zone(28.3 deg, -16.51 deg)", ("28", "-15 deg")),
            Example("utm_zone(60 deg, 5 deg)", ("32", "9 deg")),
        ),
        work=_utm_zone,
    ),
    Calculation(
        name="true_to_grid",
        topic="orientation",
        parameters=(
            Parameter("true", BEARING_TRUE, "bearing from true north"),
            Parameter("convergence", ANGLE, _CONVERGENCE),
        ),
        results=(Result("grid", BEARING_GRID, "the same direction from grid north, 0 up to 360 deg"),),
        formula="true bearing - convergence",
        source="angle added to a bearing, signs as used in surveying: east positive",
        standing="arithmetic",
        caution=_SIGN_CAUTION,
        validity="a convergence of at most 180 deg either way",
        exact=True,
        examples=(Example("true_to_grid(1 deg true, 2.5 deg)", ("358.5 deg grid",)),),
        work=_true_to_grid,
    ),
)
