"""The run folder: private whatever the umask, sources kept by their digest, the log whole or not at all."""

from __future__ import annotations

import hashlib
import os
import stat
from pathlib import Path

import pytest
from faulty_files import ROOT, Disk, FaultyFiles
from journal_samples import RUN, entry

from proclang.session.files import Files, StorageError, read_file, write_new
from proclang.session.folder import RunFolder, digest_of, is_flat_name
from proclang.session.journal import JournalWriter
from proclang.text.diagnostic import Problem
from proclang.text.limits import FILE_BYTES


@pytest.mark.parametrize("mask", [0o000, 0o022, 0o077, 0o777])
def test_folders_are_0700_and_files_0600_whatever_the_umask(tmp_path: Path, mask: int):
    before = os.umask(mask)
    try:
        folder = RunFolder.create(tmp_path / "run")
        folder.store_source("demo.proc", b"proclang 1\n")
        folder.write_log("# Log\n")
        writer = JournalWriter.create(folder.files, folder.journal, RUN)
        assert isinstance(writer, JournalWriter)
        writer.append(entry(1))
        writer.close()
        with folder.journal.open("ab") as torn:
            torn.write(b"{")
        writer = JournalWriter.open(folder.files, folder.journal)
        assert isinstance(writer, JournalWriter)
    finally:
        os.umask(before)
    modes = {
        str(path.relative_to(tmp_path)): stat.S_IMODE(path.lstat().st_mode) for path in sorted(tmp_path.rglob("*"))
    }
    assert modes == {
        "run": 0o700,
        "run/holder.json": 0o600,
        "run/journal.jsonl": 0o600,
        "run/journal.torn-1": 0o600,
        "run/log.md": 0o600,
        "run/sources": 0o700,
        "run/sources/demo.proc": 0o600,
    }
    writer.close()


def test_an_empty_folder_is_taken_over_and_any_other_thing_is_refused(tmp_path: Path):
    empty = tmp_path / "empty"
    empty.mkdir(0o755)
    RunFolder.create(empty)
    assert stat.S_IMODE(empty.stat().st_mode) == 0o700
    with pytest.raises(StorageError, match="something in it already"):
        RunFolder.create(empty)
    file = tmp_path / "file"
    file.write_text("x")
    (tmp_path / "real").mkdir()
    link = tmp_path / "link"
    link.symlink_to(tmp_path / "real")
    for odd in (file, link):
        with pytest.raises(StorageError, match="is a file where a folder is needed"):
            RunFolder.create(odd)
    with pytest.raises(StorageError, match="no such file or folder"):
        RunFolder.create(tmp_path / "none" / "run")
    with pytest.raises(StorageError, match="name is too long"):
        RunFolder.create(tmp_path / ("x" * 300))


