"""What the benchmarks are measured on: procedures of a wanted length, their like in YAML, a run of many readings."""

from __future__ import annotations

from pathlib import Path

from proclang.session.files import Files
from proclang.session.run import OpenedRun

SECTION = """\
section part_{k} "Part {k} of an invented procedure"
  step look_{k} "Look at both scales." by lead
    "Read at eye height."
    measure a_{k} "left scale" in mm using rule
      within 12 ± 2 mm
      plausible 0 .. 100 mm
    measure b_{k} "right scale" in mm using rule
  compute mean_{k} = (a_{k} + b_{k}) / 2 * 3
    at most 50 mm
  step note_{k} "Write down {{mean_{k} to 0.1 mm}}." by lead
"""
HEADER = """\
proclang 1
procedure {name} "Invented procedure for measuring speed"
needs
  instrument rule "steel rule", reads to 0.2 mm
  crew lead
  authority lead
"""


def procedure_text(lines: int, name: str = "long", performs: tuple[str, ...] = ()) -> str:
    """A procedure of about so many lines."""
    parts = [HEADER.format(name=name)]
    count = max(1, (lines - HEADER.count("\n")) // SECTION.count("\n"))
    parts.extend(SECTION.format(k=k) for k in range(count))
    if performs:
        parts.append('section rest "The rest"\n' + "".join(f"  perform {p}\n" for p in performs))
    return "".join(parts)


FORK = """\
section part_{k} "Part {k} of an invented procedure"
  choose way_{k} from left, right "Which way?"
  according to way_{k}
    left
      step left_{k} "Go left." by lead
        note seen_{k} "What was seen"
    right
      step right_{k} "Go right." by lead
        note seen_{k} "What was seen"
  step after_{k} "Read {{seen_{k}}}." by lead
"""


def forked_text(forks: int, name: str = "forked") -> str:
    """A procedure in which ways part so many times, one after the other: as many ways through as 2 to that power."""
    return HEADER.format(name=name).replace('  instrument rule "steel rule", reads to 0.2 mm\n', "") + "".join(
        FORK.format(k=k) for k in range(forks)
    )


PLAIN = """\
section part_{k} "Part {k} of an invented procedure"
  choose way_{k} from left, right "Which way?"
  step go_{k} "Go {{way_{k}}}." by lead
    note seen_{k} "What was seen"
  step wait_{k} "Wait." by lead
    note heard_{k} "What was heard"
  step look_{k} "Look back." by lead
    "Nothing is left behind."
    "Everybody has come along."
  step after_{k} "Read {{seen_{k}}} and {{heard_{k}}}." by lead
"""


def plain_text(parts: int, name: str = "plain") -> str:
    """As many lines as `forked_text` has for as many forks, with no fork in them."""
    return forked_text(0, name) + "".join(PLAIN.format(k=k) for k in range(parts))


def performed_twice(depth: int) -> dict[str, str]:
    """Procedures of which each performs the one before it twice, so that the last comes to 2 to the power `depth`."""
    begun = HEADER.replace('  instrument rule "steel rule", reads to 0.2 mm\n', "") + 'section main "Main"\n'
    texts = {"level_0": begun.format(name="level_0") + '  step look "Look." by lead\n'}
    for k in range(1, depth + 1):
        performs = "".join(f"  perform level_{k - 1} as {side}\n" for side in ("once", "again"))
        texts[f"level_{k}"] = begun.format(name=f"level_{k}") + performs
    return texts


YAML_PART = """\
- section: part_{k}
  title: "Part {k} of an invented procedure"
  body:
  - step: look_{k}
    text: "Look at both scales."
    measure: {{name: a_{k}, unit: mm, using: rule, within: [10, 14], plausible: [0, 100]}}
  - measure: b_{k}
    unit: mm
    using: rule
  - compute: mean_{k}
    formula: "(a_{k} + b_{k}) / 2 * 3"
"""


def yaml_text(lines: int) -> str:
    """The like of `procedure_text` in YAML, as long."""
    return "".join(YAML_PART.format(k=k) for k in range(lines // YAML_PART.count("\n")))


class Texts:
    """Procedure texts by name."""

    def __init__(self, texts: dict[str, str]) -> None:
        self._data = {name: text.encode() for name, text in texts.items()}

    def shown(self, name: str) -> str:
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        return self._data.get(name)

    def names(self) -> tuple[str, ...]:
        return tuple(self._data)


def program_files(texts: dict[str, str]) -> Texts:
    """A library of texts."""
    return Texts(texts)


class _NoWait(Files):
    """The log is measured, not the disk."""

    def fsync(self, descriptor: int) -> None:
        pass

    def fsync_folder(self, path: Path) -> None:
        pass


MANY = """\
proclang 1
procedure many "Many readings, invented"
labels rows 1 .. {rows}
labels columns 1 .. 100
needs
  crew lead
  authority lead
section work "Work"
  for each row of rows
    step look "Look along row {{row}}." by lead
      measure x[columns] in mm
        within 12 ± 2 mm
"""
SITE = b'[site]\nname = "nowhere"\ntitle = "Nowhere (invented)"\ntraining = true\n'


def long_run(folder: Path, readings: int) -> OpenedRun:
    """A finished run of so many readings."""
    from proclang.engine.model import Entry, Over
    from proclang.program.build import build
    from proclang.program.load import load
    from proclang.session.clock import SteppedClock
    from proclang.session.run import Run, open_run, start
    from proclang.session.site import Site, read_site

    # A procedure may come to 10,000 steps and readings in all, so a run of 10,000 readings stops short of that.
    text = MANY.format(rows=readings // 100 - 2)
    files = load("many", text.encode(), Texts({"many": text}))
    built = build(files)
    assert built.program is not None
    assert not built.findings, built.findings
    site = read_site(SITE, "site.toml")
    assert isinstance(site, Site)
    run = start(folder, files, built.program, SITE, site, SteppedClock(), _NoWait())
    assert isinstance(run, Run), run
    answers = {"text": "Ada Quill", "word": "done", "quantity": "12.5"}
    while not isinstance(run.request, Over):
        entry = run.reply(answers[run.request.kind])
        assert isinstance(entry, Entry), entry
    run.close()
    opened = open_run(folder)
    assert isinstance(opened, OpenedRun)
    return opened
