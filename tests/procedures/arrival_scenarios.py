"""The days of the procedures from the first call to the released restraints. All invented."""

from __future__ import annotations

from collections.abc import Callable

from arrival_simulator import ArrivalCrew
from shipped_day import Day
from site_crew import Crew

CALM = "everything is booked and the forecast is calm"


def _ordinary(_: float) -> Crew:
    return ArrivalCrew(seed=31)


def _no_go(_: float) -> Crew:
    return ArrivalCrew(
        seed=32,
        gusts=[14.0, 17.0, 15.0],
        choices={"decision": ["no_go"]},
        texts={"decision_reason": "three forecasts in a row lie above the gust of the lift plan"},
    )


def _dented_crate(_: float) -> Crew:
    return ArrivalCrew(
        seed=33,
        counts={"crate[drive]/read_seals/seals[drive]": [1], "crate[drive]/read_seals/seals": [1]},
        choices={"crate[tube]/read_tags/shock_tag": ["tripped"]},
        ways={
            "seals/verdict": ["accept"],
            "seals/reason": ["one seal lies broken in the straw; the carrier has signed for it"],
            "seals/accepted_by": ["Ada Quill"],
        },
        texts={"damage_seen": "tube: a board dented at the lower edge; the others none"},
    )


def _leaning_bolt(_: float) -> Crew:
    return ArrivalCrew(
        seed=34,
        bent={4: (3.4, -1.9)},
        ways={
            "miss/verdict": ["accept"],
            "miss/reason": ["hole 4 is opened to 30 mm under a plate washer, agreed with the maker today"],
            "miss/accepted_by": ["Ada Quill"],
        },
        texts={"pier_remarks": "bolt 4 leans to the south-east; hole 4 of the plate is opened before the lift"},
    )  # fmt: skip


def _flat_sling(_: float) -> Crew:
    return ArrivalCrew(
        seed=35,
        leg=1.0,
        gusts=[9.4, 8.6, 6.2, 5.1],
        ways={"leg_angle/verdict": ["adjust"]},
        notes={
            "leg_angle/verdict": "legs of 1.0 m hang at 26 deg from the horizontal; a longer sling was on the truck"
        },
    )


def _low_torque(_: float) -> Crew:
    return ArrivalCrew(
        seed=36,
        torque_errors={"bolt[3]": -0.09},
        counts={"bolts_in": [7, 8]},
        ways={"bolt_torque/verdict": ["adjust"], "bolts_missing/verdict": ["adjust"]},
        notes={
            "bolt_torque/verdict": "the wrench was still set to the torque of another joint",
            "bolts_missing/verdict": "the head of bolt 8 hides behind the upright; counted again with a mirror",
        },
    )


def _uneven_legs(_: float) -> Crew:
    return ArrivalCrew(
        seed=37,
        stop_at="look_at_gear/load_level",
        stop_reason="the test lift hung 5 deg out of level, one leg slack; the eyes are moved first",
    )


def _lost_bolt(_: float) -> Crew:
    return ArrivalCrew(
        seed=38,
        masses={"camera": (11.4, -620.0), "finder": (6.3, 880.0), "counterweight": (22.0, 230.0)},
        counts={"bolts_bagged": [17, 18]},
        ways={"bolts_missing/verdict": ["adjust"]},
        notes={
            "bolts_missing/verdict": "the last bolt lay behind the trunnion; the cover was opened and closed for it"
        },
    )


_DAYS: tuple[tuple[str, str, Callable[[float], Crew]], ...] = (
    ("call_ahead", "ordinary day", _ordinary),
    ("call_ahead", "bad day", _no_go),
    ("receive_crates", "ordinary day", _ordinary),
    ("receive_crates", "bad day", _dented_crate),
    ("survey_pier", "ordinary day", _ordinary),
    ("survey_pier", "bad day", _leaning_bolt),
    ("lift_base", "ordinary day", _ordinary),
    ("lift_base", "bad day", _flat_sling),
    ("lift_fork", "ordinary day", _ordinary),
    ("lift_fork", "bad day", _low_torque),
    ("lift_tube", "ordinary day", _ordinary),
    ("lift_tube", "stopped", _uneven_legs),
    ("release_restraints", "ordinary day", _ordinary),
    ("release_restraints", "bad day", _lost_bolt),
)

DAYS: tuple[Day, ...] = tuple(
    Day(procedure, site, what, crew) for site in ("northern", "southern") for procedure, what, crew in _DAYS
)
