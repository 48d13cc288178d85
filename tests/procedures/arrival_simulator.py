"""Crates, a pier, a crane with its sling and a tube out of balance, and a crew that reads them.

All values and people are invented. Nothing of the project computes here.
"""

from __future__ import annotations

import math
import re

import attrs
from site_crew import Crew

from proclang.engine.model import Request

GRAVITY = 9.80665

WORDS = {
    # call_ahead
    "crate_holds": "as drawn, with its own packing slip",
    "phone_numbers": "answered at the first call; number in the site book",
    "crane_words": "operator Gus Penn (invented), 07:00, boom 18 m, confirmed by his office",
    "gate_keys": "the keeper opens at 06:30; second key in the hut",
    "permit_number": "permit 31-118 (invented), until the end of the month",
    "still_open": "the wind; the lead calls again tomorrow at 09:00",
    "not_settled": "the wind does not go down before the weekend",
    "decision_reason": "everything is booked and the forecast is calm",
    # receive_crates
    "seal_numbers": "two seals, numbers as on the packing list",
    "damage_note": "shock tag tripped, board dented at the lower edge, not opened",
    "damage_seen": "none",
    # survey_pier
    "pier_remarks": "the pier is dry; bolt 2 has a nick above the thread",
    # lifts
    "signaller": "Eli Vane",
    "weight_source": "plate on the load, read by Bo Tarn",
    "tags_reader": "sling 12-A, shackles 3 to 6, read by Bo Tarn and Ada Quill",
    "chart_reader": "boom 18 m, read by the operator and repeated by Ada Quill",
    "changed": "sling of 1.0 m legs exchanged for one of 2.0 m legs",
    # release_restraints
    "sweep_watch": "Cy Moss",
    "balance_remarks": "balanced with all covers on; read again when the camera is changed",
}
"""Answers in words, by the last name of the address."""

COUNTS = {
    "crates_listed": 5, "crates_counted": 5, "seals": 2, "nuts_found": 12,
    "caps_off": 6, "caps_back": 6, "nuts_on": 6,
    "bolts_out": 8, "bolts_in": 8, "bolts_left": 0,
    "pins_out": 2, "pins_in": 2,
    "bolts_of": 4, "bolts_hidden": 2, "screws_off": 6, "screws_on": 6, "tools_taken": 5, "tools_brought": 5,
    "restraints_off": 5, "bolts_bagged": 18, "pins_boxed": 2, "bags_boxed": 5,
}  # fmt: skip
"""What there is to be counted."""

CRATES = {"base": 240, "fork": 510, "tube": 395, "drive": 120, "mirror": 160}
"""Gross weights in kg."""

BOLT_RADIUS = 270.4
HALF_SPAN = 0.9
"""From the hook line to a lifting eye, in m."""

LOADS = {
    # weight, its basis, gear: kg
    "lift_base": (182, "weighed", 62),
    "lift_fork": (424, "weighed", 75),
    "lift_tube": (312, "drawing", 70),
}

SIDES = {"lift_base": (0.62, 0.62), "lift_fork": (1.1, 1.2), "lift_tube": (1.6, 0.7)}
"""Width and height of the largest side of a load in m."""


