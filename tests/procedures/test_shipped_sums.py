"""The sums in the shipped procedures, held against geometry, published values and arithmetic done apart from them."""

from __future__ import annotations

import math
import random
import re
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mount_simulator import MountCrew
from plate_simulator import PITCH, Plate, PlateCrew, bearing_apart
from procedure_help import OBSERVATORY, SITE_NAMES, Run, built, facts, few_draws, program, run
from reply_scenarios import declination
from shipped_day import place
from site_crew import Crew

from proclang.engine.model import Request

ARCMIN = math.pi / (180 * 60)


def number(text: str) -> Fraction:
    """A stored value without its unit, exactly."""
    return Fraction(text.split(" ")[0])


# ---------------------------------------------------------------------------- the mark


@pytest.mark.parametrize("site", SITE_NAMES)
def test_the_mark_points_away_from_the_pole(site: str) -> None:
    """Due south at a northern site, due north at a southern one (common practice, no source), within 1 deg, true."""
    given_facts = facts("level_base", site)
    crew = PlateCrew(seed=7, declination=declination(site), **place(site))
    run(program("level_base"), given_facts, crew)
    away = 180.0 if given_facts["hemisphere"] == "north" else 0.0
    assert bearing_apart(crew.mark, away) <= 1
    pole_side = 0.0 if given_facts["hemisphere"] == "north" else 180.0
    assert bearing_apart(crew.mark, pole_side) > 170


@pytest.mark.parametrize("site", SITE_NAMES)
def test_a_mark_toward_the_pole_is_not_accepted(site: str) -> None:
    """The mistake of the other hemisphere: half a turn off, and it fails."""
    crew = PlateCrew(
        seed=7, declination=declination(site), **place(site), ring_error=180.0, ways={"bearing/verdict": ["stop"]}
    )
    going = run(program("level_base"), facts("level_base", site), crew)
    assert going.last("verdict", "bearing")["outcome"] == "fails"
    assert going.state.status == "stopped"


def test_the_sun_finds_a_declination_that_is_wrong() -> None:
    """The site says 4.5 deg east and the needle points true north: the compass agrees with itself, the shadow does not.

    The place of the Sun is that of `ephem`, a library the program does not use.
    """
    crew = PlateCrew(seed=7, declination=0.0, ways={"bearing/verdict": ["stop"]})
    going = run(program("level_base"), facts("level_base", "northern"), crew)
    assert bearing_apart(float(number(going.value("by_compass"))), 180.0) <= 1
    assert going.last("verdict", "bearing")["outcome"] == "fails"
    assert float(number(going.value("bearing"))) % 360 == pytest.approx(crew.mark, abs=0.1)


@pytest.mark.parametrize("site", SITE_NAMES)
def test_the_words_of_the_step_go_with_the_number(site: str) -> None:
    """`due south` and the compass bearing printed below it are one direction: true = magnetic + east declination."""
    going = run(
        program("level_base"),
        facts("level_base", site),
        PlateCrew(seed=7, declination=declination(site), **place(site)),
    )
    step = next(r for r in going.asked if "/turn_ring_" in r.address)
    named = 180.0 if "due south" in step.title else 0.0
    assert ("due north" in step.title) == (named == 0.0)
    aim = float(re.findall(r"is (\d+(?:\.\d+)?) deg magnetic", step.prose[0])[0])
    assert bearing_apart(aim + declination(site), named) <= 0.05


# ---------------------------------------------------------------------------- levelling


def test_the_pitch_is_that_of_an_m20_stud() -> None:
    """ISO 261 coarse series, M20: 2.5 mm, read in two pages that reproduce it; the simulated nuts climb by it too."""
    pitch = next(s for s in program("level_base").main.inputs if s.name == "pitch")
    assert pitch.default is not None
    assert pitch.default.value * 360 * 1000 == Fraction("2.5") == Fraction(PITCH)  # type: ignore[union-attr]
    assert "M20" in {name: title for name, title, _ in program("level_base").main.parts}["nut"]


