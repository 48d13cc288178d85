"""The examples of the declarations as procedures: every number is measured, and the call is computed from the names.

In an example, `[12 mm, 9 mm]` and `[direct = 6 arcmin, reversed = 2 arcmin]` stand for a measured series.
"""

from __future__ import annotations

import re
from fractions import Fraction

import attrs
from helpers import Run, answer_opening, program_of, start

from proclang.field.declare import Calculation, Parameter
from proclang.text.diagnostic import Problem
from proclang.values.quantity import Quantity
from proclang.values.reader import Entered, read_quantity
from proclang.values.unit import Unit

_OPEN, _CLOSE = "([", ")]"


@attrs.frozen
class Given:
    """One argument of an example: a word, a whole number as it is written, or quantities by label (one: label "")."""

    parameter: Parameter
    named: bool
    word: str
    quantities: dict[str, Entered]


def apart(text: str) -> list[str]:
    """A list between commas, those inside brackets left alone."""
    parts, depth, begin = [], 0, 0
    for at, sign in enumerate(text):
        depth += (sign in _OPEN) - (sign in _CLOSE)
        if sign == "," and not depth:
            parts.append(text[begin:at].strip())
            begin = at + 1
    return [*parts, text[begin:].strip()]


def entered(text: str) -> Entered:
    read = read_quantity(text)
    assert not isinstance(read, Problem), (text, read)
    return read


def given_in(calc: Calculation, call: str) -> list[Given]:
    """The arguments of an example, each with its parameter."""
    name, _, inside = call.partition("(")
    assert name == calc.name
    assert inside.endswith(")")
    found = []
    for place, text in enumerate(apart(inside[:-1])):
        keyword = re.fullmatch(r"([a-z_][a-z_0-9]*) = (.*)", text)
        parameter = calc.parameter(keyword[1]) if keyword else calc.parameters[place]
        assert parameter is not None, (calc.name, text)
        value = keyword[2] if keyword else text
        if parameter.choices or parameter.whole:
            found.append(Given(parameter, keyword is not None, value, {}))
        elif value.startswith("["):
            pairs = [part.rpartition(" = ") for part in apart(value[1:-1])]
            quantities = {label or str(at): entered(number) for at, (label, _, number) in enumerate(pairs, 1)}
            found.append(Given(parameter, keyword is not None, "", quantities))
        else:
            found.append(Given(parameter, keyword is not None, "", {"": entered(value)}))
    return found


def procedure_of(calc: Calculation, call: str, known: dict[str, str] | None = None) -> str:
    """A procedure that measures what the example gives, and computes it. `known` says, for each parameter, how far off
    its readings may be."""
    reads, arguments = [], []
    for given in given_in(calc, call):
        name = f"given_{given.parameter.name}"
        word = given.word
        if given.quantities:
            word = name
            labels = [label for label in given.quantities if label]
            unit = next(iter(given.quantities.values())).unit
            bracket = f"[{', '.join(labels)}]" if labels else ""
            reads.append(f"    measure {name}{bracket} in {unit.symbol or 'pieces'}")
            if known is not None and given.parameter.name in known:
                reads.append(f"      known to {known[given.parameter.name]} at k 1")
        arguments.append(f"{given.parameter.name} = {word}" if given.named else word)
    results = ", ".join(f"result_{result.name}" for result in calc.results)
    return "\n".join(
        [
            "proclang 1",
            'procedure example "Example of a calculation"',
            "needs",
            "  crew lead",
            'section only "Only"',
            *(['  step read "Read."', *reads] if reads else []),
            f"  compute {results} = {calc.name}({', '.join(arguments)})",
            '  hold looked "Looked at" by lead',
            "",
        ]
    )


def run_example(calc: Calculation, call: str, values: dict[tuple[str, str], Quantity] | None = None) -> Run:
    """A run of that procedure that has computed. `values` takes the place of what the example says, by parameter and
    label."""
    return run_text(procedure_of(calc, call), calc, call, values)


def run_text(text: str, calc: Calculation, call: str, values: dict[tuple[str, str], Quantity] | None = None) -> Run:
    """A run of such a procedure."""
    from proclang.values.show import exact_text

    run = answer_opening(start(program_of({"example": text}, "example")))
    for given in given_in(calc, call):
        for label, quantity in given.quantities.items():
            value = (values or {}).get((given.parameter.name, label), quantity.quantity)
            run.say(exact_text(value, quantity.unit))
    return run


def agrees(value: Quantity, told: str) -> bool:
    """Whether a value is what an example tells, to the digits the example writes."""
    wanted = read_quantity(told)
    assert not isinstance(wanted, Problem), told
    step = _last_digit(told, wanted.unit)
    if value.dimension != wanted.quantity.dimension:
        return False
    apart_by = value.value - wanted.quantity.value
    if value.dimension.is_bearing:
        apart_by = (apart_by + 180) % 360 - 180
    return abs(apart_by) <= step / 2 + abs(step) / 10**6


def _last_digit(told: str, unit: Unit) -> Fraction:
    if re.match(r"[0-9]{4}-", told):
        decimals = re.search(r":[0-9]{2}\.([0-9]+)", told)
        return Fraction(1, 10 ** len(decimals[1])) if decimals else Fraction(1)
    number = told.split(" ")[0]
    mantissa, _, exponent = number.partition("e")
    decimals_written = len(mantissa.partition(".")[2])
    return Fraction(1, 10**decimals_written) * Fraction(10) ** int(exponent or 0) * unit.factor
