"""LANGUAGE.md is true: its examples are what it says they are, and its tables are those of the code."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import attrs
import pytest
from fences import Fence, as_file, fences, whole_files
from reference_parts import PARTS, REFERENCE, part, with_part

import proclang
from proclang.check.check import check_files
from proclang.syntax import nodes as n
from proclang.syntax.format import format_file
from proclang.syntax.grammar import tables
from proclang.syntax.parse import parse
from proclang.text.diagnostic import Severity
from proclang.text.render import render_text
from proclang.text.span import Source

ROOT = Path(proclang.__file__).parent


@attrs.frozen
class Texts:
    """The whole examples as a folder."""

    texts: Mapping[str, str]

    def shown(self, name: str) -> str:
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        return self.texts[name].encode() if name in self.texts else None

    def names(self) -> tuple[str, ...]:
        return tuple(self.texts)


def _id(fence: Fence) -> str:
    return f"line {fence.line}"


@pytest.mark.parametrize("fence", fences(), ids=_id)
def test_each_example_is_what_it_says_it_is(fence: Fence) -> None:
    """A whole file has no finding, a fragment no error (what it leaves unused is not its matter), and an example of an
    error exactly that one."""
    name, text = as_file(fence)
    checked = check_files(name, text.encode(), Texts({**whole_files(), name: text}))
    found = [f for f in checked.findings if fence.kind == "file" or f.severity is Severity.ERROR]
    if fence.kind != "file":
        # What a procedure leaves is not the matter of one section of it.
        found = [f for f in found if f.code not in ("left-otherwise", "left-unsaid") or f.code == fence.code]
    assert [f.code for f in found] == ([fence.code] if fence.code else []), render_text(found, checked.files.sources)


def test_no_fence_is_left_out() -> None:
    """A fence whose mark is misspelt would not be checked."""
    opened = re.findall(r"^```(\w.*)$", REFERENCE.read_text(encoding="utf-8"), re.M)
    assert opened
    assert len(opened) == len(fences())


def test_the_examples_hold_every_kind_of_line() -> None:
    """Each statement and each line of a header or a machine is shown at least once."""
    shown: set[type[n.Node]] = set()
    for fence in fences():
        _, text = as_file(fence)
        shown |= {type(node) for node in parse(Source("example", text)).tree.walk()}
    every = {kind for kind in vars(n).values() if isinstance(kind, type) and issubclass(kind, n.Node)}
    assert every - shown == {n.Node, n.Broken}


def test_the_examples_hold_every_word_of_the_language() -> None:
    """No keyword is missing from the reference."""
    text = REFERENCE.read_text(encoding="utf-8")
    written = (str(t.pattern.value).replace(" +", " ").replace(r"\b", "") for t in tables().terminals)
    words = {word for word in written if re.fullmatch(r"[a-z ]+", word)}
    assert words
    assert {word for word in words if not re.search(rf"\b{re.escape(word)}\b", text)} == set()


@pytest.mark.parametrize("fence", [fence for fence in fences() if not fence.code], ids=_id)
def test_the_examples_are_laid_out(fence: Fence) -> None:
    """The reference shows the layout that `proclang format` makes."""
    name, text = as_file(fence)
    assert format_file(text.encode(), name).text == text


@pytest.mark.parametrize("name", PARTS)
def test_the_parts_made_from_the_code_are_in_step(name: str, request: pytest.FixtureRequest) -> None:
    """`--update-goldens` writes them."""
    text = REFERENCE.read_text(encoding="utf-8")
    if request.config.getoption("--update-goldens"):
        REFERENCE.write_text(with_part(text, name, PARTS[name]()), encoding="utf-8")
    else:
        assert part(text, name) == PARTS[name]()


# ---------------------------------------------------------------------------- codes

SAYERS = {
    "Diagnostic",
    "Problem",
    "say",
    "Refused",
    "say_unknown",
    "say_unlisted",
    "_say",
    "_find",
    "_warn",
    "once",
    "Irregular",
    "Rule",
}
"""What a finding is made with: its code is one of the first two arguments, or called `code`."""

ROOMS = ("text", "values", "syntax", "field", "program", "check")
"""Rooms that find something in a procedure; what is said of replies and runs is told where those are described."""


def _literals(node: ast.expr) -> Iterator[str]:
    if isinstance(node, ast.IfExp):
        yield from _literals(node.body)
        yield from _literals(node.orelse)
    elif isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value


def _codes_of(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if called not in SAYERS:
            continue
        places = [*node.args[:2], *(k.value for k in node.keywords if k.arg == "code")]
        for text in (literal for place in places for literal in _literals(place)):
            if re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", text):
                yield text


def _listed() -> dict[str, str]:
    text = REFERENCE.read_text(encoding="utf-8")
    chapter = text[text.index("\n## 19 Findings") : text.index("\n## 20 Limits")]
    rows = re.findall(r"^\| `([a-z0-9-]+)` \| (.+) \|$", chapter, re.M)
    assert len(rows) == len(dict(rows)), "a code is listed twice"
    return dict(rows)


def test_every_code_is_listed_and_every_listed_code_is_used() -> None:
    """The list of findings is the one a reader looks a code up in."""
    used = {code for room in ROOMS for path in sorted((ROOT / room).rglob("*.py")) for code in _codes_of(path)}
    assert set(_listed()) == used


def test_a_code_is_a_warning_where_the_reference_says_so() -> None:
    """The marks of the list are those of the code: every finding made with the severity of a warning."""
    warnings = set()
    for path in sorted(p for room in ("program", "check") for p in (ROOT / room).rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if "Severity.WARNING" in text or path.parent.name == "writing":
            for node in ast.walk(ast.parse(text)):
                if (
                    isinstance(node, ast.Call)
                    and any(k.arg == "severity" and ast.unparse(k.value) == "Severity.WARNING" for k in node.keywords)
                ) or (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "_warn"):
                    warnings.update(code for argument in node.args[:1] for code in _literals(argument))
            if path.name in ("unused.py", "allowances.py") or path.parent.name == "writing":  # there all are
                warnings.update(_codes_of(path))
    assert {code for code, words in _listed().items() if words.startswith("*warning*")} == warnings