def test_the_printed_turns_level_any_plate() -> None:
    """30 plates tilted up to a degree, levels with any zero: what is printed, done, brings the tilt within 2 arcmin.

    The plate is simulated from geometry alone; hands turn what is printed, rounded to 0.05 turn. How far a rounded
    turn can leave the plate off: three nuts off by 0.025 turn each, 0.0625 mm, give 2/3 * 2 * 0.0625 / 270 rad, 1.06
    arcmin; readings add 0.1. So two passes are enough, and the bound of five is never reached.
    """
    dice = random.Random(20310501)
    for _ in range(30):
        size, way = dice.uniform(0, 40), dice.uniform(0, 2 * math.pi)
        plate = Plate.tilted(size * math.cos(way), size * math.sin(way))
        crew = PlateCrew(seed=dice.randrange(10**6), plate=plate, zero=dice.uniform(-4, 4), bend=(0.0, 0.0))
        going = run(program("level_base"), facts("level_base", "northern"), crew)
        assert going.state.status == "finished"
        assert going.events("deviation") == []
        assert plate.size() <= 2.1
        assert next(e["passes"] for e in going.events("loop end") if e["loop"] == "levelling") <= 2


def test_turns_made_the_wrong_way_never_level_the_plate() -> None:
    """The simulation is no yes-man: nuts turned opposite to the printed words end in the survey."""

    class Contrary(PlateCrew):
        def done(self, request: Request, name: str) -> None:
            if name == "turn_bearing":
                for nut, turns, word in re.findall(r"Nut (\d): (\d\.\d+) turn (raise|lower)", " ".join(request.prose)):
                    self.plate.turn(int(nut), float(turns) * (-1 if word == "raise" else 1))
            else:
                super().done(request, name)

    crew = Contrary(seed=1, plate=Plate.tilted(1.5, 1.6), bend=(0.0, 0.0))
    going = run(program("level_base"), facts("level_base", "northern"), crew)
    assert "survey_plate" in [e["routine"] for e in going.events("called")]


def test_the_level_is_read_again_after_the_torque() -> None:
    """What the tension bent after the last pass shows in the as-left tilt, not in the one read before."""
    crew = PlateCrew(seed=2, bend=(3.0, 0.0), noise=0.0, ways={"left_tilt/verdict": ["stop"]})
    going = run(program("level_base"), facts("level_base", "northern"), crew)
    before, after = number(going.value("tilt")), number(going.value("left_tilt"))
    assert before <= 2 < after
    assert abs(float(after) - crew.plate.size()) <= 0.1


def test_the_torque_goes_up_in_star_order() -> None:
    """30, 70 and 100 % of the maker's torque (pass levels of ASME PCC-1, memory), opposite nuts one after the other."""
    going = run(program("level_base"), facts("level_base", "northern"), PlateCrew(seed=2))
    order = [tuple(e["key"].split(",")) for e in going.events("read") if e["name"] == "torque"]
    assert [p for p, _ in order] == ["first"] * 6 + ["second"] * 6 + ["full"] * 6
    nuts = [int(nut) for p, nut in order if p == "first"]
    assert sorted(nuts) == [1, 2, 3, 4, 5, 6]
    for first, second in zip(nuts[::2], nuts[1::2], strict=True):
        assert abs(first - second) == 3
    targets = [number(going.value("target", p)) for p in ("first", "second", "full")]
    assert targets == [Fraction(310) * share / 100 for share in (30, 70, 100)]


# ---------------------------------------------------------------------------- the survey


class Surveyor(Crew):
    """Types the coordinates of a published set of points; the staff stands lower the higher the point."""

    def __init__(self, points: list[tuple[str, ...]]) -> None:
        super().__init__(ways={"drift/verdict": ["accept"]})
        self.points = points

    def reading(self, request: Request, name: str) -> str:
        """East, north, or 1000 mm less the height."""
        found = re.search(r"point\[(\d+)\]", request.address)
        east, north, height = self.points[int(found[1]) - 1 if found else 0]
        value = {"east": east, "north": north}.get(name, str(1000 - Fraction(height)))
        return f"really {float(Fraction(value))!r} mm"


