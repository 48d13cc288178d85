"""The header of a procedure: inputs, labels, tables, needs, and the hardware it finds and leaves."""

from __future__ import annotations

from typing import cast

import attrs

from proclang.program.facets import bound_value, compile_facets, display_unit, plain_text
from proclang.program.machine import known_state, resolve_place
from proclang.program.model import Amount, Choice, Env, FoundLeft, Instrument, Machine, Symbol, Words
from proclang.program.scope import Column, Scope
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Label
from proclang.text.limits import LABELS_IN_A_SET
from proclang.text.span import Span
from proclang.text.suggest import did_you_mean
from proclang.values import dimension as dim
from proclang.values.dimension import NAMED, Dimension
from proclang.values.quantity import Quantity
from proclang.values.unit import Unit


@attrs.define
class Needs:
    """What the `needs` block declares."""

    instruments: dict[str, Instrument] = attrs.field(factory=dict)
    tools: list[tuple[str, str]] = attrs.field(factory=list)
    parts: list[tuple[str, str, str]] = attrs.field(factory=list)
    crew: list[str] = attrs.field(factory=list)
    authority: list[str] = attrs.field(factory=list)
    where: dict[str, Span] = attrs.field(factory=dict)


def resolve_inputs(tree: n.File, scope: Scope) -> tuple[Symbol, ...]:
    """The inputs, in order; each is certain from the first line on."""
    inputs: list[Symbol] = []
    for block in tree.all(n.Inputs):
        for item in block.items:
            if isinstance(item, n.Broken):
                continue
            symbol = _input(item, scope)
            if symbol is None:
                continue
            if item.name.text in scope.symbols:
                first = scope.symbols[item.name.text].span
                scope.say(
                    "duplicate-name",
                    f"there is an input `{item.name}` already",
                    item.name.span,
                    also=(Label(first, "first here"),),
                )
                continue
            scope.symbols[symbol.name] = symbol
            scope.certain.add(symbol.name)
            inputs.append(symbol)
    return tuple(inputs)


def _input(item: n.Input, scope: Scope) -> Symbol | None:
    title = plain_text(item.title, scope) if item.title is not None else ""
    former = item.former.text if item.former is not None else None
    if item.kind.choices:
        options = tuple(c.text for c in item.kind.choices)
        default = item.default
        if default is not None and not (isinstance(default, n.Reference) and default.name.text in options):
            scope.say("unknown-label", f"`{item.name}` is one of {', '.join(options)}", default.span)
            return None
        chosen = default.name.text if isinstance(default, n.Reference) else None
        return Symbol(
            item.name.text, Choice(options), "input", item.name.span, title=title, former=former, default=chosen
        )
    if [w.text for w in item.kind.words] == ["text"]:
        if item.default is not None:
            scope.say("text-default", "a text from the site has no default", item.default.span)
        return Symbol(item.name.text, Words(), "input", item.name.span, title=title, former=former)
    dimension = _dimension(item.kind, scope)
    if dimension is None:
        return None
    value: Quantity | None = None
    unit: Unit = display_unit(dimension)
    if item.default is not None:
        if not isinstance(item.default, n.Literal):
            scope.say("not-a-number", "a default is a number with its unit", item.default.span)
            return None
        entered = scope.quantity(item.default.number)
        bound = bound_value(item.default, dimension, None, scope) if entered is not None else None
        if entered is None or bound is None:
            return None
        value = bound(cast(Env, None))
        if entered.unit.dimension == dimension:
            unit = entered.unit
    facets = compile_facets(item.facets, dimension, unit, scope, series=False)
    return Symbol(
        item.name.text, Amount(dimension), "input", item.name.span, unit, facets, title, former=former, default=value
    )


def _dimension(kind: n.Kind, scope: Scope) -> Dimension | None:
    result: Dimension | None = None
    for word in kind.words:
        part = NAMED.get(word.text)
        if part is None:
            if word.text not in scope.excused:
                scope.say(
                    "unknown-dimension",
                    f"`{word}` is not a kind of quantity",
                    word.span,
                    hint=did_you_mean(word.text, [*NAMED, "text"])
                    or "write length, angle, torque, `length per angle`, ...",
                )
            return None
        if result is None:
            result = part
        else:
            quotient = dim.divide(result, part)
            if not isinstance(quotient, Dimension):
                scope.say_problem(quotient, word.span)
                return None
            result = quotient
    return result


def resolve_labels(tree: n.File, scope: Scope) -> None:
    """Label sets and tables; a table is a label set too, of its rows."""
    where: dict[str, Span] = {}

    def once(name: n.Name) -> None:
        if name.text in where or name.text in scope.symbols:
            first = where.get(name.text) or scope.symbols[name.text].span
            scope.say("duplicate-name", f"`{name}` is declared already", name.span, also=(Label(first, "first here"),))
        where.setdefault(name.text, name.span)

    for labels in tree.all(n.Labels):
        once(labels.name)
        scope.label_sets[labels.name.text] = scope.labels(labels.labels, LABELS_IN_A_SET)
    for table in tree.all(n.Table):
        once(table.name)
        rows = [row for row in table.rows if isinstance(row, n.Row)]
        scope.label_sets[table.name.text] = scope.labels(tuple(row.label for row in rows), LABELS_IN_A_SET)
        for index, column in enumerate(table.columns):
            once(column)
            _column(table, rows, index, column, scope)


