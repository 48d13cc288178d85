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
from proclang.text.diagnostic import Diagnostic, Label
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
    """Every file reached. `order` has each performed procedure before those that perform it.

    `kinds` says of each whether it is a `machine` or a `procedure`; a file that is not text at all is neither, and is
    not in `order`.
    """

    entry: str
    files: dict[str, Parsed]
    data: dict[str, bytes] = attrs.field(repr=False)
    order: tuple[str, ...]
    findings: tuple[Diagnostic, ...]
    kinds: dict[str, str] = attrs.field(factory=dict)

    @property
    def sources(self) -> dict[str, Source]:
        """The sources by the name they have in messages."""
        return {p.source.name: p.source for p in self.files.values()}


ParsedBefore = dict[tuple[str, bytes], "ReadFile"]
"""Files read for an earlier set, by how they are called in messages and what they hold."""


@attrs.frozen
class ReadFile:
    """One file as it was read; `kind` is empty where it is not text."""

    parsed: Parsed
    data: bytes
    kind: str
    findings: tuple[Diagnostic, ...]


def read_file(data: bytes, shown: str) -> ReadFile:
    """Decode and parse one file."""
    decoded = decode(data, shown)
    if decoded.usable:
        parsed = parse(decoded.source)
        return ReadFile(parsed, data, kind_of(parsed.tree), (*decoded.findings, *parsed.findings))
    nowhere = Span(shown, 0, 0)
    broken = n.Broken(frozenset(), span=nowhere)
    tree = n.File(broken, broken, (), span=nowhere)
    return ReadFile(Parsed(decoded.source, tree, (), decoded.findings), data, "", decoded.findings)


@attrs.define
class _Loading:
    library: Library
    before: ParsedBefore
    read: dict[str, ReadFile] = attrs.field(factory=dict)
    depth: dict[str, int] = attrs.field(factory=dict)
    """Of each file done with: how many procedures deep its deepest chain of performs is, itself included."""
    findings: list[Diagnostic] = attrs.field(factory=list)
    total: int = 0

    def take(self, name: str, data: bytes) -> ReadFile:
        """Read a file; its findings count only once somebody needs it as what it is."""
        shown = self.library.shown(name)
        file = self.before.get((shown, data))
        if file is None:
            file = self.before[shown, data] = read_file(data, shown)
        self.read[name] = file
        self.total += len(data)
        return file

    def reach(self, name: str, path: tuple[str, ...]) -> None:
        """Go through what the file of `name` names, depth first."""
        file = self.read[name]
        self.findings.extend(file.findings)
        deepest = 0
        for reference, kind in _named_files(file.parsed.tree):
            wanted = reference.text
            if kind == "procedure" and wanted in (*path, name):
                self._refuse_circle(reference, (*path, name))
                continue
            other = self.read.get(wanted) or self._read(reference, kind)
            if other is None or not self._is(reference, other, kind):
                continue
            if wanted not in self.depth:
                if len(path) + 1 >= limits.PERFORM_DEPTH:
                    self._refuse_depth(reference)
                    continue
                self.reach(wanted, (*path, name))
            elif kind == "procedure" and len(path) + 1 + self.depth[wanted] > limits.PERFORM_DEPTH:
                self._refuse_depth(reference)
            if kind == "procedure":
                deepest = max(deepest, self.depth[wanted])
        self.depth[name] = deepest + 1

    def _read(self, reference: n.Name, kind: str) -> ReadFile | None:
        """A file that is named for the first time."""
        wanted = reference.text
        if len(self.read) >= limits.FILES_IN_A_SET:
            self._refuse_size(reference, f"the procedure needs more than {limits.FILES_IN_A_SET} files")
            return None
        data = self.library.read(wanted)
        if data is None:
            message = f"there is no {kind} `{wanted}`: no file `{wanted}{SUFFIX}` that can be read beside this one"
            self._say(reference, "missing-file", message, did_you_mean(wanted, self.library.names()))
            return None
        if self.total + len(data) > limits.BYTES_IN_A_SET:
            self._refuse_size(
                reference, f"the procedure needs more than {limits.BYTES_IN_A_SET:,} bytes in all its files"
            )
            return None
        return self.take(wanted, data)

    def _refuse_size(self, reference: n.Name, message: str) -> None:
        self._say(reference, "set-too-large", message, "perform fewer or shorter procedures")

    def _is(self, reference: n.Name, file: ReadFile, kind: str) -> bool:
        """Whether a file is what it is used as. One that is not text is told of itself, once."""
        if file.kind == "":
            self.findings.extend(file.findings)
            return False
        if file.kind == kind:
            return True
        title = file.parsed.tree.title
        also = (Label(title.span, "it says so here"),) if isinstance(title, n.Title) else ()
        hint = "a procedure is performed" if kind == "machine" else f"write `machine {reference}` in the header"
        self._say(reference, "other-file-kind", f"`{reference}` is a {file.kind}, not a {kind}", hint, also)
        return False

    def _refuse_circle(self, reference: n.Name, path: tuple[str, ...]) -> None:
        circle = " -> ".join([*path[path.index(reference.text) :], reference.text])
        self._say(
            reference, "perform-cycle", f"`{reference}` would be performed from within itself: {circle}",
            "a procedure always comes to an end; use `repeat` where something is done again",
        )  # fmt: skip

    def _refuse_depth(self, reference: n.Name) -> None:
        self._say(
            reference, "perform-depth", f"procedures perform each other more than {limits.PERFORM_DEPTH} deep",
            "perform fewer, larger procedures",
        )  # fmt: skip

    def _say(self, at: n.Name, code: str, message: str, hint: str, also: tuple[Label, ...] = ()) -> None:
        self.findings.append(Diagnostic(code, message, at.span, hint=hint, also=also))


def load(entry: str, data: bytes, library: Library, before: ParsedBefore | None = None) -> FileSet:
    """Load the file `entry`, whose bytes are at hand, and all it reaches. `before` keeps what was parsed."""
    loading = _Loading(library, {} if before is None else before)
    if loading.take(entry, data).kind:
        loading.reach(entry, ())
    else:
        loading.findings.extend(loading.read[entry].findings)
    return FileSet(
        entry,
        {name: file.parsed for name, file in loading.read.items()},
        {name: file.data for name, file in loading.read.items()},
        tuple(loading.depth),
        tuple(loading.findings),
        {name: file.kind for name, file in loading.read.items() if file.kind},
    )


def kind_of(tree: n.File) -> str:
    """`machine` or `procedure`; of a file with a damaged title, what its lines say it is."""
    if isinstance(tree.title, n.Title):
        return tree.title.what
    lines = any(isinstance(item, (n.KindOfItem, n.Item, n.Interlock, n.Counted, n.AskNothing)) for item in tree.body)
    return "machine" if lines else "procedure"


def _named_files(tree: n.File) -> list[tuple[n.Name, str]]:
    """Names of other files, each with what it is used as."""
    named = [(node.name, "machine") for node in tree.every(n.MachineUse)]
    named += [(node.procedure, "procedure") for node in tree.every(n.Perform)]
    return sorted(named, key=lambda each: each[0].span.start)
