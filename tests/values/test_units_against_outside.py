"""Every unit of the table against two outsiders: the exact definitions of NIST SP 811 (2008) appendix B and of the SI
Brochure (9th edition, 2019), as printed numbers, and the `pint` library with rational arithmetic.
"""

from __future__ import annotations

import datetime
import re
import subprocess
import sys
from decimal import Decimal, getcontext
from fractions import Fraction
from functools import cache
from typing import Any

import pytest

from proclang.text.diagnostic import Problem
from proclang.values import dimension as dim
from proclang.values.unit import DEGREES_PER_RADIAN, NONE, Unit, find_unit, known_symbols, reply_only

PRODUCTS = [
    "N.m", "kN.m", "daN.m", "N.mm", "kgf.m", "lbf.ft", "lbf.in", "N.m/deg", "N.m/rad", "N.m/turn", "mm/turn",
    "inch/turn", "mm/deg", "mm/rad", "m/s", "km/h", "mm/s", "m/s^2", "deg/s", "rad/s", "turn/min",
    "arcsec/s", "deg/s^2", "rad/s^2",
    "turn/s^2", "kg.m^2", "kg.m", "kg/m^3", "g/cm^3", "m^2", "mm^2", "m^3", "cm^3", "N/m", "N/mm", "um/m", "mm/m",
    "um/m/K", "mm/K", "W/m/K", "J/kg/K", "m^-1", "s^-1", "K^-1", "N/mm^2", "lbf/inch^2", "V/A", "A.h", "kW.h", "L/min",
    "arcsec/mm", "mrad/N", "deg/N", "W.s/rad", "W.s/deg", "arcmin/kg", "mV/V", "%/K", "ppm/K", "N.m.s/rad", "N.s/m",
]  # fmt: skip

PINT_NAMES = {
    "µm": "micrometer", "μm": "micrometer", "um": "micrometer", "inch": "inch", "in": "inch", "mil": "thou",
    "thou": "thou", "kg": "kilogram", "t": "metric_ton", "oz": "ounce", "lb": "pound", "µs": "microsecond",
    "μs": "microsecond", "us": "microsecond", "min": "minute", "h": "hour", "d": "day", "deg": "degree", "°": "degree",
    "turns": "turn", "rev": "turn", "arcmin": "arcminute", "arcsec": "arcsecond", "K": "kelvin", "A": "ampere",
    "mA": "milliampere", "lbf": "force_pound", "kgf": "kilogram_force", "kip": "kip", "L": "liter", "l": "liter",
    "%": "percent", "°C": "kelvin", "degC": "kelvin", "Wh": "watt_hour", "ohm": "ohm", "daN": "decanewton",
    "Ω": "ohm", "mΩ": "milliohm", "kΩ": "kiloohm", "MΩ": "megaohm", "mohm": "milliohm", "kohm": "kiloohm",
    "Mohm": "megaohm", "\u2126": "ohm", "m\u2126": "milliohm", "k\u2126": "kiloohm", "M\u2126": "megaohm",
    "mas": "milliarcsecond", "pieces": "dimensionless",
    "piece": "dimensionless", "g": "gram", "rpm": "revolutions_per_minute",
}  # fmt: skip

CALENDAR = ("month", "months", "year", "years")


def unit(text: str) -> Unit:
    found = find_unit(text)
    assert isinstance(found, Unit), found
    return found


@cache
def registry() -> Any:
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)


def pint_quantity(text: str) -> Any:
    """One of a unit text as pint has it, in pint's own base units (radian for angles)."""
    ureg = registry()
    total = ureg.Quantity(Fraction(1))
    plain = re.sub(" (true|magnetic|grid)$", "", text)
    sign = 1
    for mark, name, power in re.findall(r"([./]?)([^./^]+)(?:\^(-?[0-9]))?", plain):
        sign = -1 if mark == "/" else 1
        atom = ureg.Quantity(Fraction(1), PINT_NAMES.get(name, name))
        total = total * atom ** (sign * int(power or 1))
    return total.to_root_units()


@pytest.mark.parametrize("text", [*(s for s in known_symbols() if s not in (*CALENDAR, "UTC")), *PRODUCTS])
def test_a_unit_has_the_factor_and_the_dimension_pint_gives_it(text: str) -> None:
    ours = unit(text)
    theirs = pint_quantity(text)
    powers = {key: int(value) for key, value in theirs.dimensionality.items()}
    assert {
        name: power
        for name, power in zip(
            ("[length]", "[mass]", "[time]", "angle", "[temperature]", "[current]"), ours.dimension.powers, strict=True
        )
        if power and name != "angle"
    } == powers
    # Root units of pint are metre, gram, second, radian, kelvin and ampere.
    factor = Fraction(theirs.magnitude) / Fraction(1000) ** ours.dimension.powers[1]
    if not ours.dimension.powers[1]:
        degree = Fraction(registry().Quantity(Fraction(1), "degree").to("radian").magnitude)
        factor /= degree ** ours.dimension.powers[3]
    if ours.exact:
        assert ours.factor == factor
    else:
        # pint's pi and the factor here are each good to 50 digits.
        assert abs(ours.factor / factor - 1) < Fraction(1, 10**47)


