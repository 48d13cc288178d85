"""The door of every calculation: binding arguments, dimensions, conversion, refusals."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from field_help import base, refusal, run

from proclang.field.declare import (
    Calculation,
    Like,
    Parameter,
    Result,
    Series,
    signature,
)
from proclang.field.door import bind, call, prepare, result_dimensions
from proclang.field.registry import find
from proclang.text.diagnostic import Problem
from proclang.values.dimension import (
    ANGLE,
    AREA,
    BEARING_GRID,
    BEARING_MAGNETIC,
    BEARING_TRUE,
    ENERGY,
    FORCE,
    LENGTH,
    LENGTH_PER_ANGLE,
    NUMBER,
    TEMPERATURE,
    TORQUE,
    Dimension,
)
from proclang.values.quantity import Quantity


def calculation(name: str) -> Calculation:
    found = find(name)
    assert found is not None
    return found


def made(work, *parameters: Parameter, gives=NUMBER, exact: bool = False) -> Calculation:
    """A calculation made for the test, to reach what no shipped one does."""
    return Calculation(
        name="made",
        topic="test",
        parameters=parameters,
        results=(Result("made", gives, "made for a test"),),
        formula="none",
        source="this test",
        standing="arithmetic",
        exact=exact,
        work=work,
    )


def problem(outcome: object) -> Problem:
    assert isinstance(outcome, Problem), outcome
    return outcome


def test_arguments_fill_parameters_in_order_then_by_name() -> None:
    """Positional first, then named in any order; a default may be left out."""
    turns = calculation("levelling_turns")
    assert bind(turns, 4, ["studs"]) == ("ns", "ew", "circle", "pitch", "studs")
    assert bind(turns, 2, ["studs", "pitch", "circle"]) == ("ns", "ew", "studs", "pitch", "circle")
    assert bind(turns, 6, []) == ("ns", "ew", "circle", "pitch", "studs", "first_stud")


@pytest.mark.parametrize(
    ("positional", "names", "message"),
    [
        (3, ["stud", "pitch"], "`levelling_turns` has no argument `stud`"),
        (4, ["pitch", "studs"], "`levelling_turns` is given `pitch` twice"),
        (3, ["studs", "studs", "pitch"], "`levelling_turns` is given `studs` twice"),
        (7, [], "`levelling_turns` takes at most 6 arguments, here are 7"),
        (2, ["studs"], "`levelling_turns` also needs `circle` and `pitch`"),
    ],
)
def test_arguments_that_do_not_fit_are_named(positional: int, names: list[str], message: str) -> None:
    """Unknown, repeated, too many and missing arguments are each said by name."""
    found = problem(bind(calculation("levelling_turns"), positional, names))
    assert (found.code, found.message) == ("bad-argument", message)
    assert found.hint


def test_a_mistyped_argument_gets_a_suggestion() -> None:
    """Did you mean: the nearest parameter."""
    assert "`studs`" in problem(bind(calculation("levelling_turns"), 4, ["stud"])).hint


def test_a_signature_shows_series_and_defaults() -> None:
    """What a procedure would write."""
    assert signature(calculation("stopping_distance")) == "stopping_distance(speed, deceleration, latency = 0 s)"
    assert signature(calculation("mean")) == "mean(readings[...])"


def test_results_have_the_dimension_of_what_they_are_like() -> None:
    """`hypot` of two angles is an angle, a square root of an area a length."""
    assert result_dimensions(calculation("hypot"), {"a": ANGLE, "b": ANGLE}) == (ANGLE,)
    assert result_dimensions(calculation("sqrt"), {"value": AREA}) == (LENGTH,)
    assert result_dimensions(calculation("torque"), {"force": FORCE, "arm": LENGTH}) == (TORQUE,)
    for north in (BEARING_TRUE, BEARING_MAGNETIC, BEARING_GRID):
        assert result_dimensions(calculation("difference"), {"a": north, "b": north}) == (ANGLE,)


@pytest.mark.parametrize(
    ("name", "dims", "words"),
    [
        ("hypot", {"a": LENGTH, "b": ANGLE}, "`b` of `hypot` takes the same as `a`, a length, not an angle"),
        ("sin", {"angle": LENGTH}, "`angle` of `sin` takes an angle, not a length"),
        ("sin", {"angle": BEARING_TRUE}, "`angle` of `sin` takes an angle, not a bearing from true north"),
        ("abs", {"value": BEARING_TRUE}, "not a bearing from true north"),
        ("mean", {"readings": TEMPERATURE}, "not a temperature"),
        ("difference", {"a": BEARING_TRUE, "b": BEARING_GRID}, "not a bearing from grid north"),
        ("difference", {"a": LENGTH, "b": LENGTH}, "takes a bearing from true, magnetic or grid north, not a length"),
        ("to_true", {"magnetic": BEARING_TRUE, "declination": ANGLE}, "takes a bearing from magnetic north"),
        ("sqrt", {"value": LENGTH}, "square root"),
        ("asin", {"value": ANGLE}, "`value` of `asin` takes a plain number, not an angle"),
    ],
)
def test_a_wrong_dimension_is_said_in_the_users_words(name: str, dims: dict[str, Dimension], words: str) -> None:
    """Which parameter, what it takes, what it was given."""
    found = problem(result_dimensions(calculation(name), dims))
    assert found.code == "wrong-dimension"
    assert words in found.message


def test_likely_slips_get_a_hint() -> None:
    """A bearing for an angle, a pitch without its turn, one north for another."""
    assert "difference(a, b)" in problem(result_dimensions(calculation("sin"), {"angle": BEARING_TRUE})).hint
    pitch = {"nominal": LENGTH, "pitch": LENGTH}
    assert "mm/turn" in problem(result_dimensions(calculation("stress_area"), pitch)).hint
    norths = {"a": BEARING_TRUE, "b": BEARING_MAGNETIC}
    assert "declination" in problem(result_dimensions(calculation("difference"), norths)).hint


def test_frames_are_let_in_only_where_declared() -> None:
    """Counting readings is as good for bearings and temperatures as for lengths."""
    for dimension in (LENGTH, BEARING_TRUE, TEMPERATURE):
        assert result_dimensions(calculation("count"), {"readings": dimension}) == (NUMBER,)


def test_a_call_with_wrong_dimensions_is_refused_before_any_work() -> None:
    """The same finding as from the checker, whatever the values."""
    outcome = call(calculation("sin"), {"angle": Fraction(1)}, {"angle": LENGTH})
    assert problem(outcome).code == "wrong-dimension"
    assert problem(prepare(calculation("sin"), {"angle": LENGTH})(Fraction(1))).code == "wrong-dimension"


@pytest.mark.parametrize(
    ("dimension", "seen"),
    [
        (ANGLE, math.pi),
        (Dimension((0, 0, -1, 1, 0, 0)), math.pi),
        (LENGTH_PER_ANGLE, 180 * 180 / math.pi),
        (LENGTH, 180.0),
        (NUMBER, 180.0),
        (TORQUE, 180.0),
        (ENERGY, 180.0),
    ],
)
def test_work_gets_radians_by_the_power_of_the_angle(dimension: Dimension, seen: float) -> None:
    """Base angle is the degree, save in dimensions with mass, whose base unit has the radian (see values.dimension)."""
    got: list[float] = []

    def work(value: float) -> float:
        got.append(value)
        return value

    probe = made(work, Parameter("value", Like("a"), "probe"), gives=Like("a"))
    assert call(probe, {"value": Fraction(180)}, {"value": dimension}) == (Fraction(180),)
    assert got == [pytest.approx(seen, rel=1e-15)]


def test_a_float_result_is_a_decimal_of_twelve_digits() -> None:
    """Rounded at the door; what is stored is what is compared and shown."""
    third = made(lambda: 1 / 3)
    assert call(third, {}, {}) == (Fraction("0.333333333333"),)
    large = made(lambda: 1e15 / 7)
    assert call(large, {}, {}) == (Fraction(142857142857000),)


def test_an_exact_result_is_kept_exact() -> None:
    """A third stays a third."""
    assert run("mean", readings=["1 m", "0 m", "0 m"]) == (Fraction(1, 3),)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_nan_and_infinity_never_leave(bad: float) -> None:
    """NaN and infinity cannot occur in a value."""
    assert problem(call(made(lambda: bad), {}, {})).code == "cannot-compute"


@pytest.mark.parametrize("error", [ValueError("math domain error"), ZeroDivisionError(), OverflowError()])
def test_arithmetic_errors_become_problems_in_plain_words(error: Exception) -> None:
    """No exception and no wording of the interpreter reaches the user."""

    def work() -> float:
        raise error

    found = problem(call(made(work), {}, {}))
    assert found.code == "cannot-compute"
    assert "math domain" not in found.message


def test_a_problem_returned_by_the_work_is_passed_on() -> None:
    """Work may refuse with a finding of its own."""
    own = Problem("cannot-compute", "the sun is down")
    assert call(made(lambda: own), {}, {}) == own


def test_a_refusal_names_the_range_and_the_source() -> None:
    """Outside the validity, never an extrapolated number."""
    found = refusal("coarse_pitch", nominal="19 mm")
    assert found.code == "cannot-compute"
    assert "ISO 261" in found.hint
    assert "20" in found.hint


def test_a_default_takes_the_place_of_an_argument_left_out() -> None:
    """And an argument given overrides it."""
    half = Quantity(Fraction(1, 2), LENGTH)
    twice = made(
        lambda a, b: a * b, Parameter("a", NUMBER, "a"), Parameter("b", LENGTH, "b", default=half), gives=LENGTH
    )
    assert call(twice, {"a": Fraction(3)}, {"a": NUMBER}) == (Fraction(3, 2),)
    both = call(twice, {"b": Fraction(2), "a": Fraction(3)}, {"a": NUMBER, "b": LENGTH})
    assert both == (Fraction(6),)


def test_a_prepared_call_takes_its_values_in_parameter_order() -> None:
    """The same answer as `call`, with the conversions done ahead."""
    dims = {"speed": base("1 deg/s")[1], "deceleration": base("1 deg/s^2")[1]}
    prepared = prepare(calculation("stopping_distance"), dims)
    assert prepared(Fraction(4), Fraction(2)) == (Fraction(4),)
    assert problem(prepared(Fraction(4))).code == "bad-argument"


@pytest.mark.parametrize("studs", ["0", "-3", "2.5", "1001", "1e30"])
def test_a_count_must_be_a_whole_number_in_bounds(studs: str) -> None:
    """A `whole` parameter becomes labels, of which a set has at most 1000."""
    found = refusal("levelling_turns", ns="1 deg", ew="0 deg", circle="540 mm", pitch="2.5 mm/turn", studs=studs)
    assert found.code == "bad-argument"
    assert "whole number" in found.message


def test_series_and_single_values_are_not_taken_for_each_other() -> None:
    """The mean of one value, or the size of a series, is a slip of the author's."""
    assert refusal("mean", readings="1 mm").code == "bad-argument"
    found = refusal("abs", value=["1 mm", "2 mm"])
    assert found.code == "bad-argument"
    assert "not a series" in found.message


