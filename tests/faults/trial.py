"""One fault on trial: what the independent judges say of it, and what the check says."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import attrs
import faults_of_hardware
import faults_of_labels
import faults_of_numbers
import faults_of_people
import faults_of_values
from edits import Mutant, Page
from folder import Folder, digest, is_procedure, performed, read_tree
from judge_dimensions import judge_dimensions
from judge_folder import judge_folder
from judge_instruments import judge_instruments
from judge_lookups import judge_lookups
from walked_state import Names
from walker import TooManyRuns, Walker
from walker_values import walk_values

from proclang.check.check import check_files
from proclang.check.writing.rule import Wanted
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Diagnostic

Operator = Callable[[Page, Names], Iterator[Mutant]]

PROVABLE: tuple[Operator, ...] = (
    *faults_of_hardware.OPERATORS,
    *faults_of_values.PROVABLE,
    *faults_of_labels.PROVABLE,
    *faults_of_numbers.PROVABLE,
    *faults_of_people.PROVABLE,
)
"""What these break shows on some run, or in the file itself; where it does not, the fault is equivalent."""

BEYOND: tuple[Operator, ...] = (
    *faults_of_values.BEYOND,
    *faults_of_labels.BEYOND,
    *faults_of_numbers.BEYOND,
    *faults_of_people.BEYOND,
)
"""What these break often reads as well as what was meant: no proof can see it, but where a judge says so."""

OPERATORS = (*PROVABLE, *BEYOND)
_WRITING = Wanted()
"""The rules of writing that are on by default."""

_BEYOND = {operator.__name__ for operator in BEYOND}


@attrs.frozen
class Outcome:
    """What came of one fault."""

    mutant: Mutant
    verdict: str
    """`broken`: some run breaks a rule, or a line is wrong by itself; `equivalent`: every run keeps every rule;
    `beyond`: likewise, of a kind that no proof is asked to see; `crashed`: the check did not come to an end."""
    why: str
    found: tuple[str, ...]
    """The codes of what the check finds."""
    told: bool
    """Whether a finding points at the fault or names it."""

    @property
    def kind(self) -> str:
        """Caught, missed, or one of them of an equivalent fault."""
        if self.verdict == "crashed":
            return "crashed"
        caught = bool(self.found)
        if self.verdict == "beyond":
            return "beyond, caught" if caught else "beyond, missed"
        if self.verdict == "equivalent":
            return "spoken of" if caught else "equivalent"
        return "caught" if caught else "missed"


@attrs.define
class Originals:
    """A folder whose files are broken one after the other."""

    name: str
    folder: Folder
    trees: dict[str, n.File] = attrs.field(init=False)
    digests: dict[str, str] = attrs.field(init=False)
    kept: dict[object, object] = attrs.field(factory=dict)
    before: dict[object, object] = attrs.field(factory=dict)

    def __attrs_post_init__(self) -> None:
        self.trees = {name: read_tree(name, text) for name, text in self.folder.texts.items()}
        self.digests = {name: digest(name, text) for name, text in self.folder.texts.items()}

    @property
    def procedures(self) -> list[str]:
        """The files that can be run."""
        return [name for name, tree in self.trees.items() if is_procedure(tree)]

    def entries(self, file: str) -> list[str]:
        """Where a fault in a file is looked for: in the file itself, then from every top that reaches it."""
        below: dict[str, set[str]] = {}
        for name in self.procedures:
            found: set[str] = set()
            todo = [name]
            while todo:
                at = todo.pop()
                if at not in found and at in self.trees:
                    found.add(at)
                    todo += performed(self.trees[at])
            below[name] = found
        inner = {at for name, found in below.items() for at in found if at != name}
        tops = [name for name in self.procedures if name not in inner and file in below[name] and name != file]
        return [file, *tops]

    def callers(self, file: str) -> list[str]:
        """The procedures that perform one."""
        return [name for name in self.procedures if file in performed(self.trees[name])]

    def names(self, file: str) -> Names:
        """What the names of a file stand for."""
        return Walker(self.trees, self.digests).names(file)

    def mutants(self, operator: Operator) -> Iterator[Mutant]:
        """Every fault of one kind, at every place of every procedure."""
        for file in self.procedures:
            page = Page(file, self.folder.texts[file], self.trees[file])
            yield from operator(page, self.names(file))

    # ------------------------------------------------------------------ judges and the check

    def faults_of(self) -> dict[str, list[str]]:
        """What is wrong with the originals themselves, by the walker and by the check, file by file."""
        found: dict[str, list[str]] = {}
        walker = Walker(self.trees, self.digests, self.kept)
        for file in self.procedures:
            broken = [f"walker: {b.rule} {b.about}" for b in (*walker.walk(file), *walk_values(walker, file))]
            broken += [f"judge: {wrong}" for wrong in static(self.trees[file], walker.names(file))]
            broken += [f"judge: {wrong}" for wrong in judge_folder(walker, file)]
            said = [f"check: {f.code}" for f in self._check(self.folder, file)]
            if broken or said:
                found[file] = [*broken, *said]
        return found

    def try_one(self, mutant: Mutant) -> Outcome | None:
        """What comes of one fault; None where the broken file cannot be read at all."""
        if mutant.text == self.folder.texts[mutant.file]:
            return None
        tree = read_tree(mutant.file, mutant.text)
        if any(isinstance(node, n.Broken) for node in tree.walk()):
            return None
        folder = self.folder.with_file(mutant.file, mutant.text)
        entries = self.entries(mutant.file)
        why = self.judged(mutant, tree, entries)
        told = False
        codes: list[str] = []
        for entry in entries if why else entries[:1]:
            try:
                findings = self._check(folder, entry)
            except (RecursionError, AssertionError, LookupError, ValueError, TypeError, AttributeError) as failure:
                return Outcome(mutant, "crashed", f"{type(failure).__name__} from {entry}", (), False)
            if findings:
                codes = sorted({finding.code for finding in findings})
                told = any(points_at(finding, mutant, tree) for finding in findings)
                break
        verdict = "broken" if why else "beyond" if mutant.operator in _BEYOND else "equivalent"
        return Outcome(mutant, verdict, why, tuple(codes), told)

    def judged(self, mutant: Mutant, tree: n.File, entries: list[str]) -> str:
        """What is wrong with it, in the words of the judge; empty where nothing is."""
        walker = Walker(
            {**self.trees, mutant.file: tree},
            {**self.digests, mutant.file: digest(mutant.file, mutant.text)},
            self.kept,
        )
        names = walker.names(mutant.file)
        for wrong in static(tree, names):
            return wrong
        for entry in dict.fromkeys((mutant.file, *self.callers(mutant.file))):
            for wrong in judge_folder(walker, entry):
                return f"{wrong} in {entry}"
        for broken in sorted(walk_values(walker, mutant.file)):
            return f"{broken.rule} {broken.about}"
        for entry in entries:
            try:
                found = sorted(walker.walk(entry))
            except TooManyRuns as many:
                return f"not decided: {many}"
            for broken in found:
                return f"{broken.rule} {broken.about} from {entry}"
        return ""

    def _check(self, folder: Folder, entry: str) -> tuple[Diagnostic, ...]:
        if len(self.before) > 500:
            self.before.clear()
        data = folder.texts[entry].encode()
        return check_files(entry, data, folder, self.before, _WRITING).findings  # type: ignore[arg-type]


def static(tree: n.File, names: Names) -> Iterator[str]:
    """What the judges of a single file find."""
    yield from judge_dimensions(tree, names)
    yield from judge_lookups(tree, names)
    yield from judge_instruments(tree)


def points_at(finding: Diagnostic, mutant: Mutant, tree: n.File) -> bool:
    """Whether somebody who reads a finding is led to the fault: by a line near it, or by a name that is said."""
    said = f"{finding.message} {finding.hint or ''} {' '.join(label.text for label in finding.also)}"
    if any(f"`{name}" in said or f" {name} " in said for name in mutant.about):
        return True
    low, high = mutant.line - 2, mutant.line + 2
    for step in tree.every(n.Step):
        first = mutant.text.count("\n", 0, step.span.start) + 1
        last = mutant.text.count("\n", 0, step.span.end) + 1
        if first <= mutant.line <= last:
            low, high = min(low, first), max(high, last)
    spans = [finding.span, *(label.span for label in finding.also)]
    return any(
        span.file == f"{mutant.file}.proc" and low <= mutant.text.count("\n", 0, span.start) + 1 <= high
        for span in spans
    )
