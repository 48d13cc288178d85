"""What holds for every declaration: it is complete, says its source, and no value makes it raise."""

from __future__ import annotations

import subprocess
import sys
from fractions import Fraction
from itertools import product

import pytest

from proclang.field.declare import STANDINGS, Calculation, Parameter, Root, Series
from proclang.field.door import prepare, result_dimensions
from proclang.field.registry import TITLES, TOPICS, all_calculations, calculation_page, find, names, reference_chapter
from proclang.text.diagnostic import Problem
from proclang.values.dimension import AREA, BEARING_TRUE, Dimension
from proclang.values.unit import Unit, find_unit

EVERY = all_calculations()
MAY_HURT = {
    "levelling", "levelling_readings", "levelling_nuts", "setting_out", "travel", "threads", "optics", "optics_mirror",
    "optics_beam", "optics_focus", "structure", "sun", "sky_motion", "motion", "balance", "wind", "people", "lifting",
    "power", "circuits", "fasteners", "rigging", "rigging_picks", "rigging_eyebolts", "rigging_hitches", "rigging_wind",
    "rigging_lift",
}  # fmt: skip
HURTS_NOBODY = {
    "arithmetic": "numbers of whatever a procedure measures; what they are used for carries its own caution",
    "angles": "numbers likewise; the signs of declination and convergence are cautioned all the same",
    "levelling_plane": "heights that were measured already; nothing is turned by it",
    "orientation": "bearings on paper",
    "magnetic": "bearings on paper; what a compass is worth is cautioned all the same",
    "stars": "nobody is hurt by looking at a star at night",
    "refraction": "angles on paper",
    "weather": "dew is on the instrument; wind, cold and lightning have topics of their own",
    "schedule": "an estimate of time",
}
PRINTS_ITS_STANDING = {
    "rigging_lift", "rigging", "rigging_picks", "rigging_eyebolts", "rigging_hitches", "rigging_wind", "threads",
    "fasteners", "power", "circuits",
}  # fmt: skip
AWKWARD = (
    Fraction(0), Fraction(1), Fraction(-1), Fraction(1, 3), Fraction(360), Fraction(10**30), Fraction(-(10**30)),
    Fraction(1, 10**30), Fraction(10**400), Fraction(1, 10**400), Fraction(10**200) + Fraction(1, 7),
)  # fmt: skip


def dimension_for(parameter: Parameter) -> Dimension:
    """One that fits: an area, since its square root exists, where the call decides."""
    takes = parameter.takes
    if isinstance(takes, Dimension):
        return takes
    return BEARING_TRUE if takes.bearing else AREA


def fitting(calc: Calculation) -> dict[str, Dimension]:
    return {p.name: dimension_for(p) for p in calc.parameters}


every = pytest.mark.parametrize("calc", EVERY, ids=lambda calc: calc.name)


def test_the_table_of_names_is_what_the_topics_declare() -> None:
    """The static table exists so that one name imports one topic; it may not drift."""
    declared = {topic: tuple(c.name for c in EVERY if c.topic == topic) for topic in TOPICS}
    assert declared == TOPICS
    assert len(set(names())) == len(names()) == len(EVERY)


def test_every_topic_has_its_title_in_the_reference() -> None:
    """And stands in the chapter once."""
    assert set(TITLES) == set(TOPICS)
    chapter = reference_chapter()
    for calc in EVERY:
        assert chapter.count(f"#### `{calc.name}`\n") == 1


def test_an_unknown_name_is_none() -> None:
    """The caller words the finding; it knows the place."""
    assert find("levelling_turn") is None


def test_finding_one_calculation_loads_one_topic() -> None:
    """`check` of a procedure does not pay for topics it does not use, nor for numpy."""
    code = (
        "import sys; from proclang.field.registry import find; find('hypot');"
        "print(sorted(m for m in sys.modules if m.startswith('proclang.field.') or m == 'numpy'))"
    )
    printed = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert printed.strip() == str(["proclang.field.arithmetic", "proclang.field.declare", "proclang.field.registry"])


@every
def test_every_declaration_is_complete(calc: Calculation) -> None:
    """Meaning of every parameter and result, formula in one line, source, standing."""
    assert calc.parameters
    assert calc.results
    for part in (*calc.parameters, *calc.results):
        assert len(part.meaning) > 3, part.name
        assert part.name.isidentifier()
    assert calc.formula
    assert "\n" not in calc.formula
    assert calc.source
    assert calc.standing in STANDINGS
    known = {p.name: p for p in calc.parameters}
    assert len(known) == len(calc.parameters)
    for result in calc.results:
        if result.labels is not None:
            assert known[result.labels].whole or known[result.labels].series
        if not isinstance(result.gives, Dimension):
            assert result.gives.variable in {p.takes.variable for p in calc.parameters if hasattr(p.takes, "variable")}


@every
def test_what_can_hurt_carries_its_caution(calc: Calculation) -> None:
    """Turned nuts, travel limits, lasers, bolts, loads and conductors; and no page says that something is safe. In
    rigging, bolts and electrical the standing is printed with every result."""
    if calc.topic in MAY_HURT:
        assert len(calc.caution) > 30
    assert calc.print_standing or calc.topic not in PRINTS_ITS_STANDING
    assert "safe" not in calculation_page(calc).lower()