def surveyed(points: list[tuple[str, ...]]) -> Run:
    """A run of the shipped survey with as many points as the set has, and nothing else changed."""
    text = (OBSERVATORY / "survey_plate.proc").read_text(encoding="utf-8")
    assert text.count("labels points 1 .. 6\n") == 1
    changed = text.replace("labels points 1 .. 6\n", f"labels points 1 .. {len(points)}\n")
    result = built("survey_plate", {"survey_plate": changed})
    assert result.findings == ()
    assert result.program is not None
    return run(result.program, {"hemisphere": "north"}, Surveyor(points))


_WIRE_BOND_ROWS = (
    "2 50 9.95", "8 110 24.45", "11 120 31.75", "10 550 35.0", "8 295 25.02",
    "4 200 16.86", "2 375 14.38", "2 52 9.6", "9 100 24.35", "8 300 27.5",
    "4 412 17.08", "11 400 37.0", "12 500 41.95", "2 360 11.66", "4 205 21.65",
    "4 400 17.89", "20 600 69.0", "1 585 10.3", "10 540 34.93", "15 250 46.59",
    "15 290 44.88", "16 510 54.12", "17 590 56.63", "6 100 22.13", "5 400 21.15",
)  # fmt: skip
WIRE_BONDS: list[tuple[str, ...]] = [tuple(row.split()) for row in _WIRE_BOND_ROWS]


@pytest.mark.parametrize(
    ("points", "east", "north", "rms"),
    [
        # Three points, so that the plane goes through all of them: slopes computed with numpy's lstsq.
        ([("0", "0", "0.0"), ("300", "0", "0.45"), ("150", "260", "-0.2")], 1.5e-3, -1.634615e-3, 0.0),
        # A square of four: slopes computed with numpy's lstsq.
        (
            [("-200", "-200", "0.12"), ("200", "-200", "0.31"), ("200", "200", "0.52"), ("-200", "200", "0.25")],
            5.75e-4,
            4.25e-4,
            0.02,
        ),
        # Montgomery and Runger, wire bond strength, example 12.1: slopes 2.74427 and 0.01253 in the book (from memory),
        # data seen in a public repository; squares left over 115.1735, recomputed with numpy.
        (WIRE_BONDS, 2.74427, 0.01253, math.sqrt(115.1735 / 25)),
    ],
    ids=["three", "four", "wire bonds"],
)
def test_the_survey_finds_the_published_plane(
    points: list[tuple[str, ...]], east: float, north: float, rms: float
) -> None:
    """The whole way: staff readings typed, heights from them, the plane through them, tilts given back."""
    going = surveyed(points)
    slope_east = math.tan(float(number(going.value("plate_ew"))) * _unit(going.value("plate_ew")))
    slope_north = math.tan(float(number(going.value("plate_ns"))) * _unit(going.value("plate_ns")))
    assert slope_east == pytest.approx(east, rel=1e-5)
    assert slope_north == pytest.approx(north, rel=1e-3 if len(points) == 25 else 1e-5)
    assert float(number(going.value("plate_left_over"))) == pytest.approx(rms, rel=1e-4, abs=1e-9)
    a = np.array([[float(x), float(y), 1.0] for x, y, _ in points])
    fitted = np.linalg.lstsq(a, np.array([float(z) for _, _, z in points]), rcond=None)[0]
    assert (slope_east, slope_north) == pytest.approx(tuple(fitted[:2]), rel=1e-9)


def _unit(text: str) -> float:
    return {"deg": math.pi / 180, "arcmin": ARCMIN}[text.split(" ")[1]]


