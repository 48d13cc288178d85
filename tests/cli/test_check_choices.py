"""`proclang check`: which files, which findings, in which form, and how options may stand."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from proclang.cli.main import main

BAD = 'proclang 1\nprocedure {name} "Invented"\nsection main "Main"\n  step look "Look {gap}."\n  step look "Look."\n'
"""Findings: `unknown-name`, `duplicate-name`."""

WARNED = 'proclang 1\nprocedure {name} "Invented"\ninputs\n  ring: length\nsection main "Main"\n  step look "Look."\n'
"""A finding: `unused-input`, a warning."""

SOUND = 'proclang 1\nprocedure {name} "Invented"\nsection main "Main"\n  step look "Look."\n'

Check = Callable[..., tuple[int, str, str]]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to stand in, with three files in it."""
    monkeypatch.chdir(tmp_path)
    for name, text in (("bad", BAD), ("warned", WARNED), ("sound", SOUND)):
        write(tmp_path / f"{name}.proc", text)
    return tmp_path


@pytest.fixture
def check(folder: Path, capsys: pytest.CaptureFixture[str]) -> Check:
    """Exit code, results and words of a check in that folder."""

    def call(*arguments: str) -> tuple[int, str, str]:
        code = main(["check", *arguments])
        return code, *capsys.readouterr()

    return call


def write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text.replace("{name}", path.stem))


def codes(out: str) -> list[str]:
    """The codes of findings told as lines of JSON."""
    return [json.loads(line)["code"] for line in out.splitlines()]


def test_findings_are_chosen_by_code(check: Check) -> None:
    """With commas or again; what is left out is counted, so that nothing looks better than it is."""
    code, out, err = check(".", "--format", "jsonl", "--select", "unknown-name,unused-input")
    assert (code, codes(out)) == (1, ["unknown-name", "unused-input"])
    assert "1 left out" in err
    code, out, err = check(".", "--format", "jsonl", "--ignore", "unknown-name", "--ignore", "unused-input")
    assert (code, codes(out)) == (1, ["duplicate-name"])
    assert "2 left out" in err
    code, out, err = check("warned.proc", "--ignore", "unused-input")
    assert (code, out) == (0, "")
    assert err == "1 file, nothing found; 1 left out by --select or --ignore or the settings\n"


def test_ignoring_is_stronger_than_selecting(check: Check) -> None:
    code, out, _ = check(".", "--format", "jsonl", "--select", "unknown-name", "--ignore", "unknown-name")
    assert (code, out) == (0, "")


@pytest.mark.parametrize("option", ["--select", "--ignore"])
def test_a_code_that_does_not_exist_is_an_unusable_call(check: Check, option: str) -> None:
    """A slip in it would find nothing, or hide nothing."""
    code, out, err = check(".", option, "unknown-nmae")
    assert (code, out) == (2, "")
    assert "there is no finding `unknown-nmae`" in err
    assert "did you mean `unknown-name`" in err


def test_findings_are_counted_by_code(check: Check) -> None:
    """The most frequent first; in each form."""
    code, out, err = check(".", "warned.proc", "--statistics")
    assert (code, out) == (1, "1 error[duplicate-name]\n1 error[unknown-name]\n1 warning[unused-input]\n")
    assert err == "3 files, 2 errors and 1 warning\n"
    write(Path("other.proc"), WARNED)
    code, out, _ = check(".", "--statistics", "--format", "json")
    assert json.loads(out) == {
        "schema": 1,
        "counts": [
            {"code": "unused-input", "severity": "warning", "count": 2},
            {"code": "duplicate-name", "severity": "error", "count": 1},
            {"code": "unknown-name", "severity": "error", "count": 1},
        ],
    }
    assert check("sound.proc", "--statistics") == (0, "", "1 file, nothing found\n")


def test_findings_need_not_end_in_failure(check: Check) -> None:
    """`--exit-zero`: findings are told all the same, and an unusable call is still one."""
    code, out, _ = check(".", "--exit-zero")
    assert code == 0
    assert "error[unknown-name]" in out
    assert check("none.proc", "--exit-zero")[0] == 2


def test_a_line_of_json_for_each_finding(check: Check) -> None:
    """The same as in the one object, each line with the version of its form."""
    _, lines, _ = check(".", "--format=jsonl")
    _, whole, _ = check(".", "--format=json")
    told = json.loads(whole)
    assert [json.loads(line) for line in lines.splitlines()] == [{"schema": 1, **f} for f in told["findings"]]
    assert check("sound.proc", "--format=jsonl")[1] == ""


