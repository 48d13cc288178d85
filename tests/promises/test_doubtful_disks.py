"""Promise D10, its last part: where a lock may not hold, it is said, once a sitting, and the run goes on."""

from __future__ import annotations

import contextlib
import io
from pathlib import Path

import pytest
from drive_help import ordinary, resume_arguments, run_arguments, typed_day

from proclang.cli.main import main
from proclang.session import lock

MOUNTS = """\
22 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw
30 22 0:25 / /tmp rw - tmpfs tmpfs rw,size=8g
41 22 0:40 / /home rw,relatime shared:2 - nfs4 server:/home rw,vers=4.2
42 41 8:17 / /home/field\\040kit rw - ext4 /dev/sdb1 rw
43 22 0:50 / /media/stick rw - vfat /dev/sdc1 rw
44 43 0:51 / /media/stick rw - cifs //host/share rw
45 22 0:52 / /odd rw - starfs none rw
nonsense
46 22 0:53 / /cut
"""
"""In the form of proc(5); the machine is invented."""


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/", "ext4"),
        ("/runs/ridge", "ext4"),
        ("/tmp", "tmpfs"),
        ("/tmpx/run", "ext4"),
        ("/home/quill/run", "nfs4"),
        ("/home/field kit/run", "ext4"),
        ("/home/field", "nfs4"),
        ("/media/stick/run", "cifs"),
        ("/odd/run", "starfs"),
        ("/cut/run", "ext4"),
    ],
)
def test_the_disk_of_a_folder_is_the_one_mounted_nearest_above_it(path: str, kind: str) -> None:
    assert lock.kind_among(path, MOUNTS) == kind


@pytest.mark.parametrize("mounts", ["", "\n", " - \n", "1 2 3 4 / -", "\x00\ud800 - x y\n", "a b c d e - \n"])
def test_a_table_that_says_nothing_gives_no_kind(mounts: str) -> None:
    assert lock.kind_among("/x", mounts) == ""
    assert lock.doubt("") == ()


@pytest.mark.parametrize("kind", ["ext4", "xfs", "btrfs", "zfs", "tmpfs", "overlay", "vfat", "exfat", "ntfs3", "apfs"])
def test_nothing_is_said_of_disks_that_are_known(kind: str) -> None:
    assert lock.doubt(kind) == ()


@pytest.mark.parametrize("kind", ["nfs", "nfs4", "cifs", "smb3", "9p", "virtiofs", "fuse.sshfs", "starfs", "\x1b[2Jfs"])
def test_it_is_said_once_a_sitting_and_the_run_goes_on(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lock, "disk_kind", lambda path: kind)
    for arguments, replies in (
        (run_arguments(tmp_path / "run"), ordinary()[:2]),
        (resume_arguments(tmp_path / "run"), ordinary()[2:3]),
    ):
        said = io.StringIO()
        monkeypatch.setattr("sys.stdin", io.StringIO(typed_day(replies)))
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(said):
            assert main(arguments) == 1
        told = said.getvalue()
        assert told.count("a second computer might not be kept out") == 1
        assert ("network disk" in told) == (kind not in ("starfs", "\x1b[2Jfs"))
        assert "\x1b" not in told
        assert "entries" in told


def test_the_disk_of_this_machine_is_looked_up_and_raises_nothing(tmp_path: Path) -> None:
    assert isinstance(lock.disk_kind(tmp_path), str)
    assert isinstance(lock.disk_kind(Path("/nowhere/at/all")), str)
