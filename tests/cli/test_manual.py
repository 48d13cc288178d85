"""The page of the manual is what the parsers say, and can be set."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from proclang.cli.main import COMMANDS, parser_of
from proclang.cli.manual import EXIT_CODES, page
from proclang.cli.settings import SETTINGS

ROOT = Path(__file__).parents[2]


def plain(text: str) -> str:
    """Without the escapes of roff."""
    for escape, sign in (("\\-", "-"), ("\\(ga", "`"), ("\\(aq", "'"), ("\\(dq", '"'), ("\\e", "\\")):
        text = text.replace(escape, sign)
    return re.sub(r"\\f[BIR]|\\&", "", text)


def test_the_page_in_the_repository_is_the_one_that_is_made() -> None:
    """After a change of an option: `python -m proclang.cli.manual > proclang/cli/proclang.1`."""
    assert (ROOT / "proclang" / "cli" / "proclang.1").read_text(encoding="ascii") == page()


def test_every_command_option_and_setting_is_in_it() -> None:
    text = plain(page())
    for name in COMMANDS:
        parser = parser_of(name)
        assert f".SS proclang {name}\n" in text
        chapter = text.split(f".SS proclang {name}\n", 1)[1].split(".SS", 1)[0]
        for action in parser.options:
            for option in action.option_strings:
                assert re.search(rf"(^|[ ,]){option}\b", chapter, re.M), (name, option)
    for setting in SETTINGS:
        assert f"{setting.key}\n" in text
        assert setting.variable in text


def test_the_readme_has_the_same_exit_codes() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    table = readme.split("| exit code |", 1)[1].split("\n\n", 1)[0]
    listed = re.findall(r"^\| ([0-9n +]+) \| ", table, re.M)
    assert [code.replace(" ", "") for code in listed] == [code for code, _ in EXIT_CODES]


@pytest.mark.parametrize("command", COMMANDS)
def test_the_help_of_a_command_shows_examples_first_and_its_exit_codes(command: str) -> None:
    text = parser_of(command).format_help()
    assert text.startswith(f"examples\n  {'eval' if command == 'completions' else f'proclang {command} '}")
    assert ("\nexit codes\n  0 " in text) is (command != "completions")
    assert max(map(len, text.splitlines())) <= 120


@pytest.mark.skipif(shutil.which("groff") is None, reason="only where there is a groff")
def test_it_can_be_set_without_a_warning() -> None:
    done = subprocess.run(
        ["groff", "-man", "-ww", "-Tascii", ROOT / "proclang" / "cli" / "proclang.1"],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert "proclang check" in done.stdout
