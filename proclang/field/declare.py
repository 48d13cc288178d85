"""How a built-in calculation is declared, and the one door through which it is called.

A declaration is read by the checker (which argument fills what, which dimension comes out), by the reference pages,
by the log (source, standing, caution) and by the engine (`call`, `prepare`). Nothing else knows a calculation.

Values at the door are exact: fractions in the base units of `values.dimension` (angles in degrees). Work declared
`exact` gets and returns fractions. Other work gets floats in SI with angles in radians and returns floats; each
result is rounded to 12 significant digits, and that decimal is the value.

Codes of the problems returned: `bad-argument` (which argument, one value or a series, which labels), `wrong-dimension`,
`cannot-compute` (the values themselves: outside the validity, dividing by zero, too large).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from typing import Any, cast

import attrs

from proclang.text.diagnostic import Problem
from proclang.text.limits import LABELS_IN_A_SET
from proclang.text.suggest import did_you_mean
from proclang.values.dimension import LENGTH, LENGTH_PER_ANGLE, Dimension, mismatch_hint, root
from proclang.values.number import NumberError, bounded, from_float
from proclang.values.quantity import Quantity

STANDINGS = ("read", "computed", "from memory", "common practice, no source", "arithmetic")
"""How well a formula stands: `read` in a publication, or in a page that reproduces one; `computed` (derived here and
agreed with an independent computation); recalled; a rule of thumb; or nothing but arithmetic."""

_ANGLE_AT = 3
_RADIANS_PER_DEGREE = math.pi / 180
_FULL_TURN = Fraction(360)


@attrs.frozen
class Like:
    """A dimension the call decides: every `Like("a")` of one call is the same dimension.

    Plain dimensions only, unless `frames`, which lets bearings and temperatures on a scale in as well. `bearing` takes
    nothing but a bearing, from whichever north.
    """

    variable: str
    frames: bool = False
    bearing: bool = False


@attrs.frozen
class Root:
    """The dimension of a root of what `Like(variable)` stands for."""

    variable: str
    degree: int = 2


Takes = Dimension | Like
Gives = Dimension | Like | Root


@attrs.frozen
class Parameter:
    """What one argument must be.

    `series`: a series of readings, not one value; `labels`: exactly the labels such a series must have, when it
    matters which is which. `whole`: a positive whole number known before the run, such as a count of studs. `wraps`:
    an angle of which only the direction counts; whole turns are taken off exactly, before it becomes a float.
    """

    name: str
    takes: Takes
    meaning: str
    series: bool = False
    default: Quantity | None = None
    whole: bool = False
    labels: tuple[str, ...] = ()
    wraps: bool = False


@attrs.frozen
class Result:
    """What one result is. `labels` names a `whole` parameter n (a series labelled 1 to n) or a series parameter (its
    labels). `unit` is the unit people think of it in, when it is not that of the arguments."""

    name: str
    gives: Gives
    meaning: str
    labels: str | None = None
    unit: str = ""


@attrs.frozen
class Calculation:
    """One built-in calculation.

    `formula` is one line of words and plain mathematics; `safe_direction` is `down` or `up` where the result serves
    as a limit: the way it may be rounded. `work` takes its arguments in the order of the parameters: a float or a
    fraction, an int for `whole`, for a series a `Series` (exact) or a tuple of floats. It returns one result, or a
    tuple with one for each declared; it may return a `Problem` or raise `CannotCompute`.
    """

    name: str
    topic: str
    parameters: tuple[Parameter, ...]
    results: tuple[Result, ...]
    formula: str
    source: str
    standing: str = attrs.field(validator=attrs.validators.in_(STANDINGS))
    work: Callable[..., Any] = attrs.field(repr=False, eq=False)
    caution: str = ""
    safe_direction: str = attrs.field(default="", validator=attrs.validators.in_(("", "down", "up")))
    validity: str = ""
    exact: bool = False

    def parameter(self, name: str) -> Parameter | None:
        """The parameter of that name."""
        return next((p for p in self.parameters if p.name == name), None)


@attrs.frozen
class Series:
    """Labelled values in base units, in the order of the labels."""

    items: tuple[tuple[str, Fraction], ...]

    @property
    def labels(self) -> tuple[str, ...]:
        return tuple(label for label, _ in self.items)

    @property
    def values(self) -> tuple[Fraction, ...]:
        return tuple(value for _, value in self.items)


Value = Fraction | Series


class CannotCompute(ValueError):
    """Raised by work whose values are outside what it can take; the text says which, in the user's words."""


