"""The runs of a rehearsal as run folders, like those of any run, and marked for what they are."""

from __future__ import annotations

from pathlib import Path

from proclang.program.load import FileSet
from proclang.program.model import Program
from proclang.session.clock import SteppedClock
from proclang.session.exercise import REHEARSAL
from proclang.session.files import Files
from proclang.session.rehearsal import Course
from proclang.session.run import Run, start
from proclang.session.site import Site
from proclang.text.diagnostic import Diagnostic


class _Unhurried(Files):
    """A rehearsal can be made again at any time: nothing waits until the disk has it."""

    def fsync(self, descriptor: int) -> None:
        """Not waited for."""

    def fsync_folder(self, path: Path) -> None:
        """Not waited for."""


def keep(
    path: Path, course: Course, fileset: FileSet, program: Program, site_data: bytes, site: Site
) -> tuple[Diagnostic, ...]:
    """Write a rehearsed run into a new folder. Findings are about the site file. Raises `StorageError`."""
    run = start(path, fileset, program, site_data, site, SteppedClock(), _Unhurried(), REHEARSAL)
    if not isinstance(run, Run):
        return run
    try:
        for entry in course.entries[1:]:
            run.writer.append(entry.to_json())
    finally:
        run.close()
    return ()
