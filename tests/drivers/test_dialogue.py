"""The line editor: what reaches the procedure of the keys that are pressed, without any real terminal."""

from __future__ import annotations

import io
from collections.abc import Iterator

import pytest
from prompt_toolkit.application import create_app_session
from prompt_toolkit.input import PipeInput, create_pipe_input
from prompt_toolkit.output import DummyOutput

from proclang.session.conduct import Left
from proclang.session.dialogue import DialogueTerminal


@pytest.fixture
def keys() -> Iterator[PipeInput]:
    with create_pipe_input() as source, create_app_session(input=source, output=DummyOutput()):
        yield source


def terminal(keys: PipeInput, target: io.StringIO | None = None, palette: str | None = None) -> DialogueTerminal:
    return DialogueTerminal(
        target if target is not None else io.StringIO(), source=keys, output=DummyOutput(), palette=palette
    )


class EarlyKeys(DialogueTerminal):
    """A terminal whose keys are pressed just after the question was shown: nothing of them may be thrown away."""

    def _forget_typed(self) -> None:
        super()._forget_typed()
        source = self._input
        assert isinstance(source, PipeInput)
        source.send_text(self.then)

    then = ""


def after(keys: PipeInput, typed: str, palette: str | None = None) -> str | Left:
    """What one question gives for these keys."""
    screen = EarlyKeys(io.StringIO(), source=keys, output=DummyOutput(), palette=palette)
    screen.then = typed
    return screen.read("answer: ")


def test_a_line_is_what_was_typed_before_enter(keys: PipeInput) -> None:
    assert after(keys, "12.4 mm\r") == "12.4 mm"


def test_a_line_can_be_edited(keys: PipeInput) -> None:
    """Backspace, left, home: no answer has to be typed twice with gloves on."""
    assert after(keys, "12.5\x7f4 mm\x1b[D\x1b[D\x1b[DX\r") == "12.4X mm"


def test_ctrl_c_and_ctrl_d_leave(keys: PipeInput) -> None:
    assert after(keys, "12\x03") == Left("interrupted")
    assert after(keys, "\x04") == Left("paused")


def test_keys_pressed_before_the_question_never_answer_it(keys: PipeInput) -> None:
    """An Enter left over from the question before must not accept anything. Keys already parsed are held by
    prompt_toolkit itself, which hands them to the next prompt."""
    from prompt_toolkit.input.typeahead import store_typeahead
    from prompt_toolkit.key_binding import KeyPress
    from prompt_toolkit.keys import Keys

    store_typeahead(keys, [KeyPress("y"), KeyPress(Keys.ControlM, "\r")])
    assert after(keys, "no\r") == "no"


def test_what_stands_behind_enter_in_one_burst_does_not_answer_the_next_question(keys: PipeInput) -> None:
    assert after(keys, "one\rtwo\r") == "one"
    assert after(keys, "three\r") == "three"


@pytest.mark.parametrize("end", ["\r", "\n", "\r\n"])
def test_a_paste_gives_its_first_line_and_no_enter(keys: PipeInput, end: str) -> None:
    """Bracketed paste (DEC private mode 2004): what is between the marks was not typed."""
    assert after(keys, f"\x1b[200~{end}first{end}second{end}\x1b[201~!\r") == "first!"


@pytest.mark.parametrize("noise", ["\x1b[<0;10;10M", "\x1b[<64;1;1M", "\x1b[31m", "\x1b[M !!", "\x1b[5;5R"])
def test_terminal_reports_in_the_input_do_nothing(keys: PipeInput, noise: str) -> None:
    """Mouse reports, or what is taken for one, and late answers about the cursor."""
    assert after(keys, f"{noise}ok\r") == "ok"


def test_there_is_no_history_to_slip_into(keys: PipeInput) -> None:
    """Arrow up must not bring the answer to another question."""
    assert after(keys, "first\r") == "first"
    assert after(keys, "\x1b[Asecond\r") == "second"


def test_hostile_text_is_handed_on_and_refused_later(keys: PipeInput) -> None:
    """The engine refuses hidden characters; the editor only passes text on."""
    assert after(keys, "a\u202eb\r") == "a\u202eb"


@pytest.mark.parametrize("palette", [None, "normal", "mono", "night"])
def test_every_palette_reads(keys: PipeInput, palette: str | None) -> None:
    assert after(keys, "ok\r", palette) == "ok"


def test_lines_go_out_plainly(keys: PipeInput) -> None:
    """Only the line being typed belongs to the editor; the rest is written once and stays."""
    target = io.StringIO()
    terminal(keys, target).show([(("danger", "DANGER: "), ("", "<b>Steam</b>"))])
    assert target.getvalue() == "DANGER: <b>Steam</b>\n"
    target = io.StringIO()
    terminal(keys, target, "night").show([(("danger", "DANGER"),)])
    assert target.getvalue() == "\x1b[31mDANGER\x1b[0m\n"


def test_the_terminal_is_never_asked_for_its_cursor() -> None:
    """A terminal that does not answer costs a second at each question."""
    from prompt_toolkit.output.vt100 import Vt100_Output

    screen = DialogueTerminal(io.StringIO())
    assert isinstance(screen._output, Vt100_Output)
    assert not screen._output.responds_to_cpr
