"""`proclang check`: every mistake of procedures and machine files, at its place, in one go."""

from __future__ import annotations

import argparse
import os
import sys
from typing import TYPE_CHECKING

from proclang.cli import streams
from proclang.cli.arguments import Unusable
from proclang.cli.check_paths import STDIN, SUFFIX, files_named, folder_above
from proclang.cli.main import UNUSABLE
from proclang.cli.settings import texts
from proclang.cli.streams import say

if TYPE_CHECKING:
    from proclang.check.allowances import Allowed
    from proclang.check.check import Checked
    from proclang.check.writing.rule import Wanted
    from proclang.cli.check_cache import Seen, Verdict
    from proclang.program.library import Disk
    from proclang.program.load import Library, ParsedBefore
    from proclang.text.diagnostic import Diagnostic
    from proclang.text.span import Source

CLEAN, FINDINGS = 0, 1

TABLES = ("check", "look")

WRITING = ("also", "longest_sentence", "vague", "fitting", "verbs", "abbreviations", "glossary")
"""Settings of the rules of writing."""

UNCOUNTED = ("sarif", "github")
"""Formats that have no place for how many findings there are of each code."""

EXAMPLES = """\
examples
  proclang check level_base.proc       one procedure, and all it performs
  proclang check procedures            every .proc file below a folder
  proclang check --format json procedures > findings.json
  proclang check --format sarif procedures > findings.sarif
  proclang check - --stdin-filename procedures/level_base.proc < draft
  proclang check --statistics --ignore unused-input,unused-value procedures
  proclang check --also writing procedures           every rule of writing, also those that nag

exit codes
  0 nothing found; 1 findings; 2 an unusable call, or a file that cannot be read
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument(
        "paths", metavar="PATH", nargs="*", help="files, folders (every .proc below), or - for standard input"
    )
    parser.add_argument(
        "--format",
        choices=("text", "json", "jsonl", "sarif", "github"),
        default="text",
        help="text (default), json, a JSON object a line, SARIF 2.1.0, or marks for a GitHub workflow",
    )
    parser.add_argument(
        "--stdin-filename", metavar="FILE", help="what standard input is called, and where the files it names are"
    )
    parser.add_argument("--select", metavar="CODE", action="append", help="tell only these findings: codes with commas")
    parser.add_argument(
        "--ignore", metavar="CODE", action="append", help="do not tell these findings: codes with commas"
    )
    parser.add_argument(
        "--also",
        metavar="CODE",
        action="append",
        help="rules of writing that are off by default: codes with commas, or `writing` for all of them",
    )
    parser.add_argument(
        "--exclude", metavar="PATTERN", action="append", help="leave out what is called so below a folder: `draft_*`"
    )
    parser.add_argument("--statistics", action="store_true", help="how many findings of each code, in place of them")
    parser.add_argument("--no-cache", action="store_true", help="neither take nor keep answers of earlier checks")
    parser.add_argument("--exit-zero", action="store_true", help="exit code 0 also when there are findings")


def beside(arguments: argparse.Namespace) -> str:
    """The folder that everything to be checked lies in, for its settings."""
    for name in ("select", "ignore", "also", "exclude"):
        given = getattr(arguments, name)
        setattr(arguments, name, texts(",".join(given)) if given is not None else None)
    return folder_above(arguments.stdin_filename or "" if path == STDIN else path for path in arguments.paths)


def run(arguments: argparse.Namespace) -> int:
    """Exit codes: 0 nothing found, 1 findings, 2 an unusable call or a file that cannot be read."""
    from proclang.cli import check_cache as cache

    try:
        if arguments.select or arguments.ignore:
            from proclang.cli.check_report import see_codes

            see_codes((*arguments.select, *arguments.ignore))
        if arguments.also:
            from proclang.cli.check_report import see_rules

            see_rules(arguments.also)
        if arguments.statistics and arguments.format in UNCOUNTED:
            raise Unusable(
                f"`--statistics` has no place in `--format {arguments.format}`", "text, json and jsonl have one"
            )
        if not arguments.paths:
            raise Unusable("what is to be checked? PATH is missing", "`proclang check --help` says how it is called")
    except Unusable as problem:
        say(f"proclang check: {problem}", *problem.hints)
        return UNUSABLE
    paths = files_named(arguments.paths, arguments.exclude)
    if paths is None:
        return UNUSABLE
    kept = not arguments.no_cache and STDIN not in paths
    key = cache.key_of(_question(arguments, paths)) if kept else None
    said = cache.recall(key, SUFFIX, os.environ) if key is not None else None
    if said is None:
        seen = cache.Seen()
        said = _answer(arguments, paths, seen)
        if key is not None and said.code != UNUSABLE:
            cache.keep(key, said, seen, os.environ)
    (streams.put if arguments.format == "text" else streams.put_data)(said.results)
    if said.summary:
        say(said.summary)
    return said.code


def _question(arguments: argparse.Namespace, paths: list[str]) -> dict[str, object]:
    """All of a call that its answer depends on, apart from the files."""
    names = ("select", "ignore", "format", "statistics", "exit_zero", *WRITING)
    told = {name: getattr(arguments, name) for name in names}
    return {**told, "paths": paths, "palette": streams.palette_of("stdout")}


def _answer(arguments: argparse.Namespace, paths: list[str], seen: Seen) -> Verdict:
    """Check every file. What the answer rests on goes to `seen`."""
    from proclang.cli import check_report as report
    from proclang.cli.check_cache import Verdict
    from proclang.text.diagnostic import in_order

    findings: list[Diagnostic] = []
    allowed: list[Allowed] = []
    writing = _wanted(arguments)
    sources: dict[str, Source] = {}
    before: ParsedBefore = {}
    unread = False
    with streams.Working(f"checking {len(paths):,} {'file' if len(paths) == 1 else 'files'}"):
        for path in paths:
            if path == STDIN:
                checked = _check_stdin(arguments.stdin_filename, writing)
            else:
                checked = _check_file(path, before, seen, writing)
            if checked is None:
                unread = True
                continue
            findings.extend(checked.findings)
            allowed.extend(checked.allowed)
            sources.update(checked.files.sources)
    found = in_order(findings)
    told = report.chosen(found, arguments.select, arguments.ignore)
    let_stand = report.each_once(allowed, arguments.select, arguments.ignore)
    palette = streams.palette_of("stdout")
    text = report.rendered(told, let_stand, sources, arguments.format, palette, counted=arguments.statistics)
    if unread:
        return Verdict(text, "", UNUSABLE)
    summary = report.summary(len(sources), told, len(found) - len(told), len(let_stand))
    return Verdict(text, summary, FINDINGS if told and not arguments.exit_zero else CLEAN)


def _wanted(arguments: argparse.Namespace) -> Wanted:
    """The rules of writing that are looked at, and what is set about them."""
    from proclang.check.writing.rule import Wanted

    pairs = (pair.partition(":") for pair in arguments.glossary)
    return Wanted(
        also=frozenset(arguments.also),
        longest_sentence=arguments.longest_sentence,
        vague=frozenset(word.lower() for word in arguments.vague),
        fitting=frozenset(word.lower() for word in arguments.fitting),
        verbs=frozenset(word.lower() for word in arguments.verbs),
        glossary=tuple((wrong.strip(), right.strip()) for wrong, _, right in pairs),
        abbreviations=frozenset(arguments.abbreviations),
    )


# ---------------------------------------------------------------------------- checking


class _Watched:
    """A library, and a note of all that was asked of it."""

    def __init__(self, disk: Disk, seen: Seen) -> None:
        self._disk = disk
        self._seen = seen

    def shown(self, name: str) -> str:
        return self._disk.shown(name)

    def read(self, name: str) -> bytes | None:
        data = self._disk.read(name)
        self._seen.file(self.shown(name), data)
        return data

    def names(self) -> tuple[str, ...]:
        names = self._disk.names()
        self._seen.folder(self._disk.folder, names)
        return names


def _check_file(path: str, before: ParsedBefore, seen: Seen, writing: Wanted) -> Checked | None:
    from proclang.check.check import check_files
    from proclang.program.library import Disk
    from proclang.text.regular import read_regular

    data = read_regular(path, follow=True)
    if isinstance(data, OSError):
        say(f"proclang check: `{path}` cannot be read: {data.strerror or data}")
        return None
    seen.file(path, data, follow=True)
    folder, name = os.path.split(path)
    return check_files(name.removesuffix(SUFFIX), data, _Watched(Disk(folder), seen), before, writing)


def _check_stdin(called: str | None, writing: Wanted) -> Checked | None:
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
    return check_files(entry, data, library, None, writing)


def own_name(data: bytes) -> str:
    """What a file says it is called, so that one without a file name is not told that it has another."""
    import re

    said = re.search(rb"^(?:procedure|machine) +([A-Za-z_][A-Za-z0-9_]{0,63})\b", data[:100_000], re.MULTILINE)
    return said[1].decode() if said is not None else "stdin"
