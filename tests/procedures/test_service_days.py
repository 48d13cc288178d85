"""Supply, first power, laser, camera, storm, count, training, hand-over: what must hold in every run of them."""

from __future__ import annotations

import itertools
import math
import random
import re
from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path

import attrs
import numpy as np
import pytest
from mount_simulator import MountCrew
from procedure_help import OBSERVATORY, SITES, Run, facts, few_draws, program, run
from service_crew import Laser, Mirror, ServiceCrew
from service_scenarios import SERVICE_DAYS, crew
from shipped_day import Day
from site_crew import Crew

from proclang.cli.main import main
from proclang.engine.fold import apply
from proclang.engine.model import Reply, Request, State
from proclang.log.render import render_log
from proclang.session.run import OpenedRun, open_run

ARCMIN = math.pi / 180 / 60
KEPT = [day for day in SERVICE_DAYS if day.site == "northern" and day.what != "stopped"]


def day_of(procedure: str, what: str, site: str = "northern") -> Day:
    """One of the days."""
    return next(d for d in SERVICE_DAYS if (d.procedure, d.site, d.what) == (procedure, site, what))


def number(text: str) -> Fraction:
    """A stored value without its unit."""
    return Fraction(text.split(" ")[0])


def states(going: Run) -> list[dict[str, str]]:
    """Where the hardware stood behind each entry."""
    found, state = [], State()
    for entry in going.entries:
        state = apply(state, entry)
        found.append(dict(state.hardware))
    return found


@pytest.mark.parametrize("day", KEPT, ids=lambda day: day.file)
def test_the_log_of_the_day_is_kept(
    day: Day, tmp_path: Path, capsys: pytest.CaptureFixture[str], golden: Callable[[str, str], None]
) -> None:
    """Run from the shipped replies, verified, and the same as it was read and found right."""
    folder = tmp_path / "run"
    begun = [str(OBSERVATORY / f"{day.procedure}.proc"), "--site", str(SITES / f"{day.site}.toml")]
    answers = ["--replies", str(day.path), "--no-input", "--plain", "--clock", "stepped"]
    assert main(["run", *begun, "--into", str(folder), *answers]) == 0
    assert main(["verify", str(folder)]) == 0
    capsys.readouterr()
    opened = open_run(folder)
    assert isinstance(opened, OpenedRun)
    body = render_log(opened).partition("\n## What differs from run to run\n")[0]
    golden(f"observatory/{day.file.removesuffix('.replies')}.md", body)


# ---------------------------------------------------------------------------- supply


@pytest.mark.parametrize("what", ["ordinary day", "bad day"])
def test_nobody_reaches_inside_what_is_not_proved_dead(what: str) -> None:
    """While the box is open or a connector is moved: switch off, every lock on, proved dead, nothing stored."""
    seen = states(day_of("connect_cables", what).run())
    opened = [s for s in seen if s.get("drive_box_cover") == "removed"]
    assert opened
    for state in opened:
        assert (state["main_switch"], state["supply"], state["drive_capacitors"]) == (
            "off",
            "proved_dead",
            "discharged",
        )
        assert {v for k, v in state.items() if k.startswith("personal_locks")} == {"hanging"}
    for before, after in itertools.pairwise(seen):
        moved = [k for k in after if k.startswith("connectors") and before.get(k, after[k]) != after[k]]
        assert not moved or before["supply"] == after["supply"] == "proved_dead"


@pytest.mark.parametrize("procedure", ["isolate", "restore_power"])
def test_a_lock_is_handled_by_its_owner_alone(procedure: str) -> None:
    """The step that moves a lock is done by the one person in the role that the lock belongs to."""
    going = day_of(procedure, "ordinary day").run()
    people = {"lead": "Ada Quill", "electrician": "Gil Reed", "rigger": "Bo Tarn"}
    by: dict[str, list[str]] = {}
    for step in going.events("step"):
        found = re.search(r"/(?:own_)?lock_(\w+)$", step["at"])
        if found:
            by[found[1]] = step["by"]
    assert by == {role: [name] for role, name in people.items()}


