"""Expressions as functions of values: exact, with dimensions proved before."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lowering_help import HEADER, Known, amount, routine

from proclang.program import model as m
from proclang.values.number import GREATEST_MAGNITUDE

UNITS = pint.UnitRegistry()


def value(expression: str, env: Known, lines: str = "") -> Any:
    """An expression, computed."""
    made = routine(f"{lines}\ncompute result = {expression}".strip("\n"))
    formula = next(i for i in made.code if isinstance(i, m.ComputeValue) and i.targets[0][0].name == "result").formula
    return formula.evaluate(env)


def holds(condition: str, env: Known, lines: str = "") -> bool:
    """A condition, decided."""
    made = routine(f'{lines}\nwhen {condition}\n  step deep_end "End."'.strip("\n"))
    outcome = next(i for i in made.code if isinstance(i, m.Branch)).condition.evaluate(env)
    assert isinstance(outcome, bool)
    return outcome


RING = Known({"ring": {"": "540 mm"}}, {"slab": "steel"})


@pytest.mark.parametrize(
    ("expression", "unit", "oracle"),
    [
        ("ring + 1 inch", "meter", "540*mm + 1*inch"),
        ("ring - 3/8 inch", "meter", "540*mm - 0.375*inch"),
        ("ring / 2 * 3", "meter", "540*mm/2*3"),
        ("ring ^ 2 - 1 m^2", "meter**2", "(540*mm)**2 - 1*m**2"),
        ("-ring / (3 mm)", "", "-540/3"),
        ("2 * (ring + ring)", "meter", "4*540*mm"),
        ("10 kgf * ring / 1 rad", "newton*meter", "10*kgf*540*mm"),
        ("1 kip / (1 inch * ring)", "pascal", "1000*lbf/(1*inch*540*mm)"),
        ("90 deg / 3 s", "deg/s", "90*deg/(3*s)"),
        ("(1 deg 30 arcmin) * 2", "deg", "3*deg"),
    ],
)
def test_arithmetic_against_a_general_library_of_units(expression: str, unit: str, oracle: str) -> None:
    """pint 0.24 works the same sum out in floating point; ours is exact, in metres, degrees, newton metres."""
    ours = value(expression, RING)
    theirs = UNITS.parse_expression(oracle)
    number = theirs.to(unit).magnitude if unit else theirs
    assert float(ours) == pytest.approx(float(number), rel=1e-12)


def test_operators_bind_as_they_do_on_paper() -> None:
    """Powers before signs, signs before products, products before sums, from the left."""
    env = Known()
    assert value("2 + 3 * 4 ^ 2 / 8 - 1", env) == 7
    assert value("-2 ^ 2", env) == -4
    assert value("8 / 4 / 2", env) == 1
    assert value("8 - 4 - 2", env) == 2
    assert value("2 * -3", env) == -6


def test_nothing_is_lost_in_thirds() -> None:
    """Fractions, not floats."""
    assert value("ring / 7 * 7 - ring", RING) == 0
    assert value("1/3 + 1/3 + 1/3", Known()) == 1


@given(st.fractions(-1000, 1000, max_denominator=997), st.fractions(-1000, 1000, max_denominator=997))
def test_sums_and_differences_are_those_of_fractions(a: Fraction, b: Fraction) -> None:
    """Python's own fractions are the oracle."""
    env = Known({"gap": {"": f"{a.numerator}/{a.denominator} m"}, "rim": {"": f"{b.numerator}/{b.denominator} m"}})
    assert _SUM.evaluate(env) == a + b - (a - b) * 2


_READ = 'step read "Read."\n  measure gap in mm\n  measure rim in mm'
_SUM = next(
    i for i in routine(f"{_READ}\ncompute result = gap + rim - (gap - rim) * 2").code if isinstance(i, m.ComputeValue)
).formula


def test_bearings_differ_the_shorter_way_round() -> None:
    """1 deg less 359 deg is 2 deg, and half a turn counts as plus."""
    lines = 'step sight "Sight."\n  measure near in deg true\n  measure far in deg true'

    def apart(near: str, far: str) -> Fraction:
        env = Known({"near": {"": f"{near} deg true"}, "far": {"": f"{far} deg true"}})
        result = value("near - far", env, lines)
        assert isinstance(result, Fraction)
        return result

    assert apart("1", "359") == 2
    assert apart("359", "1") == -2
    assert apart("0", "180") == 180
    assert apart("180", "0") == 180
    assert apart("10", "10") == 0


def test_a_value_that_is_not_known_is_said_and_not_guessed() -> None:
    """The reason names it."""
    with pytest.raises(m.NotKnown, match="`ring` is not known"):
        value("ring + 1 mm", Known())


@pytest.mark.parametrize(
    ("expression", "reason"),
    [("ring / (ring - ring)", "divide by zero"), ("sqrt(0 - 1)", "below zero|negative")],
)
def test_what_has_no_answer_is_not_known(expression: str, reason: str) -> None:
    """Neither infinity nor nothing comes out."""
    with pytest.raises(m.NotKnown, match=reason):
        value(expression, RING)


