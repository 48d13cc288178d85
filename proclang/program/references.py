"""Names in an expression: a value, a series or one label of it, a column of a table, the label a loop stands at."""

from __future__ import annotations

from proclang.field.declare import Series
from proclang.program.declared import Symbol
from proclang.program.part import Key, Part
from proclang.program.rational import Rational
from proclang.program.scope import Column, Scope
from proclang.program.types import Amount, Choice
from proclang.syntax import nodes as n


def reference(node: n.Reference, scope: Scope) -> Part | None:
    """The part a name stands for, or None after having said what is wrong."""
    name = node.name.text
    labels = scope.loop_labels(name)
    if labels is not None:
        scope.used.add(name)
        if node.labels:
            scope.say("no-labels", f"`{name}` is where the loop stands and has no labels", node.span)
            return None
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
    if not _complete(node, symbol, scope):
        return None
    if not node.labels:
        if kind.axes:
            return Part(kind, lambda env: env.series(name), symbol.unit, symbol, lambda env: "")
        pair = Rational(lambda env: env.amount(name, "").as_integer_ratio(), 1, 1)
        return Part(kind, lambda env: env.amount(name, ""), symbol.unit, symbol, lambda env: "", rational=pair)
    if not _labels_fit(node, kind.axes, scope):
        return None
    key = key_function(*label_keys(node.labels, scope))
    return Part(Amount(kind.dimension), lambda env: env.amount(name, key(env)), symbol.unit, symbol, key)


def label_keys(written: tuple[n.Label, ...], scope: Scope) -> tuple[list[str], list[bool]]:
    """Each bracketed label as text, and whether it is a loop variable here."""
    texts: list[str] = []
    variables: list[bool] = []
    for label in written:
        if isinstance(label, n.Name):
            variable = scope.loop_labels(label.text) is not None
            if variable:
                scope.used.add(label.text)
            texts.append(label.text)
            variables.append(variable)
        else:
            # A number is read like a label of a set, so that `[01]` and `[1]` are one label.
            texts.append(label.typed.lstrip("0") or "0" if isinstance(label, n.Number) else "")
            variables.append(False)
    return texts, variables


def key_function(texts: list[str], variables: list[bool]) -> Key:
    """From the labels written to the key they stand for when evaluated."""
    if not any(variables):
        fixed = ",".join(texts)
        return lambda env: fixed
    pairs = tuple(zip(texts, variables, strict=True))
    return lambda env: ",".join(env.label(t) if v else t for t, v in pairs)


def _complete(node: n.Reference, symbol: Symbol, scope: Scope) -> bool:
    """Inside the loop that sets a series label by label, only the label it stands at is there for certain."""
    serials = scope.axes_from.get(symbol.name, ())
    for position, serial in enumerate(serials):
        loop = next((x for x in scope.loops if x.serial == serial), None)
        if loop is None:
            continue
        label = node.labels[position] if position < len(node.labels) else None
        if isinstance(label, n.Name) and scope.through(label.text) is loop:
            continue
        scope.say(
            "not-complete",
            f"`{symbol.name}` has all its labels only after the loop that sets them",
            node.span,
            hint=f"use it after the loop, or use the label the loop stands at: `{symbol.name}[{loop.variable}]`",
        )
        return False
    return True


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
        if isinstance(label, n.LabelRange):
            scope.say("label-range", "one label is wanted here, not a range", label.span)
            fits = False
            continue
        through = scope.loop_labels(text) if variable else (text,)
        strange = [x for x in through or () if x not in axis]
        if strange:
            if axis and text not in scope.excused:
                message = f"`{name}` has no label `{strange[0]}`"
                scope.say_unlisted("unknown-label", message, label.span, strange[0], axis)
            fits = False
    return fits


def _column(node: n.Reference, column: Column, scope: Scope) -> Part | None:
    scope.used.add(node.name.text)
    scope.used.add(column.table)
    values = {label: q.value for label, q in column.values.items()}
    dimension = column.unit.dimension
    labels = tuple(values)
    if not node.labels:
        whole = Series(tuple(values.items()))
        return Part(Amount(dimension, (labels,)), lambda env: whole, column.unit)
    if not _labels_fit(node, (labels,), scope):
        return None
    key = key_function(*label_keys(node.labels, scope))
    return Part(Amount(dimension), lambda env: values[key(env)], column.unit)
