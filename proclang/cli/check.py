"""`proclang check`: every mistake of procedures and machine files, at its place, in one go."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING

from proclang.cli.main import UNUSABLE, say

if TYPE_CHECKING:
    from proclang.check.check import Checked
    from proclang.program.load import Library, ParsedBefore
    from proclang.text.diagnostic import Diagnostic
    from proclang.text.span import Source

CLEAN, FINDINGS = 0, 1
SUFFIX = ".proc"
STDIN = "-"

EXAMPLES = """\
examples
  proclang check level_base.proc       one procedure, and all it performs
  proclang check procedures            every .proc file below a folder
  proclang check --format json procedures > findings.json
  proclang check - --stdin-filename procedures/level_base.proc < draft
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument(
        "paths", metavar="PATH", nargs="+", help="files, folders (every .proc below), or - for standard input"
    )
    parser.add_argument("--format", choices=("text", "json"), default="text", help="text (default) or json")
    parser.add_argument(
        "--stdin-filename", metavar="FILE", help="what standard input is called, and where the files it names are"
    )


def run(arguments: argparse.Namespace) -> int:
    """Exit codes: 0 nothing found, 1 findings, 2 an unusable call or a file that cannot be read."""
    from proclang.text.diagnostic import Severity, in_order
    from proclang.text.render import render_json, render_text

    paths = _paths(arguments.paths)
    if paths is None:
        return UNUSABLE
    findings: list[Diagnostic] = []
    sources: dict[str, Source] = {}
    before: ParsedBefore = {}
    unread = False
    for path in paths:
        checked = _check_stdin(arguments.stdin_filename) if path == STDIN else _check_file(path, before)
        if checked is None:
            unread = True
            continue
        findings.extend(checked.findings)
        sources.update(checked.files.sources)
    told = in_order(findings)
    render = render_json if arguments.format == "json" else render_text
    print(render(told, sources), end="")
    files = _count(len(sources), "file")
    errors = sum(1 for finding in told if finding.severity is Severity.ERROR)
    counts = [_count(number, what) for number, what in ((errors, "error"), (len(told) - errors, "warning")) if number]
    if unread:
        return UNUSABLE
    say(f"{files}, {' and '.join(counts) or 'nothing found'}")
    return FINDINGS if told else CLEAN


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"


# ---------------------------------------------------------------------------- what is to be checked


def _paths(given: list[str]) -> list[str] | None:
    """Every file to be checked, each once, in the order given; None when the call is unusable, which has been said."""
    paths: dict[str, None] = {}
    usable = True
    for path in given:
        if path == STDIN:
            paths.setdefault(path)
        elif os.path.isdir(path):
            below = list(_below(path))
            if not below:
                say(f"proclang check: there is no {SUFFIX} file in `{path}`")
                usable = False
            paths.update(dict.fromkeys(below))
        elif not os.path.lexists(path):
            say(f"proclang check: there is no file or folder `{path}`", *_near(path))
            usable = False
        elif not path.endswith(SUFFIX):
            say(f"proclang check: the name of `{path}` does not end in {SUFFIX}")
            usable = False
        else:
            paths.setdefault(path)
    return list(paths) if usable else None


def _below(folder: str) -> Iterator[str]:
    """The files of a folder and of those below it, sorted; hidden ones are left out and links are not followed."""
    try:
        with os.scandir(folder) as entries:
            found = sorted((e for e in entries if not e.name.startswith(".")), key=lambda e: e.name)
    except OSError as error:
        say(f"proclang check: `{folder}` is left out: {error.strerror}")
        return
    inside = "" if folder in (".", "./") else folder
    for entry in found:
        if entry.is_dir(follow_symlinks=False):
            yield from _below(os.path.join(inside, entry.name))
        elif entry.name.endswith(SUFFIX) and entry.is_file(follow_symlinks=False):
            yield os.path.join(inside, entry.name)


def _near(path: str) -> tuple[str, ...]:
    """What was perhaps meant by a path that is not there."""
    from proclang.text.suggest import did_you_mean

    folder, name = os.path.split(path)
    try:
        names = os.listdir(folder or ".")[:1_000]
    except OSError:
        return ()
    hint = did_you_mean(name, [x for x in names if x.endswith(SUFFIX)])
    return (f"  {hint}",) if hint else ()


# ---------------------------------------------------------------------------- checking


def _check_file(path: str, before: ParsedBefore) -> Checked | None:
    from proclang.check.check import check_files
    from proclang.program.library import Disk, read_regular

    data = read_regular(path, follow=True)
    if isinstance(data, OSError):
        say(f"proclang check: `{path}` cannot be read: {data.strerror or data}")
        return None
    folder, name = os.path.split(path)
    return check_files(name.removesuffix(SUFFIX), data, Disk(folder), before)


def _check_stdin(called: str | None) -> Checked | None:
    from proclang.check.check import check_files
    from proclang.program.library import Disk, Draft
    from proclang.text.limits import FILE_BYTES

    if sys.stdin is None:
        say("proclang check: standard input is closed")
        return None
    data = sys.stdin.buffer.read(FILE_BYTES + 1)
    folder, name = os.path.split(called or "")
    entry = name.removesuffix(SUFFIX) if called else own_name(data)
    library: Library = Draft(entry, called or "<stdin>", Disk(folder))
    return check_files(entry, data, library)


def own_name(data: bytes) -> str:
    """What a file says it is called, so that one without a file name is not told that it has another."""
    import re

    said = re.search(rb"^(?:procedure|machine) +([A-Za-z_][A-Za-z0-9_]{0,63})\b", data[:100_000], re.MULTILINE)
    return said[1].decode() if said is not None else "stdin"
