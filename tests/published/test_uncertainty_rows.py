"""Topic 6 of the published values: uncertainty, coverage and decisions of conformity (JCGM 100, 101 and 106, NIST TN
1297 and 1900, ISO 14253-1)."""

from __future__ import annotations

import math
import random
import statistics
from fractions import Fraction

import pytest
from rows import row

from proclang.values import uncertainty as unc
from proclang.values.conformity import DEFAULT_GUARD, acceptance_zone, guarded, probability, share_within
from proclang.values.dimension import NUMBER
from proclang.values.tolerance import Limits, Outcome
from proclang.values.uncertainty import Form, Source, below, combined, coverage, t_factor


def form(*terms: tuple[str, float, float]) -> Form:
    """Independent sources: key, standard uncertainty, degrees of freedom."""
    return Form(tuple((Source(key, "normal", freedom), u) for key, u, freedom in terms))


def limits(low: str | None, high: str | None) -> Limits:
    return Limits(None if low is None else Fraction(low), None if high is None else Fraction(high), NUMBER)


# ---------------------------------------------------------------------------- combining


@row("MET-R01")
def test_the_end_gauge_of_the_gum() -> None:
    """JCGM 100:2008 H.1, all but its arcsine and second-order terms entering at nothing: the components, their sum, the
    effective degrees of freedom and the expanded uncertainty for 99 %."""
    length = 50_000_623.0
    standard = unc.of_expanded(75.0, 3.0)  # certificate: 0.075 um at k = 3
    d_alpha = unc.of_limits(1e-6)
    d_theta = unc.of_limits(0.05)
    theta = 0.1
    alpha = 11.5e-6
    parts = form(
        ("standard", standard, 18),
        ("repeated", 5.8, 24),
        ("comparator random", 3.9, 5),
        ("comparator systematic", 6.7, 8),
        ("expansion", length * theta * d_alpha, 50),
        ("temperature", length * alpha * d_theta, 2),
    )
    assert [round(u, 1) for _, u in parts.terms] == [25.0, 5.8, 3.9, 6.7, 2.9, 16.6]
    assert math.hypot(5.8, 3.9, 6.7) == pytest.approx(9.7, abs=0.05)
    assert parts.standard == pytest.approx(31.66, abs=0.1)
    assert math.floor(parts.freedom) == 16
    factor = t_factor(0.99, 16)
    assert factor == pytest.approx(2.92, abs=0.005)
    assert round(factor * parts.standard) in (92, 93)  # 92.5 before rounding; the GUM prints 93
    assert 50_000_623 + 215 == 50_000_838


