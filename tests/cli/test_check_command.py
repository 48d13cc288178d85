"""`proclang check` as a command: what it prints where, and with which exit code."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import proclang
from proclang.cli.main import COMMANDS, INTERRUPTED, PIPE_CLOSED, guarded, main

ROOT = Path(proclang.__file__).parents[1]

SOUND = 'proclang 1\nprocedure {name} "Invented"\nsection main "Main"\n  step look "Look."\n'
BAD = 'proclang 1\nprocedure {name} "Invented"\nsection main "Main"\n  step look "Look {gap}."\n  step look "Look."\n'


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to stand in."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def write(path: Path, text: str = SOUND) -> Path:
    """A file called like its procedure."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text.replace("{name}", path.stem), encoding="utf-8")
    return path


def run(*arguments: str, stdin: bytes = b"", **more: str) -> subprocess.CompletedProcess[bytes]:
    """The program as a process of its own."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), **more}
    return subprocess.run(
        [sys.executable, "-m", "proclang", *arguments], input=stdin, capture_output=True, env=environment, check=False
    )


def test_all_well_is_one_line_on_standard_error(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And nothing on standard output."""
    write(folder / "a.proc")
    write(folder / "b.proc")
    assert main(["check", "a.proc", "b.proc"]) == 0
    assert capsys.readouterr() == ("", "2 files, nothing found\n")


