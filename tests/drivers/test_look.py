"""Width, signs and colour: what is drawn says the same whatever the terminal can do."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wcwidth import wcswidth

from proclang.session.look import Look, columns, fit_width, wrap
from proclang.text.colour import PALETTES, needs_ascii, wants_colour
from proclang.text.printable import has_hidden, printable

TEXTS = st.text(st.characters(codec="utf-8"), max_size=200).map(printable)


@given(TEXTS, st.integers(20, 100), st.integers(0, 6))
def test_no_line_is_wider_than_asked(text: str, width: int, indent: int) -> None:
    """Measured with wcwidth (Unicode East Asian Width), which is no part of this project."""
    for line in wrap(text, width, " " * indent, " " * (indent + 2)):
        assert wcswidth(line) <= width


@given(TEXTS, st.integers(20, 100))
def test_wrapping_loses_nothing_but_blanks(text: str, width: int) -> None:
    assert "".join("".join(wrap(text, width)).split()) == "".join(text.split())


def test_wide_characters_take_two_columns() -> None:
    """UAX 11 (from memory): CJK ideographs are wide, combining marks take no column."""
    assert columns("傾き") == 4
    assert columns("e\u0301") == 1
    assert wrap("傾" * 20, 20) == ["傾" * 10, "傾" * 10]


def test_a_word_longer_than_a_line_is_broken() -> None:
    assert wrap("x" * 25, 10, "", "  ") == ["x" * 10, "  " + "x" * 8, "  " + "x" * 7]


def test_an_address_is_broken_after_a_slash() -> None:
    assert wrap("level_base/prepare/check_landed", 22) == ["level_base/prepare/", "check_landed"]


def test_an_empty_text_is_one_empty_line() -> None:
    assert wrap("", 20, "  ", "    ") == [""]


@given(st.text(max_size=100))
def test_what_is_shown_holds_no_hidden_character(text: str) -> None:
    assert not has_hidden(Look().shown(text))
    assert Look(ascii=True).shown(text).isascii()


def test_signs_have_ascii_forms() -> None:
    look = Look(ascii=True)
    assert look.shown("40 ± 1 °C → µm − é") == "40 +/- 1 degC -> um - \\u{e9}"


@pytest.mark.parametrize("palette", PALETTES)
def test_colour_repeats_what_the_words_say(palette: str) -> None:
    """With the sequences taken off, the line is the plain one."""
    line = (("danger", "DANGER: "), ("", "Steam"), ("quiet", "."), ("fails", ""))
    drawn = Look(palette=palette).drawn(line)
    assert re.sub(r"\x1b\[[0-9;]*m", "", drawn) == Look().drawn(line) == "DANGER: Steam."


def test_night_is_red_and_nothing_else() -> None:
    """SGR 31 is a red foreground (ECMA-48); no bold, no other hue, no background, not even for plain text."""
    drawn = Look(palette="night").drawn(tuple((style, "x") for style in ("", "quiet", "danger", "passes", "prompt")))
    assert set(re.findall(r"\x1b\[([0-9;]*)m", drawn)) == {"31", "0"}
    assert set(PALETTES["normal"]) <= set(PALETTES["night"])


def test_mono_has_no_colour() -> None:
    assert {code for codes in PALETTES["mono"].values() for code in codes.split(";")} == {"1"}


@pytest.mark.parametrize(
    ("flag", "terminal", "environment", "wanted"),
    [
        ("auto", True, {"TERM": "xterm"}, True),
        ("auto", False, {"TERM": "xterm"}, False),
        ("auto", True, {"TERM": "dumb"}, False),
        ("auto", True, {}, False),
        ("auto", True, {"TERM": "xterm", "NO_COLOR": "1"}, False),
        ("auto", True, {"TERM": "xterm", "NO_COLOR": ""}, True),  # no-color.org: only when not empty
        ("auto", False, {"FORCE_COLOR": "1"}, True),
        ("auto", False, {"FORCE_COLOR": "0"}, False),
        ("auto", False, {"CLICOLOR_FORCE": "1", "TERM": "dumb"}, True),
        ("auto", True, {"NO_COLOR": "1", "FORCE_COLOR": "1"}, False),
        ("always", False, {"NO_COLOR": "1"}, True),
        ("never", True, {"FORCE_COLOR": "1", "TERM": "xterm"}, False),
    ],
)
def test_who_decides_on_colour(flag: str, terminal: bool, environment: dict[str, str], wanted: bool) -> None:
    """The flag, then NO_COLOR, then FORCE_COLOR and CLICOLOR_FORCE, then TERM, then whether it is a terminal."""
    assert wants_colour(flag, terminal, environment) is wanted


@pytest.mark.parametrize(
    ("encoding", "wanted"), [("utf-8", False), ("ascii", True), ("latin-1", True), (None, True), ("no such code", True)]
)
def test_ascii_is_chosen_by_what_the_stream_can_show(encoding: str | None, wanted: bool) -> None:
    assert needs_ascii(encoding) is wanted


def test_the_width_stays_readable() -> None:
    """COLUMNS=1 and a terminal across two screens are both survived."""
    assert [fit_width(n) for n in (0, 1, 40, 80, 500)] == [20, 20, 40, 80, 100]
