"""`proclang format`: the one layout, for files, folders and standard input."""

from __future__ import annotations

import argparse
import os
import sys
from typing import TYPE_CHECKING

from proclang.cli import streams
from proclang.cli.arguments import Unusable
from proclang.cli.check_paths import RUN_MARK, STDIN, files_named, folder_above
from proclang.cli.main import UNUSABLE
from proclang.cli.settings import texts
from proclang.cli.streams import say

if TYPE_CHECKING:
    from proclang.syntax.format import Formatted

DONE, NOT_DONE = 0, 1

TABLES = ("check", "look")

EXAMPLES = """\
examples
  proclang format level_base.proc      lay out one file
  proclang format procedures           every .proc file below a folder
  proclang format --check procedures   name the files that are not laid out; for a CI job
  proclang format --diff procedures    show what would be changed
  proclang format - < draft            from standard input to standard output

exit codes
  0 done, or shown; 1 a file with mistakes of form, which is left as it is, or with --check one that is not laid out;
  2 an unusable call, or a file that cannot be read or written
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument(
        "paths", metavar="PATH", nargs="*", help="files, folders (every .proc below), or - for standard input"
    )
    parser.add_argument("--check", action="store_true", help="write nothing; name what is not laid out, exit code 1")
    parser.add_argument("--diff", action="store_true", help="write nothing; show what would be changed")
    parser.add_argument(
        "--exclude", metavar="PATTERN", action="append", help="leave out what is called so below a folder: `draft_*`"
    )


def beside(arguments: argparse.Namespace) -> str:
    """The folder that everything to be laid out lies in, for its settings."""
    arguments.exclude = texts(",".join(arguments.exclude)) if arguments.exclude is not None else None
    return folder_above(path for path in arguments.paths if path != STDIN)


def run(arguments: argparse.Namespace) -> int:
    """Exit codes: 0 done, 1 mistakes of form or, with `--check`, something to do, 2 unusable."""
    if not arguments.paths:
        problem = Unusable("what is to be laid out? PATH is missing", "`proclang format --help` says how it is called")
        say(f"proclang format: {problem}", *problem.hints)
        return UNUSABLE
    paths = files_named(arguments.paths, arguments.exclude, "format")
    if paths is None:
        return UNUSABLE
    told = {"changed": 0, "wrong": 0, "failed": 0}
    with streams.Working(f"laying out {len(paths):,} {'file' if len(paths) == 1 else 'files'}"):
        for path in paths:
            done = _one(path, arguments)
            if done:
                told[done] += 1
    shown = arguments.check or arguments.diff
    if paths != [STDIN] or shown:
        say(_summary(len(paths), told, "to be laid out" if shown else "laid out"))
    if told["failed"]:
        return UNUSABLE
    return NOT_DONE if told["wrong"] or (arguments.check and told["changed"]) else DONE


def _summary(files: int, told: dict[str, int], changed: str) -> str:
    parts = [f"{files:,} {'file' if files == 1 else 'files'}"]
    parts += [f"{told['changed']:,} {changed}"] if told["changed"] else []
    parts += [f"{told['wrong']:,} with mistakes, left as before"] if told["wrong"] else []
    parts += [f"{told['failed']:,} not to be read or written"] if told["failed"] else []
    return ", ".join(parts if len(parts) > 1 else [*parts, "nothing to do"])


def _one(path: str, arguments: argparse.Namespace) -> str:
    """Lay out one file, or say why not: what became of it, empty where there was nothing to do."""
    from proclang.syntax.format import format_file
    from proclang.text.printable import printable

    data = _bytes_of(path)
    if data is None:
        return "failed"
    name = "<stdin>" if path == STDIN else path
    done = format_file(data, name)
    if done.text is None:
        _tell(done)
        return "wrong"
    new = done.text.encode()
    if arguments.diff:
        from proclang.cli.format_diff import unified

        streams.put(unified(data.decode(), done.text, name))
    elif arguments.check:
        streams.put(f"{printable(name)}\n" if new != data else "")
    elif path == STDIN:
        streams.put_bytes(new)
    elif new != data:
        from proclang.cli.replace import replace

        problem = replace(path, data, new)
        if problem is not None:
            say(f"proclang format: `{path}` is left as it is: {problem.strerror or problem}")
            return "failed"
        streams.put(f"{printable(name)}\n")
    return "changed" if new != data else ""


def _bytes_of(path: str) -> bytes | None:
    """What a file holds; None if it cannot be read or is none to be touched, which has been said."""
    from proclang.text.limits import FILE_BYTES
    from proclang.text.regular import read_regular

    if path == STDIN:
        if sys.stdin is None:
            say("proclang format: standard input is closed")
            return None
        return sys.stdin.buffer.read(FILE_BYTES + 1)
    if _is_evidence(path):
        say(f"proclang format: `{path}` is left as it is: it belongs to the record of a run")
        return None
    data = read_regular(path, follow=True)
    if isinstance(data, OSError):
        say(f"proclang format: `{path}` cannot be read: {data.strerror or data}")
        return None
    return data


def _is_evidence(path: str) -> bool:
    """Whether a file is kept in the folder of a run, or one below it: other bytes would break what was recorded."""
    folder = os.path.dirname(os.path.realpath(path))
    return any(os.path.lexists(os.path.join(each, RUN_MARK)) for each in (folder, os.path.dirname(folder)))


def _tell(done: Formatted) -> None:
    from proclang.cli.check_report import rendered

    sources = {done.source.name: done.source}
    streams.say_block(rendered(done.findings, (), sources, "text", streams.palette_of("stderr"), counted=False))