def test_the_tester_is_proved_before_and_after() -> None:
    """No reading at the sockets counts unless the tester read the proving unit on both sides of it."""
    going = day_of("isolate", "ordinary day").run()
    read = [e["name"] for e in going.events("read")]
    sockets = [i for i, name in enumerate(read) if name == "found_voltage"]
    assert len(sockets) == 4
    assert read.index("known_before") < min(sockets)
    assert max(sockets) < read.index("known_after")


@pytest.mark.parametrize("volts", ["118.4 V", "-48.0 V", "1.1 V"])
def test_a_live_circuit_is_never_called_dead(volts: str) -> None:
    """Either sign of a reading beyond the limit asks; the stop leaves every lock on and the circuit not proved.

    Reading once more does not average a live socket away: the worst reading is judged.
    """
    hand = crew(
        "northern",
        readings={"found_voltage": ("0.2 V", volts, "0.0 V")},
        ways={"found_voltage/verdict": ["again", "stop"]},
    )
    going = run(program("isolate"), facts("isolate", "northern"), hand)
    assert going.state.status == "stopped"
    assert going.state.hardware["supply"] == "not_proved"
    assert going.state.hardware["drive_capacitors"] == "charged"
    assert {v for k, v in going.state.hardware.items() if k.startswith("personal_locks")} == {"hanging"}


@pytest.mark.parametrize("procedure", ["isolate", "first_power"])
def test_only_the_electrician_may_accept_an_electrical_value(procedure: str) -> None:
    """Who holds no licence accepts no voltage."""
    assert program(procedure).routines[procedure].authority == ("electrician",)


@pytest.mark.parametrize(
    ("name", "volts", "passes"),
    [
        ("neutral_earth", "230.7 V", False),  # line and neutral changed over
        ("neutral_earth", "2.5 V", True),
        ("neutral_earth", "3.0 V", False),
        ("control", "-24.1 V", False),  # plus and minus changed over
        ("control", "23.5 V", True),
        ("control", "22.8 V", False),
        ("line_neutral", "246.0 V", True),
        ("line_neutral", "253.0 V", False),
        ("line_neutral", "206.9 V", False),
        ("with_leads", "0.32 ohm", True),  # 0.06 ohm of it are the leads
        ("with_leads", "0.36 ohm", False),
        ("trip_time", "270 ms", True),
        ("trip_time", "300 ms", False),
    ],
)
def test_first_power_judges_at_its_edges(name: str, volts: str, passes: bool) -> None:
    """A wrong polarity cannot look right; on the limit of the site nobody knows, so that nobody goes on."""
    judged = {"with_leads": "earth_path"}.get(name, name)
    hand = crew("northern", readings={name: (volts,)}, ways={f"{judged}/verdict": ["stop"]})
    going = run(program("first_power"), facts("first_power", "northern"), hand)
    assert going.state.status == ("finished" if passes else "stopped")
    assert going.state.hardware["azimuth_drive"] == "off"


def test_the_fork_moves_only_behind_all_proofs() -> None:
    """Earth, voltage, polarity and each button of the emergency stop come before the first jog."""
    going = day_of("first_power", "ordinary day").run()
    read = [e["name"] for e in going.events("read")]
    proofs = ("with_leads", "line_neutral", "neutral_earth", "control", "trip_time", "dark_after")
    last = {name: len(read) - 1 - read[::-1].index(name) for name in proofs}
    assert list(last) == sorted(last, key=lambda name: last[name])
    assert max(last.values()) < read.index("before_jog")
    free = [s for s in states(going) if s.get("azimuth_axis") == "free"]
    assert free
    assert {(s["emergency_stop"], s["sweep_barrier"], s["main_switch"]) for s in free} == {("tried", "closed", "on")}


