"""A procedure file and every file it names: read once each, parsed, and put in the order in which to resolve them.

A name is looked up as `NAME.proc` beside the file that names it. Since a name holds letters, digits and underscores
only, no path can be smuggled in. A `Library` does the reading, so that a disk, a run folder and a test are alike.
"""

from __future__ import annotations

from typing import Protocol

import attrs

from proclang.syntax import nodes as n
from proclang.syntax.parse import Parsed, parse
from proclang.text import limits
from proclang.text.decode import decode
from proclang.text.diagnostic import Diagnostic
from proclang.text.span import Source, Span
from proclang.text.suggest import did_you_mean

SUFFIX = ".proc"


class Library(Protocol):
    """Where the files beside a procedure come from."""

    def shown(self, name: str) -> str:
        """How the file of a name is called in messages."""

    def read(self, name: str) -> bytes | None:
        """The bytes of the file of a name; None if there is none or it cannot be read."""

    def names(self) -> tuple[str, ...]:
        """The names there are files for, to suggest from."""


@attrs.frozen
class FileSet:
    """Every file reached. `order` has each performed procedure before those that perform it."""

    entry: str
    files: dict[str, Parsed]
    data: dict[str, bytes] = attrs.field(repr=False)
    order: tuple[str, ...]
    findings: tuple[Diagnostic, ...]

    @property
    def sources(self) -> dict[str, Source]:
        """The sources by the name they have in messages."""
        return {p.source.name: p.source for p in self.files.values()}


@attrs.define
class _Loading:
    library: Library
    files: dict[str, Parsed] = attrs.field(factory=dict)
    data: dict[str, bytes] = attrs.field(factory=dict)
    order: list[str] = attrs.field(factory=list)
    findings: list[Diagnostic] = attrs.field(factory=list)
    total: int = 0

    def take(self, name: str, data: bytes) -> None:
        decoded = decode(data, self.library.shown(name))
        self.findings.extend(decoded.findings)
        if decoded.usable:
            parsed = parse(decoded.source)
            self.findings.extend(parsed.findings)
        else:
            parsed = parse(Source(decoded.source.name, f'proclang 1\nprocedure {name} ""\n'))
            broken = n.Broken(frozenset(), span=Span(decoded.source.name, 0, 0))
            parsed = attrs.evolve(parsed, source=decoded.source, tree=attrs.evolve(parsed.tree, body=(broken,)))
        self.files[name] = parsed
        self.data[name] = data
        self.total += len(data)

    def reach(self, name: str, path: tuple[str, ...]) -> None:
        """Load what the file of `name` names, depth first."""
        tree = self.files[name].tree
        for reference, is_machine in _named_files(tree):
            wanted = reference.text
            if not is_machine and wanted in (*path, name):
                circle = " -> ".join([*path, name, wanted][[*path, name].index(wanted) :])
                self.findings.append(
                    Diagnostic(
                        "perform-cycle",
                        f"`{wanted}` would be performed from within itself: {circle}",
                        reference.span,
                        hint="a procedure always comes to an end; use `repeat` where something is done again",
                    )
                )
                continue
            if wanted in self.files:
                continue
            if len(path) + 1 >= limits.PERFORM_DEPTH:
                self._refuse(
                    reference, "perform-depth", f"procedures perform each other more than {limits.PERFORM_DEPTH} deep"
                )
                continue
            if len(self.files) >= limits.FILES_IN_A_SET or self.total > limits.BYTES_IN_A_SET:
                self._refuse(reference, "set-too-large", "the procedure needs more files than are read together")
                continue
            data = self.library.read(wanted)
            if data is None:
                what = "machine" if is_machine else "procedure"
                self.findings.append(
                    Diagnostic(
                        "missing-file",
                        f"there is no {what} `{wanted}`: no file `{wanted}{SUFFIX}` beside this one",
                        reference.span,
                        hint=did_you_mean(wanted, self.library.names()),
                    )
                )
                continue
            self.take(wanted, data)
            self.reach(wanted, (*path, name))
        if name not in self.order:
            self.order.append(name)

    def _refuse(self, reference: n.Name, code: str, message: str) -> None:
        self.findings.append(Diagnostic(code, message, reference.span, hint="perform fewer, larger procedures"))


def load(entry: str, data: bytes, library: Library) -> FileSet:
    """Load the file `entry`, whose bytes are at hand, and all it reaches."""
    loading = _Loading(library)
    loading.take(entry, data)
    loading.reach(entry, ())
    return FileSet(entry, loading.files, loading.data, tuple(loading.order), tuple(loading.findings))


def _named_files(tree: n.File) -> list[tuple[n.Name, bool]]:
    """Names of other files, each with whether a machine is meant."""
    named: list[tuple[n.Name, bool]] = []
    for node in tree.walk():
        if isinstance(node, n.MachineUse):
            named.append((node.name, True))
        elif isinstance(node, n.Perform):
            named.append((node.procedure, False))
    return named
