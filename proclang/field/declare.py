"""How a built-in calculation is declared.

A declaration is read by the checker (which argument fills what, which dimension comes out), by the reference pages,
by the log (source, standing, caution) and by the engine, through the one door (`field.door`). Nothing else knows a
calculation.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

import attrs

from proclang.text.diagnostic import Problem
from proclang.values.dimension import Dimension
from proclang.values.quantity import Quantity

STANDINGS = ("read", "computed", "from memory", "common practice, no source", "arithmetic")
"""How well a formula stands: `read` in a publication, or in a page that reproduces one; `computed` (derived here and
agreed with an independent computation); recalled; a rule of thumb; or nothing but arithmetic."""


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

    `choices`: the argument is one of these words, written bare (`lubrication = dry`) or held by a choice of the
    procedure; the work gets the word, `takes` is `NUMBER` and means nothing, a default is a word too. `optional`: may
    be left out though it has no default; the work then gets None. `named`: must be written with its name.

    `least` and `most` (both included), `above` and `below` (excluded) are quantities as they are written, `"30 deg"`:
    a value outside them, or with any value of a series outside, is refused at the door, naming the range and the
    source. What depends on several arguments at once the work refuses itself with `CannotCompute`.
    """

    name: str
    takes: Takes
    meaning: str
    series: bool = False
    default: Quantity | str | None = None
    whole: bool = False
    labels: tuple[str, ...] = ()
    wraps: bool = False
    choices: tuple[str, ...] = ()
    optional: bool = False
    named: bool = False
    least: str = ""
    most: str = ""
    above: str = ""
    below: str = ""

    @property
    def range_text(self) -> str:
        """The values it takes, in words: "above 0 mm", "30 deg to 90 deg"; empty where there is no limit."""
        if self.least and self.most:
            return f"{self.least} to {self.most}"
        low = f"at least {self.least}" if self.least else f"above {self.above}" if self.above else ""
        high = f"at most {self.most}" if self.most else f"below {self.below}" if self.below else ""
        return f"{low} and {high}" if low and high else low or high


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
class Example:
    """A call as a procedure writes it, with numbers in place of names, and what it gives: each result in a unit of the
    author's choice, rounded to the digits written (`"57.30 N"`); a series as `"0.1 turn, -0.2 turn, ..."`. It is shown
    in the reference and executed by a test."""

    call: str
    gives: tuple[str, ...]


@attrs.frozen
class Calculation:
    """One built-in calculation.

    `formula` is one line of words and plain mathematics; `safe_direction` is `down` or `up` where the result serves
    as a limit: the way it may be rounded. `work` takes its arguments in the order of the parameters: a float or a
    fraction, an int for `whole`, a word for `choices`, for a series a `Series` (exact) or a tuple of floats; None for
    what is optional and left out. It returns one result, or a tuple with one for each declared; it may return a
    `Problem` or raise `CannotCompute`.

    `one_of`: groups of optional parameters of which a call gives exactly one, such as an angle from the horizontal or
    from the vertical. `own_uncertainty` takes what `work` takes and gives the standard uncertainty of the model itself
    for each result, in the units `work` returns: of a magnetic model, of an almanac formula.

    `print_standing`: the standing is printed with every result on screen and in the log, because somebody may hang a
    load on it or touch a conductor.
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
    one_of: tuple[tuple[str, ...], ...] = ()
    own_uncertainty: Callable[..., tuple[float, ...]] | None = attrs.field(default=None, repr=False, eq=False)
    examples: tuple[Example, ...] = ()
    print_standing: bool = False

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


Value = Fraction | Series | str


class CannotCompute(ValueError):
    """Raised by work whose values are outside what it can take; the text says which, in the user's words."""


def signature(calc: Calculation) -> str:
    """The calculation as it is written in a procedure; a parameter with a default may be left out."""
    words: list[str] = []
    groups = {name: group for group in calc.one_of for name in group}
    for parameter in calc.parameters:
        text = parameter.name + ("[...]" if parameter.series else "")
        if parameter.default is not None:
            text = f"{text} = {default_text(parameter.default)}"
        elif parameter.named or parameter.choices:
            text = f"{text} = ..."
        group = groups.get(parameter.name)
        if group is not None and parameter.name != group[0]:
            words[-1] += f" | {text}"
            continue
        if parameter.optional and group is None:
            text = f"[{text}]"
        words.append(text)
    return f"{calc.name}({', '.join(words)})"


def default_text(default: Quantity | str) -> str:
    """A default in base units, the way a procedure would write it."""
    if isinstance(default, str):
        return default
    from proclang.values.dimension import ANGLE, LENGTH, MASS, TEMPERATURE_DIFFERENCE, TIME
    from proclang.values.show import exact_text
    from proclang.values.unit import NONE, find_unit

    symbols = {LENGTH: "m", MASS: "kg", TIME: "s", ANGLE: "deg", TEMPERATURE_DIFFERENCE: "K"}
    unit = find_unit(symbols[default.dimension]) if default.dimension in symbols else NONE
    return str(default.value) if isinstance(unit, Problem) else exact_text(default, unit)
