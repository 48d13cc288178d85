"""What `check` said before, kept for the same question about the same files. Quick to load: nothing of the language is.

An answer is kept under a digest of the call, of where it was made and of the program itself, down to when each of its
files was written. With it stands what the answer rests on: a digest of every file that was read, also of those that
were looked for and not there, and of the names in every folder that was looked through for a suggestion. It is given
again only when all of that is as it was, so it is never out of date.

The folder is `proclang` in XDG_CACHE_HOME (XDG base directory specification), by default `~/.cache`. It has to be ours
and closed to everybody else, and so has what is in it; without such a folder nothing is kept. What cannot be read, is
damaged or has another form is as good as not there, and so is what cannot be written. At most `MOST_KEPT` answers of at
most `LONGEST` bytes are kept; the oldest go first.
"""

from __future__ import annotations

import os
import stat

TYPE_CHECKING = False  # as `typing` has it, which takes longer to load than all that is here
if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

MOST_KEPT = 100
LONGEST = 1 << 18
_FORM = 1
_SUFFIX = ".json"


class Verdict:
    """What a call comes to: results for standard output, one line for people, and the exit code."""

    __slots__ = ("code", "results", "summary")

    def __init__(self, results: str, summary: str, code: int) -> None:
        self.results = results
        self.summary = summary
        self.code = code


class Seen:
    """What an answer rests on. `sure` is False where a file changed while it was read."""

    def __init__(self) -> None:
        self.files: dict[tuple[str, bool], str] = {}
        self.folders: dict[str, str] = {}
        self.sure = True

    def file(self, path: str, data: object, *, follow: bool = False) -> None:
        """A file that was looked for, and its bytes; anything else where it could not be read."""
        digest = _file_digest(data)
        if self.files.setdefault((path, follow), digest) != digest:
            self.sure = False

    def folder(self, path: str, names: tuple[str, ...]) -> None:
        """The names of the procedures in a folder."""
        digest = _digest(repr(names).encode("utf-8", "surrogatepass"))
        if self.folders.setdefault(path, digest) != digest:
            self.sure = False


def key_of(call: Mapping[str, object]) -> str | None:
    """What a call is kept under; None where its surroundings are not certain."""
    import json
    import sys

    try:
        place = os.getcwd()
        program = _program()
    except OSError:
        return None
    return _digest(json.dumps([_FORM, sys.version, place, program, call], sort_keys=True).encode())


def recall(key: str, suffix: str, environment: Mapping[str, str]) -> Verdict | None:
    """The answer kept under a key, if all that it rests on is as it was."""
    folder = _open_folder(environment)
    if folder is None:
        return None
    try:
        data = _read(folder, key + _SUFFIX)
    finally:
        os.close(folder)
    kept = _unpacked(data, key)
    if kept is None:
        return None
    verdict, files, folders = kept
    return verdict if _as_it_was(files, folders, suffix) else None


def keep(key: str, verdict: Verdict, seen: Seen, environment: Mapping[str, str]) -> None:
    """Keep an answer, if there is a safe place for it."""
    import json

    if not seen.sure:
        return
    body = json.dumps(
        {
            "form": _FORM,
            "key": key,
            "files": [[path, follow, digest] for (path, follow), digest in seen.files.items()],
            "folders": list(seen.folders.items()),
            "results": verdict.results,
            "summary": verdict.summary,
            "code": verdict.code,
        }
    ).encode()
    data = _digest(body).encode() + b"\n" + body
    if len(data) > LONGEST:
        return
    folder = _open_folder(environment, make=True)
    if folder is None:
        return
    try:
        _write(folder, key + _SUFFIX, data)
        _thin_out(folder)
    except OSError:
        return
    finally:
        os.close(folder)


# ---------------------------------------------------------------------------- what is kept


def _unpacked(data: bytes | None, key: str) -> tuple[Verdict, list[list[Any]], list[list[Any]]] | None:
    """An answer, and the files and folders it rests on; None for what `keep` did not write under that key, whole."""
    import json

    said, _, body = (data or b"").partition(b"\n")
    if said != _digest(body).encode():
        return None
    try:
        kept = json.loads(body)
    except (ValueError, RecursionError):
        return None
    if not isinstance(kept, dict) or kept.get("form") != _FORM or kept.get("key") != key:
        return None
    parts: list[Any] = [kept.get(name) for name in ("results", "summary", "code", "files", "folders")]
    results, summary, code, files, folders = parts
    if not _is_row(parts, (str, str, int, list, list)) or code not in (0, 1):
        return None
    if not all(_is_row(row, (str, bool, str)) for row in files) or not all(_is_row(row, (str, str)) for row in folders):
        return None
    return Verdict(results, summary, code), files, folders