# ---------------------------------------------------------------------------- laser and mirror


@pytest.mark.parametrize("what", ["ordinary day", "bad day"])
def test_the_mirror_comes_back_to_its_mark_by_the_printed_turns(what: str) -> None:
    """The mirror itself, not the reading: the law of reflection turns the beam by twice its angle."""
    day = day_of("spot_check", what)
    hand = day.crew(0.0)
    assert isinstance(hand, ServiceCrew)
    going = run(program("spot_check"), facts("spot_check", "northern"), hand)
    true = math.hypot(hand.mirror.right, hand.mirror.up) / ARCMIN
    assert true < 2.2
    # A card is read to 0.5 mm: half of that, doubled path over 4 m, is 0.15 arcmin in each direction.
    assert float(number(going.value("left_residual"))) == pytest.approx(true, abs=0.25)


def test_small_tilts_are_mended_within_the_bound_and_without_the_coarse_screws() -> None:
    """Forty mirrors within reach of the fine screws (seeded): none needs the full alignment."""
    draw = random.Random(2031)
    for _ in range(40):
        mirror = Mirror(right=draw.uniform(-0.008, 0.008), up=draw.uniform(-0.008, 0.008))
        hand = crew("southern", mirror=mirror, laser=Laser(askew=(0.0, 0.0)))
        with few_draws():
            going = run(program("spot_check"), facts("spot_check", "southern"), hand)
        assert going.state.status == "finished"
        assert [e["routine"] for e in going.events("called")] == ["spot_check"]


def test_the_circle_of_the_laser_is_the_circle_through_its_four_spots() -> None:
    """Against numpy: the circle by linear least squares (x^2 + y^2 + a x + b y + c = 0) through the four readings."""
    draw = random.Random(7)
    for _ in range(20):
        laser = Laser((draw.uniform(-9, 9), draw.uniform(-9, 9)), (draw.uniform(3, 20), draw.uniform(3, 20)))
        with few_draws():
            going = run(program("spot_check"), facts("spot_check", "northern"), crew("northern", laser=laser))
        spots = [
            [float(number(e["value"])) for e in going.events("read") if e["name"] == f"spot_{axis}"] for axis in "xy"
        ]
        x, y = np.array(spots[0][:4]), np.array(spots[1][:4])
        (a, b, c), *_ = np.linalg.lstsq(np.column_stack([x, y, np.ones(4)]), -(x**2 + y**2), rcond=None)
        first = {
            e["name"]: float(number(e["value"])) for e in reversed(going.events("value")) if e["name"][:6] in _CIRCLE
        }
        assert first["circle_x"] == pytest.approx(-a / 2, abs=0.3)
        assert first["circle_y"] == pytest.approx(-b / 2, abs=0.3)
        assert first["circle"] == pytest.approx(math.sqrt((a**2 + b**2) / 4 - c), abs=0.5)
        # And the laser itself ends up straight, to what the card can show.
        assert math.hypot(*laser.askew) <= 1.5


_CIRCLE = ("circle",)


def stopped_at(procedure: str, what: str, place: int) -> Run:
    """The day as far as its entry of this number, then a stop."""
    day = day_of(procedure, what)
    hand = day.crew(0.0)
    asked = 0

    def answer(request: Request) -> Iterable[Reply]:
        nonlocal asked
        asked += 1
        return [Reply("the test stops here", "stop")] if asked == place else hand(request)

    with few_draws():
        return run(program(procedure), facts(procedure, day.site), answer)