def test_what_grows_past_every_size_is_not_known() -> None:
    """Powers of powers end in a reason, not in an endless number."""
    expression = "((((10 ^ 9) ^ 9) ^ 9) ^ 9)"
    assert GREATEST_MAGNITUDE < 9**4
    with pytest.raises(m.NotKnown, match="too large"):
        value(expression, Known())


def test_comparisons_are_exact_on_the_limit() -> None:
    """540 mm is 0.54 m."""
    assert holds("ring <= 0.54 m", RING)
    assert holds("ring >= 54 cm", RING)
    assert not holds("ring < 540 mm", RING)
    assert not holds("ring > 540 mm", RING)


def test_conditions_join_as_they_read() -> None:
    """`not` before `and` before `or`."""
    assert holds("slab is steel", RING)
    assert not holds("not slab is steel", RING)
    assert holds("slab is concrete or slab is steel and ring > 1 mm", RING)
    assert not holds("(slab is concrete or slab is steel) and ring > 1 m", RING)
    assert holds("not (slab is concrete) and not (ring > 1 m)", RING)


def test_a_verdict_is_asked_of_the_run() -> None:
    """Undecided has neither passed nor failed."""
    lines = 'step read "Read."\n  measure gap in mm\n    at most 2 mm'
    for outcome, passes, fails in (("passes", 1, 0), ("fails", 0, 1), ("undecided", 0, 0)):
        env = Known({"ring": {"": "1 m"}}, outcomes={"gap": {"": outcome}})
        assert holds("gap passes", env, lines) == bool(passes)
        assert holds("gap fails", env, lines) == bool(fails)


def test_the_second_of_two_conditions_is_not_asked_when_the_first_decides() -> None:
    """What is not known does not matter then."""
    env = Known(labels={"slab": "steel"})
    assert holds("slab is steel or ring > 1 m", env)
    assert not holds("slab is concrete and ring > 1 m", env)


def test_labels_pick_a_cell_of_a_table_and_a_reading_of_a_series() -> None:
    """Fixed labels, and where the loop stands."""
    lines = (
        'step read "Read."\n  measure gap[near, far] in mm\n'
        "for each pull of pulls\n  compute target[pull] = share[pull] * ring + gap[near]\n    at most 1 m"
    )
    made = routine(lines)
    formula = next(i for i in made.code if isinstance(i, m.ComputeValue)).formula
    env = Known({"ring": {"": "500 mm"}, "gap": {"near": "1 mm", "far": "2 mm"}}, {"pull": "snug"})
    assert formula.evaluate(env) == amount("151 mm")
    assert value("share[full] * gap[far]", env, 'step read "Read."\n  measure gap[near, far] in mm') == amount("2 mm")


def test_a_whole_series_goes_into_a_calculation_with_its_labels() -> None:
    """In the order of the labels."""
    lines = 'step read "Read."\n  measure ns[direct, reversed] in arcmin'
    env = Known({"ns": {"direct": "5 arcmin", "reversed": "1 arcmin"}})
    assert value("reverse_level(ns)", env, lines) == amount("2 arcmin")
    assert value("level_zero(ns)", env, lines) == amount("3 arcmin")


def test_the_unit_shown_is_that_of_the_parts() -> None:
    """A sum of arcminutes is shown in arcminutes; a product in what is customary."""
    lines = 'step read "Read."\n  measure tilt in arcmin\n  measure force in lbf'

    def shown(expression: str) -> str:
        made = routine(f"{lines}\ncompute result = {expression}")
        unit = next(i for i in made.code if isinstance(i, m.ComputeValue)).targets[0][0].unit
        return "" if unit is None else unit.symbol

    assert shown("tilt + 1 deg") == "arcmin"
    assert shown("abs(tilt)") == "arcmin"
    assert shown("force * ring / 1 rad") == "N.m"
    assert shown("tilt / tilt") == ""
    assert shown("ring ^ 2") == "mm^2"


def test_limits_follow_the_values_they_name() -> None:
    """`within target ± 4 %` moves with the target."""
    made = routine('step read "Read."\n  measure rim in mm\n    within ring ± 4 %\n    at most (ring + 1 mm)')
    read = next(i for i in made.code if isinstance(i, m.Read))
    (within, text), (most, _) = read.symbol.facets.limits
    assert text == "within ring ± 4 %"
    limits = within(RING)
    assert (limits.low, limits.high) == (amount("518.4 mm"), amount("561.6 mm"))
    assert most(RING).high == amount("541 mm")
    with pytest.raises(m.NotKnown):
        within(Known())


def test_the_header_the_tests_use_is_sound() -> None:
    """Without values of its own."""
    assert routine('step look "Look."', header=HEADER).inputs[1].default is not None
