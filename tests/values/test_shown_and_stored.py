"""What a quantity looks like to people, and that what is stored reads back to the very same quantity (promise H7)."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from proclang.text.diagnostic import Problem
from proclang.text.printable import printable
from proclang.values import dimension as dim
from proclang.values.number import NumberError, bounded, decimal_places
from proclang.values.quantity import DimensionError, Quantity
from proclang.values.reader import Entered, read_quantity
from proclang.values.show import EXACT_CHARACTERS, exact_text, parse_exact, show
from proclang.values.unit import NONE, Unit, find_unit, known_symbols

PRODUCTS = ("N.m", "lbf.ft", "mm/turn", "m/s^2", "kg.m^2", "um/m/K", "N.m/deg", "rad/s^2", "kg/m^3", "inch/turn")
UNITS: tuple[Unit, ...] = (
    NONE,
    *(unit for text in (*known_symbols(), *PRODUCTS) if isinstance(unit := find_unit(text), Unit)),
)
# 2,000 in an ordinary run, 10,000 with `--hypothesis-profile search`.
EXAMPLES = max(2_000, 5 * settings.default.max_examples) if settings.default else 2_000

typed_decimals = st.builds(
    lambda whole, places, power: Fraction(whole) / 10**places * Fraction(10) ** power,
    st.integers(-(10**12), 10**12),
    st.integers(0, 12),
    st.sampled_from([0, 0, 0, 0, 3, -3, 40, -40, 99, -99]),
)
numbers = typed_decimals | st.fractions(max_denominator=10**20) | st.fractions(-1000, 1000, max_denominator=128)
units = st.sampled_from(UNITS)


def q(text: str) -> Quantity:
    entered = read_quantity(text, reply=True)
    assert isinstance(entered, Entered), entered
    return entered.quantity


def unit(text: str) -> Unit:
    found = find_unit(text) if text else NONE
    assert isinstance(found, Unit), found
    return found


def test_every_unit_of_the_table_is_drawn() -> None:
    assert len(UNITS) == 1 + len(known_symbols()) + len(PRODUCTS)


@settings(max_examples=EXAMPLES)
@given(numbers, units)
def test_a_stored_value_reads_back_exactly(number: Fraction, of: Unit) -> None:
    quantity = Quantity.of(number, of)
    text = exact_text(quantity, of)
    assert len(text) <= EXACT_CHARACTERS
    back = parse_exact(text)
    assert isinstance(back, Quantity), (text, back)
    assert (back.value, back.dimension) == (quantity.value, quantity.dimension)
    assert exact_text(back, of) == text
    # Within what may be typed, the reader of replies reads the same value.
    in_turn = not of.dimension.is_bearing or -360 <= quantity.value <= 720
    if of.dimension.is_instant and "T" not in text.removesuffix("UTC"):
        return  # seconds since 2000, which nobody types
    if of.dimension.is_instant:
        in_turn = 1990 <= int(text[:4]) <= 2100 and len(text.partition(".")[2]) <= len("123456789012 UTC")
    if len(text.partition(" ")[0]) <= 40 and in_turn and "e" not in text.partition("/")[0] and abs(number) < 10**90:
        entered = read_quantity(text, reply=True)
        assert isinstance(entered, Entered), (text, entered)
        assert (entered.quantity.value, entered.unit) == (quantity.value, of)


@settings(max_examples=500)
@given(numbers, units, units)
def test_a_value_may_be_stored_in_any_unit_of_its_dimension(number: Fraction, of: Unit, other: Unit) -> None:
    quantity = Quantity.of(number, of)
    for into in [u for u in UNITS if u.dimension == of.dimension]:
        text = exact_text(quantity, into)
        assert len(text) <= EXACT_CHARACTERS
        back = parse_exact(text)
        assert isinstance(back, Quantity), (text, back)
        assert back.value == quantity.value
    if other.dimension != of.dimension:
        with pytest.raises(DimensionError):
            exact_text(quantity, other)


@given(st.fractions(), st.fractions(), st.integers(-360, 360), units)
def test_a_computed_value_of_any_size_is_stored_exactly(a: Fraction, b: Fraction, power: int, of: Unit) -> None:
    try:
        value = bounded(a * (b or 1) * Fraction(10) ** power)
    except NumberError:
        return
    quantity = Quantity(value, of.dimension)
    back = parse_exact(exact_text(quantity, of))
    assert isinstance(back, Quantity), exact_text(quantity, of)
    assert back.value == value


@pytest.mark.parametrize(
    ("typed", "into", "text"),
    [
        ("3/8 in", "mm", "9.525 mm"),
        ("3/4 in", "mm", "19.05 mm"),
        ("127/12 mm", "mm", "127/12 mm"),
        ("-3/7 deg", "deg", "-3/7 deg"),
        ("1 deg 20 arcmin", "deg", "4/3 deg"),
        ("1 deg 20 arcmin", "arcmin", "80 arcmin"),
        ("20 °C", "°C", "20 °C"),
        ("370 deg true", "deg true", "370 deg true"),
        ("5", "", "5"),
        ("70 %", "%", "70 %"),
        ("70 %", "", "0.7"),
        ("1e99 mm", "mm", "1e99 mm"),
        ("1.25e-40 m", "m", "1.25e-40 m"),
        ("0", "", "0"),
        ("-0.5 mm", "mm", "-0.5 mm"),
        ("1 pieces", "pieces", "1 piece"),
        ("-1", "pieces", "-1 piece"),
        ("1.5", "pieces", "1.5 pieces"),
        ("11", "pieces", "11 pieces"),
        ("0", "pieces", "0 pieces"),
    ],
)
def test_the_stored_form(typed: str, into: str, text: str) -> None:
    assert exact_text(q(typed), unit(into)) == text
    assert parse_exact(text) == q(typed)


def test_a_count_of_one_was_stored_in_the_plural_once_and_still_reads() -> None:
    assert parse_exact("1 pieces") == parse_exact("1 piece") == q("1")


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "mm", "5  mm", "5 ", " 5", "+5 mm", "5mm", ".5 mm", "5. mm", "5,0 mm", "--5", "5e", "5e99999 mm",
        "5/0 mm", "5/ mm", "1 1/2 inch", "5 Nm", "5 mm mm", "nan", "5\nmm", "5 mm\n", "\u0665 mm", "5e+3 mm",
        "9" * 601, "1e2000 mm",
    ],
)  # fmt: skip
def test_what_was_never_stored_is_refused(text: str) -> None:
    problem = parse_exact(text)
    assert isinstance(problem, Problem)
    assert problem.code in ("not-exact-text", "unknown-unit", "number-too-large")


SHOWN = [
    # typed, unit, step, signed, words, text
    ("5 mm", "mm", None, False, None, "5 mm"),
    ("3/8 in", "mm", None, False, None, "9.525 mm"),
    ("1/3 mm", "mm", None, False, None, "0.333333 mm"),
    ("123456.789012 mm", "mm", None, False, None, "123456.789012 mm"),
    ("123456.7890123 mm", "mm", None, False, None, "123457 mm"),
    ("1000000 mm", "mm", None, False, None, "1000000 mm"),
    ("0.7", "", None, False, None, "0.7"),
    ("0.7", "%", None, False, None, "70 %"),
    ("20 °C", "°C", None, False, None, "20 °C"),
    ("20.04 °C", "°C", "0.1 K", False, None, "20.0 °C"),
    ("1 deg 20 arcmin", "arcmin", None, False, None, "80 arcmin"),
    ("0.349 turn", "turn", "0.05 turn", False, None, "0.35 turn"),
    ("0.349 turn", "turn", "0.05 turn", False, ("raise", "lower"), "0.35 turn raise"),
    ("-0.349 turn", "turn", "0.05 turn", False, ("raise", "lower"), "0.35 turn lower"),
    ("0.01 turn", "turn", "0.05 turn", False, ("raise", "lower"), "0.00 turn, neither raise nor lower"),
    ("-0.01 turn", "turn", "0.05 turn", False, ("raise", "lower"), "0.00 turn, neither raise nor lower"),
    ("-2 turn", "turn", None, False, ("raise", "lower"), "2 turn lower"),
    ("0.025 turn", "turn", "0.05 turn", False, None, "0.00 turn"),
    ("0.075 turn", "turn", "0.05 turn", False, None, "0.10 turn"),
    ("0.3 deg", "deg", "0.1 deg", True, None, "+0.3 deg"),
    ("-0.3 deg", "deg", "0.1 deg", True, None, "-0.3 deg"),
    ("0.01 deg", "deg", "0.1 deg", True, None, "0.0 deg"),
    ("-0.01 deg", "deg", "0.1 deg", False, None, "0.0 deg"),
    ("140.4 N.m", "N.m", "1 N.m", False, None, "140 N.m"),
    ("147 N.m", "N.m", "5 N.m", False, None, "145 N.m"),
    ("5 mm", "mm", "1/8 mm", False, None, "5.000 mm"),
    ("7 mm", "inch", "1 mm", False, None, "0.276 inch"),
    ("180 deg true", "deg true", None, False, None, "180 deg true"),
    ("-5 deg true", "deg true", None, False, None, "355 deg true"),
    ("370 deg true", "deg true", None, False, None, "10 deg true"),
    ("359.97 deg true", "deg true", "0.1 deg", False, None, "0.0 deg true"),
    ("-0.01 deg true", "deg true", "0.1 deg", False, None, "0.0 deg true"),
    ("5 deg magnetic", "deg magnetic", "1 deg", True, None, "5 deg magnetic"),
    ("-150 deg", "deg", None, False, None, "-150 deg"),
    ("400 deg", "deg", None, False, None, "400 deg"),
    ("1e99 mm", "mm", None, False, None, "1e99 mm"),
    ("1", "pieces", None, False, None, "1 piece"),
    ("1", "pieces", None, True, None, "+1 piece"),
    ("-1", "pieces", "1", False, None, "-1 piece"),
    ("1", "pieces", "1", False, ("more", "fewer"), "1 piece more"),
    ("1", "pieces", "0.1", False, None, "1.0 pieces"),
    ("21", "pieces", None, False, None, "21 pieces"),
]


@pytest.mark.parametrize(("typed", "into", "step", "signed", "words", "text"), SHOWN)
def test_a_quantity_as_people_read_it(
    typed: str, into: str, step: str | None, signed: bool, words: tuple[str, str] | None, text: str
) -> None:
    shown = show(q(typed), unit(into), step=q(step) if step else None, signed=signed, words=words)
    assert shown == text


@given(
    numbers, units, st.none() | st.fractions(min_value=Fraction(1, 10**6), max_value=1000), st.booleans(), st.booleans()
)
def test_showing_never_fails_and_always_names_the_unit(
    number: Fraction, of: Unit, step: Fraction | None, signed: bool, worded: bool
) -> None:
    """And what is shown is within half a step of the value, read back by the reader of replies."""
    quantity = Quantity.of(number, of)
    amount = None if step is None else Quantity(step * of.factor, dim.Dimension(of.dimension.powers))
    words = ("raise", "lower") if worded else None
    text = show(quantity, of, step=amount, signed=signed, words=words)
    assert text == printable(text)
    assert of.symbol in text or (of.symbol == "pieces" and text.startswith(("1 piece", "+1 piece", "-1 piece")))
    if abs(number) > 10**15 or step is None or decimal_places(step) is None or (decimal_places(step) or 0) > 10:
        return
    text = text.removesuffix(", neither raise nor lower")
    negative = text.endswith(" lower")
    entered = read_quantity(text.removesuffix(" raise").removesuffix(" lower"), reply=True)
    assert isinstance(entered, Entered), text
    shown = -entered.quantity if negative and not of.dimension.frame else entered.quantity
    if of.dimension.frame:
        return
    assert abs(shown.value - quantity.value) <= step * of.factor / 2


@given(st.integers(-100_000, 100_000))
def test_a_bearing_is_shown_within_one_turn(hundredths: int) -> None:
    shown = show(Quantity(Fraction(hundredths, 100), dim.BEARING_TRUE), unit("deg true"), step=q("0.1 deg"))
    number, north = shown.split(" ", 1)
    assert 0 <= Fraction(number) < 360
    assert north == "deg true"
    assert len(number.partition(".")[2]) == 1


@pytest.mark.parametrize("step", ["0.1 mm", "0.1 deg true", "0.1"])
def test_a_step_is_an_amount_of_the_same_dimension(step: str) -> None:
    with pytest.raises(DimensionError):
        show(q("5 deg true"), unit("deg true"), step=q(step))
