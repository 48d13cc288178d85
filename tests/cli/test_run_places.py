"""Where a run is kept, and what was meant by a path that is not there."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "drivers"))  # the sample procedure and the ways to run it

from drive_help import at_once, ordinary, recorded, run_arguments, samples_in, typed_day

from proclang.cli.main import main


@pytest.fixture
def project(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the sample with settings that name a folder for runs; one stands elsewhere."""
    samples_in(tmp_path / "set")
    (tmp_path / "set" / "proclang.toml").write_text('[run]\nfolder = "kept/runs"\n')
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    return tmp_path


def without_into(project: Path) -> list[str]:
    samples = project / "set"
    return ["run", str(samples / "rinse.proc"), "--site", str(samples / "tank.toml"), "--clock", "stepped"]


def test_a_run_is_kept_where_the_settings_say(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Beside the file with the settings, in a new folder called by procedure, site and day; it is said where."""
    typed = typed_day(ordinary()[:2])
    for name in ("rinse-tank_seven-2031-05-01", "rinse-tank_seven-2031-05-01-2", "rinse-tank_seven-2031-05-01-3"):
        assert at_once(*without_into(project), typed=typed) == 1
        folder = project / "set" / "kept" / "runs" / name
        assert len(recorded(folder)) == 2


def test_it_is_said_where_a_run_is_kept(
    project: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", open_lines(""))
    assert main(without_into(project)) == 1
    folder = project / "set" / "kept" / "runs" / "rinse-tank_seven-2031-05-01"
    assert f"The run is kept in {folder}\n" in capsys.readouterr().err


def open_lines(text: str) -> object:
    import io

    return io.StringIO(text)


def test_a_variable_says_it_beside_where_one_stands(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PROCLANG_RUN_FOLDER", "mine")
    at_once(*without_into(project), typed="Ada Quill\n")
    assert recorded(project / "elsewhere" / "mine" / "rinse-tank_seven-2031-05-01")


def test_the_command_line_is_stronger(project: Path) -> None:
    at_once(*without_into(project), "--into", str(project / "own"), typed="Ada Quill\n")
    assert recorded(project / "own")
    assert not (project / "set" / "kept").exists()


def test_without_a_place_nothing_is_begun(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And it is said what would name one."""
    assert main([*without_into(project), "--isolated"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "--into DIR" in err
    assert "`run.folder`" in err


@pytest.mark.parametrize(
    ("wrong", "right"),
    [("rinse.proc", "rinse.proc"), ("tank.toml", "tank.toml"), ("ordinary.replies", "ordinary.replies")],
)
def test_a_file_that_is_not_there_may_be_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], wrong: str, right: str
) -> None:
    """Procedure, site or replies with two letters exchanged."""
    samples = samples_in(tmp_path / "set")
    slip = wrong[:1] + wrong[2] + wrong[1] + wrong[3:]
    arguments = [*run_arguments(tmp_path / "run", samples=samples), "--replies", str(samples / "ordinary.replies")]
    assert main([word.replace(wrong, slip) for word in arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert f"`{samples / slip}` cannot be read" in err
    assert f"did you mean `{right}`" in err
    assert not (tmp_path / "run").exists()


@pytest.mark.parametrize("command", ["resume", "status", "log", "verify"])
def test_a_run_that_is_not_there_may_be_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    """Only folders of runs are offered."""
    at_once(*run_arguments(tmp_path / "ridge"), typed="Ada Quill\n")
    (tmp_path / "rigde-notes").mkdir()
    (tmp_path / "rigde").with_suffix(".txt").write_text("")
    for slip in ("rigde", "rigde/"):
        assert main([command, str(tmp_path) + "/" + slip]) == 2
        err = capsys.readouterr().err
        assert "there is no run in" in err
        assert "did you mean `ridge`?" in err
    assert main([command, str(tmp_path / "nothing-like-it")]) == 2
    assert "give the folder" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["with blank", "-dash", "--into", "caf\udce9", "a\nb", "è", "x" * 200])
def test_a_folder_may_be_called_anything(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Begun, gone on with, looked at, logged and verified there; a name is bytes, and some of them are no text."""
    monkeypatch.chdir(tmp_path)
    try:
        Path(name).mkdir()
    except OSError:
        pytest.skip("this file system takes no such name")
    arguments = list(run_arguments(Path("INTO")))
    arguments[arguments.index("--into") : arguments.index("--into") + 2] = [f"--into={name}"]
    assert at_once(*arguments, typed=typed_day(ordinary()[:12])) == 1
    assert at_once("resume", "--clock=stepped", "--", name, typed=typed_day(ordinary()[12:])) == 0
    for command in ("status", "log", "verify"):
        assert at_once(command, "--", name) == 0
    assert len(recorded(Path(name))) == len(ordinary())
