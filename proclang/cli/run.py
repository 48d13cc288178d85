"""`proclang run`: begin a run and go through it."""

from __future__ import annotations

import argparse
import contextlib
import os
import re
from itertools import chain, count
from pathlib import Path
from typing import TYPE_CHECKING

from proclang.cli import sitting, streams

if TYPE_CHECKING:
    from proclang.program.load import FileSet
    from proclang.program.model import Program
    from proclang.session.run import Run
    from proclang.session.site import Site

TABLES = ("run", "look")

EXAMPLES = f"""\
examples
  proclang run level_base.proc --site ridge.toml --into runs/ridge
  proclang run level_base.proc --site ridge.toml --into runs/trial --replies ridge.replies
  proclang run level_base.proc --site ridge.toml --into runs/drill --practice

{sitting.EXIT_CODES}"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("procedure", metavar="PROCEDURE", help="the procedure file, NAME.proc")
    parser.add_argument("--site", metavar="SITE", required=True, help="the site file, TOML")
    parser.add_argument(
        "--into", metavar="DIR", help="the folder to keep the run in: new, or empty (usually: one in `run.folder`)"
    )
    parser.add_argument(
        "--practice", action="store_true",
        help="practise: nothing is done; the run is marked so at every question and in its log",
    )  # fmt: skip
    sitting.add_terminal_arguments(parser)


def beside(arguments: argparse.Namespace) -> str:
    """The folder of the procedure, for its settings."""
    return os.path.dirname(arguments.procedure or "")


def run(arguments: argparse.Namespace) -> int:
    """Check, begin, go through. Exit codes as in `sitting`."""
    from proclang.session.files import StorageError
    from proclang.session.run import Run, start

    if arguments.into is None and not arguments.runs_folder:
        sitting.say(
            "proclang run: where is the run to be kept?", "  --into DIR says it, or `run.folder` in the settings"
        )
        return sitting.UNUSABLE
    script = sitting.read_replies(arguments)
    if isinstance(script, int):
        return script
    driver = sitting.make_driver(arguments, script)
    if driver is None:
        return sitting.UNUSABLE
    try:
        with streams.Working("checking the procedure"):
            found = read_checked("run", arguments.procedure, arguments.site)
        if isinstance(found, int):
            return found
        if sitting.nobody_answers(script):
            return sitting.UNUSABLE
        fileset, program, site, site_data = found
        into = Path(arguments.into) if arguments.into is not None else _new_folder(arguments, site)
        make_parents(into)
        exercise = "practice" if arguments.practice else ""
        begun = start(into, fileset, program, site_data, site, sitting.make_clock(arguments), exercise=exercise)
    except StorageError as error:
        sitting.say(f"proclang: {error}")
        return sitting.UNUSABLE
    if not isinstance(begun, Run):
        sitting.say_findings(begun, site.source)
        return sitting.UNFINISHED
    _tell_git(begun)
    if arguments.into is None:
        sitting.say(f"The run is kept in {into}")
    return sitting.sit(begun, driver, script, resumed=False)


def read_checked(command: str, path: str, site_path: str) -> tuple[FileSet, Program, Site, bytes] | int:
    """The procedure and the site, checked; or an exit code when something is wrong with them, which has been said."""
    from proclang.check.check import check_files
    from proclang.program.library import Disk
    from proclang.program.load import SUFFIX
    from proclang.session.site import Site, read_site
    from proclang.text.decode import decode
    from proclang.text.diagnostic import Severity

    folder, name = os.path.split(path)
    if not name.endswith(SUFFIX):
        sitting.say(f"proclang {command}: `{path}` is no procedure: its name does not end in `{SUFFIX}`")
        return sitting.UNUSABLE
    data, site_data = sitting.read_named(path, SUFFIX), sitting.read_named(site_path, ".toml")
    if data is None or site_data is None:
        return sitting.UNUSABLE
    checked = check_files(name.removesuffix(SUFFIX), data, Disk(folder))
    site = read_site(site_data, site_path)
    findings = (*checked.findings, *(site if isinstance(site, tuple) else ()))
    if findings:
        sitting.say_findings(findings, *checked.files.sources.values(), decode(site_data, site_path).source)
    if not isinstance(site, Site) or any(f.severity is Severity.ERROR for f in findings):
        return sitting.UNFINISHED
    program = checked.built.program
    if program is None:
        sitting.say(f"proclang {command}: `{path}` is a machine file", "  give the procedure that is to be run")
        return sitting.UNUSABLE
    return checked.files, program, site, site_data


def _new_folder(arguments: argparse.Namespace, site: Site) -> Path:
    """A folder that is not there yet in the one for runs, called by procedure, site and day."""
    day = sitting.make_clock(arguments).stamp()["date"]
    place = re.sub(r"[^A-Za-z0-9_-]", "_", site.name)
    called = os.path.join(arguments.runs_folder, f"{Path(arguments.procedure).stem}-{place}-{day}")
    numbered = (f"{called}-{n}" for n in count(2))
    return Path(next(path for path in chain((called,), numbered) if not os.path.lexists(path)))


GIT_ATTRIBUTES = """\
# Every byte of a run counts: git is to change no line end here, and to merge nothing.
* -text merge=binary
"""


def _tell_git(begun: Run) -> None:
    """Put a file into the folder that keeps git's hands off, wherever the folder is put under it.

    Nothing depends on it, so a disk that does not take it is not told of here; the next reply will find out.
    """
    from proclang.session.files import StorageError, write_new

    with contextlib.suppress(StorageError):
        write_new(begun.folder.files, begun.folder.path / ".gitattributes", GIT_ATTRIBUTES.encode())


def make_parents(folder: Path) -> None:
    """The folders above the run folder, each name on the disk. Raises `StorageError`."""
    from proclang.session.files import Files, storage_error

    files = Files()
    missing = [p for p in reversed(folder.absolute().parents) if not p.exists()]
    for parent in missing:
        try:
            parent.mkdir()
            files.fsync_folder(parent.parent)
        except FileExistsError:
            continue
        except OSError as error:
            raise storage_error(error, "making the folder above the run", parent) from error
