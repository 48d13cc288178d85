"""`check` and the rules of writing: which are looked at, and what is said of findings that are allowed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft4Validator

from proclang.cli.main import UNUSABLE, main
from proclang.syntax.format import format_file

HEAD = 'proclang 1\nprocedure p "Invented"\nsection s "S"\n'
TWO = HEAD + '  step a "Lift the drum and wipe the seat."\n'
VAGUE = HEAD + '  step a "Turn it slowly."\n'
ALLOWED = HEAD + '  # allow vague-word: the gear sets {the} speed\n  step a "Turn it slowly."\n'


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path


def check(capsys: pytest.CaptureFixture[str], text: str, *options: str) -> tuple[int, str, str]:
    Path("p.proc").write_text(text, encoding="utf-8")
    capsys.readouterr()
    code = main(["check", "p.proc", *options])
    out, err = capsys.readouterr()
    return code, out, err


def test_a_rule_that_is_off_is_looked_at_when_asked_for(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By its code, or with all the others; and by the settings of a project."""
    assert check(capsys, TWO)[0] == 0
    code, out, _ = check(capsys, TWO, "--also", "pronoun,two-actions")
    assert (code, "[two-actions]" in out) == (1, True)
    counts = check(capsys, TWO, "--also", "writing", "--statistics")[1]
    assert counts == "2 warning[no-revision]\n1 warning[two-actions]\n"
    assert check(capsys, TWO, "--also", "writing", "--ignore", "two-actions,no-revision")[0] == 0
    (folder / "proclang.toml").write_text('[check]\nalso = ["two-actions"]\n')
    assert check(capsys, TWO)[0] == 1
    assert check(capsys, TWO, "--isolated")[0] == 0


def test_a_rule_that_is_on_can_be_left_out(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert check(capsys, VAGUE)[0] == 1
    assert check(capsys, VAGUE, "--ignore", "vague-word")[0] == 0
    (folder / "proclang.toml").write_text('[check]\nfitting = ["Slowly"]\n')
    assert check(capsys, VAGUE)[0] == 0


@pytest.mark.parametrize(
    ("row", "text"),
    [
        ("longest_sentence = 5", 'step a "Look at the rim from the north."'),
        ('vague = ["Gently"]', 'step a "Turn it gently."'),
        ('glossary = ["spanner: wrench"]', 'step a "Take the spanner."'),
    ],
)
def test_what_is_set_counts(folder: Path, capsys: pytest.CaptureFixture[str], row: str, text: str) -> None:
    """Also right after a check without it: no answer that was kept is given for another question."""
    assert check(capsys, f"{HEAD}  {text}\n")[0] == 0
    (folder / "proclang.toml").write_text(f"[check]\n{row}\n")
    assert check(capsys, f"{HEAD}  {text}\n")[0] == 1


@pytest.mark.parametrize(
    "row", ["longest_sentence = 4", "longest_sentence = true", 'longest_sentence = "ten"', 'glossary = ["spanner"]']
)
def test_what_makes_no_sense_is_refused(folder: Path, capsys: pytest.CaptureFixture[str], row: str) -> None:
    (folder / "proclang.toml").write_text(f"[check]\n{row}\n")
    code, out, err = check(capsys, VAGUE)
    assert (code, out) == (UNUSABLE, "")
    assert row.split()[0] in err


@pytest.mark.parametrize(
    ("word", "near"), [("pronuon", "pronoun"), ("writting", "writing"), ("unused-value", "unused-value")]
)
def test_what_is_no_rule_of_writing_is_refused(
    folder: Path, capsys: pytest.CaptureFixture[str], word: str, near: str
) -> None:
    code, _, err = check(capsys, VAGUE, "--also", word)
    assert code == UNUSABLE
    assert f"there is no rule of writing `{word}`" in err
    assert near in err


# ---------------------------------------------------------------------------- what is allowed


def test_what_is_allowed_is_counted(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """So that it is seen, though nothing is found; also when the answer was kept."""
    for _ in range(2):
        code, out, err = check(capsys, ALLOWED)
        assert (code, out) == (0, "")
        assert err == "1 file, nothing found; 1 allowed where it stands\n"
    assert check(capsys, ALLOWED, "--ignore", "vague-word")[2] == "1 file, nothing found\n"


def test_a_file_that_others_perform_is_counted_once(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "first.proc").write_text(HEAD.replace("procedure p", "procedure first") + "  perform p\n")
    (folder / "second.proc").write_text(HEAD.replace("procedure p", "procedure second") + "  perform p\n")
    assert check(capsys, ALLOWED, ".")[2] == "3 files, nothing found; 1 allowed where it stands\n"


def test_json_has_what_is_allowed_beside_what_is_found(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = json.loads(check(capsys, ALLOWED, "--format", "json")[1])
    assert told["findings"] == []
    (one,) = told["allowed"]
    assert (one["code"], one["line"], one["reason"]) == ("vague-word", 5, "the gear sets {the} speed")


def test_sarif_has_what_is_allowed_as_suppressed(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In the source, with the reason as its justification; and the rule is among the rules."""
    log = json.loads(check(capsys, ALLOWED, "--format", "sarif")[1])
    schema = json.loads((Path(__file__).parent / "sarif-schema-2.1.0.json").read_text(encoding="utf-8"))
    Draft4Validator(schema).validate(log)
    (run,) = log["runs"]
    (result,) = run["results"]
    assert result["suppressions"] == [{"kind": "inSource", "justification": "the gear sets {the} speed"}]
    assert run["tool"]["driver"]["rules"][result["ruleIndex"]]["id"] == "vague-word"


def test_github_marks_nothing_that_is_allowed(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert check(capsys, ALLOWED, "--format", "github")[1] == ""


@pytest.mark.parametrize(
    "text",
    [
        ALLOWED,
        HEAD + '  step a "Turn it slowly."#   allow vague-word: the gear sets the speed\n',
        HEAD + '# allow vague-word: the gear sets the speed\n\n\n  step a   "Turn it slowly."\n',
        HEAD + '  in any order\n    step b "Look."\n      # allow vague-word: so it is\n    step a "Turn it slowly."\n',
    ],
)
def test_an_allowance_is_still_one_when_the_file_is_laid_out(
    folder: Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    """The layout keeps a comment behind its line there, and one above its line above it."""
    assert check(capsys, text)[2].endswith("1 allowed where it stands\n")
    laid_out = format_file(text.encode(), "p.proc").text
    assert laid_out is not None
    assert check(capsys, laid_out)[2].endswith("1 allowed where it stands\n")
    assert format_file(laid_out.encode(), "p.proc").text == laid_out
