"""Answers that `check` kept: never out of date, never from a place that is not ours, never in the way.

Each test has a cache folder of its own. What tells that an answer was taken from there is that nothing of the language
was loaded: the checker is replaced by one that fails.
"""

from __future__ import annotations

import io
import json
import os
import stat
import subprocess
import sys
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

import pytest

import proclang
from proclang.check import check
from proclang.cli import check_cache
from proclang.cli.main import main

CALLER = """\
proclang 1
procedure caller "Invented"
needs
  crew lead
section main "Main"
  step look "Look." by lead
  perform helper
"""
HELPER = """\
proclang 1
procedure helper "Invented"
section main "Main"
  step look "Look {gap}."
"""
SOUND = HELPER.replace(" {gap}", "")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a caller and what it performs, which has a mistake; and a cache that is empty."""
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)
    (tmp_path / "cache").mkdir(mode=0o700)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (work / "caller.proc").write_text(CALLER)
    (work / "helper.proc").write_text(HELPER)
    return work


Said = tuple[int, str, str]


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Callable[..., Said]:
    """Exit code, results and words of a call."""

    def call(*arguments: str) -> Said:
        code = main(["check", *arguments])
        return (code, *capsys.readouterr())

    return call


@pytest.fixture
def kept_only(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """From here on nothing can be checked."""

    def fails(*_: object) -> None:
        raise AssertionError("this was to be answered from what was kept")

    return lambda: monkeypatch.setattr(check, "check_files", fails)


def checked_anew(call: Callable[[], object], monkeypatch: pytest.MonkeyPatch) -> bool:
    """Whether a call checks anything."""
    calls: list[object] = []
    real = check.check_files
    with monkeypatch.context() as patch:
        patch.setattr(check, "check_files", lambda *a: (calls.append(a), real(*a))[1])
        call()
    return bool(calls)


def entries(folder: Path) -> list[Path]:
    place = folder.parent / "cache" / "proclang"
    return sorted(place.iterdir()) if place.is_dir() else []


@pytest.mark.parametrize(
    "options",
    [(), ("--format", "json"), ("--format", "jsonl"), ("--statistics",), ("--exit-zero",), ("--select", "unknown-name"),
     ("--color", "always"), ("--color", "always", "--palette", "night"), ("--ascii",)],
    ids=" ".join,
)  # fmt: skip
def test_what_is_kept_is_what_would_be_said(
    folder: Path, said: Callable[..., Said], kept_only: Callable[[], None], options: tuple[str, ...]
) -> None:
    """Byte for byte, results, words and exit code, in every form."""
    bare = said("--no-cache", *options, "caller.proc", "helper.proc")
    assert entries(folder) == []
    first = said(*options, "caller.proc", "helper.proc")
    assert len(entries(folder)) == 1
    kept_only()
    assert said(*options, "caller.proc", "helper.proc") == first == bare
    assert first[0] == (0 if "--exit-zero" in options else 1)


def test_another_call_is_another_question(
    folder: Path, said: Callable[..., Said], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Options, files, order and the folder stood in are all part of it."""
    said("caller.proc", "helper.proc")
    others = [
        ("caller.proc",),
        ("--statistics", "caller.proc", "helper.proc"),
        ("--format", "json", "caller.proc"),
    ]
    for other in others:
        assert checked_anew(lambda other=other: said(*other), monkeypatch)  # type: ignore[misc]
    monkeypatch.chdir("..")
    (folder.parent / "caller.proc").write_text(CALLER)
    (folder.parent / "helper.proc").write_text(SOUND)
    assert said("caller.proc", "helper.proc")[0] == 0


def test_a_file_that_is_performed_counts(folder: Path, said: Callable[..., Said]) -> None:
    """Changed, removed, and put back: each time the answer is that of the files as they are."""
    assert said("caller.proc")[0] == 1
    (folder / "helper.proc").write_text(SOUND)
    assert said("caller.proc")[0] == 0
    (folder / "helper.proc").unlink()
    code, out, _ = said("caller.proc")
    assert code == 1
    assert "missing-file" in out
    (folder / "helper.proc").write_text(SOUND)
    assert said("caller.proc")[0] == 0


