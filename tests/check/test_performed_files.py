"""Findings of several files: each once, at its file, whoever performs it; and sound only where nothing is an error."""

from __future__ import annotations

import attrs
from marked_cases import BESIDE, Texts, in_procedure

from proclang.check.check import check_files
from proclang.program.load import ParsedBefore
from proclang.text.diagnostic import Severity


def test_findings_of_a_performed_file_are_told_at_that_file() -> None:
    """Performed twice, told once, and not at the lines that perform it."""
    bad = BESIDE["survey"].replace("at most limit", "at most limmit")
    text = in_procedure("section", "perform survey\n  with limit = ring\nperform survey as again\n  with limit = ring")
    checked = check_files("trial", text.encode(), Texts({**BESIDE, "survey": bad}))
    errors = [f for f in checked.findings if f.severity is Severity.ERROR]
    assert [(f.code, f.span.file) for f in errors] == [("unknown-name", "survey.proc")]
    assert not checked.sound


def test_a_performed_file_that_is_no_text_is_told_once() -> None:
    """What it would give is not asked after."""
    text = in_procedure("section", 'perform survey\n  gives drop\nperform survey as again\nstep show "{drop}"')
    files = Texts({**BESIDE})

    @attrs.frozen
    class Binary:
        """The same files, with one that is not text."""

        def shown(self, name: str) -> str:
            return files.shown(name)

        def names(self) -> tuple[str, ...]:
            return files.names()

        def read(self, name: str) -> bytes | None:
            return b"\xff\xfe" if name == "survey" else files.read(name)

    checked = check_files("trial", text.encode(), Binary())
    errors = [f for f in checked.findings if f.severity is Severity.ERROR]
    assert [(f.code, f.span.file) for f in errors] == [("not-utf8", "survey.proc")]


def test_a_machine_file_that_is_no_text_hides_its_items() -> None:
    """Its items and hazards are not missed one by one."""
    text = in_procedure("section", 'danger drum_hangs\nstep act "Act."\n  now cap is removed')

    @attrs.frozen
    class Binary:
        """A machine that is not text."""

        def shown(self, name: str) -> str:
            return f"{name}.proc"

        def names(self) -> tuple[str, ...]:
            return ()

        def read(self, name: str) -> bytes | None:
            return b"\xff" if name == "drum" else None

    checked = check_files("trial", text.encode(), Binary())
    assert [f.code for f in checked.findings if f.severity is Severity.ERROR] == ["not-utf8"]


def test_a_damaged_machine_hides_what_its_damaged_lines_may_have_said() -> None:
    """An item whose line is damaged is not missed where it is used."""
    drum = BESIDE["drum"].replace('cap: cover "cap over the seat"', 'cap; cover "cap over the seat"')
    text = in_procedure("section", 'step act "Act."\n  now cap is removed')
    checked = check_files("trial", text.encode(), Texts({**BESIDE, "drum": drum}))
    assert {f.span.file for f in checked.findings if f.severity is Severity.ERROR} == {"drum.proc"}


def test_warnings_do_not_make_a_procedure_unsound() -> None:
    """A warning is told, and the procedure can be run."""
    text = in_procedure("section", 'compute half = ring / 2\nstep look "Look."')
    checked = check_files("trial", text.encode(), Texts(BESIDE))
    assert "unused-value" in {f.code for f in checked.findings}
    assert all(f.severity is Severity.WARNING for f in checked.findings)
    assert checked.sound


def test_a_machine_by_itself_is_no_procedure_to_run() -> None:
    """It is checked, and there is nothing to run."""
    checked = check_files("drum", BESIDE["drum"].encode(), Texts(BESIDE))
    assert not checked.findings
    assert not checked.sound


def test_what_is_unused_waits_until_a_file_has_no_error() -> None:
    """A misspelt use would otherwise be told twice: where it is, and where what it means is declared."""
    text = in_procedure("section", 'compute half = ring / 2\nstep look "Look at {hlaf}."')
    codes = {f.code for f in check_files("trial", text.encode(), Texts(BESIDE)).findings}
    assert "unknown-name" in codes
    assert not any(code.startswith("unused-") for code in codes)


def test_files_parsed_before_give_the_same_findings() -> None:
    """Several files of a folder are checked one after the other; what they share is parsed once."""
    text = in_procedure("section", "perform survey\n  with limmit = ring")
    before: ParsedBefore = {}
    first = check_files("trial", text.encode(), Texts(BESIDE), before)
    assert len(before) == 3
    second = check_files("trial", text.encode(), Texts(BESIDE), before)
    assert first.findings == second.findings
    assert len(before) == 3
    changed = check_files("trial", text.replace("limmit", "limit").encode(), Texts(BESIDE), before)
    assert "unknown-input" not in {f.code for f in changed.findings}


def test_several_mistakes_come_in_the_order_of_the_text() -> None:
    """Values, ways, hardware and people, all in one go."""
    text = in_procedure(
        "section",
        'step read "Read." by riger\n  measure gap in mmm\n  now cap is remved\n'
        "compute odd = ring + 1 deg\n"
        'according to slab\n  concrete\n    step drill "Drill {drill_size}."\n'
        "perform survye",
    )
    checked = check_files("trial", text.encode(), Texts(BESIDE))
    assert [f.code for f in checked.findings] == [
        "unknown-role",
        "unknown-unit",
        "unknown-state",
        "dimension-mismatch",
        "arm-missing",
        "unknown-name",
        "missing-file",
    ]
