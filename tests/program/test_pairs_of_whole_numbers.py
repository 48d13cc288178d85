"""Formulas are worked out on pairs of whole numbers; the values are those of fractions, sign by sign."""

from __future__ import annotations

import ast
import operator
from collections.abc import Callable
from fractions import Fraction

import attrs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lowering_help import routine

from proclang.program import model as m
from proclang.values.number import NumberError, bounded

SIGNS: dict[type, Callable[[Fraction, Fraction], Fraction]] = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv,
}  # fmt: skip
VALUES = {"a": "7/3", "b": "-0.0125", "c": "1000000007", "d": "0"}
HEAD = """\
proclang 1
procedure trial "Trial"
inputs
""" + "".join(f"  {name}: number = 1\n" for name in VALUES)


@attrs.frozen
class Given:
    """The values, without a detour over text."""

    values: dict[str, Fraction]

    def amount(self, name: str, key: str) -> Fraction:
        return self.values[name]


def oracle(text: str, values: dict[str, str]) -> Fraction:
    """The expression as Python's own parser and the fractions of the standard library have it, rounded after each sign
    as `bounded` rounds what grows past 60 digits."""

    def walk(node: ast.expr) -> Fraction:
        if isinstance(node, ast.BinOp):
            return bounded(SIGNS[type(node.op)](walk(node.left), walk(node.right)))
        if isinstance(node, ast.UnaryOp):
            return -walk(node.operand)
        if isinstance(node, ast.Name):
            return Fraction(values[node.id])
        assert isinstance(node, ast.Constant)
        return Fraction(str(node.value))

    return walk(ast.parse(text, mode="eval").body)


def formula(text: str) -> m.Formula:
    """The formula of an expression of a, b, c and d."""
    return next(
        i for i in routine(f"compute result = {text}", header=HEAD).code if isinstance(i, m.ComputeValue)
    ).formula


TERMS = st.recursive(
    st.sampled_from([*VALUES, "2", "0.3", "12.5", "0", "3e9", "7e90", "1e-90", "-b"]),
    lambda inner: st.tuples(inner, st.sampled_from("+-*/"), inner).map(lambda x: f"({x[0]} {x[1]} {x[2]})"),
    max_leaves=12,
)


@settings(max_examples=200, deadline=None)
@given(TERMS)
def test_a_formula_is_what_fractions_give_sign_by_sign_also_where_they_are_rounded(text: str):
    given_values = Given({name: Fraction(value) for name, value in VALUES.items()})
    try:
        wanted = oracle(text, VALUES)
    except (NumberError, ZeroDivisionError):
        with pytest.raises(m.NotKnown):
            formula(text).evaluate(given_values)
        return
    assert formula(text).evaluate(given_values) == wanted


@pytest.mark.parametrize(
    "text",
    [
        "a * 1e90 * 1e90 / 1e90 / 1e90",
        "a * 1e90 * 1e90 * 1e90 * 1e90 * 1e90 * 0",
        "(a + 1e-90) * 1e90 - a * 1e90",
        "c * c * c * c * c * c * c * c / c / c / c / c / c / c / c",
        "1 / a / 1e90 / 1e90 / a",
        "b / -b",
        "-(-b)",
        "0 / a + 0 * b",
    ],
)
def test_long_numbers_are_rounded_where_they_always_were(text: str):
    given_values = Given({name: Fraction(value) for name, value in VALUES.items()})
    try:
        wanted = oracle(text, VALUES)
    except NumberError:
        with pytest.raises(m.NotKnown, match="too large"):
            formula(text).evaluate(given_values)
        return
    assert formula(text).evaluate(given_values) == wanted


def test_a_divisor_of_nothing_is_said_and_not_worked_around():
    given_values = Given({name: Fraction(value) for name, value in VALUES.items()})
    for text in ("a / d", "a / (b - b)", "a / 0", "1 / 0 * d", "a / (0 * b)"):
        with pytest.raises(m.NotKnown, match="divide by zero"):
            formula(text).evaluate(given_values)
