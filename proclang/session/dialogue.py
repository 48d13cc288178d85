"""The full terminal: a line that can be edited, in colour, through prompt_toolkit; everything else is printed plainly.

Append-only: only the line being typed is ever redrawn. What is guarded against here:

- keys typed before a question are thrown away, so that they never answer it;
- a pasted text gives its first line only, and nothing is sent without Enter;
- no question is put to the terminal itself (cursor position), since one that does not answer costs a second each time;
- a mouse report in the input does nothing, and no key but Enter sends a line;
- every question gets a fresh prompt, so that nothing is left over from the one before.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING, TextIO

from proclang.session.conduct import Left
from proclang.session.look import Line, Look, fit_width
from proclang.text.colour import PALETTES

if TYPE_CHECKING:
    from prompt_toolkit.input import Input
    from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
    from prompt_toolkit.layout.processors import Processor
    from prompt_toolkit.output import Output
    from prompt_toolkit.styles import Style

_COLOURS = {"31": "ansired", "33": "ansiyellow", "36": "ansicyan", "32": "ansigreen", "1": "bold"}


class DialogueTerminal:
    """A terminal with a line editor. `source` and `target` are those of prompt_toolkit; by default the real ones."""

    patience = None

    def __init__(
        self,
        target: TextIO | None = None,
        *,
        ascii_only: bool = False,
        palette: str | None = None,
        width: int = 0,
        source: Input | None = None,
        output: Output | None = None,
    ) -> None:
        from prompt_toolkit.input.defaults import create_input
        from prompt_toolkit.output.vt100 import Vt100_Output

        self._target = target if target is not None else sys.stdout
        self._ascii = ascii_only
        self._palette = palette
        self._width = width
        self._input = source if source is not None else create_input()
        if output is None:
            output = Vt100_Output.from_pty(self._target, enable_bell=False)
            output.enable_cpr = False
        self._output = output

    def look(self) -> Look:
        """The width is the one asked for, but never more than the terminal has at this moment."""
        columns = self._output.get_size().columns
        return Look(fit_width(min(self._width or columns, columns)), self._ascii, self._palette)

    def show(self, lines: Iterable[Line]) -> None:
        """Print lines and see that they are out. Raises `OSError`."""
        look = self.look()
        self._target.write("".join(look.drawn(line) + "\n" for line in lines))
        self._target.flush()

    def read(self, prompt: str) -> str | Left:
        """One edited line. Ctrl-C and Ctrl-D leave."""
        from prompt_toolkit import PromptSession
        from prompt_toolkit.history import DummyHistory
        from prompt_toolkit.output import ColorDepth

        session: PromptSession[str] = PromptSession(
            message=[("class:prompt", prompt)],
            history=DummyHistory(),
            key_bindings=_bindings(),
            input_processors=[_visible()],
            style=_style(self._palette),
            color_depth=ColorDepth.DEPTH_1_BIT if self._palette is None else ColorDepth.DEPTH_4_BIT,
            include_default_pygments_style=False,
            complete_while_typing=False,
            validate_while_typing=False,
            enable_history_search=False,
            enable_suspend=True,
            reserve_space_for_menu=0,
            mouse_support=False,
            input=self._input,
            output=self._output,
        )
        self._forget_typed()
        try:
            return session.prompt()
        except KeyboardInterrupt:
            return Left("interrupted")
        except EOFError:
            return Left("paused")

    def _forget_typed(self) -> None:
        """What was typed before the question: parsed already, half parsed, or still with the system."""
        from prompt_toolkit.input.typeahead import clear_typeahead

        clear_typeahead(self._input)
        self._input.flush_keys()
        try:
            import termios

            termios.tcflush(self._input.fileno(), termios.TCIFLUSH)
        except (ImportError, termios.error, OSError, ValueError, NotImplementedError):
            return


def _bindings() -> KeyBindings:
    from prompt_toolkit.key_binding import KeyBindings
    from prompt_toolkit.keys import Keys

    bindings = KeyBindings()

    @bindings.add(Keys.BracketedPaste, eager=True)
    def _paste(event: KeyPressEvent) -> None:
        first = event.data.replace("\r\n", "\n").replace("\r", "\n").lstrip("\n").partition("\n")[0]
        event.current_buffer.insert_text(first)

    @bindings.add(Keys.Vt100MouseEvent, eager=True)
    @bindings.add(Keys.ScrollUp, eager=True)
    @bindings.add(Keys.ScrollDown, eager=True)
    @bindings.add(Keys.ControlO, eager=True)
    @bindings.add(Keys.ControlL, eager=True)
    @bindings.add(Keys.Escape, "#", eager=True)
    def _nothing(event: KeyPressEvent) -> None:
        """A mouse report, or a sequence that looks like one; Ctrl-O and Alt-#,
        which editors take for Enter; Ctrl-L, which would clear away the hazard above."""

    return bindings


def _visible() -> Processor:
    """What was typed or pasted, with characters that hide or reorder in their visible form; the reply keeps them, and
    is refused for them."""
    from itertools import accumulate

    from prompt_toolkit.layout.processors import Processor, Transformation, TransformationInput

    from proclang.text.printable import has_hidden, printable

    class Visible(Processor):
        def apply_transformation(self, transformation_input: TransformationInput) -> Transformation:
            fragments = transformation_input.fragments
            texts = [(fragment[0], fragment[1]) for fragment in fragments]
            if not any(has_hidden(text) for _, text in texts):
                return Transformation(fragments)
            shown = [(style, printable(char)) for style, text in texts for char in text]
            ends = [0, *accumulate(len(text) for _, text in shown)]

            def to_display(at: int) -> int:
                return ends[min(at, len(ends) - 1)]

            def to_source(at: int) -> int:
                return max(k for k, end in enumerate(ends) if end <= at)

            return Transformation(list(shown), to_display, to_source)

    return Visible()


def _style(palette: str | None) -> Style:
    from prompt_toolkit.styles import Style

    # What is left half-typed would be greyed, which no palette of ours has.
    named = {"aborting": "noinherit", "exiting": "noinherit"}
    codes = PALETTES[palette] if palette is not None else {}
    for style in ("", "prompt"):
        if style in codes:
            named[style] = " ".join(_COLOURS[code] for code in codes[style].split(";"))
    return Style.from_dict(named)
