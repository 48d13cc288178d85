"""Signs between quantities and between conditions: dimensions proved, arithmetic on exact fractions."""

from __future__ import annotations

import operator
from collections.abc import Callable
from fractions import Fraction
from typing import cast

from proclang.program import rational
from proclang.program.part import Part
from proclang.program.rational import Rational
from proclang.program.scope import Scope
from proclang.program.types import Amount, Env, NotKnown, Truth
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Problem
from proclang.values import dimension as dim
from proclang.values.dimension import Dimension
from proclang.values.number import NumberError, bounded
from proclang.values.quantity import FULL_TURN
from proclang.values.unit import DEGREES_PER_RADIAN

_HALF_TURN = FULL_TURN / 2
_ONE = Fraction(1)

_ARITHMETIC: dict[
    str, tuple[Callable[[Dimension, Dimension], Dimension | Problem], Callable[[Fraction, Fraction], Fraction]]
] = {
    "+": (dim.add, operator.add),
    "-": (dim.subtract, operator.sub),
    "*": (dim.multiply, operator.mul),
    "/": (dim.divide, operator.truediv),
}
_COMPARE: dict[str, Callable[[Fraction, Fraction], bool]] = {
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
}


def binary(node: n.Binary, left: Part | None, right: Part | None, scope: Scope) -> Part | None:
    """Arithmetic, a comparison, or two conditions joined."""
    if node.operator in ("and", "or"):
        return _logic(node, left, right, scope)
    if left is None or right is None:
        return None
    for part, side in ((left, node.left), (right, node.right)):
        if part.types or not isinstance(part.type, Amount) or part.type.axes:
            hint = "use `mean`, `sum` or one label of it" if isinstance(part.type, Amount) else ""
            scope.say(
                "wrong-kind", f"`{node.operator}` works on single quantities, not on {part.kind}", side.span, hint=hint
            )
            return None
    a, b = cast(Amount, left.type).dimension, cast(Amount, right.type).dimension
    f, g = cast("Callable[[Env], Fraction]", left.evaluate), cast("Callable[[Env], Fraction]", right.evaluate)
    if node.operator in _COMPARE:
        order = dim.ordered(a, b)
        if isinstance(order, Problem):
            scope.say(order.code, order.message, node.span, hint=order.hint)
            return None
        compare = _COMPARE[node.operator]
        return Part(Truth(), lambda env: compare(f(env), g(env)))
    algebra, arithmetic = _ARITHMETIC[node.operator]
    result = algebra(a, b)
    if isinstance(result, Problem):
        scope.say(result.code, result.message, node.span, hint=result.hint or _unit_hint(node, a, b))
        return None
    unit = next((p.unit for p in (left, right) if p.unit is not None and p.unit.dimension == result), None)
    if node.operator == "-" and b.is_bearing:
        return Part(Amount(result), lambda env: _HALF_TURN - (_HALF_TURN - (f(env) - g(env))) % FULL_TURN, unit)
    sign = -1 if node.operator == "/" else 1
    turns = dim.product_turns(a, b, sign) if node.operator in "*/" else 0
    factor = DEGREES_PER_RADIAN**turns if turns else _ONE

    def evaluate(env: Env) -> Fraction:
        try:
            value = arithmetic(f(env), g(env))
            return bounded(value * factor if turns else value)
        except ZeroDivisionError:
            raise NotKnown("it would divide by zero") from None
        except NumberError as error:
            raise NotKnown(error.problem.message) from None

    exact = _rational(node.operator, left, right, factor)
    return Part(Amount(result), rational.evaluator(exact, evaluate) if exact else evaluate, unit, rational=exact)


def _rational(sign: str, left: Part, right: Part, factor: Fraction) -> Rational | None:
    """The same arithmetic on pairs of whole numbers; None where it is left to fractions."""
    x = left.rational or rational.value_of(left.evaluate)
    y = right.rational or rational.value_of(right.evaluate)
    if sign in "+-":
        return rational.total(x, y if sign == "+" else rational.negated(y))
    found = rational.product(x, y) if sign == "*" else rational.quotient(x, y)
    if factor is _ONE:
        return found
    scale = rational.constant(factor)
    return rational.product(found, scale) if found and scale else None


def _unit_hint(node: n.Binary, a: Dimension, b: Dimension) -> str:
    bare = [side for side, d in ((node.left, a), (node.right, b)) if isinstance(side, n.Literal) and d.is_number]
    return f"write the unit after `{bare[0].number.typed}`" if bare else ""


def _logic(node: n.Binary, left: Part | None, right: Part | None, scope: Scope) -> Part | None:
    for part, side in ((left, node.left), (right, node.right)):
        if part is not None and not isinstance(part.type, Truth):
            scope.say("not-a-condition", f"`{node.operator}` joins conditions, not {part.kind}", side.span)
            return None
    if left is None or right is None:
        return None
    f, g = left.evaluate, right.evaluate
    if node.operator == "and":
        return Part(Truth(), lambda env: bool(f(env)) and bool(g(env)))
    return Part(Truth(), lambda env: bool(f(env)) or bool(g(env)))


def unary(node: n.Unary, inner: Part | None, scope: Scope) -> Part | None:
    """A sign, or `not`."""
    if inner is None:
        return None
    f = inner.evaluate
    if node.operator == "not":
        if not isinstance(inner.type, Truth):
            scope.say("not-a-condition", f"`not` turns a condition round, not {inner.kind}", node.operand.span)
            return None
        return Part(Truth(), lambda env: not f(env))
    if inner.types or not isinstance(inner.type, Amount) or inner.type.axes:
        scope.say("wrong-kind", f"`-` works on a single quantity, not on {inner.kind}", node.operand.span)
        return None
    result = dim.negate(inner.type.dimension)
    if isinstance(result, Problem):
        scope.say(result.code, result.message, node.span, hint=result.hint)
        return None
    exact = rational.negated(inner.rational) if inner.rational else None
    return Part(Amount(result), lambda env: -cast(Fraction, f(env)), inner.unit, rational=exact)


def power(node: n.Power, base: Part | None, scope: Scope) -> Part | None:
    """A whole power."""
    exponent = scope.whole(node.exponent, 0, dim.GREATEST_POWER, "a power")
    if base is None or exponent is None:
        return None
    if base.types or not isinstance(base.type, Amount) or base.type.axes:
        scope.say("wrong-kind", f"`^` works on a single quantity, not on {base.kind}", node.base.span)
        return None
    result = dim.power(base.type.dimension, exponent)
    if isinstance(result, Problem):
        scope.say(result.code, result.message, node.span, hint=result.hint)
        return None
    f = cast("Callable[[Env], Fraction]", base.evaluate)

    def evaluate(env: Env) -> Fraction:
        try:
            return bounded(f(env) ** exponent)
        except NumberError as error:
            raise NotKnown(error.problem.message) from None

    return Part(Amount(result), evaluate)