def test_the_survey_sees_the_plate_as_it_lies() -> None:
    """Six points with staff and tape, to 0.1 mm and 1 mm, find a tilt of 30 arcmin to within 1 arcmin, sign and all."""
    crew = PlateCrew(seed=4, plate=Plate.tilted(30.0, -12.0))
    going = run(program("survey_plate"), {"hemisphere": "north"}, crew)
    ns, ew = (float(number(going.value(n))) * _unit(going.value(n)) / ARCMIN for n in ("plate_ns", "plate_ew"))
    assert ns == pytest.approx(30, abs=1)
    assert ew == pytest.approx(-12, abs=1)


def test_a_tripod_that_sinks_is_found_out() -> None:
    """The first point is read once more; 0.4 mm apart, the survey starts afresh, and after two the lead is asked."""
    crew = PlateCrew(seed=4, plate=Plate.tilted(5.0, 5.0), slip=0.4, ways={"/verdict": ["stop"]})
    going = run(program("survey_plate"), {"hemisphere": "north"}, crew)
    assert [e["outcome"] for e in going.events("verdict") if e["name"] == "drift"] == ["fails", "fails"]
    assert going.state.status == "stopped"


# ---------------------------------------------------------------------------- the limits


def limits_run(plus: float, minus: float, site: str) -> tuple[Run, dict[str, Fraction]]:
    """A run between two stops, and what it set."""
    crew = MountCrew(seed=9, plus_stop=plus, minus_stop=minus, mark=round((plus + minus) / 2 + 1, 2))
    crew.ways = {"stops/travel/verdict": ["accept"]}
    crew.texts = {"reason": "the stops are where the test put them", "accepted_by": "Ada Quill"}
    with few_draws():
        going = run(program("azimuth_limits"), facts("azimuth_limits", site), crew)
    return going, {name: number(going.value(name)) for name in ("limit_plus", "limit_minus", "guard", "travel", "play")}


@pytest.mark.parametrize("site", SITE_NAMES)
def test_the_limits_by_hand(site: str) -> None:
    """The arithmetic of travel stops done apart, in exact fractions (common practice, no source)."""
    going, found = limits_run(269.91, -270.34, site)
    touches = {
        name: [number(e["value"]) for e in going.events("read") if e["name"] == name]
        for name in ("plus_touch", "minus_touch")
    }
    said = facts("azimuth_limits", site)
    slew, brake, wait = (number(said[name]) for name in ("slew", "deceleration", "latency"))
    plus, minus = min(touches["plus_touch"]), max(touches["minus_touch"])
    guard = slew * wait + slew**2 / (2 * brake) + 1
    assert found["guard"] == guard
    assert found["travel"] == plus - minus
    rising, falling = (number(going.last("read", name)["value"]) for name in ("mark_readout", "mark_falling"))
    play = abs(rising - falling)
    assert found["play"] == play > 0
    assert number(going.value("mark_offset")) == (rising + falling) / 2 - (plus + minus) / 2
    tenth = Fraction(1, 10)
    assert found["limit_plus"] == math.floor((plus - guard - play) / tenth) * tenth
    assert found["limit_minus"] == math.ceil((minus + guard + play) / tenth) * tenth
    assert Fraction(538) <= found["travel"] <= Fraction(544)


@settings(max_examples=60)
@given(st.integers(25_500, 28_500), st.integers(25_500, 28_500), st.sampled_from(SITE_NAMES))
def test_a_limit_never_stands_beyond_its_stop_less_the_guard(plus: int, minus: int, site: str) -> None:
    """Rounding goes into the travel, on both sides, wherever the stops are, and costs less than a tenth of a degree."""
    going, found = limits_run(plus / 100, -minus / 100, site)
    inner_plus = min(number(e["value"]) for e in going.events("read") if e["name"] == "plus_touch")
    inner_minus = max(number(e["value"]) for e in going.events("read") if e["name"] == "minus_touch")
    room_plus = inner_plus - found["guard"] - found["play"] - found["limit_plus"]
    room_minus = found["limit_minus"] - (inner_minus + found["guard"] + found["play"])
    assert 0 <= room_plus < Fraction(1, 10)
    assert 0 <= room_minus < Fraction(1, 10)


