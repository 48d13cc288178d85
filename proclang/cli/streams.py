"""The two streams of the program: results on standard output, words for people on standard error.

Each is coloured by itself, by the same rules; data for programs is never coloured and never changed.
"""

from __future__ import annotations

import errno
import os
import sys

TYPE_CHECKING = False  # as `typing` has it, which takes longer to load than all that is here
if TYPE_CHECKING:
    from threading import Timer
    from typing import TextIO

_palettes: dict[str, str | None] = {"stdout": None, "stderr": None}
_ascii: set[str] = set()


def dress(color: str = "never", palette: str = "normal", ascii_only: bool = False) -> None:
    """Choose how the streams look, for as long as one command runs. Without arguments: bare."""
    _palettes.update(stdout=None, stderr=None)
    _ascii.clear()
    if ascii_only:
        _ascii.update(_palettes)
    if color != "never":
        from proclang.text.colour import is_terminal, wants_colour

        for name in _palettes:
            if wants_colour(color, is_terminal(getattr(sys, name)), os.environ):
                _palettes[name] = palette


def palette_of(name: str) -> str | None:
    """The palette `stdout` or `stderr` is coloured by, None for no colour."""
    return _palettes[name]


def say(*lines: str) -> None:
    """Words for people go to standard error; what was typed may hold anything, so it is made safe to show."""
    from proclang.text.printable import printable

    if sys.stderr is not None:
        try:
            sys.stderr.write(_dressed("".join(printable(line) + "\n" for line in lines), "stderr", sys.stderr))
            sys.stderr.flush()
        except OSError:
            return


def say_block(text: str) -> None:
    """The same of a text of several lines that is safe to show already."""
    if sys.stderr is not None:
        try:
            sys.stderr.write(_dressed(text, "stderr", sys.stderr))
            sys.stderr.flush()
        except OSError:
            return


def put(text: str) -> None:
    """Results for people go to standard output. Raises `OSError`, also when that is closed."""
    put_data(_dressed(text, "stdout", sys.stdout))


def put_data(text: str) -> None:
    """Results for programs go to standard output as they are. Raises `OSError`, also when that is closed."""
    if sys.stdout is None:
        raise OSError(errno.EBADF, os.strerror(errno.EBADF))
    sys.stdout.write(text)


def put_bytes(data: bytes) -> None:
    """A file goes to standard output byte for byte. Raises `OSError`, also when that is closed."""
    put_data("")
    sys.stdout.flush()
    sys.stdout.buffer.write(data)


PATIENCE = 0.1
"""Seconds after which a program that says nothing seems to hang (clig.dev, "Output")."""


class Working:
    """While something takes long, say once what it is: only where somebody looks on, and on a line of its own."""

    def __init__(self, words: str, patience: float = PATIENCE) -> None:
        self._words = words
        self._patience = patience
        self._timer: Timer | None = None

    def __enter__(self) -> None:
        from proclang.text.colour import is_terminal

        if is_terminal(sys.stderr):
            from threading import Timer

            self._timer = Timer(self._patience, say, (f"{self._words} ...",))
            self._timer.daemon = True
            self._timer.start()

    def __exit__(self, *raised: object) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer.join()  # a line begun is ended before anything else is said


def fitted(line: str, stream: TextIO | None) -> list[str]:
    """A line as it fits the terminal behind a stream; as it is where there is none."""
    from proclang.text.colour import is_terminal

    if stream is None or not is_terminal(stream):
        return [line]
    import shutil

    from proclang.session.look import fit_width, wrap
    from proclang.text.printable import printable

    return wrap(printable(line), fit_width(shutil.get_terminal_size().columns), "", "  ")


def words_for_signal(*lines: str) -> bytes:
    """What is written to standard error from a signal handler, where nothing may be worked out any more.

    Each line is begun anew, since the terminal may be in the middle of one and may not turn a line end into two codes.
    """
    text = _dressed("\n".join(("", *lines, "")), "stderr", sys.stderr)
    return text.replace("\n", "\r\n").encode("utf-8", "backslashreplace")


def _dressed(text: str, name: str, stream: TextIO | None) -> str:
    if text.isascii():
        if _palettes[name] is None:
            return text
    else:
        from proclang.text.colour import needs_ascii

        encoding = getattr(stream, "encoding", None)
        if name in _ascii or (encoding is not None and needs_ascii(encoding)):
            from proclang.text.printable import ascii_form

            text = "".join(c if c.isascii() else f"\\u{{{ord(c):x}}}" for c in ascii_form(text))
    from proclang.text.colour import painted_lines

    return painted_lines(text, _palettes[name])


def fill_descriptors() -> None:
    """Put the null device where standard input, output or error is closed, before any file is opened.

    A file that is opened gets the lowest number that is free: the journal would become standard error, and words for
    people would be written into it.
    """
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)


def drop_output() -> None:
    """Keep the interpreter from failing once more, at its end, on what could not be written."""
    try:
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, sys.stdout.fileno())
        os.close(null)
    except (OSError, ValueError, AttributeError):
        return
