"""Promise H2: a source reads as it looks.

CVE-2021-42574: bidi controls reorder what is shown. CVE-2021-42694: letters of two scripts look alike. Identifiers,
keywords, numbers and units are ASCII here (units have a few signs of their own), so two names that look alike cannot be
two names; where another script stands in a name, it is a finding. In a text it is only text.
"""

from __future__ import annotations

import unicodedata
from fractions import Fraction

import pytest
from promise_help import BIDI

from proclang.check.check import check_files
from proclang.session.site import Site, read_site
from proclang.text.diagnostic import Problem, Severity
from proclang.values.reader import Entered, read_quantity
from proclang.values.unit import Unit, find_unit

SOURCE = """\
proclang 1  # comment
procedure talk "title"
labels corners east, west
inputs
  arm: length = 400 mm "words"
needs
  crew lead
  authority lead
section seat "Seat"
  warning glare "Glare"
    risk "Eye damage."
    avoid "Look away."
  step look "Look at {arm}." by lead
    measure gap in mm
      within 1 .. 2 mm
    note remark "What was seen"
"""
PLACES = {
    "a comment": ("# comment", "# com{}ment"),
    "the end of a comment": ("# comment\n", "# comment{}\n"),
    "a title": ('"title"', '"ti{}tle"'),
    "a sentence": ('"Look away."', '"Look {}away."'),
    "an insert": ("{{arm}}".replace("{{", "{").replace("}}", "}"), "{a{}rm}"),
    "an identifier": ("step look", "step lo{}ok"),
    "a label": ("east, west", "ea{}st, west"),
    "a unit": ("in mm", "in m{}m"),
    "a number": ("400 mm", "4{}00 mm"),
    "a keyword": ("measure gap", "mea{}sure gap"),
    "blanks at the beginning": ("  step look", "  {}step look"),
}


def found(text: str) -> list[str]:
    """Codes of the errors."""

    class Nothing:
        """No other file."""

        def shown(self, name: str) -> str:
            return f"{name}.proc"

        def read(self, name: str) -> bytes | None:
            return None

        def names(self) -> tuple[str, ...]:
            return ()

    checked = check_files("talk", text.encode(), Nothing())
    return [f.code for f in checked.findings if f.severity is Severity.ERROR]


def put(place: str, sign: str) -> str:
    """The source with a sign in one place."""
    before, after = PLACES[place]
    assert SOURCE.count(before) == 1
    return SOURCE.replace(before, after.replace("{}", sign, 1) if "{a" not in after else "{a" + sign + "rm}")


def test_the_source_has_no_errors_without_them() -> None:
    assert found(SOURCE) == []


@pytest.mark.parametrize("place", PLACES)
def test_bidi_controls_are_errors_wherever_they_stand(place: str) -> None:
    """Twelve of them, the nine of the CVE and the three marks, with one code."""
    for sign in BIDI:
        assert unicodedata.bidirectional(sign) in [
            "AL",
            "R",
            "L",
            "LRE",
            "RLE",
            "PDF",
            "LRO",
            "RLO",
            "LRI",
            "RLI",
            "FSI",
            "PDI",
        ]
        assert "hidden-character" in found(put(place, sign)), (place, hex(ord(sign)))


OTHERS = {
    "Cyrillic": "\u0430",  # looks like a
    "Greek": "\u03bf",  # looks like o
    "Armenian": "\u0585",  # looks like o
    "full width": "\uff41",
    "mathematical": "\U0001d41a",
    "combining": "e\u0301",
    "with a mark": "\u00e9",
    "Kelvin sign": "\u212a",
    "Arabic digit": "\u0663",
    "full-width digit": "\uff12",
}


@pytest.mark.parametrize("script", OTHERS)
@pytest.mark.parametrize("place", ["an identifier", "a label", "a unit", "a number", "a keyword", "an insert"])
def test_other_scripts_are_errors_outside_texts(place: str, script: str) -> None:
    """Names are ASCII, so of a pair that looks alike one is not a name: nothing is left to be warned of."""
    assert found(put(place, OTHERS[script])) != []


@pytest.mark.parametrize("script", OTHERS)
@pytest.mark.parametrize("place", ["a comment", "a title", "a sentence"])
def test_other_scripts_are_welcome_in_texts(place: str, script: str) -> None:
    assert found(put(place, OTHERS[script])) == []


@pytest.mark.parametrize("text", ["１２.５", "٣", "१२", "𝟙𝟚", "1２", "１ mm", "5 ｍｍ", "½ 5"])
def test_digits_of_other_scripts_are_refused_in_replies(text: str) -> None:
    """`float` of the standard library reads the first two as 12.5 and 3."""
    if text in ("１２.５", "٣"):
        assert float(text) in (12.5, 3.0)
    assert isinstance(read_quantity(text, reply=True), Problem)


PAIRS = [
    ("\u212b", "\u00c5"),  # angstrom sign, A with ring: canonically equal (Unicode NFC makes them one)
    ("\u00b5", "\u03bc"),  # micro sign, Greek mu: compatibility equal
    ("\u2126", "\u03a9"),  # ohm sign, Greek omega
    ("\u212a", "K"),  # kelvin sign
]


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_two_forms_of_one_sign_are_never_two_units(one: str, other: str) -> None:
    """Both are read as the same unit, or the odd one is refused: what looks the same means the same."""
    assert unicodedata.normalize("NFKC", one) == unicodedata.normalize("NFKC", other)
    for before in ("", "m", "k"):
        for after in ("", "m", "A", "s"):
            first, second = find_unit(before + one + after), find_unit(before + other + after)
            if isinstance(first, Unit) and isinstance(second, Unit):
                assert (first.dimension, first.factor) == (second.dimension, second.factor)


def test_both_signs_for_micro_are_the_same_micrometre() -> None:
    """U+00B5 comes from keyboards, U+03BC is what Unicode prefers (UTR 25); both are typed."""
    for sign in ("\u00b5", "\u03bc"):
        entered = read_quantity(f"5 {sign}m", reply=True)
        assert isinstance(entered, Entered), entered
        assert entered.quantity.value == Fraction(5, 10**6)


def test_a_fact_or_a_name_of_a_site_may_be_in_any_script_but_hides_nothing() -> None:
    def read(title: str) -> object:
        return read_site(f'[site]\nname = "x"\ntitle = "{title}"\n[facts]\n'.encode(), "site.toml")

    assert isinstance(read("Гора (invented)"), Site)
    for sign in BIDI:
        assert isinstance(read(f"Ridge{sign}"), tuple)
