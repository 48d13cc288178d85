"""The command `proclang`: one table of commands, each loaded only when it is called."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module

UNUSABLE, INTERRUPTED = 2, 130

COMMANDS = {
    "run": ("proclang.cli.run", "walk through a procedure and record it"),
    "resume": ("proclang.cli.resume", "go on after a pause, a crash or a power cut"),
    "status": ("proclang.cli.status", "where a run stands; changes nothing"),
}
"""Name to module and help. A module has `add_arguments(parser)` and `run(arguments) -> exit code`."""


def main(arguments: Sequence[str]) -> int:
    """Run one command and give its exit code."""
    name = next((a for a in arguments if not a.startswith("-")), None)
    parser = argparse.ArgumentParser("proclang", description="Field procedures: check, run, document.")
    parser.add_argument("--version", action="store_true", help="print the version")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    for command, (module, words) in COMMANDS.items():
        sub = commands.add_parser(command, help=words, description=words[:1].upper() + words[1:] + ".")
        if command == name:
            import_module(module).add_arguments(sub)
    chosen = parser.parse_args(arguments)
    if chosen.version:
        from proclang import __version__

        print(f"proclang {__version__}")
        return 0
    if chosen.command is None:
        parser.print_help()
        return UNUSABLE
    result: int = import_module(COMMANDS[chosen.command][0]).run(chosen)
    return result


def entry() -> None:
    """The console script."""
    for stream in (sys.stdout, sys.stderr):
        if stream is not None and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        code = main(sys.argv[1:])
        if sys.stdout is not None:
            sys.stdout.flush()
    except KeyboardInterrupt:
        code = INTERRUPTED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = UNUSABLE
    sys.exit(code)


if __name__ == "__main__":
    entry()
