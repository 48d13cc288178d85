"""Piers in the sun and the age of concrete and resin."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

import numpy as np
import pytest
from field_help import base, number, refusal, several

from proclang.field.door import call
from proclang.field.registry import find
from proclang.text.diagnostic import Problem
from proclang.values.dimension import INSTANT

EPOCH = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)


def at(name: str, instants: dict[str, dt.datetime], **given: str) -> list[Fraction] | Problem:
    """All results in base units of a calculation that takes instants."""
    calc = find(name)
    assert calc is not None
    read = {key: base(text) for key, text in given.items()}
    values = {key: Fraction((when - EPOCH) / dt.timedelta(microseconds=1)) / 10**6 for key, when in instants.items()}
    found = call(
        calc,
        values | {key: value for key, (value, _) in read.items()},
        dict.fromkeys(instants, INSTANT) | {key: dim for key, (_, dim) in read.items()},
    )
    return found if isinstance(found, Problem) else list(found)


POURED = dt.datetime(2024, 2, 27, 9, 30, tzinfo=dt.UTC)


def test_age_over_the_end_of_a_leap_february() -> None:
    """The standard library's calendar is the other opinion."""
    checked = dt.datetime(2024, 3, 2, 15, 0, tzinfo=dt.UTC)
    assert at("age", {"poured": POURED, "checked": checked}) == [(checked - POURED).total_seconds()]


def test_margin_to_the_age_asked_for() -> None:
    """Negative before it is reached, and the instant at which it will be."""
    checked = POURED + dt.timedelta(hours=6)
    found = at("cure_margin", {"poured": POURED, "checked": checked}, required="12 h", coldest="6 degC", least="5 degC")
    assert found == [-6 * 3600, (POURED + dt.timedelta(hours=12) - EPOCH).total_seconds()]


@pytest.mark.parametrize(
    ("checked", "changed", "word"),
    [
        (POURED + dt.timedelta(days=9), {"coldest": "4.9 degC"}, "colder"),
        (POURED - dt.timedelta(seconds=1), {}, "before it was poured"),
        (POURED + dt.timedelta(days=9), {"required": "0 h"}, "above zero"),
    ],
)
def test_an_age_that_says_nothing_is_refused(checked: dt.datetime, changed: dict[str, str], word: str) -> None:
    """However old: frost stops the cure, and exchanged instants would look like a good age."""
    given = {"required": "12 h", "coldest": "6 degC", "least": "5 degC"} | changed
    found = at("cure_margin", {"poured": POURED, "checked": checked}, **given)
    assert isinstance(found, Problem)
    assert word in found.message


def test_a_pier_warmed_on_one_side_bends() -> None:
    """Independent: the curvature alpha dT / w integrated twice by numpy over ten thousand slices."""
    found = several("pier_tilt", "rad", "m", expansion="10 ppm/K", difference="3 K", height="1.8 m", width="600 mm")
    slices = np.linspace(0, 1.8, 10_001)
    tilt = np.full_like(slices, 10e-6 * 3 / 0.6) * slices
    assert found[0] == pytest.approx(tilt[-1])
    assert found[1] == pytest.approx(np.trapezoid(tilt, slices) if hasattr(np, "trapezoid") else np.trapz(tilt, slices))


def test_a_pier_warmed_all_through_grows() -> None:
    """12 ppm/K of steel: a 2 m pier is 0.48 mm taller after 20 K, a textbook ratio."""
    assert number("pier_growth", "mm", expansion="12 ppm/K", difference="20 K", height="2 m") == pytest.approx(0.48)


def test_a_pier_that_tilts_beyond_belief_is_refused() -> None:
    """A unit slip: 10 %/K instead of 10 ppm/K."""
    assert "units" in refusal("pier_tilt", expansion="10 %/K", difference="3 K", height="1.8 m", width="0.6 m").message
