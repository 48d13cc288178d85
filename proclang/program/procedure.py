"""One procedure file, resolved and lowered."""

from __future__ import annotations

from collections.abc import Mapping

from proclang.program import model as m
from proclang.program.damage import MACHINE_NAMES
from proclang.program.header import resolve_hardware, resolve_inputs, resolve_labels, resolve_needs
from proclang.program.lower import lower_damaged, lower_section, walk
from proclang.program.lowering import Lowering, head
from proclang.program.machine import refuse_demands, resolve_hazard
from proclang.program.names import find_definitions, judged_names
from proclang.program.scope import Scope, hemisphere_symbol, once
from proclang.program.texts import plain_text
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Label
from proclang.text.span import Span
from proclang.values.dimension import ANGLE
from proclang.values.quantity import Quantity

PROCEDURE_LINES = (
    n.Revision, n.Purpose, n.Inputs, n.Needs, n.MachineUse, n.Labels, n.Table, n.Gives, n.Hazard, n.Section, n.Broken,
)  # fmt: skip
"""What stands at the left edge of a procedure file."""


def resolve_procedure(
    name: str,
    tree: n.File,
    scope: Scope,
    machines: Mapping[str, m.Machine],
    routines: Mapping[str, m.Routine],
    others: Mapping[str, Scope],
) -> m.Routine:
    """The routine of a procedure; what is wrong goes to `scope.findings`. `others` are the files resolved before."""
    title = tree.title
    start = title.span if isinstance(title, n.Title) else tree.span
    scope.hemisphere = hemisphere_symbol(start)
    uses = tree.all(n.MachineUse)
    for use in uses[:1]:
        if use.name.text in others:
            scope.excused |= others[use.name.text].excused
            scope.hidden |= others[use.name.text].hidden - {"value"}
    _check_order(tree, scope)
    inputs = resolve_inputs(tree, scope)
    resolve_labels(tree, scope)
    needs = resolve_needs(tree, scope)
    definitions = find_definitions(tree)
    scope.later = definitions.first()
    machine, hardware = resolve_hardware(tree, machines, scope)
    machine_named = bool(uses) or "item" in scope.hidden
    if machine is None and machine_named:
        scope.hidden |= MACHINE_NAMES
    low = Lowering(
        procedure=name,
        scope=scope,
        needs=needs,
        machine=machine,
        machine_named=machine_named,
        hazards=_header_hazards(tree, machine, scope),
        routines=routines,
        others=others,
        definitions=definitions,
        judged=judged_names(tree),
        walk=walk,
    )
    for item in tree.body:
        if isinstance(item, n.Section):
            lower_section(low, item)
        elif isinstance(item, n.Broken):
            lower_damaged(low, item)
    low.emit(m.Return(address=".return", identity=name, span=(tree.body[-1] if tree.body else tree).span))
    gives = _gives(tree, scope)
    if isinstance(title, n.Title):
        _check_former_title(title, scope)
    formerly = _formerly(name, low, tree)
    if scope.uses_hemisphere:
        _check_latitude(inputs, start, scope)
    revision = tree.all(n.Revision)
    code = tuple(low.code)
    return m.Routine(
        name=name,
        title=plain_text(title.text, scope) if isinstance(title, n.Title) else name,
        revision=_revision(revision, scope),
        former=title.former.text if isinstance(title, n.Title) and title.former is not None else None,
        purpose=tuple(plain_text(t, scope) for p in tree.all(n.Purpose) for t in p.sentences),
        inputs=inputs,
        symbols=dict(scope.symbols),
        label_sets=dict(scope.label_sets),
        tables=_tables(scope),
        instruments=needs.instruments,
        tools=tuple(needs.tools),
        parts=tuple(needs.parts),
        crew=tuple(needs.crew),
        fewest=needs.fewest,
        apart=tuple(needs.apart),
        authority=tuple(needs.authority),
        machine=machine,
        hardware=hardware,
        gives=gives,
        code=code,
        index={instr.address: pc for pc, instr in enumerate(code)},
        formerly=formerly,
    )


