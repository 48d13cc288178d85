"""Which quantities may be added, multiplied or compared, and what the author is told otherwise."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from proclang.text.diagnostic import Problem
from proclang.values import dimension as dim
from proclang.values.dimension import Dimension, add, divide, multiply, negate, ordered, power, root, same, subtract

NORTHS = (dim.BEARING_TRUE, dim.BEARING_MAGNETIC, dim.BEARING_GRID)
ALL = tuple(dict.fromkeys((*dim.NAMED.values(), dim.LENGTH_PER_ANGLE, dim.MOMENT_OF_INERTIA)))
plain = st.builds(lambda powers: Dimension(tuple(powers)), st.lists(st.integers(-4, 4), min_size=6, max_size=6))


def test_the_named_products_are_the_textbook_ones() -> None:
    """SI Brochure 9th ed. table 4 (derived units); a torque is per angle, as angle is a base dimension here."""
    assert multiply(dim.MASS, dim.ACCELERATION) == dim.FORCE
    assert multiply(dim.FORCE, dim.LENGTH) == dim.ENERGY
    assert divide(dim.ENERGY, dim.ANGLE) == dim.TORQUE
    assert multiply(dim.TORQUE, dim.ANGULAR_SPEED) == dim.POWER
    assert divide(dim.FORCE, dim.AREA) == dim.PRESSURE
    assert divide(dim.ENERGY, dim.TIME) == dim.POWER
    assert divide(dim.POWER, dim.CURRENT) == dim.VOLTAGE
    assert divide(dim.VOLTAGE, dim.CURRENT) == dim.RESISTANCE
    assert divide(dim.MASS, dim.VOLUME) == dim.DENSITY
    assert divide(dim.LENGTH, dim.LENGTH_PER_ANGLE) == dim.ANGLE
    assert divide(dim.NUMBER, dim.TIME) == dim.FREQUENCY
    assert divide(dim.LENGTH, dim.LENGTH) == dim.NUMBER
    assert power(dim.LENGTH, 3) == dim.VOLUME
    assert root(dim.AREA, 2) == dim.LENGTH
    assert root(dim.VOLUME, 3) == dim.LENGTH


def test_every_word_for_a_dimension_is_a_different_one() -> None:
    assert len(set(dim.NAMED.values())) == len(dim.NAMED) == 27


@pytest.mark.parametrize("north", NORTHS)
def test_a_bearing_takes_an_angle_and_two_bearings_leave_one(north: Dimension) -> None:
    assert add(north, dim.ANGLE) == add(dim.ANGLE, north) == subtract(north, dim.ANGLE) == north
    assert subtract(north, north) == dim.ANGLE
    for refused in (add(north, north), subtract(dim.ANGLE, north), add(north, dim.LENGTH), subtract(north, dim.LENGTH)):
        assert isinstance(refused, Problem)


@pytest.mark.parametrize("operation", [add, subtract, lambda a, b: same(a, b, "compare"), ordered])
def test_bearings_of_two_norths_never_mix_and_the_bridge_is_named(operation) -> None:  # type: ignore[no-untyped-def]
    for a, b, bridge in [
        (dim.BEARING_TRUE, dim.BEARING_MAGNETIC, "declination"),
        (dim.BEARING_GRID, dim.BEARING_TRUE, "convergence"),
        (dim.BEARING_MAGNETIC, dim.BEARING_GRID, "declination and the grid convergence"),
    ]:
        refused = operation(a, b)
        assert isinstance(refused, Problem)
        assert refused.code == "different-north"
        assert bridge in refused.hint


def test_a_temperature_takes_a_difference_and_two_temperatures_leave_one() -> None:
    scale, amount = dim.TEMPERATURE, dim.TEMPERATURE_DIFFERENCE
    assert add(scale, amount) == add(amount, scale) == subtract(scale, amount) == scale
    assert subtract(scale, scale) == amount
    assert add(amount, amount) == amount
    for refused in (add(scale, scale), subtract(amount, scale), same(scale, amount, "compare")):
        assert isinstance(refused, Problem)


@pytest.mark.parametrize("point", [*NORTHS, dim.TEMPERATURE])
def test_a_point_may_not_be_multiplied_divided_negated_or_raised(point: Dimension) -> None:
    for refused in (
        multiply(point, dim.NUMBER),
        multiply(dim.NUMBER, point),
        divide(point, dim.NUMBER),
        divide(dim.LENGTH, point),
        divide(point, point),
        negate(point),
        power(point, 2),
        power(point, 1),
        root(point, 2),
    ):
        assert isinstance(refused, Problem)
        assert refused.code == "point-arithmetic"
        assert "difference" in refused.hint


@pytest.mark.parametrize(
    ("refused", "message"),
    [
        (add(dim.ANGLE, dim.LENGTH), "cannot add a length to an angle"),
        (subtract(dim.LENGTH, dim.ANGLE), "cannot subtract an angle from a length"),
        (same(dim.TORQUE, dim.ENERGY, "compare"), "cannot compare a torque with an energy"),
        (add(dim.NUMBER, dim.MASS), "cannot add a mass to a plain number"),
        (add(dim.BEARING_TRUE, dim.BEARING_TRUE), "cannot add two bearings"),
        (add(dim.TEMPERATURE, dim.TEMPERATURE), "cannot add two temperatures"),
        (multiply(dim.BEARING_GRID, dim.NUMBER), "a bearing from grid north cannot be multiplied"),
        (ordered(dim.BEARING_TRUE, dim.BEARING_TRUE), "bearings go round, so neither of two is the greater"),
        (root(dim.LENGTH, 2), "a length has no square root with a dimension"),
        (same(Dimension((0, 0, -1, 0, -1, 0)), dim.LENGTH, "use"),
         "cannot use a quantity per time x temperature difference with a length"),
    ],
)  # fmt: skip
def test_the_author_is_told_in_his_own_words(refused: Dimension | Problem, message: str) -> None:
    assert isinstance(refused, Problem)
    assert refused.message == message


@pytest.mark.parametrize(
    ("a", "b", "word"),
    [
        (dim.TORQUE, dim.ENERGY, "1 rad"),
        (dim.TEMPERATURE, dim.TEMPERATURE_DIFFERENCE, "K"),
        (dim.FREQUENCY, dim.ANGULAR_SPEED, "rpm"),
        (dim.MASS, dim.FORCE, "kgf"),
        (dim.ANGLE, dim.BEARING_TRUE, "deg true"),
        (dim.NUMBER, dim.LENGTH, "unit"),
    ],
)
def test_dimensions_easily_confused_have_a_hint(a: Dimension, b: Dimension, word: str) -> None:
    for refused in (same(a, b, "compare"), same(b, a, "compare")):
        assert isinstance(refused, Problem)
        assert word in refused.hint


@pytest.mark.parametrize("n", [-10, 10, 1_000_000])
def test_powers_are_bounded(n: int) -> None:
    assert isinstance(power(dim.LENGTH, n), Problem)
    assert isinstance(root(dim.AREA, n), Problem)


def test_a_root_is_of_first_order_or_more() -> None:
    assert isinstance(root(dim.AREA, 0), Problem)
    assert root(dim.AREA, 1) == dim.AREA


@given(plain, plain, st.integers(-9, 9))
def test_amounts_obey_the_laws_of_products(a: Dimension, b: Dimension, n: int) -> None:
    """As far as a quantity has powers that a unit is written for; past that it is refused, whatever leads there."""
    product = multiply(a, b)
    if any(abs(x + y) > dim.GREATEST_POWER for x, y in zip(a.powers, b.powers, strict=True)):
        assert isinstance(product, Problem)
    else:
        assert isinstance(product, Dimension)
        assert product == multiply(b, a)
        assert divide(product, b) == a
    raised = power(a, n)
    if any(abs(x * n) > dim.GREATEST_POWER for x in a.powers):
        assert isinstance(raised, Problem)
    else:
        assert isinstance(raised, Dimension)
        assert raised.powers == tuple(x * n for x in a.powers)
        if n > 0:
            assert root(raised, n) == a
    assert (add(a, b) == a) == (a == b)
    assert subtract(a, a) == same(a, a, "compare") == ordered(a, a) == negate(a) == a


@pytest.mark.parametrize("a", ALL)
@pytest.mark.parametrize("b", ALL)
def test_every_pair_gives_a_dimension_or_a_sentence(a: Dimension, b: Dimension) -> None:
    for got in (add(a, b), subtract(a, b), multiply(a, b), divide(a, b), same(a, b, "compare"), ordered(a, b)):
        if isinstance(got, Problem):
            assert got.message[0].islower()
            assert not got.message.endswith(".")
        else:
            assert got.describe()
