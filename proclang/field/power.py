"""Conductors: their resistance by size and temperature, the drop along a cable, the smallest size for a drop."""

from __future__ import annotations

import math

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.power_tables import CLASSES, CODE_TABLE, COEFFICIENTS, GAUGES
from proclang.values.dimension import (
    AREA,
    CURRENT,
    LENGTH,
    NUMBER,
    POWER,
    RESISTANCE,
    RESISTANCE_PER_LENGTH,
    TEMPERATURE,
    VOLTAGE,
)

_FREEZING = 273.15


def _awg_size(gauge: str) -> tuple[float, float]:
    diameter = 0.127e-3 * 92 ** ((36 - GAUGES[gauge]) / 39)
    return diameter, math.pi / 4 * diameter * diameter


def _awg_resistance(gauge: str, strand: str) -> float:
    solid, stranded = CODE_TABLE[gauge]
    per_thousand_feet = solid if strand == "solid" else stranded
    if per_thousand_feet is None:
        raise CannotCompute("the table has no solid conductor of this gauge; it is stranded from 6 on")
    return per_thousand_feet / 304.8


def _conductor_resistance(area: float, strands: str) -> float:
    found = CLASSES[strands].get(round(area * 1e6, 9))
    if found is None:
        raise CannotCompute("this is no size of the table; take the resistance of the next smaller size")
    return found / 1000


def _factor(temperature: float, metal: str) -> float:
    coefficient, reference = COEFFICIENTS[metal]
    return 1 + coefficient * (temperature - _FREEZING - reference)


def _resistance_at(resistance: float, measured_at: float, wanted_at: float, metal: str) -> float:
    return resistance * _factor(wanted_at, metal) / _factor(measured_at, metal)


def _voltage_drop(current: float, resistance: float, one_way: float, supply: float) -> tuple[float, float, float]:
    drop = 2 * one_way * resistance * current
    if drop > supply:
        raise CannotCompute("the cable would drop more than the supply has: it cannot carry this current so far")
    return drop, drop / supply, drop * current


def _smallest_size(
    current: float, one_way: float, supply: float, most: float, conductor: float, strands: str
) -> tuple[float, float]:
    allowed = most * supply / (2 * one_way * current)
    warm = _factor(conductor, "copper")
    for area, resistance in CLASSES[strands].items():
        # A hair's breadth for what a float makes of an equality.
        if resistance / 1000 * warm <= allowed * (1 + 1e-12):
            return area * 1e-6, allowed
    raise CannotCompute("no size of the table drops so little: go nearer, raise the voltage or part the load")


