"""Files from a folder: regular ones only, of bounded length, no link followed, nothing waited for."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from proclang.program.library import Disk, Draft, read_regular
from proclang.text.limits import FILE_BYTES


def test_a_file_is_read_by_its_name(tmp_path: Path) -> None:
    """And shown by the path it was given with."""
    (tmp_path / "drum.proc").write_bytes(b"proclang 1\n")
    disk = Disk(str(tmp_path))
    assert disk.read("drum") == b"proclang 1\n"
    assert disk.shown("drum") == os.path.join(str(tmp_path), "drum.proc")
    assert Disk().shown("drum") == "drum.proc"


def test_what_is_not_there_is_none(tmp_path: Path) -> None:
    """A missing file, a missing folder, a folder in the place of a file."""
    (tmp_path / "folder.proc").mkdir()
    assert Disk(str(tmp_path)).read("drum") is None
    assert Disk(str(tmp_path)).read("folder") is None
    assert Disk(str(tmp_path / "none")).read("drum") is None
    assert Disk(str(tmp_path / "none")).names() == ()


def test_a_named_pipe_is_no_file_and_nothing_waits_for_it(tmp_path: Path) -> None:
    """Opening one for reading would wait for a writer."""
    os.mkfifo(tmp_path / "pipe.proc")
    assert Disk(str(tmp_path)).read("pipe") is None
    refused = read_regular(str(tmp_path / "pipe.proc"), follow=True)
    assert isinstance(refused, OSError)


def test_a_link_is_not_followed_unless_it_was_named_itself(tmp_path: Path) -> None:
    """A procedure cannot reach outside its folder; who types the path of a link means what it leads to."""
    outside = tmp_path / "outside.proc"
    outside.write_bytes(b"proclang 1\n")
    inside = tmp_path / "inside"
    inside.mkdir()
    (inside / "drum.proc").symlink_to(outside)
    (inside / "null.proc").symlink_to("/dev/zero")
    assert Disk(str(inside)).read("drum") is None
    assert read_regular(str(inside / "drum.proc"), follow=True) == b"proclang 1\n"
    assert isinstance(read_regular(str(inside / "null.proc"), follow=True), OSError)


def test_of_a_long_file_one_byte_too_many_is_read(tmp_path: Path) -> None:
    """Enough to say that it is too long, whatever its length."""
    path = tmp_path / "long.proc"
    with path.open("wb") as handle:
        handle.truncate(FILE_BYTES * 3)
    data = Disk(str(tmp_path)).read("long")
    assert data is not None
    assert len(data) == FILE_BYTES + 1


def test_an_odd_path_is_refused_and_raises_nothing() -> None:
    """A null character in it, or far too long."""
    assert isinstance(read_regular("a\0b"), OSError)
    assert isinstance(read_regular("a" * 10_000), OSError)


def test_the_names_are_those_of_procedure_files(tmp_path: Path) -> None:
    """To suggest from."""
    for name in ("b.proc", "a.proc", "notes.md", ".hidden"):
        (tmp_path / name).touch()
    assert Disk(str(tmp_path)).names() == ("a", "b")


def test_a_draft_is_shown_by_its_own_name(tmp_path: Path) -> None:
    """What it names is looked for in the folder."""
    (tmp_path / "drum.proc").write_bytes(b"proclang 1\n")
    draft = Draft("trial", "<stdin>", Disk(str(tmp_path)))
    assert draft.shown("trial") == "<stdin>"
    assert draft.shown("drum").endswith("drum.proc")
    assert draft.read("drum") == b"proclang 1\n"
    assert draft.names() == ("drum",)


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_a_file_that_may_not_be_read_is_none(tmp_path: Path) -> None:
    """As if it were not there."""
    path = tmp_path / "drum.proc"
    path.write_bytes(b"proclang 1\n")
    path.chmod(0)
    assert Disk(str(tmp_path)).read("drum") is None