def test_an_empty_series_is_refused() -> None:
    """Nothing has no mean."""
    outcome = call(calculation("mean"), {"readings": Series(())}, {"readings": LENGTH})
    assert problem(outcome).code == "bad-argument"


@pytest.mark.parametrize("labels", [("direct", "again"), ("1", "2"), ("direct",), ("direct", "reversed", "third")])
def test_a_reversal_needs_its_two_labels(labels: tuple[str, ...]) -> None:
    """Which reading is which cannot be guessed, so other labels are refused."""
    found = refusal("reverse_level", readings=dict.fromkeys(labels, "1 arcmin"))
    assert found.code == "bad-argument"
    assert "direct and reversed" in found.message


def test_series_are_matched_by_label_not_by_place() -> None:
    """Points read in another order for z than for x are still the same points."""
    straight = run(
        "plane_fit",
        x={"a": "0 m", "b": "1 m", "c": "0 m"},
        y={"a": "0 m", "b": "0 m", "c": "1 m"},
        z={"a": "0 mm", "b": "2 mm", "c": "5 mm"},
    )
    mixed = run(
        "plane_fit",
        x={"a": "0 m", "b": "1 m", "c": "0 m"},
        y={"c": "1 m", "a": "0 m", "b": "0 m"},
        z={"b": "2 mm", "c": "5 mm", "a": "0 mm"},
    )
    assert straight == mixed
    assert not isinstance(straight, Problem)


def test_series_over_other_labels_are_refused() -> None:
    """A point with no height is not a point."""
    found = refusal("plane_fit", x=["0 m", "1 m", "0 m"], y=["0 m", "0 m", "1 m"], z=["0 mm", "2 mm"])
    assert found.code == "bad-argument"
    assert "other labels" in found.message


def test_results_may_carry_the_labels_of_an_argument() -> None:
    """A result labelled like a series parameter."""
    calc = Calculation(
        name="made",
        topic="test",
        parameters=(Parameter("readings", LENGTH, "readings", series=True),),
        results=(Result("doubled", LENGTH, "twice each", labels="readings"),),
        formula="twice each reading",
        source="this test",
        standing="arithmetic",
        work=lambda readings: [2 * x for x in readings],
    )
    given = Series((("north", Fraction(1)), ("south", Fraction(3))))
    expected = Series((("north", Fraction(2)), ("south", Fraction(6))))
    assert call(calc, {"readings": given}, {"readings": LENGTH}) == (expected,)


def test_a_standing_is_one_of_the_known_ones() -> None:
    """A declaration cannot invent a standing."""
    with pytest.raises(ValueError, match="standing"):
        Calculation("x", "t", (), (), "f", "s", "sure", abs)
