"""Findings as people and programs read them."""

from __future__ import annotations

import json
from collections.abc import Callable

from hypothesis import given
from hypothesis import strategies as st
from wcwidth import wcswidth

from proclang.text.diagnostic import Diagnostic, Label, Severity
from proclang.text.printable import has_hidden
from proclang.text.render import COLUMNS, render_json, render_text
from proclang.text.span import Source, Span

Golden = Callable[[str, str], None]


def finding(source: Source, text: str, nth: int = 0, **fields: object) -> Diagnostic:
    """A finding about the `nth` place where `text` stands in the source."""
    start = -1
    for _ in range(nth + 1):
        start = source.text.index(text, start + 1)
    span = Span(source.name, start, start + len(text))
    return Diagnostic("a-code", "`it` is wrong", span, **fields)  # type: ignore[arg-type]


def told(source: Source, *findings: Diagnostic) -> str:
    return render_text(findings, {source.name: source})


def test_forms_of_a_finding_in_text(golden: Golden) -> None:
    """All forms on one page: label, other places, warning, tab, wide letters, cut lines, a span over two lines."""
    source = Source(
        "demo.proc",
        "step one in acrmin\n"
        "\tstep two in acrmin\n"
        "note 望遠鏡 and e\u0301 then acrmin\n"
        + "x" * 150 + " acrmin " + "y" * 150 + "\n"
        "acrmin " + "y" * 150 + "\n"
        + "x" * 150 + " acrmin\n"
        "repeat many\n  lines here\n",
    )  # fmt: skip
    first = Span("demo.proc", 0, 4)
    many = source.text.index("repeat")
    page = told(
        source,
        finding(source, "acrmin", hint="did you mean `arcmin`?", label="not a unit"),
        finding(source, "acrmin", 1, severity=Severity.WARNING, also=(Label(first, "first set here"),)),
        finding(source, "acrmin", 2),
        finding(source, "acrmin", 3),
        finding(source, "acrmin", 4),
        finding(source, "acrmin", 5, label="at the end"),
        Diagnostic("a-code", "lines that belong together", Span("demo.proc", many, many + 20)),
        Diagnostic("a-code", "the end of a line", Span("demo.proc", 18, 18)),
        Diagnostic("a-code", "another file", Span("elsewhere.proc", 3, 5), hint="look there"),
        Diagnostic("a-code", "hidden \x1b[2J and \u202e letters", Span("demo.proc", 5, 8), hint="a\nb"),
    )
    golden("render/forms.txt", page)


def test_forms_of_a_finding_in_json(golden: Golden) -> None:
    """The documented keys, nothing else; a text that is not at hand has no lines."""
    source = Source("demo.proc", "step one\nstep two\n")
    page = render_json(
        [
            finding(source, "two", hint="do this", label="here", also=(Label(Span("demo.proc", 0, 4), "first"),)),
            Diagnostic("a-code", "another \x7f \u202e file", Span("elsewhere.proc", 3, 5)),
        ],
        {"demo.proc": source},
    )
    golden("render/forms.json", page)
    loaded = json.loads(page)
    assert loaded["schema"] == 1
    assert loaded["findings"][0]["line"] == 2
    assert loaded["findings"][0]["end_column"] == 9
    assert loaded["findings"][1]["message"] == "another \x7f \u202e file"


def test_no_findings_is_no_text() -> None:
    """Quiet when all is well; the JSON form still says that it ran."""
    assert render_text([], {}) == ""
    assert json.loads(render_json([], {})) == {"schema": 1, "findings": [], "allowed": []}


def test_first_line_is_path_line_column() -> None:
    """Editors open the place from `path:line:column:`; both count from 1."""
    source = Source("a b.proc", "one\n  two\n")
    assert told(source, finding(source, "two")).startswith("a b.proc:2:3: error[a-code]: `it` is wrong\n")


def test_findings_left_out_are_counted() -> None:
    """A list that was cut says so, in JSON nothing is cut."""
    source = Source("a.proc", "one\n")
    many = [finding(source, "one")] * 105
    assert told(source, *many).endswith("\n\n5 more findings are not shown\n")
    assert render_text(many[:3], {"a.proc": source}, most=2).endswith("\n\n1 more finding is not shown\n")
    assert len(json.loads(render_json(many, {"a.proc": source}))["findings"]) == 105


@given(st.text(max_size=300), st.integers(0, 300), st.integers(0, 40), st.text(max_size=5))
def test_any_text_is_shown_safely_and_underlined_in_place(text: str, at: int, size: int, name: str) -> None:
    """No control reaches the terminal, no line is much wider than `COLUMNS`, and the mark stands under the place."""
    at = min(at, len(text))
    source = Source(name, text)
    shown = told(source, Diagnostic("a-code", text, Span(name, at, at + size), hint=text, label=""))
    lines = shown.split("\n")
    assert not any(has_hidden(line) for line in lines)
    line, _ = source.place(at)
    if source.line(line):
        drawn, mark = lines[1], lines[2]
        assert set(mark.strip()) == {"~"}
        assert sum(max(0, wcswidth(c)) for c in drawn) <= 4 + COLUMNS + 6
        before = len(mark) - len(mark.lstrip())
        under = source.text[at : at + 1]
        if under.isascii() and under.isprintable() and under != " ":
            width = 0
            for char in drawn:
                if width == before and char == under:
                    break
                width += max(0, wcswidth(char))
            assert width == before


@given(st.text(max_size=300), st.integers(0, 300), st.integers(0, 40))
def test_json_of_any_text_is_ascii_and_reads_back(text: str, at: int, size: int) -> None:
    """What a program reads is the message as it was, and the bytes are safe on a terminal too."""
    source = Source("a.proc", text)
    page = render_json([Diagnostic("a-code", text, Span("a.proc", at, at + size))], {"a.proc": source})
    assert page.isascii()
    assert not has_hidden(page.replace("\n", ""))
    assert json.loads(page)["findings"][0]["message"] == text


def test_a_line_of_a_million_characters_is_shown_in_short() -> None:
    """What is too long to read is also too long to show."""
    source = Source("a.proc", "é" * 1_000_000 + "\n")
    shown = told(source, Diagnostic("too-long", "too long", Span("a.proc", 500_000, 999_999)))
    assert len(shown) < 500
    assert "...é" in shown
    assert "é...\n" in shown
