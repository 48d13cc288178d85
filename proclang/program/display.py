"""The unit a value is shown in where the procedure does not say."""

from __future__ import annotations

from proclang.text.diagnostic import Problem
from proclang.values import dimension as dim
from proclang.values.dimension import Dimension
from proclang.values.unit import NONE, Unit, find_unit

_DISPLAY = {
    dim.LENGTH: "mm",
    dim.MASS: "kg",
    dim.TIME: "s",
    dim.ANGLE: "deg",
    dim.TEMPERATURE: "°C",
    dim.TEMPERATURE_DIFFERENCE: "K",
    dim.CURRENT: "A",
    dim.AREA: "mm^2",
    dim.VOLUME: "m^3",
    dim.SPEED: "m/s",
    dim.ACCELERATION: "m/s^2",
    dim.ANGULAR_SPEED: "deg/s",
    dim.ANGULAR_ACCELERATION: "deg/s^2",
    dim.LENGTH_PER_ANGLE: "mm/turn",
    dim.FORCE: "N",
    dim.TORQUE: "N.m",
    dim.ENERGY: "J",
    dim.POWER: "W",
    dim.PRESSURE: "Pa",
    dim.VOLTAGE: "V",
    dim.RESISTANCE: "ohm",
    dim.FREQUENCY: "Hz",
    dim.BEARING_TRUE: "deg true",
    dim.BEARING_MAGNETIC: "deg magnetic",
    dim.BEARING_GRID: "deg grid",
    dim.INSTANT: "UTC",
}
_BASE_SYMBOLS = ("m", "kg", "s", "deg", "K", "A")


def display_unit(dimension: Dimension, suggested: Unit | None = None) -> Unit:
    """The suggested unit where it fits (that of the parts of an expression), else the customary one."""
    if suggested is not None and suggested.dimension == dimension:
        return suggested
    symbol = _DISPLAY.get(dimension)
    if symbol is None:
        if dimension.is_number:
            return NONE
        symbol = ".".join(
            s if p == 1 else f"{s}^{p}" for s, p in zip(_BASE_SYMBOLS, dimension.powers, strict=True) if p
        )
        if dimension.radians_within:
            symbol = symbol.replace("deg", "rad")
    unit = find_unit(symbol)
    assert not isinstance(unit, Problem), f"no unit for {dimension}"
    return unit
