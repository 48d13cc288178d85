"""Structure: torque of a force, what warmth does to a pier, how old concrete and resin are."""

from __future__ import annotations

from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import (
    ANGLE,
    EXPANSION,
    FORCE,
    INSTANT,
    LENGTH,
    TEMPERATURE,
    TEMPERATURE_DIFFERENCE,
    TIME,
    TORQUE,
)


def _torque(force: float, arm: float) -> float:
    return force * arm


def _pier_tilt(expansion: float, difference: float, height: float, width: float) -> tuple[float, float]:
    tilt = expansion * difference * height / width
    if abs(tilt) > 0.01:
        raise CannotCompute("the top would tilt by more than 10 mrad: are the values in the right units?")
    return tilt, tilt * height / 2


def _pier_growth(expansion: float, difference: float, height: float) -> float:
    return expansion * difference * height


def _age(poured: Fraction, checked: Fraction) -> Fraction:
    if checked < poured:
        raise CannotCompute("it is checked before it was poured; are the two instants exchanged?")
    return checked - poured


def _cure_margin(
    poured: Fraction, checked: Fraction, required: Fraction, coldest: Fraction, least: Fraction
) -> tuple[Fraction, Fraction]:
    if coldest < least:
        raise CannotCompute(
            "it has been colder than the maker's sheet allows, so the age says nothing: ask the maker or the engineer"
        )
    if required <= 0:
        raise CannotCompute("the age the maker's sheet asks for must be above zero")
    return _age(poured, checked) - required, poured + required


_CURE_CAUTION = (
    "Age is only one of the maker's conditions: temperature, mixing, moisture and the date on the cartridge are"
    " others. The maker's sheet, the anchor's approval and the responsible engineer say when it may be loaded."
)
_PIER_CAUTION = (
    "A structure that moves more than this, or does not move back, may be damaged: keep clear of it and call the"
    " responsible structural engineer."
)
_EXPANSION = Parameter(
    "expansion", EXPANSION, "thermal expansion of the material, about 10 ppm/K for concrete and 12 ppm/K for steel",
    above="0 ppm/K",
)  # fmt: skip
_HEIGHT = Parameter("height", LENGTH, "height of the pier above its footing", above="0 mm")
_POURED = Parameter("poured", INSTANT, "when it was poured or injected")
_CHECKED = Parameter("checked", INSTANT, "when it is asked")

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="torque",
        topic="structure",
        parameters=(
            Parameter("force", FORCE, "the force, or its part at right angles to the arm"),
            Parameter("arm", LENGTH, "shortest distance from the axis to the line of the force"),
        ),
        results=(Result("torque", TORQUE, "turning moment about the axis, with the sign of force times arm"),),
        formula="force * arm",
        source="definition of the moment of a force",
        standing="arithmetic",
        caution=(
            "An axis out of balance moves by itself when it is unlocked: keep it pinned until its balance has been"
            " read, and stay out of its sweep."
        ),
        examples=(Example("torque(52 N, 650 mm)", ("33.8 N.m",)),),
        work=_torque,
    ),
    Calculation(
        name="pier_tilt",
        topic="structure",
        parameters=(
            _EXPANSION,
            Parameter("difference", TEMPERATURE_DIFFERENCE, "how much warmer one side of the pier is than the other"),
            _HEIGHT,
            Parameter("width", LENGTH, "width of the pier from the warm side to the cold", above="0 mm"),
        ),
        results=(
            Result("tilt", ANGLE, "tilt of the top, away from the warm side", unit="arcsec"),
            Result("shift", LENGTH, "how far the top moves sideways, away from the warm side", unit="mm"),
        ),
        formula="tilt = expansion * difference * height / width; shift = tilt * height / 2",
        source="bending of a free column whose temperature changes evenly across it, derived here",
        standing="computed",
        caution=_PIER_CAUTION,
        validity="a temperature that changes evenly across the pier, a foot that is held, a tilt up to 10 mrad",
        examples=(Example("pier_tilt(10 ppm/K, 3 K, 1.8 m, 600 mm)", ("18.56 arcsec", "0.0810 mm")),),
        work=_pier_tilt,
    ),
    Calculation(
        name="pier_growth",
        topic="structure",
        parameters=(
            _EXPANSION,
            Parameter("difference", TEMPERATURE_DIFFERENCE, "how much warmer the whole pier has become"),
            _HEIGHT,
        ),
        results=(Result("growth", LENGTH, "how much taller it is", unit="mm"),),
        formula="expansion * difference * height",
        source="definition of thermal expansion",
        standing="arithmetic",
        caution=_PIER_CAUTION,
        validity="a pier that is as warm in the middle as outside",
        examples=(Example("pier_growth(10 ppm/K, 15 K, 1.8 m)", ("0.27 mm",)),),
        work=_pier_growth,
    ),
    Calculation(
        name="age",
        topic="structure",
        parameters=(_POURED, _CHECKED),
        results=(Result("age", TIME, "time passed since", unit="h"),),
        formula="checked - poured",
        source="definition",
        standing="arithmetic",
        caution=_CURE_CAUTION,
        validity="an instant of checking that is not before the pouring",
        exact=True,
        examples=(Example("age(2026-11-18T09:30:00Z, 2026-11-25T15:30:00Z)", ("174 h",)),),
        work=_age,
    ),
    Calculation(
        name="cure_margin",
        topic="structure",
        parameters=(
            _POURED,
            _CHECKED,
            Parameter("required", TIME, "age before loading, from the maker's sheet at the coldest temperature it had"),
            Parameter("coldest", TEMPERATURE, "the coldest it has been since", named=True),
            Parameter("least", TEMPERATURE, "the coldest the maker's sheet allows", named=True),
        ),
        results=(
            Result("margin", TIME, "how much older than asked for; negative where time is still missing", unit="h"),
            Result("ready", INSTANT, "when it has the age asked for"),
        ),
        formula="checked - poured - required; ready = poured + required",
        source="definition; the age and the temperature are the maker's",
        standing="arithmetic",
        caution=_CURE_CAUTION,
        validity="concrete or resin that was never colder than the maker's sheet allows",
        exact=True,
        examples=(
            Example(
                "cure_margin(2026-11-25T09:30:00Z, 2026-11-25T15:30:00Z, 12 h, coldest = 6 degC, least = 5 degC)",
                ("-6 h", "2026-11-25T21:30:00Z"),
            ),
        ),
        work=_cure_margin,
    ),
)
