"""The plain terminal: lines out, lines in, nothing moved or drawn over.

One way of working for screen readers, serial lines, dumb terminals, captures and pipes. Where a terminal is behind the
input, what was typed before a question is thrown away; where it is not, replies are echoed, since nobody else does.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from typing import TextIO

from proclang.session.conduct import Left
from proclang.session.look import Line, Look, fit_width
from proclang.session.present import echo
from proclang.text.colour import PLAIN_AGAIN
from proclang.text.limits import REPLY_CHARACTERS

_LONGEST_READ = 4 * REPLY_CHARACTERS
_MOST_DROPPED = 1 << 20
_PATIENCE = 100


class PlainTerminal:
    """Lines on two streams. `ascii_only` and `palette` as in `Look`; `width` 0 is that of the terminal."""

    def __init__(
        self,
        source: TextIO | None,
        target: TextIO,
        *,
        ascii_only: bool = False,
        palette: str | None = None,
        width: int = 0,
    ) -> None:
        self._source = source
        self._target = target
        self._ascii = ascii_only
        self._palette = palette
        self._width = width
        self._interactive = source is not None and source.isatty()

    @property
    def patience(self) -> int | None:
        """A pipe learns nothing from being refused, and may never end."""
        return None if self._interactive else _PATIENCE

    def look(self) -> Look:
        """The width is the one asked for, that of the terminal, COLUMNS, or 80."""
        return Look(fit_width(self._width or shutil.get_terminal_size().columns), self._ascii, self._palette)

    def show(self, lines: Iterable[Line]) -> None:
        """Print lines and see that they are out. Raises `OSError`."""
        look = self.look()
        self._target.write("".join(look.drawn(line) + "\n" for line in lines))
        self._target.flush()

    def read(self, prompt: str) -> str | Left:
        """One line typed. A last line that was never ended does not count: it may be the half of a reply."""
        if self._interactive:
            self._forget_typed()
        look = self.look()
        shown = look.drawn((("prompt", prompt),))
        # At night what is typed, which the terminal shows by itself, has to be red as well.
        typed_too = self._interactive and look.drawn((("", "x"),)) != "x"
        self._target.write(shown.removesuffix(PLAIN_AGAIN) if typed_too else shown)
        self._target.flush()
        try:
            typed = self._line()
        except KeyboardInterrupt:
            self._target.write(PLAIN_AGAIN if typed_too else "")
            self._target.write("\n")
            return Left("interrupted")
        self._target.write(PLAIN_AGAIN if typed_too else "")
        if isinstance(typed, Left):
            self._target.write("\n")
            self._target.flush()
            return typed
        if not self._interactive:
            first, *more = echo(prompt, typed, look)
            self._target.write(look.drawn(first[1:]) + "\n")
            self.show(more)
        return typed

    def _line(self) -> str | Left:
        if self._source is None:
            return self._input_over("there is no input")
        try:
            typed = self._source.readline(_LONGEST_READ)
        except OSError as error:
            return self._input_over(f"the input cannot be read: {error.strerror or error}", failed=True)
        if typed.endswith("\n"):
            return typed.rstrip("\r\n")
        if len(typed) < _LONGEST_READ:
            half = f"; `{typed.strip()[:40]}` was not followed by Enter and was not taken" if typed.strip() else ""
            return self._input_over(f"the input ends here{half}")
        dropped = len(typed)
        while dropped < _MOST_DROPPED:
            more = self._source.readline(_LONGEST_READ)
            dropped += len(more)
            if not more or more.endswith("\n"):
                return typed  # too long for any answer, and refused as such
        return self._input_over("the input is one endless line")

    def _input_over(self, words: str, *, failed: bool = False) -> Left:
        """Ctrl-D at a terminal is somebody leaving; a pipe that ends, or a line that fails, leaves a question open."""
        return Left("paused") if self._interactive and not failed else Left("input over", words)

    def _forget_typed(self) -> None:
        import termios

        try:
            assert self._source is not None
            termios.tcflush(self._source.fileno(), termios.TCIFLUSH)
        except (termios.error, OSError, ValueError):
            return
