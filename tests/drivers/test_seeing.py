"""What can be seen, by whom: in the dark, without colour, without signs, with a screen reader, in gloves.

Asserted on the bytes that reach the terminal. SGR and the other control functions are those of ECMA-48.
"""

from __future__ import annotations

import io
import os
import pty
import re
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest
from drive_help import (
    PROGRAM,
    ROOT,
    SAMPLES,
    Screen,
    at_once,
    environment,
    opened,
    ordinary,
    proclang,
    recorded,
    resume_arguments,
    run_arguments,
    samples_in,
    typed_day,
    without_colour,
)
from test_screens import PROGRAM as SAMPLE
from test_screens import STATES

from proclang.cli.main import main
from proclang.cli.streams import Working
from proclang.engine.decide import decide
from proclang.engine.model import Refused, Reply
from proclang.session import present
from proclang.session.look import Look, plain_text
from proclang.session.present import shell_word
from proclang.session.talk import Word, understood

SGR = re.compile(r"\x1b\[([0-9;]*)m")
ALLOWED = {"night": {"31", "0"}, "mono": {"1", "0"}, "normal": {"1", "31", "32", "33", "36", "1;31", "1;33", "0"}}


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run under way with a failed reading, one that is over, and a procedure with findings."""
    folder = tmp_path_factory.mktemp("seeing")
    gap = next(i for i, r in enumerate(ordinary()) if r.address.endswith("gap"))
    at_once(*run_arguments(folder / "left"), typed=typed_day(ordinary()[:gap]) + "9\n")
    at_once(*run_arguments(folder / "over"), typed=typed_day())
    path = samples_in(folder / "set") / "rinse.proc"
    path.write_text(path.read_text().replace("in mm using gauge", "in mmm ± using gauge"))
    return folder


def calls(place: Path, into: Path) -> dict[str, tuple[tuple[str, ...], str]]:
    """A call of every command that shows anything, and what is typed."""
    return {
        "run": (run_arguments(into / "run"), typed_day() + "pause\n"),
        "run with findings": (run_arguments(into / "none", samples=place / "set"), ""),
        "resume of a run that is over": (("resume", str(place / "over")), ""),
        "status": (("status", str(place / "left")), ""),
        "verify": (("verify", str(place / "over")), ""),
        "check": (("check", str(place / "set")), ""),
        "no run": (("status", str(place / "lef")), ""),
    }


NAMES = tuple(calls(Path(), Path()))


def shown(*arguments: str, typed: str = "", encoding: str = "utf-8") -> tuple[int, str, str]:
    """Exit code and what stands on both streams, in this process, which is much faster than one of its own."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding, errors="strict", write_through=True) for _ in range(2))
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(err):
        patch.setattr(sys, "stdin", io.StringIO(typed))
        code = main(arguments)
    texts = (stream.buffer.getvalue().decode(encoding) for stream in (out, err))  # type: ignore[attr-defined]
    return code, *texts


@pytest.mark.parametrize("palette", ALLOWED)
@pytest.mark.parametrize("name", NAMES)
def test_colour_repeats_what_is_said_and_is_of_its_palette(
    place: Path, tmp_path: Path, name: str, palette: str
) -> None:
    """Both streams: only the codes of the palette, no other sequence, and with them taken off the same text."""
    arguments, typed = calls(place, tmp_path / "coloured")[name]
    code, *coloured = shown(*arguments, "--color", "always", "--palette", palette, typed=typed)
    arguments, typed = calls(place, tmp_path / "bare")[name]
    code_bare, *bare = shown(*arguments, typed=typed)
    assert code == code_bare
    for text, without in zip(coloured, bare, strict=True):
        assert set(SGR.findall(text)) <= ALLOWED[palette]
        assert "\x1b" not in without_colour(text)
        assert same(without_colour(text), "coloured") == same(without, "bare")
        if palette == "night":
            assert_all_red(text)


def same(text: str, folder: str) -> str:
    """Without what differs from run to run: where it is kept, and the hashes that hold its name."""
    text = re.sub(r"\s+", " ", text).replace(f"/{folder}/", "/")
    return re.sub(r"\b[0-9a-f]{16,64}\b", "HASH", text)


def assert_all_red(text: str) -> None:
    """Every character that is seen stands between a red and its end."""
    for line in text.splitlines():
        assert not re.sub(r"\x1b\[31m[^\x1b]*\x1b\[0m", "", line).strip(), line


