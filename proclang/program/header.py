"""The header of a procedure: inputs, labels, tables, needs, and the hardware it finds and leaves."""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from typing import cast

import attrs

from proclang.program.damage import orphans
from proclang.program.declared import Claim, FoundLeft, Instrument, Machine, Symbol
from proclang.program.display import display_unit
from proclang.program.facets import bound_value, compile_facets, coverage_factor
from proclang.program.machine import known_state, resolve_place
from proclang.program.scope import RESERVED, Column, Scope, once
from proclang.program.texts import plain_text
from proclang.program.types import Amount, Choice, Env, Words
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
    fewest: int = 0
    """How many people the author says there have to be at least."""

    apart: list[tuple[str, str, Span]] = attrs.field(factory=list)
    """Roles that are not held by one person."""

    authority: list[str] = attrs.field(factory=list)
    where: dict[str, Span] = attrs.field(factory=dict)


def resolve_inputs(tree: n.File, scope: Scope) -> tuple[Symbol, ...]:
    """The inputs, in order; each is certain from the first line on. One that cannot be read is excused elsewhere."""
    inputs: list[Symbol] = []
    first: dict[str, Span] = {}
    note = once(first, scope, "there is an input {} already")
    written = [item for block in tree.all(n.Inputs) for item in block.items if isinstance(item, n.Input)]
    for item in (*written, *orphans(tree, n.Input)):
        if not note(item.name):
            continue
        if item.name.text in RESERVED:
            scope.say("reserved-name", f"`{item.name}` is known without being declared", item.name.span)
            continue
        symbol = _input(item, scope)
        if symbol is None:
            scope.excused.add(item.name.text)
            continue
        scope.symbols[symbol.name] = symbol
        scope.certain.add(symbol.name)
        inputs.append(symbol)
    return tuple(inputs)


def _input(item: n.Input, scope: Scope) -> Symbol | None:
    title = plain_text(item.title, scope) if item.title is not None else ""
    former = item.former.text if item.former is not None else None
    if item.kind.choices:
        options = tuple(dict.fromkeys(c.text for c in item.kind.choices))
        if len(options) < len(item.kind.choices):
            scope.say("duplicate-label", f"a choice of `{item.name}` stands here twice", item.kind.span)
        elif len(options) < 2:
            scope.say("too-few-choices", "a choice has at least two different answers", item.kind.span)
        if item.facets:
            scope.say("wrong-kind", "a choice has no limits", item.facets[0].span)
        default = item.default
        if default is not None and not (isinstance(default, n.Reference) and default.name.text in options):
            hint = did_you_mean(default.name.text, options) if isinstance(default, n.Reference) else ""
            scope.say("unknown-label", f"`{item.name}` is one of {', '.join(options)}", default.span, hint=hint)
            return None
        chosen = default.name.text if isinstance(default, n.Reference) else None
        return Symbol(
            item.name.text, Choice(options), "input", item.name.span, title=title, former=former, default=chosen
        )
    if [w.text for w in item.kind.words] == ["text"]:
        if item.default is not None:
            scope.say("text-default", "a text from the site has no default", item.default.span)
        if item.facets:
            scope.say("wrong-kind", "a text has no limits", item.facets[0].span)
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
        bound = bound_value(item.default, dimension, None, scope)
        if bound is None:
            return None
        value = bound(cast(Env, None))
        entered = scope.quietly().quantity(item.default.number)
        assert entered is not None
        if entered.unit.dimension == dimension:
            unit = entered.unit
    for facet in item.facets:
        if isinstance(facet, n.Counts):
            scope.say_misplaced("an input counts nothing: it is known before the run", facet.span)
    facets = compile_facets(item.facets, dimension, scope, series=False)
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
    seen = {name: symbol.span for name, symbol in scope.symbols.items()}
    note = once(seen, scope, "{} is declared already")
    for labels in tree.all(n.Labels):
        note(labels.name)
        scope.label_sets.setdefault(labels.name.text, scope.labels(labels.labels, LABELS_IN_A_SET))
    for table in tree.all(n.Table):
        note(table.name)
        rows = [row for row in table.rows if isinstance(row, n.Row)]
        labels_here = scope.labels(tuple(row.label for row in rows), LABELS_IN_A_SET)
        scope.label_sets.setdefault(table.name.text, labels_here)
        short = [row for row in rows if len(row.cells) != len(table.columns)]
        for row in short:
            scope.say(
                "row-length",
                f"columns of the table: {len(table.columns)}; values in this row: {len(row.cells)}",
                row.span,
            )
        for index, column in enumerate(table.columns):
            if note(column):
                _column(table, rows, index, column, scope, damaged=bool(short))


