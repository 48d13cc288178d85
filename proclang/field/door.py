"""The one door through which a calculation is called.

Values at the door are exact: fractions in the base units of `values.dimension` (angles in degrees). Work declared
`exact` gets and returns fractions. Other work gets floats in SI with angles in radians and returns floats; each
result is rounded to 12 significant digits, and that decimal is the value.

Codes of the problems returned: `bad-argument` (which argument, one value or a series, which labels, which word),
`wrong-dimension`, `cannot-compute` (the values themselves: outside the validity, dividing by zero, too large).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from typing import Any, cast

import attrs

from proclang.field.declare import Calculation, CannotCompute, Parameter, Result, Root, Series, Value, signature
from proclang.text.diagnostic import Problem
from proclang.text.limits import LABELS_IN_A_SET
from proclang.text.suggest import did_you_mean
from proclang.values.dimension import LENGTH, LENGTH_PER_ANGLE, Dimension, mismatch_hint, root
from proclang.values.number import NumberError, bounded, from_float
from proclang.values.quantity import Quantity
from proclang.values.reader import read_quantity

_ANGLE_AT = 3
_RADIANS_PER_DEGREE = math.pi / 180
_FULL_TURN = Fraction(360)


class _Refused(Exception):
    """Carries a problem from a reader of arguments to the door."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.message)
        self.problem = problem


def bind(calc: Calculation, positional_count: int, names: Sequence[str]) -> tuple[str, ...] | Problem:
    """The parameter each argument fills: the positional ones in order, then the named ones.

    An unknown, missing or repeated argument is a `bad-argument` problem.
    """
    known = tuple(p.name for p in calc.parameters)
    usage = f"write it as {signature(calc)}"
    if positional_count > len(known):
        most = "1 argument" if len(known) == 1 else f"{len(known)} arguments"
        return Problem("bad-argument", f"`{calc.name}` takes at most {most}, here are {positional_count}", usage)
    filled = list(known[:positional_count])
    for name in names:
        if name not in known:
            hint = did_you_mean(name, known) or usage
            return Problem("bad-argument", f"`{calc.name}` has no argument `{name}`", hint)
        if name in filled:
            return Problem("bad-argument", f"`{calc.name}` is given `{name}` twice", usage)
        filled.append(name)
    for place in range(positional_count):
        if calc.parameters[place].named:
            name = known[place]
            return Problem(
                "bad-argument", f"`{name}` of `{calc.name}` is written with its name", f"write `{name} = ...`"
            )
    missing = [f"`{p.name}`" for p in calc.parameters if p.default is None and not p.optional and p.name not in filled]
    if missing:
        return Problem("bad-argument", f"`{calc.name}` also needs {' and '.join(missing)}", usage)
    for group in calc.one_of:
        given = [name for name in group if name in filled]
        if len(given) != 1:
            ways = " or ".join(f"`{name}`" for name in group)
            got = "none of them is" if not given else f"{' and '.join(f'`{name}`' for name in given)} are"
            return Problem("bad-argument", f"`{calc.name}` takes exactly one of {ways}; {got} given", usage)
    return tuple(filled)


def result_dimensions(calc: Calculation, dims: Mapping[str, Dimension]) -> tuple[Dimension, ...] | Problem:
    """Dimensions of the results, given that of each argument by parameter name; parameters left out take their
    default. What a word is chosen for counts as a plain number and is not looked at."""
    bound: dict[str, tuple[str, Dimension]] = {}
    for parameter in calc.parameters:
        got = dims.get(parameter.name)
        if got is None or parameter.choices:
            continue
        problem = _fits(calc, parameter, got, bound)
        if problem is not None:
            return problem
    outcome: list[Dimension] = []
    for result in calc.results:
        gives = result.gives
        if isinstance(gives, Dimension):
            outcome.append(gives)
            continue
        if gives.variable not in bound:
            return Problem("bad-argument", f"`{calc.name}` is missing an argument", f"write it as {signature(calc)}")
        dimension: Dimension | Problem = bound[gives.variable][1]
        if isinstance(gives, Root):
            dimension = root(bound[gives.variable][1], gives.degree)
        if isinstance(dimension, Problem):
            return attrs.evolve(dimension, code="wrong-dimension")
        outcome.append(dimension)
    return tuple(outcome)