class _Refused(Exception):
    """Carries a problem from a reader of arguments to the door."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.message)
        self.problem = problem


def signature(calc: Calculation) -> str:
    """The calculation as it is written in a procedure; a parameter with a default may be left out."""
    words = []
    for parameter in calc.parameters:
        text = parameter.name + ("[...]" if parameter.series else "")
        words.append(f"{text} = {default_text(parameter.default)}" if parameter.default is not None else text)
    return f"{calc.name}({', '.join(words)})"


def default_text(default: Quantity) -> str:
    """A default in base units, the way a procedure would write it."""
    from proclang.values.dimension import ANGLE, MASS, TIME
    from proclang.values.show import exact_text
    from proclang.values.unit import NONE, find_unit

    symbols = {LENGTH: "m", MASS: "kg", TIME: "s", ANGLE: "deg"}
    unit = find_unit(symbols[default.dimension]) if default.dimension in symbols else NONE
    return str(default.value) if isinstance(unit, Problem) else exact_text(default, unit)


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
    missing = [f"`{p.name}`" for p in calc.parameters if p.default is None and p.name not in filled]
    if missing:
        return Problem("bad-argument", f"`{calc.name}` also needs {' and '.join(missing)}", usage)
    return tuple(filled)


def result_dimensions(calc: Calculation, dims: Mapping[str, Dimension]) -> tuple[Dimension, ...] | Problem:
    """Dimensions of the results, given that of each argument by parameter name; parameters left out take their
    default."""
    bound: dict[str, tuple[str, Dimension]] = {}
    for parameter in calc.parameters:
        got = dims.get(parameter.name)
        if got is None:
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
        else:
            default = cast(Quantity, parameter.default)
            template.append(_reader(calc, parameter, default.dimension)(default.value))
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


def _to_si(dimension: Dimension) -> float:
    """What a base value is multiplied by to have its angles in radians, which it has already where mass comes in."""
    return float(_RADIANS_PER_DEGREE ** (dimension.powers[_ANGLE_AT] - dimension.radians_within))


def _reader(calc: Calculation, parameter: Parameter, dimension: Dimension) -> Callable[[Value], Any]:
    """Turns one argument at the door into what the work takes, or raises `_Refused`."""
    factor, wraps, exact = _to_si(dimension), parameter.wraps, calc.exact
    where = f"`{parameter.name}` of `{calc.name}`"

    def single(value: Value) -> Any:
        if isinstance(value, Series):
            hint = f"name one reading, such as the one labelled {value.items[0][0]}" if value.items else ""
            raise _Refused(Problem("bad-argument", f"{where} takes one value, not a series", hint))
        if wraps:
            value = value % _FULL_TURN
            if value > _FULL_TURN / 2:
                value -= _FULL_TURN
        return value if exact else float(value) * factor

    def whole(value: Value) -> int:
        if isinstance(value, Series) or value.denominator != 1 or not 1 <= value <= LABELS_IN_A_SET:
            message = f"{where} takes a whole number from 1 to {LABELS_IN_A_SET}"
            raise _Refused(Problem("bad-argument", message, ""))
        return int(value)

    def series(value: Value) -> Any:
        if not isinstance(value, Series) or not value.items:
            raise _Refused(Problem("bad-argument", f"{where} takes a series with at least one reading"))
        if parameter.labels and sorted(value.labels) != sorted(parameter.labels):
            message = f"{where} takes the readings {' and '.join(parameter.labels)}"
            got = ", ".join(value.labels[:8])
            raise _Refused(Problem("bad-argument", message, f"this series has the labels {got}"))
        if exact:
            return value
        return tuple(float(x) * factor for _, x in value.items)

    if parameter.series:
        return series
    return whole if parameter.whole else single


def _writer(
    calc: Calculation, result: Result, dimension: Dimension
) -> Callable[[Any, tuple[Value, ...], list[Any]], Value]:
    """Turns one result of the work into what leaves the door."""
    factor = 1 / _to_si(dimension)
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
