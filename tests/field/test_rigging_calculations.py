"""Rigging sums: what they refuse, and statics solved again with numpy as the oracle."""

from __future__ import annotations

import math
import sys
from itertools import combinations
from pathlib import Path

import numpy as np
import pint
import pytest
from field_help import inside, number, refusal, run, several
from hypothesis import given
from hypothesis import strategies as st

from proclang.field.declare import Series
from proclang.field.door import bind
from proclang.field.registry import all_calculations, calculation_page, find
from proclang.field.rigging import ANGLE_GROUP, NO_PLAN
from proclang.text.diagnostic import Problem

sys.path.insert(0, str(Path(__file__).parents[1] / "engine"))

from engine_help import running

EVERY = [calc for calc in all_calculations() if calc.topic.startswith("rigging")]
SLUNG = [calc for calc in EVERY if ANGLE_GROUP in calc.one_of]
BELOW = {"cg_height": "-0.2 m"}
CENTRED = {"weight": "1000 kg", "length": "1.2 m", "width": "0.8 m", "cg_x": "0 m", "cg_y": "0 m"}


@pytest.mark.parametrize("calc", EVERY, ids=lambda calc: calc.name)
def test_every_sum_says_that_it_is_no_lift_plan(calc) -> None:
    """The caution begins with it, and the standing is printed with every result."""
    assert calc.caution.startswith(NO_PLAN)
    assert calc.print_standing
    assert "The standing is printed with every result." in calculation_page(calc)


@pytest.mark.parametrize("calc", SLUNG, ids=lambda calc: calc.name)
def test_a_sling_angle_is_never_bare(calc) -> None:
    """By position, not at all or in two ways at once: each is refused before anything is computed."""
    others = [p.name for p in calc.parameters if p.name not in ANGLE_GROUP]
    places = len(others) + 1
    assert isinstance(bind(calc, places, []), Problem)
    for names in ([], ["from_horizontal", "from_vertical"], ["from_vertical", "included"]):
        found = bind(calc, 0, [*others, *names])
        assert isinstance(found, Problem)
        assert "exactly one of `from_horizontal` or `from_vertical` or `included`" in found.message
    assert not isinstance(bind(calc, 0, [*others, "included"]), Problem)


@pytest.mark.parametrize(
    "angle", [{"from_horizontal": "29.9 deg"}, {"from_vertical": "60.1 deg"}, {"included": "120.2 deg"}]
)
def test_a_leg_below_30_deg_from_the_horizontal_is_refused(angle: dict[str, str]) -> None:
    """In each of the three ways to say it; the refusal names the range and the source."""
    for name, rest in [
        ("tension_factor", {}),
        ("sling_tension", {"share": "100 kg"}),
        ("leg_tension", {"weight": "100 kg", "legs": "2"}),
        ("four_leg_tension", {"weight": "100 kg"}),
        ("sling_capacity", {"leg_capacity": "100 kg", "legs": "2"}),
    ]:
        found = refusal(name, **rest, **angle)
        assert "is outside its range" in found.message
        assert found.hint.startswith("source: ")
    assert "30 deg" in refusal("tension_factor_by_length", leg="2.01 m", height="1 m").message
    assert number("tension_factor_by_length", "", leg="2 m", height="1 m") == 2


@pytest.mark.parametrize("legs", ["0", "4", "5"])
def test_four_legs_are_not_summed_as_if_all_carried(legs: str) -> None:
    """Three is the most that statics decide; four has its own calculation."""
    assert isinstance(run("leg_tension", weight="100 kg", legs=legs, from_horizontal="60 deg"), Problem)


def test_a_single_leg_hangs_vertical() -> None:
    """One slanted leg is not in balance."""
    assert number("leg_tension", "kg", weight="100 kg", legs="1", from_vertical="0 deg") == 100
    assert "vertical" in refusal("leg_tension", weight="100 kg", legs="1", from_vertical="10 deg").message


WEIGHED = {"mass": "480 kg", "basis": "weighed", "hook_and_gear": "62 kg", "cranes": "1"}


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"mass": "0 kg"}, "above 0 kg"),
        ({"mass": "-480 kg"}, "above 0 kg"),
        ({"cranes": "2"}, "plan of its own"),
        ({"basis": "estimated"}, "needs a `factor`"),
        ({"basis": "drawing", "hook_and_gear": "0 kg"}, "hook and gear weigh something"),
        ({"factor": "0.9"}, "at least 1"),
    ],
)
def test_no_weight_no_factor_two_cranes(changed: dict[str, str], words: str) -> None:
    """Each is refused in words."""
    assert words in refusal("lift_weight", **(WEIGHED | changed)).message


