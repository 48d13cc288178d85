"""Small procedures with the findings they must have written on the lines that have them.

A file of cases holds many, each begun by `=== KIND name`. KIND says what the lines stand in: `file` is a whole file
(each file of a case begins with `--- NAME`, and the first is checked); `header`, `section` and `step` stand in the
procedure below. `#! code code` at the end of a line says what is found on it, and nothing else may be found. A case
with marks has a twin of the same name with ` mended` behind it, where nothing is found.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import attrs

from proclang.check.check import Checked, check_files
from proclang.check.writing.rule import Wanted

CASES = Path(__file__).parent / "cases"

HEADER = """\
proclang 1
procedure trial "Invented procedure that the cases stand in"
labels corners 1 .. 4
table pulls of share, settle
  snug 30 %, 2 min
  full 100 %, 10 min
inputs
  latitude: angle
  ring: length = 540 mm
  pitch: length per angle = 2.5 mm/turn
  full_torque: torque = 300 N.m
  slab: one of concrete, steel = concrete
  place_name: text
needs
  instrument bar "bubble level", reads to 0.1 arcmin
  instrument feeler "feeler gauges", reads to 0.05 mm
  instrument wrench "torque wrench"
  crew lead, rigger
  authority lead
machine drum
  cap found fitted, left fitted
"""

BESIDE = {
    "drum": """\
proclang 1
machine drum "Invented drum on a pier"
kind cover
  states fitted, removed
kind bolt
  states slack, tight
kind pin
  states fitted, removed
cap: cover "cap over the seat"
bolts[1 .. 4]: bolt "seat bolt"
pins[near, far]: pin "transport pin"
danger drum_hangs "Drum on the hook"
  risk "A drum that slips crushes whoever stands under it."
  avoid "Stand clear until it is landed; follow the lift plan and local rules."
  asks signaller "Who gives the signals?"
""",
    "survey": """\
proclang 1
procedure survey "Invented survey that the cases perform"
inputs
  limit: length
  base: one of concrete, steel, rock = rock
needs
  crew rigger
  authority rigger
gives drop
section look "Look"
  step read "Read the staff." by rigger
    measure drop in mm
      at most limit
  when base is rock
    step note_rock "Look at the rock."
""",
}  # fmt: skip

_DEPTH = {"header": 0, "section": 1, "step": 2}


@attrs.frozen
class Case:
    """One case: the files it is made of, the entry first, and the codes expected on lines of the entry."""

    name: str
    kind: str
    files: Mapping[str, str]
    expected: Mapping[int, tuple[str, ...]]
    writing: Wanted | None = None
    """Rules of writing that are looked at; None: none."""

    @property
    def entry(self) -> str:
        """The file that is checked."""
        return next(iter(self.files))

    def check(self) -> Checked:
        """Check it."""
        texts = Texts({**BESIDE, **self.files})
        return check_files(self.entry, self.files[self.entry].encode(), texts, writing=self.writing)

    def found(self) -> dict[int, tuple[str, ...]]:
        """Codes by line of the entry; in a fragment, what is not used is not counted unless the case is about it."""
        wanted = {code for codes in self.expected.values() for code in codes}
        checked = self.check()
        lines: dict[int, list[str]] = {}
        for finding in checked.findings:
            beside = finding.code.startswith("unused-") or finding.code in ("left-otherwise", "left-unsaid")
            idle = beside and self.kind != "file" and finding.code not in wanted
            if not idle:
                line, _ = checked.files.sources[finding.span.file].place(finding.span.start)
                where = line if finding.span.file == f"{self.entry}.proc" else -line
                lines.setdefault(where, []).append(finding.code)
        return {line: tuple(codes) for line, codes in lines.items()}


@attrs.frozen
class Texts:
    """A library of texts by name."""

    texts: Mapping[str, str]

    def shown(self, name: str) -> str:
        """As a file would be called."""
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        """The bytes of a text."""
        return self.texts[name].encode() if name in self.texts else None

    def names(self) -> tuple[str, ...]:
        """Every name."""
        return tuple(self.texts)


def read_cases(path: Path) -> list[Case]:
    """The cases of one file."""
    cases = []
    for block in re.split(r"^=== ", path.read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]:
        head, _, body = block.partition("\n")
        kind, _, name = head.partition(" ")
        cases.append(case_of(name.strip(), kind, body.rstrip("\n") + "\n"))
    return cases


def case_of(name: str, kind: str, body: str) -> Case:
    """A case from its lines."""
    if kind == "file":
        pieces = re.split(r"^--- (\w+)\n", body, flags=re.MULTILINE)
        files = dict(zip(pieces[1::2], pieces[2::2], strict=True))
    else:
        files = {"trial": in_procedure(kind, body)}
    expected: dict[int, tuple[str, ...]] = {}
    for number, line in enumerate(next(iter(files.values())).split("\n"), 1):
        mark = re.search(r"#! ([a-z0-9 -]+)$", line)
        if mark is not None:
            expected[number] = tuple(mark[1].split())
    return Case(name, kind, files, expected)


def in_procedure(kind: str, lines: str) -> str:
    """Lines of a header, a section or a step as a whole file."""
    inside = "".join("  " * _DEPTH[kind] + line + "\n" if line else "\n" for line in lines.rstrip("\n").split("\n"))
    if kind == "header":
        return HEADER + inside + 'section main "Main"\n  step look "Look around."\n'
    if kind == "section":
        return HEADER + 'section main "Main"\n' + inside
    return HEADER + 'section main "Main"\n  step act "Do it."\n' + inside
