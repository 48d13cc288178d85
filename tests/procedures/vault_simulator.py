"""A vault, a seismometer on three feet, a line on the pier, a lid under water, and a crew that does what it is told.

Nothing of the project computes here: tilts follow from the heights of the feet, bearings from sums of angles written
out below. All values and people are invented.

Frame: heights up; a slope is positive where the top plate rises toward north or east; bearings clockwise from north.
"""

from __future__ import annotations

import math
import re

import attrs
from site_crew import Crew

from proclang.engine.model import Request

CIRCLE = 220.0
PITCH = 1.0
"""mm per turn, M6 coarse (ISO 261, from memory)."""

_PER_RADIAN = 180 * 60 / math.pi
_TURN = re.compile(r"Foot (\d): (\d+\.\d+) turn(?: (raise|lower))?\.")
_MARK = re.compile(r"Turn the north mark to (\d+\.\d+) deg(?: (clockwise|anticlockwise))? of the scribed line\.")

PEOPLE = {"lead": "Eve Larch", "technician": "Finn Ober", "watcher": "Gil Sand", "scribe": "Hana Vey"}

TEXTS = {
    "watch": "Gil Sand",
    "rescue": "radio channel 4, call sign of the site",
    "pier": "pier_002.jpg",
    "stands": "stands_011.jpg",
    "sealed": "sealed_020.jpg",
    "noise_around": "a tractor, 800 m away",
    "remarks": "the third lid bolt is new",
    "last_bolt": "bolt 5 in the second pass",
}


QUIET = {"up": 150, "north": 180, "east": 190}
"""Noise of a calm day in nm/s."""


@attrs.define
class Tripod:
    """Three feet on a circle: foot 1 below the north mark, then clockwise seen from above; heights in mm."""

    heights: dict[int, float]
    dragged: tuple[float, float] = (0.0, 0.0)
    """Tilt to north and east in arcmin that the lock rings add."""

    @classmethod
    def tilted(cls, ns_arcmin: float, ew_arcmin: float) -> Tripod:
        """A seismometer stood down with these tilts."""
        north, east = math.tan(ns_arcmin / _PER_RADIAN), math.tan(ew_arcmin / _PER_RADIAN)
        place = {n: 2 * math.pi * (n - 1) / 3 for n in (1, 2, 3)}
        return cls({n: 20 + CIRCLE / 2 * (math.cos(a) * north + math.sin(a) * east) for n, a in place.items()})

    def tilts(self) -> tuple[float, float]:
        """Tilt to north and to east in arcmin.

        Foot 1 is north of the line through feet 2 and 3, which lie as far apart as half the circle times root 3.
        """
        one, two, three = (self.heights[n] for n in (1, 2, 3))
        north = (one - (two + three) / 2) / (0.75 * CIRCLE)
        east = (two - three) / (CIRCLE / 2 * math.sqrt(3))
        return (
            math.atan(north) * _PER_RADIAN + self.dragged[0],
            math.atan(east) * _PER_RADIAN + self.dragged[1],
        )