@pytest.mark.parametrize(
    ("procedure", "what", "safe"),
    [
        ("spot_check", "bad day", "laser=off mirror_cover=fitted cell_cover=fitted baffle=fitted"),
        ("full_alignment", "bad day", "laser=off mirror_cover=fitted cell_cover=fitted baffle=fitted"),
        ("first_power", "bad day", "azimuth_drive=off azimuth_axis=clamped"),
        ("connect_cables", "bad day", "drive_box_cover=fitted azimuth_drive=off"),
        ("train_owner", "bad day", "azimuth_drive=off mirror_cover=fitted laser=off"),
    ],
)
def test_wherever_it_is_stopped_the_instrument_is_left_safe(procedure: str, what: str, safe: str) -> None:
    """A stop at each question of a bad day in turn: laser off, covers on, parts back, drive off, axis clamped."""
    opening = sum(request.address.startswith("opening/") for request in day_of(procedure, what).run().asked)
    wanted = dict(promise.split("=") for promise in safe.split())
    place = opening + 1
    while (going := stopped_at(procedure, what, place)).state.status == "stopped":
        left = {item: going.state.hardware[item] for item in wanted}
        assert left == wanted, f"stopped at {going.asked[place - 1].address}"
        place += 1
    assert place > opening + 30


def test_all_parts_go_back_where_the_mirror_cannot_be_aligned() -> None:
    """The lead signs for the tilt that stays, and only then covers and screws are counted back in."""
    going = day_of("full_alignment", "bad day").run()
    (ended,) = going.events("loop end")
    assert ended["why"] == "bound"
    assert {going.state.hardware[item] for item in ("mirror_cover", "cell_cover", "baffle")} == {"fitted"}
    read = {e["name"]: e["value"] for e in going.events("read")}
    assert read["cell_screws_in"] == read["cell_screws_out"]
    assert read["baffle_screws_in"] == read["baffle_screws_out"]


def test_the_beam_has_a_class_and_the_eyes_have_eyewear() -> None:
    """Each time the laser goes on, class and eyewear are written down since the last time it went off."""
    going = day_of("spot_check", "bad day").run()
    told, ons, state = set[str](), 0, State()
    for entry in going.entries:
        told |= {e["name"] for e in entry.then if e["is"] == "value" and e["name"] in ("beam_class", "eyewear")}
        before = state.hardware.get("laser")
        state = apply(state, entry)
        if (before, state.hardware.get("laser")) == ("off", "on"):
            assert told == {"beam_class", "eyewear"}
            ons += 1
        if state.hardware.get("laser") == "off" and before == "on":
            told = set()
    assert ons == 4


# ---------------------------------------------------------------------------- camera


def focus_shift(index: float, thickness: float, ratio: float) -> float:
    """How far a plate of glass moves the focus of the rim ray of a beam, by Snell's law at both faces."""
    outside = math.atan(1 / (2 * ratio))
    inside = math.asin(math.sin(outside) / index)
    return thickness * (1 - math.tan(inside) / math.tan(outside))


def test_the_glass_moves_the_focus_by_a_third_of_its_thickness() -> None:
    """Held to rays traced by Snell's law, within 2 % at f/6."""
    going = day_of("camera_spacing", "ordinary day").run()
    glass = number(next(e["value"] for e in going.events("read") if e["name"] == "filter_glass"))
    shift = number(going.value("glass_shift"))
    assert shift == pytest.approx(glass / 3, rel=1e-11)
    for ratio in (6, 8, 12):
        assert float(shift) == pytest.approx(focus_shift(1.5, float(glass), ratio), rel=0.02)
    # A fast beam moves by more, as the comment in the procedure says.
    assert focus_shift(1.5, 3.0, 2) > focus_shift(1.5, 3.0, 8) > 1.0