def _column(table: n.Table, rows: list[n.Row], index: int, column: n.Name, scope: Scope, *, damaged: bool) -> None:
    """One column; with a cell that cannot be read it is not there, and nothing is said where it is missed."""
    values: dict[str, Quantity] = {}
    unit: Unit | None = None
    for row in rows:
        if index >= len(row.cells):
            continue
        entered = scope.quantity(row.cells[index])
        if entered is None:
            damaged = True
            continue
        if unit is not None and entered.quantity.dimension != unit.dimension:
            got, wanted = entered.quantity.dimension, unit.dimension
            scope.say(
                "dimension-mismatch",
                f"`{row.cells[index].typed}` is {got.phrase}; the column `{column}` holds {wanted.phrase}",
                row.cells[index].span,
                hint=dim.mismatch_hint(got, wanted),
            )
            damaged = True
            continue
        unit = unit or entered.unit
        for label in scope.quietly().labels((row.label,), LABELS_IN_A_SET):
            values[label] = entered.quantity
    if unit is None or damaged:
        scope.excused.add(column.text)
    else:
        scope.columns[column.text] = Column(table.name.text, values, unit, column.span)


def resolve_needs(tree: n.File, scope: Scope) -> Needs:
    """Instruments, tools, parts, crew and authority."""
    needs = Needs()
    note = once(needs.where, scope, "{} is needed already")
    written = [item for block in tree.all(n.Needs) for item in block.items if not isinstance(item, n.Broken)]
    lines: list[n.Node] = [*written]
    for kind in (n.Instrument, n.Tool, n.Part, n.Crew, n.Apart, n.Authority):
        lines.extend(orphans(tree, kind))
    for item in lines:
        if isinstance(item, n.Instrument):
            note(item.name)
            needs.instruments.setdefault(item.name.text, _instrument(item, scope))
        elif isinstance(item, n.Tool):
            note(item.name)
            needs.tools.append((item.name.text, plain_text(item.title, scope)))
        elif isinstance(item, n.Part):
            note(item.name)
            if item.count is not None:
                scope.whole(item.count, 1, 10_000, "a number of parts")
            count = item.count.typed if item.count is not None else "1"
            needs.parts.append((item.name.text, plain_text(item.title, scope), count))
        elif isinstance(item, n.Crew):
            needs.crew.extend(role.text for role in item.roles if note(role))
            needs.fewest = _people(item, scope) or needs.fewest
    for item in lines:
        if isinstance(item, n.Authority):
            needs.authority.extend(_roles(item.roles, needs, scope))
        elif isinstance(item, n.Apart):
            one, other = _roles((item.one, item.other), needs, scope)
            if one == other:
                scope.say("twice", f"`{item.one}` stands here twice", item.other.span, "name the two roles")
            else:
                needs.apart.append((one, other, item.span))
    return needs


def _roles(names: tuple[n.Name, ...], needs: Needs, scope: Scope) -> tuple[str, ...]:
    """Roles of the crew, named elsewhere in the needs."""
    for role in names:
        if role.text not in needs.crew:
            scope.say_unknown(
                "unknown-role",
                f"nobody in the crew is `{role}`",
                role,
                needs.crew,
                "declare the role in the line `crew`",
            )
    return tuple(role.text for role in names)


