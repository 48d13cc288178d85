"""Expressions: names looked up, dimensions proved, and the whole folded into one function of the values.

After this a formula is evaluated on exact fractions in base units without ever looking at a unit again. What can still
go wrong is a value that is not known or a sum that has no answer; both raise `NotKnown` with the reason.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from fractions import Fraction
from typing import cast

import attrs

from proclang.field import registry
from proclang.field.declare import Calculation, Series, bind, prepare, result_dimensions
from proclang.program.model import Amount, Choice, Env, Formula, NotKnown, Symbol, Truth, Type, Value, Words
from proclang.program.scope import Column, Scope
from proclang.syntax import nodes as n
from proclang.syntax.printer import expression as expression_text
from proclang.text.diagnostic import Problem
from proclang.text.span import Span
from proclang.text.suggest import did_you_mean
from proclang.values import dimension as dim
from proclang.values.dimension import Dimension
from proclang.values.number import NumberError, bounded
from proclang.values.quantity import FULL_TURN
from proclang.values.unit import DEGREES_PER_RADIAN, Unit

Evaluate = Callable[[Env], Value]
Key = Callable[[Env], str]
_HALF_TURN = FULL_TURN / 2


@attrs.frozen
class Part:
    """A piece of an expression: its type, its function, the unit it suggests, and the unlabelled name it stands for."""

    type: Type
    evaluate: Evaluate = attrs.field(eq=False)
    unit: Unit | None = None
    symbol: Symbol | None = None
    key: Key | None = attrs.field(default=None, eq=False)
    types: tuple[Type, ...] = ()
    """For a calculation with several results: each; `evaluate` then returns a tuple."""


def compile_formula(node: n.Expression, scope: Scope) -> Formula | None:
    """The formula of an expression with one result, or None after having said what is wrong."""
    part = _compile(node, scope)
    if part is None:
        return None
    if part.types:
        scope.say(
            "several-results",
            f"this gives {len(part.types)} results; one is wanted here",
            node.span,
            hint="compute them under names of their own first",
        )
        return None
    return Formula(part.type, part.evaluate, expression_text(node), _names(node), part.unit)


def compile_results(node: n.Expression, scope: Scope) -> tuple[Formula, tuple[Type, ...]] | None:
    """An expression that may have several results; its function then returns a tuple of them."""
    part = _compile(node, scope)
    if part is None:
        return None
    types = part.types or (part.type,)
    return Formula(types[0], part.evaluate, expression_text(node), _names(node), part.unit), types


def compile_condition(node: n.Expression, scope: Scope) -> Formula | None:
    """A formula that is true or false."""
    formula = compile_formula(node, scope)
    if formula is not None and not isinstance(formula.type, Truth):
        scope.say(
            "not-a-condition",
            f"`{formula.text}` is {formula.type.describe()}, not a condition",
            node.span,
            hint="write `x passes`, `x fails`, `x is label` or a comparison",
        )
        return None
    return formula


def _names(node: n.Expression) -> tuple[str, ...]:
    found: dict[str, None] = {}
    for sub in node.walk():
        if isinstance(sub, n.Reference):
            found.setdefault(sub.name.text)
    return tuple(found)


# ---------------------------------------------------------------------------- one kind of node each


def _compile(node: n.Expression, scope: Scope) -> Part | None:
    if isinstance(node, n.Literal):
        return _literal(node, scope)
    if isinstance(node, n.Reference):
        return reference(node, scope)
    if isinstance(node, n.Call):
        return _call(node, scope)
    if isinstance(node, n.Binary):
        return _binary(node, scope)
    if isinstance(node, n.Unary):
        return _unary(node, scope)
    if isinstance(node, n.Power):
        return _power(node, scope)
    if isinstance(node, n.Judged):
        return _judged(node, scope)
    return _being(node, scope)


def _literal(node: n.Literal, scope: Scope) -> Part | None:
    entered = scope.quantity(node.number)
    if entered is None:
        return None
    value = entered.quantity.value
    unit = entered.unit if entered.unit.symbol else None
    return Part(Amount(entered.quantity.dimension), lambda env: value, unit)


def label_keys(written: tuple[n.Label, ...], scope: Scope) -> tuple[list[str], list[bool]]:
    """Each bracketed label as text, and whether it is a loop variable here."""
    texts: list[str] = []
    variables: list[bool] = []
    for label in written:
        if isinstance(label, n.Name) and scope.loop_labels(label.text) is not None:
            scope.used.add(label.text)
            texts.append(label.text)
            variables.append(True)
        elif isinstance(label, n.LabelRange):
            scope.say("label-range", "one label is wanted here, not a range", label.span)
            texts.append("")
            variables.append(False)
        else:
            texts.append(label.text if isinstance(label, n.Name) else label.typed)
            variables.append(False)
    return texts, variables


def key_function(texts: list[str], variables: list[bool]) -> Key:
    """From the labels written to the key they stand for when evaluated."""
    if not any(variables):
        fixed = ",".join(texts)
        return lambda env: fixed
    pairs = tuple(zip(texts, variables, strict=True))
    return lambda env: ",".join(env.label(t) if v else t for t, v in pairs)


def reference(node: n.Reference, scope: Scope) -> Part | None:
    """A name, with or without labels."""
    name = node.name.text
    labels = scope.loop_labels(name)
    if labels is not None:
        scope.used.add(name)
        return Part(Choice(labels), lambda env: env.label(name))
    column = scope.columns.get(name)
    if column is not None:
        return _column(node, column, scope)
    symbol = scope.symbol(node.name)
    if symbol is None:
        return None
    kind = symbol.type
    if not isinstance(kind, Amount):
        if node.labels:
            scope.say("no-labels", f"`{name}` has no labels", node.span)
            return None
        return Part(kind, lambda env: env.label(name), symbol=symbol, key=lambda env: "")
    if not node.labels:
        if kind.axes:
            return Part(kind, lambda env: env.series(name), symbol.unit, symbol, lambda env: "")
        return Part(kind, lambda env: env.amount(name, ""), symbol.unit, symbol, lambda env: "")
    if not _labels_fit(node, kind.axes, scope):
        return None
    key = key_function(*label_keys(node.labels, scope))
    return Part(Amount(kind.dimension), lambda env: env.amount(name, key(env)), symbol.unit, symbol, key)


def _labels_fit(node: n.Reference, axes: tuple[tuple[str, ...], ...], scope: Scope) -> bool:
    name = node.name.text
    if not axes:
        scope.say("no-labels", f"`{name}` is one value and has no labels", node.span, hint=f"write `{name}`")
        return False
    if len(node.labels) != len(axes):
        wanted = "one label" if len(axes) == 1 else f"{len(axes)} labels"
        scope.say("label-count", f"`{name}` takes {wanted} in its brackets, here are {len(node.labels)}", node.span)
        return False
    texts, variables = label_keys(node.labels, scope)
    fits = True
    for label, text, variable, axis in zip(node.labels, texts, variables, axes, strict=True):
        through = scope.loop_labels(text) if variable else (text,)
        strange = [x for x in through or () if x not in axis]
        if strange and not (isinstance(label, n.Name) and label.text in scope.excused):
            shown = ", ".join(axis[:8])
            scope.say(
                "unknown-label",
                f"`{name}` has no label `{strange[0]}`",
                label.span,
                hint=did_you_mean(strange[0], axis) or f"its labels are {shown}",
            )
            fits = False
    return fits


def _column(node: n.Reference, column: Column, scope: Scope) -> Part | None:
    scope.used.add(node.name.text)
    scope.used.add(column.table)
    values = {label: q.value for label, q in column.values.items()}
    dimension = next(iter(column.values.values())).dimension
    labels = tuple(values)
    if not node.labels:
        whole = Series(tuple(values.items()))
        return Part(Amount(dimension, (labels,)), lambda env: whole, column.unit)
    if not _labels_fit(node, (labels,), scope):
        return None
    key = key_function(*label_keys(node.labels, scope))
    return Part(Amount(dimension), lambda env: values[key(env)], column.unit)


def _call(node: n.Call, scope: Scope) -> Part | None:
    calc = registry.find(node.name.text)
    if calc is None:
        if node.name.text not in scope.excused:
            scope.say(
                "unknown-calculation",
                f"there is no calculation called `{node.name}`",
                node.name.span,
                hint=did_you_mean(node.name.text, registry.names()),
            )
        for argument in node.arguments:
            _compile(argument.value, scope)
        return None
    parts = [_compile(argument.value, scope) for argument in node.arguments]
    positional = 0
    for argument in node.arguments:
        if argument.name is None:
            positional += 1
    named = [a.name.text for a in node.arguments if a.name is not None]
    out_of_order = any(a.name is None for a in node.arguments[positional:])
    if out_of_order:
        scope.say("bad-argument", "arguments without a name come first", node.span)
        return None
    bound = bind(calc, positional, named)
    if isinstance(bound, Problem):
        scope.say(bound.code, bound.message, node.span, hint=bound.hint)
        return None
    if any(part is None for part in parts):
        return None
    given = {
        name: (part, arg) for name, part, arg in zip(bound, cast("list[Part]", parts), node.arguments, strict=True)
    }
    return _bound_call(calc, node, given, scope)


def _bound_call(
    calc: Calculation, node: n.Call, given: dict[str, tuple[Part, n.Argument]], scope: Scope
) -> Part | None:
    dims: dict[str, Dimension] = {}
    counts: dict[str, int] = {}
    axes: dict[str, tuple[str, ...]] = {}
    functions: list[Evaluate] = []
    for parameter in calc.parameters:
        if parameter.name not in given:
            continue
        part, argument = given[parameter.name]
        span = argument.value.span
        if part.types or not isinstance(part.type, Amount):
            what = "several results" if part.types else part.type.describe()
            scope.say("wrong-kind", f"`{parameter.name}` of `{calc.name}` takes a quantity, not {what}", span)
            return None
        if parameter.series != bool(part.type.axes):
            wanted = "a whole series" if parameter.series else "one value"
            got = "a series" if part.type.axes else "one value"
            hint = "name the series without a label" if parameter.series else "name one label of it in brackets"
            scope.say("wrong-kind", f"`{parameter.name}` of `{calc.name}` takes {wanted}, not {got}", span, hint=hint)
            return None
        if len(part.type.axes) > 1:
            scope.say("wrong-kind", f"`{parameter.name}` of `{calc.name}` takes a series over one set of labels", span)
            return None
        if part.type.axes:
            axes[parameter.name] = part.type.axes[0]
            if parameter.labels and set(parameter.labels) != set(part.type.axes[0]):
                scope.say(
                    "wrong-labels",
                    f"`{parameter.name}` of `{calc.name}` takes the readings {' and '.join(parameter.labels)}",
                    span,
                    hint=f"measure it as `[{', '.join(parameter.labels)}]`",
                )
                return None
        if parameter.whole:
            whole = _whole_literal(argument.value, scope)
            if whole is None:
                scope.say(
                    "not-whole", f"`{parameter.name}` of `{calc.name}` is a whole number written in the procedure", span
                )
                return None
            counts[parameter.name] = whole
        dims[parameter.name] = part.type.dimension
        functions.append(part.evaluate)
    gives = result_dimensions(calc, dims)
    if isinstance(gives, Problem):
        scope.say(gives.code, gives.message, _blame(gives, given, node), hint=gives.hint)
        return None
    types = tuple(
        Amount(dimension, _result_axes(result.labels, counts, axes))
        for result, dimension in zip(calc.results, gives, strict=True)
    )
    run = prepare(calc, dims)
    fixed = tuple(functions)
    single = len(types) == 1

    def evaluate(env: Env) -> Value:
        outcome = run(*(f(env) for f in fixed))
        if isinstance(outcome, Problem):
            raise NotKnown(outcome.message)
        return outcome[0] if single else cast(Value, outcome)

    unit = next(
        (p.unit for p, _ in given.values() if p.unit is not None and p.unit.dimension == types[0].dimension), None
    )
    return Part(types[0], evaluate, unit, types=() if single else types)


def _blame(problem: Problem, given: dict[str, tuple[Part, n.Argument]], node: n.Call) -> Span:
    """The argument a problem names, or the whole call."""
    for name, (_, argument) in given.items():
        if problem.message.startswith(f"`{name}` of"):
            return argument.value.span
    return node.span


def _result_axes(
    labels: str | None, counts: dict[str, int], axes: dict[str, tuple[str, ...]]
) -> tuple[tuple[str, ...], ...]:
    if labels is None:
        return ()
    if labels in counts:
        return (tuple(str(i) for i in range(1, counts[labels] + 1)),)
    return (axes[labels],)


def _whole_literal(node: n.Expression, scope: Scope) -> int | None:
    if not isinstance(node, n.Literal):
        return None
    from proclang.text.limits import LABELS_IN_A_SET

    try:
        value = int(node.number.typed)
    except ValueError:
        return None
    return value if 1 <= value <= LABELS_IN_A_SET else None


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


def _binary(node: n.Binary, scope: Scope) -> Part | None:
    left, right = _compile(node.left, scope), _compile(node.right, scope)
    if node.operator in ("and", "or"):
        return _logic(node, left, right, scope)
    if left is None or right is None:
        return None
    for part, side in ((left, node.left), (right, node.right)):
        if part.types or not isinstance(part.type, Amount) or part.type.axes:
            what = "several results" if part.types else part.type.describe()
            hint = "use `mean`, `sum` or one label of it" if isinstance(part.type, Amount) else ""
            scope.say(
                "wrong-kind", f"`{node.operator}` works on single quantities, not on {what}", side.span, hint=hint
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
    factor = DEGREES_PER_RADIAN**turns

    def evaluate(env: Env) -> Fraction:
        try:
            value = arithmetic(f(env), g(env))
            return bounded(value * factor if turns else value)
        except ZeroDivisionError:
            raise NotKnown("it would divide by zero") from None
        except NumberError as error:
            raise NotKnown(error.problem.message) from None

    return Part(Amount(result), evaluate, unit)


def _unit_hint(node: n.Binary, a: Dimension, b: Dimension) -> str:
    bare = [side for side, d in ((node.left, a), (node.right, b)) if isinstance(side, n.Literal) and d.is_number]
    return f"write the unit after `{bare[0].number.typed}`" if bare else ""


def _logic(node: n.Binary, left: Part | None, right: Part | None, scope: Scope) -> Part | None:
    for part, side in ((left, node.left), (right, node.right)):
        if part is not None and not isinstance(part.type, Truth):
            scope.say("not-a-condition", f"`{node.operator}` joins conditions, not {part.type.describe()}", side.span)
            return None
    if left is None or right is None:
        return None
    f, g = left.evaluate, right.evaluate
    if node.operator == "and":
        return Part(Truth(), lambda env: bool(f(env)) and bool(g(env)))
    return Part(Truth(), lambda env: bool(f(env)) or bool(g(env)))


def _unary(node: n.Unary, scope: Scope) -> Part | None:
    inner = _compile(node.operand, scope)
    if inner is None:
        return None
    f = inner.evaluate
    if node.operator == "not":
        if not isinstance(inner.type, Truth):
            scope.say(
                "not-a-condition", f"`not` turns a condition round, not {inner.type.describe()}", node.operand.span
            )
            return None
        return Part(Truth(), lambda env: not f(env))
    if inner.types or not isinstance(inner.type, Amount) or inner.type.axes:
        scope.say("wrong-kind", f"`-` works on a single quantity, not on {inner.type.describe()}", node.operand.span)
        return None
    result = dim.negate(inner.type.dimension)
    if isinstance(result, Problem):
        scope.say(result.code, result.message, node.span, hint=result.hint)
        return None
    return Part(Amount(result), lambda env: -cast(Fraction, f(env)), inner.unit)


def _power(node: n.Power, scope: Scope) -> Part | None:
    base = _compile(node.base, scope)
    exponent = scope.whole(node.exponent, 0, dim.GREATEST_POWER, "a power")
    if base is None or exponent is None:
        return None
    if base.types or not isinstance(base.type, Amount) or base.type.axes:
        scope.say("wrong-kind", f"`^` works on a single quantity, not on {base.type.describe()}", node.base.span)
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


def _judged(node: n.Judged, scope: Scope) -> Part | None:
    part = _compile(node.value, scope)
    if part is None:
        return None
    symbol, key = part.symbol, part.key
    if symbol is None or key is None or not symbol.facets.judged:
        scope.say(
            "not-judged",
            f"`{expression_text(node.value)}` has no tolerance, so it neither passes nor fails",
            node.value.span,
            hint="give it one where it is measured or computed, such as `at most 2 arcmin`",
        )
        return None
    name, outcome = symbol.name, node.outcome
    return Part(Truth(), lambda env: env.outcome(name, key(env)) == outcome)


def _being(node: n.Being, scope: Scope) -> Part | None:
    part = _compile(node.value, scope)
    if part is None:
        return None
    label = node.label.text
    if not isinstance(part.type, Choice):
        if isinstance(part.type, Words):
            scope.say(
                "wrong-kind", "a text is not compared", node.value.span, hint="use `choose` where the answer decides"
            )
        else:
            scope.say(
                "wrong-kind",
                f"`is` compares a choice with one of its labels, not {part.type.describe()}",
                node.value.span,
            )
        return None
    if label not in part.type.options:
        scope.say(
            "unknown-label",
            f"`{expression_text(node.value)}` is never `{label}`",
            node.label.span,
            hint=did_you_mean(label, part.type.options) or f"it is one of {', '.join(part.type.options[:8])}",
        )
        return None
    f = part.evaluate
    return Part(Truth(), lambda env: f(env) == label)