def _check_order(tree: n.File, scope: Scope) -> None:
    """The header first, each of its single lines once, and at least one section."""
    section_seen = False
    for item in tree.body:
        if not isinstance(item, PROCEDURE_LINES):
            scope.say_misplaced("this line belongs in a machine file, not in a procedure", item.span)
        elif isinstance(item, n.Section):
            section_seen = True
        elif section_seen and not isinstance(item, n.Broken):
            scope.say_misplaced("the header stands before the first section", head(item), "move this up")
    kinds: tuple[tuple[type[n.Node], str], ...] = (
        (n.Revision, "revision"), (n.Purpose, "purpose"), (n.Gives, "gives"),
    )  # fmt: skip
    for kind, what in kinds:
        lines = tree.all(kind)
        for extra in lines[1:]:
            also = (Label(head(lines[0]), "first here"),)
            scope.say("twice", f"`{what}` stands here already", head(extra), also=also)
    title = tree.title
    if isinstance(title, n.Title) and not section_seen and not tree.broken and not scope.shifted:
        scope.say(
            "no-section", "the procedure has no section", title.name.span, hint='add `section NAME "title"`, with steps'
        )


def _header_hazards(tree: n.File, machine: m.Machine | None, scope: Scope) -> dict[str, m.HazardInfo]:
    """The hazards that can be named from the first section on: those of the machine, and those of the header."""
    hazards = dict(machine.hazards) if machine is not None else {}
    note = once({}, scope, "there is a hazard {} already")
    for hazard in tree.all(n.Hazard):
        if hazard.title is None:
            scope.say_misplaced(
                "a hazard in the header is written out, with its title", head(hazard), 'write `danger NAME "..."`'
            )
        elif note(hazard.name):
            if hazard.name.text in hazards:
                scope.say("duplicate-name", f"the machine has a hazard `{hazard.name}` already", hazard.name.span)
            refuse_demands(hazard, scope)
            hazards[hazard.name.text] = resolve_hazard(hazard, scope)
    return hazards


def _gives(tree: n.File, scope: Scope) -> tuple[str, ...]:
    """What is given back: names that are set on every way to the end."""
    note = once({}, scope, "{} is given twice", code="twice")
    names = [x for line in tree.all(n.Gives) for x in line.names]
    for name in names:
        if note(name):
            scope.symbol(name)
    return tuple(dict.fromkeys(x.text for x in names))


def _tables(scope: Scope) -> dict[str, dict[str, dict[str, Quantity]]]:
    tables: dict[str, dict[str, dict[str, Quantity]]] = {}
    for name, column in scope.columns.items():
        tables.setdefault(column.table, {})[name] = column.values
    return tables


def _revision(lines: tuple[n.Revision, ...], scope: Scope) -> str:
    if not lines:
        return ""
    number = scope.whole(lines[0].number, 0, 10**6, "a revision")
    return "" if number is None else str(number)


def _check_former_title(title: n.Title, scope: Scope) -> None:
    if title.former is not None and title.former.text == title.name.text:
        scope.say("former-name", f"`{title.name}` is its name still", title.former.span)


def _formerly(name: str, low: Lowering, tree: n.File) -> dict[str, str]:
    """Old identity to new. One old name cannot have become two, nor be in use still."""
    formerly: dict[str, str] = {}
    values: dict[str, tuple[str, Span]] = {}
    where: dict[str, Span] = {}
    scope = low.scope
    inputs = [item for block in tree.all(n.Inputs) for item in block.items if isinstance(item, n.Input)]
    formers = [(name, i.former, i.name, True) for i in inputs if i.former is not None]
    formers += [(f.path, f.old, f.new, f.value) for f in low.formers]
    for path, old, new, value in formers:
        was, now = f"{path}/{old}", f"{path}/{new}"
        other = values.get(old.text) if value else None
        if was in low.identities or (value and old.text in scope.symbols):
            scope.say("former-name", f"`{old}` is the name of something here still", old.span)
        elif formerly.get(was, now) != now:
            also = (Label(where[was], "first here"),)
            scope.say("former-name", f"`{old}` became another name already", old.span, also=also)
        elif other is not None and other[0] != new.text:
            also = (Label(other[1], "first here"),)
            scope.say("former-name", f"`{old}` became `{other[0]}` already", old.span, also=also)
        else:
            formerly[was] = now
            where.setdefault(was, old.span)
            if value:
                values.setdefault(old.text, (new.text, old.span))
    return formerly


def _check_latitude(inputs: tuple[m.Symbol, ...], at: Span, scope: Scope) -> None:
    scope.used.add("latitude")
    if "latitude" in scope.excused:
        return
    latitude = next((s for s in inputs if s.name == "latitude"), None)
    if latitude is None:
        scope.say(
            "no-latitude",
            "the hemisphere follows from the latitude, and `latitude` is not among the inputs",
            at,
            hint="add `latitude: angle` under `inputs`",
        )
    elif latitude.type != m.Amount(ANGLE):
        scope.say("dimension-mismatch", f"`latitude` is {latitude.type.describe()}, not an angle", latitude.span)
