"""`check --format sarif` and `--format github`: what is given to those who review a change.

A SARIF log is held to `sarif-schema-2.1.0.json` beside this file: the JSON schema of "Static Analysis Results
Interchange Format (SARIF) Version 2.1.0", errata 01, as OASIS Open publishes it, unchanged. What a schema cannot say is
checked against the text of that standard; the numbers are its sections.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import unquote_to_bytes, urlsplit

import pytest
from jsonschema import Draft4Validator

from proclang.check.page import listed
from proclang.cli.check_reviews import github, sarif
from proclang.cli.main import UNUSABLE, main
from proclang.text.diagnostic import Diagnostic, Label, Severity
from proclang.text.span import Source, Span

SCHEMA = json.loads((Path(__file__).parent / "sarif-schema-2.1.0.json").read_text(encoding="utf-8"))

DOUBLE = """\
proclang 1
procedure double "Invented"
section main "Main"
  step look "Mark 𝛑 µ {gap}."
  step look "Look."
"""
IDLE = 'proclang 1\nprocedure idle "Invented"\ninputs\n  ring: length\nsection main "Main"\n  step look "Look."\n'
ODD = "a b%,:;'é\n\u202e\x1b[31m[x](y){0}.proc"
"""A name that is hostile to a shell, a URI, a workflow command, a terminal and a SARIF message."""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to stand in, with two files."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "set").mkdir()
    (tmp_path / "set" / "double.proc").write_text(DOUBLE, encoding="utf-8")
    (tmp_path / "set" / "idle.proc").write_text(IDLE, encoding="utf-8")
    return tmp_path


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    capsys.readouterr()
    main(["check", "--no-cache", *arguments])
    return capsys.readouterr().out


def log_of(text: str) -> dict[str, Any]:
    """A log that is of the published form, and its one run."""
    log = json.loads(text)
    Draft4Validator(SCHEMA).validate(log)
    (run,) = log["runs"]
    return dict(run)


def texts_in(part: Any) -> Iterator[str]:
    """Every message text in it."""
    for key, value in part.items() if isinstance(part, dict) else enumerate(part):
        if key in ("text", "markdown") and isinstance(value, str):
            yield value
        elif isinstance(value, dict | list):
            yield from texts_in(value)


# ---------------------------------------------------------------------------- SARIF


def test_the_schema_is_one() -> None:
    Draft4Validator.check_schema(SCHEMA)
    assert SCHEMA["id"] == "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"


def test_a_log_as_it_is_printed(
    folder: Path, capsys: pytest.CaptureFixture[str], golden: Callable[[str, str], None]
) -> None:
    text = told(capsys, "set", "--format", "sarif")
    log_of(text)
    golden("cli/check.sarif.json", re.sub(r'("version": )"\d+\.\d+\.\d+[^"]*"(?=,\n +"rules")', r'\1"..."', text))


def test_places_are_in_sixteen_bit_units_and_the_end_is_the_place_behind(folder: Path) -> None:
    """3.14.27 columnKind, 3.30.8 endColumn: the letter before the insert takes two units."""
    text = DOUBLE.splitlines()[3]
    assert "𝛑" in text
    source = Source("x.proc", DOUBLE)
    start = DOUBLE.index("gap")
    run = log_of(sarif([Diagnostic("unknown-name", "m", Span("x.proc", start, start + 3))], {"x.proc": source}))
    assert run["columnKind"] == "utf16CodeUnits"
    (place,) = run["results"][0]["locations"]
    before = text[: text.index("gap")]
    column = len(before.encode("utf-16-le")) // 2 + 1
    assert column == len(before) + 2
    region = {"startLine": 4, "startColumn": column, "endLine": 4, "endColumn": column + 3}
    assert place["physicalLocation"]["region"] == region


def test_a_second_place_is_a_related_location(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run = log_of(told(capsys, "set", "--format", "sarif"))
    twice = next(result for result in run["results"] if result["ruleId"] == "duplicate-name")
    (also,) = twice["relatedLocations"]
    assert also["physicalLocation"]["region"]["startLine"] == 4
    assert also["message"]["text"]
    assert also["id"] == 1


def test_each_rule_that_was_broken_is_described_once(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With its page; a result points to its rule by place and by name (3.27.5, 3.27.6)."""
    run = log_of(told(capsys, "set", "--format", "sarif"))
    rules = run["tool"]["driver"]["rules"]
    ids = [rule["id"] for rule in rules]
    assert ids == sorted({result["ruleId"] for result in run["results"]}) == sorted(set(ids))
    for result in run["results"]:
        rule = rules[result["ruleIndex"]]
        assert rule["id"] == result["ruleId"]
        assert rule["defaultConfiguration"]["level"] == result["level"]
    for rule in rules:
        assert rule["help"]["text"].startswith(rule["fullDescription"]["text"])
        assert "Wrong:" in rule["help"]["markdown"]