def _column(table: n.Table, rows: list[n.Row], index: int, column: n.Name, scope: Scope) -> None:
    values: dict[str, Quantity] = {}
    unit: Unit | None = None
    for row in rows:
        if len(row.cells) != len(table.columns):
            if index == 0:
                scope.say(
                    "row-length",
                    f"this row has {len(row.cells)} values; the table has {len(table.columns)} columns",
                    row.span,
                )
            continue
        entered = scope.quantity(row.cells[index])
        if entered is None:
            continue
        if unit is not None and entered.quantity.dimension != unit.dimension:
            scope.say(
                "dimension-mismatch",
                f"`{row.cells[index].typed}` is {entered.quantity.dimension.phrase}; the column `{column}` holds "
                f"{unit.dimension.phrase}",
                row.cells[index].span,
            )
            continue
        unit = unit or entered.unit
        values[row.label.text if isinstance(row.label, n.Name) else getattr(row.label, "typed", "")] = entered.quantity
    if unit is not None and values:
        scope.columns[column.text] = Column(table.name.text, values, unit, column.span)


def resolve_needs(tree: n.File, scope: Scope) -> Needs:
    """Instruments, tools, parts, crew and authority."""
    needs = Needs()

    def once(name: n.Name) -> bool:
        if name.text in needs.where:
            scope.say(
                "duplicate-name",
                f"`{name}` is needed already",
                name.span,
                also=(Label(needs.where[name.text], "first here"),),
            )
            return False
        needs.where[name.text] = name.span
        return True

    for block in tree.all(n.Needs):
        for item in block.items:
            if isinstance(item, n.Instrument):
                once(item.name)
                needs.instruments[item.name.text] = _instrument(item, scope)
            elif isinstance(item, n.Tool):
                once(item.name)
                needs.tools.append((item.name.text, plain_text(item.title, scope)))
            elif isinstance(item, n.Part):
                once(item.name)
                if item.count is not None:
                    scope.whole(item.count, 1, 10_000, "a number of parts")
                needs.parts.append(
                    (item.name.text, plain_text(item.title, scope), item.count.typed if item.count is not None else "1")
                )
            elif isinstance(item, n.Crew):
                needs.crew.extend(role.text for role in item.roles if once(role))
    for block in tree.all(n.Needs):
        for item in block.items:
            if isinstance(item, n.Authority):
                for role in item.roles:
                    if role.text not in needs.crew and role.text not in scope.excused:
                        scope.say(
                            "unknown-role",
                            f"nobody in the crew is `{role}`",
                            role.span,
                            hint=did_you_mean(role.text, needs.crew),
                        )
                    needs.authority.append(role.text)
    return needs


_ABILITIES = {
    "reads to": "reads_to",
    "repeats to": "repeats_to",
    "accurate to": "accurate_to",
    "calibrated within": "calibrated_within",
}


def _instrument(item: n.Instrument, scope: Scope) -> Instrument:
    values: dict[str, Quantity] = {}
    for ability in item.abilities:
        field = _ABILITIES[ability.what]
        if field in values:
            scope.say("twice", f"`{ability.what}` stands here twice", ability.span)
        if not isinstance(ability.value, n.Literal):
            scope.say("not-a-number", f"`{ability.what}` takes a number with its unit", ability.value.span)
            continue
        entered = scope.quantity(ability.value.number)
        if entered is None:
            continue
        if field == "calibrated_within" and entered.quantity.dimension != dim.TIME:
            scope.say("dimension-mismatch", "a calibration interval is a time, such as `12 months`", ability.value.span)
            continue
        values[field] = entered.quantity
    return Instrument(item.name.text, plain_text(item.title, scope), **values)


def resolve_hardware(
    tree: n.File, machines: dict[str, Machine], scope: Scope
) -> tuple[Machine | None, tuple[FoundLeft, ...]]:
    """The machine a procedure works on, and what it finds and leaves."""
    machine: Machine | None = None
    found: list[FoundLeft] = []
    uses = tree.all(n.MachineUse)
    for extra in uses[1:]:
        scope.say(
            "twice", "a procedure works on one machine", extra.name.span, also=(Label(uses[0].name.span, "first here"),)
        )
    for use in uses[:1]:
        machine = machines.get(use.name.text)
        if machine is None:
            continue
        items = dict(machine.items)
        seen: dict[str, Span] = {}
        for line in use.items:
            if isinstance(line, n.Broken):
                continue
            place = resolve_place(line.place, machine.name, items, scope)
            if place is None:
                continue
            for key in place.keys():
                if key in seen:
                    scope.say(
                        "twice", f"`{key}` is declared already", line.span, also=(Label(seen[key], "first here"),)
                    )
                seen.setdefault(key, line.span)
            states = [s for s in (line.found, line.left) if s is not None]
            if all(known_state(place, s, items, scope) for s in states):
                found.append(
                    FoundLeft(
                        place,
                        line.found.text if line.found is not None else None,
                        line.left.text if line.left is not None else None,
                        line.span,
                    )
                )
    return machine, tuple(found)