@attrs.define
class VaultCrew(Crew):
    """Enters, sets, seals, and reads what the hardware shows."""

    tripod: Tripod = attrs.field(factory=lambda: Tripod.tilted(14.0, -21.0))
    zero: float = -0.4
    """What the level shows on level ground, in arcmin."""

    declination: float = 0.0
    line: float = 3.2
    """True bearing of the scribed line in deg."""

    mark: float = 0.0
    """Where the north mark stands, clockwise of the line in deg."""

    drag: float = 0.2
    """How far the lock rings turn the case, in deg."""

    gyro_constant: float = -1.34
    gyro_slip: float = 0.0
    """How far the second run of the gyro is off, in deg; gone when it is run again."""

    method: str = "compass"
    oxygen: float = 20.8
    dioxide: int = 640
    tools: int = 14
    water: float = 2.0
    """Depth in the sump in mm; each turn at the pump leaves a twentieth."""

    warmth: float = 0.2
    """How much warmer than the pit the case is, in K; two fifths of it go in an hour."""

    offsets: list[float] = attrs.field(factory=lambda: [0.12])
    """How far the farthest mass stands off after each centring, in V; the last one stays."""

    swing: dict[str, float] = attrs.field(factory=dict)
    noise: dict[str, int] = attrs.field(factory=dict)
    bags: int = 0
    bags_lost: int = 0
    leaks: list[int] = attrs.field(factory=lambda: [0])
    """How far the water falls in each test, in mm."""

    threads: str = "oiled"
    """What the threads of the lid bolts look like."""

    minutes: int = 9 * 60
    """Time of day by the watch, in minutes UTC; the clock of the crew moves only while it waits for the temperature."""

    trail: list[tuple[float, float]] = attrs.field(factory=list)
    """Tilts each time the level was read, in arcmin."""

    def _opening(self, request: Request, name: str) -> str:
        if request.address.startswith("opening/crew/"):
            return PEOPLE[name]
        return super()._opening(request, name)

    def _signer(self, request: Request) -> str:
        text = f"{request.people} {' '.join(request.choices)} {request.prompt}"
        return min((text.find(person), person) for person in PEOPLE.values() if person in text)[1]

    def answer(self, request: Request) -> str:
        """Answers in words from this vault."""
        self.texts = TEXTS | self.texts
        return super().answer(request)

    # ------------------------------------------------------------------ what instruments show

    def reading(self, request: Request, name: str) -> str:
        """What an instrument shows."""
        value, _, label = name.partition("[")
        label = label.removesuffix("]") or _loop_label(request.address)
        if value in ("pier_ns", "pier_ew"):
            return self._reversed(name, {"pier_ns": 8.0, "pier_ew": -5.0}[value])
        if value in ("ns", "ew", "left_ns", "left_ew"):
            tilts = self.tripod.tilts()
            if name == "ns[direct]":
                self.trail.append(tilts)
            return self._reversed(name, tilts[0] if value.endswith("ns") else tilts[1])
        if value in ("warm_at", "later_at"):
            return f"2031-05-{1 + self.minutes // 1440:02}T{self.minutes // 60 % 24:02}:{self.minutes % 60:02}Z"
        found = {
            "oxygen": lambda: f"{self.oxygen} %",
            "flammable": lambda: "0 %",
            "dioxide": lambda: f"{self.dioxide} ppm",
            "tools_in": lambda: f"{self.tools}",
            "tools_out": lambda: f"{self.tools}",
            "water": lambda: f"{self.water:.0f} mm",
            "sight_south": lambda: f"{(self.line - self.declination) % 360:.1f} deg",
            "sight_north": lambda: f"{(self.line - self.declination + 0.1) % 360:.1f} deg",
            "constant": lambda: f"{self.gyro_constant} deg",
            "gyro_first": lambda: f"{(self.line - self.gyro_constant) % 360:.2f} deg",
            "gyro_second": lambda: f"{(self.line - self.gyro_constant + self.gyro_slip + 0.03) % 360:.2f} deg",
            "mark_angle": lambda: f"{self.mark:.1f} deg",
            "warm_before": lambda: f"{9.0 + self.warmth:.1f} °C",
            "warm_after": lambda: f"{9.0 + self.warmth:.1f} °C",
            "mass": lambda: f"{self.offsets[0] * {'up': 0.4, 'north': -1.0, 'east': 0.7}[label]:.2f} V",
            "kick": lambda: f"{self.swing.pop(label, 1.6):.2f} V",
            "noise": lambda: f"{(QUIET | self.noise)[label]} nm/s",
            "gland_click": lambda: re.findall(r"to (\d+ N\.m)", request.title)[0],
            "lid_click": lambda: re.findall(r"to (\d+ N\.m)", request.title)[0],
            "bags_brought": lambda: f"{self.bags + 2}",
            "bags_laid": lambda: f"{self.bags}",
            "bags_left": lambda: f"{2 - self.bags_lost}",
            "pit_damp": lambda: "44 %",
            "pit_air": lambda: "9.4 °C",
            "pit_case": lambda: "9.3 °C",
            "damp_before": lambda: "31 %",
            "damp_after": lambda: "32 %",
            "pond_before": lambda: "30 mm",
            "pond_after": lambda: f"{30 - self.leaks[0]} mm",
        }.get(value)
        return found() if found is not None else super().reading(request, name)

    def _reversed(self, name: str, tilt: float) -> str:
        shown = self.zero + (tilt if "[direct]" in name else -tilt)
        return f"{round(shown, 1) + 0.0:.1f} arcmin"

    def choice(self, request: Request, name: str) -> str:
        """The method of the day and the state of the threads; else all is as the question says."""
        seen = {"method": self.method, "threads": self.threads}
        return seen.get(name) or super().choice(request, name)

    # ------------------------------------------------------------------ what is done to the hardware

    def done(self, request: Request, name: str) -> None:
        """Do what the step says, as it is printed."""
        if name == "turn_feet":
            for sentence in request.prose:
                found = _TURN.fullmatch(sentence)
                if found is not None:
                    self.tripod.heights[int(found[1])] += float(found[2]) * PITCH * (1 if found[3] == "raise" else -1)
        elif name == "turn_mark":
            found = _MARK.fullmatch(request.title)
            assert found is not None, request.title
            self.mark = float(found[1]) * (1 if found[2] == "clockwise" else -1)
        elif name == "lock_foot" and "foot[3]" in request.address:
            self.mark += self.drag
            self.tripod.dragged = (0.3, -0.2)
        elif name == "pump_out":
            self.water = self.water / 20
        elif name == "centre" and len(self.offsets) > 1 and "centring#1" not in request.address:
            self.offsets.pop(0)
        elif name == "wait_hour":
            self.warmth *= 0.6
            self.minutes += 61
        elif name == "go_round":
            self.leaks.pop(0)

    def way(self, request: Request, word: str) -> None:
        """What was put right when a verdict asked."""
        if word == "adjust":
            self.bags_lost = 0
            self.gyro_slip = 0.0


def _loop_label(address: str) -> str:
    found = re.findall(r"axis\[(\w+)\]", address)
    return found[-1] if found else ""
