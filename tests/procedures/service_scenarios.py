"""The days behind the replies of supply, alignment, storm, count, training and hand-over; see reply_scenarios.py."""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Callable
from typing import Any

from procedure_help import SITES
from service_crew import Laser, Mirror, ServiceCrew
from shipped_day import Day

OWNER = "Ivo Lund"


def fact(site: str, name: str) -> float:
    """A fact of a site as a bare number."""
    read = tomllib.loads((SITES / f"{site}.toml").read_text(encoding="utf-8"))
    return float(str(read["facts"][name]).split(" ")[0])


def crew(site: str, **changed: Any) -> ServiceCrew:
    """The crew of an ordinary day: latitude and supply are those of the site."""
    line = (fact(site, "supply_low") + fact(site, "supply_high")) / 2 + 1.4
    return ServiceCrew(seed=31, latitude=fact(site, "latitude"), line=line, **changed)


def _ordinary(site: str, _: float) -> ServiceCrew:
    return crew(site)


def _isolate_bad(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        readings={"known_before": ("148.0 V", "231.0 V")},
        ways={"known_before/verdict": ["adjust"]},
        notes={"known_before/verdict": "battery of the proving unit was low; changed, proved afresh"},
        texts={"energies": "drive capacitors, discharged; a spring in the clamp, held by its pin"},
    )


def _isolate_stopped(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        readings={"found_voltage": ("0.2 V", "118.4 V")},
        ways={"pair[line_to_earth]/test_pair/found_voltage/verdict": ["stop"]},
        notes={
            "line_to_earth]/test_pair/found_voltage/verdict": "a second feed comes in from the desk; nobody goes in"
        },
        texts={"reached": "test sockets line_to_earth, 118.4 V: not dead; the other two pairs were not read"},
    )


def _restore_bad(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        readings={"seen": ("5 pieces", "6 pieces")},
        ways={"seen/verdict": ["adjust"]},
        notes={"seen/verdict": "Dee Marl was found below the fork and has come out; counted afresh"},
    )


def _cables_bad(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        readings={
            "radius": ("90 mm", "68 mm", "95 mm"),
            "slip": ("0 mm", "0.5 mm", "4 mm", "0.5 mm", "0 mm", "0.5 mm"),
            "caps_bagged": ("11 pieces", "12 pieces"),
        },
        ways={
            "radius/verdict": ["accept"],
            "radius/reason": ["cable 4 alone; its sheet allows 60 mm where it does not move"],
            "radius/accepted_by": ["Ada Quill"],
            "plug[3]/pull_cable/slip/verdict": ["adjust"],
            "caps_bagged/verdict": ["adjust"],
        },
        notes={
            "plug[3]/pull_cable/slip/verdict": "the clamp held the cable beside it; opened, laid, pulled afresh",
            "caps_bagged/verdict": "one cap lay in the drag chain; in the bag now",
        },
    )


def _stop_bad(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        readings={"dark_after": ("0.4 s", "1.7 s", "0.5 s")},
        ways={"dark_after/verdict": ["adjust"]},
        notes={"dark_after/verdict": "plug of the desk button half out; locked, switched on, pressed afresh"},
    )


def _power_bad(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        reversed=True,
        readings={
            "with_leads": ("0.20 ohm", "0.27 ohm", "0.25 ohm", "0.80 ohm", "0.24 ohm"),
            "control": ("-24.1 V", "24.1 V"),
        },
        ways={"earth_path/verdict": ["adjust"], "control/verdict": ["adjust"]},
        notes={
            "earth_path/verdict": "paint under the lug of the desk; scraped, bolted, read afresh",
            "control/verdict": "red and black were changed over at the plug; isolated, changed, restored",
        },
        texts={"mended": "readout direction, from reversed to straight"},
    )


def _power_stopped(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        stop_at="jogging#1/first_jog/after_jog",
        stop_reason="the fork ran on when the key was let go; stop pressed",
    )


def _spot_bad(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        mirror=Mirror(right=0.0081, up=0.0046, stuck=True),
        lock_pull=(0.0007, 0.0002),
        readings={"baffle_screws_in": ("3 pieces", "4 pieces")},
        ways={"baffle_screws_in/verdict": ["adjust"]},
        notes={
            "nudge#3/turn_screws": "the fine screws are at their end; the spot does not move",
            "baffle_screws_in/verdict": "one screw had rolled below the bench",
            "locking#1/turn_again": "locking pulls the mirror; next time in three rounds",
        },
    )


def _spot_stopped(site: str, _: float) -> ServiceCrew:
    return crew(site, stop_at="nudge#1/read_spot/dy", stop_reason="thunder from the west")


def _full_bad(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        mirror=Mirror(right=0.004, up=-0.0006, coarse_stuck=True),
        notes={"coarse#4/turn_coarse": "screw A turns freely: its nut has come off inside the cell"},
    )


def _full_stopped(site: str, _: float) -> ServiceCrew:
    return crew(site, stop_at="coarse#1/read_far/far_dx", stop_reason="gusts of 17 m/s, the tube shakes")


