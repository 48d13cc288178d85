"""`proclang resume`: go on with a run after a pause, a crash or a power cut."""

from __future__ import annotations

import argparse
from pathlib import Path

from proclang.cli import sitting, streams

TABLES = ("look",)

EXAMPLES = f"""\
examples
  proclang resume runs/ridge           go on at the open question
  proclang resume runs/ridge --plain   the same for a screen reader or a serial line

{sitting.EXIT_CODES}"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("folder", metavar="DIR", help="the folder the run is kept in")
    sitting.add_terminal_arguments(parser)


def beside(arguments: argparse.Namespace) -> str:
    """The folder of the run, for its settings."""
    return arguments.folder or ""


def run(arguments: argparse.Namespace) -> int:
    """Open, mend a torn tail, go on. Exit codes as in `sitting`."""
    from proclang.session.files import StorageError
    from proclang.session.lock import Held
    from proclang.session.run import resume
    from proclang.text.diagnostic import Problem

    script = sitting.read_replies(arguments)
    if isinstance(script, int):
        return script
    driver = sitting.make_driver(arguments, script)
    if driver is None:
        return sitting.UNUSABLE
    try:
        with streams.Working("reading the run"):
            opened = resume(Path(arguments.folder), sitting.make_clock(arguments))
    except StorageError as error:
        sitting.say(f"proclang: {error}")
        return sitting.UNUSABLE
    if isinstance(opened, Held):
        sitting.say(f"proclang: {opened}")
        return sitting.HELD
    if isinstance(opened, Problem):
        sitting.say_problem(opened, arguments.folder)
        return sitting.UNUSABLE
    if opened.opened.get("exercise") == "rehearsal":
        opened.close()
        sitting.say("proclang: this is a rehearsal: nobody goes on with it", "  `proclang rehearse` makes another")
        return sitting.UNUSABLE
    if opened.state.over:
        opened.close()
        sitting.say(f"proclang: this run is over: it is {opened.state.status}; nothing more is asked")
        code = sitting.FINISHED if opened.state.status == "finished" else sitting.UNFINISHED
        # Cut off after its last entry and before its log was written.
        return code if opened.folder.log.exists() else sitting.write_log(opened.folder.path, code)
    if sitting.nobody_answers(script):
        opened.close()
        return sitting.UNUSABLE
    opened.clock = sitting.make_clock(arguments, stamps=opened.state.entries)
    return sitting.sit(opened, driver, script, resumed=opened.sitting > 1)
