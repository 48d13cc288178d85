"""The days behind the shipped replies: each file is what a simulated crew answers on one invented day.

`python tests/procedures/reply_scenarios.py` writes the files afresh; a test holds them to what is simulated here. Days
of other parts of the set stand in modules of their own, each with its `DAYS`, and are added to `DAYS` at the end.
"""

from __future__ import annotations

import functools

from arrival_scenarios import DAYS as ARRIVAL
from mount_simulator import MountCrew
from plate_simulator import Plate, PlateCrew
from service_scenarios import SERVICE_DAYS, ordinary_service
from shipped_day import Day, declination, place
from site_crew import Crew
from vault_scenarios import VAULT_DAYS
from whole_day import WHOLE_DAYS, ordinary_day


def _level_ordinary(site: str, east: float) -> Crew:
    return PlateCrew(seed=11, declination=east, **place(site))


def _level_bad(site: str, east: float) -> Crew:
    plate = Plate.tilted(-20.0, 34.0)
    plate.stuck.add(3)
    return PlateCrew(
        seed=12,
        plate=plate,
        declination=east,
        **place(site),
        ring_error=-1.6,
        bend=(1.8, -1.4),
        torque_errors={"pass[full]/nut[4]": -0.06},
        ways={
            "nut[4]/tighten_nut/torque/verdict": ["adjust"],
            "as_left/bearing/verdict": ["adjust"],
            "as_left/left_tilt/verdict": ["accept"],
            "as_left/left_tilt/reason": ["the fork has feet of its own that take up 10 arcmin"],
            "as_left/left_tilt/accepted_by": ["Ada Quill"],
        },
        notes={
            "levelling#3/turn_bearing": "nut 3 goes round but the bubble hardly moves",
            "turn_by_survey": "nut 3 had grit in its thread and did not climb; cleaned and oiled",
            "nut[4]/tighten_nut/torque/verdict": "socket was not fully seated; seated and tightened again",
            "as_left/bearing/verdict": "the clamp had dragged the ring; ring eased, turned back and clamped again",
        },
        texts={"remarks": "nut 3 cleaned and oiled; watch it at the next levelling"},
    )  # fmt: skip


def _level_stopped(site: str, east: float) -> Crew:
    return PlateCrew(
        seed=13,
        declination=east,
        **place(site),
        stop_at="levelling#2/read_level/ns[reversed]",
        stop_reason="gusts of 19 m/s, the crew leaves the platform",
    )


def _limits_ordinary(_: float) -> Crew:
    return MountCrew(seed=21)


def _limits_bad(_: float) -> Crew:
    return MountCrew(
        seed=22,
        plus_stop=272.63,
        minus_stop=-272.31,
        readout_reversed=True,
        touch_noise={"plus_try[second]/touch_plus/plus_touch": 0.34},
        typed_wrong={"azimuth_minus"},
        ways={
            "plus_try[second]/touch_plus/plus_touch/verdict": ["adjust"],
            "stops/travel/verdict": ["accept"],
            "stops/travel/reason": ["both stop blocks stand farther out than drawn; the limits follow them"],
            "stops/travel/accepted_by": ["Ada Quill"],
            "limits/azimuth_minus/verdict": ["again"],
        },
        notes={
            "plus_try[second]/touch_plus/plus_touch/verdict": "contact was called early; driven back, touched again",
            "limits/azimuth_minus/verdict": "the minus sign was left out when it was typed; typed again",
        },
        texts={"reversed": "readout direction, from reversed to straight"},
    )  # fmt: skip


def _limits_stopped(_: float) -> Crew:
    return MountCrew(
        seed=23,
        stop_at="prove_plus/reached_plus",
        stop_reason="the fork ran past the plus limit and was stopped by hand",
    )


LEVEL_AND_LIMITS: tuple[Day, ...] = tuple(
    Day(procedure, site, what, crew)
    for site in ("northern", "southern")
    for procedure, what, crew in (
        ("level_base", "ordinary day", functools.partial(_level_ordinary, site)),
        ("level_base", "bad day", functools.partial(_level_bad, site)),
        ("level_base", "stopped", functools.partial(_level_stopped, site)),
        ("azimuth_limits", "ordinary day", _limits_ordinary),
        ("azimuth_limits", "bad day", _limits_bad),
        ("azimuth_limits", "stopped", _limits_stopped),
    )
)

DAYS: tuple[Day, ...] = (
    *LEVEL_AND_LIMITS,
    *ARRIVAL,
    *SERVICE_DAYS,
    *WHOLE_DAYS,
)  # fmt: skip
"""Every day of the set."""


def ordinary_crew(procedure: str, site: str) -> Crew:
    """The crew of an ordinary day, at any site."""
    if procedure == "installation_day":
        return ordinary_day(site, declination(site))
    if procedure == "level_base":
        return _level_ordinary(site, declination(site))
    day = ordinary_service(procedure, site) or next(
        day for day in DAYS if day.procedure == procedure and day.what == "ordinary day"
    )
    return day.crew(declination(site))


if __name__ == "__main__":
    for day in (*DAYS, *VAULT_DAYS):
        day.path.write_text(day.text(), encoding="utf-8")