def test_every_code_there_is_makes_a_log_of_the_published_form() -> None:
    """With all pages in it, and a code that nobody listed."""
    findings = [
        Diagnostic(code, "m", Span("x.proc", 0, 1), severity=entry.severity) for code, entry in listed().items()
    ]
    run = log_of(sarif([*findings, Diagnostic("of-tomorrow", "m", Span("x.proc", 0, 1))], {}))
    rules = {rule["id"]: rule for rule in run["tool"]["driver"]["rules"]}
    assert set(rules) == {*listed(), "of-tomorrow"}
    levels = {"error", "warning"}
    assert {rule["defaultConfiguration"]["level"] for code, rule in rules.items() if code in listed()} == levels


def test_no_finding_is_a_log_without_results(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "good.proc").write_text('proclang 1\nprocedure good "G"\nsection main "M"\n  step look "Look."\n')
    run = log_of(told(capsys, "good.proc", "--format", "sarif"))
    assert (run["results"], run["tool"]["driver"]["rules"]) == ([], [])


def test_no_message_holds_a_placeholder_or_a_link() -> None:
    """3.11.5: a brace that is none is doubled. 3.11.6: brackets with parentheses behind them would be a link."""
    words = "`{0}` and [here](1) and {gap}"
    finding = Diagnostic(
        "insert", words, Span("x.proc", 0, 1), hint=words, label=words, also=(Label(Span("x.proc", 0, 1), words),)
    )
    text = sarif([finding], {"x.proc": Source("x.proc", "x")})
    for message in texts_in(json.loads(text)):
        assert "](" not in message
        assert not re.search(r"[{}]", message.replace("{{", "").replace("}}", ""))
    (result,) = log_of(text)["results"]
    assert result["message"]["text"] == "\n".join(["`{{0}}` and [here] (1) and {{gap}}"] * 2)


