"""The command `proclang`: one table of commands, each loaded only when it is called.

A command is a module with `add_arguments(parser)` and `run(arguments) -> exit code`; `EXAMPLES`, which its help shows
first; and, if it has settings, `TABLES` of them and `beside(arguments)`, the folder whose settings count. To add one,
write the module and put a line into the table.

Exit codes: 0 well, 1 findings or a difference, 2 an unusable call or a fault of the program, 130 Ctrl-C; a command may
have more of its own. Results go to standard output, messages to standard error.
"""

from __future__ import annotations

import os
import sys

from proclang.cli import streams
from proclang.cli.streams import put as put
from proclang.cli.streams import say as say

TYPE_CHECKING = False  # as `typing` has it, which takes longer to load than all that is here
if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence
    from types import ModuleType

    from proclang.cli.arguments import Parser

UNUSABLE, INTERRUPTED, PIPE_CLOSED = 2, 130, 141

COMMANDS = {
    "check": ("proclang.cli.check", "find the mistakes in procedures and machine files"),
    "explain": ("proclang.cli.explain", "what is behind a code that the check gives"),
    "format": ("proclang.cli.format", "lay out procedures and machine files in the one way there is"),
    "run": ("proclang.cli.run", "walk through a procedure and record it"),
    "rehearse": ("proclang.cli.rehearse", "go through everything a procedure can come to, with a made-up crew"),
    "resume": ("proclang.cli.resume", "go on after a pause, a crash or a power cut"),
    "status": ("proclang.cli.status", "where a run stands; changes nothing"),
    "log": ("proclang.cli.log", "write the log of a run"),
    "verify": ("proclang.cli.verify", "look whether the record of a run is whole and follows from its replies"),
    "completions": ("proclang.cli.completions", "print a script that completes commands and options in a shell"),
}
"""Name to module and help."""

TRACEBACK = "PROCLANG_TRACEBACK"
"""Set to 1, this variable shows where a fault of the program happened."""

EXAMPLES = """\
examples
  proclang check procedures            find the mistakes in a folder of procedures
  proclang run level_base.proc --site ridge.toml --into runs/ridge
  proclang status runs/ridge           where that run stands
"""


def main(arguments: Sequence[str]) -> int:
    """Run one command and give its exit code."""
    streams.dress()
    if not arguments:
        say("proclang: which command?", f"  {_listed()}; `proclang --help` says more")
        return UNUSABLE
    first = arguments[0]
    if first == "--version":
        from proclang import __version__

        put(f"proclang {__version__}\n")
        return 0
    if first in ("-h", "--help") or (first == "help" and len(arguments) == 1):
        put(_help())
        return 0
    if first == "help":
        return main([arguments[1], "--help"])
    if first not in COMMANDS:
        return _unknown(first)
    return _command(first, arguments[1:])


def parser_of(name: str) -> Parser:
    """The parser of a command; also what its completions and its page in the manual are made from."""
    from importlib import import_module

    from proclang.cli import settings
    from proclang.cli.arguments import Parser

    module_name, words = COMMANDS[name]
    module = import_module(module_name)
    parser = Parser(
        prog=f"proclang {name}",
        description=words[:1].upper() + words[1:] + ".",
        examples=getattr(module, "EXAMPLES", ""),
    )
    module.add_arguments(parser)
    if hasattr(module, "TABLES"):
        settings.add_arguments(parser)
    return parser


def _command(name: str, arguments: Sequence[str]) -> int:
    from importlib import import_module

    from proclang.cli.arguments import Unusable

    module = import_module(COMMANDS[name][0])
    try:
        chosen = parser_of(name).read(arguments)
        shown = _settle(module, chosen) if hasattr(module, "TABLES") else None
    except Unusable as problem:
        say(f"proclang {name}: {problem}", *problem.hints)
        return UNUSABLE
    except SystemExit:  # only after help was asked for and printed
        return 0
    if shown is not None:
        put(shown)
        return 0
    result: int = module.run(chosen)
    return result


def _settle(module: ModuleType, chosen: argparse.Namespace) -> str | None:
    """Complete the arguments from the settings, and dress the streams by them; the settings as text if asked for."""
    from proclang.cli import settings

    settled = settings.settle(chosen, module.TABLES, module.beside(chosen), os.environ)
    if chosen.show_settings:
        return settings.shown(settled)
    # Who reads plain lines gets no colour unless it is asked for by name.
    color = "never" if chosen.color == "auto" and chosen.plain else chosen.color
    streams.dress(color, chosen.palette, chosen.ascii)
    return None


def _unknown(word: str) -> int:
    from proclang.text.suggest import did_you_mean

    if word.startswith("-"):
        near = did_you_mean(word, ("--help", "--version"))
        say(f"proclang: there is no option `{word}` before the command", f"  {near or _listed()}")
    else:
        say(f"proclang: there is no command `{word}`", f"  {did_you_mean(word, COMMANDS) or _listed()}")
    return UNUSABLE


def _listed() -> str:
    return f"commands: {', '.join(COMMANDS)}"


def _help() -> str:
    options = {"--version": "print the version", "-h, --help": "print this; `proclang COMMAND --help` says more of one"}
    width = max(map(len, (*COMMANDS, *options))) + 2

    def table(rows: dict[str, str]) -> str:
        return "".join(f"  {name:<{width}}{words}\n" for name, words in rows.items())

    return (
        f"{EXAMPLES}\nusage: proclang COMMAND ...\n\n"
        "Field procedures in plain text: check them, walk through them, document what was done.\n\n"
        f"commands\n{table({name: words for name, (_, words) in COMMANDS.items()})}\n"
        f"options\n{table(options)}"
    )


def entry() -> None:
    """The console script."""
    streams.fill_descriptors()
    for stream in (sys.stdout, sys.stderr):
        if stream is not None and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    sys.exit(guarded(sys.argv[1:]))


def guarded(arguments: Sequence[str]) -> int:
    """`main`, with everything that can go wrong turned into an exit code and at most a line."""
    try:
        code = main(arguments)
        if sys.stdout is not None:
            sys.stdout.flush()
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        streams.drop_output()
        return PIPE_CLOSED
    except Exception as fault:
        if os.environ.get(TRACEBACK) == "1":
            import traceback

            traceback.print_exc()
        elif isinstance(fault, OSError) and fault.filename is None and fault.errno is not None:
            # Files are opened by name and answered for where that is done; what is left is a stream of this process.
            words = os.strerror(fault.errno)
            say(f"proclang: standard input or output does not work: {words[:1].lower()}{words[1:]}")
        else:
            what = f"{type(fault).__name__}: {str(fault)[:200]}".rstrip(": ")
            say(f"proclang: this is a fault in proclang ({what})", f"  {TRACEBACK}=1 in the environment shows where")
        streams.drop_output()
        return UNUSABLE
    return code


if __name__ == "__main__":
    entry()
