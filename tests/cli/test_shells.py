"""Completions: what a shell offers at each place, tried in the real shells; zsh and fish where they are installed."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "drivers"))  # the ways to run the program

from drive_help import at_once, environment

from proclang.cli import completions
from proclang.cli.main import COMMANDS, main, parser_of

BASH = shutil.which("bash")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a file of each kind, one with a blank in its name, and a folder."""
    for name in ("a.proc", "with blank.proc", "site.toml", "other.txt"):
        (tmp_path / name).write_text("")
    (tmp_path / "runs").mkdir()
    return tmp_path


def script(shell: str) -> str:
    return getattr(completions, shell)(completions.commands())


ASK_BASH = """\
{script}
COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); COMPREPLY=()
_proclang proclang "${{COMP_WORDS[COMP_CWORD]}}" "${{COMP_WORDS[COMP_CWORD - 1]}}"
(( ${{#COMPREPLY[@]}} )) && printf '%s\\n' "${{COMPREPLY[@]}}"
exit 0
"""


def offered(folder: Path, *words: str) -> set[str]:
    """What bash offers for the last of these words."""
    assert BASH is not None
    done = subprocess.run(
        [BASH, "--norc", "-c", ASK_BASH.format(script=script("bash")), "bash", *words],
        capture_output=True, text=True, cwd=folder, env=environment(), timeout=60, check=True,
    )  # fmt: skip
    assert done.stderr == ""
    return set(done.stdout.splitlines())


PLACES: list[tuple[tuple[str, ...], set[str]]] = [
    (("proclang", ""), {*COMMANDS, "help", "--help", "--version"}),
    (("proclang", "st"), {"status"}),
    (("proclang", "help", "v"), {"verify"}),
    (("proclang", "check", "--st"), {"--stdin-filename", "--statistics"}),
    (("proclang", "check", "--format", "j"), {"json", "jsonl"}),
    (("proclang", "check", "--format", "=", "j"), {"json", "jsonl"}),
    (("proclang", "check", "--format", "="), {"text", "json", "jsonl", "sarif", "github"}),
    (("proclang", "check", ""), {"a.proc", "with blank.proc", "runs"}),
    (("proclang", "check", "a.proc", "w"), {"with blank.proc"}),
    (("proclang", "check", "--", ""), {"a.proc", "with blank.proc", "runs"}),
    (("proclang", "run", "a.proc", "--site", ""), {"site.toml", "runs"}),
    (("proclang", "run", "a.proc", "--into", ""), {"runs"}),
    (("proclang", "run", "a.proc", "--palette", ""), {"normal", "mono", "night"}),
    (("proclang", "run", "a.proc", "--width", ""), set()),
    (("proclang", "resume", ""), {"runs"}),
    (("proclang", "completions", ""), {"bash", "zsh", "fish"}),
    (("proclang", "nothing", ""), set()),
]


@pytest.mark.skipif(BASH is None, reason="only where there is a bash")
@pytest.mark.parametrize(("words", "expected"), PLACES, ids=lambda x: " ".join(x) if isinstance(x, tuple) else "")
def test_bash_offers_what_can_stand_there(folder: Path, words: tuple[str, ...], expected: set[str]) -> None:
    assert offered(folder, *words) == expected


@pytest.mark.parametrize("shell", completions.SHELLS)
def test_every_command_and_option_is_in_it(shell: str) -> None:
    """Made from the parsers: whatever a command takes is offered."""
    text = script(shell)
    assert text.isascii()
    for command in completions.commands():
        assert command.name in text
        for option in command.options:
            for name in option.names:
                shown = name if shell != "fish" else f"-l {name[2:]}" if name.startswith("--") else f"-s {name[1:]}"
                assert shown in text


def test_what_a_value_is_called_is_known() -> None:
    """A new kind of argument needs a line in the table of what is offered for it, or none on purpose."""
    nothing_to_offer = {"CODE", "PATTERN", "COLUMNS", "NUMBER"}
    for name in COMMANDS:
        parser = parser_of(name)
        for action in (*parser.options, *parser.operands):
            if action.nargs != 0 and not action.choices:
                assert action.metavar in {*completions.FILES, *nothing_to_offer}, (name, action.dest)


@pytest.mark.parametrize("shell", completions.SHELLS)
def test_the_shell_can_read_it(tmp_path: Path, shell: str) -> None:
    """Its own reading without running (`-n`)."""
    program = shutil.which(shell)
    if program is None:
        pytest.skip(f"there is no {shell} here")
    path = tmp_path / "script"
    path.write_text(script(shell))
    done = subprocess.run([program, "-n", path], capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.skipif(shutil.which("fish") is None, reason="only where there is a fish")
def test_fish_offers_what_can_stand_there(folder: Path) -> None:
    asked = ("proclang st", "proclang check --stati", "proclang check --format jsonl", "proclang run --into r")
    calls = "".join(f"complete -C '{line}'\n" for line in asked)
    done = subprocess.run(
        [shutil.which("fish") or "", "--no-config", "-c", script("fish") + calls],
        capture_output=True, text=True, cwd=folder, env=environment(HOME=str(folder)), timeout=60, check=True,
    )  # fmt: skip
    assert [line.split("\t")[0] for line in done.stdout.splitlines()] == ["status", "--statistics", "jsonl", "runs/"]


def test_a_shell_that_is_not_known(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completions", "csh"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "bash" in err
    assert at_once("completions") == 2