def test_findings_are_told_on_standard_output_in_the_order_of_the_text(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By file, line and column, each beginning with its place."""
    write(folder / "b.proc", BAD)
    write(folder / "a.proc", BAD)
    assert main(["check", "b.proc", "a.proc"]) == 1
    out, err = capsys.readouterr()
    places = [line.split(": ")[0] for line in out.splitlines() if "error[" in line]
    assert places == ["a.proc:4:20", "a.proc:5:8", "b.proc:4:20", "b.proc:5:8"]
    assert err == "2 files, 4 errors\n"


def test_a_folder_means_every_procedure_below_it(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Sorted; hidden folders and files, other files and links are left out."""
    for name in ("set/b.proc", "set/a.proc", "set/deeper/c.proc"):
        write(folder / name)
    write(folder / "set/.hidden/d.proc", BAD)
    write(folder / "set/.e.proc", BAD)
    write(folder / "set/notes.md", "words")
    (folder / "set/f.proc").symlink_to(folder / "set/a.proc")
    (folder / "set/loop").symlink_to(folder / "set")
    os.mkfifo(folder / "set/g.proc")
    assert main(["check", "set"]) == 0
    assert capsys.readouterr().err == "3 files, nothing found\n"
    assert main(["check", "."]) == 0
    assert capsys.readouterr().err == "3 files, nothing found\n"


def test_a_file_in_the_folder_i_stand_in_is_shown_without_a_dot(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As one would type it."""
    write(folder / "a.proc", BAD)
    assert main(["check", "."]) == 1
    assert capsys.readouterr().out.startswith("a.proc:4:20: error[unknown-name]")


def test_a_file_that_others_perform_is_told_once(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """However many of the files given lead to it, and itself among them."""
    write(folder / "inner.proc", BAD)
    for name in ("one", "two"):
        write(folder / f"{name}.proc", f'proclang 1\nprocedure {name} "X"\nsection main "Main"\n  perform inner\n')
    assert main(["check", "one.proc", "two.proc", "inner.proc"]) == 1
    out, err = capsys.readouterr()
    assert out.count("error[") == 2
    assert err == "3 files, 2 errors\n"


def test_json_has_every_finding_and_nothing_else(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An object with a schema, also where nothing is found."""
    write(folder / "a.proc", BAD)
    write(folder / "b.proc")
    assert main(["check", "--format=json", "a.proc"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == 1
    assert [(f["code"], f["file"], f["line"], f["column"]) for f in told["findings"]] == [
        ("unknown-name", "a.proc", 4, 20),
        ("duplicate-name", "a.proc", 5, 8),
    ]
    assert main(["check", "b.proc", "--format", "json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"schema": 1, "findings": [], "allowed": []}


def test_a_warning_alone_is_a_finding_too(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 1, and it is called a warning."""
    text = SOUND.replace("section", "inputs\n  ring: length\nsection")
    write(folder / "a.proc", text)
    assert main(["check", "a.proc"]) == 1
    out, err = capsys.readouterr()
    assert "warning[unused-input]" in out
    assert err == "1 file, 1 warning\n"


def test_a_machine_file_is_checked_by_itself(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With what is unused in it."""
    write(folder / "rig.proc", 'proclang 1\nmachine rig "Rig"\nkind pin\n  states in_place, out\n')
    assert main(["check", "rig.proc"]) == 1
    assert "warning[unused-kind]" in capsys.readouterr().out


# ---------------------------------------------------------------------------- standard input


def test_a_text_from_standard_input_is_called_by_the_name_given(folder: Path) -> None:
    """What it names is found beside that name."""
    write(folder / "set/inner.proc")
    draft = 'proclang 1\nprocedure draft "X"\nsection main "Main"\n  perform inner\n  perform iner\n'
    done = run("check", "-", "--stdin-filename", "set/draft.proc", stdin=draft.encode())
    assert done.returncode == 1
    assert done.stdout.startswith(b"set/draft.proc:5:11: error[missing-file]")
    assert b"did you mean `inner`?" in done.stdout


def test_a_text_from_standard_input_without_a_name_has_its_own(folder: Path) -> None:
    """It is not told that its file is called otherwise."""
    assert run("check", "-", stdin=SOUND.replace("{name}", "draft").encode()).returncode == 0
    done = run("check", "-", stdin=BAD.replace("{name}", "draft").encode())
    assert done.stdout.startswith(b"<stdin>:4:20: error[unknown-name]")
    empty = run("check", "-")
    assert (empty.returncode, b"error[empty-file]" in empty.stdout) == (1, True)


def test_standard_input_is_read_no_further_than_a_file(folder: Path) -> None:
    """A stream that does not end is not waited for."""
    done = run("check", "-", stdin=b"# " + b"x" * 3_000_000)
    assert done.returncode == 1
    assert b"error[too-long]" in done.stdout


# ---------------------------------------------------------------------------- unusable calls


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["check"], "PATH"),
        (["check", "none.proc"], "there is no file or folder `none.proc`"),
        (["check", "empty"], "there is no .proc file in `empty`"),
        (["check", "notes.md"], "does not end in .proc"),
        (["check", "a.proc", "--fromat", "json"], "did you mean `--format`?"),
        (["check", "a.proc", "--form", "json"], "there is no option `--form`"),
        (["check", "a.proc", "--format", "xml"], "xml"),
        (["chek", "a.proc"], "did you mean `check`?"),
        (["--verison"], "did you mean `--version`?"),
        (["-x"], "there is no option `-x` before the command"),
        ([], "which command?"),
    ],
)
def test_an_unusable_call_is_told_on_standard_error_with_code_2(
    folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], says: str
) -> None:
    """One or two lines, with what was perhaps meant; nothing on standard output."""
    write(folder / "a.proc")
    write(folder / "notes.md", "words")
    (folder / "empty").mkdir()
    assert main(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert says in err
    assert len(err.splitlines()) <= 2
    assert err.startswith("proclang")


def test_nothing_is_checked_when_a_path_is_missing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A slip in a path is not to look like a clean result."""
    write(folder / "level.proc", BAD)
    assert main(["check", "level.proc", "levle.proc"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "did you mean `level.proc`?" in err


def test_what_is_no_regular_file_cannot_be_read(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The others are checked all the same, and the code says that not all were."""
    os.mkfifo(folder / "pipe.proc")
    write(folder / "a.proc", BAD)
    assert main(["check", "pipe.proc", "a.proc"]) == 2
    out, err = capsys.readouterr()
    assert "error[unknown-name]" in out
    assert "`pipe.proc` cannot be read: it is not a regular file" in err


def test_odd_names_survive(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Blanks, a leading dash behind `--`, controls that would move the cursor."""
    write(folder / "with blank" / "a.proc")
    write(folder / "-dash.proc")
    assert main(["check", "with blank"]) == 0
    assert main(["check", "--", "-dash.proc"]) == 1
    assert capsys.readouterr().out.startswith("-dash.proc:2:11: error[syntax]")
    assert main(["check", "a\x1b[31m.proc"]) == 2
    assert "\x1b" not in capsys.readouterr().err


def test_a_name_that_is_no_text_survives(folder: Path) -> None:
    """A file name is bytes; what cannot be shown is written out."""
    name = b"caf\xe9.proc"
    try:
        (Path(os.fsdecode(os.fsencode(folder) + b"/" + name))).write_text(SOUND.replace("{name}", "x"))
    except OSError:
        pytest.skip("this file system takes no such name")
    done = run("check", ".")
    assert done.returncode == 1
    assert b"other-file-name" in done.stdout
    assert b"Traceback" not in done.stderr


# ---------------------------------------------------------------------------- the frame of every command


def test_the_version_is_one_line() -> None:
    """And loads next to nothing."""
    done = run("--version")
    assert (done.returncode, done.stdout) == (0, f"proclang {proclang.__version__}\n".encode())


@pytest.mark.parametrize("arguments", [["--help"], ["-h"], ["help"]])
def test_help_shows_examples_first(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    """On standard output, with every command."""
    assert main(arguments) == 0
    out = capsys.readouterr().out
    assert out.startswith("examples\n")
    for command in COMMANDS:
        assert f"\n  {command} " in out


@pytest.mark.parametrize("arguments", [["check", "--help"], ["check", "-h"], ["help", "check"]])
def test_help_of_a_command_shows_its_examples_first(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    """And what it takes."""
    assert main(arguments) == 0
    out = capsys.readouterr().out
    assert out.startswith("examples\n  proclang check")
    assert "--stdin-filename" in out


def test_a_closed_pipe_is_silent(folder: Path) -> None:
    """`| head` ends the reading; nobody has to hear of it."""
    body = "".join(f'  step s{i} "Look {{gap_{i}x}}."\n' for i in range(2_000))
    write(folder / "a.proc", f'proclang 1\nprocedure a "X"\nsection main "Main"\n{body}')
    read, written = os.pipe()
    os.close(read)
    done = subprocess.run(
        [sys.executable, "-m", "proclang", "check", "a.proc", "--format", "json"],
        stdout=written, stderr=subprocess.PIPE, env={**os.environ, "PYTHONPATH": str(ROOT)}, check=False,
    )  # fmt: skip
    os.close(written)
    assert done.returncode == PIPE_CLOSED
    assert b"Traceback" not in done.stderr
    assert b"BrokenPipe" not in done.stderr


def test_a_fault_of_the_program_is_one_line_and_a_way_to_see_more(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Never a traceback unless it is asked for; never exit code 1."""
    write(folder / "a.proc")

    def broken(*arguments: object) -> None:
        raise RuntimeError("two\x1b[2Jlines\nof it")

    monkeypatch.setattr("proclang.check.check.check_files", broken)
    monkeypatch.setattr("proclang.cli.streams.drop_output", lambda: None)
    monkeypatch.delenv("PROCLANG_TRACEBACK", raising=False)
    assert guarded(["check", "a.proc"]) == 2
    err = capsys.readouterr().err
    assert "this is a fault in proclang (RuntimeError: two" in err
    assert "PROCLANG_TRACEBACK=1" in err
    assert "Traceback" not in err
    assert "\x1b" not in err
    monkeypatch.setenv("PROCLANG_TRACEBACK", "1")
    assert guarded(["check", "a.proc"]) == 2
    assert "Traceback" in capsys.readouterr().err


def test_ctrl_c_has_its_own_code(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """130, as a shell expects."""
    write(folder / "a.proc")

    def interrupted(*arguments: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("proclang.check.check.check_files", interrupted)
    assert guarded(["check", "a.proc"]) == INTERRUPTED == 130


def test_a_terminal_without_the_signs_gets_them_written_out(folder: Path) -> None:
    """Plain ASCII output never fails on a sign."""
    text = SOUND.replace('"Look."', '"Look ± {gap}."')
    write(folder / "a.proc", text)
    done = run("check", "a.proc", PYTHONUTF8="0", PYTHONCOERCECLOCALE="0", LC_ALL="C", PYTHONIOENCODING="ascii")
    assert done.returncode == 1
    assert b"Look +/- {gap}." in done.stdout
