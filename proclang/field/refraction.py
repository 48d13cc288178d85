"""How far the air lifts a body, and how much air the light has come through."""

from __future__ import annotations

import math

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import ANGLE, NUMBER, PRESSURE, TEMPERATURE

_ARCMIN = math.radians(1 / 60)

PRESSURE_OF_AIR = Parameter(
    "pressure", PRESSURE, "pressure of the air at the place, not reduced to sea level", least="300 hPa", most="1100 hPa"
)
TEMPERATURE_OF_AIR = Parameter(
    "temperature", TEMPERATURE, "temperature of the air at the place", least="-60 degC", most="60 degC"
)
_RANGE = "300 to 1100 hPa and -60 to 60 °C"
_FIVE = "its own uncertainty is taken as 5 % (common practice, no source)"
_LOW_SKY = (
    "Near the horizon the air does as it likes: the formula stands for an ordinary day, and below 5 deg a real sky"
    " differs from it by arcminutes."
)


def _density(pressure: float, temperature: float) -> float:
    """Density of the air relative to the one the formulas are made for, 1010 hPa and 10 °C (283 K)."""
    return pressure / 101_000 * 283 / (temperature - 0.15)


def from_apparent(altitude: float, pressure: float, temperature: float) -> float:
    """Refraction for an apparent altitude of 0 to 90 deg, all in SI and radians; Bennett 1982."""
    degrees = math.degrees(altitude)
    return _ARCMIN / math.tan(math.radians(degrees + 7.31 / (degrees + 4.4))) * _density(pressure, temperature)


def from_true(altitude: float, pressure: float, temperature: float) -> float:
    """Refraction for a true altitude of -1 to 90 deg, all in SI and radians; Saemundsson 1986."""
    degrees = math.degrees(altitude)
    if degrees < -1:
        raise CannotCompute("the body is more than 1 deg below the horizon, where the refraction is not known")
    lift = 1.02 / math.tan(math.radians(degrees + 10.3 / (degrees + 5.11)))
    return _ARCMIN * lift * _density(pressure, temperature)


def _own(refraction: float) -> tuple[float]:
    return (abs(refraction) * 0.05,)


def _apparent_own(altitude: float, pressure: float, temperature: float) -> tuple[float]:
    return _own(from_apparent(altitude, pressure, temperature))


def _true_own(altitude: float, pressure: float, temperature: float) -> tuple[float]:
    return _own(from_true(altitude, pressure, temperature))


def _air_mass(altitude: float, formula: str) -> float:
    degrees = math.degrees(altitude)
    if formula == "secant":
        if degrees <= 0:
            raise CannotCompute("at the horizon a flat layer of air has no end")
        return 1 / math.sin(altitude)
    if formula == "pickering":
        return 1 / math.sin(math.radians(degrees + 244 / (165 + 47 * math.pow(degrees, 1.1))))
    return 1 / (math.sin(altitude) + 0.50572 * math.pow(degrees + 6.07995, -1.6364))


CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="refraction_of_apparent",
        topic="refraction",
        parameters=(
            Parameter("altitude", ANGLE, "altitude as seen, lifted by the air", least="0 deg", most="90 deg"),
            PRESSURE_OF_AIR,
            TEMPERATURE_OF_AIR,
        ),
        results=(
            Result("refraction", ANGLE, "how far the air lifts the body: take it off the altitude seen", unit="arcmin"),
        ),
        formula="1 arcmin * cotangent of (h + 7.31 / (h + 4.4)), h in deg, * pressure / 1010 hPa * 283 K / (273 K + t)",
        source="G. G. Bennett, The Calculation of Astronomical Refraction in Marine Navigation, J. Navigation 35"
        " (1982), as worked in Meeus, Astronomical Algorithms, chapter 16",
        standing="read",
        caution=_LOW_SKY,
        validity=f"an altitude of 0 to 90 deg, {_RANGE}; {_FIVE}",
        own_uncertainty=_apparent_own,
        examples=(Example("refraction_of_apparent(5 deg, 1010 hPa, 10 degC)", ("9.88 arcmin",)),),
        work=from_apparent,
    ),
    Calculation(
        name="refraction_of_true",
        topic="refraction",
        parameters=(
            Parameter("altitude", ANGLE, "altitude as computed, without air", least="-1 deg", most="90 deg"),
            PRESSURE_OF_AIR,
            TEMPERATURE_OF_AIR,
        ),
        results=(
            Result("refraction", ANGLE, "how far the air lifts the body: add it to the true altitude", unit="arcmin"),
        ),
        formula=(
            "1.02 arcmin * cotangent of (h + 10.3 / (h + 5.11)), h in deg, * pressure / 1010 hPa * 283 K / (273 K + t)"
        ),
        source="T. Saemundsson, Sky and Telescope 72 (1986), as given in Meeus, Astronomical Algorithms, chapter 16",
        standing="read",
        caution=_LOW_SKY,
        validity=f"a true altitude of -1 to 90 deg, {_RANGE}; {_FIVE}",
        own_uncertainty=_true_own,
        examples=(Example("refraction_of_true(5 deg, 1010 hPa, 10 degC)", ("9.67 arcmin",)),),
        work=from_true,
    ),
    Calculation(
        name="air_mass",
        topic="refraction",
        parameters=(
            Parameter("altitude", ANGLE, "altitude as seen, lifted by the air", least="0 deg", most="90 deg"),
            Parameter(
                "formula",
                NUMBER,
                "`kasten_young` or `pickering`, which hold down to the horizon, or `secant`, a flat layer of air, which"
                " holds well above it",
                choices=("kasten_young", "pickering", "secant"),
                default="kasten_young",
            ),
        ),
        results=(Result("air_mass", NUMBER, "how much air the light crosses, 1 being straight down"),),
        formula=(
            "kasten_young: 1 / (sin h + 0.50572 (h + 6.07995)^-1.6364); pickering: 1 / sin(h + 244 / (165 + 47 h^1.1));"
            " secant: 1 / sin h; h in deg"
        ),
        source=(
            "F. Kasten and A. T. Young, Applied Optics 28 (1989); K. A. Pickering, DIO 12 (2002); secant: geometry"
        ),
        standing="computed",
        validity="an altitude of 0 to 90 deg; `secant` above 0 deg",
        examples=(
            Example("air_mass(30 deg)", ("1.994",)),
            Example("air_mass(10 deg, formula = pickering)", ("5.581",)),
        ),
        work=_air_mass,
    ),
)