def test_the_stack_is_the_sum_of_its_parts() -> None:
    """In exact fractions, from the readings alone; the shims are the gap to the nearest 0.05 mm."""
    going = day_of("camera_spacing", "ordinary day").run()
    read: dict[str, list[Fraction]] = {}
    for event in going.events("read"):
        if event["value"].endswith(" mm"):
            read.setdefault(event["name"], []).append(number(event["value"]))
    wanted = number(facts("camera_spacing", "northern")["back_focus"]) + read["filter_glass"][0] / 3
    gap = wanted - sum(read["depth"]) - read["sensor_depth"][0]
    assert number(going.value("gap")) == pytest.approx(gap, rel=1e-11)
    assert abs(number(going.value("shims")) - gap) <= Fraction(1, 40)
    left = sum(read["stack_left"]) / 3 + read["sensor_depth"][0]
    assert number(going.value("left_distance")) == pytest.approx(left, rel=1e-11)
    assert number(going.value("focus_off")) == pytest.approx(left - wanted, rel=1e-9)
    assert abs(left - wanted) <= Fraction(1, 10)


# ---------------------------------------------------------------------------- storm, count, owner


def test_a_storm_is_left_in_the_order_that_works() -> None:
    """Movement first, then light, then glass; the shutter while it still has power; people last, and all of them."""
    going = day_of("storm_exit", "ordinary day").run()
    order = [e["at"].rsplit("/", 1)[-1] for e in going.events("step")]
    wanted = ["call", "stop_fork", "clamp_fork", "laser_out", "cover_up", "close_shutter", "main_off", "walk"]
    assert order[: len(wanted)] == wanted
    assert order[-1] == "look_out"


def test_nobody_goes_back_before_the_wait_is_over() -> None:
    """The wait is the site's, and the tropical one is longer; a quiet below it is waited on."""
    for site, at_most in (("northern", 30), ("tropical", 45)):
        going = run(program("storm_exit"), facts("storm_exit", site), crew(site))
        quiet = [number(e["value"]) for e in going.events("value") if e["name"] == "quiet"]
        assert quiet[-1] >= at_most
        assert all(value < at_most for value in quiet[:-1])


def test_a_drill_is_the_storm_without_the_wait() -> None:
    """The owner goes through the very procedure that a storm will ask for, and hands the supply back on."""
    going = day_of("train_owner", "bad day").run()
    assert [e["routine"] for e in going.events("called")] == ["train_owner", "storm_exit", "storm_exit"]
    assert "last_thunder" not in {e["name"] for e in going.events("read")}
    driven = {
        tuple(e["by"]) for e in going.events("step") if e["at"].endswith(("stop_fork", "owner_press", "main_off"))
    }
    assert driven == {("Ivo Lund",)}
    assert (going.state.hardware["main_switch"], going.state.hardware["supply"]) == ("on", "live")


@pytest.mark.parametrize("lost", [0, 1, 7])
def test_what_is_missing_is_counted(lost: int) -> None:
    """What stays missing after three searches is not accepted: the instrument stands still until it is found."""
    hand = crew(
        "northern",
        readings={"came_back": ("23 pieces", "12 pieces", "9 pieces", f"{64 - lost} pieces")},
        ways={"last_pass/verdict": ["stop"]},
    )
    going = run(program("closing_count"), facts("closing_count", "northern"), hand)
    assert going.state.status == ("stopped" if lost else "finished")
    assert number(going.value("missing", "bolts")) == lost
    assert any(e.ask.endswith("hold_still/not_found") for e in going.entries) == bool(lost)


@pytest.mark.parametrize("procedure", ["try_stop", "azimuth_limits"])
def test_a_stop_that_fails_never_counts_as_drive_off(procedure: str) -> None:
    """Too slow, or a lamp that stays lit: nobody may accept it, and the record says powered until the lamp is dark."""
    hand: Crew
    if procedure == "try_stop":
        hand = crew("northern", readings={"dark_after": ("1.7 s",)}, ways={"dark_after/verdict": ["stop"]})
    else:
        hand = MountCrew(seed=5, ways={"lamp_dark": ["no"], "lamp_dark/verdict": ["stop"]})
    going = run(program(procedure), facts(procedure, "northern"), hand)
    failed = next(n for n, request in enumerate(going.asked) if request.address.endswith("/verdict"))
    assert "accept" not in going.asked[failed].choices
    assert states(going)[failed + 1]["azimuth_drive"] == "powered"
    assert going.asked[-1].address.endswith("/trial_dark")
    assert (going.state.status, going.state.hardware["azimuth_drive"]) == ("stopped", "off")
    assert going.state.hardware["emergency_stop"] == "untried"


