"""What is declared and never used: most often a line that was forgotten, or a name that was meant elsewhere.

Tools, parts and roles are left alone: they have to be there whether or not a line names them. So is what is measured,
noted, photographed or given by a performed procedure: that it is in the log is use enough.
"""

from __future__ import annotations

from collections.abc import Iterator

from proclang.program import model as m
from proclang.program.scope import Scope
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Diagnostic, Severity


def find_unused(tree: n.File, scope: Scope, routine: m.Routine | None) -> list[Diagnostic]:
    """Warnings about one file, a procedure or a machine."""
    used = _used_names(tree, scope)
    found = list(_in_machine(tree))
    found += _in_header(tree, used)
    found += _in_sections(tree, used)
    return found


def _say(code: str, message: str, name: n.Name, hint: str) -> Diagnostic:
    return Diagnostic(code, message, name.span, hint=hint, severity=Severity.WARNING)


def _used_names(tree: n.File, scope: Scope) -> frozenset[str]:
    """Every name that some line looks up, whatever it stands for."""
    used: set[str] = {"latitude"} if scope.uses_hemisphere else set()
    used.update(node.name.text for node in tree.every(n.Reference))
    used.update(node.subject.text for node in tree.every(n.According))
    used.update(node.labels.text for node in tree.every(n.ForEach))
    used.update(name.text for node in tree.every(n.Gives) for name in node.names)
    used.update(node.name.text for node in tree.every(n.Hazard) if node.title is None)
    readings: tuple[n.Measure | n.MeasureAgain | n.ReadBack, ...]
    readings = (*tree.every(n.Measure), *tree.every(n.MeasureAgain), *tree.every(n.ReadBack))
    used.update(node.instrument.text for node in readings if node.instrument is not None)
    labelled: tuple[n.Reference | n.Measure | n.MeasureAgain | n.Target | n.Place, ...]
    labelled = (*tree.every(n.Reference), *tree.every(n.Measure), *tree.every(n.MeasureAgain))
    labelled = (*labelled, *tree.every(n.Target), *tree.every(n.Place))
    used.update(label.text for node in labelled for label in node.labels if isinstance(label, n.Name))
    return frozenset(used)


def _in_machine(tree: n.File) -> Iterator[Diagnostic]:
    kinds = {item.kind.text for item in tree.all(n.Item)}
    for kind in tree.all(n.KindOfItem):
        if kind.name.text not in kinds:
            yield _say("unused-kind", f"nothing is of the kind `{kind.name}`", kind.name, "delete it, or add the item")


def _in_header(tree: n.File, used: frozenset[str]) -> Iterator[Diagnostic]:
    for node in (item for block in tree.body for item in (block, *block.children())):
        if isinstance(node, n.Input) and node.name.text not in used:
            hint = "delete it, or use it; the site is asked for it for nothing"
            yield _say("unused-input", f"the input `{node.name}` is used nowhere", node.name, hint)
        elif isinstance(node, n.Labels) and node.name.text not in used:
            hint = f"delete it, or go through it with `for each ... of {node.name}`"
            yield _say("unused-labels", f"the labels `{node.name}` are used nowhere", node.name, hint)
        elif isinstance(node, n.Table):
            yield from _in_table(node, used)
        elif isinstance(node, n.Instrument) and node.name.text not in used:
            hint = f"add `using {node.name}` where it is read, or delete it"
            yield _say("unused-instrument", f"nothing is measured using `{node.name}`", node.name, hint)
    if tree.all(n.Section):
        for hazard in tree.all(n.Hazard):
            if hazard.name.text not in used:
                hint = f"write `{hazard.word} {hazard.name}` before the step it warns of"
                yield _say("unused-hazard", f"no step is warned of `{hazard.name}`", hazard.name, hint)


def _in_table(table: n.Table, used: frozenset[str]) -> Iterator[Diagnostic]:
    left = [column for column in table.columns if column.text not in used]
    if len(left) == len(table.columns) and table.name.text not in used:
        hint = "delete it, or use its columns"
        yield _say("unused-labels", f"the table `{table.name}` is used nowhere", table.name, hint)
        return
    for column in left:
        hint = "delete it, or use it"
        yield _say("unused-column", f"the column `{column}` is used nowhere", column, hint)


def _in_sections(tree: n.File, used: frozenset[str]) -> Iterator[Diagnostic]:
    for compute in tree.every(n.Compute):
        # Of several results one that is used is enough; the others come with it.
        if not compute.facets and not any(target.name.text in used for target in compute.targets):
            name, hint = compute.targets[0].name, "give it a tolerance, show it in a step, use it, or delete it"
            yield _say("unused-value", f"nothing uses, shows or judges `{name}`", name, hint)
    for choose in tree.every(n.Choose):
        if choose.name.text not in used:
            hint = "let ways part by it with `according to` or `when`, or ask for a `note`"
            yield _say("unused-choice", f"nothing depends on the answer to `{choose.name}`", choose.name, hint)
    for loop in tree.every(n.ForEach):
        if not _mentions(loop):
            message = f"nothing under this says which `{loop.variable}` it is at"
            yield _say("unused-label", message, loop.variable, f"say it in a text, as in `{{{loop.variable}}}`")


def _mentions(loop: n.ForEach) -> bool:
    """Whether anything under a loop depends on, or shows, the label it stands at."""
    for statement in loop.body:
        for node in statement.walk_holders():
            if isinstance(node, n.Reference) and node.name.text == loop.variable.text:
                return True
            if isinstance(node, n.According) and node.subject.text == loop.variable.text:
                return True
            if isinstance(node, (n.Reference, n.Measure, n.MeasureAgain, n.Target, n.Place)) and any(
                isinstance(label, n.Name) and label.text == loop.variable.text for label in node.labels
            ):
                return True
    return False
