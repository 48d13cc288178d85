"""The closed table of units, and the small grammar that multiplies them: `mm/turn`, `m/s^2`, `N.m`, `deg true`.

A unit text is one token: factors joined by `.` (or `·`), powers `^2` `^-1` `²` `³` up to 9, then any number of
divisors, each one factor after its own `/`. A bearing is an angle unit, one blank, and its north.

Factors are those of the SI Brochure (9th edition, with the degree, minute and second of angle of its table 8) and,
for the inch and pound families, the exact definitions listed in NIST SP 811 appendix B. A month and a year are the
means of the Gregorian calendar (365.2425 d), meant for calibration intervals.

`UTC` is the unit of an instant: seconds since 2000-01-01 00:00:00, written as a date and a time of day. It stands in no
product.

Problem codes: `unknown-unit`, `ambiguous-unit`.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

import attrs

from proclang.text.diagnostic import Problem
from proclang.text.printable import printable
from proclang.text.suggest import did_you_mean
from proclang.values import dimension as dim
from proclang.values.dimension import Dimension

UNIT_CHARACTERS = 40
"""Longest unit text."""

DEGREES_PER_RADIAN = Fraction(57295779513082320876798154814105170332405472466564, 10**48)
"""180/pi to 50 digits: the one factor that is not exact."""

_ZERO = Fraction(0)


@attrs.frozen
class Unit:
    """A unit: base value = number * factor + zero.

    Base units are metre, kilogram, second, degree, kelvin and ampere and their products, bearings in degrees. Where
    mass and angle meet, the radian stands for the degree, so the base unit of torque is exactly `N.m`
    (`Dimension.radians_within`). `symbol` is how the unit is printed and always reads back. `exact` is false where
    180/pi comes in.
    """

    symbol: str
    dimension: Dimension
    factor: Fraction
    zero: Fraction = _ZERO
    exact: bool = True


NONE = Unit("", dim.NUMBER, Fraction(1))
"""The unit of a plain number: no symbol."""

# names (the first is printed), dimension, numerator, denominator of the factor, power of 180/pi in it
_Row = tuple[str, Dimension, int, int, int]
_LBF = 44_482_216_152_605, 10**13
_ROWS: tuple[_Row, ...] = (
    ("m", dim.LENGTH, 1, 1, 0),
    ("km", dim.LENGTH, 1000, 1, 0),
    ("cm", dim.LENGTH, 1, 100, 0),
    ("mm", dim.LENGTH, 1, 1000, 0),
    ("µm μm um", dim.LENGTH, 1, 10**6, 0),
    ("nm", dim.LENGTH, 1, 10**9, 0),
    ("inch in", dim.LENGTH, 254, 10_000, 0),
    ("ft", dim.LENGTH, 3048, 10_000, 0),
    ("yd", dim.LENGTH, 9144, 10_000, 0),
    ("mil thou", dim.LENGTH, 254, 10**7, 0),
    ("kg", dim.MASS, 1, 1, 0),
    ("g", dim.MASS, 1, 1000, 0),
    ("mg", dim.MASS, 1, 10**6, 0),
    ("t", dim.MASS, 1000, 1, 0),
    ("lb", dim.MASS, 45_359_237, 10**8, 0),
    ("oz", dim.MASS, 45_359_237, 16 * 10**8, 0),
    ("s", dim.TIME, 1, 1, 0),
    ("ms", dim.TIME, 1, 1000, 0),
    ("µs μs us", dim.TIME, 1, 10**6, 0),
    ("min", dim.TIME, 60, 1, 0),
    ("h", dim.TIME, 3600, 1, 0),
    ("d", dim.TIME, 86_400, 1, 0),
    ("month", dim.TIME, 2_629_746, 1, 0),
    ("months", dim.TIME, 2_629_746, 1, 0),
    ("year", dim.TIME, 31_556_952, 1, 0),
    ("years", dim.TIME, 31_556_952, 1, 0),
    ("deg °", dim.ANGLE, 1, 1, 0),
    ("turn turns rev", dim.ANGLE, 360, 1, 0),
    ("arcmin", dim.ANGLE, 1, 60, 0),
    ("arcsec", dim.ANGLE, 1, 3600, 0),
    ("mas", dim.ANGLE, 1, 3_600_000, 0),
    ("rad", dim.ANGLE, 1, 1, 1),
    ("mrad", dim.ANGLE, 1, 1000, 1),
    ("K", dim.TEMPERATURE_DIFFERENCE, 1, 1, 0),
    ("A", dim.CURRENT, 1, 1, 0),
    ("mA", dim.CURRENT, 1, 1000, 0),
    ("N", dim.FORCE, 1, 1, 0),
    ("daN", dim.FORCE, 10, 1, 0),
    ("kN", dim.FORCE, 1000, 1, 0),
    ("kgf", dim.FORCE, 980_665, 10**5, 0),
    ("lbf", dim.FORCE, *_LBF, 0),
    ("kip", dim.FORCE, 1000 * _LBF[0], _LBF[1], 0),
    ("Pa", dim.PRESSURE, 1, 1, 0),
    ("hPa", dim.PRESSURE, 100, 1, 0),
    ("kPa", dim.PRESSURE, 1000, 1, 0),
    ("MPa", dim.PRESSURE, 10**6, 1, 0),
    ("mbar", dim.PRESSURE, 100, 1, 0),
    ("bar", dim.PRESSURE, 10**5, 1, 0),
    ("psi", dim.PRESSURE, _LBF[0] * 10_000**2, _LBF[1] * 254**2, 0),
    ("J", dim.ENERGY, 1, 1, 0),
    ("kJ", dim.ENERGY, 1000, 1, 0),
    ("Wh", dim.ENERGY, 3600, 1, 0),
    ("W", dim.POWER, 1, 1, 0),
    ("kW", dim.POWER, 1000, 1, 0),
    ("V", dim.VOLTAGE, 1, 1, 0),
    ("mV", dim.VOLTAGE, 1, 1000, 0),
    ("kV", dim.VOLTAGE, 1000, 1, 0),
    ("ohm Ω \u2126", dim.RESISTANCE, 1, 1, 0),
    ("mohm mΩ m\u2126", dim.RESISTANCE, 1, 1000, 0),
    ("kohm kΩ k\u2126", dim.RESISTANCE, 1000, 1, 0),
    ("Mohm MΩ M\u2126", dim.RESISTANCE, 10**6, 1, 0),
    ("Hz", dim.FREQUENCY, 1, 1, 0),
    ("kHz", dim.FREQUENCY, 1000, 1, 0),
    ("rpm", dim.ANGULAR_SPEED, 6, 1, 0),
    ("µT μT uT", dim.MAGNETIC_FLUX_DENSITY, 1, 10**6, 0),
    ("nT", dim.MAGNETIC_FLUX_DENSITY, 1, 10**9, 0),
    ("L l", dim.VOLUME, 1, 1000, 0),
    ("%", dim.NUMBER, 1, 100, 0),
    ("ppm", dim.NUMBER, 1, 10**6, 0),
    ("pieces piece", dim.NUMBER, 1, 1, 0),
)
_ATOMS: dict[str, _Row] = {name: row for row in _ROWS for name in row[0].split(" ")}
_CELSIUS = ("°C", "degC")
_UTC = dim.UTC.upper()
_INCH_MARKS = ('"', "″")
_BEARINGS = {"true": dim.BEARING_TRUE, "magnetic": dim.BEARING_MAGNETIC, "grid": dim.BEARING_GRID}
_RAISED = {"²": "^2", "³": "^3"}

# What people write that is not a unit here, or that could be two of them.
_SLIPS = {
    "Nm": "a torque is written `N.m`",
    "NM": "a torque is written `N.m`",
    "nM": "a torque is written `N.m`, nanometres `nm`",
    "kNm": "a torque is written `kN.m`",
    "Nmm": "a torque is written `N.mm`",
    "N-m": "a torque is written `N.m`",
    "Ncm": "a torque is written `N.cm`",
    "lbft": "a torque is written `lbf.ft`",
    "ftlb": "a torque is written `lbf.ft`",
    "ft-lb": "a torque is written `lbf.ft`",
    "lb-ft": "a torque is written `lbf.ft`",
    "ft-lbf": "a torque is written `lbf.ft`",
    "lbf-ft": "a torque is written `lbf.ft`",
    "in-lb": "a torque is written `lbf.in`",
    "kgm": "a torque is written `kgf.m`",
    "C": "a temperature is written `°C` or `degC`",
    "F": "a temperature is written in `°C`",
    "°F": "a temperature is written in `°C`",
    "degF": "a temperature is written in `°C`",
    "°K": "a temperature difference is written `K`, a temperature `°C`",
    "degK": "a temperature difference is written `K`, a temperature `°C`",
    "'": "write `ft` for feet, `arcmin` for minutes of angle",
    "′": "write `ft` for feet, `arcmin` for minutes of angle",
    "''": "write `inch` for inches, `arcsec` for seconds of angle",
    "º": "that is the ordinal sign: write `deg` or the degree sign `°`",
    "˚": "that is a ring accent: write `deg` or the degree sign `°`",
    "ºC": "that is the ordinal sign: write `degC` or `°C`",
    "˚C": "that is a ring accent: write `degC` or `°C`",
    "degree": "write `deg`",
    "degrees": "write `deg`",
    "minute": "write `min` for time, `arcmin` for an angle",
    "minutes": "write `min` for time, `arcmin` for an angle",
    "mins": "write `min` for time, `arcmin` for an angle",
    "sec": "write `s` for time, `arcsec` for an angle",
    "second": "write `s` for time, `arcsec` for an angle",
    "seconds": "write `s` for time, `arcsec` for an angle",
    "hour": "write `h`",
    "hours": "write `h`",
    "hr": "write `h`",
    "hrs": "write `h`",
    "day": "write `d`",
    "days": "write `d`",
    "inches": "write `inch`",
    "feet": "write `ft`",
    "foot": "write `ft`",
    "lbs": "write `lb` for a mass, `lbf` for a force",
    "pounds": "write `lb` for a mass, `lbf` for a force",
    "micron": "write `um`",
    "microns": "write `um`",
    "percent": "write `%`",
    "pct": "write `%`",
    "RPM": "write `rpm`",
    "sqm": "write `m^2`",
    "rads": "write `rad`",
    "utc": "write `UTC`",
    "Z": "the unit of an instant is written `UTC`",
    "GMT": "the unit of an instant is written `UTC`",
    "UT": "the unit of an instant is written `UTC`",
    "UT1": "an instant is written in `UTC`",
    "TAI": "an instant is written in `UTC`",
}


@lru_cache(maxsize=1024)
def find_unit(text: str) -> Unit | Problem:
    """The unit a text names, or the problem `unknown-unit` with what was perhaps meant. `""` is not a unit."""
    row = _ATOMS.get(text)
    if row is not None:
        return _atom(row)
    if text in _CELSIUS:
        return Unit("°C", dim.TEMPERATURE, Fraction(1), Fraction(27315, 100))
    if text == _UTC:
        return Unit(_UTC, dim.INSTANT, Fraction(1))
    if text in _INCH_MARKS:
        return _atom(_ATOMS["inch"])
    if not text:
        return Problem("unknown-unit", "the unit is missing")
    if len(text) > UNIT_CHARACTERS:
        return Problem(
            "unknown-unit", f"no unit is longer than {UNIT_CHARACTERS} characters", start=UNIT_CHARACTERS, end=len(text)
        )
    angle, blank, north = text.rpartition(" ")
    if blank:
        return _bearing(text, angle, north)
    return _product(text)


def bearing_unit(unit: Unit, north: Dimension) -> Unit:
    """An angle unit as a unit of bearings of the dimension `north`."""
    return Unit(f"{unit.symbol} {north.frame}", north, unit.factor, unit.zero, unit.exact)


def known_symbols() -> tuple[str, ...]:
    """Every unit word of the table that may be written, bearings included; products are not listed."""
    angles = [names[0] for names in (row[0].split(" ") for row in _ROWS if row[1] == dim.ANGLE)]
    return (*_ATOMS, *_CELSIUS, _UTC, *(f"{angle} {north}" for north in dim.NORTHS for angle in angles))


def reply_only(text: str) -> bool:
    """Whether a unit text may stand in a reply but not in source: `in`, a keyword there, and the marks `'` and `"`."""
    return text in _INCH_MARKS or text in ("'", "′") or text == "in" or text.startswith(("in/", "in^", "in.", "in·"))


def _atom(row: _Row) -> Unit:
    names, dimension, top, bottom, turns = row
    factor = Fraction(top, bottom)
    return Unit(
        names.partition(" ")[0], dimension, factor * DEGREES_PER_RADIAN**turns if turns else factor, exact=not turns
    )


def _bearing(text: str, angle: str, north: str) -> Unit | Problem:
    row = _ATOMS.get(angle)
    if north not in _BEARINGS or row is None or row[1] != dim.ANGLE:
        return _unknown(text)
    return bearing_unit(_atom(row), _BEARINGS[north])


def _product(text: str) -> Unit | Problem:
    above, *below = text.replace("·", ".").replace("⋅", ".").split("/")
    parts = [(part, 1) for part in above.split(".")]
    for part in below:
        if "." in part:
            first = text.index("/")
            return Problem(
                "ambiguous-unit",
                f"`{printable(text)}` can be read in two ways",
                hint="write one `/` before each divisor, as in `J/kg/K`",
                start=first,
                end=len(text),
            )
        parts.append((part, -1))
    powers = [0] * len(dim.NUMBER.powers)
    factor = Fraction(1)
    turns = 0
    symbol = ""
    forces = lengths = 0
    for part, sign in parts:
        got = _factor(part)
        if got is None:
            return _unknown(text)
        row, n = got
        names, dimension, top, bottom, row_turns = row
        symbol += (
            ("" if not symbol else "." if sign > 0 else "/") + names.partition(" ")[0] + (f"^{n}" if n != 1 else "")
        )
        n *= sign
        forces += dimension == dim.FORCE and n == 1
        lengths += dimension == dim.LENGTH and n == 1
        factor *= Fraction(top, bottom) ** n
        turns += row_turns * n
        for at, base in enumerate(dimension.powers):
            powers[at] += base * n
    if forces == 1 and lengths == 1:
        # A force times a lever, written as a unit, is a torque: a joule per radian. Energy has units of its own.
        powers[dim.ANGLE.powers.index(1)] -= 1
        turns -= 1
    whole = Dimension(tuple(powers))
    turns -= whole.radians_within
    return Unit(symbol, whole, factor * DEGREES_PER_RADIAN**turns if turns else factor, exact=not turns)


def _factor(part: str) -> tuple[_Row, int] | None:
    """A table row and its power from `m`, `m^-2` or `m³`."""
    for raised, plain in _RAISED.items():
        if part.endswith(raised):
            part = part[:-1] + plain
    name, caret, exponent = part.partition("^")
    row = _ATOMS.get(name)
    if row is None:
        return None
    if not caret:
        return row, 1
    size = exponent.removeprefix("-").removeprefix("−")
    if len(size) != 1 or size not in "123456789" or len(exponent) > 2:
        return None
    return row, int(size) if exponent == size else -int(size)


def _unknown(text: str) -> Problem:
    hint = _SLIPS.get(text, "")
    if not hint and _UTC in text.replace("/", ".").split("."):
        hint = "an instant stands in no product: write `s`"
    if not hint and any(name in text for name in _CELSIUS):
        hint = "inside a product a temperature difference is meant: write `K`"
    if not hint and any(mark in text for mark in "º˚"):
        hint = "that is not the degree sign: write `deg` or `°`"
    return Problem(
        "unknown-unit",
        f"unknown unit `{printable(text)}`",
        hint=hint or did_you_mean(text, known_symbols()),
        start=0,
        end=len(text),
    )