def test_each_stream_is_coloured_by_itself(place: Path) -> None:
    """Results into a file, words on a terminal: the file is bare, the words are red."""
    master, slave = pty.openpty()
    arguments = ("check", str(place / "set"), "--palette", "night")
    done = subprocess.run(
        [*PROGRAM, *arguments],
        stdout=subprocess.PIPE,
        stderr=slave,
        env=environment(),
        cwd=ROOT,
        timeout=60,
        check=False,
    )
    os.close(slave)
    shown = os.read(master, 10_000).decode()
    os.close(master)
    assert done.returncode == 1
    assert b"error[" in done.stdout
    assert b"\x1b" not in done.stdout
    assert set(SGR.findall(shown)) == {"31", "0"}
    assert_all_red(shown)


def test_what_is_typed_at_night_is_red_in_the_plain_terminal_too(place: Path, tmp_path: Path) -> None:
    """The terminal shows keys by itself, in the colour it was left in; it is put right when the line is taken."""
    folder = tmp_path / "run"
    at_once(*run_arguments(folder), typed=typed_day(ordinary()[:12]))
    screen = Screen(*resume_arguments(folder, "--color", "always", "--palette", "night"), plain=True)
    screen.answer("in mm:", "40")
    screen.answer("in mm:", "pause")
    assert screen.end() == 0
    typed = re.search(r"(.*)in mm: ?40\r\n(.*)", screen.seen)
    assert typed is not None
    assert SGR.findall(typed[1])[-1] == "31"
    assert typed[2].startswith("\x1b[0m")
    assert set(SGR.findall(screen.seen)) == {"31", "0"}


@pytest.mark.parametrize("name", NAMES)
def test_a_terminal_of_ascii_gets_ascii(place: Path, tmp_path: Path, name: str) -> None:
    """Signs have their forms in letters, by the encoding of the stream or by choice, in the same words."""
    arguments, typed = calls(place, tmp_path / "a")[name]
    _, *by_stream = shown(*arguments, typed=typed, encoding="ascii")
    arguments, typed = calls(place, tmp_path / "b")[name]
    _, *by_choice = shown(*arguments, "--ascii", typed=typed)
    arguments, typed = calls(place, tmp_path / "c")[name]
    _, *with_signs = shown(*arguments, typed=typed)
    for one, other, signs in zip(by_stream, by_choice, with_signs, strict=True):
        assert one.isascii()
        assert same(one, "a") == same(other, "b")
        assert "\\x" not in one
        assert ("±" in signs) <= ("+/-" in one)
        assert "±" not in other


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_drawn(place: Path, tmp_path: Path, name: str) -> None:
    """No line drawing and no blocks (Unicode, U+2500 to U+259F), no bell, nothing that goes back on a line."""
    arguments, typed = calls(place, tmp_path)[name]
    for text in shown(*arguments, typed=typed)[1:]:
        assert not re.search("[\u2500-\u259f\x07\x08\r\x1b]", text)


def test_a_plain_terminal_is_only_ever_added_to(place: Path, tmp_path: Path) -> None:
    """Each line once, ended by its end: what a screen reader has read aloud is never taken back."""
    folder = tmp_path / "run"
    at_once(*run_arguments(folder), typed=typed_day(ordinary()[:12]))
    screen = Screen(*resume_arguments(folder), plain=True)
    screen.answer("in mm:", "40")
    screen.answer("in mm:", "?")
    screen.answer("in mm:", "pause")
    assert screen.end() == 0
    assert not re.search("[\x07\x08\x1b]", screen.seen)
    assert "\r" not in screen.seen.replace("\r\n", "")


def test_a_width_that_is_set_is_kept(place: Path, tmp_path: Path) -> None:
    """And is never more than the terminal has."""
    lines = shown(*run_arguments(tmp_path / "run", "--width", "34"), typed=typed_day())[1].splitlines()
    assert 30 < max(map(len, lines)) <= 34
    screen = Screen(*resume_arguments(place / "left", "--width", "100"), columns=40)
    screen.answer("one of them:", "pause")
    assert screen.end() == 0
    assert "\n1 again" not in screen.text  # choices are on lines of their own, indented


# ---------------------------------------------------------------------------- in gloves


GLOVES = {
    "names": "a,b",
    "choice": "1",
    "quantity": "4",
}
"""What can be typed with digits and one letter, by kind of question; of a word and a name its first letter."""


