"""The whole day in one run: every piece finds what the one before left, at every site, and the limits stay the same."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from pathlib import Path

import pytest
from procedure_help import PROCEDURES, SITE_NAMES, SITES, Run, facts, home, program, run, scripted
from shipped_day import Day, declination
from whole_day import WHOLE_DAYS, ordinary_day

from proclang.cli.main import main
from proclang.engine.fold import replay
from proclang.log.render import render_log
from proclang.program import model as m
from proclang.session.run import OpenedRun, open_run

DAY = "installation_day"
PIECES = [
    "receive_crates",
    "survey_pier",
    "lift_base",
    "level_base",
    "lift_fork",
    "lift_tube",
    "release_restraints",
    "connect_cables",
    "first_power",
    "azimuth_limits",
    "spot_check",
    "camera_spacing",
    "train_owner",
    "hand_over",
]
"""The order of the day, by an independent list."""


def shipped(day: Day) -> Run:
    """The run that a shipped file of replies makes."""
    return run(program(day.procedure), facts(day.procedure, day.site), scripted(day.path))


def performed() -> list[str]:
    """What the day performs, in order."""
    return [instr.routine for instr in program(DAY).routines[DAY].code if isinstance(instr, m.Call)]


def items(line: m.FoundLeft) -> tuple[str, ...]:
    """The items a line of a header is about, one by one."""
    return line.place.keys()


def test_the_pieces_come_in_the_order_of_the_day() -> None:
    """Nothing is lifted onto what is not level, powered before it is proved, driven before the stop is tried."""
    assert performed() == PIECES


def test_what_a_piece_leaves_the_next_one_finds() -> None:
    """By the headers alone: states before the day, after each piece, and at the end of the day."""
    routines = program(DAY).routines
    states: dict[str, str] = {}
    for line in routines[DAY].hardware:
        assert line.found is not None, line.place.text
        states |= dict.fromkeys(items(line), line.found)
    for instr in routines[DAY].code:
        if isinstance(instr, m.NowInstr) and not instr.ensure:
            states |= dict.fromkeys(instr.place.keys(), instr.state)
        elif isinstance(instr, m.Call):
            for line in routines[instr.routine].hardware:
                for item in items(line):
                    assert item in states, f"the day does not say how {item} is found before {instr.routine}"
                    assert line.found in (None, states[item]), f"{instr.routine} finds {item} {states[item]}"
                    states[item] = line.left if line.left is not None else states[item]
    left = {item: line.left for line in routines[DAY].hardware for item in items(line)}
    assert left == states


def test_one_name_is_one_thing_in_a_set() -> None:
    """Who performs several procedures is asked once for an instrument, a tool, a part or a fact of one name."""
    for folder in ("observatory", "vault"):
        meant: dict[tuple[str, str], set[object]] = defaultdict(set)
        for path in (PROCEDURES / folder).glob("*.proc"):
            if "\nprocedure " not in path.read_text(encoding="utf-8"):
                continue
            routine = program(path.stem).routines[path.stem]
            for name, instrument in routine.instruments.items():
                meant["instrument", name].add(instrument)
            for name, title in routine.tools:
                meant["tool", name].add(title)
            for name, title, _ in routine.parts:
                meant["part", name].add(title)
            for symbol in routine.inputs:
                meant["fact", symbol.name].add(symbol.type)
        assert meant
        assert {name: things for name, things in meant.items() if len(things) > 1} == {}


@pytest.mark.parametrize("site", SITE_NAMES)
def test_an_ordinary_day_ends_with_everything_in_tolerance(site: str) -> None:
    """At all four sites; no rule of the hardware is broken on the way, and nothing is left as it should not be."""
    going = run(program(DAY), facts(DAY, site), ordinary_day(site, declination(site)))
    assert going.state.status == "finished"
    for kind in ("deviation", "breach", "unknown"):
        assert going.events(kind) == []
    called = [e["routine"] for e in going.events("called")]
    assert [name for name in called if name in PIECES][: len(PIECES)] == PIECES
    promised = "hook=landed clamp_nuts[3]=tight azimuth_axis=clamped azimuth_drive=off personal_locks[lead]=away"
    promised += " restraints[behind_trunnion]=removed trunnion_cover=fitted mirror_cover=fitted travel_limits=on"
    promised += " main_switch=on sweep_barrier=open laser=off crates[tube]=open dome_shutter=closed"
    for promise in promised.split():
        item, state = promise.split("=")
        assert going.state.hardware[item] == state
    # What the owner is shown is what was set.
    for end in ("minus", "plus"):
        assert going.value(f"limit_{end}") == going.value("shown", end)


@pytest.mark.parametrize("day", WHOLE_DAYS, ids=lambda day: day.file)
def test_the_shipped_replies_are_those_of_the_simulated_day(day: Day) -> None:
    """Run reply_scenarios.py to write them."""
    assert day.path.read_text(encoding="utf-8") == day.text()
    going = shipped(day)
    assert going.state.status == ("stopped" if day.what == "stopped" else "finished")
    assert replay(going.entries) == going.state


@pytest.mark.parametrize("site", ["northern", "southern"])
def test_a_stop_in_a_piece_makes_the_day_safe_from_the_inside_out(site: str) -> None:
    """First the fork, then word to the owner; and nothing is still driven."""
    going = shipped(next(day for day in WHOLE_DAYS if (day.site, day.what) == (site, "stopped")))
    assert going.state.hardware["azimuth_drive"] == "off"
    assert going.state.hardware["azimuth_axis"] == "clamped"
    after = [e.ask.rsplit("/", 1)[-1] for e in going.entries]
    after = after[next(n for n, e in enumerate(going.entries) if e.reply.kind == "stop") + 1 :]
    assert after[:3] == ["jog_dark", "clamp_jog", "stands_at_jog"]
    assert after[-1] == "tell_power"


@pytest.mark.parametrize("day", WHOLE_DAYS, ids=lambda day: day.file)
def test_the_program_runs_the_day_and_verifies_it(
    day: Day, tmp_path: Path, capsys: pytest.CaptureFixture[str], golden: Callable[[str, str], None]
) -> None:
    """From the command line; the finished logs of the northern site are kept."""
    folder = tmp_path / "run"
    begun = [str(home(DAY) / f"{DAY}.proc"), "--site", str(SITES / f"{day.site}.toml"), "--into", str(folder)]
    answers = ["--replies", str(day.path), "--no-input", "--plain", "--clock", "stepped"]
    assert main(["run", *begun, *answers]) == (1 if day.what == "stopped" else 0)
    assert main(["verify", str(folder)]) == 0
    capsys.readouterr()
    opened = open_run(folder)
    assert isinstance(opened, OpenedRun)
    body = render_log(opened).partition("\n## What differs from run to run\n")[0]
    away, toward = ("due south", "due north") if day.site == "northern" else ("due north", "due south")
    assert away in body
    assert toward not in body
    if day.site == "northern":
        golden(f"observatory/{day.file.removesuffix('.replies')}.md", body)
