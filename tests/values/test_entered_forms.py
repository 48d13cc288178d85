"""What people type, and what it is read as: promise H7, that no entered form is misread.

Expected values are in base units (metre, kilogram, second, degree, kelvin, ampere; newton metre for a torque), worked
out by hand from the exact definitions in NIST SP 811 appendix B and the SI Brochure, never by the code under test.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from proclang.text.diagnostic import Problem
from proclang.values.dimension import NAMED, Dimension
from proclang.values.reader import Entered, read_quantity
from proclang.values.unit import Unit, find_unit

LENGTH_PER_ANGLE = Dimension((1, 0, 0, -1, 0, 0))


def unit(symbol: str) -> Unit:
    found = find_unit(symbol)
    assert isinstance(found, Unit), found
    return found


# (typed, declared unit or None, dimension, value in base units)
READ = [
    # decimals, blanks, signs
    ("5 mm", None, "length", "0.005"),
    ("5mm", None, "length", "0.005"),
    ("  5 mm  ", None, "length", "0.005"),
    ("5\tmm", None, "length", "0.005"),
    ("5   mm", None, "length", "0.005"),
    ("5\u00a0mm", None, "length", "0.005"),
    ("5\u202fmm", None, "length", "0.005"),
    ("5", None, "number", "5"),
    ("0", None, "number", "0"),
    ("-0", None, "number", "0"),
    ("007", None, "number", "7"),
    ("5.0", None, "number", "5"),
    ("12.5", None, "number", "25/2"),
    ("0.1", None, "number", "1/10"),
    (".5", None, "number", "1/2"),
    ("-.5 mm", None, "length", "-0.0005"),
    ("+5 mm", None, "length", "0.005"),
    ("-5 mm", None, "length", "-0.005"),
    ("\u22125 mm", None, "length", "-0.005"),
    ("1.5e-3", None, "number", "0.0015"),
    ("1.5E3 mm", None, "length", "1.5"),
    ("2e+2 mm", None, "length", "0.2"),
    ("1e\u22123 m", None, "length", "0.001"),
    ("1e0", None, "number", "1"),
    # fractions and mixed numbers
    ("3/8", None, "number", "3/8"),
    ("3/8 in", None, "length", "0.009525"),
    ("3/8in", None, "length", "0.009525"),
    ('3/8"', None, "length", "0.009525"),
    ("3/8\u2033", None, "length", "0.009525"),
    ("1 1/2", None, "number", "3/2"),
    ("1 1/2 in", None, "length", "0.0381"),
    ('1 1/2"', None, "length", "0.0381"),
    ("-1 1/2 in", None, "length", "-0.0381"),
    ("0 1/2 in", None, "length", "0.0127"),
    ("3/2 in", None, "length", "0.0381"),
    ("1  1/2 inch", None, "length", "0.0381"),
    ("1 127/128 inch", None, "length", "255/128*0.0254"),
    ("0/5 mm", None, "length", "0"),
    # a bare number is in the declared unit
    ("5", "mm", "length", "0.005"),
    ("3/8", "inch", "length", "0.009525"),
    ("1 1/2", "arcmin", "angle", "1/40"),
    ("-2.5", "arcmin", "angle", "-1/24"),
    ("50", "%", "number", "1/2"),
    ("20", "°C", "temperature", "293.15"),
    ("180", "deg true", "bearing_true", "180"),
    ("40", "N.m", "torque", "40"),
    ("5", "deg magnetic", "bearing_magnetic", "5"),
    # another unit of the dimension
    ("1 cm", "mm", "length", "0.01"),
    ("0.4 deg", "arcmin", "angle", "2/5"),
    ("1 m", "mm", "length", "1"),
    ("50 %", "%", "number", "1/2"),
    ("0.5", None, "number", "1/2"),
    ("1 kN", "N", "force", "1000"),
    ("2 min", "s", "time", "120"),
    # lengths
    ("1 m", None, "length", "1"),
    ("1 km", None, "length", "1000"),
    ("1 um", None, "length", "0.000001"),
    ("1 µm", None, "length", "0.000001"),
    ("1 μm", None, "length", "0.000001"),
    ("1 nm", None, "length", "0.000000001"),
    ("1 inch", None, "length", "0.0254"),
    ("1 in", None, "length", "0.0254"),
    ("1 ft", None, "length", "0.3048"),
    ("1 yd", None, "length", "0.9144"),
    ("1 mil", None, "length", "0.0000254"),
    ("1 thou", None, "length", "0.0000254"),
    # masses, forces, torques
    ("500 kg", None, "mass", "500"),
    ("1 t", None, "mass", "1000"),
    ("1 g", None, "mass", "0.001"),
    ("1 lb", None, "mass", "0.45359237"),
    ("1 oz", None, "mass", "0.45359237/16"),
    ("1 lbf", None, "force", "4.4482216152605"),
    ("1 kgf", None, "force", "9.80665"),
    ("1 kip", None, "force", "4448.2216152605"),
    ("1 daN", None, "force", "10"),
    ("40 N.m", None, "torque", "40"),
    ("40 N·m", None, "torque", "40"),
    ("40N.m", None, "torque", "40"),
    ("1 kN.m", None, "torque", "1000"),
    ("10 kgf.m", "N.m", "torque", "98.0665"),
    ("1 lbf.ft", "N.m", "torque", "4.4482216152605*0.3048"),
    ("1 lbf.in", "N.m", "torque", "4.4482216152605*0.0254"),
    ("40 J", None, "energy", "40"),
    ("1 Wh", None, "energy", "3600"),
    # angles
    ("1 turn", None, "angle", "360"),
    ("1 rev", None, "angle", "360"),
    ("2 turns", None, "angle", "720"),
    ("1°", None, "angle", "1"),
    ("1 deg", None, "angle", "1"),
    ("-150 deg", None, "angle", "-150"),
    ("400 deg", None, "angle", "400"),
    ("1 arcmin", None, "angle", "1/60"),
    ("1 arcsec", None, "angle", "1/3600"),
    ("1 mas", None, "angle", "1/3600000"),
    # sums
    ("1°20'", None, "angle", "4/3"),
    ("1\u00b020\u2032", None, "angle", "4/3"),
    ("1°20'5\"", None, "angle", "4805/3600"),
    ("1\u00b020\u20325\u2033", None, "angle", "4805/3600"),
    ("1° 20' 5\"", None, "angle", "4805/3600"),
    ("12°30.5'", None, "angle", "12+30.5/60"),
    ("-1°20'", None, "angle", "-4/3"),
    ("1 deg 20 arcmin 5 arcsec", None, "angle", "4805/3600"),
    ("1deg20arcmin5arcsec", None, "angle", "4805/3600"),
    ("1 deg 20 arcmin 5.25 arcsec", None, "angle", "4805.25/3600"),
    ("1 deg 20 arcmin", "arcmin", "angle", "4/3"),
    ("-0 deg 30 arcmin", None, "angle", "-1/2"),
    ("-1 deg 30 arcmin", None, "angle", "-3/2"),
    ("0 deg 30 arcmin", None, "angle", "1/2"),
    ("1 turn 30 deg", None, "angle", "390"),
    ("1 ft 3 in", None, "length", "0.381"),
    ("1 ft 3 inch", None, "length", "0.381"),
    ('1 ft 3"', None, "length", "0.381"),
    ("1 ft 3 1/2 in", None, "length", "15.5*0.0254"),
    ("1 m 20 cm 5 mm", None, "length", "1.205"),
    ("2 h 30 min", None, "time", "9000"),
    ("2h30min", None, "time", "9000"),
    ("1 h 0 min 5 s", None, "time", "3605"),
    ("1 d 2 h 3 min 4 s", None, "time", "93784"),
    ("2 kg 500 g", None, "mass", "2.5"),
    ("1 lb 8 oz", None, "mass", "1.5*0.45359237"),
    ("1 year 6 months", None, "time", "1.5*31556952"),
    # bearings
    ("180 deg true", None, "bearing_true", "180"),
    ("180° true", None, "bearing_true", "180"),
    ("180deg true", None, "bearing_true", "180"),
    ("12 deg 30 arcmin true", None, "bearing_true", "12.5"),
    ("12°30' magnetic", None, "bearing_magnetic", "12.5"),
    ("5 deg grid", None, "bearing_grid", "5"),
    ("0.5 turn true", None, "bearing_true", "180"),
    ("180 deg", "deg true", "bearing_true", "180"),
    ("12°30'", "deg grid", "bearing_grid", "12.5"),
    ("0.5 turn", "deg true", "bearing_true", "180"),
    ("-5", "deg true", "bearing_true", "-5"),
    ("-360", "deg true", "bearing_true", "-360"),
    ("720", "deg true", "bearing_true", "720"),
    # temperatures
    ("20 °C", None, "temperature", "293.15"),
    ("20°C", None, "temperature", "293.15"),
    ("20 degC", None, "temperature", "293.15"),
    ("-40 °C", None, "temperature", "233.15"),
    ("20 K", None, "temperature_difference", "20"),
    ("20 K", "K", "temperature_difference", "20"),
    # the rest of the table, and products
    ("2.5 mm/turn", None, "length per angle", "0.0025/360"),
    ("9.81 m/s^2", None, "acceleration", "9.81"),
    ("9.81 m/s²", None, "acceleration", "9.81"),
    ("9.81 m.s^-2", None, "acceleration", "9.81"),
    ("5 deg/s", None, "angular_speed", "5"),
    ("2 deg/s^2", None, "angular_acceleration", "2"),
    ("1 rpm", None, "angular_speed", "6"),
    ("50 Hz", None, "frequency", "50"),
    ("2 m^2", None, "area", "2"),
    ("2 m³", None, "volume", "2"),
    ("1 L", None, "volume", "0.001"),
    ("1 l", None, "volume", "0.001"),
    ("1 bar", None, "pressure", "100000"),
    ("0bar", None, "pressure", "0"),
    ("0 oz", None, "mass", "0"),
    ("1 MPa", None, "pressure", "1000000"),
    ("1 mbar", None, "pressure", "100"),
    ("7850 kg/m^3", None, "density", "7850"),
    ("230 V", None, "voltage", "230"),
    ("5 mohm", None, "resistance", "0.005"),
    ("5 Mohm", None, "resistance", "5000000"),
    ("5 Ω", None, "resistance", "5"),
    ("5 \u2126", None, "resistance", "5"),
    ("20 mA", None, "current", "0.02"),
    ("1.5 kW", None, "power", "1500"),
    ("70 %", None, "number", "0.7"),
    ("70%", None, "number", "0.7"),
    ("5 ppm", None, "number", "0.000005"),
    ("0.02 mm/m", None, "number", "0.00002"),
    ("12 months", None, "time", "31556952"),
]

# (typed, declared unit or None, problem code, a word its hint or message must have)
REFUSED = [
    ("", None, "empty-number", "missing"),
    ("   ", None, "empty-number", "missing"),
    ("''", None, "not-a-number", "digit"),
    ("mm", None, "not-a-number", "digit"),
    ("m", None, "not-a-number", "digit"),
    ("-", None, "not-a-number", "digit"),
    ("- 5 mm", None, "not-a-number", "directly"),
    ("--5", None, "not-a-number", "sign"),
    ("+-5", None, "not-a-number", "sign"),
    ("about 5 mm", None, "not-a-number", "digit"),
    ("five", None, "not-a-number", "digit"),
    ("nan", None, "not-a-number", "digit"),
    ("inf", None, "not-a-number", "digit"),
    ("-Infinity", None, "not-a-number", "digit"),
    ("5.", None, "not-a-number", "point"),
    ("5.mm", None, "not-a-number", "point"),
    (".", None, "not-a-number", "digit"),
    ("1.2.3", None, "not-a-number", "point"),
    ("0x1F", None, "not-a-number", "decimal"),
    ("0b101", None, "not-a-number", "decimal"),
    ("0o17", None, "not-a-number", "decimal"),
    ("1.5x10^3", None, "not-a-number", "1.5e3"),
    ("1.5 × 10^3", None, "not-a-number", "1.5e3"),
    ("5+3", None, "not-a-number", "sum"),
    ("5-1/2 in", None, "not-a-number", "1 1/2"),
    ("3 / 8 in", None, "not-a-number", "3/8"),
    ("3/", None, "not-a-number", "3/8"),
    ("/8", None, "not-a-number", "digit"),
    ("3/8/2", None, "not-a-number", "3/8"),
    ("1.5/2", None, "not-a-number", "3/8"),
    ("3/2.5", None, "not-a-number", "3/8"),
    ("3/-8", None, "not-a-number", "3/8"),
    ("12,5", None, "decimal-comma", "12.5"),
    ("1,5 mm", None, "decimal-comma", "1.5 mm"),
    ("0,25 in", None, "decimal-comma", "0.25"),
    ("1.000,5", None, "decimal-comma", "point"),
    ("1 000 mm", None, "thousands-mark", "1000"),
    ("1\u00a0000 mm", None, "thousands-mark", "1000"),
    ("1\u202f000 mm", None, "thousands-mark", "1000"),
    ("12 500", None, "thousands-mark", "12500"),
    ("1,000 mm", None, "thousands-mark", "1000"),
    ("1,000.5 mm", None, "thousands-mark", "together"),
    ("1.000.000", None, "thousands-mark", "1000000"),
    ("1_000", None, "thousands-mark", "1000"),
    ("1'000", None, "thousands-mark", "1000"),
    ("1’000", None, "thousands-mark", "1000"),
    ("1 01/2 in", None, "thousands-mark", "together"),
    ("\uff15 mm", None, "other-digits", "0 to 9"),
    ("\u0665 mm", None, "other-digits", "0 to 9"),
    ("½ in", None, "other-digits", "1/2"),
    ("1½ in", None, "other-digits", "1/2"),
    ("1⁄2 in", None, "other-digits", "1/2"),
    ("5 3", None, "two-numbers", "one number"),
    ("5 3 mm", None, "two-numbers", "one number"),
    ("1.5 1/2", None, "two-numbers", "one number"),
    ("1/2 1/4", None, "two-numbers", "two numbers"),
    ("1 3/2", None, "improper-fraction", "5/2"),
    ("1 2/2 in", None, "improper-fraction", "4/2"),
    ("0 3/2 in", None, "improper-fraction", "3/2"),
    ("3/0", None, "division-by-zero", "zero"),
    ("1 1/0 in", None, "division-by-zero", "zero"),
    ("5 ± 1", None, "uncertainty-typed", "alone"),
    ("5±1 mm", None, "uncertainty-typed", "alone"),
    ("5 mm ± 1", None, "uncertainty-typed", "alone"),
    ("5mm±1mm", None, "uncertainty-typed", "alone"),
    ("5 +/- 1 mm", None, "uncertainty-typed", "alone"),
    ("±5", None, "uncertainty-typed", "alone"),
    ("5 Nm", None, "unknown-unit", "`N.m`"),
    ("5 kNm", None, "unknown-unit", "`kN.m`"),
    ("5 ft-lb", None, "unknown-unit", "`lbf.ft`"),
    ("5 N-m", None, "unknown-unit", "`N.m`"),
    ("5 MM", None, "unknown-unit", "`mm`"),
    ("5 parsec", None, "unknown-unit", "parsec"),
    ("5 mm.", None, "unknown-unit", "`mm`"),
    ("20 C", None, "unknown-unit", "°C"),
    ("68 °F", None, "unknown-unit", "°C"),
    ("20 °K", None, "unknown-unit", "`K`"),
    ("20 º", None, "unknown-unit", "ordinal"),
    ("20 ºC", None, "unknown-unit", "ordinal"),
    ("5 degrees", None, "unknown-unit", "`deg`"),
    ("5 minutes", None, "unknown-unit", "`arcmin`"),
    ("5 sec", None, "unknown-unit", "`arcsec`"),
    ("5 lbs", None, "unknown-unit", "`lbf`"),
    ("5 µ", None, "unknown-unit", "µ"),
    ("10²", None, "unknown-unit", "²"),
    ("5 m^10", None, "unknown-unit", "m^10"),
    ("5 m^0", None, "unknown-unit", "m^0"),
    ("5 mm/", None, "unknown-unit", "mm/"),
    ("5 /mm", None, "not-a-number", "blanks"),
    ("5 mm/°C", None, "unknown-unit", "`K`"),
    ("5 kg/m.s", None, "ambiguous-unit", "divisor"),
    ("5'", None, "ambiguous-mark", "`arcmin`"),
    ("5''", None, "ambiguous-mark", "`arcsec`"),
    ("1'20\"", None, "ambiguous-mark", "`arcmin`"),
    ("5 m 3", None, "sum-without-unit", "unit"),
    ("5 m2", None, "sum-without-unit", "m^2"),
    ("1°20", None, "sum-without-unit", "unit"),
    ("1 ft 5 mm", None, "sum-units", "one unit"),
    ("1 deg 20 min", None, "sum-units", "`arcmin`"),
    ("20 °C 5 K", None, "sum-units", "one unit"),
    ("20 arcmin 1 deg", None, "sum-order", "down"),
    ("1 deg 2 deg", None, "sum-order", "down"),
    ("1 deg 60 arcmin", None, "sum-part-too-large", "carry"),
    ("1 deg 75 arcmin", None, "sum-part-too-large", "carry"),
    ("1 ft 12 in", None, "sum-part-too-large", "carry"),
    ("1 deg -20 arcmin", None, "sum-sign", "sign"),
    ("5 mm - 3 mm", None, "sum-sign", "sign"),
    ("1.5 deg 20 arcmin", None, "sum-decimals", "last"),
    ("1 1/2 ft 3 in", None, "sum-decimals", "last"),
    ("1 d 2 h 3 min 4 s 5 ms", None, "trailing-text", "parts"),
    ("5 mm about", None, "trailing-text", "alone"),
    ("5 mm true", None, "trailing-text", "north"),
    ("5 deg east", None, "trailing-text", "alone"),
    ("5\nmm", None, "trailing-text", "unit"),
    ("12 mm", "arcmin", "wrong-dimension", "`12 mm` is a length; this reading is an angle, in arcmin"),
    ("5 nm", "N.m", "wrong-dimension", "nanometre"),
    ("40 J", "N.m", "wrong-dimension", "energy per angle"),
    ("5 kg.m", "N.m", "wrong-dimension", "kgf.m"),
    ("5 kg", "N", "wrong-dimension", "kgf"),
    ("20 K", "°C", "wrong-dimension", "difference"),
    ("20 °C", "K", "wrong-dimension", "difference"),
    ("20 deg", "°C", "wrong-dimension", "°C"),
    ('5"', "arcsec", "wrong-dimension", "`arcsec`"),
    ("5 min", "arcmin", "wrong-dimension", "`arcmin`"),
    ("5 mm", "%", "wrong-dimension", "without a unit"),
    ("5 %", "mm", "wrong-dimension", "unit"),
    ("180 deg true", "deg", "wrong-dimension", "bearing"),
    ("180 deg magnetic", "deg true", "wrong-north", "declination"),
    ("180 deg grid", "deg true", "wrong-north", "convergence"),
    ("721", "deg true", "bearing-out-of-range", "720"),
    ("-361 deg true", None, "bearing-out-of-range", "-360"),
]


def exact(text: str) -> Fraction:
    """Sums, products and quotients of decimals, left to right within each: `12+30.5/60`."""
    total = Fraction(0)
    for term in text.replace("-", "+-").split("+"):
        if term:
            value = Fraction(1)
            for factor in term.split("*"):
                top, _, bottom = factor.partition("/")
                value *= Fraction(top) / Fraction(bottom or 1)
            total += value
    return total


def test_the_table_has_at_least_150_entered_forms() -> None:
    assert len({(row[0], row[1]) for row in (*READ, *REFUSED)}) == len(READ) + len(REFUSED)
    assert len(READ) + len(REFUSED) >= 150


@pytest.mark.parametrize(("typed", "declared", "dimension", "value"), READ)
def test_a_reply_is_read_as_what_it_says(typed: str, declared: str | None, dimension: str, value: str) -> None:
    entered = read_quantity(typed, unit=unit(declared) if declared else None, reply=True)
    assert isinstance(entered, Entered), entered
    wanted = LENGTH_PER_ANGLE if dimension == "length per angle" else NAMED[dimension]
    assert entered.quantity.dimension == wanted
    assert entered.quantity.value == exact(value)
    assert entered.typed == typed
    assert entered.unit.dimension == wanted


@pytest.mark.parametrize(("typed", "declared", "code", "word"), REFUSED)
def test_a_reply_is_refused_and_the_way_out_is_named(typed: str, declared: str | None, code: str, word: str) -> None:
    problem = read_quantity(typed, unit=unit(declared) if declared else None, reply=True)
    assert isinstance(problem, Problem), problem
    assert problem.code == code
    assert word in problem.message or word in problem.hint
    assert 0 <= problem.start <= problem.end <= len(typed)


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        (".5 mm", "leading-point"),
        ("3/8 in", "reply-only-unit"),
        ("5 in/turn", "reply-only-unit"),
        ('3/8"', "reply-only-unit"),
        ("1°20'", "reply-only-unit"),
        ("5'", "reply-only-unit"),
    ],
)
def test_source_text_refuses_what_only_a_reply_may_have(typed: str, code: str) -> None:
    problem = read_quantity(typed)
    assert isinstance(problem, Problem)
    assert problem.code == code
    assert problem.hint


@pytest.mark.parametrize("typed", ["3/8 inch", "5 lbf.in", "1 deg 20 arcmin 5 arcsec", "2.5 inch/turn", "20 °C", "5"])
def test_source_text_reads_the_same_numbers_as_a_reply(typed: str) -> None:
    assert isinstance(read_quantity(typed), Entered)
    assert read_quantity(typed) == read_quantity(typed, reply=True)


def test_source_text_wants_the_north_of_a_bearing_written() -> None:
    problem = read_quantity("180 deg", unit=unit("deg true"))
    assert isinstance(problem, Problem)
    assert (problem.code, "deg true" in problem.hint) == ("wrong-dimension", True)


@pytest.mark.parametrize(
    ("typed", "underlined"),
    [
        ("12,5", ","),
        ("5 Nm", "Nm"),
        ("  5 parsec ", "parsec"),
        ("1 deg 75 arcmin", "75 arcmin"),
        ("5 m 3", "3"),
        ("5 mm about", "about"),
        ("5 mm ± 1", "± 1"),
        ("1½ in", "½"),
        ("1 000 mm", "1 000"),
        ("5 kg/m.s", "/m.s"),
    ],
)
def test_a_problem_points_at_the_slip(typed: str, underlined: str) -> None:
    problem = read_quantity(typed, reply=True)
    assert isinstance(problem, Problem)
    assert typed[problem.start : problem.end] == underlined


def test_the_unit_of_a_reading_is_the_one_it_was_typed_in() -> None:
    """Both what was typed and what it was read as are kept; a bare number has the declared unit."""
    typed_in = [
        read_quantity(text, unit=unit("deg true"), reply=True) for text in ("5", "5 deg", "300 arcmin", "5 deg true")
    ]
    assert [entered.unit.symbol for entered in typed_in if isinstance(entered, Entered)] == [
        "deg true",
        "deg true",
        "arcmin true",
        "deg true",
    ]


def test_what_was_typed_is_safe_to_show_in_a_message() -> None:
    problem = read_quantity("5 \x1b[31mmm", reply=True)
    assert isinstance(problem, Problem)
    assert "\x1b" not in problem.message + problem.hint