def test_every_answer_is_digits_or_one_letter() -> None:
    """After the opening, where names and numbers of instruments are written down once. A text is somebody's words."""
    tried = set()
    for state, request, entry in STATES:
        if request.address.startswith("opening/") and request.kind not in ("word", "choice"):
            continue
        if request.kind == "text":
            continue
        typed = GLOVES.get(request.kind) or (request.choices[0] if request.kind == "word" else entry.reply.text)[0]
        said = understood(typed, request)
        assert not isinstance(said, Word)
        taken = decide(SAMPLE, state, Reply(said.text, said.kind, entry.reply.stamp))
        assert not isinstance(taken, Refused), (request.address, typed, taken)
        tried.add(request.kind)
    assert tried == {*GLOVES, "word", "name"}


def test_enter_alone_confirms_nothing() -> None:
    """At no question of a day, whatever it is about: the same question stays open."""
    for state, request, _ in STATES:
        for typed in ("", "  ", "="):
            said = understood(typed, request)
            if said is Word.NOTHING:
                continue
            assert not isinstance(said, Word)
            taken = decide(SAMPLE, state, Reply(said.text, said.kind, {"date": "2031-05-01"}))
            assert isinstance(taken, Refused), request.address


def test_enter_alone_accepts_no_deviation(place: Path, tmp_path: Path) -> None:
    """A reading out of tolerance stays where it is; so do the reason and the name that would accept it."""
    folder = tmp_path / "run"
    gap = next(i for i, r in enumerate(ordinary()) if r.address.endswith("gap"))
    typed = typed_day(ordinary()[:gap]) + "9\n" + "\n" * 3 + "acc\n" + "\n" * 3 + "seat worn\n" + "\n" * 3
    code, out, _ = shown(*run_arguments(folder), typed=typed)
    assert code == 1
    assert [r for _, _, r in recorded(folder)[gap:]] == ["9", "acc", "seat worn"]
    assert not [e for entry in opened(folder).entries for e in entry.then if e["is"] == "deviation"]
    assert out.count("nothing was typed") == 9


def test_what_was_understood_is_said_with_its_unit() -> None:
    """Before anything is built on it, in the unit of the question, also where another was typed."""
    for _, request, entry in STATES:
        if request.kind == "quantity":
            shown = plain_text(present.accepted(entry, 2, "0" * 64, Look()))
            assert re.search(rf"[0-9] {re.escape(request.unit)}\b", shown), shown
    in_cm = next(entry for _, _, entry in STATES if entry.reply.text == "3 cm")
    assert "30 mm" in plain_text(present.accepted(in_cm, 2, "0" * 64, Look()))


# ---------------------------------------------------------------------------- paths, and long work


@pytest.mark.parametrize("name", ["run", "with blank", "-dash", "it's", "$HOME", "caf\udce9", "a\nb", "é"])
def test_how_to_go_on_can_be_typed_as_it_stands(tmp_path: Path, name: str) -> None:
    """Whatever bytes the folder is called by, a shell (bash) gets it back from the words that are shown."""
    word = shell_word(name)
    done = subprocess.run(
        ["/bin/bash", "-c", f"printf '%s' {word}"], capture_output=True, cwd=tmp_path, timeout=60, check=True
    )
    assert os.fsdecode(done.stdout).removeprefix("./") == name


def test_long_work_is_named_once_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """A line of its own, red at night as all is; where nobody looks on there is none, and none where work is short."""

    class Stream:
        def __init__(self, terminal: bool) -> None:
            self.text, self.terminal, self.encoding = "", terminal, "utf-8"

        def isatty(self) -> bool:
            return self.terminal

        def write(self, text: str) -> None:
            self.text += text

        def flush(self) -> None:
            return

    for terminal, patience, expected in ((True, 0.0, "checking 3 files ...\n"), (False, 0.0, ""), (True, 3_600.0, "")):
        stream = Stream(terminal)
        monkeypatch.setattr(sys, "stderr", stream)
        with Working("checking 3 files", patience):
            while stream.text != expected:
                pass
        assert stream.text == expected


def test_a_sample_can_be_checked_without_a_word_of_progress() -> None:
    """Into a file there is the summary and nothing else."""
    assert proclang("check", SAMPLES).stderr == b"2 files, nothing found\n"