def _fits(
    calc: Calculation, parameter: Parameter, got: Dimension, bound: dict[str, tuple[str, Dimension]]
) -> Problem | None:
    takes = parameter.takes
    if isinstance(takes, Dimension):
        if got == takes:
            return None
        return _mismatch(calc, parameter, takes.phrase, got, takes)
    if takes.bearing and not got.is_bearing:
        return _mismatch(calc, parameter, "a bearing from true, magnetic or grid north", got)
    if not (takes.frames or takes.bearing or got.is_plain):
        return _mismatch(calc, parameter, "an amount such as a length or an angle", got)
    first = bound.setdefault(takes.variable, (parameter.name, got))
    if first[1] != got:
        return _mismatch(calc, parameter, f"the same as `{first[0]}`, {first[1].phrase}", got, first[1])
    return None


def _mismatch(
    calc: Calculation, parameter: Parameter, wanted: str, got: Dimension, takes: Dimension | None = None
) -> Problem:
    hint = ""
    if got.is_bearing and takes is not None and takes.is_bearing:
        hint = "a declination or a convergence bridges two norths: see `to_true`, `to_magnetic`, `grid_to_true`"
    elif got.is_bearing:
        hint = "the angle between two bearings is `difference(a, b)`"
    elif got.frame == "scale":
        hint = "subtract another temperature to get a difference"
    elif got.is_instant:
        hint = "subtract another instant to get the time between"
    elif takes == LENGTH_PER_ANGLE and got == LENGTH:
        hint = "a pitch is a length per turn: write `2.5 mm/turn`"
    elif takes is not None:
        hint = mismatch_hint(takes, got)
    message = f"`{parameter.name}` of `{calc.name}` takes {wanted}, not {got.phrase}"
    return Problem("wrong-dimension", message, hint)


def call(
    calc: Calculation, arguments: Mapping[str, Value], dims: Mapping[str, Dimension]
) -> tuple[Value, ...] | Problem:
    """The results for arguments in base units, each with its dimension; parameters left out take their default."""
    bound = bind(calc, 0, tuple(arguments))
    if isinstance(bound, Problem):
        return bound
    if set(dims) != set(arguments):
        return Problem("bad-argument", f"each argument of `{calc.name}` needs its dimension")
    ordered = (arguments[p.name] for p in calc.parameters if p.name in arguments)
    return prepare(calc, dims)(*ordered)


Prepared = Callable[..., tuple[Value, ...] | Problem]


def prepare(calc: Calculation, dims: Mapping[str, Dimension]) -> Prepared:
    """The calculation with its conversions folded ahead, for being called often.

    What is returned takes one value for each parameter named in `dims`, in parameter order; the others are filled
    with their default. With dimensions that do not fit, it returns that problem whatever it is given.
    """
    bound = bind(calc, 0, tuple(dims))
    gives = bound if isinstance(bound, Problem) else result_dimensions(calc, dims)
    if isinstance(gives, Problem):
        refusal = gives
        return lambda *_: refusal
    readers: list[Callable[[Value], Any]] = []
    places: list[int] = []
    template: list[Any] = []
    labelled: list[tuple[str, int]] = []
    for place, parameter in enumerate(calc.parameters):
        if parameter.name in dims:
            readers.append(_reader(calc, parameter, dims[parameter.name]))
            if parameter.series:
                labelled.append((parameter.name, len(places)))
            places.append(place)
            template.append(None)
        elif parameter.default is None:
            template.append(None)
        elif isinstance(parameter.default, str):
            template.append(parameter.default)
        else:
            template.append(_reader(calc, parameter, parameter.default.dimension)(parameter.default.value))
    writers = tuple(_writer(calc, result, gives[i]) for i, result in enumerate(calc.results))
    filling = tuple(zip(places, readers, strict=True))
    work, single, expected = calc.work, len(writers) == 1, len(filling)

    def run(*given: Value) -> tuple[Value, ...] | Problem:
        if len(given) != expected:
            return Problem("bad-argument", f"`{calc.name}` is given {len(given)} arguments instead of {expected}")
        arguments = template.copy()
        try:
            if labelled:
                given = _in_one_order(calc, given, labelled)
            for (place, read), value in zip(filling, given, strict=True):
                arguments[place] = read(value)
            outcome = work(*arguments)
            if isinstance(outcome, Problem):
                return outcome
            if single:
                return (writers[0](outcome, given, arguments),)
            return tuple(write(x, given, arguments) for write, x in zip(writers, outcome, strict=True))
        except _Refused as refused:
            return refused.problem
        except NumberError as reason:
            return _cannot(calc, reason.problem.message)
        except CannotCompute as reason:
            return _cannot(calc, str(reason))
        except ZeroDivisionError:
            return _cannot(calc, "it would divide by zero")
        except OverflowError:
            return _cannot(calc, "a value is too large")
        except ValueError:
            return _cannot(calc, "a value is outside what the formula can take")

    return run