def test_every_symbol_that_can_be_printed_reads_back_as_itself() -> None:
    for text in (*known_symbols(), *PRODUCTS):
        printed = unit(text).symbol
        assert unit(printed) == unit(text)
        assert unit(printed).symbol == printed


# NIST SP 811 (2008) appendix B.8, entries in bold type, which are exact; SI Brochure 9th ed. tables 4, 8. Quoted from
# memory; pint, above, is the check that is not.
EXACT_DEFINITIONS = [
    ("inch", "0.0254"),
    ("ft", "0.3048"),
    ("yd", "0.9144"),
    ("mil", "0.0000254"),
    ("lb", "0.45359237"),
    ("kgf", "9.80665"),
    ("lbf", "4.4482216152605"),  # the pound times standard gravity: 0.45359237 x 9.80665
    ("bar", "100000"),
    ("mbar", "100"),
    ("L", "0.001"),
    ("t", "1000"),
    ("min", "60"),
    ("h", "3600"),
    ("d", "86400"),
    ("Wh", "3600"),
    ("turn", "360"),
    ("rpm", "6"),
    ("%", "0.01"),
    ("ppm", "0.000001"),
    ("pieces", "1"),
]


@pytest.mark.parametrize(("text", "value"), EXACT_DEFINITIONS)
def test_a_defined_factor_is_the_published_one(text: str, value: str) -> None:
    assert unit(text).factor == Fraction(value)


def test_derived_factors_follow_from_the_published_definitions() -> None:
    """NIST SP 811: ounce = pound/16, kip = 1000 lbf, psi = lbf per square inch, minute and second of angle 1/60 deg."""
    assert unit("lb").factor * unit("kgf").factor == unit("lbf").factor
    assert unit("oz").factor * 16 == unit("lb").factor
    assert unit("kip").factor == 1000 * unit("lbf").factor
    assert unit("psi").factor == unit("lbf").factor / Fraction("0.0254") ** 2
    assert unit("arcmin").factor * 60 == unit("arcsec").factor * 3600 == unit("mas").factor * 3_600_000 == 1


@pytest.mark.parametrize(
    ("text", "base", "printed", "digits"),
    [
        # NIST SP 811 appendix B.8, rounded there to seven digits; quoted from memory.
        ("psi", "Pa", "6894.757", 7),
        ("lbf.ft", "N.m", "1.355818", 7),
        ("lbf.in", "N.m", "0.1129848", 7),
        ("oz", "kg", "0.02834952", 7),
        ("arcmin", "rad", "0.0002908882", 7),
        ("arcsec", "rad", "0.000004848137", 7),
        ("deg", "rad", "0.01745329", 7),
        ("rpm", "rad/s", "0.1047198", 7),
    ],
)
def test_a_rounded_factor_agrees_with_the_printed_digits(text: str, base: str, printed: str, digits: int) -> None:
    ratio = unit(text).factor / unit(base).factor
    assert float(f"{float(ratio):.{digits - 1}e}") == float(printed)


def test_180_over_pi_is_good_to_50_digits() -> None:
    """Machin's formula, pi = 16 atan(1/5) - 4 atan(1/239), worked out here in rationals."""

    def arctangent(inverse: int) -> Fraction:
        return sum((Fraction((-1) ** k, (2 * k + 1) * inverse ** (2 * k + 1)) for k in range(60)), Fraction(0))

    pi = 16 * arctangent(5) - 4 * arctangent(239)
    assert abs(DEGREES_PER_RADIAN - 180 / pi) <= Fraction(1, 2 * 10**48)
    assert not unit("rad").exact
    assert not unit("mrad").exact
    assert unit("deg").exact


def test_a_year_is_the_gregorian_mean() -> None:
    """400 years of the calendar, counted by the standard library."""
    days = (datetime.date(2400, 1, 1) - datetime.date(2000, 1, 1)).days
    assert unit("year").factor == Fraction(days, 400) * 86_400
    assert {unit(text).factor for text in ("year", "years")} == {unit("year").factor}
    assert {unit(text).factor * 12 for text in ("month", "months")} == {unit("year").factor}


