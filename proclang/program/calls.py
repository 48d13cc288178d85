"""Built-in calculations in an expression: arguments bound to parameters, dimensions proved, conversions folded in."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import cast

from proclang.field import declare as field_value
from proclang.field import registry
from proclang.field.declare import Calculation, Parameter
from proclang.field.door import bind, prepare, prepare_own, result_dimensions
from proclang.program.part import Evaluate, Part
from proclang.program.scope import Scope
from proclang.program.types import Amount, Choice, Env, NotKnown, Value
from proclang.syntax import nodes as n
from proclang.syntax.printer import expression as expression_text
from proclang.text.diagnostic import Problem
from proclang.text.limits import LABELS_IN_A_SET
from proclang.text.span import Span
from proclang.text.suggest import did_you_mean
from proclang.values.dimension import NUMBER, Dimension
from proclang.values.unit import Unit, find_unit


def call(node: n.Call, compile_argument: Callable[[n.Expression], Part | None], scope: Scope) -> Part | None:
    """A built-in applied to its arguments; None after having said what is wrong."""
    calc = registry.find(node.name.text)
    if calc is None:
        for argument in node.arguments:
            compile_argument(argument.value)
        if node.name.text not in scope.excused:
            scope.say(
                "unknown-calculation",
                f"there is no calculation called `{node.name}`",
                node.name.span,
                hint=did_you_mean(node.name.text, registry.names()),
            )
        return None
    positional = sum(1 for a in node.arguments if a.name is None)
    named = [a.name.text for a in node.arguments if a.name is not None]
    if any(a.name is None for a in node.arguments[positional:]):
        scope.say("bad-argument", "arguments without a name come first", node.span)
        return None
    bound = bind(calc, positional, named)
    if isinstance(bound, Problem):
        scope.say(bound.code, bound.message, node.span, hint=bound.hint)
        return None
    parts: list[Part | None] = []
    for name, argument in zip(bound, node.arguments, strict=True):
        parameter = calc.parameter(name)
        assert parameter is not None
        if parameter.choices:
            parts.append(_word(calc, parameter, argument.value, compile_argument, scope))
        else:
            parts.append(compile_argument(argument.value))
    if any(part is None for part in parts):
        return None
    given = {
        name: (part, arg) for name, part, arg in zip(bound, cast("list[Part]", parts), node.arguments, strict=True)
    }
    return _bound_call(calc, node, given, scope)


def _word(
    calc: Calculation,
    parameter: Parameter,
    node: n.Expression,
    compile_argument: Callable[[n.Expression], Part | None],
    scope: Scope,
) -> Part | None:
    """A word for a parameter that takes one: written bare, or a choice that is never anything else."""
    if isinstance(node, n.Reference) and not node.labels and scope.symbols.get(node.name.text) is None:
        word = node.name.text
        if scope.loop_labels(word) is None:
            if word in parameter.choices:
                scope.words.add(node.span)
                return Part(Choice((word,)), lambda env: word)
            message = f"`{parameter.name}` of `{calc.name}` is never `{word}`"
            scope.say_unlisted("unknown-label", message, node.span, word, parameter.choices)
            return None
    part = compile_argument(node)
    if part is None:
        return None
    if not isinstance(part.type, Choice):
        words = ", ".join(parameter.choices)
        message = f"`{parameter.name}` of `{calc.name}` is one of {words}, not {part.kind}"
        scope.say("wrong-kind", message, node.span)
        return None
    strange = [option for option in part.type.options if option not in parameter.choices]
    if strange:
        message = f"`{parameter.name}` of `{calc.name}` is never `{strange[0]}`, which `{expression_text(node)}` may be"
        scope.say_unlisted("unknown-label", message, node.span, strange[0], parameter.choices)
        return None
    return part


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
        if parameter.choices:
            dims[parameter.name] = NUMBER
            functions.append(part.evaluate)
            continue
        if part.types or not isinstance(part.type, Amount):
            scope.say("wrong-kind", f"`{parameter.name}` of `{calc.name}` takes a quantity, not {part.kind}", span)
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
            whole = _whole_literal(argument.value)
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
    fixed = cast("tuple[Callable[[Env], field_value.Value], ...]", tuple(functions))
    single = len(types) == 1

    own = prepare_own(calc, dims)

    def evaluate(env: Env) -> Value:
        given = tuple(f(env) for f in fixed)
        outcome = run(*given)
        if isinstance(outcome, Problem):
            raise NotKnown(outcome.message)
        off = env.off(calc.name) if own is not None else 0.0
        if own is not None and off:
            sizes = own(*given)
            outcome = tuple(
                x + Fraction(off * size) if isinstance(x, Fraction) else x
                for x, size in zip(outcome, sizes, strict=True)
            )
        return outcome[0] if single else cast(Value, outcome)

    unit = _shown_in(calc) or next(
        (p.unit for p, _ in given.values() if p.unit is not None and p.unit.dimension == types[0].dimension), None
    )
    return Part(types[0], evaluate, unit, types=() if single else types)


def _shown_in(calc: Calculation) -> Unit | None:
    """The unit the declaration asks for; a turn of a nut is not read in the arcminutes of the tilt it mends."""
    found = find_unit(calc.results[0].unit) if calc.results[0].unit else None
    return found if isinstance(found, Unit) else None


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


def _whole_literal(node: n.Expression) -> int | None:
    if not isinstance(node, n.Literal):
        return None
    try:
        value = int(node.number.typed)
    except ValueError:
        return None
    return value if 1 <= value <= LABELS_IN_A_SET else None
