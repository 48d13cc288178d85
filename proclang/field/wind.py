"""Wind at a height, its gusts, the Beaufort force."""

from __future__ import annotations

import math
from typing import cast

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import LENGTH, NUMBER, SPEED

# Greatest 10-minute mean of each force in m/s, WMO table, from memory; above the last it is force 12.
_UP_TO = (0.2, 1.5, 3.3, 5.4, 7.9, 10.7, 13.8, 17.1, 20.7, 24.4, 28.4, 32.6)


def _wind_at_height(
    wind: float, measured_at: float, height: float, exponent: float | None, roughness: float | None
) -> float:
    if exponent is not None:
        return cast(float, wind * (height / measured_at) ** exponent)
    rough = cast(float, roughness)
    if min(height, measured_at) < 10 * rough:
        raise CannotCompute("both heights must be at least ten times the roughness length")
    return wind * math.log(height / rough) / math.log(measured_at / rough)


def _gust_at_height(
    wind: float, measured_at: float, height: float, gust_factor: float, exponent: float | None, roughness: float | None
) -> float:
    return gust_factor * _wind_at_height(wind, measured_at, height, exponent, roughness)


def _beaufort(wind: float) -> float:
    return float(next((force for force, most in enumerate(_UP_TO) if wind <= most + 1e-9), 12))


_CAUTION = (
    "Hills, edges, gaps and other buildings make more wind than a profile tells, and a gust outruns every mean. Measure"
    " at the height of the work, take the gust for a load or a ladder, and stop at the limit of the machine or the"
    " local rule, whichever is lower; the competent person on site decides."
)
_PROFILE = (
    Parameter("wind", SPEED, "mean wind where it was measured", least="0 m/s", most="60 m/s"),
    Parameter(
        "measured_at", LENGTH, "height above ground where it was measured", named=True, least="2 m", most="200 m"
    ),
    Parameter("height", LENGTH, "height above ground it is wanted for", named=True, least="2 m", most="200 m"),
)
_GROUND = (
    Parameter(
        "exponent",
        NUMBER,
        "exponent of the power law, about 0.1 over water, 0.14 over open land, 0.2 and more among trees and houses",
        optional=True,
        named=True,
        least="0.05",
        most="0.5",
    ),
    Parameter(
        "roughness",
        LENGTH,
        "roughness length of the logarithmic law, about 0.3 mm over water, 30 mm over open land, 0.5 m among houses",
        optional=True,
        named=True,
        least="0.1 mm",
        most="2 m",
    ),
)
_LAWS = (
    "power law or logarithmic law of the mean wind near the ground, as in textbooks and wind codes, from memory;"
    " exponents and roughness lengths are common practice, no source"
)
_LAWS_RANGE = "heights from 2 m to 200 m, and at least ten roughness lengths, over even ground, in a strong wind"

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="wind_at_height",
        topic="wind",
        parameters=(*_PROFILE, *_GROUND),
        results=(Result("wind", SPEED, "mean wind at the height", unit="m/s"),),
        formula=(
            "wind * (height / measured_at)^exponent, or wind * ln(height / roughness) / ln(measured_at / roughness)"
        ),
        source=_LAWS,
        standing="from memory",
        caution=_CAUTION,
        safe_direction="up",
        validity=_LAWS_RANGE,
        one_of=(("exponent", "roughness"),),
        examples=(
            Example("wind_at_height(6 m/s, measured_at = 2 m, height = 10 m, exponent = 0.2)", ("8.28 m/s",)),
            Example("wind_at_height(6 m/s, measured_at = 2 m, height = 10 m, roughness = 30 mm)", ("8.30 m/s",)),
        ),
        work=_wind_at_height,
    ),
    Calculation(
        name="gust_at_height",
        topic="wind",
        parameters=(
            *_PROFILE,
            Parameter(
                "gust_factor",
                NUMBER,
                "gust over mean: measured on site, or from the local wind code; 1.4 to 1.6 over open land is common"
                " practice",
                named=True,
                least="1",
                most="4",
            ),
            *_GROUND,
        ),
        results=(Result("gust", SPEED, "gust at the height", unit="m/s"),),
        formula="gust_factor * wind at the height, by the law chosen",
        source=_LAWS + "; the gust factor is an input",
        standing="from memory",
        caution=_CAUTION,
        safe_direction="up",
        validity=_LAWS_RANGE,
        one_of=(("exponent", "roughness"),),
        examples=(
            Example(
                "gust_at_height(6 m/s, measured_at = 2 m, height = 10 m, gust_factor = 1.5, exponent = 0.2)",
                ("12.42 m/s",),
            ),
        ),
        work=_gust_at_height,
    ),
    Calculation(
        name="beaufort",
        topic="wind",
        parameters=(Parameter("wind", SPEED, "mean wind of ten minutes, 10 m above ground", least="0 m/s"),),
        results=(Result("force", NUMBER, "Beaufort force, 0 to 12"),),
        formula="the least force whose range ends at or above the wind",
        source="table of the World Meteorological Organization, from memory",
        standing="from memory",
        caution=_CAUTION,
        safe_direction="up",
        validity="a ten-minute mean at 10 m; between two printed ranges, as at 7.95 m/s, the higher force is taken",
        examples=(Example("beaufort(9 m/s)", ("5",)),),
        work=_beaufort,
    ),
)
