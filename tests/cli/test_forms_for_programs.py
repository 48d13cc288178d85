"""What programs are given is of the form that is written down (JSON Schema, draft 2020-12, read by `jsonschema`)."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

sys.path.insert(0, str(Path(__file__).parents[1] / "drivers"))  # the sample procedure and the ways to run it

from drive_help import at_once, ordinary, run_arguments, typed_day

import proclang
from proclang.cli.main import main

SCHEMAS = Path(proclang.__file__).parent / "cli" / "schemas"
BAD = (
    'proclang 1\nprocedure x "Invented"\ninputs\n  ring: length\n'
    'section main "M"\n  step look "L {gap}."\n  step look "L."\n'
)
WARNED = BAD.replace(" {gap}", "").replace('  step look "L."\n', "")


def form(name: str) -> Any:
    return json.loads((SCHEMAS / f"{name}.schema.json").read_text(encoding="utf-8"))


def closed(schema: Any) -> Any:
    """The same form without room for keys that nobody wrote down."""
    if isinstance(schema, list):
        return [closed(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    tight = {key: closed(value) for key, value in schema.items()}
    return {**tight, "additionalProperties": False} if "properties" in schema else tight


def fits(name: str, told: Any) -> None:
    """As written down, and with nothing besides."""
    Draft202012Validator(form(name)).validate(told)
    Draft202012Validator(closed(form(name))).validate(told)


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run under way, one stopped, one finished."""
    folder = tmp_path_factory.mktemp("runs")
    at_once(*run_arguments(folder / "left"), typed=typed_day(ordinary()[:8]))
    at_once(*run_arguments(folder / "stopped"), typed=typed_day(ordinary()[:8]) + "stop: wind\n" + "d\n" * 5)
    at_once(*run_arguments(folder / "over"), typed=typed_day())
    return folder


def printed(capsys: pytest.CaptureFixture[str], *arguments: object) -> str:
    capsys.readouterr()
    main(list(map(str, arguments)))
    return capsys.readouterr().out


@pytest.mark.parametrize("name", sorted(p.name.removesuffix(".schema.json") for p in SCHEMAS.glob("*")))
def test_each_form_is_one(name: str) -> None:
    """A schema by its own schema, with a title, and open to keys that are added later."""
    schema = form(name)
    Draft202012Validator.check_schema(schema)
    assert schema["title"].startswith(("proclang ", "One line of proclang "))
    assert "additionalProperties" not in json.dumps(schema)


@pytest.mark.parametrize("text", [BAD, WARNED, "proclang 1\n", "\x00\x7f", "x" * 20_000], ids=len)
@pytest.mark.parametrize("counted", [(), ("--statistics",)], ids=["told", "counted"])
def test_what_a_check_tells_programs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, counted: tuple[str, ...]
) -> None:
    path = tmp_path / "x.proc"
    path.write_text(text)
    whole = printed(capsys, "check", path, "--format", "json", *counted)
    assert whole.isascii()
    fits("check", json.loads(whole))
    lines = printed(capsys, "check", path, "--format", "jsonl", *counted).splitlines()
    assert lines
    for line in lines:
        fits("check-line", json.loads(line))


@pytest.mark.parametrize("run", ["left", "stopped", "over"])
@pytest.mark.parametrize("command", ["status", "verify"])
def test_what_is_told_of_a_run(runs: Path, capsys: pytest.CaptureFixture[str], command: str, run: str) -> None:
    fits(command, json.loads(printed(capsys, command, runs / run, "--format", "json")))


def test_data_is_never_dressed(
    runs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Colour that is asked for and ASCII that is set change no byte of it."""
    (tmp_path / "x.proc").write_text(BAD)
    monkeypatch.setenv("PROCLANG_LOOK_ASCII", "1")
    for arguments in (
        ("check", tmp_path, "--format", "json"),
        ("check", tmp_path, "--format", "jsonl"),
        ("status", runs / "over", "--format", "json"),
        ("verify", runs / "over", "--format", "json"),
        ("log", runs / "over", "--stdout"),
        ("completions", "bash"),
    ):
        color = () if arguments[0] == "completions" else ("--color", "always", "--palette", "night")
        bare = printed(capsys, *arguments)
        assert bare
        assert printed(capsys, *arguments, *color) == bare
        assert not re.search("\x1b", bare)