READINGS = {
    "V": [5.007, 4.994, 5.005, 4.990, 4.999],
    "I": [19.663, 19.639, 19.640, 19.685, 19.678],
    "phi": [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
}


@row("MET-R02")
def test_simultaneous_readings_of_the_gum() -> None:
    """JCGM 100:2008 table H.2: means, their standard uncertainties, and the correlations the numbers bear out."""
    expected = {"V": (4.9990, 0.0032), "I": (19.6610, 0.0095), "phi": (1.04446, 0.00075)}
    for name, (mean, u) in expected.items():
        values = [Fraction(str(x)) for x in READINGS[name]]
        assert float(sum(values) / 5) == pytest.approx(mean, abs=5e-6)
        digits = len(str(u).partition(".")[2])
        assert round(unc.deviation(values) / math.sqrt(5), digits) == u
    for a, b, r in (("V", "I", -0.36), ("V", "phi", 0.86), ("I", "phi", -0.65)):
        assert statistics.correlation(READINGS[a], READINGS[b]) == pytest.approx(r, abs=0.005)


@row("MET-R03")
def test_twenty_temperatures_of_the_gum() -> None:
    """JCGM 100:2008 4.4.3, from memory; the arithmetic was recomputed by whoever wrote the table."""
    text = (
        "96.90 98.18 98.25 98.61 99.03 99.49 99.56 99.74 99.89 100.07 100.33 100.42 100.68 100.95 101.11 101.20 101.57"
        " 101.84 102.36 102.72"
    )
    values = [Fraction(x) for x in text.split()]
    assert float(sum(values) / 20) == pytest.approx(100.145, abs=5e-4)
    assert unc.deviation(values) == pytest.approx(1.489, abs=5e-4)
    assert unc.deviation(values) / math.sqrt(20) == pytest.approx(0.333, abs=5e-4)


@row("MET-R04")
def test_a_certificate_at_three_standard_deviations() -> None:
    """JCGM 100:2008 4.3.3, from memory."""
    assert unc.of_expanded(240.0, 3.0) == 80.0


@row("MET-R05")
def test_a_certificate_at_99_percent() -> None:
    """JCGM 100:2008 4.3.4, from memory: a level of confidence is a factor of the normal distribution."""
    assert unc.of_expanded(129.0, t_factor(0.99, math.inf)) == pytest.approx(50, rel=0.01)


@row("MET-R06")
def test_limits_with_nothing_known_between_them() -> None:
    """JCGM 100:2008 4.3.7, from memory."""
    assert unc.of_limits(0.40) == pytest.approx(0.23, rel=0.01)


@row("MET-R07")
def test_standard_deviations_of_shapes() -> None:
    """JCGM 100:2008 4.3.7, F.2.2.1, 4.3.9, H.1.3.4."""
    got = [unc.of_limits(0.01), unc.of_resolution(0.01), unc.of_triangle(0.01), unc.of_arcsine(0.01)]
    assert got == pytest.approx([0.005774, 0.002887, 0.004082, 0.007071], abs=1e-6)


LEVELS = (0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973)


@pytest.mark.parametrize(
    ("freedom", "printed"),
    [
        pytest.param(1, (1.84, 6.31, 12.71, 13.97, 63.66, 235.8), marks=row("MET-R08")),
        pytest.param(2, (1.32, 2.92, 4.3, 4.53, 9.92, 19.21), marks=row("MET-R09")),
        pytest.param(4, (1.14, 2.13, 2.78, 2.87, 4.6, 6.62), marks=row("MET-R10")),
        pytest.param(5, (1.11, 2.02, 2.57, 2.65, 4.03, 5.51), marks=row("MET-R11")),
        pytest.param(10, (1.05, 1.81, 2.23, 2.28, 3.17, 3.96), marks=row("MET-R12")),
        pytest.param(16, (1.03, 1.75, 2.12, 2.17, 2.92, 3.54), marks=row("MET-R13")),
        pytest.param(20, (1.03, 1.72, 2.09, 2.13, 2.85, 3.42), marks=row("MET-R14")),
        pytest.param(50, (1.01, 1.68, 2.01, 2.05, 2.68, 3.16), marks=row("MET-R15")),
        pytest.param(100, (1.005, 1.66, 1.984, 2.025, 2.626, 3.077), marks=row("MET-R16")),
    ],
)
def test_the_table_of_t(freedom: int, printed: tuple[float, ...]) -> None:
    """JCGM 100:2008 table G.2 = NIST TN 1297 table B.1. Its 235.80 is 235.784 to more digits; the row says so."""
    for level, value in zip(LEVELS, printed, strict=True):
        assert t_factor(level, freedom) == pytest.approx(value, abs=0.017 if value > 200 else 0.0101)


@row("MET-R17")
def test_degrees_of_freedom_of_three_components() -> None:
    """JCGM 100:2008 G.4: Welch and Satterthwaite, the freedom cut to a whole number."""
    three = form(("a", 5.8, 24), ("b", 3.9, 5), ("c", 6.7, 8))
    covered = coverage(three)
    assert covered is not None
    assert three.standard == pytest.approx(9.6819, rel=1e-3)
    assert three.freedom == pytest.approx(25.45, rel=1e-3)
    assert covered.k == pytest.approx(2.060, rel=1e-3)
    assert covered.half == pytest.approx(19.9403, rel=1e-3)
    assert covered.how == "k = 2.06 from 25 degrees of freedom"


@row("MET-R18")
def test_degrees_of_freedom_with_one_component_known_for_sure() -> None:
    """An infinite freedom adds nothing below the line."""
    two = form(("a", 0.25, 9), ("b", 0.57, math.inf))
    covered = coverage(two)
    assert covered is not None
    assert two.standard == pytest.approx(0.6224, rel=1e-3)
    assert two.freedom == pytest.approx(345.78, rel=1e-3)
    assert covered.k == pytest.approx(1.967, rel=1e-3)
    assert covered.half == pytest.approx(1.2242, rel=1e-3)


@row("MET-R19")
def test_the_step_attenuator_of_nist() -> None:
    """NIST TN 1900 example E11: four readings, and eight corrections of nothing with their shapes."""
    readings = [Fraction(x) for x in ("30.033", "30.058", "30.018", "30.052")]
    terms = [
        ("readings", unc.deviation(readings) / 2, 3.0),
        ("sample", unc.of_limits(0.00433), math.inf),
        ("drift", unc.of_arcsine(0.00198), math.inf),
        ("mismatch", unc.of_arcsine(0.02828), math.inf),
        ("leakage", unc.of_arcsine(0.003), math.inf),
        ("display b", unc.of_limits(0.0005196), math.inf),
        ("display a", unc.of_limits(0.0005196), math.inf),
        ("zero a", 0.002, math.inf),
        ("zero b", 0.002, math.inf),
    ]
    whole = form(*terms)
    mean = float(sum(readings) / 4)
    assert round(mean + 0.003, 3) == 30.043
    assert round(whole.standard, 3) == 0.022
    assert whole.freedom == pytest.approx(110, rel=0.2)
    covered = coverage(whole)
    assert covered is not None
    assert covered.half == pytest.approx(0.044, abs=0.001)
    assert covered.k == pytest.approx(1.982, abs=0.005)


# ---------------------------------------------------------------------------- conformity


@row("MET-R20")
def test_conformity_to_one_limit() -> None:
    """JCGM 106:2012, example of a breakdown voltage, from memory."""
    assert probability(Fraction("-5.47"), limits(None, "-5.40"), 0.05) == pytest.approx(0.92, abs=0.001)


@row("MET-R21")
def test_conformity_to_two_limits() -> None:
    """JCGM 106:2012, example of a viscosity, from memory."""
    assert round(probability(Fraction("13.6"), limits("12.5", "16.3"), 1.8), 2) == 0.66


@row("MET-R22")
def test_conformity_near_the_upper_of_two_limits() -> None:
    assert probability(Fraction("0.31"), limits("-0.5", "0.5"), 0.12) == pytest.approx(0.94333, abs=1e-5)


@row("MET-R23")
def test_conformity_in_narrow_limits() -> None:
    assert probability(Fraction("100.7"), limits("99", "101"), 0.2) == pytest.approx(0.93319, abs=1e-5)


@row("MET-R24")
def test_acceptance_zones() -> None:
    """ISO 14253-1, from memory: limits drawn in by the expanded uncertainty, or by 1.65 standard ones. The guarded rule
    turns where the second is, since one limit at a time matters there."""
    wide = acceptance_zone(9.9, 10.1, 0.02)
    assert wide is not None
    assert wide == pytest.approx((9.92, 10.08), abs=1e-9)
    standard = 0.01
    zone = acceptance_zone(9.9, 10.1, 1.65 * standard)
    assert zone == pytest.approx((9.9165, 10.0835), abs=1e-9)
    allowed = limits("9.9", "10.1")
    assert below(2.0) == pytest.approx(0.977, abs=5e-4)
    assert below(1.645) == pytest.approx(0.95, abs=5e-4)
    assert guarded(probability(Fraction("10.0835"), allowed, standard), DEFAULT_GUARD) is Outcome.PASSES
    assert guarded(probability(Fraction("10.0836"), allowed, standard), DEFAULT_GUARD) is Outcome.UNDECIDED
    assert acceptance_zone(9.9, 10.1, 0.2) is None


@row("MET-R25")
def test_one_sided_factors() -> None:
    """Shares of a normal distribution, as in JCGM 106:2012 table 1."""
    for share, factor in ((0.80, 0.842), (0.90, 1.282), (0.95, 1.645), (0.975, 1.960), (0.99, 2.326), (0.999, 3.090)):
        assert below(factor) == pytest.approx(share, abs=5e-4)


@row("MET-R26")
def test_there_are_three_zones() -> None:
    """ISO 14253-1, from memory: conformity proved, non-conformity proved, neither. What conforms by half is neither."""
    allowed, standard = limits("9.9", "10.1"), 0.01
    for value, outcome in (
        ("10", Outcome.PASSES), ("10.09", Outcome.UNDECIDED), ("10.1", Outcome.UNDECIDED), ("10.11", Outcome.UNDECIDED),
        ("10.12", Outcome.FAILS), ("9.88", Outcome.FAILS), ("9.9", Outcome.UNDECIDED), ("9.92", Outcome.PASSES),
    ):  # fmt: skip
        assert guarded(probability(Fraction(value), allowed, standard), DEFAULT_GUARD) is outcome, value


# ---------------------------------------------------------------------------- beside the rows


def test_a_shared_source_drops_out_of_a_difference() -> None:
    """JCGM 100:2008 5.2, in sources: what two readings share cancels, and what they have for themselves does not."""
    shared = Source("accuracy")
    one = Form(((shared, 0.2), (Source("first"), 0.1)))
    other = Form(((shared, 0.2), (Source("second"), 0.1)))
    half_difference = combined([(0.5, one), (-0.5, other)])
    assert {source.key for source, _ in half_difference.terms} == {"first", "second"}
    assert half_difference.standard == pytest.approx(0.1 / math.sqrt(2))
    assert combined([(0.5, one), (0.5, other)]).standard == pytest.approx(math.hypot(0.2, 0.1 / math.sqrt(2)))


def test_few_readings_that_share_a_source_have_no_stated_factor() -> None:
    """JCGM 100:2008 G.4.1: the formula of Welch and Satterthwaite takes independent inputs."""
    few = Form(((Source("scatter", "t", 3), 0.1), (Source("accuracy"), 0.1)))
    other = Form(((Source("accuracy"), 0.1),))
    assert coverage(few) is not None
    assert coverage(combined([(1.0, few), (1.0, other)])) is None


def test_drawn_shares_agree_with_the_normal_distribution() -> None:
    """JCGM 101:2008: 200,000 draws of what is normal come to the closed form, within what draws can tell."""
    rng = random.Random(12)
    draws = [rng.gauss(0, 0.12) for _ in range(200_000)]
    share = share_within(draws, Fraction("0.31"), limits("-0.5", "0.5"))
    assert share == pytest.approx(0.94333, abs=4 * math.sqrt(0.94 * 0.06 / 200_000))
