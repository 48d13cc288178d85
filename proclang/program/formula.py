"""Expressions: names looked up, dimensions proved, and the whole folded into one function of the values.

After this a formula is evaluated on exact fractions in base units without ever looking at a unit again. What can still
go wrong is a value that is not known or a sum that has no answer; both raise `NotKnown` with the reason.
"""

from __future__ import annotations

from proclang.program.calls import call
from proclang.program.operators import binary, power, unary
from proclang.program.part import Part
from proclang.program.rational import constant
from proclang.program.references import reference
from proclang.program.scope import Scope
from proclang.program.types import Amount, Choice, Formula, Truth, Type, Words
from proclang.syntax import nodes as n
from proclang.syntax.printer import expression as expression_text


def compile_formula(node: n.Expression, scope: Scope) -> Formula | None:
    """The formula of an expression with one result, or None after having said what is wrong."""
    part = compile_part(node, scope)
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
    return _formula(node, part, part.type, scope)


def compile_results(node: n.Expression, scope: Scope) -> tuple[Formula, tuple[Type, ...]] | None:
    """An expression that may have several results; its function then returns a tuple of them."""
    part = compile_part(node, scope)
    if part is None:
        return None
    types = part.types or (part.type,)
    return _formula(node, part, types[0], scope), types


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


def _formula(node: n.Expression, part: Part, kind: Type, scope: Scope) -> Formula:
    """With the names it asks for, and those of which it asks whether they pass or fail. Words given to a calculation
    are no names."""
    names: dict[str, None] = {}
    verdicts: dict[str, None] = {}
    calls: dict[str, None] = {}
    for sub in node.walk_holders():
        if isinstance(sub, n.Reference):
            if sub.span not in scope.words:
                names.setdefault(sub.name.text)
        elif isinstance(sub, n.Call):
            calls.setdefault(sub.name.text)
        elif isinstance(sub, n.Judged) and isinstance(sub.value, n.Reference):
            verdicts.setdefault(sub.value.name.text)
    return Formula(kind, part.evaluate, expression_text(node), tuple(names), part.unit, tuple(verdicts), tuple(calls))


def compile_part(node: n.Expression, scope: Scope) -> Part | None:
    """Any expression; None after having said what is wrong with it."""
    if isinstance(node, n.Literal):
        return _literal(node, scope)
    if isinstance(node, n.Reference):
        return reference(node, scope)
    if isinstance(node, n.Call):
        return call(node, lambda argument: compile_part(argument, scope), scope)
    if isinstance(node, n.Binary):
        return binary(node, compile_part(node.left, scope), compile_part(node.right, scope), scope)
    if isinstance(node, n.Unary):
        return unary(node, compile_part(node.operand, scope), scope)
    if isinstance(node, n.Power):
        return power(node, compile_part(node.base, scope), scope)
    if isinstance(node, n.Judged):
        return _judged(node, scope)
    return _being(node, scope)


def _literal(node: n.Literal, scope: Scope) -> Part | None:
    entered = scope.quantity(node.number)
    if entered is None:
        return None
    value = entered.quantity.value
    unit = entered.unit if entered.unit.symbol else None
    return Part(Amount(entered.quantity.dimension), lambda env: value, unit, rational=constant(value))


def _judged(node: n.Judged, scope: Scope) -> Part | None:
    part = compile_part(node.value, scope)
    if part is None:
        return None
    symbol, key = part.symbol, part.key
    if symbol is None or key is None or not symbol.facets.judged or symbol.name in scope.unjudged:
        if scope.shifted or (symbol is not None and symbol.name in scope.excused):
            return None
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
    part = compile_part(node.value, scope)
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
                f"`is` compares a choice with one of its labels, not {part.kind}",
                node.value.span,
            )
        return None
    if label not in part.type.options:
        if part.type.options:
            message = f"`{expression_text(node.value)}` is never `{label}`"
            scope.say_unlisted("unknown-label", message, node.label.span, label, part.type.options)
        return None
    f = part.evaluate
    return Part(Truth(), lambda env: f(env) == label)
