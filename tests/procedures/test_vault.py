"""The seismic vault: a set of another trade in the same language, run to its end at both its sites."""

from __future__ import annotations

import math
import random
import tomllib
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest
from procedure_help import PROCEDURES, SITES, Run, facts, few_draws, home, program, run, scripted
from shipped_day import Day, declination
from vault_scenarios import VAULT_DAYS, bags
from vault_simulator import Tripod, VaultCrew

from proclang.cli.main import main
from proclang.engine.fold import replay
from proclang.log.render import render_log
from proclang.session.run import OpenedRun, open_run

VAULT = PROCEDURES / "vault"
BAD = [day for day in VAULT_DAYS if day.what == "bad day"]


def day_of(procedure: str, site: str, what: str) -> Day:
    """One of the days."""
    return next(d for d in VAULT_DAYS if (d.procedure, d.site, d.what) == (procedure, site, what))


def shipped(day: Day) -> Run:
    """The run that a shipped file of replies makes."""
    return run(program(day.procedure), facts(day.procedure, day.site), scripted(day.path))


@pytest.mark.parametrize("day", VAULT_DAYS, ids=lambda day: day.file)
def test_the_replies_are_those_of_the_simulated_day(day: Day) -> None:
    """Readings hang together because geometry made them, and replaying the entries gives the state."""
    assert day.path.read_text(encoding="utf-8") == day.text()
    going = shipped(day)
    assert going.state.status == ("stopped" if day.what == "stopped" else "finished")
    assert replay(going.entries) == going.state
    # Nobody is ever left below, whatever the day was like.
    assert going.state.hardware["pit"] == "empty"
    assert going.state.hardware["lid"] == "closed"


@pytest.mark.parametrize("day", VAULT_DAYS, ids=lambda day: day.file)
def test_the_program_runs_the_day_and_verifies_it(
    day: Day, tmp_path: Path, capsys: pytest.CaptureFixture[str], golden: Callable[[str, str], None]
) -> None:
    """From the command line; the logs of the northern ordinary day and of the bad one are kept."""
    folder = tmp_path / "run"
    begun = [str(home(day.procedure) / f"{day.procedure}.proc"), "--site", str(SITES / f"{day.site}.toml")]
    answers = ["--replies", str(day.path), "--no-input", "--plain", "--clock", "stepped"]
    assert main(["run", *begun, "--into", str(folder), *answers]) == (1 if day.what == "stopped" else 0)
    assert main(["verify", str(folder)]) == 0
    capsys.readouterr()
    opened = open_run(folder)
    assert isinstance(opened, OpenedRun)
    body = render_log(opened).partition("\n## What differs from run to run\n")[0]
    assert "**Training example.**" in body
    if day.site == "vault_north" and day.what != "stopped":
        golden(f"vault/{day.file.removesuffix('.replies')}.md", body)


@pytest.mark.parametrize("site", ["vault_north", "vault_south"])
def test_three_visits_follow_each_other(site: str) -> None:
    """What one procedure leaves, the next one finds: the state of the hardware is one from visit to visit."""
    known: dict[str, str] = {}
    for procedure in ("prepare_vault", "set_seismometer", "seal_vault"):
        going = shipped(day_of(procedure, site, "ordinary day"))
        assert going.events("deviation") == []
        found = {item: e["state"] for e in going.events("hardware") if e["why"] == "found" for item in e["items"]}
        assert found
        assert {item: state for item, state in known.items() if item in found} == {
            item: state for item, state in found.items() if item in known
        }
        known |= going.state.hardware
    # An independent list of how a vault is left.
    assert {item: state for item, state in known.items() if "[" not in item} == {
        "lid": "closed",
        "pit": "empty",
        "seismometer": "standing",
        "masses": "free",
        "signal_plug": "joined",
        "recorder_supply": "on",
        "desiccant": "fresh",
        "taken_down": "back",
    }
    assert {state for item, state in known.items() if item.startswith("lid_bolts[")} == {"tight"}
    assert {state for item, state in known.items() if item.startswith("glands[")} == {"sealed"}


def test_no_way_depends_on_the_hemisphere() -> None:
    """A seismometer points to true north on either side of the equator (SEED manual, azimuth and dip; from memory)."""
    for path in VAULT.glob("*.proc"):
        assert "hemisphere" not in path.read_text(encoding="utf-8")
    for procedure in ("prepare_vault", "set_seismometer", "seal_vault"):
        for what in ("ordinary day", "bad day"):
            north, south = (shipped(day_of(procedure, site, what)) for site in ("vault_north", "vault_south"))
            assert [e.ask for e in north.entries] == [e.ask for e in south.entries]
            different = {
                e.ask.rsplit("/", 1)[-1]
                for e, f in zip(north.entries, south.entries, strict=True)
                if e.reply.text != f.reply.text
            }
            # The compass follows the declination, bags and bolts what the drawing of the site says.
            assert {name.partition("[")[0] for name in different} <= {
                "sight_south",
                "sight_north",
                "bags_brought",
                "bags_laid",
                "lid_click",
            }


