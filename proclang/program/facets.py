"""Facets: the lines under a value that say what it may be, with their units and dimensions proved."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import cast

from proclang.program.declared import Claim, Facets
from proclang.program.display import display_unit as display_unit
from proclang.program.formula import compile_formula
from proclang.program.scope import Scope, read_number
from proclang.program.types import Amount, Env, NotKnown
from proclang.syntax import nodes as n
from proclang.syntax.printer import print_line
from proclang.text.diagnostic import Label, Problem
from proclang.text.span import Span
from proclang.values import dimension as dim
from proclang.values import tolerance
from proclang.values.conformity import DEFAULT_GUARD
from proclang.values.dimension import Dimension
from proclang.values.number import NumberError
from proclang.values.quantity import DimensionError, Quantity
from proclang.values.tolerance import Limits
from proclang.values.unit import Unit

Bound = Callable[[Env], Quantity]

NO_FACETS = Facets()


def shared_unit(*operands: n.Expression) -> Unit | None:
    """The unit written once for several literals, as in `40 ± 1 mm`."""
    for operand in reversed(operands):
        if isinstance(operand, n.Literal):
            entered = read_number(operand.number.typed)
            if not isinstance(entered, Problem) and entered.unit.symbol:
                return entered.unit
    return None


def bound_value(
    node: n.Expression, wanted: Dimension, unit: Unit | None, scope: Scope, *, share: bool = False
) -> Bound | None:
    """A limit of a value of dimension `wanted`. A literal angle stands for a bearing; `share` lets a ratio in."""
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


def compile_facets(items: tuple[n.Facet | n.Broken, ...], wanted: Dimension, scope: Scope, *, series: bool) -> Facets:
    """The facets of a value of dimension `wanted`; only a `series` has a spread."""
    plausible: tuple[Quantity, Quantity] | None = None
    spread: Quantity | None = None
    worst = False
    guard: Fraction | None = None
    known: Claim | None = None
    made: list[tuple[Callable[[Env], Limits], str]] = []
    fixed: list[tuple[Limits, n.Facet]] = []
    seen: dict[type[n.Facet], Span] = {}
    for item in items:
        if isinstance(item, n.Broken):
            continue
        if isinstance(item, (n.JudgedBy, n.Plausible, n.Spread, n.Guarded, n.KnownTo, n.Counts, n.NoDeviation)):
            if type(item) in seen:
                what = print_line(item) if isinstance(item, n.NoDeviation) else print_line(item).split()[0]
                also = (Label(seen[type(item)], "first here"),)
                scope.say("twice", f"`{what}` stands under this value already", item.span, also=also)
                continue
            seen[type(item)] = item.span
        if isinstance(item, (n.NoDeviation, n.Counts)):  # what is counted is hardware, see `lower_counts`
            continue
        if isinstance(item, n.JudgedBy):
            if item.how.text not in ("mean", "worst") and item.how.text not in scope.excused:
                scope.say(
                    "unknown-way",
                    f"a value is judged by its `mean` or its `worst` reading, not by `{item.how}`",
                    item.how.span,
                )
            worst = item.how.text == "worst"
        elif isinstance(item, n.Plausible):
            plausible = _plausible(item, wanted, scope)
        elif isinstance(item, n.Guarded):
            guard = _guard(item, scope)
        elif isinstance(item, n.KnownTo):
            known = _known(item, wanted, scope)
        elif isinstance(item, n.Spread):
            spread = _spread(item, wanted, scope, series=series)
        else:
            limits = _limits(item, wanted, scope)
            if limits is not None:
                make, written = limits
                made.append((make, print_line(item)))
                if written is not None:
                    fixed.append((written, item))
    _check_reachable(fixed, plausible, scope)
    if n.NoDeviation in seen and not any(isinstance(item, (*_LIMITS, n.Broken)) for item in items):
        hint = "give it limits, or leave the line out"
        scope.say("no-limit", "`no deviation` stands under a value without limits", seen[n.NoDeviation], hint=hint)
    if n.Guarded in seen and not any(isinstance(item, (*_GUARDABLE, n.Broken)) for item in items):
        hint = "give it limits, or leave the line out"
        scope.say("no-limit", "`guarded` stands under a value without limits", seen[n.Guarded], hint=hint)
    return Facets(tuple(made), plausible, spread, worst, n.NoDeviation in seen, guard, known) if items else NO_FACETS


def _guard(item: n.Guarded, scope: Scope) -> Fraction | None:
    """The probability a guarded verdict asks for: above a half, below one."""
    if item.probability is None:
        return DEFAULT_GUARD
    entered = scope.quantity(item.probability)
    if entered is None:
        return None
    if not entered.quantity.dimension.is_number or not Fraction(1, 2) < entered.quantity.value < 1:
        message = "a guarded verdict asks for a probability above 50 % and below 100 %"
        scope.say(
            "guard-probability", message, item.probability.span, hint="write `guarded at 95 %`, or just `guarded`"
        )
        return None
    return entered.quantity.value


def _known(item: n.KnownTo, wanted: Dimension, scope: Scope) -> Claim | None:
    """How far off a value may be that no instrument answers for."""
    if not isinstance(item.value, n.Literal):
        scope.say("not-a-number", "`known to` takes a number with its unit", item.value.span)
        return None
    most = bound_value(item.value, Dimension(wanted.powers), None, scope, share=not wanted.frame)
    if most is None:
        return None
    amount = most(cast(Env, None))
    if amount.value < 0:
        scope.say("negative-tolerance", "`known to` takes an amount of zero or more", item.value.span)
        return None
    share = amount.dimension.is_number and not wanted.is_number
    return Claim(amount, coverage_factor(item.k, scope), share)


def coverage_factor(k: n.Number | None, scope: Scope) -> Fraction | None:
    """The factor a figure is stated at: from 1 to 4; None where it is a limit."""
    if k is None:
        return None
    entered = scope.quantity(k)
    if entered is None:
        return None
    if not entered.quantity.dimension.is_number or not 1 <= entered.quantity.value <= 4:
        message = "a coverage factor is a number from 1 to 4"
        scope.say("coverage-factor", message, k.span, hint="certificates mostly state k = 2")
        return None
    return entered.quantity.value


_GUARDABLE = (n.WithinAround, n.WithinUneven, n.WithinRange, n.Bound)
_LIMITS = (n.WithinAround, n.WithinUneven, n.WithinRange, n.Bound, n.Spread)


def _spread(item: n.Spread, wanted: Dimension, scope: Scope, *, series: bool) -> Quantity | None:
    if not series:
        scope.say(
            "spread-of-one",
            "one value has no spread",
            item.span,
            hint="measure a series, such as `x[direct, reversed]`",
        )
        return None
    if not isinstance(item.most, n.Literal):
        scope.say("not-a-number", "the spread allowed is written as a number with its unit", item.most.span)
        return None
    most = bound_value(item.most, Dimension(wanted.powers), None, scope)
    return None if most is None else most(cast(Env, None))


def _check_reachable(
    fixed: list[tuple[Limits, n.Facet]], plausible: tuple[Quantity, Quantity] | None, scope: Scope
) -> None:
    """Limits that no value can meet, and limits outside what is plausible, are slips of the one who wrote them."""
    low: Fraction | None = None
    high: Fraction | None = None
    for limits, item in fixed:
        if limits.dimension.is_bearing:
            return
        low = limits.low if low is None or (limits.low is not None and limits.low > low) else low
        high = limits.high if high is None or (limits.high is not None and limits.high < high) else high
        if low is not None and high is not None and low > high:
            scope.say("never-passes", "no value lies within this and the limits above it", item.span)
            return
    if plausible is None or not fixed:
        return
    least, most = plausible[0].value, plausible[1].value
    if (low is not None and low > most) or (high is not None and high < least):
        scope.say("never-passes", "no plausible value lies within this limit", fixed[-1][1].span)


def _limits(item: n.Facet, wanted: Dimension, scope: Scope) -> tuple[Callable[[Env], Limits], Limits | None] | None:
    """The limits as a function of the values, and as they are where they are written in numbers."""
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
        if not isinstance(item.centre, n.Literal) and _below_zero(parts[1], item.half):
            hint = "write it without a sign"
            scope.say("negative-tolerance", "a tolerance is not below zero", item.half.span, hint=hint)
            return None
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
        return (lambda env: fixed), fixed

    def limits(env: Env) -> Limits:
        try:
            return make(*(b(env) for b in bounds))
        except NumberError as error:
            raise NotKnown(error.problem.message) from None

    return limits, None


def _below_zero(half: Bound | None, written: n.Expression) -> bool:
    """Whether a tolerance that is written as a number is below zero; with a number before it, it is found anyway."""
    return half is not None and isinstance(written, n.Literal) and half(cast(Env, None)).value < 0


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


def all_read(items: tuple[n.Facet | n.Broken, ...], facets: Facets) -> bool:
    """Whether every limit that is written is among the facets; otherwise nobody knows whether the value is judged."""
    limits = sum(1 for x in items if isinstance(x, (n.WithinAround, n.WithinUneven, n.WithinRange, n.Bound)))
    spread = any(isinstance(x, n.Spread) for x in items)
    broken = any(isinstance(x, n.Broken) for x in items)
    return not broken and limits == len(facets.limits) and spread == (facets.spread is not None)


def facet_unit(facets: tuple[n.Facet | n.Broken, ...], dimension: Dimension) -> Unit | None:
    """The unit the limits are written in, if it suits the value: the one the reader of the line thinks in."""
    for facet in facets:
        if isinstance(facet, (n.WithinAround, n.WithinRange, n.Bound)):
            unit = shared_unit(*(x for x in facet.children() if isinstance(x, n.Literal)))
            if unit is not None and unit.dimension == dimension:
                return unit
    return None
