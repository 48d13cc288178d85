"""Limits and inserts: the lines under a value, and the values inside a text, with their units and dimensions proved."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import cast

import attrs

from proclang.program.formula import Part, compile_formula, reference
from proclang.program.model import Amount, Choice, Env, Facets, Formula, Insert, NotKnown, Template, Words
from proclang.program.scope import Scope
from proclang.syntax import nodes as n
from proclang.syntax.printer import expression as expression_text
from proclang.syntax.printer import print_line
from proclang.text.diagnostic import Problem
from proclang.text.span import Span
from proclang.values import dimension as dim
from proclang.values import tolerance
from proclang.values.dimension import Dimension
from proclang.values.number import NumberError
from proclang.values.quantity import DimensionError, Quantity
from proclang.values.reader import read_quantity
from proclang.values.tolerance import Limits
from proclang.values.unit import NONE, Unit, find_unit

Bound = Callable[[Env], Quantity]


def shared_unit(*operands: n.Expression) -> Unit | None:
    """The unit written once for several literals, as in `40 ± 1 mm`."""
    for operand in reversed(operands):
        if isinstance(operand, n.Literal):
            entered = read_quantity(operand.number.typed)
            if not isinstance(entered, Problem) and entered.unit.symbol:
                return entered.unit
    return None


def bound_value(
    node: n.Expression, wanted: Dimension, unit: Unit | None, scope: Scope, *, share: bool = False
) -> Bound | None:
    """A limit of a value of dimension `wanted`. A literal angle stands for a bearing; with `share`, a ratio is let in."""
    if isinstance(node, n.Literal):
        entered = scope.quantity(node.number, None if share and _is_share(node) else unit)
        if entered is None:
            return None
        quantity = entered.quantity
        if wanted.is_bearing and quantity.dimension == dim.ANGLE and not share:
            quantity = Quantity(quantity.value, wanted)
        if not _fits(quantity.dimension, wanted, share, node.span, node.number.typed, scope):
            return None
        return lambda env: quantity
    formula = compile_formula(node, scope)
    if formula is None:
        return None
    if not isinstance(formula.type, Amount) or formula.type.axes:
        scope.say("wrong-kind", f"a limit is one quantity, not {formula.type.describe()}", node.span)
        return None
    dimension = formula.type.dimension
    if not _fits(dimension, wanted, share, node.span, formula.text, scope):
        return None
    evaluate = cast("Callable[[Env], Fraction]", formula.evaluate)
    return lambda env: Quantity(evaluate(env), dimension)


def _is_share(node: n.Literal) -> bool:
    return node.number.typed.rstrip().endswith("%")


def _fits(got: Dimension, wanted: Dimension, share: bool, span: Span, text: str, scope: Scope) -> bool:
    if share:
        plain = Dimension(wanted.powers)
        if got == plain or (got.is_number and text.rstrip().endswith("%")):
            return True
        wanted = plain
    if got == wanted:
        return True
    hint = dim.mismatch_hint(got, wanted)
    if got.is_number and not wanted.is_number:
        hint = f"write the unit after `{text}`"
    scope.say("dimension-mismatch", f"`{text}` is {got.phrase}; the value is {wanted.phrase}", span, hint=hint)
    return False


def compile_facets(
    items: tuple[n.Facet | n.Broken, ...], wanted: Dimension, unit: Unit | None, scope: Scope, *, series: bool
) -> Facets:
    """The facets of a value of dimension `wanted`; `unit` is its declared unit, for nothing but messages."""
    facets = Facets()
    for item in items:
        if isinstance(item, n.Broken):
            continue
        if isinstance(item, n.JudgedBy):
            if item.how.text not in ("mean", "worst"):
                scope.say(
                    "unknown-way",
                    f"a value is judged by its `mean` or its `worst` reading, not by `{item.how}`",
                    item.how.span,
                )
            facets = attrs.evolve(facets, worst=item.how.text == "worst")
        elif isinstance(item, n.Plausible):
            if facets.plausible is not None:
                scope.say("twice", "a plausible range stands here already", item.span)
            facets = attrs.evolve(facets, plausible=_plausible(item, wanted, scope))
        elif isinstance(item, n.Spread):
            if not series:
                scope.say(
                    "spread-of-one",
                    "one value has no spread",
                    item.span,
                    hint="measure a series, such as `x[direct, reversed]`",
                )
                continue
            most = bound_value(item.most, Dimension(wanted.powers), None, scope)
            if most is not None and isinstance(item.most, n.Literal):
                facets = attrs.evolve(facets, spread=most(cast(Env, None)))
            elif most is not None:
                scope.say("not-a-number", "the spread allowed is written as a number with its unit", item.most.span)
        else:
            limits = _limits(item, wanted, scope)
            if limits is not None:
                facets = attrs.evolve(facets, limits=(*facets.limits, (limits, _facet_text(item))))
    return facets


def _facet_text(item: n.Facet) -> str:
    return print_line(item)


def _limits(item: n.Facet, wanted: Dimension, scope: Scope) -> Callable[[Env], Limits] | None:
    parts: tuple[Bound | None, ...]
    make: Callable[..., Limits]
    if isinstance(item, n.WithinAround):
        unit = shared_unit(item.centre, item.half)
        half_unit = unit if unit is None or not unit.dimension.is_bearing else None
        centre_unit = unit if unit is not None and unit.symbol != "%" else None
        parts = (
            bound_value(item.centre, wanted, centre_unit, scope),
            bound_value(item.half, wanted, half_unit, scope, share=True),
        )
        make = tolerance.around
    elif isinstance(item, n.WithinUneven):
        plus, minus = (n.Literal(x, span=x.span) for x in (item.plus, item.minus))
        unit = shared_unit(item.centre, plus, minus)
        unit = unit if unit is not None and unit.symbol != "%" else None
        parts = (
            bound_value(item.centre, wanted, unit, scope),
            bound_value(plus, wanted, unit, scope, share=True),
            bound_value(minus, wanted, unit, scope, share=True),
        )
        make = tolerance.spread
    elif isinstance(item, n.WithinRange):
        unit = shared_unit(item.low, item.high)
        parts = (bound_value(item.low, wanted, unit, scope), bound_value(item.high, wanted, unit, scope))
        make = tolerance.between
    else:
        assert isinstance(item, n.Bound)
        parts = (bound_value(item.value, wanted, None, scope),)
        make = tolerance.at_most if item.most else tolerance.at_least
        if wanted.is_bearing:
            scope.say(
                "bearing-limit", "a bearing goes round and has no greatest value", item.span, hint="give it a range"
            )
            return None
    if any(p is None for p in parts):
        return None
    bounds = cast("tuple[Bound, ...]", parts)
    if all(isinstance(x, n.Literal) for x in item.children() if not isinstance(x, n.Number)):
        try:
            fixed = make(*(b(cast(Env, None)) for b in bounds))
        except DimensionError as error:
            scope.say(error.problem.code, error.problem.message, item.span, hint=error.problem.hint)
            return None
        return lambda env: fixed

    def limits(env: Env) -> Limits:
        try:
            return make(*(b(env) for b in bounds))
        except NumberError as error:
            raise NotKnown(error.problem.message) from None

    return limits


def _plausible(item: n.Plausible, wanted: Dimension, scope: Scope) -> tuple[Quantity, Quantity] | None:
    if not isinstance(item.low, n.Literal) or not isinstance(item.high, n.Literal):
        scope.say("not-a-number", "a plausible range is written in numbers with their unit", item.span)
        return None
    unit = shared_unit(item.low, item.high)
    low, high = bound_value(item.low, wanted, unit, scope), bound_value(item.high, wanted, unit, scope)
    if low is None or high is None:
        return None
    a, b = low(cast(Env, None)), high(cast(Env, None))
    if a.value > b.value and not wanted.is_bearing:
        scope.say("limits-reversed", "the range goes down", item.span, hint="write the lower end first")
        return None
    return a, b


# ---------------------------------------------------------------------------- texts


def compile_text(text: n.Text, scope: Scope) -> Template:
    """A quoted text with its inserts resolved; an insert that cannot be is left out after having been said."""
    pieces: list[str | Insert] = []
    for piece in text.pieces:
        if isinstance(piece, str):
            pieces.append(piece)
            continue
        insert = _insert(piece, scope)
        if insert is not None:
            pieces.append(insert)
    return Template(tuple(pieces))


def plain_text(text: n.Text, scope: Scope) -> str:
    """A quoted text that may hold no insert, such as a title of a file."""
    for insert in text.inserts:
        scope.say("insert-here", "values are not inserted in this text", insert.span, hint=r"write a brace as `\{`")
    return text.plain


def _insert(node: n.Insert, scope: Scope) -> Insert | None:
    part = reference(node.value, scope)
    if part is None:
        return None
    name = node.value.name.text
    formula = Formula(part.type, part.evaluate, expression_text(node.value), (name,), part.unit)
    if isinstance(part.type, (Choice, Words)):
        if node.step is not None or node.signed or node.words or node.unit is not None:
            scope.say("wrong-kind", f"`{name}` is {part.type.describe()}; it is inserted as it is", node.span)
        return Insert(formula, None, None, False, None, name)
    if not isinstance(part.type, Amount) or part.type.axes:
        scope.say("wrong-kind", f"`{name}` is {part.type.describe()}", node.span, hint="insert one label of it")
        return None
    dimension = part.type.dimension
    unit = scope.unit(node.unit) if node.unit is not None else None
    if unit is not None and unit.dimension != dimension:
        scope.say("dimension-mismatch", f"`{name}` is {dimension.phrase}, not {unit.dimension.phrase}", node.span)
        return None
    step: Quantity | None = None
    if node.step is not None:
        entered = scope.quantity(node.step)
        if entered is None:
            return None
        step = entered.quantity
        if step.dimension != Dimension(dimension.powers) or step.value <= 0:
            scope.say(
                "dimension-mismatch",
                f"`{name}` is {dimension.phrase}; it cannot be rounded to {node.step.typed}",
                node.step.span,
            )
            return None
        if unit is None and not dimension.frame:
            unit = entered.unit
    words = (node.words[0].text, node.words[1].text) if len(node.words) == 2 else None
    return Insert(formula, unit or display_unit(dimension, part), step, node.signed, words, name)


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
}
_BASE_SYMBOLS = ("m", "kg", "s", "deg", "K", "A")


def display_unit(dimension: Dimension, part: Part | None = None) -> Unit:
    """The unit a value is shown in when the procedure does not say: that of its parts, else the customary one."""
    if part is not None and part.unit is not None and part.unit.dimension == dimension:
        return part.unit
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
