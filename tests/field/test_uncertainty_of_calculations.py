"""Uncertainty carried through every built-in, against draws of its readings (JCGM 101:2008).

The draws go through the work of the calculation itself and through nothing else of this program: they know no partial
derivative, no key of a source, no formula. Where the first order says it is near enough, the two standard deviations
agree within 1 %; where it is not, the value is one whose verdict is drawn.

    PROCLANG_DRAWS=200000 python -m pytest tests/field/test_uncertainty_of_calculations.py

takes 200,000 draws for each, which is minutes; without it 60,000, whose standard deviation is known to 0.3 %.
"""

from __future__ import annotations

import itertools
import math
import os
import random
from fractions import Fraction
from typing import Any

import attrs
import pytest
from example_calls import Given, given_in, procedure_of, run_text

from proclang.field.declare import Calculation, CannotCompute, Parameter, Series
from proclang.field.door import to_si
from proclang.field.registry import all_calculations
from proclang.program.budget import Budget
from proclang.values.number import NumberError
from proclang.values.quantity import Quantity
from proclang.values.show import exact_text

DRAWS = int(os.environ.get("PROCLANG_DRAWS", "60000"))
POINTS = 1
_SHARE = Fraction(1, 500)
"""How far off each reading is, as a share of itself: a good instrument, and a formula over more than a hair."""

EVERY = [c for c in all_calculations() if c.examples and any(g.quantities for g in given_in(c, c.examples[0].call))]


def off_by(given: Given) -> Fraction:
    """The standard uncertainty of a reading in base units: a share of the largest of them."""
    largest = max(abs(x.quantity.value) for x in given.quantities.values())
    dimension = next(iter(given.quantities.values())).quantity.dimension
    if dimension.frame == "utc":
        return Fraction(2)  # seconds: a watch
    if dimension.frame == "scale":
        return Fraction(1, 5)  # kelvin: a thermometer
    if dimension.is_bearing:
        return Fraction(1, 10)  # degrees: a compass on a tripod
    return largest * _SHARE or Fraction(1, 1000)


def known_text(given: Given) -> str:
    entered = next(iter(given.quantities.values()))
    dimension = attrs.evolve(entered.quantity.dimension, frame="")
    if entered.quantity.dimension.frame == "utc":
        return "2 s"
    if entered.quantity.dimension.frame == "scale":
        return "0.2 K"
    if entered.quantity.dimension.is_bearing:
        return "0.1 deg"
    return exact_text(Quantity(off_by(given), dimension), entered.unit)


def random_values(calc: Calculation, call: str, rng: random.Random) -> dict[tuple[str, str], Quantity]:
    """The readings of an example, each moved by up to three of its uncertainties, in short decimals."""
    values = {}
    for given in given_in(calc, call):
        size = off_by(given) if given.quantities else Fraction(0)
        for label, entered in given.quantities.items():
            moved = entered.quantity.value + Fraction(rng.randint(-3000, 3000), 1000) * size
            values[given.parameter.name, label] = attrs.evolve(entered.quantity, value=moved)
    return values


def drawn_deviations(
    calc: Calculation, givens: list[Given], values: dict[tuple[str, str], Quantity], draws: int
) -> list[list[float]]:
    """For each result (each label of a series) what the work gives for drawn readings, in its own units."""
    rng = random.Random(20)
    sizes: list[float] = []
    centres: list[float] = []
    shape: list[tuple[Parameter, tuple[str, ...], str]] = []
    by_name = {given.parameter.name: given for given in givens}
    for parameter in calc.parameters:
        given = by_name.get(parameter.name)
        if given is None or not given.quantities:
            shape.append((parameter, (), given.word if given is not None else ""))
            continue
        shape.append((parameter, tuple(given.quantities), ""))
        for label, entered in given.quantities.items():
            factor = 1.0 if calc.exact else to_si(entered.quantity.dimension)
            centres.append(float(values[parameter.name, label].value) * factor)
            sizes.append(float(off_by(given)) * factor)
    results: list[list[float]] = []
    gauss, work = rng.gauss, calc.work
    for _ in range(draws):
        pool = iter([gauss(centre, size) for centre, size in zip(centres, sizes, strict=True)])
        arguments = [_argument(calc, parameter, labels, word, pool) for parameter, labels, word in shape]
        try:
            outcome = work(*arguments)
        except (CannotCompute, NumberError, ZeroDivisionError, ValueError):
            continue
        outcomes = outcome if len(calc.results) > 1 else (outcome,)
        flat = [float(x) for each in outcomes for x in (each if isinstance(each, (tuple, list)) else (each,))]
        if not results:
            results = [[] for _ in flat]
        for column, x in zip(results, flat, strict=True):
            column.append(x)
    return results