def test_weight_with_its_basis() -> None:
    """Addition; 0 kg of gear only where it was weighed with the load."""
    assert number("lift_weight", "kg", **WEIGHED) == 542
    assert number("lift_weight", "kg", **(WEIGHED | {"hook_and_gear": "0 kg"})) == 480
    estimated = WEIGHED | {"basis": "estimated", "factor": "1.25"}
    assert number("lift_weight", "kg", **estimated) == 662


def test_gear_and_weight_cannot_be_left_out() -> None:
    """No default stands in for what nobody looked up."""
    calc = find("lift_weight")
    assert calc is not None
    for left_out in ("mass", "basis", "hook_and_gear", "cranes"):
        names = [p.name for p in calc.parameters if p.name not in (left_out, "factor")]
        found = bind(calc, 0, names)
        assert isinstance(found, Problem)
        assert f"`{left_out}`" in found.message


def test_crane_share_uses_the_operators_figure_only() -> None:
    """A ratio; beyond the radius that was read, or with two cranes, nothing. Too much is shown as more than 1."""
    lift = {"weight": "900 kg", "chart_capacity": "1.8 t", "radius": "9 m", "chart_radius": "9 m", "cranes": "1"}
    assert number("chart_share", "%", **lift) == 50
    assert number("chart_share", "", **(lift | {"weight": "2.7 t"})) == 1.5
    assert "further than the radius" in refusal("chart_share", **(lift | {"radius": "9.01 m"})).message
    assert "plan of its own" in refusal("chart_share", **(lift | {"cranes": "2"})).message
    assert "above 0 kg" in refusal("chart_share", **(lift | {"weight": "0 kg"})).message


@given(st.integers(30, 89), st.integers(30, 89))
def test_a_bridle_is_in_balance(first: int, second: int) -> None:
    """Oracle: numpy solves the two equations of forces, horizontal and vertical."""
    told = several(
        "bridle_tension",
        "kg",
        "kg",
        weight="1000 kg",
        first_from_horizontal=f"{first} deg",
        second_from_vertical=f"{90 - second} deg",
    )
    a, b = math.radians(first), math.radians(second)
    solved = np.linalg.solve([[math.cos(a), -math.cos(b)], [math.sin(a), math.sin(b)]], [0, 1000])
    assert told == [pytest.approx(x, rel=1e-9) for x in solved]


def test_two_vertical_legs_have_no_common_hook() -> None:
    """The lines of the two would have to meet."""
    found = refusal("bridle_tension", weight="1 t", first_from_horizontal="90 deg", second_from_horizontal="90 deg")
    assert "two_picks" in found.message


def solved_three(corners: list[tuple[float, float]], x: float, y: float) -> np.ndarray:
    """Loads of three ropes under 1000 kg at (x, y): force and two moments."""
    matrix = [[1.0] * 3, [p[0] for p in corners], [p[1] for p in corners]]
    return np.linalg.solve(matrix, [1000.0, 1000.0 * x, 1000.0 * y])


@given(st.integers(-590, 590), st.integers(-390, 390))
def test_the_worst_of_four_picks_is_that_of_three_taut_ropes(x: int, y: int) -> None:
    """Oracle: numpy solves each set of three ropes; of those that only pull, the greatest load is the answer.

    It is never below half the load, nor below the bilinear rule.
    """
    corners = [(0.6, 0.4), (-0.6, 0.4), (-0.6, -0.4), (0.6, -0.4)]
    worst = 0.0
    for three in combinations(corners, 3):
        loads = solved_three(list(three), x / 1000, y / 1000)
        if loads.min() >= -1e-6:
            worst = max(worst, loads.max())
    where = CENTRED | BELOW | {"cg_x": f"{x} mm", "cg_y": f"{y} mm"}
    slack, bilinear = several("four_picks", "kg", "kg", **where)
    assert slack == pytest.approx(worst, rel=1e-9)
    assert slack >= max(bilinear, 500 - 1e-6)
    assert sum(several("bilinear_shares", "kg", "kg", "kg", "kg", **where)) == pytest.approx(1000)


