"""`proclang format` as a command: what it writes, what it leaves alone, what it prints where, with which exit code."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import proclang
from proclang.cli import replace as replacing
from proclang.cli.format_diff import unified
from proclang.cli.main import guarded, main
from proclang.syntax.format import format_file

ROOT = Path(proclang.__file__).parents[1]

TIDY = 'proclang 1\nprocedure a "Invented"\n\nsection main "Main"\n  step look "Look."  # twice\n'
UNTIDY = 'proclang 1\nprocedure a "Invented"\nsection   main "Main"\n  step look "Look."#twice\n'
WRONG = 'proclang 1\nprocedure a "Invented"\nsection   main "Main\n'


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to stand in."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*arguments: str, stdin: bytes = b"", **more: str) -> subprocess.CompletedProcess[bytes]:
    """The program as a process of its own."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), **more}
    return subprocess.run(
        [sys.executable, "-m", "proclang", *arguments],
        input=stdin, capture_output=True, env=environment, timeout=60, check=False,
    )  # fmt: skip


# ---------------------------------------------------------------------------- what is written


def test_a_file_is_laid_out_and_named(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What was written is a result, how many words for people; the second time there is nothing to do."""
    path = folder / "a.proc"
    path.write_text(UNTIDY)
    assert main(["format", "a.proc"]) == 0
    assert path.read_text() == TIDY
    assert capsys.readouterr() == ("a.proc\n", "1 file, 1 laid out\n")
    before = path.stat()
    assert main(["format", "a.proc"]) == 0
    assert capsys.readouterr() == ("", "1 file, nothing to do\n")
    assert (path.stat().st_ino, path.stat().st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert os.listdir(folder) == ["a.proc"]


def test_a_folder_means_every_procedure_below_it(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As for `check`: sorted, without hidden ones, links, the folders of runs and what is excluded."""
    for name in ("set/b.proc", "set/a.proc", "set/.c.proc", "set/draft_d.proc", "set/run/e.proc", "set/notes.md"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(UNTIDY)
    (folder / "set/run/journal.jsonl").write_text("")
    (folder / "elsewhere.proc").write_text(UNTIDY)
    (folder / "set/link.proc").symlink_to(folder / "elsewhere.proc")
    assert main(["format", "--exclude", "draft_*", "set"]) == 0
    assert capsys.readouterr() == ("set/a.proc\nset/b.proc\n", "2 files, 2 laid out\n")
    tidy = {path.name for path in folder.rglob("*") if path.is_file() and path.read_text() == TIDY}
    assert tidy == {"a.proc", "b.proc"}


def test_what_the_settings_exclude_is_left_out(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same setting that the check goes by: a draft is left alone by both."""
    for name in ("a.proc", "draft_b.proc"):
        (folder / name).write_text(UNTIDY)
    (folder / "proclang.toml").write_text('[check]\nexclude = ["draft_*"]\n')
    folder.chmod(0o755)
    assert main(["format", "."]) == 0
    assert capsys.readouterr().out == "a.proc\n"


@pytest.mark.parametrize("mode", [0o644, 0o600, 0o755, 0o664])
def test_the_mode_is_kept(folder: Path, mode: int) -> None:
    path = folder / "a.proc"
    path.write_text(UNTIDY)
    path.chmod(mode)
    assert main(["format", "a.proc"]) == 0
    assert path.read_text() == TIDY
    assert stat.S_IMODE(path.stat().st_mode) == mode


def test_a_link_that_is_named_stays_and_its_file_is_laid_out(folder: Path) -> None:
    """Also from another folder; the draft is made beside the file, so that it is renamed on one file system."""
    (folder / "deep").mkdir()
    (folder / "deep/real.proc").write_text(UNTIDY)
    (folder / "a.proc").symlink_to("deep/real.proc")
    assert main(["format", "a.proc"]) == 0
    assert os.readlink(folder / "a.proc") == "deep/real.proc"
    assert (folder / "deep/real.proc").read_text() == TIDY
    assert sorted(os.listdir(folder)) == ["a.proc", "deep"]


def test_line_ends_and_the_mark_of_the_byte_order_are_put_in_order(folder: Path) -> None:
    """The files of an editor of another system."""
    path = folder / "a.proc"
    path.write_bytes(b"\xef\xbb\xbf" + TIDY.replace("\n", "\r\n").encode())
    assert main(["format", "a.proc"]) == 0
    assert path.read_bytes() == TIDY.encode()


# ---------------------------------------------------------------------------- what is left alone


def test_a_file_with_mistakes_is_left_as_it_is_and_the_others_are_laid_out(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The mistakes are told as `check` tells them, on standard error: they are no result of this command."""
    (folder / "a.proc").write_text(UNTIDY)
    (folder / "b.proc").write_text(WRONG)
    assert main(["format", "."]) == 1
    assert (folder / "b.proc").read_text() == WRONG
    assert (folder / "a.proc").read_text() == TIDY
    out, err = capsys.readouterr()
    assert out == "a.proc\n"
    assert err.startswith("b.proc:3:16: error[")
    assert err.endswith("\n2 files, 1 laid out, 1 with mistakes, left as before\n")


def test_marks_of_a_merge_are_left_for_somebody_to_settle(folder: Path) -> None:
    path = folder / "a.proc"
    text = UNTIDY + "<<<<<<< ours\n=======\n>>>>>>> theirs\n"
    path.write_text(text)
    assert main(["format", "a.proc"]) == 1
    assert path.read_text() == text


@pytest.mark.parametrize("place", ["run", "run/sources"])
def test_what_belongs_to_the_record_of_a_run_is_never_touched(
    folder: Path, capsys: pytest.CaptureFixture[str], place: str
) -> None:
    """Its bytes are chained to the journal; not even when it is named, by itself, as its folder or by a link."""
    (folder / place).mkdir(parents=True)
    (folder / "run/journal.jsonl").write_text("")
    kept = folder / place / "a.proc"
    kept.write_text(UNTIDY)
    (folder / "link.proc").symlink_to(kept)
    for named in (f"{place}/a.proc", place, "link.proc"):
        assert main(["format", named]) == 2
        assert "it belongs to the record of a run" in capsys.readouterr().err
    assert kept.read_text() == UNTIDY


def test_a_file_that_may_only_be_read_is_left_with_a_plain_message(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Even where the folder would allow to put another in its place, and for root, who is asked for nothing."""
    path = folder / "a.proc"
    path.write_text(UNTIDY)
    path.chmod(0o444)
    assert main(["format", "a.proc"]) == 2
    assert capsys.readouterr() == (
        "",
        "proclang format: `a.proc` is left as it is: it may only be read, not written\n"
        "1 file, 1 not to be read or written\n",
    )
    assert path.read_text() == UNTIDY


def _full(*_: object) -> int:
    raise OSError(28, "No space left on device")


def _read_only(*_: object) -> int:
    raise OSError(30, "Read-only file system")


@pytest.mark.parametrize(
    ("call", "fails", "words"),
    [
        ("open", _read_only, "Read-only file system"),
        ("write", _full, "No space left on device"),
        ("fsync", _full, "No space left on device"),
        ("rename", _read_only, "Read-only file system"),
    ],
)
def test_a_disk_that_refuses_leaves_the_old_file_whole(
    folder: Path, monkeypatch: pytest.MonkeyPatch, call: str, fails: Callable[..., int], words: str
) -> None:
    """At whichever step it does so; nothing is left beside it."""
    path = folder / "a.proc"
    path.write_text(UNTIDY)
    with monkeypatch.context() as patched:
        patched.setattr(replacing.os, call, fails)
        problem = replacing.replace(str(path), UNTIDY.encode(), TIDY.encode())
    assert problem is not None
    assert problem.strerror == words
    assert path.read_text() == UNTIDY
    assert os.listdir(folder) == ["a.proc"]


def test_a_break_in_the_middle_leaves_the_old_file_whole(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C after the draft has been written."""
    path = folder / "a.proc"
    path.write_text(UNTIDY)

    def broken(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(replacing.os, "rename", broken)
        assert guarded(["format", "a.proc"]) == 130
    assert path.read_text() == UNTIDY
    assert os.listdir(folder) == ["a.proc"]


def test_the_bytes_are_on_the_disk_before_they_take_the_name(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Write, sync, rename, and then the folder is synced: after a power cut the file is the old one or the new one."""
    path = folder / "a.proc"
    path.write_text(UNTIDY)
    calls: list[str] = []

    def noted(name: str) -> Callable[..., object]:
        real = getattr(os, name)

        def call(*arguments: object, **more: object) -> object:
            calls.append(name)
            return real(*arguments, **more)

        return call

    with monkeypatch.context() as patched:
        for name in ("write", "fsync", "rename"):
            patched.setattr(replacing.os, name, noted(name))
        assert replacing.replace(str(path), UNTIDY.encode(), TIDY.encode()) is None
    assert calls == ["write", "fsync", "rename", "fsync"]


def test_what_somebody_saved_in_the_meantime_is_not_lost(folder: Path) -> None:
    """What is replaced is what was read, and nothing else."""
    path = folder / "a.proc"
    path.write_text(UNTIDY + "# saved just now\n")
    problem = replacing.replace(str(path), UNTIDY.encode(), TIDY.encode())
    assert problem is not None
    assert "changed" in str(problem)
    assert path.read_text() == UNTIDY + "# saved just now\n"
    assert os.listdir(folder) == ["a.proc"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "what is to be laid out? PATH is missing"),
        (["b.proc"], "there is no file or folder `b.proc`"),
        (["notes.md"], "the name of `notes.md` does not end in .proc"),
        (["empty"], "there is no .proc file in `empty`"),
        (["pipe.proc"], "`pipe.proc` cannot be read: it is not a regular file"),
        (["--chek", "a.proc"], "there is no option `--chek`"),
    ],
)
def test_an_unusable_call(folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], words: str) -> None:
    """Told in the name of this command, exit code 2."""
    (folder / "notes.md").write_text("words")
    (folder / "empty").mkdir()
    os.mkfifo(folder / "pipe.proc")
    assert main(["format", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(f"proclang format: {words}")


# ---------------------------------------------------------------------------- --check and --diff


def test_check_names_what_is_not_laid_out_and_writes_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 1 then, 0 when all is."""
    (folder / "a.proc").write_text(UNTIDY)
    (folder / "b.proc").write_text(TIDY)
    assert main(["format", "--check", "."]) == 1
    assert capsys.readouterr() == ("a.proc\n", "2 files, 1 to be laid out\n")
    assert (folder / "a.proc").read_text() == UNTIDY
    assert main(["format", "--check", "b.proc"]) == 0
    assert capsys.readouterr() == ("", "1 file, nothing to do\n")


def test_diff_shows_what_would_be_changed_and_writes_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 0, with `--check` 1."""
    (folder / "a.proc").write_text(UNTIDY)
    assert main(["format", "--diff", "."]) == 0
    assert capsys.readouterr() == (
        "--- a.proc\n+++ a.proc\n@@ -1,4 +1,5 @@\n proclang 1\n procedure a \"Invented\"\n"
        "-section   main \"Main\"\n-  step look \"Look.\"#twice\n"
        "+\n+section main \"Main\"\n+  step look \"Look.\"  # twice\n",
        "1 file, 1 to be laid out\n",
    )  # fmt: skip
    assert (folder / "a.proc").read_text() == UNTIDY
    assert main(["format", "--diff", "--check", "."]) == 1
    assert (folder / "a.proc").read_text() == UNTIDY


_LINES = st.lists(
    st.sampled_from(["", "", "   ", "#one", "  # two", "revision 2", "revision  2", "purpose \"P.\"#p", "labels a b"]),
    max_size=40,
)  # fmt: skip


@pytest.mark.skipif(shutil.which("git") is None, reason="only where there is a git")
@settings(max_examples=25, deadline=None)
@given(_LINES, st.booleans())
def test_git_takes_the_diff(tmp_path_factory: pytest.TempPathFactory, lines: list[str], ended: bool) -> None:
    """Applied by `git apply`, which knows nothing of us, it makes the new text of the old one, byte for byte."""
    folder = tmp_path_factory.mktemp("patch")
    old = "\n".join(["proclang 1", 'procedure a "A"', *lines]) + "\n" * ended
    new = format_file(old.encode(), "a.proc").text
    assert new is not None
    (folder / "a.proc").write_bytes(old.encode())
    patch = unified(old, new, "a.proc")
    assert (patch == "") is (old == new)
    if patch:
        subprocess.run(
            ["git", "apply", "-p0", "--whitespace=nowarn"], input=patch.encode(), cwd=folder, timeout=60, check=True
        )
    assert (folder / "a.proc").read_bytes() == new.encode()


def test_a_diff_shows_no_character_that_moves_the_cursor(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Line ends of another system, and a name somebody gave a file."""
    name = "a\x1b[2J.proc"
    (folder / name).write_bytes(TIDY.replace("\n", "\r\n").encode())
    assert main(["format", "--diff", name]) == 0
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "\r" not in out
    assert "-proclang 1\\u{d}\n" in out
    assert "+proclang 1\n" in out


# ---------------------------------------------------------------------------- standard input


def test_standard_input_goes_laid_out_to_standard_output() -> None:
    """As an editor calls it: byte for byte, in UTF-8 whatever the terminal takes, without a word besides."""
    text = UNTIDY.replace("Look.", "Look ± 1 °.")
    done = run("format", "-", stdin=text.encode(), PYTHONIOENCODING="ascii", PYTHONUTF8="0", LC_ALL="C")
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.decode() == TIDY.replace("Look.", "Look ± 1 °.")


def test_standard_input_with_mistakes_gives_nothing_back() -> None:
    """Half a text in an editor's buffer would be worse."""
    done = run("format", "-", stdin=WRONG.encode())
    assert (done.returncode, done.stdout) == (1, b"")
    assert done.stderr.startswith(b"<stdin>:3:16: error[")


def test_standard_input_can_be_checked_and_shown() -> None:
    done = run("format", "--check", "-", stdin=UNTIDY.encode())
    assert (done.returncode, done.stdout, done.stderr) == (1, b"<stdin>\n", b"1 file, 1 to be laid out\n")
    done = run("format", "--diff", "-", stdin=UNTIDY.encode())
    assert (done.returncode, done.stdout[:14]) == (0, b"--- <stdin>\n++")


def test_a_closed_standard_input_is_told_of() -> None:
    """A closed one becomes the null device, which holds no procedure: an empty file is a mistake of form."""
    command = f"exec '{sys.executable}' -m proclang format - <&-"
    done = subprocess.run(
        ["/bin/sh", "-c", command], env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, timeout=60,
        check=False,
    )  # fmt: skip
    assert done.stdout == b""
    assert done.returncode in (1, 2)
    assert b"Traceback" not in done.stderr
    assert done.stderr != b""
