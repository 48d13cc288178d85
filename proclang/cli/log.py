"""`proclang log`: what a run did, as markdown in its folder or on the screen."""

from __future__ import annotations

import argparse
from pathlib import Path

from proclang.cli import sitting, streams

TABLES = ("look",)

EXAMPLES = """\
examples
  proclang log runs/ridge               write runs/ridge/log.md anew
  proclang log runs/ridge --stdout      print it

exit codes
  0 written or printed; 1 the journal is damaged; 2 no run there, or not to be read or written
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("folder", metavar="DIR", help="the folder the run is kept in")
    parser.add_argument("--stdout", action="store_true", help="print the log and write nothing")


def beside(arguments: argparse.Namespace) -> str:
    """The folder of the run, for its settings."""
    return arguments.folder or ""


def run(arguments: argparse.Namespace) -> int:
    """Exit codes: 0 written or printed, 1 the journal is damaged, 2 no run there or not to be read or written."""
    from proclang.log.render import render_log
    from proclang.session.files import StorageError
    from proclang.session.run import open_run
    from proclang.text.diagnostic import Problem

    try:
        with streams.Working("writing the log"):
            opened = open_run(Path(arguments.folder))
            text = opened if isinstance(opened, Problem) else render_log(opened)
        if isinstance(text, Problem):
            sitting.say_problem(text, arguments.folder)
            return sitting.UNFINISHED if text.code == "damaged" else sitting.UNUSABLE
        if arguments.stdout:
            streams.put_bytes(text.encode())
            return 0
        assert not isinstance(opened, Problem)
        opened.folder.write_log(text)
    except StorageError as error:
        sitting.say(f"proclang: {error}")
        return sitting.UNUSABLE
    sitting.say(f"written: {opened.folder.log}")
    return 0