def prepare_own(calc: Calculation, dims: Mapping[str, Dimension]) -> Callable[..., tuple[float, ...]] | None:
    """The standard uncertainty of the calculation's own model, one for each result in base units, as a function of
    what `prepare` takes; None where it has none. To be called only with what the calculation itself took."""
    gives = result_dimensions(calc, dims)
    own = calc.own_uncertainty
    if own is None or isinstance(gives, Problem):
        return None
    readers = [(_reader(calc, p, dims[p.name]) if p.name in dims else None, p) for p in calc.parameters]
    factors = tuple(1 / to_si(dimension) for dimension in gives)

    def sizes(*given: Value) -> tuple[float, ...]:
        left = iter(given)
        arguments: list[Any] = []
        for read, parameter in readers:
            default = parameter.default
            if read is not None:
                arguments.append(read(next(left)))
            elif isinstance(default, Quantity):
                arguments.append(_reader(calc, parameter, default.dimension)(default.value))
            else:
                arguments.append(default)
        return tuple(size * factor for size, factor in zip(own(*arguments), factors, strict=True))

    return sizes


def _cannot(calc: Calculation, reason: str) -> Problem:
    hint = f"valid for {calc.validity}; source: {calc.source}" if calc.validity else ""
    return Problem("cannot-compute", f"`{calc.name}` cannot be computed: {reason}", hint)


def _in_one_order(calc: Calculation, given: tuple[Value, ...], labelled: list[tuple[str, int]]) -> tuple[Value, ...]:
    """Checks that every series argument is one, and puts them all in the label order of the first."""
    for name, place in labelled:
        if not isinstance(given[place], Series):
            message = f"`{name}` of `{calc.name}` takes a series of readings, not one value"
            raise _Refused(Problem("bad-argument", message, "give the name of the measured series without a label"))
    first_name, first_place = labelled[0]
    order = cast(Series, given[first_place]).labels
    ordered = list(given)
    for name, place in labelled[1:]:
        items = dict(cast(Series, given[place]).items)
        if len(items) != len(order) or any(label not in items for label in order):
            message = f"`{name}` of `{calc.name}` has other labels than `{first_name}`"
            raise _Refused(Problem("bad-argument", message, "read the series over one set of labels"))
        ordered[place] = Series(tuple((label, items[label]) for label in order))
    return tuple(ordered)


def to_si(dimension: Dimension) -> float:
    """What a base value is multiplied by to have its angles in radians, which it has already where mass comes in."""
    return float(_RADIANS_PER_DEGREE ** (dimension.powers[_ANGLE_AT] - dimension.radians_within))


def _bounds(calc: Calculation, parameter: Parameter) -> tuple[Callable[[Fraction], bool], ...]:
    """The tests a value in base units has to pass to lie in the declared range."""

    def quantity(text: str) -> Fraction:
        read = read_quantity(text)
        if isinstance(read, Problem):
            raise TypeError(f"the range of `{parameter.name}` of `{calc.name}` cannot be read: {text}")
        return read.quantity.value

    tests: list[Callable[[Fraction], bool]] = []
    if parameter.least:
        tests.append(quantity(parameter.least).__le__)
    if parameter.above:
        tests.append(quantity(parameter.above).__lt__)
    if parameter.most:
        tests.append(quantity(parameter.most).__ge__)
    if parameter.below:
        tests.append(quantity(parameter.below).__gt__)
    return tuple(tests)