def test_every_topic_is_known_to_hurt_or_known_not_to() -> None:
    """A new topic has to be put on one side, with the reason where it needs no caution."""
    assert set(TOPICS) == MAY_HURT | set(HURTS_NOBODY)
    assert not MAY_HURT & set(HURTS_NOBODY)
    assert PRINTS_ITS_STANDING <= MAY_HURT


@every
def test_every_default_has_the_dimension_it_stands_for(calc: Calculation) -> None:
    """A default is used unchecked at run time."""
    for parameter in calc.parameters:
        if isinstance(parameter.default, str):
            assert parameter.default in parameter.choices
        elif parameter.default is not None:
            assert parameter.default.dimension == parameter.takes


@every
def test_dimensions_that_fit_give_dimensions(calc: Calculation) -> None:
    """One dimension for each result; a root halves the powers."""
    gives = result_dimensions(calc, fitting(calc))
    assert not isinstance(gives, Problem)
    assert len(gives) == len(calc.results)
    for result, dimension in zip(calc.results, gives, strict=True):
        if isinstance(result.gives, Root):
            assert dimension.powers == tuple(power // result.gives.degree for power in AREA.powers)


@every
def test_a_wrong_dimension_is_found_in_every_place(calc: Calculation) -> None:
    """Current squared fits no shipped parameter that names its dimension."""
    odd = Dimension((0, 0, 0, 0, 0, 2))
    for parameter in calc.parameters:
        if isinstance(parameter.takes, Dimension) and not parameter.choices:
            gives = result_dimensions(calc, fitting(calc) | {parameter.name: odd})
            assert isinstance(gives, Problem)
            assert gives.code == "wrong-dimension"
            assert f"`{parameter.name}`" in gives.message


@every
def test_no_value_makes_it_raise(calc: Calculation) -> None:
    """Zero, tiny, huge, negative: a result, or a problem that says why. Every result is a fraction."""
    run = prepare(calc, fitting(calc))
    for values in awkward_arguments(calc):
        outcome = run(*values)
        if isinstance(outcome, Problem):
            assert outcome.code in {"cannot-compute", "bad-argument"}
            assert outcome.message
            continue
        for result in outcome:
            flat = result.values if isinstance(result, Series) else (result,)
            assert all(isinstance(value, Fraction) for value in flat)


def awkward_arguments(calc: Calculation) -> list[tuple[Fraction | Series, ...]]:
    """Every pair of awkward values over the arguments in turn, the rest being one of them."""
    count = len(calc.parameters)
    rows = []
    for first, rest in product(AWKWARD, AWKWARD):
        for place in range(count):
            row = [first if k == place else rest for k in range(count)]
            rows.append(tuple(shaped(p, value, first) for p, value in zip(calc.parameters, row, strict=True)))
    return rows


def shaped(parameter: Parameter, value: Fraction, other: Fraction) -> Fraction | Series | str:
    if parameter.choices:
        return parameter.choices[hash(value) % len(parameter.choices)]
    if parameter.whole:
        return value if value.denominator == 1 and value < 10**6 else Fraction(6)
    if not parameter.series:
        return value
    labels = parameter.labels or ("a", "b", "c", "d")
    return Series(tuple((label, value if k % 2 else other * k) for k, label in enumerate(labels)))


@every
def test_a_page_shows_the_whole_declaration(calc: Calculation) -> None:
    """The reference reads nothing but the declaration, and leaves nothing out."""
    page = calculation_page(calc)
    assert page.startswith(f"#### `{calc.name}`\n")
    assert page.endswith(".\n")
    for text in (calc.formula, calc.source, calc.standing, calc.caution, calc.validity):
        assert text in page
    for part in (*calc.parameters, *calc.results):
        assert f"- `{part.name}`: " in page


def test_a_page_reads_as_declared() -> None:
    """One page in full, as an example of all of them."""
    calc = find("stopping_distance")
    assert calc is not None
    assert calculation_page(calc) == (
        "#### `stopping_distance`\n\n"
        "`stopping_distance(speed, deceleration, latency = 0 s)`\n\n"
        "Takes\n\n"
        "- `speed`: an angular speed. Speed when the stop is commanded; its size counts, not its direction.\n"
        "- `deceleration`: an angular acceleration. How fast the speed is taken off, above zero.\n"
        "- `latency`: a time. Time from the command until the speed begins to fall.\n\n"
        "Gives\n\n"
        "- `distance`: an angle. Angle run from the command to standstill, never below zero.\n\n"
        "Formula: speed * latency + speed^2 / (2 * deceleration).\n\n"
        "Example: `stopping_distance(4 deg/s, 2 deg/s^2, latency = 250 ms)` gives `5 deg`.\n\n"
        "Valid for a deceleration above zero, a latency of zero or more; anything else is refused.\n\n"
        "As a limit, round it up.\n\n"
        "Source: kinematics of constant deceleration. Standing: arithmetic.\n\n"
        f"**Caution.** {calc.caution}\n\n"
        "Computed exactly.\n"
    )


@pytest.mark.parametrize(
    "calc", [c for c in all_calculations() if any(r.unit for r in c.results)], ids=lambda c: c.name
)
def test_a_declared_unit_has_the_dimension_of_its_result(calc: Calculation) -> None:
    """A result shown in turns must be an angle."""
    for result in (r for r in calc.results if r.unit):
        unit = find_unit(result.unit)
        assert isinstance(unit, Unit)
        assert unit.dimension == result.gives
