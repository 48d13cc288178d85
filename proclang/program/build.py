"""The front door: a set of files in, a program and every finding about names and dimensions out."""

from __future__ import annotations

import attrs

from proclang.program import model as m
from proclang.program.header import resolve_hardware, resolve_inputs, resolve_labels, resolve_needs
from proclang.program.load import FileSet
from proclang.program.lower import Lowering
from proclang.program.machine import excused_words, resolve_hazard, resolve_machine
from proclang.program.names import find_definitions, judged_names
from proclang.program.opening import opening_routine
from proclang.program.scope import Scope, hemisphere_symbol
from proclang.syntax import nodes as n
from proclang.text import limits
from proclang.text.diagnostic import Diagnostic, in_order
from proclang.text.span import Span
from proclang.values.dimension import ANGLE

LANGUAGE_VERSIONS = ("1",)


@attrs.frozen
class Built:
    """`program` is None when the entry is a machine file or too damaged to say what it is; it is to be run only when
    there is no finding. `scopes` are kept for further checks."""

    program: m.Program | None
    machines: dict[str, m.Machine]
    scopes: dict[str, Scope]
    findings: tuple[Diagnostic, ...]


def build(files: FileSet) -> Built:
    """Resolve every file of a set, performed procedures before those that perform them."""
    findings: list[Diagnostic] = list(files.findings)
    machines: dict[str, m.Machine] = {}
    routines: dict[str, m.Routine] = {}
    scopes: dict[str, Scope] = {}
    for name in files.order:
        tree = files.files[name].tree
        scope = Scope(excused=excused_words(tree))
        scopes[name] = scope
        _check_version(tree, scope)
        title = tree.title
        what = title.what if isinstance(title, n.Title) else _guess(tree)
        if isinstance(title, n.Title) and title.name.text != name:
            scope.say(
                "other-file-name",
                f"the file is called `{name}`, and says that it is `{title.name}`",
                title.name.span,
                hint="files are found by their name: call both the same",
            )
        if what == "machine":
            machines[name] = resolve_machine(tree, scope)
        else:
            routines[name] = _procedure(name, tree, scope, machines, routines)
        findings.extend(scope.findings)
    program = None
    if files.entry in routines:
        program = _program(files, routines, machines, findings)
    return Built(program, machines, scopes, in_order(findings))


def _guess(tree: n.File) -> str:
    """What a file with a damaged title is: a machine if it has lines only a machine has."""
    lines = any(isinstance(item, (n.KindOfItem, n.Interlock)) for item in tree.body)
    return "machine" if lines else "procedure"


def _check_version(tree: n.File, scope: Scope) -> None:
    version = tree.version
    if isinstance(version, n.Number) and version.typed not in LANGUAGE_VERSIONS:
        scope.say(
            "other-version",
            f"this is written in version {version.typed} of the language",
            version.span,
            hint=f"this program reads version {', '.join(LANGUAGE_VERSIONS)}",
        )


_PROCEDURE_LINES = (
    n.Revision, n.Purpose, n.Inputs, n.Needs, n.MachineUse, n.Labels, n.Table, n.Gives, n.Hazard, n.Section, n.Broken,
)  # fmt: skip


def _procedure(
    name: str, tree: n.File, scope: Scope, machines: dict[str, m.Machine], routines: dict[str, m.Routine]
) -> m.Routine:
    title = tree.title
    start = title.span if isinstance(title, n.Title) else tree.span
    scope.hemisphere = hemisphere_symbol(start)
    section_seen = False
    for item in tree.body:
        if not isinstance(item, _PROCEDURE_LINES):
            scope.say("misplaced", "this line belongs in a machine file, not in a procedure", item.span)
        elif isinstance(item, n.Section):
            section_seen = True
        elif section_seen and not isinstance(item, n.Broken):
            scope.say("misplaced", "the header stands before the first section", _first_line(item), hint="move this up")
    once: tuple[tuple[type[n.Node], str], ...] = ((n.Revision, "revision"), (n.Purpose, "purpose"), (n.Gives, "gives"))
    for kind, what in once:
        for extra in tree.all(kind)[1:]:
            scope.say("twice", f"`{what}` stands here already", _first_line(extra))
    if isinstance(title, n.Title) and not section_seen and not tree.broken:
        scope.say(
            "no-section", "the procedure has no section", title.span, hint='add `section NAME "title"` and its steps'
        )
    inputs = resolve_inputs(tree, scope)
    resolve_labels(tree, scope)
    needs = resolve_needs(tree, scope)
    definitions = find_definitions(tree)
    scope.later = definitions.first()
    machine, hardware = resolve_hardware(tree, machines, scope)
    hazards = dict(machine.hazards) if machine is not None else {}
    for hazard in tree.all(n.Hazard):
        if hazard.title is not None:
            hazards[hazard.name.text] = resolve_hazard(hazard, scope)
    lowering = Lowering(name, scope, needs, machine, hazards, routines, definitions, judged_names(tree))
    for section in tree.all(n.Section):
        lowering.section(section)
    end = tree.all(n.Section)[-1] if section_seen else tree
    lowering.code.append(m.Return(address=".return", identity=name, span=end.span))
    gives = tuple(x for line in tree.all(n.Gives) for x in line.names)
    for given in gives:
        scope.used.add(given.text)
        scope.symbol(given)
    revision = tree.all(n.Revision)
    former = title.former.text if isinstance(title, n.Title) and title.former is not None else None
    if scope.uses_hemisphere:
        _check_latitude(inputs, start, scope)
    code = tuple(lowering.code)
    return m.Routine(
        name=name,
        title=title.text.plain if isinstance(title, n.Title) else name,
        revision=revision[0].number.typed if revision else "",
        former=former,
        purpose=tuple(t.plain for p in tree.all(n.Purpose) for t in p.sentences),
        inputs=inputs,
        symbols=dict(scope.symbols),
        label_sets=dict(scope.label_sets),
        tables={},
        instruments=needs.instruments,
        tools=tuple(needs.tools),
        parts=tuple(needs.parts),
        crew=tuple(needs.crew),
        authority=tuple(needs.authority),
        machine=machine,
        hardware=hardware,
        gives=tuple(x.text for x in gives),
        code=code,
        index={instr.address: pc for pc, instr in enumerate(code)},
        formerly=dict(lowering.formerly),
    )