@pytest.mark.parametrize("name", [ODD, "-odd.proc", "né/ü.proc", "a:b/c.proc", "c:/d.proc", "#?/&.proc", "//x.proc"])
def test_a_file_name_is_a_relative_uri(folder: Path, name: str) -> None:
    """3.4.3, and RFC 3986: nothing in it is taken for a scheme, a host, a query or a fragment; percent signs give back
    the very bytes of the name."""
    run = log_of(sarif([Diagnostic("tab", "m", Span(name, 0, 1))], {}))
    place = run["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]
    assert re.fullmatch(r"(?:[A-Za-z0-9._~/-]|%[0-9A-F]{2})+", place["uri"])
    split = urlsplit(place["uri"])
    assert (split.scheme, split.netloc, split.query, split.fragment) == ("", "", "", "")
    assert place["uriBaseId"] in run["originalUriBaseIds"]
    if not name.startswith("/"):
        assert unquote_to_bytes(place["uri"]) == os.fsencode(name)


def test_bytes_that_are_no_text_stay_what_they_are() -> None:
    """A file name on disk is bytes."""
    name = os.fsdecode(b"\xff\xfe.proc")
    run = log_of(sarif([Diagnostic("tab", "m", Span(name, 0, 1))], {}))
    uri = run["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    assert unquote_to_bytes(uri) == b"\xff\xfe.proc"


@pytest.mark.parametrize("form", ["sarif", "github"])
def test_a_hostile_name_on_the_disk_is_told_and_does_no_harm(
    folder: Path, capsys: pytest.CaptureFixture[str], form: str
) -> None:
    """The whole way, from the folder to what is printed."""
    (folder / ODD).write_text(IDLE, encoding="utf-8")
    text = told(capsys, ".", "--format", form, "--select", "other-file-name")
    assert not re.search(r"[\x00-\x09\x0b-\x1f\u202e]", text)
    if form == "sarif":
        (result,) = log_of(text)["results"]
        uri = result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
        assert unquote_to_bytes(uri) == os.fsencode(ODD)
    else:
        ((_, properties, _),) = commands(text)
        assert properties["file"] == ODD.replace("\x1b", "\\u{1b}").replace("\u202e", "\\u{202e}")


@pytest.mark.parametrize("form", ["sarif", "github"])
def test_nothing_is_told_of_where_the_computer_keeps_the_folder(
    folder: Path, capsys: pytest.CaptureFixture[str], form: str
) -> None:
    """Named in full, a file is told as it is seen from here; also one beside the folder."""
    inside = told(capsys, str(folder / "set" / "double.proc"), "--format", form)
    assert inside == told(capsys, "set/double.proc", "--format", form)
    assert "set/double.proc" in inside
    (folder / "deep").mkdir()
    os.chdir(folder / "deep")
    outside = told(capsys, str(folder / "set"), "--format", form)
    assert "../set/double.proc" in outside
    assert str(folder) not in outside
    assert folder.name not in outside


@pytest.mark.parametrize("form", ["sarif", "github"])
def test_the_same_files_give_the_same_bytes_in_any_order(
    folder: Path, capsys: pytest.CaptureFixture[str], form: str
) -> None:
    (folder / "set" / "other.proc").write_text(DOUBLE.replace("double", "other"), encoding="utf-8")
    names = ["set/double.proc", "set/other.proc"]
    text = told(capsys, *names, "--format", form)
    assert text == told(capsys, *reversed(names), "--format", form)
    assert text.index("set/double.proc") < text.index("set/other.proc")


@pytest.mark.parametrize("form", ["sarif", "github"])
def test_counts_have_no_place_in_them(folder: Path, capsys: pytest.CaptureFixture[str], form: str) -> None:
    assert main(["check", "set", "--format", form, "--statistics"]) == UNUSABLE
    out, err = capsys.readouterr()
    assert out == ""
    assert "--statistics" in err


@pytest.mark.parametrize("form", ["sarif", "github"])
def test_a_selection_and_the_exit_code_hold_for_them_too(
    folder: Path, capsys: pytest.CaptureFixture[str], form: str
) -> None:
    assert main(["check", "set", "--no-cache", "--format", form, "--select", "unused-input"]) == 1
    out = capsys.readouterr().out
    assert "unused-input" in out
    assert "duplicate-name" not in out
    assert main(["check", "set", "--no-cache", "--format", form, "--exit-zero"]) == 0


def test_what_is_typed_in_is_called_as_it_was_named(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`<stdin>` where it was not."""
    run = log_of(sarif([Diagnostic("tab", "m", Span("<stdin>", 0, 1))], {}))
    uri = run["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    assert uri == "%3Cstdin%3E"


# ---------------------------------------------------------------------------- GitHub

COMMAND = re.compile(r"::(error|warning) ([^:\n]*)::([^\n]*)\n")
"""As the runner of workflows reads a line: the properties have no colon, and each is NAME=VALUE between commas."""


def commands(text: str) -> list[tuple[str, dict[str, str], str]]:
    """The commands of a text, read back by the rules of the runner, all escapes undone."""
    found = [COMMAND.fullmatch(line) for line in text.splitlines(keepends=True)]
    assert all(found)
    read = []
    for match in filter(None, found):
        pairs = dict(pair.split("=", 1) for pair in match[2].split(","))
        plain = {name: undone(value.replace("%3A", ":").replace("%2C", ",")) for name, value in pairs.items()}
        read.append((match[1], plain, undone(match[3])))
    return read


def undone(text: str) -> str:
    return text.replace("%0D", "\r").replace("%0A", "\n").replace("%25", "%")


def test_the_lines_as_they_are_printed(
    folder: Path, capsys: pytest.CaptureFixture[str], golden: Callable[[str, str], None]
) -> None:
    text = told(capsys, "set", "--format", "github")
    assert commands(text)
    golden("cli/check.github.txt", text)


def test_a_line_names_file_place_and_code(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Columns in characters from 1; `endColumn` is the last of them: it "defaults to startColumn" (GitHub's toolkit,
    from memory)."""
    read = commands(told(capsys, "set", "--format", "github"))
    told_of = {properties["title"]: (kind, properties) for kind, properties, _ in read}
    kind, place = told_of["unknown-name"]
    column = DOUBLE.splitlines()[3].index("gap") + 1
    assert kind == "error"
    where = {"file": "set/double.proc", "line": "4", "col": str(column), "endColumn": str(column + 2)}
    assert place == {**where, "title": "unknown-name"}
    assert told_of["unused-input"][0] == "warning"


def test_several_lines_have_no_columns() -> None:
    """ "Cannot be sent when line and endLine are different values" (GitHub's toolkit, of both columns, from memory)."""
    source = Source("x.proc", "one\ntwo\n")
    ((_, properties, _),) = commands(github([Diagnostic("tab", "m", Span("x.proc", 1, 6))], {"x.proc": source}))
    assert properties == {"file": "x.proc", "line": "1", "endLine": "2", "title": "tab"}


@pytest.mark.parametrize("words", ["100 %25 %0A, : ::error::", "one\r\ntwo", "::set-env name=x::y", "\x1b[2J\u202e"])
def test_nothing_hostile_begins_another_command(words: str) -> None:
    """In a file name, a message, a hint and a second place: one finding, one line; what moves the cursor is shown."""
    label = Label(Span(words, 0, 1), words)
    finding = Diagnostic("tab", words, Span(words, 0, 1), hint=words, also=(label,), severity=Severity.WARNING)
    text = github([finding], {words: Source(words, "x")})
    assert text.count("\n") == 1
    assert not re.search(r"[\x00-\x09\x0b-\x1f\u202e]", text)
    ((kind, properties, message),) = commands(text)
    assert kind == "warning"
    shown = words.replace("\x1b", "\\u{1b}").replace("\u202e", "\\u{202e}")
    assert properties["file"] == os.path.normpath(shown)
    assert message == f"{shown}\n{os.path.normpath(shown)}:1:1: {shown}\n{shown}"
