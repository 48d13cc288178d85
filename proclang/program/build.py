"""The front door: a set of files in, a program and every finding about names and dimensions out."""

from __future__ import annotations

import re

import attrs

from proclang.program import model as m
from proclang.program.damage import excused_words, hidden_kinds, levels_damaged
from proclang.program.load import FileSet
from proclang.program.machine import MACHINE_LINES, resolve_machine
from proclang.program.procedure import resolve_procedure
from proclang.program.scope import Scope
from proclang.program.whole import whole_program
from proclang.syntax import nodes as n
from proclang.text import limits
from proclang.text.diagnostic import Diagnostic, in_order

LANGUAGE_VERSIONS = ("1",)
_LONG_NAME = re.compile(rf"[A-Za-z0-9_]{{{limits.NAME_CHARACTERS + 1}}}")


@attrs.frozen
class Built:
    """`program` is None when the entry is a machine file or no text; it is to be run only when no finding is an error.
    `scopes` are kept for further checks."""

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
        parsed = files.files[name]
        tree = parsed.tree
        scope = Scope()
        if parsed.findings:
            scope = Scope(excused_words(parsed), hidden_kinds(parsed), levels_damaged(parsed))
        scopes[name] = scope
        _check_version(tree, scope)
        _check_name(name, tree, scope)
        if _LONG_NAME.search(parsed.source.text) is not None:
            _check_name_lengths(tree, scope)
        if files.kinds[name] == "machine":
            for item in tree.body:
                if not isinstance(item, MACHINE_LINES):
                    scope.say_misplaced("this line belongs in a procedure, not in a machine file", item.span)
            machines[name] = resolve_machine(tree, scope)
        else:
            routines[name] = resolve_procedure(name, tree, scope, machines, routines, scopes)
        findings.extend(scope.findings)
    program = None
    if files.entry in routines:
        unsure = any(parsed.findings for parsed in files.files.values())
        program = whole_program(files.entry, routines, machines, findings, authority_unsure=unsure)
    return Built(program, machines, scopes, in_order(findings))


def _check_name_lengths(tree: n.File, scope: Scope) -> None:
    for node in tree.walk():
        if isinstance(node, n.Name) and len(node.text) > limits.NAME_CHARACTERS:
            scope.say("too-long", f"a name has at most {limits.NAME_CHARACTERS} characters", node.span)


def _check_version(tree: n.File, scope: Scope) -> None:
    version = tree.version
    if isinstance(version, n.Number) and version.typed not in LANGUAGE_VERSIONS:
        scope.say(
            "other-version",
            f"this is written in version {version.typed} of the language",
            version.span,
            hint=f"this program reads version {', '.join(LANGUAGE_VERSIONS)}",
        )


def _check_name(name: str, tree: n.File, scope: Scope) -> None:
    title = tree.title
    if isinstance(title, n.Title) and title.name.text != name:
        scope.say(
            "other-file-name",
            f"the file is called `{name}`, and says that it is `{title.name}`",
            title.name.span,
            hint="files are found by their name: call both the same",
        )
