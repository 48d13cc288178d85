"""The shipped procedures run to their end, at every site, with the shipped replies and with a simulated crew."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from procedure_help import ENTRIES, OBSERVATORY, REPLIES, SITE_NAMES, SITES, Run, facts, program, run, scripted
from reply_scenarios import DAYS, LEVEL_AND_LIMITS, ordinary_crew
from service_scenarios import SERVICE_DAYS
from shipped_day import Day

from proclang.cli.main import main
from proclang.engine.fold import replay


def shipped(day: Day) -> Run:
    """The run that a shipped file of replies makes."""
    return run(program(day.procedure), facts(day.procedure, day.site), scripted(REPLIES / day.file))


def day_of(file: str) -> Day:
    """The day behind a file of replies."""
    return next(day for day in DAYS if day.file == file)


@pytest.mark.parametrize("procedure", ENTRIES)
@pytest.mark.parametrize("site", SITE_NAMES)
def test_an_ordinary_day_ends_with_everything_in_tolerance(procedure: str, site: str) -> None:
    """At all four sites, with nothing accepted that is out of tolerance and no rule of the hardware broken."""
    going = run(program(procedure), facts(procedure, site), ordinary_crew(procedure, site))
    assert going.state.status == "finished"
    assert going.events("deviation") == []
    assert going.events("breach") == []
    assert going.events("unknown") == []


@pytest.mark.parametrize("day", DAYS, ids=lambda day: day.file)
def test_the_shipped_replies_are_those_of_the_simulated_day(day: Day) -> None:
    """Readings in a shipped file hang together because geometry made them; run reply_scenarios.py to write them."""
    assert (REPLIES / day.file).read_text(encoding="utf-8") == day.text()


@pytest.mark.parametrize("day", DAYS, ids=lambda day: day.file)
def test_the_shipped_replies_run_to_the_end(day: Day) -> None:
    """Every reply is used, and the state is what replaying the entries gives."""
    going = shipped(day)
    assert going.state.status == ("stopped" if day.what == "stopped" else "finished")
    lines = [x for x in (REPLIES / day.file).read_text(encoding="utf-8").splitlines() if x and not x.startswith("#")]
    assert going.lines() == lines
    assert replay(going.entries) == going.state


@pytest.mark.parametrize(
    ("procedure", "left"),
    [
        ("level_base", "hook=landed turning_ring=clamped clamp_nuts[3]=tight levelling_nuts[4]=bearing"),
        ("azimuth_limits", "azimuth_drive=off azimuth_axis=clamped sweep_barrier=open travel_limits=on hook=landed"),
    ],
)
def test_the_hardware_is_left_as_promised(procedure: str, left: str) -> None:
    """What the header says under `left`, by an independent list."""
    going = shipped(day_of(f"{procedure}.northern.replies"))
    for promise in left.split():
        item, state = promise.split("=")
        assert going.state.hardware[item] == state


@pytest.mark.parametrize(("procedure", "what"), [(day.procedure, day.what) for day in DAYS if day.site == "northern"])
def test_north_and_south_differ_only_where_the_site_does(procedure: str, what: str) -> None:
    """The same questions in the same order, so that logs of two sites can be laid side by side; the direction apart."""
    north, south = (
        shipped(next(d for d in DAYS if (d.procedure, d.site, d.what) == (procedure, site, what)))
        for site in ("northern", "southern")
    )
    turned = {"south": "north", "turn_ring_south": "turn_ring_north", "look_south": "look_north"}
    turned |= {"mark_points_south": "mark_points_north", "look_along_south": "look_along_north"}
    turned["owner_sees_south"] = "owner_sees_north"
    mirrored = ["/".join(turned.get(name, name) for name in e.ask.split("/")) for e in north.entries]
    assert mirrored == [e.ask for e in south.entries]
    different = {e.ask for e, f in zip(north.entries, south.entries, strict=True) if e.reply.text != f.reply.text}
    # A piece that the whole day performs differs where it differs by itself.
    assert {re.sub(r"^installation_day/\w+/", "", ask) for ask in different} <= {
        "level_base/as_left/sight_mark/sight_near",
        "level_base/as_left/sight_mark/sight_far",
        "level_base/as_left/mark_shadow/to_mark",
        "hand_over/values/read_latitude/latitude_here",
    }


@pytest.mark.parametrize("site", ["northern", "southern"])
def test_a_bad_day_of_levelling_is_recorded_as_it_was(site: str) -> None:
    """A nut that does not climb leads to the survey; low torque and a dragged ring are adjusted, the tilt accepted."""
    going = shipped(day_of(f"level_base.{site}.bad_day.replies"))
    ends = {e["loop"]: e["why"] for e in going.events("loop end")}
    assert ends["levelling"] == "bound"
    assert [e["routine"] for e in going.events("called")] == ["level_base", "survey_plate"]
    assert [(e["at"].rsplit("/", 1)[-1], e["way"]) for e in going.events("way")] == [
        ("torque", "adjust"),
        ("bearing", "adjust"),
        ("left_tilt", "accept"),
    ]
    (deviation,) = going.events("deviation")
    assert deviation["by"] == "Ada Quill"
    assert deviation["reason"]
    outcomes = [e["outcome"] for e in going.events("verdict") if e["name"] == "bearing"]
    assert outcomes == ["fails", "passes"]
    assert len(going.events("noted")) == 4


@pytest.mark.parametrize("site", ["northern", "southern"])
def test_a_bad_day_of_limits_is_recorded_as_it_was(site: str) -> None:
    """A readout that counts backwards is mended and tried again, an early contact touched again, a lost sign caught."""
    going = shipped(day_of(f"azimuth_limits.{site}.bad_day.replies"))
    assert [e["outcome"] for e in going.events("verdict") if e["name"] == "jog"] == ["fails", "passes"]
    assert [(e["at"].rsplit("/", 1)[-1], e["way"]) for e in going.events("way")] == [
        ("plus_touch", "adjust"),
        ("travel", "accept"),
        ("azimuth_minus", "again"),
    ]
    read_back = [e["value"] for e in going.events("read") if e["name"] == "azimuth_minus.read_back"]
    assert len(read_back) == 2
    assert read_back[0].lstrip("-") == read_back[1].lstrip("-")
    assert read_back[0] != read_back[1]


@pytest.mark.parametrize("site", ["northern", "southern"])
def test_a_stop_leads_to_the_safe_state(site: str) -> None:
    """The plate stands on all six nuts; the fork is clamped and its drive off."""
    plate = shipped(day_of(f"level_base.{site}.stopped.replies"))
    assert {plate.state.hardware[f"levelling_nuts[{k}]"] for k in range(1, 7)} == {"bearing"}
    fork = shipped(day_of(f"azimuth_limits.{site}.stopped.replies"))
    assert fork.state.hardware["azimuth_drive"] == "off"
    assert fork.state.hardware["azimuth_axis"] == "clamped"


# Arrival and the whole day are run from the command line where they are tested.
@pytest.mark.parametrize("day", [*LEVEL_AND_LIMITS, *SERVICE_DAYS], ids=lambda day: day.file)
def test_the_program_runs_the_day_and_verifies_it(day: Day, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From the command line, as a newcomer would try it; the log is headed with the warning and names the site."""
    folder = str(tmp_path / "run")
    answers = ["--replies", str(REPLIES / day.file), "--no-input", "--plain", "--clock", "stepped"]
    begun = [str(OBSERVATORY / f"{day.procedure}.proc"), "--site", str(SITES / f"{day.site}.toml"), "--into", folder]
    assert main(["run", *begun, *answers]) == (1 if day.what == "stopped" else 0)
    assert main(["log", folder]) == 0
    assert main(["verify", folder]) == 0
    capsys.readouterr()
    log = (tmp_path / "run" / "log.md").read_text(encoding="utf-8")
    assert "Training example" in log[:400]
    assert "(invented), training example" in log
    # Whoever reads the log of one hemisphere must never read the direction of the other in it.
    away, toward = ("due south", "due north") if day.site == "northern" else ("due north", "due south")
    assert toward not in log
    if day.what == "ordinary day":
        assert away in log or "due south" not in (OBSERVATORY / f"{day.procedure}.proc").read_text(encoding="utf-8")
        assert "- complete, without deviation\n" in log