def _camera_bad(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        seated=0.16,
        readings={"back_in_box": ("6 pieces", "7 pieces")},
        ways={
            "focus_off/verdict": ["accept"],
            "focus_off/reason": ["a burr on the tilt plate; stoned down at the next visit, focus has travel enough"],
            "focus_off/accepted_by": ["Ada Quill"],
            "back_in_box/verdict": ["adjust"],
        },
        notes={"back_in_box/verdict": "one ring stuck to the lid of the box"},
    )


def _storm_bad(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        readings={
            "out_after": ("14 min 30 s",),
            "in_shelter": ("5 pieces", "6 pieces"),
            "last_thunder": ("2031-05-01 14:20", "2031-05-01 14:24", "2031-05-01 14:24"),
            "looked_at_watch": ("2031-05-01 14:24", "2031-05-01 14:33", "2031-05-01 15:10"),
        },
        ways={
            "out_after/verdict": ["accept"],
            "out_after/reason": ["the shutter stuck half open and was closed by hand"],
            "out_after/accepted_by": ["Ada Quill"],
            "in_shelter/verdict": ["adjust"],
        },
        notes={"in_shelter/verdict": "Cy Moss came with the second car; counted afresh"},
    )


def _count_bad(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        readings={
            "came_back": ("23 pieces", "12 pieces", "8 pieces", "9 pieces", "63 pieces", "63 pieces", "64 pieces")
        },
    )


def _train_ordinary(site: str, _: float) -> ServiceCrew:
    return crew(site, people={"driver": OWNER})


def _train_bad(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        people={"driver": OWNER},
        readings={"stop_time": ("4.1 s", "1.9 s"), "out_after": ("13 min", "8 min 40 s")},
        ways={
            "out_after/verdict": ["accept"],
            "out_after/reason": ["a drill, done once more below"],
            "out_after/accepted_by": ["Ada Quill"],
        },
    )


def _level_bad(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        readings={"north_south": ("3.2 arcmin", "-2.0 arcmin")},
        ways={
            "plate_tilt/verdict": ["accept"],
            "plate_tilt/reason": ["the pointing model takes it up; level again at the next visit"],
            "plate_tilt/accepted_by": ["Ada Quill"],
        },
    )


def _hand_over_bad(site: str, _: float) -> ServiceCrew:
    return crew(
        site,
        laser=Laser(askew=(0.5, 0.0)),
        readings={"shown": ("-260.2 deg", "258.9 deg", "259.8 deg")},
        ways={"apart/verdict": ["adjust"]},
        notes={"apart/verdict": "somebody had tried another limit; the logged one is set again and read back"},
        texts={"deviations": "one, in the log of camera_spacing"},
    )


_DAYS: tuple[tuple[str, str, Callable[[str, float], ServiceCrew]], ...] = (
    ("isolate", "ordinary day", _ordinary),
    ("isolate", "bad day", _isolate_bad),
    ("isolate", "stopped", _isolate_stopped),
    ("restore_power", "ordinary day", _ordinary),
    ("restore_power", "bad day", _restore_bad),
    ("connect_cables", "ordinary day", _ordinary),
    ("connect_cables", "bad day", _cables_bad),
    ("try_stop", "ordinary day", _ordinary),
    ("try_stop", "bad day", _stop_bad),
    ("first_power", "ordinary day", _ordinary),
    ("first_power", "bad day", _power_bad),
    ("first_power", "stopped", _power_stopped),
    ("spot_check", "ordinary day", _ordinary),
    ("spot_check", "bad day", _spot_bad),
    ("spot_check", "stopped", _spot_stopped),
    ("full_alignment", "ordinary day", _ordinary),
    ("full_alignment", "bad day", _full_bad),
    ("full_alignment", "stopped", _full_stopped),
    ("camera_spacing", "ordinary day", _ordinary),
    ("camera_spacing", "bad day", _camera_bad),
    ("storm_exit", "ordinary day", _ordinary),
    ("storm_exit", "bad day", _storm_bad),
    ("closing_count", "ordinary day", _ordinary),
    ("closing_count", "bad day", _count_bad),
    ("train_owner", "ordinary day", _train_ordinary),
    ("train_owner", "bad day", _train_bad),
    ("read_level", "ordinary day", _ordinary),
    ("read_level", "bad day", _level_bad),
    ("hand_over", "ordinary day", _ordinary),
    ("hand_over", "bad day", _hand_over_bad),
)

SERVICE_DAYS: tuple[Day, ...] = tuple(
    Day(procedure, site, what, functools.partial(make, site))
    for site in ("northern", "southern")
    for procedure, what, make in _DAYS
)


def ordinary_service(procedure: str, site: str) -> Day | None:
    """The ordinary day of one of these procedures at any of the sites; none for another procedure."""
    makers = [make for name, what, make in _DAYS if (name, what) == (procedure, "ordinary day")]
    return Day(procedure, site, "ordinary day", functools.partial(makers[0], site)) if makers else None