def _argument(calc: Calculation, parameter: Parameter, labels: tuple[str, ...], word: str, pool: Any) -> Any:
    if parameter.choices:
        return word or parameter.default
    if parameter.whole:
        return int(word) if word else int(parameter.default.value)
    if not labels:
        default = parameter.default
        if not isinstance(default, Quantity):
            return None
        return default.value if calc.exact else float(default.value) * to_si(default.dimension)
    if not parameter.series:
        return next(pool)
    numbers = list(itertools.islice(pool, len(labels)))
    if calc.exact:
        return Series(tuple(zip(labels, numbers, strict=True)))
    return tuple(numbers)


def spread_of(values: list[float], turn: float) -> float:
    """The standard deviation; of what goes round, about the first."""
    if turn:
        values = [math.remainder(x - values[0], turn) for x in values]
    mean = math.fsum(values) / len(values)
    return math.sqrt(math.fsum((x - mean) ** 2 for x in values) / (len(values) - 1))


@pytest.mark.parametrize("calc", EVERY, ids=lambda calc: calc.name)
def test_first_order_agrees_with_draws_or_the_verdict_is_drawn(calc: Calculation) -> None:
    """At random readings around its example; each result by itself."""
    rng = random.Random(calc.name)
    call = calc.examples[0].call
    givens = given_in(calc, call)
    known = {given.parameter.name: known_text(given) for given in givens if given.quantities}
    text = procedure_of(calc, call, known)
    straight = 0
    for _ in range(POINTS):
        values = random_values(calc, call, rng)
        try:
            run = run_text(text, calc, call, values)
        except AssertionError:
            continue  # the place the dice chose lies outside what the calculation takes
        if not run.events("computed"):
            continue
        columns = drawn_deviations(calc, givens, values, DRAWS // POINTS)
        budget = Budget(run.program, {}, {}, draws=200)
        at = 0
        for result, event in zip(calc.results, run.events("computed"), strict=True):
            for label in event["values"]:
                origin = run.state.top.origins[event["name"]][label]
                value = Quantity(run_value(run, event["name"], label), run_dimension(run, event["name"]))
                doubt = budget.doubt(origin, value.value)
                factor = 1.0 if calc.exact else to_si(value.dimension)
                own = _own(doubt)
                turn = (360.0 if calc.exact else 2 * math.pi) if value.dimension.is_bearing else 0.0
                drawn = spread_of(columns[at], turn) / factor
                at += 1
                if doubt.draws:
                    continue
                straight += 1
                first = math.sqrt(max(0.0, doubt.standard**2 - own**2))
                assert first == pytest.approx(drawn, rel=0.01, abs=1e-9 * abs(float(value.value)) + 1e-15), result.name
        assert at == len(columns)


def _own(doubt: Any) -> float:
    """What the model of the calculation itself adds: the draws of the readings know nothing of it."""
    return math.hypot(*(c for source, c in doubt.form.terms if source.key.startswith("model ")))


def run_value(run: Any, name: str, label: str) -> Fraction:
    from proclang.engine.working import stored

    return stored(run.state.top.values[name][label]).value


def run_dimension(run: Any, name: str) -> Any:
    return run.program.main.symbols[name].type.dimension
