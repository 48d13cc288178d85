"""`proclang run`: begin a run and go through it."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from proclang.cli import sitting

if TYPE_CHECKING:
    from proclang.program.load import FileSet
    from proclang.program.model import Program
    from proclang.session.site import Site


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("procedure", metavar="PROCEDURE", help="the procedure file, NAME.proc")
    parser.add_argument("--site", metavar="SITE", required=True, help="the site file, TOML")
    parser.add_argument("--into", metavar="DIR", required=True, help="the folder to keep the run in: new, or empty")
    sitting.add_terminal_arguments(parser)


def run(arguments: argparse.Namespace) -> int:
    """Check, begin, go through. Exit codes as in `sitting`."""
    from proclang.session.files import StorageError
    from proclang.session.run import Run, start

    script = sitting.read_replies(arguments)
    if isinstance(script, int):
        return script
    driver = sitting.make_driver(arguments, script)
    if driver is None:
        return sitting.UNUSABLE
    into = Path(arguments.into)
    try:
        found = _read(arguments)
        if isinstance(found, int):
            return found
        fileset, program, site, site_data = found
        _make_parents(into)
        begun = start(into, fileset, program, site_data, site, sitting.make_clock(arguments))
    except StorageError as error:
        sitting.say(f"proclang: {error}")
        return sitting.UNUSABLE
    if not isinstance(begun, Run):
        sitting.say_findings(begun, site.source)
        return sitting.UNFINISHED
    return sitting.sit(begun, driver, script, resumed=False)


def _read(arguments: argparse.Namespace) -> tuple[FileSet, Program, Site, bytes] | int:
    """The procedure and the site, checked; or an exit code when something is wrong with them, which has been said."""
    from proclang.program.build import build
    from proclang.program.load import SUFFIX, load
    from proclang.session.files import Files, read_file
    from proclang.session.site import Site, read_site
    from proclang.text.decode import decode
    from proclang.text.limits import FILE_BYTES
    from proclang.text.printable import printable

    path, site_path = Path(arguments.procedure), Path(arguments.site)
    if path.suffix != SUFFIX:
        sitting.say(f"proclang: {printable(str(path))} is no procedure: its name does not end in `{SUFFIX}`")
        return sitting.UNUSABLE
    data = read_file(Files(), path, FILE_BYTES, doing="reading the procedure")
    site_data = read_file(Files(), site_path, FILE_BYTES, doing="reading the site file")
    fileset = load(path.stem, data, Folder(path.parent))
    built = build(fileset)
    site = read_site(site_data, str(site_path))
    findings = (*built.findings, *(site if isinstance(site, tuple) else ()))
    if findings or built.program is None:
        site_source = decode(site_data, str(site_path)).source
        sitting.say_findings(findings, *fileset.sources.values(), site_source)
        if not findings:
            sitting.say(f"proclang: {printable(str(path))} is a machine file; give the procedure to run")
            return sitting.UNUSABLE
        return sitting.UNFINISHED
    assert isinstance(site, Site)
    return fileset, built.program, site, site_data


class Folder:
    """The files beside a procedure."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def shown(self, name: str) -> str:
        """As the user would write it."""
        return str(self._path / f"{name}.proc")

    def read(self, name: str) -> bytes | None:
        """Its bytes, None when there is no such file."""
        from proclang.session.files import Files, StorageError, read_file
        from proclang.text.limits import FILE_BYTES

        try:
            return read_file(Files(), self._path / f"{name}.proc", FILE_BYTES)
        except StorageError:
            return None

    def names(self) -> tuple[str, ...]:
        """The names there are files for."""
        return tuple(sorted(p.stem for p in self._path.glob("*.proc")))


def _make_parents(folder: Path) -> None:
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
