"""`proclang verify`: whether a run's record is whole and follows from its replies. Nothing is changed."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from proclang.cli import sitting, streams
from proclang.text.printable import printable

if TYPE_CHECKING:
    from proclang.log.verify import Check

TABLES = ("look",)

EXAMPLES = """\
examples
  proclang verify runs/ridge
  proclang verify runs/ridge --against kept/ridge-log.md
  proclang verify runs/ridge --format json

exit codes
  0 everything holds; 1 something does not; 2 no run there, or one that cannot be read
"""

SCHEMA = 1
"""Version of the JSON form. Keys may be added under the same number, never renamed or dropped."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("folder", metavar="DIR", help="the folder the run is kept in")
    parser.add_argument(
        "--against", metavar="LOG", help="a log of this run kept elsewhere, whose journal head must be in this journal"
    )
    parser.add_argument("--format", choices=("text", "json"), default="text", help="for people, or for programs")


def beside(arguments: argparse.Namespace) -> str:
    """The folder of the run, for its settings."""
    return arguments.folder or ""


def run(arguments: argparse.Namespace) -> int:
    """Exit codes: 0 everything holds, 1 something does not, 2 no run there or not to be read."""
    from proclang.log.verify import LOG_BYTES, passed, verify
    from proclang.session.files import Files, StorageError, read_file
    from proclang.text.diagnostic import Problem

    files = Files()
    try:
        against = None
        if arguments.against is not None:
            against = read_file(files, Path(arguments.against), LOG_BYTES, doing="reading the other log")
        with streams.Working("going through the record"):
            checks = verify(Path(arguments.folder), files, against)
    except StorageError as error:
        sitting.say(f"proclang: {error}")
        return sitting.UNUSABLE
    if isinstance(checks, Problem):
        sitting.say_problem(checks, arguments.folder)
        return sitting.UNUSABLE
    sound = passed(checks)
    if arguments.format == "json":
        sitting.put_data(_json(checks, sound))
    else:
        sitting.put(_text(checks, sound))
    return 0 if sound else 1


def _text(checks: tuple[Check, ...], sound: bool) -> str:
    from proclang.log.verify import CANNOT_SHOW, NOT_SHOWN, SHOWN

    lines = []
    for check in checks:
        where = f"{check.where}: " if check.where else ""
        lines.append(f"{check.outcome:9}{check.name}: {where}{check.says}")
    lines.append((SHOWN if sound else NOT_SHOWN) + CANNOT_SHOW)
    return "".join(piece + "\n" for line in lines for piece in streams.fitted(printable(line), sys.stdout))


def _json(checks: tuple[Check, ...], sound: bool) -> str:
    import json

    from proclang.log.verify import CANNOT_SHOW

    listed = [{"name": c.name, "outcome": c.outcome, "says": c.says, "where": c.where} for c in checks]
    facts = {"schema": SCHEMA, "sound": sound, "checks": listed, "cannot_show": CANNOT_SHOW}
    return json.dumps(facts, indent=2) + "\n"
