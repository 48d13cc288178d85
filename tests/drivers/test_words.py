"""Words at a prompt: what is for the driver, what for the procedure, and how either can always be said."""

from __future__ import annotations

import pytest

from proclang.engine.model import Request
from proclang.session.conduct import Said
from proclang.session.talk import Word, understood

TEXT = Request("text", "a/b", "What?")
WAYS = Request("choice", "a/b", "What now?", choices=("again", "stop"))
CHOICE = Request("choice", "a/b", "Which?", choices=("pause", "help", "here"))


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("12.4 mm", Said("12.4 mm")),
        ("  12.4 mm\t", Said("12.4 mm")),
        ("", Word.NOTHING),
        ("   ", Word.NOTHING),
        ("help", Word.HELP),
        ("HELP", Word.HELP),
        ("?", Word.HELP),
        ("here", Word.HERE),
        ("entered", Word.ENTERED),
        ("pause", Word.PAUSE),
        ("stop", Said("", "stop")),
        ("Stop", Said("", "stop")),
        ("stop: smoke from the drive", Said("smoke from the drive", "stop")),
        ("stop:", Said("", "stop")),
        ("! cloud came over", Said("cloud came over", "note")),
        ("!", Said("", "note")),
        # an answer that only begins with a word is an answer
        ("stop button replaced", Said("stop button replaced")),
        ("help came at noon", Said("help came at noon")),
        ("pauses", Said("pauses")),
        # and any answer at all can be given behind `=`
        ("= stop", Said("stop")),
        ("=help", Said("help")),
        ("= ! loud", Said("! loud")),
        ("= = 5", Said("= 5")),
        ("=", Said("")),
        ("? no", Said("? no")),
    ],
)
def test_typed_at_a_question_for_a_text(typed: str, meant: Said | Word) -> None:
    assert understood(typed, TEXT) == meant


@pytest.mark.parametrize("word", ["pause", "help", "here", "Pause"])
def test_a_word_the_question_offers_is_its_answer(word: str) -> None:
    """Otherwise a choice could not be chosen."""
    assert understood(word, CHOICE) == Said(word)


def test_stop_is_a_way_where_it_is_offered_and_always_a_stop_with_a_colon() -> None:
    assert understood("stop", WAYS) == Said("stop")
    assert understood("stop: wind", WAYS) == Said("wind", "stop")
    assert understood("?", CHOICE) is Word.HELP