@given(st.integers(1, 98), st.integers(1, 98))
def test_three_picks_balance(u: int, v: int) -> None:
    """Oracle: numpy's solution; a centre of gravity outside the triangle is refused, and so is one on its edge."""
    corners = [(0.0, 0.0), (1.3, 0.1), (0.4, 1.1)]
    x, y = u / 70, v / 70
    loads = solved_three(corners, x, y)
    outcome = run(
        "three_picks",
        weight="1000 kg",
        x={"a": "0 m", "b": "1.3 m", "c": "0.4 m"},
        y={"c": "1.1 m", "a": "0 m", "b": "0.1 m"},
        cg_x=f"{u}/70 m",
        cg_y=f"{v}/70 m",
        **BELOW,
    )
    if loads.min() < -1e-6:
        assert isinstance(outcome, Problem)
        assert "not inside the picks" in outcome.message
    elif loads.min() > 1e-6:
        assert not isinstance(outcome, Problem)
        assert isinstance(outcome[0], Series)
        assert [inside(value, "kg") for value in outcome[0].values] == [pytest.approx(z, rel=1e-9) for z in loads]


@given(st.integers(-20, 20), st.integers(-20, 20))
def test_legs_to_one_hook_carry_the_share_of_their_pick(u: int, v: int) -> None:
    """Oracle: numpy solves three legs in space that meet above the centre of gravity.

    Each pulls `sling_tension` of what `three_picks` gives its pick, by its own angle from the horizontal.
    """
    corners = [(-0.7, -0.5), (0.8, -0.4), (0.0, 0.9)]
    hook = np.array([u / 100, v / 100, 2.0])
    legs = np.array([hook - (*corner, 0.0) for corner in corners])
    lengths = np.linalg.norm(legs, axis=1)
    pulls = np.linalg.solve((legs / lengths[:, None]).T, [0.0, 0.0, 1000.0])
    outcome = run(
        "three_picks",
        weight="1000 kg",
        x=["-0.7 m", "0.8 m", "0 m"],
        y=["-0.5 m", "-0.4 m", "0.9 m"],
        cg_x=f"{u} cm",
        cg_y=f"{v} cm",
        **BELOW,
    )
    assert not isinstance(outcome, Problem)
    assert isinstance(outcome[0], Series)
    for share, length, pull in zip(outcome[0].values, lengths, pulls, strict=True):
        angle = math.degrees(math.asin(2.0 / length))
        leg = number("sling_tension", "kg", share=f"{inside(share, 'kg')!r} kg", from_horizontal=f"{angle!r} deg")
        assert leg == pytest.approx(pull, rel=1e-9)


def test_three_picks_on_a_line_are_refused() -> None:
    """And so are two or four."""
    line = {"weight": "1 t", "cg_x": "1 m", "cg_y": "0 m"} | BELOW
    xs, ys = {"a": "0 m", "b": "1 m", "c": "2 m"}, {"a": "0 m", "b": "0 m", "c": "0 m"}
    assert "on one line" in refusal("three_picks", x=xs, y=ys, **line).message
    assert "three picks" in refusal("three_picks", x=xs | {"d": "3 m"}, y=ys | {"d": "1 m"}, **line).message


@pytest.mark.parametrize("height", ["0 m", "0.3 m"])
def test_a_centre_of_gravity_above_the_picks_needs_an_answer(height: str) -> None:
    """Level with the picks is as bad; `not_shown` is no answer."""
    two = {"weight": "1 t", "span": "2 m", "from_first": "0.9 m"}
    for name, where in [("two_picks", two), ("four_picks", CENTRED), ("bilinear_shares", CENTRED)]:
        assert "turn over" in refusal(name, **where, cg_height=height).message
        assert "turn over" in refusal(name, **where, cg_height=height, stability="not_shown").message
        shown = run(name, **where, cg_height=height, stability="shown")
        assert shown == run(name, **where, cg_height="-0.1 m")
        assert not isinstance(shown, Problem)


@pytest.mark.parametrize("place", ["-0.1 m", "0 m", "2 m", "2.1 m"])
def test_a_centre_of_gravity_outside_the_picks_is_refused(place: str) -> None:
    """Over a pick the other rope hangs slack: refused as well."""
    assert "not inside" in refusal("two_picks", weight="1 t", span="2 m", from_first=place, **BELOW).message
    assert "not inside" in refusal("four_picks", **(CENTRED | {"cg_y": "0.4 m"}), **BELOW).message


@pytest.mark.parametrize(
    ("between", "careful"),
    [
        (("16 mm", "0 deg"), ("12 mm", "0 deg")),
        (("29 mm", "45 deg"), ("20 mm", "45 deg")),
        (("20 mm", "1 deg"), ("20 mm", "45 deg")),
    ],
)
def test_metric_eyebolts_between_entries(between: tuple[str, str], careful: tuple[str, str]) -> None:
    """The smaller size and the greater angle hold; nothing is interpolated."""
    assert run("eyebolt_din_580", nominal=between[0], from_axis=between[1]) == run(
        "eyebolt_din_580", nominal=careful[0], from_axis=careful[1]
    )