def _out_of_range(calc: Calculation, parameter: Parameter) -> _Refused:
    message = f"`{calc.name}` cannot be computed: `{parameter.name}` is outside its range, {parameter.range_text}"
    return _Refused(Problem("cannot-compute", message, f"source: {calc.source}"))


def _reader(calc: Calculation, parameter: Parameter, dimension: Dimension) -> Callable[[Value], Any]:
    """Turns one argument at the door into what the work takes, or raises `_Refused`."""
    factor, wraps, exact = to_si(dimension), parameter.wraps, calc.exact
    where = f"`{parameter.name}` of `{calc.name}`"
    bounds = _bounds(calc, parameter)

    def word(value: Value) -> str:
        if not isinstance(value, str) or value not in parameter.choices:
            raise _Refused(Problem("bad-argument", f"{where} is one of {', '.join(parameter.choices)}"))
        return value

    def single(value: Value) -> Any:
        if isinstance(value, Series):
            hint = f"name one reading, such as the one labelled {value.items[0][0]}" if value.items else ""
            raise _Refused(Problem("bad-argument", f"{where} takes one value, not a series", hint))
        if isinstance(value, str):
            raise _Refused(Problem("bad-argument", f"{where} takes a quantity, not a word"))
        if bounds and not all(test(value) for test in bounds):
            raise _out_of_range(calc, parameter)
        if wraps:
            value = value % _FULL_TURN
            if value > _FULL_TURN / 2:
                value -= _FULL_TURN
        return value if exact else float(value) * factor

    def whole(value: Value) -> int:
        if not isinstance(value, Fraction) or value.denominator != 1 or not 1 <= value <= LABELS_IN_A_SET:
            message = f"{where} takes a whole number from 1 to {LABELS_IN_A_SET}"
            raise _Refused(Problem("bad-argument", message, ""))
        if bounds and not all(test(value) for test in bounds):
            raise _out_of_range(calc, parameter)
        return int(value)

    def series(value: Value) -> Any:
        if not isinstance(value, Series) or not value.items:
            raise _Refused(Problem("bad-argument", f"{where} takes a series with at least one reading"))
        if parameter.labels and sorted(value.labels) != sorted(parameter.labels):
            message = f"{where} takes the readings {' and '.join(parameter.labels)}"
            got = ", ".join(value.labels[:8])
            raise _Refused(Problem("bad-argument", message, f"this series has the labels {got}"))
        if bounds and not all(test(x) for _, x in value.items for test in bounds):
            raise _out_of_range(calc, parameter)
        if exact:
            return value
        return tuple(float(x) * factor for _, x in value.items)

    if parameter.choices:
        return word
    if parameter.series:
        return series
    return whole if parameter.whole else single


def _writer(
    calc: Calculation, result: Result, dimension: Dimension
) -> Callable[[Any, tuple[Value, ...], list[Any]], Value]:
    """Turns one result of the work into what leaves the door."""
    factor = 1 / to_si(dimension)
    one: Callable[[Any], Fraction] = bounded

    if not calc.exact:

        def rounded(x: float) -> Fraction:
            value = from_float(x * factor)
            if value is None:
                raise OverflowError
            return value

        one = rounded

    if result.labels is None:
        return lambda outcome, _given, _arguments: one(outcome)
    place = next(i for i, p in enumerate(calc.parameters) if p.name == result.labels)
    if calc.parameters[place].whole:

        def counted(outcome: Any, _given: tuple[Value, ...], arguments: list[Any]) -> Series:
            labels = (str(k) for k in range(1, arguments[place] + 1))
            return Series(tuple((label, one(x)) for label, x in zip(labels, outcome, strict=True)))

        return counted

    def same_labels(outcome: Any, given: tuple[Value, ...], _arguments: list[Any]) -> Series:
        labels = next(value for value in given if isinstance(value, Series)).labels
        return Series(tuple((label, one(x)) for label, x in zip(labels, outcome, strict=True)))

    return same_labels
