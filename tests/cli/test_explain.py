"""`proclang explain`: what is behind each code."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

import proclang
from proclang.check.page import listed
from proclang.cli.main import UNUSABLE, main

SCHEMA = Path(proclang.__file__).parent / "cli" / "schemas" / "explain.schema.json"
LISTED = listed()


def explained(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """What is printed; nothing may go to standard error."""
    capsys.readouterr()
    assert main(["explain", *arguments]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out


def test_some_pages_as_they_are_printed(capsys: pytest.CaptureFixture[str], golden: Callable[[str, str], None]) -> None:
    """A fragment, a whole file, several files, something typed, something that cannot be shown, no example at all."""
    codes = ("unknown-name", "cannot-resolve", "perform-cycle", "decimal-comma", "two-numbers", "hidden-character")
    golden("cli/explain.txt", "\n".join(explained(capsys, code) for code in (*codes, "perform-depth")))


def test_without_a_code_every_code_is_listed_under_its_group(capsys: pytest.CaptureFixture[str]) -> None:
    """In the order of the reference of the language, one entry each."""
    lines = explained(capsys).splitlines()
    entries = [line.split()[0] for line in lines if line[:2] == "  " and line[2:3] != " "]
    groups = [line for line in lines if line and line[:1] != " "]
    assert entries == list(LISTED)
    assert groups == list(dict.fromkeys(entry.group for entry in LISTED.values()))
    assert sum("  warning: " in line for line in lines) == sum(e.severity.value == "warning" for e in LISTED.values())


@pytest.mark.parametrize("code", ["", *LISTED])
def test_all_of_it_fits_into_eighty_columns(capsys: pytest.CaptureFixture[str], code: str) -> None:
    assert max(map(len, explained(capsys, *filter(None, [code])).splitlines())) <= 80


@pytest.mark.parametrize("code", LISTED)
def test_a_page_says_severity_and_shows_both_examples_where_there_are_some(
    capsys: pytest.CaptureFixture[str], code: str
) -> None:
    text = explained(capsys, code)
    assert text.startswith(f"{code}: ")
    assert f"\n{LISTED[code].severity.value}, among: " in text
    assert ("\nWrong, " in text, "\nRight, " in text) == ("No example:" not in text, "No example:" not in text)
    assert "#!" not in text


def test_a_code_that_does_not_exist_is_told_with_what_is_near(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "unkown-name"]) == UNUSABLE
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("proclang explain: there is no finding `unkown-name`\n  did you mean `unknown-name`")


def test_a_code_like_no_other_is_told_where_all_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever was typed is shown safely."""
    assert main(["explain", "\x1b[31m§"]) == UNUSABLE
    out, err = capsys.readouterr()
    assert (out, err) == (
        "",
        "proclang explain: there is no finding `\\u{1b}[31m§`\n  `proclang explain` lists them all\n",
    )


@pytest.mark.parametrize("code", ["", *LISTED])
def test_what_programs_are_told(capsys: pytest.CaptureFixture[str], code: str) -> None:
    """As the form that travels with the program describes it, with nothing besides, in ASCII."""
    text = explained(capsys, *filter(None, [code]), "--format", "json")
    assert text.isascii()
    told = json.loads(text)
    Draft202012Validator(json.loads(SCHEMA.read_text(encoding="utf-8"))).validate(told)
    if code:
        assert set(told) == {"schema", "code", "severity", "group", "title", "why", "source", "wrong", "right"}
        assert told["code"] == code
    else:
        assert [entry["code"] for entry in told["codes"]] == list(LISTED)


def test_two_codes_are_one_too_many(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "tab", "syntax"]) == UNUSABLE
    assert "`syntax` is one argument too many" in capsys.readouterr().err