@pytest.mark.parametrize("method", ["compass", "gyro"])
def test_both_ways_to_north_agree_with_the_line_that_is_there(method: str) -> None:
    """True = magnetic + declination, east plus (published-checks style rule T = M + D: textbook), worked out apart.

    Lines on both sides of north, declinations of both signs; the mark ends within a degree of north every time.
    """
    draw = random.Random(4)
    site_facts = facts("set_seismometer", "vault_north")
    for _ in range(12):
        line, east = round(draw.uniform(-12, 12), 1), round(draw.uniform(-25, 25), 1)
        constant = round(draw.uniform(-3, 3), 2)
        crew = VaultCrew(declination=east, line=line, gyro_constant=constant, method=method, drag=0.0)
        with few_draws():
            going = run(program("set_seismometer"), {**site_facts, "declination": f"{east} deg"}, crew)
        assert going.events("deviation") == []
        stands = math.remainder(line + crew.mark, 360)
        assert abs(stands) < 0.11  # a tenth of a degree is the last digit of compass and protractor
        told = math.remainder(float(going.value("bearing").split()[0]), 360)
        assert abs(told - stands) < 0.11


def test_the_printed_turns_of_the_feet_bring_the_case_level() -> None:
    """Heights of three feet moved as printed, tilts from geometry: at most two rounds, whatever the first tilt was."""
    draw = random.Random(7)
    for _ in range(25):
        crew = VaultCrew(tripod=Tripod.tilted(draw.uniform(-75, 75), draw.uniform(-75, 75)), declination=3.8)
        with few_draws():
            run(program("set_seismometer"), facts("set_seismometer", "vault_north"), crew)
        assert len(crew.trail) <= 3
        assert math.hypot(*crew.trail[-1]) <= 2.1  # the limit and half of the last digit of the level


def test_the_limits_of_the_air_are_not_wider_than_the_published_ones() -> None:
    """Oxygen 19.5 to 23.5 %, flammable gas a tenth of its lower limit (29 CFR 1910.146); carbon dioxide 5000 ppm.

    The last over a shift (29 CFR 1910.1000); all from memory.
    """
    for site in ("vault_north", "vault_south"):
        said = tomllib.loads((SITES / f"{site}.toml").read_text(encoding="utf-8"))["facts"]
        low, high, dioxide, flammable = (
            Fraction(str(said[fact]).split()[0])
            for fact in ("oxygen_least", "oxygen_most", "dioxide_most", "flammable_most")
        )
        assert low >= Fraction("19.5")
        assert high <= Fraction("23.5")
        assert dioxide <= 5000
        assert flammable <= 10


def test_what_permits_and_makers_say_has_no_default() -> None:
    """Air, torque and the number of bags come from the permit, the maker and the drawing, never from the procedure."""
    for procedure in ("prepare_vault", "set_seismometer", "seal_vault"):
        free = {name for name, symbol in program(procedure).site_facts.items() if symbol.default is not None}
        assert free <= {"foot_circle", "foot_pitch"}


@pytest.mark.parametrize("site", ["vault_north", "vault_south"])
def test_foul_air_keeps_everybody_above(site: str) -> None:
    """Too much carbon dioxide, a stop: nobody has gone down, and the lid is closed again."""
    going = shipped(day_of("prepare_vault", site, "stopped"))
    assert [(*e["items"], e["state"]) for e in going.events("hardware") if e["why"] == "now"] == [
        ("lid", "open"),
        ("lid", "closed"),
    ]


@pytest.mark.parametrize("site", ["vault_north", "vault_south"])
def test_the_bad_days_are_recorded_as_they_were(site: str) -> None:
    """A wet sump is pumped; gyro and coil are put right, noise accepted; a bag is found, the lid tightened again."""
    wet = shipped(day_of("prepare_vault", site, "bad day"))
    assert [e["outcome"] for e in wet.events("verdict") if e["name"] == "water"] == ["fails", "fails", "passes"]
    placed = shipped(day_of("set_seismometer", site, "bad day"))
    assert [(e["at"].rsplit("/", 1)[-1], e["way"]) for e in placed.events("way")] == [
        ("runs_apart", "adjust"),
        ("kick", "adjust"),
        ("noise", "accept"),
    ]
    (deviation,) = placed.events("deviation")
    assert deviation["by"] == "Eve Larch"
    sealed = shipped(day_of("seal_vault", site, "bad day"))
    assert [e["outcome"] for e in sealed.events("verdict") if e["name"] == "bags_missing"] == ["fails", "passes"]
    assert [e["outcome"] for e in sealed.events("verdict") if e["name"] == "fall"] == ["fails", "passes"]
    assert Fraction(sealed.value("bags_laid").split()[0]) == bags(site)


def test_a_lost_tool_keeps_the_lid_open() -> None:
    """One tool fewer than went down: a failure is asked about before the lid is closed."""

    class Careless(VaultCrew):
        def reading(self, request, name):  # type: ignore[no-untyped-def]
            return "13" if name == "tools_out" else super().reading(request, name)

    crew = Careless(ways={"tools_missing/verdict": ["stop"]}, declination=declination("vault_north"))
    going = run(program("prepare_vault"), facts("prepare_vault", "vault_north"), crew)
    assert going.last("verdict", "tools_missing")["outcome"] == "fails"
    assert going.state.status == "stopped"
