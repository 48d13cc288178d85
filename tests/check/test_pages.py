"""Every kind of finding has its page, and the examples of a page are what it says they are."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from marked_cases import BESIDE, Case, Texts, case_of

from proclang.check.check import check_files
from proclang.check.page import KINDS, Example, Page, listed, page_of, pages_folder
from proclang.check.writing.registry import BY_CODE
from proclang.check.writing.rule import Wanted
from proclang.text.diagnostic import Problem
from proclang.text.render import render_text
from proclang.values.reader import read_quantity
from proclang.values.unit import Unit, find_unit

LISTED = listed()
PAGES = {code: page_of(entry) for code, entry in LISTED.items()}
SHOWN = {code: page for code, page in PAGES.items() if page.wrong is not None}
CHECKED = {code: page for code, page in SHOWN.items() if page.wrong and page.wrong.kind not in ("reply", "read")}
TYPED = {code: page for code, page in SHOWN.items() if code not in CHECKED}

SIGN = re.compile(r"<U\+([0-9A-F]+)>|<byte ([0-9A-F]{2})>|<([0-9]+) times ([^>\n]+|>)>")


def expanded(text: str) -> bytes:
    """The bytes that an example stands for."""

    def one(found: re.Match[str]) -> str:
        if found[1]:
            return chr(int(found[1], 16))
        if found[2]:
            return bytes([int(found[2], 16)]).decode("utf-8", "surrogateescape")
        return found[4] * int(found[3])

    return SIGN.sub(one, text).encode("utf-8", "surrogateescape")


def case(code: str, example: Example) -> Case:
    """An example of a page as one of the marked cases; a single file is called as its title says."""
    text = example.text
    title = re.search(r"^(?:procedure|machine) (\w+)", text, re.MULTILINE)
    if example.kind == "file" and not text.startswith("--- "):
        text = f"--- {title[1] if title else 'trial'}\n{text}"
    return case_of(code, example.kind, text)


def found(code: str, example: Example) -> tuple[dict[int, tuple[str, ...]], str]:
    """The codes by line of the file that is checked, and the findings as they are told. In lines that stand in a
    procedure, what they leave unused counts only where the page is about it."""
    made = case(code, example)
    texts = {**BESIDE, **made.files}
    writing = Wanted(frozenset({code})) if code in BY_CODE or code.startswith("allowance-") else None
    checked = check_files(made.entry, expanded(made.files[made.entry]), Texts(texts), writing=writing)
    told = [
        f for f in checked.findings
        if f.code == code or example.kind == "file" or not f.code.startswith("unused-")
    ]  # fmt: skip
    lines: dict[int, tuple[str, ...]] = {}
    for finding in told:
        line, _ = checked.files.sources[finding.span.file].place(finding.span.start)
        lines[line] = (*lines.get(line, ()), finding.code)
    return lines, render_text(told, checked.files.sources)


def test_every_code_has_its_page_and_every_page_its_code() -> None:
    """Made by `proclang explain`; a code without a page would be explained by its line in the list alone."""
    assert len(LISTED) > 100
    assert {path.stem for path in pages_folder().iterdir()} == set(LISTED)


@pytest.mark.parametrize("code", LISTED)
def test_a_page_says_why_and_shows_it(code: str) -> None:
    """In whole sentences, with both examples or the reason why there are none, and nothing left over."""
    page = PAGES[code]
    assert page.why
    assert all(part.endswith(".") for part in (*page.why, page.source or "."))
    without = [part for part in page.why if part.startswith("No example: ")]
    assert (page.wrong is None, page.right is None) == (bool(without), bool(without))
    text = (pages_folder() / f"{code}.md").read_text(encoding="utf-8")
    assert text.count("```") == (0 if without else 4)
    for example in (page.wrong, page.right):
        if example is not None:
            assert example.kind in KINDS
            lines = re.sub(r" +#! .*$", "", example.text, flags=re.MULTILINE).splitlines()
            assert max(map(len, lines)) <= 76  # four columns in, they fit into 80


@pytest.mark.parametrize("code", CHECKED)
def test_the_wrong_example_has_this_finding_and_no_other(code: str) -> None:
    """On the lines that are marked; at least once where a mark would not stand for itself."""
    page = PAGES[code]
    assert page.wrong is not None
    assert page.wrong.code == code
    lines, told = found(code, page.wrong)
    assert {c for codes in lines.values() for c in codes} == {code}, told
    marked = case(code, page.wrong).expected
    if marked:
        assert lines == marked, told


@pytest.mark.parametrize("code", CHECKED)
def test_the_mended_example_has_no_finding(code: str) -> None:
    page = PAGES[code]
    assert page.right is not None
    lines, told = found(code, page.right)
    assert lines == {}, told


@pytest.mark.parametrize("code", TYPED)
def test_what_is_typed_is_refused_and_taken_as_the_page_says(code: str) -> None:
    """Readings as a technician types them, and quantities as they stand in a procedure."""
    for example in (PAGES[code].wrong, PAGES[code].right):
        assert example is not None
        unit = find_unit(example.unit)
        assert isinstance(unit, Unit)
        read = read_quantity(expanded(example.text).decode().strip("\n"), unit=unit, reply=example.kind == "reply")
        assert (read.code if isinstance(read, Problem) else "") == example.code


def test_the_words_of_the_findings_on_the_pages(golden: Callable[[str, str], None]) -> None:
    """Message, place and hint as they are shown; read the difference as prose before taking it over."""
    parts = [f"=== {code}\n\n{found(code, page.wrong)[1]}" for code, page in CHECKED.items() if page.wrong]
    golden("check/pages.txt", "\n".join(parts))


def test_a_code_that_has_no_page_yet_is_told_from_its_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing fails where a file is missing from an installation."""
    monkeypatch.setattr("proclang.check.page.pages_folder", lambda: tmp_path)
    page = page_of(LISTED["unknown-name"])
    assert page == Page(LISTED["unknown-name"], (), "", None, None)
