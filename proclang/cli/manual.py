"""The page of the manual, `man proclang`, made from the parsers of the commands and the table of settings.

`python -m proclang.cli.manual` prints it; a test holds `proclang.1` beside it to that. In roff, macros of man(7).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

    from proclang.cli.arguments import Parser

EXIT_CODES = (
    ("0", "All is well; a run is finished, or was left with `pause` or Ctrl-D."),
    ("1", "Findings, a difference, damage; a run was stopped or is not finished."),
    ("2", "An unusable call, folder, disk or stream, or a fault of the program."),
    ("3", "Another process has the run."),
    ("130", "Left by Ctrl-C."),
    ("128+n", "Ended by signal n; 141 where a pipe was closed by its reader."),
)

VARIABLES = (
    ("PROCLANG_TRACEBACK", "Set to 1, shows where a fault of the program happened."),
    ("NO_COLOR", "Not empty: no colour, unless --color says otherwise."),
    ("FORCE_COLOR, CLICOLOR_FORCE", "Neither empty nor 0: colour also where no terminal is; NO_COLOR is stronger."),
    ("TERM", "Empty, dumb or unknown: plain lines, no colour."),
    ("COLUMNS", "The width of the screen, where the terminal does not tell."),
    ("XDG_CONFIG_HOME", "The folder with proclang/proclang.toml, the settings of the user; usually ~/.config."),
)

DESCRIPTION = """\
proclang is a plain-text language for field procedures, and the program that runs them. A procedure is checked before \
anybody travels; a technician is walked through it in a terminal, each reading is judged as it is entered and is on \
the disk before it is acknowledged; and what was done becomes a log in markdown that can be compared and recomputed."""

SAFETY = """\
proclang records and computes; it does not make work safe. Lifting, electricity, height, lasers, cold and stored \
energy are for licensed or competent people, under the rules of the place."""


def page() -> str:
    """The whole page, ASCII."""
    return "".join(line + "\n" for line in _lines())


def _lines() -> Iterator[str]:
    from proclang import __version__
    from proclang.cli.main import COMMANDS, EXAMPLES, parser_of
    from proclang.cli.settings import SETTINGS

    yield '.\\" Made from the program: python -m proclang.cli.manual'
    yield f'.TH PROCLANG 1 "" "proclang {__version__}" "User Commands"'
    yield ".SH NAME"
    yield "proclang \\- check field procedures, walk through them, document what was done"
    yield ".SH SYNOPSIS"
    for name in COMMANDS:
        yield from _usage(parser_of(name))
    yield ".SH DESCRIPTION"
    yield _roff(DESCRIPTION)
    yield ".SH COMMANDS"
    for name in COMMANDS:
        yield f".SS proclang {name}"
        yield from _command(parser_of(name))
    yield ".SH SETTINGS"
    yield _roff(
        "What counts is what the command line says, then a variable of the environment, then the nearest proclang.toml "
        "(or [tool.proclang] in pyproject.toml) from the folder of what is worked on upwards to the top of a git "
        "working tree or the home, then proclang/proclang.toml of the user, then the usual value."
    )
    for setting in SETTINGS:
        usual = setting.usual if isinstance(setting.usual, str) else str(setting.usual).lower()
        words = "" if setting.usual in ("", ()) else f" Usually {usual}."
        yield from _tagged(setting.key, f"{setting.says}.{words} Variable: {setting.variable}.")
    yield ".SH EXIT STATUS"
    for code, words in EXIT_CODES:
        yield from _tagged(code, words)
    yield ".SH ENVIRONMENT"
    for variable, words in VARIABLES:
        yield from _tagged(variable, words)
    yield ".SH EXAMPLES"
    yield from _examples(EXAMPLES)
    yield ".SH SAFETY"
    yield _roff(SAFETY)


def _usage(parser: Parser) -> Iterator[str]:
    words = " ".join(_operand(action) for action in parser.operands)
    yield ".br"
    yield f"\\fB{_roff(parser.prog)}\\fR [\\fIOPTIONS\\fR] {words}"


def _operand(action: argparse.Action) -> str:
    name = f"\\fI{_roff(str(action.metavar))}\\fR"
    return f"{name} ..." if action.nargs in ("*", "+") else name


def _command(parser: Parser) -> Iterator[str]:
    yield _roff(parser.description or "")
    for action in (*parser.operands, *parser.options):
        value = f" {action.metavar}" if action.metavar and action.option_strings else ""
        if action.choices and action.option_strings:
            value = " " + "|".join(map(str, action.choices))
        tag = ", ".join(f"{name}{value}" for name in action.option_strings) or str(action.metavar)
        words = action.help or ""
        yield from _tagged(tag, words[:1].upper() + words[1:] + ".")
    yield ".PP"
    yield from _examples(parser.examples)


def _tagged(tag: str, words: str) -> Iterator[str]:
    yield ".TP"
    yield f"\\fB{_roff(tag)}\\fR"
    yield _roff(words)


def _examples(text: str) -> Iterator[str]:
    """What help shows first, as it stands there."""
    for part in re.split(r"\n\n+", text.strip()):
        title, *lines = part.split("\n")
        yield f".PP\n{_roff(title[:1].upper() + title[1:])}:"
        yield ".nf"
        yield from (_roff(line) for line in lines)
        yield ".fi"


def _roff(text: str) -> str:
    """A text in which nothing is a request, an escape or a sign that is set as another one."""
    text = (
        text.replace("\\", "\\e").replace("-", "\\-").replace("`", "\\(ga").replace("'", "\\(aq").replace("^", "\\(ha")
    )
    text = text.replace("~", "\\(ti").replace('"', "\\(dq")
    return f"\\&{text}" if text.startswith(".") else text


if __name__ == "__main__":
    import sys

    sys.stdout.write(page())