def test_eyebolts_outside_their_table_are_refused() -> None:
    """Below, above, beyond the angle, and a thread of the other standard."""
    for nominal in ("6 mm", "42 mm"):
        assert "M8 to M36" in refusal("eyebolt_din_580", nominal=nominal, from_axis="0 deg").message
    assert "0 deg to 45 deg" in refusal("eyebolt_din_580", nominal="12 mm", from_axis="46 deg").message
    assert "metric threads" in refusal("eyebolt_din_580", nominal="1/2 inch", from_axis="0 deg").message
    assert "inch threads" in refusal("eyebolt_b18_15", nominal="12 mm", from_axis="0 deg").message
    for nominal in ("1/8 inch", "9/4 inch"):
        assert "1/4 inch to 2 inch" in refusal("eyebolt_b18_15", nominal=nominal, from_axis="0 deg").message
    assert number("eyebolt_b18_15", "lb", nominal="5/8 inch", from_axis="31 deg") == 520


@pytest.mark.parametrize(
    ("name", "least", "rest"),
    [
        ("eyebolt_derated", "from_axis", {"rated": "1 t"}),
        ("shackle_side_load", "from_in_line", {"rated": "1 t"}),
        ("eyebolt_b18_15", "from_axis", {"nominal": "2 inch"}),
    ],
)
@given(st.integers(0, 899))
def test_a_greater_angle_never_gives_more(name: str, least: str, rest: dict[str, str], tenths: int) -> None:
    """Whatever the table, and between its entries."""
    lower = number(name, "kg", **rest, **{least: f"{tenths}/10 deg"})
    assert number(name, "kg", **rest, **{least: f"{tenths + 1}/10 deg"}) <= lower


def test_a_bend_sharper_than_the_table_is_refused() -> None:
    """Nothing is known below twice the rope; a wider bend than the widest gains nothing."""
    assert "sharper" in refusal("bending_efficiency", bend_diameter="19 mm", rope_diameter="10 mm").message
    assert number("bending_efficiency", "%", bend_diameter="1 m", rope_diameter="10 mm") == 95


def test_a_basket_loses_with_the_angle_of_its_legs() -> None:
    """Half at 30 deg from the horizontal."""
    given = {"rated": "2 t", "bend_diameter": "0.3 m", "rope_diameter": "10 mm", "splice": "mechanical"}
    assert number("basket_capacity", "kg", **given, included="120 deg") == pytest.approx(1000)


def test_wind_agrees_with_pint() -> None:
    """Oracle: pint, half the density times speed squared, in km/h and square feet."""
    registry = pint.UnitRegistry()
    speed, area = registry.Quantity(31, "km/hour"), registry.Quantity(20, "foot**2")
    density = registry.Quantity(1.25, "kg/m**3")
    wanted = (density / 2 * speed**2 * area * 1.3).to("newton").magnitude
    assert number("wind_force", "N", gust="31 km/h", area="20 ft^2", drag="1.3", air="en_1991") == pytest.approx(wanted)


def test_wind_does_not_blow_backwards() -> None:
    """A lost sign; and air is named, not guessed."""
    assert "at least 0 m/s" in refusal("wind_pressure", gust="-5 m/s", air="asce_7").message
    assert "one of asce_7, en_1991, air_1_2" in refusal("wind_pressure", gust="5 m/s", air="thin").message
    calc = find("wind_pressure")
    assert calc is not None
    assert isinstance(bind(calc, 1, []), Problem)


SCALE = """
needs
  instrument scale "crane scale", reads to 1 kg
  crew lead, rigger, scribe
"""


@pytest.mark.parametrize(("basis", "shown"), [("weighed", "542 kg"), ("estimated", "")])
def test_the_basis_a_rigger_chooses_goes_into_the_sum(basis: str, shown: str) -> None:
    """In a procedure: the weight of the load read and its basis chosen; an estimate without a factor is no weight."""
    run_of_it = running(
        """
        step read_load "Read the load."
          measure load "weight of the load" in kg using scale
          choose basis from weighed, drawing, estimated "The weight was"
        compute weight = lift_weight(load, basis = basis, hook_and_gear = 62 kg, cranes = 1)
        confirm after "{weight to 1 kg} on the hook"
        """,
        needs=SCALE,
    )
    run_of_it.say("480", basis)
    told = [text for event in run_of_it.events("computed") for text in event["values"].values()]
    assert told == ([shown] if shown else [])
    assert (run_of_it.address == "job/work/after") == bool(shown)
