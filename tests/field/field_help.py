"""Calls a built-in with values written as text ("12 mm"), so that a test reads like the table it is checked against."""

from __future__ import annotations

from fractions import Fraction

from proclang.field.declare import Series
from proclang.field.door import call
from proclang.field.registry import find
from proclang.text.diagnostic import Problem
from proclang.values.dimension import NUMBER, Dimension
from proclang.values.unit import Unit, find_unit

Argument = str | Fraction | int | list | dict


def unit(symbol: str) -> Unit:
    found = find_unit(symbol)
    assert isinstance(found, Unit), found
    return found


def base(text: str) -> tuple[Fraction, Dimension]:
    """ "12 mm" as base value and dimension; a number alone is a plain number."""
    number, _, symbol = text.partition(" ")
    if not symbol:
        return Fraction(number), NUMBER
    found = unit(symbol)
    return Fraction(number) * found.factor + found.zero, found.dimension


def series(items: dict[str, str] | list[str]) -> tuple[Series, Dimension]:
    pairs = items.items() if isinstance(items, dict) else ((str(k), text) for k, text in enumerate(items, 1))
    read = [(label, *base(text)) for label, text in pairs]
    return Series(tuple((label, value) for label, value, _ in read)), read[0][2]


def run(name: str, **arguments: Argument) -> tuple[Fraction | Series, ...] | Problem:
    """All results in base units, or the problem."""
    calc = find(name)
    assert calc is not None, name
    values, dims = {}, {}
    for key, given in arguments.items():
        parameter = calc.parameter(key)
        if parameter is not None and parameter.choices:
            values[key], dims[key] = str(given), NUMBER
            continue
        read = series(given) if isinstance(given, list | dict) else base(str(given))
        values[key], dims[key] = read
    return call(calc, values, dims)


def number(name: str, in_unit: str, **arguments: Argument) -> float:
    """The only result, as a float in a unit."""
    results = run(name, **arguments)
    assert not isinstance(results, Problem), results
    assert len(results) == 1
    assert isinstance(results[0], Fraction)
    return inside(results[0], in_unit)


def several(name: str, *units: str, **arguments: Argument) -> list[float]:
    """All results as floats, each in its unit."""
    results = run(name, **arguments)
    assert not isinstance(results, Problem), results
    return [inside(result, symbol) for result, symbol in zip(results, units, strict=True)]


def inside(value: Fraction | Series, symbol: str) -> float:
    assert isinstance(value, Fraction)
    found = unit(symbol) if symbol else None
    return float(value if found is None else (value - found.zero) / found.factor)


def refusal(name: str, **arguments: Argument) -> Problem:
    outcome = run(name, **arguments)
    assert isinstance(outcome, Problem), outcome
    return outcome
