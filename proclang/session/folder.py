"""The folder of one run: `journal.jsonl`, the sources it ran from in `sources/`, and `log.md`.

Nothing in it is ever replaced but the log, which can be made again from the rest.
"""

from __future__ import annotations

import errno
import re
from pathlib import Path

import attrs

from proclang.session.files import Files, StorageError, read_file, storage_error, write_new
from proclang.text.diagnostic import Problem
from proclang.text.limits import FILE_BYTES
from proclang.text.printable import printable

JOURNAL_NAME = "journal.jsonl"
SOURCES_NAME = "sources"
LOG_NAME = "log.md"

_FLAT_NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]{0,199}")
_DIGEST = re.compile(r"[0-9a-f]{64}")
_DIGEST_SHOWN = 12


def digest_of(data: bytes) -> str:
    """SHA-256 (FIPS 180-4) of a file's bytes, as 64 hexadecimal digits."""
    from hashlib import sha256

    return sha256(data).hexdigest()


def is_flat_name(name: str) -> bool:
    """Whether a name may stand in `sources/`: at most 200 of `A-Z a-z 0-9 _ . -`, beginning with none of `.` `-`."""
    return _FLAT_NAME.fullmatch(name) is not None


@attrs.frozen
class RunFolder:
    """Where one run is kept. Making one of these touches nothing; `create` makes the folder itself."""

    path: Path
    files: Files = attrs.field(factory=Files, repr=False, eq=False)

    @property
    def journal(self) -> Path:
        """The journal's file."""
        return self.path / JOURNAL_NAME

    @property
    def sources(self) -> Path:
        """The folder of the files the run was started from and amended with."""
        return self.path / SOURCES_NAME

    @property
    def log(self) -> Path:
        """The finished log's file."""
        return self.path / LOG_NAME

    @classmethod
    def create(cls, path: Path, files: Files | None = None) -> RunFolder:
        """Make the folder, its owner's alone, and put its name on the disk. An empty folder is taken over.

        Raises `StorageError`; a folder with anything in it is refused.
        """
        made = cls(path, files if files is not None else Files())
        made._make()
        return made

    def _make(self) -> None:
        files = self.files
        doing = "making the run folder"
        try:
            try:
                files.make_folder(self.path)
            except FileExistsError:
                if not files.status_of(self.path).folder:
                    raise OSError(errno.ENOTDIR, "not a folder") from None
                if files.list_folder(self.path):
                    words = "there is something in it already"
                    cure = "Name a new or an empty folder, or resume the run that is in this one"
                    raise StorageError(doing, self.path, errno.EEXIST, words, cure) from None
                files.make_private(self.path)
            files.fsync_folder(self.path.parent)
            files.make_folder(self.sources)
            files.fsync_folder(self.path)
        except OSError as error:
            raise storage_error(error, doing, self.path) from error

    def store_source(self, name: str, data: bytes) -> str:
        """Keep the bytes of a file the run uses; returns their digest, by which they are found again.

        A second content under one name, as an amendment brings, is kept beside the first. Raises `ValueError` for a
        name that is not flat, `StorageError`.
        """
        if not is_flat_name(name):
            raise ValueError(f"not a flat file name: {name!r}")
        digest = digest_of(data)
        doing = f"keeping a copy of {name}"
        if len(data) > FILE_BYTES:
            words = f"it is longer than {FILE_BYTES} bytes"
            raise StorageError(doing, self.sources / name, errno.EFBIG, words, "Shorten the file, or split it")
        for path in self._places(name, digest):
            kept = self._bytes_at(path, doing)
            if kept is None:
                write_new(self.files, path, data, doing=doing)
                return digest
            if kept == data:
                return digest
        words = "another file stands in its place"
        raise StorageError(doing, self.sources / name, errno.EEXIST, words, "Give the file another name")

    def read_source(self, name: str, expected_digest: str) -> bytes | Problem:
        """The bytes kept under a name and a digest, or why they are not to be had. Raises `StorageError`."""
        if not is_flat_name(name) or not _DIGEST.fullmatch(str(expected_digest)):  # a journal may say anything
            return Problem("source-name", f"`{printable(name)[:64]}` cannot be the name of a kept file")
        seen: list[bytes] = []
        for path in self._places(name, expected_digest):
            data = self._bytes_at(path, f"reading the kept {name}")
            if data is not None and digest_of(data) == expected_digest:
                return data
            seen += [data] if data is not None else []
        if not seen:
            return Problem("source-missing", f"{SOURCES_NAME}/{name} is missing", hint="restore it from a copy")
        if any(digest_of(data.replace(b"\r\n", b"\n")) == expected_digest for data in seen):
            words = f"the line ends of {SOURCES_NAME}/{name} were changed to CR LF"
            cure = f"restore it, and set `{SOURCES_NAME}/** -text` in .gitattributes"
            return Problem("source-changed", words, hint=cure)
        words = f"{SOURCES_NAME}/{name} is not the file the run was made with"
        return Problem("source-changed", words, hint="restore it from a copy; a kept file must never be edited")

    def has(self, path: Path) -> bool:
        """Whether something stands under a name in the folder. Raises `StorageError` when that cannot be told."""
        try:
            return self.files.exists(path)
        except OSError as error:
            raise storage_error(error, f"looking for {printable(path.name)}", path) from error

    def names(self) -> list[str]:
        """The names in the folder, sorted. Raises `StorageError`."""
        try:
            return self.files.list_folder(self.path)
        except OSError as error:
            raise storage_error(error, "looking into the run folder", self.path) from error

    def write_log(self, text: str) -> None:
        """Put the log in its place, whole or not at all. Raises `StorageError`."""
        write_new(self.files, self.log, text.encode("utf-8", "backslashreplace"), doing="writing the log")

    def _places(self, name: str, digest: str) -> tuple[Path, Path]:
        return self.sources / name, self.sources / f"{name}.{digest[:_DIGEST_SHOWN]}"

    def _bytes_at(self, path: Path, doing: str) -> bytes | None:
        if not self.has(path):
            return None
        return read_file(self.files, path, FILE_BYTES, doing=doing)