@attrs.define
class ArrivalCrew(Crew):
    """Answers one run of the procedures up to the released restraints."""

    counts: dict[str, list[int]] = attrs.field(factory=dict)
    """By the end of an address: what is counted there instead, several in order."""

    choices: dict[str, list[str]] = attrs.field(factory=dict)
    """By the end of an address: what is seen there instead, several in order."""

    gusts: list[float] = attrs.field(factory=list)
    """Gusts in m/s, in the order in which they are read; 3.6 m/s after that."""

    leg: float = 2.0
    """Length of a leg of the sling in m, and the one that replaces it."""

    threads: str = "oiled"
    """State of the threads of the fork bolts."""

    bent: dict[int, tuple[float, float]] = attrs.field(factory=dict)
    """Bolts that stand off their place, by so many mm to east and north."""

    torque_errors: dict[str, float] = attrs.field(factory=dict)
    """By the place in the address: parts of the target by which the first click is off."""

    masses: dict[str, tuple[float, float]] = attrs.field(
        factory=lambda: {"camera": (11.4, -620.0), "finder": (6.3, 880.0), "counterweight": (22.0, 86.0)}
    )
    """Mass in kg and arm in mm of what is bolted to the tube; the front is plus."""

    bare_tube: float = -5.2
    """Moment of the tube without them in N.m."""

    friction: float = 12.0
    """Friction of the altitude axis in N.m."""

    def __attrs_post_init__(self) -> None:
        super().__attrs_post_init__()
        self.texts = {**WORDS, **self.texts}

    def answer(self, request: Request) -> str:
        """Photographs are numbered by their names, the gust is that of the day; the rest as every crew does."""
        name = request.address.rsplit("/", 1)[-1]
        if name.endswith("_photo"):
            return f"{name.removesuffix('_photo')}_{100 + sum(map(ord, request.address)) % 900}.jpg"
        if name == "gust":  # told at the danger, before the one that is judged is read
            return f"{self.gusts[0] if self.gusts else 3.6} m/s"
        return super().answer(request)

    # ------------------------------------------------------------------ readings

    def reading(self, request: Request, name: str) -> str:
        """What is counted, read from a tag, or shown by an instrument."""
        value = name.partition("[")[0]
        for end, waiting in self.counts.items():
            if request.address.endswith(end) and waiting:
                return f"{waiting.pop(0)} pieces"
        if value in COUNTS:
            return f"{COUNTS[value]} pieces"
        if value in ("forecast_gust", "last_gust"):
            return f"{self.gusts.pop(0) if self.gusts else 3.6} m/s"
        found = (
            self._crate(request, value)
            or self._pier(request, value)
            or self._rigging(request, value)
            or self._torque(request, value)
            or self._tube(request, value, name)
        )
        return found or super().reading(request, name)

    def _crate(self, request: Request, value: str) -> str:
        if value != "gross":
            return ""
        (box,) = re.findall(r"box\[(\w+)\]", request.address)
        return f"{CRATES[box]} kg"

    def _pier(self, request: Request, value: str) -> str:
        if value not in ("east", "north", "stands_out"):
            return ""
        bolt = int(re.findall(r"anchor\[(\d)\]", request.address)[0])
        if value == "stands_out":
            return f"{100.5 + self.random.uniform(-2, 2):.0f} mm"
        # The pattern is turned by a quarter of a degree and stands 1.2 mm east, 0.8 mm south of the mark.
        azimuth = math.radians(60 * (bolt - 1) + 0.25)
        off = self.bent.get(bolt, (0.0, 0.0))
        east = 1.2 + BOLT_RADIUS * math.sin(azimuth) + off[0]
        north = -0.8 + BOLT_RADIUS * math.cos(azimuth) + off[1]
        return f"{round((east if value == 'east' else north) + self.random.gauss(0, 0.3), 1) + 0.0:.1f} mm"

    def _rigging(self, request: Request, value: str) -> str:
        weight, _, gear = LOADS.get(request.address.partition("/")[0], (0, "", 0))
        width, height = SIDES.get(request.address.partition("/")[0], (1.0, 1.0))
        shown = {
            "weight": f"{weight} kg",
            "gear": f"{gear} kg",
            "legs": "4 pieces",
            "leg_angle": f"{round(2 * math.degrees(math.acos(HALF_SPAN / self.leg))) / 2} deg",
            "sling_rating": "1000 kg",
            "shackle_rating": "2000 kg",
            "eye_rating": "700 kg",
            "radius": "14.2 m",
            "chart_radius": "15 m",
            "side_width": f"{width} m",
            "side_height": f"{height} m",
            "crane_chart": "1450 kg",
        }
        return shown.get(value, "")

    def _torque(self, request: Request, value: str) -> str:
        if value != "bolt_torque":
            return ""
        target = float(re.findall(r"to (\d+) N\.m", request.title)[0])
        error = 0.0
        for place in [place for place in self.torque_errors if f"/{place}/" in request.address]:
            error = self.torque_errors.pop(place)
        return f"{target * (1 + (error or self.random.choice((-0.01, 0.0, 0.01)))):.0f} N.m"

    def moment(self) -> float:
        """True moment about the altitude axis in N.m, plus where the front is heavy."""
        return self.bare_tube + sum(GRAVITY * mass * arm / 1000 for mass, arm in self.masses.values())

    def _tube(self, request: Request, value: str, name: str) -> str:
        if value in ("weighed", "arm"):
            mass, arm = self.masses[re.findall(r"mass\[(\w+)\]", request.address)[0]]
            return f"{mass:.1f} kg" if value == "weighed" else f"{arm:.0f} mm"
        if value == "arm_left":
            return f"{self.masses['counterweight'][1]:.0f} mm"
        if value == "pull":
            heavy = self.moment() if name.endswith("[up]") else -self.moment()
            return f"{round(self.friction + heavy + self.random.gauss(0, 0.1), 1) + 0.0:.1f} N.m"
        return ""

    # ------------------------------------------------------------------ what is seen and done

    def choice(self, request: Request, name: str) -> str:
        """The basis of a weight goes with the load; anything else is as it should be."""
        for end, waiting in self.choices.items():
            if request.address.endswith(end) and waiting:
                return waiting.pop(0)
        if name == "basis":
            return LOADS[request.address.partition("/")[0]][1]
        if name == "threads":
            return self.threads
        return super().choice(request, name)

    def way(self, request: Request, word: str) -> None:
        """Legs that hung too flat are exchanged."""
        if word == "adjust" and request.address.endswith("/leg_angle/verdict"):
            self.leg = 2.0

    def done(self, request: Request, name: str) -> None:
        """Exchange the sling, move the counterweight as told."""
        if name == "changed":
            self.leg = 2.0
        elif name in ("shift_coarse", "shift_fine"):
            size, way = re.findall(r"by (\d+) mm(?: (\w+))?", request.title)[0]
            mass, arm = self.masses["counterweight"]
            self.masses["counterweight"] = (mass, arm + (-int(size) if way == "backward" else int(size)))
