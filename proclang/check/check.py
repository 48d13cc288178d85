"""The front door: one file and the library beside it in, the program and every finding out.

Names, dimensions and places are proved while the program is built. The analyses here look at a file as a whole and
need a sound one: they are made of each file that has no error, so that nothing is said twice over.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import attrs

from proclang.check.allowances import Allowed, sort_out
from proclang.check.doubtful import find_doubtful
from proclang.check.hardware import find_hardware_faults
from proclang.check.limits import find_idle_limits
from proclang.check.needs import find_need_faults
from proclang.check.people import find_people_faults
from proclang.check.reached import find_never_reached
from proclang.check.silent import find_silent_failures
from proclang.check.staleness import find_stale_values
from proclang.check.unused import find_unused
from proclang.check.ways import Ways
from proclang.program import model as m
from proclang.program.build import Built, build
from proclang.program.load import FileSet, Library, ParsedBefore, load
from proclang.program.scope import Scope
from proclang.syntax import nodes as n
from proclang.text.collector import collector_paused
from proclang.text.diagnostic import Diagnostic, Severity, in_order

if TYPE_CHECKING:  # a run has no use for the rules of writing, and begins without them
    from proclang.check.writing.rule import Wanted

Analysis = Callable[[n.File, Scope, "m.Routine | None"], list[Diagnostic]]

ANALYSES: tuple[Analysis, ...] = (
    find_unused,
    find_silent_failures,
    find_never_reached,
    find_idle_limits,
    find_doubtful,
)
"""Each looks at one file: its tree, its names, and its routine if it is a procedure."""


@attrs.frozen
class Checked:
    """What came of a check. The program is to be run only when `sound`."""

    files: FileSet
    built: Built
    findings: tuple[Diagnostic, ...]
    allowed: tuple[Allowed, ...] = ()
    """What was found too, and is let stand."""

    @property
    def sound(self) -> bool:
        """Whether there is a procedure, and no error anywhere in it or in what it performs."""
        return self.built.program is not None and not any(f.severity is Severity.ERROR for f in self.findings)


def check_files(
    entry: str, data: bytes, library: Library, before: ParsedBefore | None = None, writing: Wanted | None = None
) -> Checked:
    """Check the file `entry`, whose bytes are at hand, and all it reaches. Never raises for any text.

    `before` keeps what was parsed, for checking several files that perform the same ones. `writing` says which rules of
    writing are looked at; without it none is, as before a run, where nobody is about to write.
    """
    with collector_paused():
        return _check(load(entry, data, library, before), writing)


def _check(files: FileSet, writing: Wanted | None) -> Checked:
    built = build(files)
    findings = list(built.findings)
    wrong = {f.span.file for f in findings if f.severity is Severity.ERROR}
    for name in files.order:
        parsed = files.files[name]
        if parsed.source.name in wrong:
            continue
        routine = built.program.routines.get(name) if built.program is not None else None
        for analysis in ANALYSES:
            findings.extend(analysis(parsed.tree, built.scopes[name], routine))
    rules: set[str] = set()
    if writing is not None:
        from proclang.check.writing.registry import in_force

        rules = {rule.code for rule in in_force(writing)}
        findings.extend(_writing(files, built, wrong, writing))
    if built.program is not None and not any(f.severity is Severity.ERROR for f in findings):
        trees = {name: files.files[name].tree for name in files.order}
        findings.extend(find_people_faults(built.program, trees))
        findings.extend(find_need_faults(built.program, trees))
        ways = Ways(built.program)  # it is made as it is gone along, and kept
        findings.extend(find_hardware_faults(built.program, ways))
        findings.extend(find_stale_values(built.program, ways))
    looked_at = None if any(f.severity is Severity.ERROR for f in findings) else rules
    remaining, allowed = sort_out(files.files.values(), in_order(findings), looked_at)
    return Checked(files, built, in_order(remaining), tuple(allowed))


def _writing(files: FileSet, built: Built, wrong: set[str], writing: Wanted) -> list[Diagnostic]:
    """What the rules of writing say of each sound file."""
    from proclang.check.writing.registry import find_writing
    from proclang.check.writing.rule import Seen
    from proclang.check.writing.warned import said_in

    findings: list[Diagnostic] = []
    summaries: dict[str, frozenset[str]] = {}
    due = frozenset(demand.hazard for machine in built.machines.values() for demand in machine.demands)
    for name in files.order:
        parsed = files.files[name]
        routine = built.program.routines.get(name) if built.program is not None else None
        if parsed.source.name not in wrong:
            machine = built.machines.get(used.name.text) if (used := _machine_of(parsed.tree)) is not None else None
            findings.extend(find_writing(Seen(parsed.source, parsed.tree, routine, machine, writing, due, summaries)))
        if routine is not None and due:
            _, summaries[name] = said_in(routine, due, summaries)
    return findings


def _machine_of(tree: n.File) -> n.MachineUse | None:
    return next(iter(tree.all(n.MachineUse)), None)
