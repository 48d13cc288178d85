"""`perform`: what is handed to another procedure, and what it gives back."""

from __future__ import annotations

import attrs

from proclang.program import model as m
from proclang.program.formula import compile_formula
from proclang.program.lowering import Lowering
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Label
from proclang.text.span import Span
from proclang.text.suggest import did_you_mean
from proclang.values.dimension import mismatch_hint


def lower_perform(low: Lowering, node: n.Perform) -> None:
    """A procedure that could not be had has been complained about; what it would give is not asked after."""
    low.take(node.name, "performed procedure")
    low.former(node.name, node.former)
    routine = low.routines.get(node.procedure.text)
    other = low.others.get(node.procedure.text)
    silent = low.scope.excused | (other.excused if other is not None else set())
    if other is not None and "value" in other.hidden:
        silent |= {part.name.text for part in node.parts if not isinstance(part, n.Broken)}
    arguments: list[tuple[m.Symbol, m.Formula]] = []
    given: dict[str, Span] = {}
    for part in node.parts:
        if isinstance(part, n.With):
            argument = _argument(low, node, part, routine, given, silent)
            if argument is not None:
                arguments.append(argument)
    gives: list[tuple[str, m.Symbol]] = []
    for part in node.parts:
        if isinstance(part, n.Take):
            taken = _taken_result(low, node, part, routine, silent)
            if taken is not None:
                gives.append(taken)
    if routine is None:
        return
    _check_machine(low, node, routine)
    low.emit(
        m.Call(
            routine=node.procedure.text,
            name=node.name.text,
            arguments=tuple(arguments),
            gives=tuple(gives),
            **low.where(node, node.name.text),
        )
    )


def _argument(
    low: Lowering, node: n.Perform, part: n.With, routine: m.Routine | None, given: dict[str, Span], silent: set[str]
) -> tuple[m.Symbol, m.Formula] | None:
    formula = compile_formula(part.value, low.scope)
    if part.name.text in given:
        also = (Label(given[part.name.text], "first here"),)
        low.scope.say("twice", f"`{part.name}` is given twice", part.name.span, also=also)
        return None
    given[part.name.text] = part.name.span
    if routine is None:
        return None
    symbol = next((s for s in routine.inputs if s.name == part.name.text), None)
    if symbol is None:
        if part.name.text not in silent:
            low.scope.say(
                "unknown-input",
                f"`{node.procedure}` has no input `{part.name}`",
                part.name.span,
                hint=did_you_mean(part.name.text, [s.name for s in routine.inputs]),
            )
        return None
    if formula is None:
        return None
    if not _fits(formula.type, symbol.type):
        got, wanted = formula.type, symbol.type
        hint = ""
        if isinstance(got, m.Amount) and isinstance(wanted, m.Amount):
            hint = mismatch_hint(got.dimension, wanted.dimension)
        low.scope.say(
            "dimension-mismatch",
            f"`{part.name}` of `{node.procedure}` is {wanted.describe()}; this is {got.describe()}",
            part.value.span,
            hint=hint,
        )
        return None
    return symbol, formula


def _fits(got: m.Type, wanted: m.Type) -> bool:
    """A choice may be handed on where every label it can have is known there."""
    if isinstance(got, m.Choice) and isinstance(wanted, m.Choice):
        return set(got.options) <= set(wanted.options)
    return got == wanted


def _taken_result(
    low: Lowering, node: n.Perform, part: n.Take, routine: m.Routine | None, silent: set[str]
) -> tuple[str, m.Symbol] | None:
    into = part.into or part.name
    if routine is not None and part.name.text not in routine.gives and part.name.text not in silent:
        low.scope.say(
            "unknown-result",
            f"`{node.procedure}` gives no `{part.name}`",
            part.name.span,
            hint=did_you_mean(part.name.text, routine.gives)
            or f"it says what it gives in its header: `gives {part.name}`",
        )
    inner = routine.symbols.get(part.name.text) if routine is not None else None
    if routine is None or inner is None or part.name.text not in routine.gives:
        low.declare_unknown(into)
        return None
    symbol = attrs.evolve(inner, name=into.text, how="given", span=into.span, former=None)
    low.declare(symbol, into)
    return part.name.text, symbol


def _check_machine(low: Lowering, node: n.Perform, routine: m.Routine) -> None:
    """Hardware is one for the whole run: who performs a procedure that works on a machine names that machine too."""
    if routine.machine is None or (low.machine is None and low.machine_named):
        return
    if low.machine is None:
        low.scope.say(
            "machine-not-named",
            f"`{node.procedure}` works on the machine `{routine.machine.name}`, which this procedure does not name",
            node.procedure.span,
            hint=f"add `machine {routine.machine.name}` to the header, with the states it is found in",
        )
    elif routine.machine.name != low.machine.name:
        low.scope.say(
            "other-machine",
            f"`{node.procedure}` works on the machine `{routine.machine.name}`, this procedure on `{low.machine.name}`",
            node.procedure.span,
        )
