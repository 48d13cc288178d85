"""The whole installation day: each piece is answered by the simulated crew of that piece, on one and the same hardware.

What one piece leaves in the equipment, a later one reads: the limits that were set are those that are handed over.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable

import attrs
from arrival_simulator import ArrivalCrew
from mount_simulator import MountCrew
from plate_simulator import PlateCrew
from service_crew import ServiceCrew
from service_scenarios import crew as service_crew
from shipped_day import Day, place
from site_crew import Crew

from proclang.engine.model import Reply, Request

ARRIVAL = ("receive_crates", "survey_pier", "lift_base", "lift_fork", "lift_tube", "release_restraints")
DAY_TEXTS = {
    "signaller": "Eli Vane",
    "day_remarks": "unpack the cables the evening before",
    "deviations": "none",
}


@attrs.define(kw_only=True)
class WholeDay(Crew):
    """Answers one run of the whole day."""

    service: ServiceCrew
    plate: PlateCrew
    mount: MountCrew
    arrival: ArrivalCrew

    def __call__(self, request: Request) -> Iterable[Reply]:
        """The crew of the piece that asks, which is asked as if it ran by itself; the day's own questions too."""
        parts = request.address.split("/")
        if parts[0] == "installation_day" and len(parts) > 3:
            request = attrs.evolve(request, address="/".join(parts[2:]))
        piece = request.address.partition("/")[0]
        if piece == "level_base":
            return self.plate(request)
        if piece == "azimuth_limits":
            return self.mount(request)
        if piece in ARRIVAL:
            return self.arrival(request)
        self._read_the_same_controller()
        return self.service(request)

    def _read_the_same_controller(self) -> None:
        """The limits that are read later are those that were set."""
        if len(self.mount.settings) == 2:
            shown = tuple(f"{self.mount.settings[f'azimuth_{end}']:.1f} deg" for end in ("minus", "plus"))
            self.service.readings |= {"logged": shown, "shown": shown}
            self.service.readings |= {"read_minus": shown[:1], "read_plus": shown[1:]}


def ordinary_day(site: str, east: float) -> WholeDay:
    """Everything in tolerance."""
    return WholeDay(
        service=service_crew(site, texts=dict(DAY_TEXTS)),
        plate=PlateCrew(seed=41, declination=east, texts=dict(DAY_TEXTS), **place(site)),
        mount=MountCrew(seed=42),
        arrival=ArrivalCrew(seed=43),
    )


def stopped_day(site: str, east: float) -> WholeDay:
    """Low torque, put right; in the afternoon the first jog runs on, and the day ends there."""
    day = ordinary_day(site, east)
    day.plate.torque_errors = {"pass[full]/nut[4]": -0.06}
    day.plate.ways = {"nut[4]/tighten_nut/torque/verdict": ["adjust"]}
    day.service.stop_at = "jogging#1/first_jog/after_jog"
    day.service.stop_reason = "the fork ran on when the key was let go; stop pressed"
    return day


WHOLE_DAYS: tuple[Day, ...] = tuple(
    Day("installation_day", site, what, functools.partial(make, site))
    for site in ("northern", "southern")
    for what, make in (("ordinary day", ordinary_day), ("stopped", stopped_day))
)