def test_a_lamp_that_stays_lit_in_the_safe_steps_is_not_called_dark() -> None:
    """The stop itself may be what failed: `no` to the dark lamp leaves the drive on record as it was."""
    hand = MountCrew(seed=5, ways={"lamp_dark": ["no"], "lamp_dark/verdict": ["stop"], "trial_dark": ["no", "yes"]})
    hand.ways["trial_dark/verdict"] = ["again"]
    going = run(program("azimuth_limits"), facts("azimuth_limits", "northern"), hand)
    lit = next(n for n, request in enumerate(going.asked) if request.address.endswith("trial_dark/verdict"))
    assert "accept" not in going.asked[lit].choices
    assert states(going)[lit + 1]["azimuth_drive"] == "powered"
    assert going.state.hardware["azimuth_drive"] == "off"


def test_capacitors_are_called_discharged_only_on_a_reading() -> None:
    """40 V left, where the plate says 10 V (invented): not discharged, not dead, and nobody may accept it."""
    hand = crew("northern", readings={"capacitor_voltage": ("40.0 V",)}, ways={"capacitor_voltage/verdict": ["stop"]})
    going = run(program("isolate"), facts("isolate", "northern"), hand)
    assert going.state.status == "stopped"
    assert (going.state.hardware["drive_capacitors"], going.state.hardware["supply"]) == ("charged", "not_proved")


@pytest.mark.parametrize("site", ["northern", "southern"])
def test_a_stopped_proof_says_what_is_known(site: str) -> None:
    """A socket read 118.4 V: the supply is not proved, and the note tells of the socket that was read."""
    going = day_of("isolate", "stopped", site).run()
    assert going.state.hardware["supply"] == "not_proved"
    assert "118.4 V" in next(e.reply.text for e in going.entries if e.ask.endswith("/reached"))


@pytest.mark.parametrize("site", ["northern", "southern"])
def test_the_owner_signs_for_what_was_read_that_day(site: str) -> None:
    """Level, limits, spot and count are read on the day itself, and lead and owner both sign."""
    going = day_of("hand_over", "ordinary day", site).run()
    assert [e["routine"] for e in going.events("called")][1:] == ["read_level", "spot_check", "closing_count"]
    signed = [(e.ask.split("/")[-2], e.reply.text) for e in going.entries[1:] if e.ask.endswith(("/lead", "/owner"))]
    assert signed[-3:] == [("as_left", "Ada Quill"), ("taken_over", "Ada Quill"), ("taken_over", "Ivo Lund")]
    away = "south" if site == "northern" else "north"
    assert [e["name"] for e in going.events("answered") if e["name"].startswith("owner_sees")] == [f"owner_sees_{away}"]


def test_a_slip_in_the_crew_shows() -> None:
    """The simulated mirror is not told what to read: with a screw turned the wrong way round it never comes back."""

    @attrs.define
    class Backwards(ServiceCrew):
        def done(self, request: Request, name: str) -> None:
            """Turns each fine screw the other way."""
            before = (self.mirror.right, self.mirror.up)
            super().done(request, name)
            if name in ("turn_screws", "turn_again"):
                self.mirror.right = 2 * before[0] - self.mirror.right
                self.mirror.up = 2 * before[1] - self.mirror.up

    hand = Backwards(seed=31, mirror=Mirror(right=0.0009, up=0.0))
    going = run(program("spot_check"), facts("spot_check", "northern"), hand)
    assert [e["routine"] for e in going.events("called")][:2] == ["spot_check", "full_alignment"]