POWER_CAUTION = (
    "Electricity kills and cables burn. The sum says nothing about how much current a cable may carry where it lies,"
    " nor about its protection. Isolate, lock and prove dead before work; local codes decide, and a licensed"
    " electrician connects and tests."
)
_STRANDS = Parameter(
    "strands", NUMBER, "how it is made: solid, stranded or flexible", choices=("class_1", "class_2", "class_5")
)
_ONE_WAY = Parameter("one_way", LENGTH, "length of the cable one way, not there and back", named=True, above="0 m")
_CURRENT = Parameter("current", CURRENT, "current of the load", above="0 A")
_SUPPLY = Parameter("supply", VOLTAGE, "voltage at the source", above="0 V")
_GAUGE = Parameter("gauge", NUMBER, "the American wire gauge", choices=tuple(GAUGES))
_IEC = "IEC 60228, plain copper, greatest resistance at 20 degC; part read in pages that reproduce it, part from memory"

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="awg_size",
        topic="power",
        parameters=(_GAUGE,),
        results=(
            Result("diameter", LENGTH, "diameter of the solid wire", unit="mm"),
            Result("area", AREA, "its area", unit="mm^2"),
        ),
        formula="diameter = 0.127 mm * 92^((36 - n) / 39), n being 0 for 1/0, -3 for 4/0; area = pi / 4 * diameter^2",
        source="definition of the American wire gauge, from memory",
        standing="from memory",
        caution=POWER_CAUTION,
        print_standing=True,
        examples=(Example("awg_size(gauge = awg_10)", ("2.5882 mm", "5.2612 mm^2")),),
        work=_awg_size,
    ),
    Calculation(
        name="awg_resistance",
        topic="power",
        parameters=(
            Parameter("gauge", NUMBER, "the American wire gauge", choices=tuple(CODE_TABLE)),
            Parameter("strand", NUMBER, "one wire or many", choices=("solid", "stranded")),
        ),
        results=(
            Result("resistance", RESISTANCE_PER_LENGTH, "resistance at 75 degC of uncoated copper", unit="ohm/km"),
        ),
        formula="the printed value, in ohm per 1000 ft",
        source="National Electrical Code, chapter 9, table 8, part read in a page reproducing it, part from memory",
        standing="from memory",
        caution=POWER_CAUTION,
        print_standing=True,
        validity="18 to 8 solid, 18 to 4/0 stranded; direct current",
        examples=(Example("awg_resistance(gauge = awg_10, strand = solid)", ("3.970 ohm/km",)),),
        work=_awg_resistance,
    ),
    Calculation(
        name="conductor_resistance",
        topic="power",
        parameters=(Parameter("area", AREA, "nominal area of the conductor", above="0 mm^2"), _STRANDS),
        results=(Result("resistance", RESISTANCE_PER_LENGTH, "greatest resistance at 20 degC", unit="ohm/km"),),
        formula="the printed value",
        source=_IEC,
        standing="from memory",
        caution=POWER_CAUTION,
        safe_direction="up",
        print_standing=True,
        validity="the printed sizes from 0.5 mm^2 to 150 mm^2, plain copper; nothing between them is guessed",
        examples=(Example("conductor_resistance(6 mm^2, strands = class_2)", ("3.08 ohm/km",)),),
        work=_conductor_resistance,
    ),
    Calculation(
        name="resistance_at",
        topic="power",
        parameters=(
            Parameter(
                "resistance", RESISTANCE, "resistance measured, or of the cable at a printed temperature", least="0 ohm"
            ),
            Parameter(
                "measured_at",
                TEMPERATURE,
                "conductor temperature it holds for",
                named=True,
                least="-50 degC",
                most="150 degC",
            ),
            Parameter(
                "wanted_at",
                TEMPERATURE,
                "conductor temperature it is wanted for",
                named=True,
                least="-50 degC",
                most="150 degC",
            ),
            Parameter(
                "metal",
                NUMBER,
                "metal and whose coefficient: `copper` and `aluminium` at 20 degC, `copper_iec_60228` for the rounded"
                " 0.004 of its correction table, `copper_75` and `aluminium_75` for a table at 75 degC",
                choices=tuple(COEFFICIENTS),
            ),
        ),
        results=(Result("resistance", RESISTANCE, "resistance at that temperature"),),
        formula="resistance * (1 + a * (wanted_at - t0)) / (1 + a * (measured_at - t0)), a the coefficient at t0",
        source=(
            "linear law; copper 0.00393/K at 20 degC (IEC 60028), 0.004/K (IEC 60228) and 0.00323/K at 75 degC read in"
            " pages, aluminium 0.00403/K at 20 degC and 0.0033/K at 75 degC from memory"
        ),
        standing="from memory",
        caution=POWER_CAUTION,
        print_standing=True,
        validity="conductors from -50 degC to 150 degC",
        examples=(
            Example(
                "resistance_at(154 mohm, measured_at = 20 degC, wanted_at = 70 degC, metal = copper)", ("184.3 mohm",)
            ),
        ),
        work=_resistance_at,
    ),
    Calculation(
        name="voltage_drop",
        topic="power",
        parameters=(
            Parameter("current", CURRENT, "current of the load", least="0 A"),
            Parameter(
                "resistance",
                RESISTANCE_PER_LENGTH,
                "resistance of one conductor per length, as warm as it will be",
                above="0 ohm/km",
            ),
            _ONE_WAY,
            _SUPPLY,
        ),
        results=(
            Result("drop", VOLTAGE, "voltage lost there and back", unit="V"),
            Result("share", NUMBER, "part of the supply that is lost", unit="%"),
            Result("loss", POWER, "heat in the cable", unit="W"),
        ),
        formula="drop = 2 * one_way * resistance * current; share = drop / supply; loss = drop * current",
        source="Ohm's law for a two-wire direct-current circuit",
        standing="arithmetic",
        caution=POWER_CAUTION,
        safe_direction="up",
        print_standing=True,
        validity="direct current in two like conductors, and a drop up to the supply",
        examples=(
            Example("voltage_drop(8 A, 3.08 ohm/km, one_way = 25 m, supply = 24 V)", ("1.232 V", "5.13 %", "9.86 W")),
        ),
        work=_voltage_drop,
    ),
    Calculation(
        name="smallest_size",
        topic="power",
        parameters=(
            _CURRENT,
            _ONE_WAY,
            _SUPPLY,
            Parameter(
                "most", NUMBER, "greatest part of the supply that may be lost", named=True, above="0 %", below="100 %"
            ),
            Parameter(
                "conductor",
                TEMPERATURE,
                "how warm the conductor will be; 70 degC is that of loaded common insulation",
                named=True,
                least="-50 degC",
                most="150 degC",
            ),
            _STRANDS,
        ),
        results=(
            Result("area", AREA, "the smallest printed size that keeps the drop", unit="mm^2"),
            Result("allowed", RESISTANCE_PER_LENGTH, "the resistance it may have", unit="ohm/km"),
        ),
        formula=(
            "allowed = most * supply / (2 * one_way * current); the first size whose printed resistance, brought to the"
            " temperature with 0.00393/K, is not above it"
        ),
        source=_IEC,
        standing="from memory",
        caution=POWER_CAUTION,
        safe_direction="up",
        print_standing=True,
        validity="0.5 mm^2 to 150 mm^2, plain copper, direct current; the drop only, not what the cable may carry",
        examples=(
            Example(
                "smallest_size(10 A, one_way = 30 m, supply = 24 V, most = 3 %, conductor = 20 degC,"
                " strands = class_2)",
                ("16 mm^2", "1.2 ohm/km"),
            ),
        ),
        work=_smallest_size,
    ),
)