def test_findings_of_many_files_come_by_path_line_and_column(folder: Path, check: Check) -> None:
    for name in ("z/a", "a/z", "m"):
        write(folder / f"{name}.proc", BAD)
    _, out, _ = check("z", "m.proc", "a", "--format", "jsonl")
    places = [(f["file"], f["line"], f["column"]) for f in map(json.loads, out.splitlines())]
    assert places == sorted(places)
    assert len(places) == 6


# ---------------------------------------------------------------------------- which files


def test_the_folder_of_a_run_is_left_out(folder: Path, check: Check) -> None:
    """What is kept in it is evidence, and nobody's to mend; named itself it is checked."""
    write(folder / "runs/one/sources/old.proc", BAD)
    (folder / "runs/one/journal.jsonl").write_text("")
    assert check(".")[2].startswith("3 files,")
    assert check("runs/one/sources")[2] == "1 file, 2 errors\n"
    assert check("runs")[0] == 2


@pytest.mark.parametrize(
    ("pattern", "left"),
    [
        ("draft_*", {"bad", "kept", "sound", "warned"}),
        ("deep", {"bad", "draft_b", "sound", "warned"}),
        ("deep/", {"bad", "draft_b", "sound", "warned"}),
        ("deep/er/*", {"bad", "draft_b", "kept", "sound", "warned"}),
        ("*.proc", set()),
        ("nothing", {"bad", "draft_a", "draft_b", "kept", "sound", "warned"}),
    ],
)
def test_patterns_leave_out_files_and_folders(folder: Path, check: Check, pattern: str, left: set[str]) -> None:
    """A pattern with a stroke in it means a path, one without a name at any depth."""
    for name in ("draft_b", "deep/kept", "deep/er/draft_a"):
        write(folder / f"{name}.proc", BAD.replace("step look", f"step {Path(name).name}_x"))
    code, out, _ = check(".", "--exclude", pattern, "--format", "jsonl")
    if not left:
        assert code == 2
        return
    # every file but the sound one has a finding
    assert {Path(json.loads(line)["file"]).stem for line in out.splitlines()} == left - {"sound"}


def test_a_file_that_is_named_is_checked_whatever_is_left_out(check: Check) -> None:
    assert check("bad.proc", "--exclude", "bad*")[2] == "1 file, 2 errors\n"


# ---------------------------------------------------------------------------- how options may stand

CALLS = [
    ("--format", "jsonl", "bad.proc", "warned.proc"),
    ("bad.proc", "--format", "jsonl", "warned.proc"),
    ("bad.proc", "warned.proc", "--format=jsonl"),
    ("--format=jsonl", "--", "bad.proc", "warned.proc"),
    ("bad.proc", "--format", "jsonl", "--", "warned.proc"),
]


@pytest.mark.parametrize("arguments", CALLS, ids=" ".join)
def test_options_may_stand_anywhere(check: Check, arguments: tuple[str, ...]) -> None:
    """POSIX XBD 12.2 guideline 10 (`--`), GNU coding standards 4.8 (options behind operands, `--option=VALUE`)."""
    code, out, _ = check(*arguments)
    assert code == 1
    assert codes(out) == ["unknown-name", "duplicate-name", "unused-input"]


def test_behind_two_dashes_everything_is_a_file(folder: Path, check: Check) -> None:
    """Also what looks like an option, another pair of dashes included."""
    write(folder / "--format.proc", SOUND.replace("{name}", "x"))
    write(folder / "-.proc", SOUND.replace("{name}", "x"))
    code, out, _ = check("--format", "jsonl", "--", "--format.proc", "-.proc", "sound.proc")
    assert code == 1
    assert {json.loads(line)["file"] for line in out.splitlines()} == {"--format.proc", "-.proc"}
    code, _, err = check("--", "--")
    assert code == 2
    assert "there is no file or folder `--`" in err


def test_a_value_may_begin_with_a_dash(folder: Path, check: Check) -> None:
    write(folder / "-set.toml", '[check]\nignore = ["unused-input"]\n')
    for arguments in (("--config", "-set.toml"), ("--config=-set.toml",)):
        assert check("warned.proc", *arguments)[0] == 0


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("a.proc", "--format"), "--format"),
        (("a.proc", "--format="), "invalid choice"),
        (("a.proc", "--statistics=yes"), "--statistics"),
        (("a.proc", "--slect", "x"), "did you mean `--select`"),
        ((), "PATH"),
    ],
)
def test_a_call_that_is_wrong_is_told_in_two_lines(check: Check, arguments: tuple[str, ...], says: str) -> None:
    code, out, err = check(*arguments)
    assert (code, out) == (2, "")
    assert says in err
    assert len(err.splitlines()) == 2