def test_the_celsius_scale_begins_at_273_15_kelvin() -> None:
    """SI Brochure 2.3.1: t/°C = T/K - 273.15; the two units are of one size."""
    celsius = unit("°C")
    assert (celsius.factor, celsius.zero) == (1, Fraction("273.15"))
    assert celsius.dimension == dim.TEMPERATURE
    assert unit("K").dimension == dim.TEMPERATURE_DIFFERENCE
    assert unit("degC") == celsius


@pytest.mark.parametrize(
    "text", ["N.m", "m.N", "N·m", "kN.m", "daN.m", "kgf.m", "lbf.ft", "ft.lbf", "lbf.in", "kip.ft"]
)
def test_a_force_times_a_length_is_a_torque(text: str) -> None:
    assert unit(text).dimension == dim.TORQUE
    assert unit(text).exact


@pytest.mark.parametrize("text", ["J", "kJ", "Wh", "kW.h", "W.s", "kg.m^2/s^2"])
def test_an_energy_is_not_a_torque(text: str) -> None:
    assert unit(text).dimension == dim.ENERGY


def test_a_unit_of_a_dimension_carries_its_name() -> None:
    for text, name in {
        "mm": "length", "kg": "mass", "s": "time", "deg": "angle", "K": "temperature difference", "°C": "temperature",
        "A": "current", "m^2": "area", "L": "volume", "m/s": "speed", "m/s^2": "acceleration", "rpm": "angular speed",
        "deg/s^2": "angular acceleration", "N": "force", "N.m": "torque", "J": "energy", "W": "power", "Pa": "pressure",
        "V": "voltage", "ohm": "resistance", "Hz": "frequency", "kg/m^3": "density", "%": "a plain number",
        "deg true": "bearing from true north", "arcmin grid": "bearing from grid north", "mm/turn": "length per angle",
        "W/m/K": "mass x length per time^3 x temperature difference", "K^-1": "per temperature difference",
    }.items():  # fmt: skip
        described = unit(text).dimension.describe()
        assert sorted(described.split()) == sorted(name.split()), (text, described)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "unknown-unit"),
        ("Nm", "unknown-unit"),
        ("m m", "unknown-unit"),
        (" m", "unknown-unit"),
        ("m ", "unknown-unit"),
        ("m..s", "unknown-unit"),
        ("/s", "unknown-unit"),
        ("1/s", "unknown-unit"),
        ("m^", "unknown-unit"),
        ("m^10", "unknown-unit"),
        ("m^0", "unknown-unit"),
        ("m^--1", "unknown-unit"),
        ("m^1.5", "unknown-unit"),
        ("m**2", "unknown-unit"),
        ("°C/m", "unknown-unit"),
        ("m true", "unknown-unit"),
        ("deg  true", "unknown-unit"),
        ("deg east", "unknown-unit"),
        ("deg/s true", "unknown-unit"),
        ("kg/m.s", "ambiguous-unit"),
        ("m" * 41, "unknown-unit"),
    ],
)
def test_what_is_no_unit_is_refused(text: str, code: str) -> None:
    found = find_unit(text)
    assert isinstance(found, Problem)
    assert found.code == code


def test_units_that_only_a_reply_may_have() -> None:
    assert [text for text in (*known_symbols(), '"', "'", "in/turn") if reply_only(text)] == ["in", '"', "'", "in/turn"]
    assert not reply_only("inch")
    assert not reply_only("lbf.in")
    assert not reply_only("ind")


def test_a_plain_number_has_the_empty_unit() -> None:
    assert (NONE.symbol, NONE.dimension.is_number, NONE.factor) == ("", True, 1)


def test_decimal_arithmetic_gives_the_same_torque_factor() -> None:
    """A second outsider for lbf.ft: the decimal module with 40 digits."""
    getcontext().prec = 40
    assert unit("lbf.ft").factor == Fraction(Decimal("4.4482216152605") * Decimal("0.3048"))


def test_the_room_loads_no_heavy_module() -> None:
    """Values stand on the path of every command: no difflib, pint, numpy or hashlib until needed."""
    loaded = subprocess.run(
        [sys.executable, "-c", "import sys, proclang.values.show, proclang.values.reader, proclang.values.tolerance; "
         "print(*sorted(sys.modules))"],
        capture_output=True, text=True, check=True,
    ).stdout.split()  # fmt: skip
    assert "proclang.values.reader" in loaded
    assert not {"difflib", "pint", "numpy", "hashlib", "jinja2", "lark", "prompt_toolkit"} & set(loaded)