def test_a_change_of_the_same_length_and_time_is_seen(folder: Path, said: Callable[..., Said]) -> None:
    """The bytes count, not what the folder says of them."""
    path = folder / "helper.proc"
    assert said("helper.proc")[0] == 1
    facts = path.stat()
    path.write_text(HELPER.replace("{gap}", "a gap"))
    os.utime(path, ns=(facts.st_atime_ns, facts.st_mtime_ns))
    assert path.stat().st_size == facts.st_size
    assert said("helper.proc")[0] == 0


def test_a_name_that_was_not_there_is_looked_for_again(folder: Path, said: Callable[..., Said]) -> None:
    """Also the names a suggestion was made from."""
    (folder / "helper.proc").unlink()
    _, first, _ = said("caller.proc")
    assert "did you mean" not in first
    (folder / "helpers.proc").write_text(SOUND.replace("helper", "helpers"))
    _, second, _ = said("caller.proc")
    assert "did you mean `helpers`" in second
    (folder / "helper.proc").write_text(SOUND)
    assert said("caller.proc")[0] == 0


def test_another_program_gives_its_own_answer(
    folder: Path, said: Callable[..., Said], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another version, or one file of this one written anew."""
    said("caller.proc")
    assert not checked_anew(lambda: said("caller.proc"), monkeypatch)
    monkeypatch.setattr(proclang, "__version__", "99.0")
    assert checked_anew(lambda: said("caller.proc"), monkeypatch)
    assert not checked_anew(lambda: said("caller.proc"), monkeypatch)
    monkeypatch.setattr(check_cache, "_program", lambda: [["touched"]])
    assert checked_anew(lambda: said("caller.proc"), monkeypatch)


def test_every_file_of_the_program_is_part_of_what_it_is() -> None:
    names = {Path(str(row[0])).name for row in check_cache._program()}
    assert {"check.py", "tables.bin", "proclang.lark", "LANGUAGE.md", "unit.py", "check_cache.py"} <= names


# ---------------------------------------------------------------------------- damage and malice


def _resealed(body: bytes) -> bytes:
    return sha256(body).hexdigest().encode() + b"\n" + body


def _changed(data: bytes, **changes: object) -> bytes:
    kept = json.loads(data.partition(b"\n")[2])
    return _resealed(json.dumps({**kept, **changes}).encode())


DAMAGE: dict[str, Callable[[bytes], bytes]] = {
    "empty": lambda data: b"",
    "cut": lambda data: data[: len(data) // 2],
    "longer": lambda data: data + b" ",
    "one bit": lambda data: data[:-30] + bytes([data[-30] ^ 1]) + data[-29:],
    "zeros": lambda data: bytes(len(data)),
    "too long": lambda data: _resealed(b'"' + b"x" * check_cache.LONGEST + b'"'),
    "deep": lambda data: _resealed(b"[" * 100_000),
    "a list": lambda data: _resealed(b"[]"),
    "no parts": lambda data: _resealed(b"{}"),
    "not UTF-8": lambda data: _resealed(b'{"form": "\xff"}'),
    "other form": lambda data: _changed(data, form=2),
    "other key": lambda data: _changed(data, key="0" * 64),
    "code 2": lambda data: _changed(data, code=2),
    "code true": lambda data: _changed(data, code=True),
    "results are a number": lambda data: _changed(data, results=1),
    "files are words": lambda data: _changed(data, files="helper.proc"),
    "a file is a word": lambda data: _changed(data, files=["helper.proc"]),
    "a path with a null character": lambda data: _changed(data, files=[["a\0b", False, "0" * 64]]),
    "a folder is a number": lambda data: _changed(data, folders=[[1, "x"]]),
}


@pytest.mark.parametrize("damage", DAMAGE.values(), ids=list(DAMAGE))
def test_what_is_damaged_is_as_good_as_not_there(
    folder: Path, said: Callable[..., Said], damage: Callable[[bytes], bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    """And is written anew."""
    first = said("caller.proc")
    (entry,) = entries(folder)
    whole = entry.read_bytes()
    entry.write_bytes(damage(whole))
    answers: list[Said] = []
    assert checked_anew(lambda: answers.append(said("caller.proc")), monkeypatch)
    assert answers == [first]
    assert entry.read_bytes() == whole


@pytest.mark.parametrize("what", ["link", "dangling link", "folder", "pipe"])
def test_nothing_but_a_file_is_read(
    folder: Path, said: Callable[..., Said], what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A link may lead to what somebody else prepared; a pipe would be waited for."""
    first = said("caller.proc")
    (entry,) = entries(folder)
    elsewhere = folder.parent / "elsewhere"
    entry.rename(elsewhere)
    if what == "link":
        entry.symlink_to(elsewhere)
    elif what == "dangling link":
        entry.symlink_to(folder.parent / "nowhere")
    elif what == "folder":
        entry.mkdir()
    else:
        os.mkfifo(entry)
    before = elsewhere.read_bytes()
    answers: list[Said] = []
    assert checked_anew(lambda: answers.append(said("caller.proc")), monkeypatch)
    assert answers == [first]
    assert elsewhere.read_bytes() == before
    assert not (folder.parent / "nowhere").exists()


def test_files_and_folder_are_closed_to_others(folder: Path, said: Callable[..., Said]) -> None:
    said("caller.proc")
    (entry,) = entries(folder)
    assert stat.S_IMODE(entry.stat().st_mode) == 0o600
    assert stat.S_IMODE(entry.parent.stat().st_mode) == 0o700


@pytest.mark.parametrize("mode", [0o777, 0o1777, 0o770, 0o750, 0o705])
def test_a_folder_open_to_others_is_not_used(
    folder: Path, said: Callable[..., Said], mode: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = folder.parent / "cache" / "proclang"
    place.mkdir()
    place.chmod(mode)
    said("caller.proc")
    assert entries(folder) == []
    assert checked_anew(lambda: said("caller.proc"), monkeypatch)


@pytest.mark.parametrize("mode", [0o777, 0o1777, 0o720])
def test_nothing_is_kept_below_a_folder_that_others_write_to(
    folder: Path, said: Callable[..., Said], mode: int
) -> None:
    """Such as a folder for passing files, even with the bit that keeps others from deleting."""
    (folder.parent / "cache").chmod(mode)
    said("caller.proc")
    assert entries(folder) == []


def test_a_link_in_place_of_the_folder_is_not_followed(folder: Path, said: Callable[..., Said]) -> None:
    elsewhere = folder.parent / "elsewhere"
    elsewhere.mkdir(mode=0o700)
    (folder.parent / "cache" / "proclang").symlink_to(elsewhere)
    said("caller.proc")
    assert list(elsewhere.iterdir()) == []


def test_a_folder_of_somebody_else_is_not_used(
    folder: Path, said: Callable[..., Said], monkeypatch: pytest.MonkeyPatch
) -> None:
    said("caller.proc")
    monkeypatch.setattr(os, "geteuid", lambda: os.getuid() + 1)
    assert checked_anew(lambda: said("caller.proc"), monkeypatch)


@pytest.mark.parametrize("base", ["", "relative/path", "/dev/null", "/proc/self/nowhere", "/a\0b"])
def test_without_a_place_nothing_is_kept(
    folder: Path, said: Callable[..., Said], base: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No HOME, no folder; a relative path does not count (XDG base directory specification)."""
    environment = {"XDG_CACHE_HOME": base}
    key = check_cache.key_of({"paths": ["caller.proc"]})
    assert key is not None
    check_cache.keep(key, check_cache.Verdict("", "", 0), check_cache.Seen(), environment)
    assert check_cache.recall(key, ".proc", environment) is None
    assert not (folder / "relative").exists()


def test_without_the_variable_it_is_kept_below_home(folder: Path) -> None:
    environment = {"HOME": str(folder)}
    check_cache.keep("k", check_cache.Verdict("a", "b", 1), check_cache.Seen(), environment)
    assert [path.name for path in (folder / ".cache" / "proclang").iterdir()] == ["k.json"]
    verdict = check_cache.recall("k", ".proc", environment)
    assert verdict is not None
    assert (verdict.results, verdict.summary, verdict.code) == ("a", "b", 1)


def test_a_write_that_fails_leaves_nothing_and_says_nothing(
    folder: Path, said: Callable[..., Said], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk shows as a short write or as an error."""
    bare = said("--no-cache", "caller.proc")
    real = os.write

    def short(handle: int, data: bytes) -> int:
        return real(handle, data[:1]) if len(data) > 100 else real(handle, data)

    def full(handle: int, data: bytes) -> int:
        raise OSError(28, "No space left on device")

    for write in (short, full):
        with monkeypatch.context() as patch:
            patch.setattr(os, "write", write)
            assert said("caller.proc") == bare
        assert entries(folder) == []
    with monkeypatch.context() as patch:
        patch.setattr(os, "rename", lambda *a, **k: full(0, b""))
        assert said("caller.proc") == bare
    assert entries(folder) == []


def test_a_file_that_changed_while_it_was_read_is_no_ground_for_an_answer(folder: Path) -> None:
    seen = check_cache.Seen()
    seen.file("a", b"1")
    seen.file("a", b"2")
    check_cache.keep("k", check_cache.Verdict("", "", 0), seen, dict(os.environ))
    assert entries(folder) == []


def test_what_cannot_be_read_is_told_every_time(folder: Path, said: Callable[..., Said]) -> None:
    (folder / "gone.proc").symlink_to("nowhere.proc")
    assert said("gone.proc") == said("gone.proc")
    assert said("gone.proc")[0] == 2
    assert entries(folder) == []


def test_there_are_never_many_and_never_long_ones(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(check_cache.MOST_KEPT + 30):
        check_cache.keep(f"{number}", check_cache.Verdict("", "", 0), check_cache.Seen(), dict(os.environ))
    left = {path.stem for path in entries(folder)}
    assert len(left) <= check_cache.MOST_KEPT
    assert f"{check_cache.MOST_KEPT + 29}" in left
    check_cache.keep(
        "long", check_cache.Verdict("x" * check_cache.LONGEST, "", 0), check_cache.Seen(), dict(os.environ)
    )
    assert "long.json" not in {path.name for path in entries(folder)}


def test_standard_input_is_never_kept(folder: Path, said: Callable[..., Said], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(SOUND.encode())))
    assert said("-")[0] == 0
    assert entries(folder) == []


def test_a_kept_answer_is_given_without_loading_the_language(folder: Path) -> None:
    """What makes it quick: neither attrs, nor lark, nor any room but `text`, which has how words are shown."""
    call = [sys.executable, "-X", "importtime", "-m", "proclang", "check", "caller.proc"]
    environment = {**os.environ, "PYTHONPATH": str(Path(proclang.__file__).parents[1])}
    answers = []
    for _ in range(2):
        done = subprocess.run(call, capture_output=True, env=environment, check=False, text=True)
        lines = done.stderr.splitlines()
        loaded = {line.rpartition("|")[2].strip() for line in lines if line.startswith("import time:")}
        words = [line for line in lines if not line.startswith("import time:")]
        answers.append((done.returncode, done.stdout, words))
    assert answers[0] == answers[1]
    assert answers[1][0] == 1
    rooms = {name.split(".")[1] for name in loaded if name.startswith("proclang.")}
    assert rooms <= {"text", "cli", "__main__"}
    assert not loaded & {"attr", "lark", "proclang.text.diagnostic", "inspect"}
