"""Promise H14: a run is its owner's alone whatever the umask, and says what is in the way where it cannot be."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

import pytest
from drive_help import at_once, ordinary, resume_arguments, run_arguments, typed_day
from faulty_files import ROOT, Disk, FaultyFiles

from proclang.session.clock import SteppedClock
from proclang.session.files import Files, StorageError, write_new
from proclang.session.folder import RunFolder
from proclang.session.journal import JournalWriter
from proclang.session.run import open_run, resume


def modes(folder: Path) -> set[tuple[bool, int]]:
    """Of everything below a folder and of itself: whether it is a folder, and its permissions."""
    return {(p.is_dir(), stat.S_IMODE(p.lstat().st_mode)) for p in (folder, *folder.rglob("*"))}


@pytest.mark.parametrize("mask", [0o000, 0o022, 0o077, 0o777])
def test_a_whole_day_leaves_nothing_that_others_may_read(tmp_path: Path, mask: int) -> None:
    folder = tmp_path / "run"
    before = os.umask(mask)
    try:
        at_once(*run_arguments(folder), typed=typed_day(ordinary()[:9]))
        with (folder / "journal.jsonl").open("ab") as journal:
            journal.write(b'{"n":')
        at_once(*resume_arguments(folder), typed=typed_day(ordinary()[9:]))
    finally:
        os.umask(before)
    names = {p.name for p in folder.iterdir()}
    assert names == {".gitattributes", "journal.jsonl", "journal.torn-1", "log.md", "run.json", "sources"}
    assert modes(folder) == {(True, 0o700), (False, 0o600)}


class Refusing(FaultyFiles):
    """A disk on which some calls are not permitted, as somebody else's folder is; the superuser of a test may do all,
    so the answer of the system is given here."""

    def __init__(self, disk: Disk, *kinds: str, number: int = errno.EPERM) -> None:
        super().__init__(disk)
        self.kinds, self.number = kinds, number

    def _step(self, kind: str, path: Path) -> None:
        super()._step(kind, path)
        if kind in self.kinds:
            raise OSError(self.number, os.strerror(self.number))


@pytest.mark.parametrize(
    ("kind", "number", "words"),
    [
        ("make_private", errno.EPERM, "you have no permission for this"),
        ("make_folder", errno.EACCES, "you have no permission for this"),
        ("make_folder", errno.EROFS, "the disk can only be read"),
        ("open_new", errno.EACCES, "See who owns /disk/run"),
        ("open_append", errno.EACCES, "See who owns /disk/run"),
    ],
)
def test_a_folder_of_somebody_else_or_one_that_can_only_be_read_is_told(kind: str, number: int, words: str) -> None:
    files = Refusing(Disk.of({str(ROOT / "run"): None} if kind == "make_private" else {}), kind, number=number)

    def begin() -> None:
        folder = RunFolder.create(ROOT / "run", files)
        folder.store_source("demo.proc", b"proclang 1\n")
        JournalWriter.create(files, folder.journal, "demo-run-1")

    with pytest.raises(StorageError, match=words):
        begin()


def test_a_run_that_may_not_be_looked_at_is_not_called_missing() -> None:
    """Found here: somebody else's run was said not to be there."""
    for call in (resume, open_run):
        files = Refusing(Disk.of({str(ROOT / "run"): None}), "exists", "open_read", number=errno.EACCES)
        with pytest.raises(StorageError, match="you have no permission for this"):
            call(ROOT / "run", SteppedClock(), files) if call is resume else call(ROOT / "run", files)


def test_whether_a_name_is_there_is_no_guess(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    files = Files()
    assert files.exists(tmp_path / "file")
    assert not files.exists(tmp_path / "none" / "deeper")
    assert not files.exists(tmp_path / "file" / "below")
    assert not files.exists(tmp_path / "a\0b")
    with pytest.raises(OSError, match="too long"):
        files.exists(tmp_path / ("x" * 300))


@pytest.fixture
def shared(tmp_path: Path) -> Path:
    """A folder like the system's temporary one: everybody may write, nobody may remove what is another's."""
    folder = tmp_path / "shared"
    folder.mkdir()
    folder.chmod(0o1777)
    return folder


def test_names_planted_in_a_shared_folder_are_never_written_through(shared: Path, tmp_path: Path) -> None:
    """New files are made with O_EXCL and O_NOFOLLOW: a link under the name that comes next is stepped over."""
    victim = tmp_path / "victim"
    victim.write_bytes(b"mine")
    for number in range(1, 6):
        (shared / f".out.md.new-{number}").symlink_to(victim)
    write_new(Files(), shared / "out.md", b"new")
    assert victim.read_bytes() == b"mine"
    assert (shared / "out.md").read_bytes() == b"new"
    assert not (shared / "out.md").is_symlink()
    assert stat.S_IMODE((shared / "out.md").stat().st_mode) == 0o600


def test_a_run_folder_planted_as_a_link_is_refused(shared: Path, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (shared / "run").symlink_to(tmp_path / "elsewhere")
    assert at_once(*run_arguments(shared / "run"), typed="Ada Quill\n") == 2
    assert list((tmp_path / "elsewhere").iterdir()) == []
    assert at_once(*run_arguments(shared / "mine"), typed="Ada Quill\n") == 1
    assert modes(shared / "mine") == {(True, 0o700), (False, 0o600)}


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_without_permission_to_write_is_told(tmp_path: Path) -> None:
    (tmp_path / "locked").mkdir(0o500)
    assert at_once(*run_arguments(tmp_path / "locked" / "run")) == 2
