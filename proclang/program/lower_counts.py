"""Counts of what is brought to the machine and has to come away from it: tools, caps, rags, bolts.

What is counted is an item in one of two states, out or back. It comes back by a count and by nothing else: a number of
pieces that has to agree exactly, with nobody to accept another.
"""

from __future__ import annotations

from fractions import Fraction

from proclang.program import model as m
from proclang.program.formula import compile_condition
from proclang.program.lowering import Lowering
from proclang.program.machine import known_state, resolve_place
from proclang.program.scope import read_number
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Problem


def lower_counts(
    low: Lowering, facets: tuple[n.Facet | n.Broken, ...], symbol: m.Symbol, labels: tuple[n.Label, ...]
) -> None:
    """`counts ITEM out` and `counts ITEM back` under a value. Where a line of the procedure asks for the verdict of the
    value, they are back where it passes."""
    for node in facets:
        if isinstance(node, n.Counts):
            low.counts[symbol.name] = (facets, labels)
            _lower(low, node, facets, symbol, labels, handled=symbol.name in low.judged, told=True)


def lower_counts_again(low: Lowering, symbol: m.Symbol, handled: bool) -> None:
    """A value that counts something is read, or computed, once more: it counts once more. What is not `handled` by a
    line that asks for its verdict has passed where the procedure goes on."""
    facets, labels = low.counts.get(symbol.name, ((), ()))
    for node in facets:
        if isinstance(node, n.Counts):
            _lower(low, node, facets, symbol, labels, handled=handled, told=False)


def _lower(
    low: Lowering,
    node: n.Counts,
    facets: tuple[n.Facet | n.Broken, ...],
    symbol: m.Symbol,
    labels: tuple[n.Label, ...],
    *,
    handled: bool,
    told: bool,
) -> None:
    machine = low.machine
    if machine is None:
        if not low.machine_named and node.place.name.text not in low.scope.excused:
            hint = "add `machine NAME` to its header"
            low.scope.say("no-machine", "this procedure names no machine, so nothing is counted", node.span, hint=hint)
        return
    place = resolve_place(node.place, machine.name, machine.items, low.scope)
    if place is None or not known_state(place, node.state, machine.items, low.scope):
        return
    wrong = _wrong(node, facets, symbol, machine.items[place.item])
    if wrong and told:
        low.scope.say("loose-count", wrong[0], node.span, hint=wrong[1])
    where = low.where(node, f"counts_{place.text}", unnamed=True)
    instr = m.NowInstr(place=place, state=node.state.text, ensure=low.stopping, **where)
    asked = node.state.text == m.BACK and handled
    passes = n.Judged(
        n.Reference(n.Name(symbol.name, span=node.span), labels, span=node.span), "passes", span=node.span
    )
    condition = compile_condition(passes, low.scope) if asked else None
    if condition is None:
        low.emit(instr)
        return
    branch = low.emit(m.Branch(condition=condition, otherwise=0, silent=True, **low.where(node, "agrees")))
    low.emit(instr)
    low.patch(branch, otherwise=low.here)


def _wrong(
    node: n.Counts, facets: tuple[n.Facet | n.Broken, ...], symbol: m.Symbol, item: m.MachineItem
) -> tuple[str, str] | None:
    """What a count does not show, and how it would."""
    if item.kind != m.COUNTED:
        return f"`{item.name}` is not counted", f"a machine file says what is: `counted {item.name}`"
    if not isinstance(symbol.type, m.Amount) or not symbol.type.dimension.is_number:
        return f"`{symbol.name}` is not a number of pieces", "a count is read in pieces"
    if node.state.text != m.BACK or any(isinstance(x, n.Broken) for x in facets):
        return None
    if not any(isinstance(x, n.WithinAround) and _nothing(x.half) for x in facets):
        return "a count that shows that all is back has to agree exactly", "write `within ... ± 0 pieces`"
    if not symbol.facets.no_deviation:
        return "a count that shows that all is back is accepted by nobody otherwise", "write `no deviation`"
    return None


def _nothing(half: n.Expression) -> bool:
    if not isinstance(half, n.Literal):
        return False
    entered = read_number(half.number.typed)
    return not isinstance(entered, Problem) and entered.quantity.value == Fraction(0)