def _is_row(row: object, kinds: tuple[type, ...]) -> bool:
    return isinstance(row, list) and len(row) == len(kinds) and list(map(type, row)) == list(kinds)


def _as_it_was(files: list[list[Any]], folders: list[list[Any]], suffix: str) -> bool:
    from proclang.text.regular import names_in, read_regular

    now = Seen()
    for path, follow, digest in files:
        now.file(path, read_regular(path, follow=follow), follow=follow)
        if now.files[path, follow] != digest:
            return False
    for path, digest in folders:
        now.folder(path, names_in(path, suffix))
        if now.folders[path] != digest:
            return False
    return True


def _digest(data: bytes) -> str:
    from hashlib import sha256

    return sha256(data).hexdigest()


def _file_digest(data: object) -> str:
    return _digest(data) if isinstance(data, bytes) else "none"


def _program() -> list[list[object]]:
    """Every file of the program, with its size and when it was written."""
    import proclang

    package = os.path.dirname(os.path.abspath(proclang.__file__))
    found: list[list[object]] = [[proclang.__version__]]
    todo = [package, os.path.join(os.path.dirname(package), "grammar")]
    while todo:
        folder = todo.pop()
        if not os.path.isdir(folder):
            continue
        with os.scandir(folder) as entries:
            for entry in entries:
                if entry.name == "__pycache__":
                    continue
                if entry.is_dir():
                    todo.append(entry.path)
                else:
                    facts = entry.stat()
                    found.append([entry.path, facts.st_size, facts.st_mtime_ns])
    return sorted(found, key=repr)


# ---------------------------------------------------------------------------- where it is kept


def _open_folder(environment: Mapping[str, str], *, make: bool = False) -> int | None:
    """The folder, open; None where there is none that is ours alone."""
    base = environment.get("XDG_CACHE_HOME", "")
    if not os.path.isabs(base):  # the specification: a relative path is ignored
        home = environment.get("HOME", "")
        if not os.path.isabs(home):
            return None
        base = os.path.join(home, ".cache")
    path = os.path.join(base, "proclang")
    try:
        if make and not os.path.isdir(path):
            os.makedirs(base, 0o700, exist_ok=True)
            os.mkdir(path, 0o700)
        above = os.stat(base)
        if above.st_uid not in (os.geteuid(), 0) or above.st_mode & 0o022:
            return None
        folder = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC)
    except (OSError, ValueError):
        return None
    facts = os.fstat(folder)
    if facts.st_uid != os.geteuid() or facts.st_mode & 0o077:
        os.close(folder)
        return None
    return folder


def _read(folder: int, name: str) -> bytes | None:
    try:
        handle = os.open(name, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC, dir_fd=folder)
    except OSError:
        return None
    try:
        facts = os.fstat(handle)
        if not stat.S_ISREG(facts.st_mode) or facts.st_uid != os.geteuid() or not 0 < facts.st_size <= LONGEST:
            return None
        return os.read(handle, LONGEST)
    except OSError:
        return None
    finally:
        os.close(handle)


def _write(folder: int, name: str, data: bytes) -> None:
    """A file under its name at once or not at all. Raises `OSError`."""
    draft = f".{name}.{os.getpid()}"
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600, dir_fd=folder)
    try:
        if os.write(handle, data) != len(data):
            raise OSError("a short write")
        os.rename(draft, name, src_dir_fd=folder, dst_dir_fd=folder)
    except OSError:
        os.unlink(draft, dir_fd=folder)
        raise
    finally:
        os.close(handle)


def _thin_out(folder: int) -> None:
    """Delete the oldest answers, and drafts that were left, where there are more than are kept. Raises `OSError`."""
    names = os.listdir(folder)
    if len(names) <= MOST_KEPT:
        return
    aged = []
    for name in names:
        facts = os.stat(name, dir_fd=folder, follow_symlinks=False)
        if not stat.S_ISDIR(facts.st_mode):
            aged.append((facts.st_mtime_ns, name))
    for _, name in sorted(aged)[: len(aged) - MOST_KEPT // 2]:
        os.unlink(name, dir_fd=folder)