def test_the_value_typed_into_the_controller_is_the_limit_with_its_sign() -> None:
    """What is told, what is read back and what is read after the power cycle are the limit itself."""
    going, found = limits_run(269.91, -270.34, "southern")
    for setting, limit in (("azimuth_plus", "limit_plus"), ("azimuth_minus", "limit_minus")):
        told = next(r for r in going.asked if r.address.endswith(f"{setting}/read_back")).facts[0]
        assert re.search(r"[+-]\d", told.replace("\u2212", "-"))
        for when in ("read_back", "after_power_cycle"):
            assert number(going.last("read", f"{setting}.{when}")["value"]) == found[limit]


def test_the_fork_stops_before_the_stop_at_full_speed() -> None:
    """Simulated step by step: braking begins at the limit after the latency, and the fork comes to rest in time."""
    for site in SITE_NAMES:
        said = facts("azimuth_limits", site)
        slew, brake, wait = (float(number(said[name])) for name in ("slew", "deceleration", "latency"))
        _, found = limits_run(269.91, -270.34, site)
        position, speed, time, step = float(found["limit_plus"]), slew, 0.0, 1e-4
        while speed > 0:
            position += speed * step
            time += step
            if time >= wait:
                speed -= brake * step
        assert position <= 269.91 - 0.9, site


@pytest.mark.parametrize("site", SITE_NAMES)
def test_the_fork_mark_is_looked_for_on_the_same_side(site: str) -> None:
    """Both procedures name one direction for the middle of the cable wrap: away from the pole."""
    going = run(program("azimuth_limits"), facts("azimuth_limits", site), MountCrew(seed=9))
    (said,) = [e["text"] for e in going.events("answered") if e["name"].startswith("mark_points")]
    south = facts("azimuth_limits", site)["hemisphere"] == "north"
    assert said.endswith("due south" if south else "due north")


def still_crew(plus: float, minus: float, mark: float) -> MountCrew:
    """A crew whose every reading is exact, and that stops where a limit is not kept."""

    class Choosy(MountCrew):
        def reading(self, request: Request, name: str) -> str:
            exact = {"plus_touch": plus, "minus_touch": minus, "mark_again": mark}
            exact |= {"mark_readout": mark, "mark_falling": mark}
            shown = super().reading(request, name)
            return f"{exact[name]} deg" if name in exact else shown

    crew = Choosy(seed=1, plus_stop=plus, minus_stop=minus, mark=mark)
    crew.ways = {"/verdict": ["stop"]}
    return crew


@pytest.mark.parametrize(
    ("plus", "minus", "mark", "name", "outcome"),
    [
        (272.0, -271.9, 0.0, "travel", "passes"),
        (272.0, -272.0, 0.0, "travel", "undecided"),
        (272.0, -272.1, 0.0, "travel", "fails"),
        (269.0, -269.1, 0.0, "travel", "passes"),
        (269.0, -269.0, 0.0, "travel", "undecided"),
        (269.0, -268.9, 0.0, "travel", "fails"),
        (271.0, -269.0, 10.9, "mark_offset", "passes"),
        (271.0, -269.0, 11.0, "mark_offset", "undecided"),
        (271.0, -269.0, 11.1, "mark_offset", "fails"),
        (271.0, -269.0, -8.9, "mark_offset", "passes"),
        (271.0, -269.0, -9.0, "mark_offset", "undecided"),
        (271.0, -269.0, -9.1, "mark_offset", "fails"),
    ],
)
def test_stops_and_mark_are_judged_at_their_edges(
    plus: float, minus: float, mark: float, name: str, outcome: str
) -> None:
    """540 +4/-2 deg between the stops, the mark within 10 deg of the middle; right on the limit nobody knows.

    The readout repeats to 0.02 deg, so 0.1 deg either side is three standard uncertainties of a difference or more.
    """
    with few_draws():
        going = run(program("azimuth_limits"), facts("azimuth_limits", "northern"), still_crew(plus, minus, mark))
    assert going.last("verdict", name)["outcome"] == outcome
    assert going.state.status == ("finished" if outcome == "passes" else "stopped")
