"""Settings: where they come from, which one counts, and what is said of a mistake in them."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

import pytest

from proclang.cli.main import main
from proclang.cli.settings import NARROWEST, SETTINGS, WIDEST
from proclang.session import look

WARNED = 'proclang 1\nprocedure {name} "Invented"\ninputs\n  ring: length\nsection main "Main"\n  step look "Look."\n'
"""A procedure with one finding, the warning `unused-input`."""

WRONG_NAME = 'proclang 1\nprocedure {name} "Invented"\nsection main "Main"\n  step look "Look {{gap}}."\n'
"""A procedure with one finding, the error `unknown-name`."""


@pytest.fixture
def project(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A git working tree below a home, with a procedure in a folder of it; that is where one stands."""
    home = tmp_path / "home"
    folder = home / "work"
    (folder / ".git").mkdir(parents=True)
    (folder / "set").mkdir()
    (folder / "set" / "a.proc").write_text(WARNED.format(name="a"))
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.chdir(folder / "set")
    return folder


def user(tmp_path: Path, text: str) -> None:
    """The user's own settings."""
    (tmp_path / "config" / "proclang").mkdir(parents=True)
    (tmp_path / "config" / "proclang" / "proclang.toml").write_text(text)


def shown(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[dict[str, object], dict[str, str]]:
    """What `--show-settings` says: the values, and where each is from."""
    assert main([*arguments, "--show-settings"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    tables = tomllib.loads(out)
    whence = dict(line.split("  # ", 1) for line in out.splitlines())
    return (
        {f"{table}.{name}": value for table, rows in tables.items() for name, value in rows.items()},
        {line.split(" = ", 1)[0]: words for line, words in whence.items()},
    )


def test_every_setting_is_shown_with_its_usual_value(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As TOML (read here by the standard library), so that it can be put into a file."""
    values: dict[str, object] = {}
    for command in ("check", "run"):
        told, whence = shown(capsys, command)
        assert set(whence.values()) == {"usual value"}
        values |= told
    assert values == {s.key: list(s.usual) if isinstance(s.usual, tuple) else s.usual for s in SETTINGS}


def test_the_nearest_says_first(
    project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Command line, variable, project, user, usual: each is taken away in turn."""
    user(tmp_path, '[look]\npalette = "mono"\nwidth = 60\n')
    (project / "proclang.toml").write_text('[look]\npalette = "night"\n')
    monkeypatch.setenv("PROCLANG_LOOK_PALETTE", "normal")
    values, whence = shown(capsys, "check", "a.proc", "--palette", "mono")
    assert (values["look.palette"], whence["look.palette"]) == ("mono", "command line")
    values, whence = shown(capsys, "check", "a.proc")
    assert (values["look.palette"], whence["look.palette"]) == ("normal", "variable: PROCLANG_LOOK_PALETTE")
    monkeypatch.setenv("PROCLANG_LOOK_PALETTE", "")  # empty says nothing
    values, whence = shown(capsys, "check", "a.proc")
    assert (values["look.palette"], whence["look.palette"]) == ("night", f"project: {project / 'proclang.toml'}")
    assert (values["look.width"], whence["look.width"][:5]) == (60, "user:")
    (project / "proclang.toml").unlink()
    assert shown(capsys, "check", "a.proc")[0]["look.palette"] == "mono"
    assert shown(capsys, "check", "a.proc", "--isolated")[0]["look.palette"] == "normal"


def test_a_file_that_is_named_is_the_only_one(
    project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    user(tmp_path, "[look]\nwidth = 60\n")
    (project / "proclang.toml").write_text("[look]\nascii = true\n")
    (tmp_path / "mine.toml").write_text("[look]\nplain = true\n")
    values, _ = shown(capsys, "check", "--config", str(tmp_path / "mine.toml"))
    assert (values["look.plain"], values["look.ascii"], values["look.width"]) == (True, False, 0)


def test_a_switch_that_is_set_can_be_taken_back(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (project / "proclang.toml").write_text("[look]\nplain = true\nascii = true\n")
    values, _ = shown(capsys, "run", "--no-plain", "--no-ascii")
    assert (values["look.plain"], values["look.ascii"]) == (False, False)


def test_the_shared_file_counts_where_it_speaks_to_proclang(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`pyproject.toml` (PyPA specification, table `tool`); an own file beside it is stronger."""
    (project / "set" / "pyproject.toml").write_text('[project]\nname = "proclang-set"\n')
    (project / "pyproject.toml").write_text('[tool.other]\nx = 1\n[tool.proclang.check]\nignore = ["unused-input"]\n')
    values, whence = shown(capsys, "check", "a.proc")
    assert values["check.ignore"] == ["unused-input"]
    assert whence["check.ignore"] == f"project: {project / 'pyproject.toml'}"
    (project / "proclang.toml").write_text("[check]\nignore = []\n")
    assert shown(capsys, "check", "a.proc")[0]["check.ignore"] == []


def test_the_search_ends_at_the_top_of_the_working_tree(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (project.parent / "proclang.toml").write_text("[look]\nwidth = 60\n")
    assert shown(capsys, "check", "a.proc")[0]["look.width"] == 0
    (project / ".git").rmdir()
    assert shown(capsys, "check", "a.proc")[0]["look.width"] == 60


def test_the_search_ends_at_the_home(project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (project / ".git").rmdir()
    (tmp_path / "proclang.toml").write_text("[look]\nwidth = 60\n")
    assert shown(capsys, "check", "a.proc")[0]["look.width"] == 0


def test_a_folder_that_everybody_may_write_to_is_passed_by(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Whoever puts a file into a shared folder must not silence the checks of others."""
    (project / "set" / "proclang.toml").write_text("[look]\nwidth = 60\n")
    assert shown(capsys, "check", "a.proc")[0]["look.width"] == 60
    (project / "set").chmod(0o1777)
    assert shown(capsys, "check", "a.proc")[0]["look.width"] == 0


def test_what_is_worked_on_says_where_to_look(
    project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not where one stands: the same file is checked alike from everywhere. Standard input has the name it is given."""
    (project / "proclang.toml").write_text("[look]\nwidth = 60\n")
    monkeypatch.chdir(tmp_path)
    inside = project / "set" / "a.proc"
    for arguments in (
        ("check", str(inside)),
        ("check", "-", "--stdin-filename", str(inside)),
        ("run", str(inside)),
        ("status", str(project / "runs" / "x")),
    ):
        assert shown(capsys, *arguments)[0]["look.width"] == 60, arguments
    assert shown(capsys, "check", str(inside), str(tmp_path))[0]["look.width"] == 0


WRONG = {
    "a table": ("[chek]\n", "there is no table `chek`", "did you mean `check`?"),
    "a setting": ('[look]\npalete = "night"\n', "there is no setting `look.palete`", "did you mean `palette`?"),
    "a setting of another table": ('[check]\npalette = "night"\n', "`check.palette`", "in `check`: select"),
    "a word": ('[look]\npalette = "dark"\n', "`look.palette` cannot be 'dark'", "normal, mono or night"),
    "a text for a truth": ('[look]\nplain = "maybe"\n', "cannot be 'maybe'", "true or false"),
    "a number for a list": ("[check]\nignore = 3\n", "cannot be 3", "a list of texts"),
    "a width": ("[look]\nwidth = 7\n", "cannot be 7", "from 20 to 100"),
    "a truth for a number": ("[look]\nwidth = true\n", "cannot be True", "from 20 to 100"),
    "a value for a table": ('look = "night"\n', "`look` is a table", "write [look]"),
    "no TOML": ("[look\n", "is not TOML", ""),
    "a folder": ("[run]\nfolder = 3\n", "cannot be 3", "the name of a folder"),
}


@pytest.mark.parametrize("mistake", WRONG)
def test_a_mistake_in_a_file_is_an_error_that_names_it(
    project: Path, capsys: pytest.CaptureFixture[str], mistake: str
) -> None:
    """Exit code 2, nothing done, and what was perhaps meant; in either file."""
    text, says, hint = WRONG[mistake]
    for name, inside in (("proclang.toml", text), ("pyproject.toml", shared(text))):
        path = project / name
        path.write_text(inside)
        assert main(["check", "a.proc"]) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert f"`{path}`" in err
        assert says in err
        assert hint in err
        path.unlink()


def shared(text: str) -> str:
    """The same in the table of a shared file."""
    if text.startswith("["):
        return text.replace("[", "[tool.proclang.", 1)
    return f"[tool.proclang]\n{text}"


def test_a_mistake_in_a_variable_names_it(
    project: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PROCLANG_LOOK_WIDTH", "wide")
    assert main(["check", "a.proc"]) == 2
    assert "`PROCLANG_LOOK_WIDTH`: `look.width` cannot be 'wide'" in capsys.readouterr().err


@pytest.mark.parametrize("kind", ["missing", "folder", "pipe", "endless", "no text"])
def test_a_file_that_cannot_be_read_is_named(project: Path, capsys: pytest.CaptureFixture[str], kind: str) -> None:
    """And nothing hangs on it."""
    path = project / "x.toml"
    if kind == "folder":
        path.mkdir()
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind == "endless":
        path.write_bytes(b"# " + b"x" * (1 << 21))
    elif kind == "no text":
        path.write_bytes(b"\xff\xfe\x00")
    assert main(["check", "a.proc", "--config", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert str(path) in err


def test_what_is_set_is_done(
    project: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Findings left out, and files; the command line takes the place of a list as a whole."""
    (project / "set" / "b.proc").write_text(WRONG_NAME.format(name="b"))
    (project / "set" / "draft_c.proc").write_text(WRONG_NAME.format(name="draft_c"))
    (project / "proclang.toml").write_text('[check]\nignore = ["unused-input"]\nexclude = ["draft_*"]\n')
    assert main(["check", "."]) == 1
    out, err = capsys.readouterr()
    assert "unused-input" not in out
    assert err == "2 files, 1 error; 1 left out by --select or --ignore or the settings\n"
    assert main(["check", ".", "--ignore", "unknown-name"]) == 1
    assert "unused-input" in capsys.readouterr().out
    monkeypatch.setenv("PROCLANG_CHECK_IGNORE", "unused-input, unknown-name")
    assert main(["check", "."]) == 0


def test_the_widths_that_may_be_set_are_those_of_the_screen() -> None:
    assert (NARROWEST, WIDEST) == (look.NARROWEST, look.WIDEST)


def test_the_readme_shows_every_setting() -> None:
    """With the values it has there; they are those of a file that can be used."""
    text = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    example = text.split("```toml\n", 1)[1].split("```", 1)[0]
    told = {f"{table}.{name}": value for table, rows in tomllib.loads(example).items() for name, value in rows.items()}
    assert set(told) == {s.key for s in SETTINGS}
    for setting in SETTINGS:
        value = told[setting.key]
        assert setting.read(value) == (tuple(value) if isinstance(value, list) else value)
