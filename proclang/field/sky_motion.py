"""Following the sky with an axis up and an axis level: rates, the turn of the field, the zone round the zenith that the
azimuth axis cannot follow, and which part of the sky the limits of the altitude axis leave."""

from __future__ import annotations

import math

from proclang.field.circle import cosine, sine
from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.sky import EARTH_RATE, LATITUDE
from proclang.values.dimension import ANGLE, ANGULAR_SPEED, BEARING_TRUE

_NEAREST = math.radians(0.01)


def _tracking_rates(latitude: float, azimuth: float, altitude: float) -> tuple[float, float, float]:
    level = cosine(altitude)
    if level < math.sin(_NEAREST):
        raise CannotCompute("within 0.01 deg of the zenith the azimuth rate has no end")
    around = cosine(latitude) * cosine(azimuth)
    return (
        EARTH_RATE * (sine(latitude) - around * sine(altitude) / level),
        EARTH_RATE * cosine(latitude) * sine(azimuth),
        -EARTH_RATE * around / level,
    )


def _blind_zone(latitude: float, greatest_rate: float) -> tuple[float, float]:
    ratio = greatest_rate / EARTH_RATE
    pole = abs(math.sin(latitude))
    if ratio <= 1:
        raise CannotCompute("the axis is slower than the sky itself and follows nothing for long")
    flat = math.cos(latitude)
    return math.atan(flat / (ratio - pole)), math.atan(flat / (ratio + pole))


def _reach(latitude: float, lowest: float, highest: float) -> tuple[float, float]:
    if lowest > highest:
        raise CannotCompute("the lowest altitude is above the highest")
    # Toward north the declination is 90 deg - |latitude - altitude|, toward south |latitude + altitude| - 90 deg.
    north = min(max(latitude, lowest), highest)
    south = min(max(-latitude, lowest), highest)
    return abs(latitude + south) - math.pi / 2, math.pi / 2 - abs(latitude - north)


_SIDEREAL = "spherical trigonometry at the Earth's rate of turning (IAU 2000), 15.041067 arcsec/s"
_MOVING = (
    "A telescope that follows can reach a hard stop or pull its cables with nobody touching it. Keep hands and cables"
    " clear, keep the emergency stop at hand, and let whoever is competent on site say when it may move."
)

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="tracking_rates",
        topic="sky_motion",
        parameters=(
            LATITUDE,
            Parameter("azimuth", BEARING_TRUE, "of the star, from true north through east", wraps=True),
            Parameter("altitude", ANGLE, "of the star", least="-90 deg", most="90 deg"),
        ),
        results=(
            Result(
                "azimuth_rate", ANGULAR_SPEED, "of the azimuth axis, clockwise from above positive", unit="arcsec/s"
            ),
            Result("altitude_rate", ANGULAR_SPEED, "of the altitude axis, up positive", unit="arcsec/s"),
            Result(
                "field_rate",
                ANGULAR_SPEED,
                "how fast the parallactic angle changes, which a field rotator has to follow",
                unit="arcsec/s",
            ),
        ),
        formula=(
            "w (sin lat - cos lat cos A tan h); w cos lat sin A; -w cos lat cos A / cos h; w the rate of the Earth"
        ),
        source=_SIDEREAL,
        standing="computed",
        caution=_MOVING,
        validity="any azimuth, an altitude farther than 0.01 deg from the zenith",
        examples=(
            Example(
                "tracking_rates(20 deg, 135 deg true, 80 deg)",
                ("61.8245 arcsec/s", "9.9942 arcsec/s", "57.5545 arcsec/s"),
            ),
        ),
        work=_tracking_rates,
    ),
    Calculation(
        name="zenith_blind_zone",
        topic="sky_motion",
        parameters=(
            LATITUDE,
            Parameter("greatest_rate", ANGULAR_SPEED, "fastest the azimuth axis can follow", above="0 deg/s"),
        ),
        results=(
            Result(
                "equator_side", ANGLE, "how near the zenith it follows across the meridian, equator side", unit="deg"
            ),
            Result("pole_side", ANGLE, "how near the zenith it follows across the meridian, pole side", unit="deg"),
        ),
        formula="tan z = cos lat / (greatest rate / w - sin |lat|) and cos lat / (greatest rate / w + sin |lat|)",
        source=_SIDEREAL,
        standing="computed",
        caution=_MOVING,
        safe_direction="up",
        validity="a rate above that of the sky, 15.05 arcsec/s",
        examples=(Example("zenith_blind_zone(20 deg, 0.5 deg/s)", ("0.4512 deg", "0.4486 deg")),),
        work=_blind_zone,
    ),
    Calculation(
        name="reachable_declinations",
        topic="sky_motion",
        parameters=(
            LATITUDE,
            Parameter("lowest", ANGLE, "lowest altitude the axis may take", least="-90 deg", most="90 deg", named=True),
            Parameter(
                "highest", ANGLE, "highest altitude the axis may take", least="-90 deg", most="90 deg", named=True
            ),
        ),
        results=(
            Result("southernmost", ANGLE, "declination of the southernmost star that is ever within reach", unit="deg"),
            Result("northernmost", ANGLE, "declination of the northernmost star that is ever within reach", unit="deg"),
        ),
        formula=(
            "|lat + h| - 90 deg with the altitude h of the range nearest -lat; 90 deg - |lat - h| with h nearest lat"
        ),
        source="altitudes on the meridian; refraction left out",
        standing="computed",
        caution=_MOVING,
        validity="a lowest altitude not above the highest, the azimuth axis going all the way round",
        examples=(
            Example("reachable_declinations(28.3 deg, lowest = 15 deg, highest = 88 deg)", ("-46.7 deg", "90 deg")),
        ),
        work=_reach,
    ),
)
