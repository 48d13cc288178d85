"""People in the weather: wind chill, heat index, lightning."""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import INSTANT, LENGTH, NUMBER, SPEED, TEMPERATURE, TIME
from proclang.values.quantity import Quantity

_FREEZING = 273.15


def _wind_chill(temperature: float, wind: float) -> float:
    celsius, speed = temperature - _FREEZING, math.pow(wind * 3.6, 0.16)
    return 13.12 + 0.6215 * celsius - 11.37 * speed + 0.3965 * celsius * speed + _FREEZING


def _heat_index(temperature: float, humidity: float) -> float:
    t, r = (temperature - _FREEZING) * 1.8 + 32, humidity * 100
    if ((t + 61 + (t - 68) * 1.2 + r * 0.094) / 2 + t) / 2 < 80:
        raise CannotCompute("it does not feel like 27 degC, below which the index is not made")
    index = (
        -42.379 + 2.04901523 * t + 10.14333127 * r - 0.22475541 * t * r - 6.83783e-3 * t * t - 5.481717e-2 * r * r
        + 1.22874e-3 * t * t * r + 8.5282e-4 * t * r * r - 1.99e-6 * t * t * r * r
    )  # fmt: skip
    if r < 13:
        index -= (13 - r) / 4 * math.sqrt((17 - abs(t - 95)) / 17)
    elif r > 85 and t <= 87:
        index += (r - 85) / 10 * (87 - t) / 5
    if index > 137:
        raise CannotCompute("it would feel like more than 58 degC, where the table of the index ends: nobody works")
    return (index - 32) / 1.8 + _FREEZING


def _lightning_distance(delay: float, temperature: float) -> float:
    return 331.3 * math.sqrt(temperature / _FREEZING) * delay


def _lightning_wait(last_thunder: Fraction, checked: Fraction, wait: Fraction) -> tuple[Fraction, Fraction]:
    if wait < 1800:
        raise CannotCompute("a wait below 30 min is not taken")
    if checked < last_thunder:
        raise CannotCompute("the last thunder lies after the instant of checking; are the two exchanged?")
    return max(Fraction(0), last_thunder + wait - checked), last_thunder + wait


_COLD_CAUTION = (
    "The index is for bare skin, walking, at night. Wet clothes, gloves off for a screw and bare metal are worse. Local"
    " rules and a first-aider on the frozen hand or the confused colleague come before a number."
)
_HEAT_CAUTION = (
    "The index is for shade and light work: full sun adds up to 8 K, and protective clothing and heavy work add more."
    " Local rules on rest and water come first; treat confusion in the heat as an emergency."
)
_LIGHTNING_CAUTION = (
    "Whoever hears thunder is within reach of lightning, whatever the distance: get down, away from mast, crane and"
    " open ground, into a building or a closed vehicle. Local rules and the site's warning service come first,"
    " and a wait starts anew with every thunder."
)

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="wind_chill",
        topic="people",
        parameters=(
            Parameter("temperature", TEMPERATURE, "temperature of the air", least="-50 degC", most="10 degC"),
            Parameter("wind", SPEED, "mean wind at 10 m above open ground", above="4.8 km/h", most="110 km/h"),
        ),
        results=(Result("index", TEMPERATURE, "wind chill index: the still air that cools bare skin as much"),),
        formula="13.12 + 0.6215 * t - 11.37 * v^0.16 + 0.3965 * t * v^0.16, t in degC, v in km/h",
        source="index of 2001 of the weather services of Canada and the United States, read in a page reproducing it",
        standing="read",
        caution=_COLD_CAUTION,
        safe_direction="down",
        validity="temperatures from -50 degC to 10 degC, wind above 4.8 km/h up to 110 km/h",
        examples=(Example("wind_chill(-10 degC, 60 km/h)", ("-22.62 degC",)),),
        work=_wind_chill,
    ),
    Calculation(
        name="heat_index",
        topic="people",
        parameters=(
            Parameter(
                "temperature", TEMPERATURE, "temperature of the air in the shade", least="26 degC", most="44 degC"
            ),
            Parameter("humidity", NUMBER, "relative humidity", above="0 %", most="100 %"),
        ),
        results=(Result("index", TEMPERATURE, "heat index: the temperature it feels like"),),
        formula=(
            "regression of nine terms in temperature and humidity with its two corrections, for dry and for moist air"
        ),
        source="regression of the United States weather service (Rothfusz 1990), from memory",
        standing="from memory",
        caution=_HEAT_CAUTION,
        safe_direction="up",
        validity="26 degC to 44 degC in the shade, where it feels like 27 degC to 58 degC",
        examples=(Example("heat_index(30 degC, 45 %)", ("30.3 degC",)),),
        work=_heat_index,
    ),
    Calculation(
        name="lightning_distance",
        topic="people",
        parameters=(
            Parameter("delay", TIME, "from the flash to its thunder", least="0 s", most="90 s"),
            Parameter("temperature", TEMPERATURE, "temperature of the air", least="-50 degC", most="50 degC"),
        ),
        results=(Result("distance", LENGTH, "distance of the nearest part of the flash", unit="km"),),
        formula="331.3 m/s * square root of (absolute temperature / 273.15 K) * delay",
        source="speed of sound in dry air, from memory",
        standing="from memory",
        caution=_LIGHTNING_CAUTION,
        safe_direction="down",
        validity="delays up to 90 s, -50 degC to 50 degC",
        examples=(Example("lightning_distance(12 s, 15 degC)", ("4.08 km",)),),
        work=_lightning_distance,
    ),
    Calculation(
        name="lightning_wait",
        topic="people",
        parameters=(
            Parameter("last_thunder", INSTANT, "when thunder was last heard or a flash last seen"),
            Parameter("checked", INSTANT, "when it is asked"),
            Parameter(
                "wait",
                TIME,
                "the wait of the local rule; 30 min is common practice, and less is refused",
                default=Quantity(Fraction(1800), TIME),
            ),
        ),
        results=(
            Result("left", TIME, "how long to wait still, zero when the wait is over", unit="min"),
            Result("over", INSTANT, "when the wait is over, if no thunder is heard before"),
        ),
        formula="last_thunder + wait - checked, at least zero",
        source="30 min after the last thunder: common practice, no source; the local rule comes first",
        standing="common practice, no source",
        caution=_LIGHTNING_CAUTION,
        safe_direction="up",
        validity="a wait of 30 min or more, asked after the last thunder",
        exact=True,
        examples=(
            Example("lightning_wait(2026-11-25T14:02:00Z, 2026-11-25T14:20:00Z)", ("12 min", "2026-11-25T14:32:00Z")),
        ),
        work=_lightning_wait,
    ),
)
