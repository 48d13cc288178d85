"""Water in the air, and the standard atmosphere.

Four published pairs of Magnus constants are in use, each with its range; a call may name one. Over water throughout,
also below freezing: that is how relative humidity is defined there.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import DENSITY, LENGTH, NUMBER, PRESSURE, TEMPERATURE, TEMPERATURE_DIFFERENCE

_FREEZING = 273.15
MAGNUS: dict[str, tuple[float, float, float, float, float]] = {
    "sonntag": (611.2, 17.62, 243.12, -45.0, 60.0),
    "alduchov_eskridge": (610.94, 17.625, 243.04, -40.0, 50.0),
    "bolton": (611.2, 17.67, 243.5, -35.0, 35.0),
    "older": (610.78, 17.27, 237.7, 0.0, 60.0),
}
"""Pascals at 0 degC, the two constants, and the degrees Celsius between which they are given. The constants of
the last three are read in pages, those of the first, the pressures and the ranges are from memory."""
_ICE = (611.2, 22.46, 272.62)
"""The same over ice, Sonntag 1990 as used by the WMO, -65 degC to 0 degC, from memory."""
_WATER_VAPOUR = 8.314462618 / 0.01801528
"""J/(kg K): the molar gas constant, exact in the SI of 2019, by the molar mass of water."""


def _magnus(temperature: float, constants: str) -> tuple[float, float, float, float]:
    zero, a, b, low, high = MAGNUS[constants]
    celsius = temperature - _FREEZING
    # A hair's breadth for what a float makes of the ends of the range.
    if not low - 1e-9 <= celsius <= high + 1e-9:
        raise CannotCompute(f"the constants `{constants}` are given from {low:g} degC to {high:g} degC")
    return zero, a, b, celsius


def _saturation_pressure(temperature: float, constants: str) -> float:
    zero, a, b, celsius = _magnus(temperature, constants)
    return zero * math.exp(a * celsius / (b + celsius))


def _dew_point(temperature: float, humidity: float, constants: str) -> float:
    _, a, b, celsius = _magnus(temperature, constants)
    gamma = math.log(humidity) + a * celsius / (b + celsius)
    dew = b * gamma / (a - gamma)
    if dew < MAGNUS[constants][3] - 1e-9:
        raise CannotCompute(f"the dew point lies below {MAGNUS[constants][3]:g} degC, where `{constants}` ends")
    return dew + _FREEZING


def _frost_point(temperature: float, humidity: float, constants: str) -> float:
    pressure = humidity * _saturation_pressure(temperature, constants)
    logarithm = math.log(pressure / _ICE[0])
    if logarithm > 0:
        raise CannotCompute("dew forms above 0 degC before there is frost: take the dew point")
    frost = _ICE[2] * logarithm / (_ICE[1] - logarithm)
    if frost < -65:
        raise CannotCompute("the frost point lies below -65 degC, where the constants end")
    return frost + _FREEZING


def _dew_margin(surface: float, temperature: float, humidity: float, constants: str) -> float:
    # Below freezing frost comes first: it forms on a surface that is still warmer than the dew point.
    wet = _dew_point(temperature, humidity, constants)
    return surface - (wet if wet >= _FREEZING else _frost_point(temperature, humidity, constants))


def _relative_humidity(temperature: float, dew: float, constants: str) -> float:
    if dew > temperature:
        raise CannotCompute("a dew point above the temperature of the air: are the two exchanged?")
    return _saturation_pressure(dew, constants) / _saturation_pressure(temperature, constants)


def _absolute_humidity(temperature: float, humidity: float, constants: str) -> float:
    return humidity * _saturation_pressure(temperature, constants) / (_WATER_VAPOUR * temperature)


# ISO 2533: pressure and temperature at sea level, lapse per metre, gravity over the gas constant of dry air.
_SEA_LEVEL, _WARMTH, _LAPSE = 101_325.0, 288.15, 0.0065
_EXPONENT = 9.80665 / (287.05287 * _LAPSE)


def _standard_pressure(height: float) -> float:
    return float(_SEA_LEVEL * (1 - _LAPSE * height / _WARMTH) ** _EXPONENT)


def _standard_height(pressure: float) -> float:
    return float(_WARMTH / _LAPSE * (1 - (pressure / _SEA_LEVEL) ** (1 / _EXPONENT)))


_CONSTANTS = Parameter(
    "constants",
    NUMBER,
    "the published constants: `sonntag` (17.62, 243.12), `alduchov_eskridge` (17.625, 243.04), `bolton` (17.67, 243.5),"
    " `older` (17.27, 237.7), a pair still printed on many sheets",
    default="sonntag",
    choices=tuple(MAGNUS),
)
_TEMPERATURE = Parameter("temperature", TEMPERATURE, "temperature of the air")
_HUMIDITY = Parameter("humidity", NUMBER, "relative humidity over water", above="0 %", most="100 %")
_MAGNUS_SOURCE = (
    "Magnus formula; constants after Alduchov and Eskridge 1996, Bolton 1980 and an older pair read in pages that"
    " reproduce them; those of Sonntag 1990 as used by the WMO, over water and ice, and all ranges from memory"
)
_MAGNUS_RANGE = (
    "temperatures from -45 degC to 60 degC with `sonntag`, -40 degC to 50 degC with `alduchov_eskridge`, -35 degC to"
    " 35 degC with `bolton`, 0 degC to 60 degC with `older`; over water"
)
_DEW_CAUTION = (
    "Optics and electronics get wet before the air is saturated everywhere, and below 0 degC frost comes before dew:"
    " measure the coldest surface, and keep live parts off until they are dry."
)
_STANDARD_SOURCE = "ISO 2533 standard atmosphere, its constants from memory"
_STANDARD_CAUTION = "The weather of the day moves the real pressure by several percent: measure it where it matters."


def _moist(
    name: str,
    results: tuple[Result, ...],
    formula: str,
    work: Callable[..., float],
    example: Example,
    before: tuple[Parameter, ...],
    caution: str = "",
) -> Calculation:
    """A calculation of this file with what all of them share."""
    return Calculation(
        name=name,
        topic="weather",
        parameters=(*before, _CONSTANTS),
        results=results,
        formula=formula,
        source=_MAGNUS_SOURCE,
        standing="from memory",
        caution=caution,
        validity=_MAGNUS_RANGE,
        examples=(example,),
        work=work,
    )


CALCULATIONS: tuple[Calculation, ...] = (
    _moist(
        "dew_point",
        (Result("dew", TEMPERATURE, "temperature at which dew forms"),),
        "b * g / (a - g) with g = ln(humidity) + a * t / (b + t), t in degC, a and b the constants",
        _dew_point,
        Example("dew_point(20 degC, 50 %)", ("9.26 degC",)),
        (_TEMPERATURE, _HUMIDITY),
        _DEW_CAUTION,
    ),
    _moist(
        "dew_margin",
        (Result("margin", TEMPERATURE_DIFFERENCE, "how much warmer the surface is; at 0 K it gets wet or white"),),
        "surface - dew point of the air, or its frost point where the dew point lies below 0 degC",
        _dew_margin,
        Example("dew_margin(8 degC, 12 degC, 65 %)", ("2.38 K",)),
        (Parameter("surface", TEMPERATURE, "temperature of the coldest surface"), _TEMPERATURE, _HUMIDITY),
        _DEW_CAUTION,
    ),
    _moist(
        "frost_point",
        (Result("frost", TEMPERATURE, "temperature at which frost forms, above the dew point"),),
        "272.62 * g / (22.46 - g) with g = ln(humidity * saturation pressure / 611.2 Pa), in degC",
        _frost_point,
        Example("frost_point(-5 degC, 80 %)", ("-7.01 degC",)),
        (_TEMPERATURE, _HUMIDITY),
        _DEW_CAUTION,
    ),
    _moist(
        "relative_humidity",
        (Result("humidity", NUMBER, "relative humidity over water", unit="%"),),
        "saturation pressure at the dew point / saturation pressure at the temperature",
        _relative_humidity,
        Example("relative_humidity(20 degC, 9.26 degC)", ("50.0 %",)),
        (_TEMPERATURE, Parameter("dew", TEMPERATURE, "dew point, at most the temperature")),
    ),
    _moist(
        "saturation_pressure",
        (Result("pressure", PRESSURE, "pressure of water vapour in saturated air", unit="hPa"),),
        "p0 * e^(a * t / (b + t)), t in degC, p0, a and b the constants",
        _saturation_pressure,
        Example("saturation_pressure(20 degC)", ("23.33 hPa",)),
        (_TEMPERATURE,),
    ),
    _moist(
        "absolute_humidity",
        (Result("humidity", DENSITY, "mass of water vapour in a volume of air", unit="g/m^3"),),
        "humidity * saturation pressure / (461.52 J/(kg K) * absolute temperature)",
        _absolute_humidity,
        Example("absolute_humidity(22 degC, 78 %)", ("15.10 g/m^3",)),
        (_TEMPERATURE, _HUMIDITY),
    ),
    Calculation(
        name="standard_pressure",
        topic="weather",
        parameters=(Parameter("height", LENGTH, "height above sea level", least="-500 m", most="11000 m"),),
        results=(Result("pressure", PRESSURE, "pressure of the standard atmosphere there", unit="hPa"),),
        formula="1013.25 hPa * (1 - 0.0065 K/m * height / 288.15 K)^5.25588",
        source=_STANDARD_SOURCE,
        standing="from memory",
        caution=_STANDARD_CAUTION,
        validity="heights from -500 m to 11000 m",
        examples=(Example("standard_pressure(2400 m)", ("756.26 hPa",)),),
        work=_standard_pressure,
    ),
    Calculation(
        name="standard_height",
        topic="weather",
        parameters=(Parameter("pressure", PRESSURE, "pressure of the air", least="227 hPa", most="1074 hPa"),),
        results=(Result("height", LENGTH, "height at which the standard atmosphere has this pressure", unit="m"),),
        formula="288.15 K / (0.0065 K/m) * (1 - (pressure / 1013.25 hPa)^(1 / 5.25588))",
        source=_STANDARD_SOURCE,
        standing="from memory",
        caution=_STANDARD_CAUTION,
        validity="pressures from 227 hPa to 1074 hPa",
        examples=(Example("standard_height(756.26 hPa)", ("2400.0 m",)),),
        work=_standard_height,
    ),
)
