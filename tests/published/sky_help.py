"""Calls a built-in of the sky through the door with degrees, instants and words, and gives floats back: degrees for
angles and bearings, seconds since 2000 for instants, base units for the rest."""

from __future__ import annotations

import datetime
from fractions import Fraction

from proclang.field.door import call as door_call
from proclang.field.registry import find
from proclang.text.diagnostic import Problem
from proclang.values.dimension import INSTANT, NUMBER, Dimension
from proclang.values.unit import Unit, find_unit

EPOCH = datetime.datetime(2000, 1, 1)
Given = str | float | datetime.datetime


def seconds(text: str) -> float:
    """An instant written as in ISO 8601, in UTC."""
    return (datetime.datetime.fromisoformat(text) - EPOCH).total_seconds()


def outcome(name: str, **given: Given) -> tuple[Fraction, ...] | Problem:
    """What the door says. An instant is a datetime or a float of seconds since 2000; "7 deg" a quantity; a word is a
    word."""
    calc = find(name)
    assert calc is not None, name
    values: dict[str, Fraction | str] = {}
    dims: dict[str, Dimension] = {}
    for key, value in given.items():
        parameter = calc.parameter(key)
        assert parameter is not None, key
        if parameter.choices:
            values[key], dims[key] = str(value), NUMBER
        elif parameter.takes == INSTANT:
            moment = (value - EPOCH).total_seconds() if isinstance(value, datetime.datetime) else float(value)
            values[key], dims[key] = Fraction(moment), INSTANT
        else:
            number, _, symbol = str(value).partition(" ")
            unit = find_unit(symbol)
            assert isinstance(unit, Unit), value
            values[key], dims[key] = Fraction(number) * unit.factor + unit.zero, unit.dimension
    found = door_call(calc, values, dims)
    if isinstance(found, Problem):
        return found
    assert all(isinstance(value, Fraction) for value in found)
    return found  # type: ignore[return-value]


def call(name: str, **given: Given) -> list[float]:
    """All results as floats."""
    found = outcome(name, **given)
    assert not isinstance(found, Problem), found
    return [float(value) for value in found]


def refused(name: str, **given: Given) -> str:
    """The message of a refusal."""
    found = outcome(name, **given)
    assert isinstance(found, Problem), found
    return found.message
