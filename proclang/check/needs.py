"""What is brought: one name is one thing throughout a run, and a certificate that is counted on has a date.

Codes: `other-thing`, `certificate-undated` (warnings).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from proclang.program import model as m
from proclang.syntax import nodes as n
from proclang.syntax.printer import print_line
from proclang.text.diagnostic import Diagnostic, Label, Severity


def find_need_faults(program: m.Program, trees: Mapping[str, n.File]) -> list[Diagnostic]:
    """Findings about every procedure of a program; each has a tree."""
    found = list(_other_things(program, trees))
    for name, routine in program.routines.items():
        found += _undated(routine, trees[name])
    return found


Thing = n.Instrument | n.Tool | n.Part


def _other_things(program: m.Program, trees: Mapping[str, n.File]) -> Iterator[Diagnostic]:
    """Before the first section each name is asked for once, for every procedure that needs it."""
    first: dict[str, Thing] = {}
    for name in program.routines:
        tree = trees[name]
        things: list[Thing] = [*tree.every(n.Instrument), *tree.every(n.Tool), *tree.every(n.Part)]
        for thing in things:
            earlier = first.setdefault(thing.name.text, thing)
            if earlier.span.file != thing.span.file and _what(earlier) != _what(thing):
                yield Diagnostic(
                    "other-thing",
                    f"`{thing.name}` is another thing here than in another procedure of the run",
                    thing.name.span,
                    hint="it is asked for once: give one of them another name, or say the same of both",
                    also=(Label(earlier.name.span, "there"),),
                    severity=Severity.WARNING,
                )


def _what(thing: Thing) -> str:
    """What is said of it; how many of a part are needed is each procedure's own matter."""
    return f"part {thing.title.plain}" if isinstance(thing, n.Part) else print_line(thing)


def _undated(routine: m.Routine, tree: n.File) -> Iterator[Diagnostic]:
    """What a certificate leaves open is counted on, and nobody asks how old the certificate is.

    Only of instruments that have one: a steel rule or the scale of a ring has none, and to ask for its date would be
    asking for an answer that is made up.
    """
    for instrument in tree.every(n.Instrument):
        known = routine.instruments.get(instrument.name.text)
        if known is not None and known.calibrated_to is not None and known.calibrated_within is None:
            yield Diagnostic(
                "certificate-undated",
                f"what the certificate of `{instrument.name}` leaves open is counted on, and its date is not asked for",
                instrument.name.span,
                hint="add `calibrated within 12 months`, or how long the certificate is good for",
                severity=Severity.WARNING,
            )