def _check_latitude(inputs: tuple[m.Symbol, ...], at: Span, scope: Scope) -> None:
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
    scope.used.add("latitude")


def _first_line(node: n.Node) -> Span:
    from proclang.syntax.printer import print_line

    return Span(node.span.file, node.span.start, node.span.start + len(print_line(node).split()[0]))


def _program(
    files: FileSet, routines: dict[str, m.Routine], machines: dict[str, m.Machine], findings: list[Diagnostic]
) -> m.Program:
    reached = _reached(files.entry, routines)
    _bound_steps(files.entry, routines, findings)
    facts: dict[str, m.Symbol] = {}
    bound_somewhere: dict[str, set[str]] = {}
    for name in reached:
        for instr in routines[name].code:
            if isinstance(instr, m.Call):
                bound_somewhere.setdefault(instr.routine, set()).update(s.name for s, _ in instr.arguments)
    for name in reached:
        for symbol in routines[name].inputs:
            if name != files.entry and symbol.name in bound_somewhere.get(name, set()):
                continue
            earlier = facts.get(symbol.name)
            if earlier is not None and earlier.type != symbol.type:
                findings.append(
                    Diagnostic(
                        "other-kind",
                        f"the site fact `{symbol.name}` is {symbol.type.describe()} here and {earlier.type.describe()} elsewhere",
                        symbol.span,
                    )
                )
            facts.setdefault(symbol.name, symbol)
    uses_hemisphere = any(_asks_hemisphere(instr) for name in reached for instr in routines[name].code)
    kept = {name: routines[name] for name in reached}
    opening = opening_routine(files.entry, kept)
    return m.Program(files.entry, kept, facts, uses_hemisphere, opening, machines)


def _asks_hemisphere(instr: m.Instr) -> bool:
    for name in ("condition", "formula", "subject"):
        formula = getattr(instr, name, None)
        if isinstance(formula, m.Formula) and "hemisphere" in formula.names:
            return True
    return False


def _reached(entry: str, routines: dict[str, m.Routine]) -> tuple[str, ...]:
    """Procedures in the order in which they are first performed."""
    order: list[str] = []
    stack = [entry]
    while stack:
        name = stack.pop()
        if name in order or name not in routines:
            continue
        order.append(name)
        stack.extend(reversed([i.routine for i in routines[name].code if isinstance(i, m.Call)]))
    return tuple(order)


def _bound_steps(entry: str, routines: dict[str, m.Routine], findings: list[Diagnostic]) -> None:
    """Refuse a procedure that would come to too many steps, without writing them out."""
    totals: dict[str, int] = {}

    def total(name: str) -> int:
        if name not in totals:
            totals[name] = 0  # a cycle has been refused already
            count, factors = 0, [1]
            for instr in routines[name].code:
                if isinstance(instr, m.BeginLoop):
                    factors.append(factors[-1] * instr.bound)
                elif isinstance(instr, m.BeginEach):
                    factors.append(factors[-1] * max(1, len(instr.labels)))
                elif isinstance(instr, (m.EndLoop, m.EndEach)):
                    factors.pop()
                elif isinstance(instr, m.BeginStep):
                    count += factors[-1]
                elif isinstance(instr, m.Call) and instr.routine in routines:
                    count += factors[-1] * total(instr.routine)
            totals[name] = count
        return totals[name]

    steps = total(entry)
    if steps > limits.STEPS_EXPANDED:
        routine = routines[entry]
        findings.append(
            Diagnostic(
                "too-many-steps",
                f"with every loop run to its bound this comes to {_about(steps)} steps, more than {limits.STEPS_EXPANDED:,}",
                routine.code[0].span,
                hint="lower the bounds of its loops",
            )
        )


def _about(count: int) -> str:
    return f"{count:,}" if count < 10**12 else "more than a million million"