_PEOPLE = re.compile(r"([1-9][0-9]{0,3}) (?:people|person)")


def _people(item: n.Crew, scope: Scope) -> int:
    """How many people a crew is said to be at least."""
    if item.fewest is None:
        return 0
    said = _PEOPLE.fullmatch(item.fewest.typed)
    if said is None:
        scope.say("not-whole", "a number of people is wanted here", item.fewest.span, "write `at least 3 people`")
        return 0
    return int(said[1])


_ABILITIES = {
    "reads to": "reads_to",
    "repeats to": "repeats_to",
    "accurate to": "accurate_to",
    "accurate in all to": "accurate_to",
    "calibrated to": "calibrated_to",
    "drifts by": "drifts_by",
    "calibrated within": "calibrated_within",
}
_CLAIMS = ("repeats_to", "drifts_by", "accurate_to", "calibrated_to")


def _instrument(item: n.Instrument, scope: Scope) -> Instrument:
    values: dict[str, Quantity] = {}
    claims: dict[str, Claim] = {}
    in_all = False
    for ability in item.abilities:
        field = _ABILITIES[ability.what]
        if field in values or field in claims:
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
        if not entered.quantity.dimension.is_plain:
            message = (
                f"`{ability.what}` is an amount; `{ability.value.number.typed}` is {entered.quantity.dimension.phrase}"
            )
            hint = {
                dim.TEMPERATURE: "write a temperature difference in K",
                dim.INSTANT: "write a time, such as `2 s`",
            }.get(entered.quantity.dimension, "")
            scope.say("dimension-mismatch", message, ability.value.span, hint=hint)
            continue
        reads = values.get("reads_to")
        got = entered.quantity.dimension
        if reads is not None and field in _CLAIMS and got not in (reads.dimension, dim.NUMBER):
            scope.say(
                "dimension-mismatch",
                f"`{ability.what}` is {got.phrase}; this instrument reads {reads.dimension.phrase}",
                ability.value.span,
                hint=dim.mismatch_hint(got, reads.dimension),
            )
            continue
        if entered.quantity.value < 0:
            scope.say("negative-tolerance", f"`{ability.what}` takes an amount of zero or more", ability.value.span)
            continue
        if field in _CLAIMS:
            k = Fraction(1) if field == "repeats_to" else coverage_factor(ability.k, scope)
            share = got.is_number and (reads is None or not reads.dimension.is_number)
            claims[field] = Claim(entered.quantity, k, share)
        else:
            values[field] = entered.quantity
        in_all = in_all or ability.what == "accurate in all to"
    said = tuple(
        f"{a.what} {a.value.number.typed}" + (f" at k {a.k.typed}" if a.k is not None else "")
        for a in item.abilities
        if isinstance(a.value, n.Literal)
    )
    return Instrument(
        item.name.text,
        plain_text(item.title, scope),
        reads_to=values.get("reads_to"),
        repeats_to=claims.get("repeats_to"),
        accurate_to=claims.get("accurate_to"),
        in_all=in_all,
        calibrated_to=claims.get("calibrated_to"),
        drifts_by=claims.get("drifts_by"),
        calibrated_within=values.get("calibrated_within"),
        said=said,
    )


def resolve_hardware(
    tree: n.File, machines: Mapping[str, Machine], scope: Scope
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
        items = machine.items
        scope.machine_sets = {name: item.labels for name, item in items.items() if item.labels}
        seen: dict[str, Span] = {}
        for line in use.items:
            if isinstance(line, n.Broken):
                continue
            place = resolve_place(line.place, machine.name, items, scope)
            if place is None:
                continue
            keys = place.keys()
            twice = next((key for key in keys if key in seen), None)
            if twice is not None:
                scope.say(
                    "twice", f"`{twice}` is declared already", line.span, also=(Label(seen[twice], "first here"),)
                )
            seen.update((key, line.span) for key in keys if key not in seen)
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