def test_the_digest_is_the_published_one():
    """FIPS 180-4, the standard's own example "abc" (value from memory), and hashlib for other bytes."""
    assert digest_of(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert digest_of("±\n".encode()) == hashlib.sha256("±\n".encode()).hexdigest()


def test_a_source_is_found_by_its_digest_and_a_second_content_never_replaces_the_first(tmp_path: Path):
    folder = RunFolder.create(tmp_path / "run")
    first = folder.store_source("demo.proc", b"revision 1\n")
    assert folder.store_source("demo.proc", b"revision 1\n") == first
    second = folder.store_source("demo.proc", b"revision 2\n")
    assert folder.store_source("demo.proc", b"revision 2\n") == second
    assert folder.read_source("demo.proc", first) == b"revision 1\n"
    assert folder.read_source("demo.proc", second) == b"revision 2\n"
    assert sorted(os.listdir(folder.sources)) == ["demo.proc", f"demo.proc.{second[:12]}"]
    (folder.sources / f"demo.proc.{second[:12]}").write_bytes(b"something else")
    with pytest.raises(StorageError, match="another file stands in its place"):
        folder.store_source("demo.proc", b"revision 2\n")


def test_a_changed_or_missing_source_is_a_problem_that_says_so(tmp_path: Path):
    folder = RunFolder.create(tmp_path / "run")
    digest = folder.store_source("demo.proc", b"revision 1\n")
    (folder.sources / "demo.proc").write_bytes(b"revision 1 \n")
    changed = folder.read_source("demo.proc", digest)
    assert isinstance(changed, Problem)
    assert changed.code == "source-changed"
    (folder.sources / "demo.proc").unlink()
    missing = folder.read_source("demo.proc", digest)
    assert isinstance(missing, Problem)
    assert missing.code == "source-missing"
    (folder.sources / "demo.proc").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(StorageError, match="links are not followed"):
        folder.read_source("demo.proc", digest)


@pytest.mark.parametrize(
    "name",
    [
        "",
        ".",
        "..",
        ".hidden",
        "-rf",
        "a/b",
        "../up",
        "/etc",
        "~",
        "a b",
        "a\n",
        "a\0",
        "é",
        "а",
        "C:x",
        "a\\b",
        "x" * 201,
        "%2e%2e",
    ],
)
def test_a_name_that_is_not_flat_is_never_used(tmp_path: Path, name: str):
    assert not is_flat_name(name)
    folder = RunFolder(tmp_path / "run")
    with pytest.raises(ValueError, match="not a flat file name"):
        folder.store_source(name, b"")
    assert isinstance(folder.read_source(name, "0" * 64), Problem)
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("digest", ["", "0" * 63, "G" * 64, "../../../x", "0" * 64 + "\n"])
def test_what_is_not_a_digest_is_a_problem(tmp_path: Path, digest: str):
    folder = RunFolder.create(tmp_path / "run")
    folder.store_source("demo.proc", b"")
    assert isinstance(folder.read_source("demo.proc", digest), Problem)


def test_a_source_too_long_to_be_read_back_is_not_kept(tmp_path: Path):
    folder = RunFolder.create(tmp_path / "run")
    longest = bytes(FILE_BYTES)
    assert folder.read_source("demo.proc", folder.store_source("demo.proc", longest)) == longest
    with pytest.raises(StorageError, match="longer than"):
        folder.store_source("more.proc", longest + b"x")
    assert os.listdir(folder.sources) == ["demo.proc"]
    (folder.sources / "demo.proc").write_bytes(longest + b"x")
    with pytest.raises(StorageError, match="larger than is allowed"):
        folder.read_source("demo.proc", "0" * 64)


def test_the_log_replaces_the_last_one_and_never_goes_through_a_link(tmp_path: Path):
    folder = RunFolder.create(tmp_path / "run")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.write_text("mine")
    folder.log.symlink_to(elsewhere)
    folder.write_log("# Log ± \ud800\n")
    assert folder.log.read_bytes() == "# Log ± \\ud800\n".encode()
    assert not folder.log.is_symlink()
    assert elsewhere.read_text() == "mine"
    folder.write_log("# Second\n")
    assert folder.log.read_text() == "# Second\n"
    assert sorted(os.listdir(folder.path)) == ["log.md", "sources"]


def test_a_name_left_by_a_crash_is_stepped_over_and_a_failed_write_cleans_up(tmp_path: Path):
    left = tmp_path / ".out.md.new-1"
    left.write_text("left by a crash")
    write_new(Files(), tmp_path / "out.md", b"new")
    assert read_file(Files(), tmp_path / "out.md", 10) == b"new"
    assert left.read_text() == "left by a crash"
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / "full").write_text("x")
    with pytest.raises(StorageError, match="writing folder failed on"):
        write_new(Files(), tmp_path / "folder", b"new")
    assert sorted(os.listdir(tmp_path)) == [".out.md.new-1", "folder", "out.md"]


def test_a_storage_error_shows_a_hostile_path_as_text():
    files = FaultyFiles(Disk())
    with pytest.raises(StorageError) as caught:
        RunFolder.create(ROOT / "\x1b[2Jnone" / "run", files)
    assert "\x1b" not in str(caught.value)
    assert "\\u{1b}[2Jnone" in str(caught.value)
