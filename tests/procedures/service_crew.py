"""Cables, supply, laser, camera and owner as they answer on a day of service, and the crew that reads them.

Nothing of the project computes here: the spot follows from a mirror and a laser written out below, so that printed
turns that were wrong would never bring it to its mark. All people, values and serial numbers are invented.
"""

from __future__ import annotations

import math
import re

import attrs
from site_crew import Crew

from proclang.engine.model import Request

PEOPLE = {"electrician": "Gil Reed", "optician": "Hana Voss", "owner": "Ivo Lund"}

TEXTS = {
    "licence": "Gil Reed, licence INV-0417 (invented)",
    "beam_class": "class 2, 635 nm",
    "eyewear": "630 to 640 nm, optical density 2",
    "shelter": "stone hut at the gate",
    "storm_gust": "17 m/s",
    "tag_electrician": "Gil Reed, 1 May 2031",
    "tag_lead": "Ada Quill, 1 May 2031",
    "tag_rigger": "Bo Tarn, 1 May 2031",
    "energies": "drive capacitors, discharged through the drive; no spring, no battery",
    "locks_on": "all three",
    "reached": "the proving unit before, 231.0 V",
    "last_plug": "connector 3",
    "mended": "motor direction, from 0 to 1",
    "sheet": "sheet of the camera, 3 March 2031, read by Cy Moss",
    "where_found": "rag: behind the wrap; bolt: perhaps in the duct",
    "called_at": "14:05",
    "lost_minutes": "the shutter was looked for at the wrong desk",
    "switch_left": "at off",
    "locks_left": "two: lead and electrician",
    "who_is_out": "none",
    "left_open": "nothing",
    "who_is_missing": "none",
    "not_found": "one bolt; tube, wrap, drag chain and drive box were searched",
    "questions": "how often the wrap is looked at; the lead answers by letter",
    "deviations": "none",
    "sky_written": "inside the cover of the manual",
    "still_open": "star test; the lead, until the end of the month",
    "star_test": "first clear night after 5 May 2031; the owner",
}
"""Answers in words, by the last name of the address; pictures and all the rest are made up from the name."""


@attrs.define
class Mirror:
    """A mirror that sends the beam back to the card: tilts in rad, positive where they move the spot right or up.

    A screw moves the mirror by its lever; the beam turns by twice the angle of the mirror (law of reflection).
    """

    right: float = 0.0022
    up: float = -0.0015
    lever: float = 120.0
    stuck: bool = False
    """The fine screws have reached the end of their travel: turning them changes nothing."""

    coarse_stuck: bool = False

    def spot(self, throw: float) -> tuple[float, float]:
        """Where the spot falls on a card at a distance, in mm right and up of its mark."""
        return throw * math.tan(2 * self.right), throw * math.tan(2 * self.up)

    def turn(self, right: float, up: float, pitch: float) -> None:
        """Turn screw A and screw B, in turns; positive moves the spot right or up."""
        self.right += math.atan(right * pitch / self.lever)
        self.up += math.atan(up * pitch / self.lever)


@attrs.define
class Laser:
    """A laser that sits askew in its holder: as it is turned, its spot goes round on a circle."""

    centre: tuple[float, float] = (1.5, -2.0)
    """Where the axis of the holder meets the card, in mm right and up."""

    askew: tuple[float, float] = (6.0, 3.5)
    """The spot with mark 1 up, from that centre."""

    def spot(self, mark: int) -> tuple[float, float]:
        """The spot with a mark up: a quarter turn for each."""
        angle = (mark - 1) * math.pi / 2
        x, y = self.askew
        return (
            self.centre[0] + x * math.cos(angle) - y * math.sin(angle),
            self.centre[1] + x * math.sin(angle) + y * math.cos(angle),
        )

    def aim(self, right: float, up: float) -> None:
        """Bring the spot to a place on the card, with mark 4 up; what is left of it turns with the laser."""
        x, y = right - self.centre[0], up - self.centre[1]
        angle = -3 * math.pi / 2
        self.askew = (
            x * math.cos(angle) - y * math.sin(angle),
            x * math.sin(angle) + y * math.cos(angle),
        )


SIMPLE: dict[str, tuple[str, ...]] = {
    "known_before": ("231.0 V",),
    "known_after": ("230.8 V",),
    "capacitor_voltage": ("3.1 V",),
    "found_voltage": ("0.2 V", "0.1 V", "0.0 V", "0.3 V"),
    "on_list": ("6 pieces",),
    "seen": ("6 pieces",),
    "names_on_list": ("6 pieces",),
    "in_shelter": ("6 pieces",),
    "control_run": ("9.46 m",),
    "radius": ("90 mm", "80 mm", "95 mm"),
    "screws_out": ("8 pieces",),
    "screws_in": ("8 pieces",),
    "caps_off": ("12 pieces",),
    "caps_bagged": ("12 pieces",),
    "pull": ("60 N", "61 N", "59 N", "60 N", "62 N", "60 N"),
    "slip": ("0 mm", "0.5 mm", "0 mm", "0 mm", "0.5 mm", "0 mm"),
    "leads": ("0.06 ohm",),
    "with_leads": ("0.20 ohm", "0.27 ohm", "0.25 ohm", "0.23 ohm"),
    "neutral_earth": ("0.6 V",),
    "control": ("24.1 V",),
    "trip_time": ("38 ms",),
    "dark_after": ("0.4 s", "0.5 s"),
    "cell_screws_out": ("6 pieces",),
    "cell_screws_in": ("6 pieces",),
    "baffle_screws_out": ("4 pieces",),
    "baffle_screws_in": ("4 pieces",),
    "card_distance": ("1985 mm",),
    "filter_glass": ("3.015 mm",),
    "in_box": ("10 pieces",),
    "in_pack": ("3 pieces",),
    "back_in_box": ("7 pieces",),
    "stop_time": ("1.6 s",),
    "read_minus": ("-260.2 deg",),
    "read_plus": ("259.8 deg",),
    "out_after": ("8 min 20 s",),
    "last_thunder": ("2031-05-01 14:16",),
    "looked_at_watch": ("2031-05-01 14:28", "2031-05-01 14:45", "2031-05-01 15:02"),
    "keys_given": ("2 pieces",),
    "went_out": ("23 pieces", "12 pieces", "9 pieces", "64 pieces"),
    "came_back": ("23 pieces", "12 pieces", "9 pieces", "64 pieces"),
    "screw_torque": ("2.5 N.m", "2.4 N.m", "2.5 N.m", "2.6 N.m"),
    "logged": ("-260.2 deg", "259.8 deg"),
    "shown": ("-260.2 deg", "259.8 deg"),
    "north_south": ("1.3 arcmin", "0.3 arcmin"),
    "east_west": ("0.4 arcmin", "1.1 arcmin"),
    "depth": ("52.36 mm", "24.98 mm", "50.72 mm"),
    "sensor_depth": ("17.50 mm",),
}
"""Readings that follow from nothing else, in the order they are taken; the last one is given again and again."""

SCREWS = re.compile(r"Screw ([AB]): (\d+\.\d+) turn(?: (right|left|up|down))?, .*")


@attrs.define
class ServiceCrew(Crew):
    """Connects, switches on, aligns, spaces, counts and hands over."""

    mirror: Mirror = attrs.field(factory=Mirror)
    laser: Laser = attrs.field(factory=Laser)
    short_throw: float = 4012.0
    long_throw: float = 12350.0
    lock_pull: tuple[float, float] = (0.00004, -0.00003)
    """What locking the fine screws adds to the tilt of the mirror, in rad."""

    line: float = 231.4
    latitude: float = 31.2
    people: dict[str, str] = attrs.field(factory=dict)
    """People in roles that somebody else holds on an ordinary day."""

    readings: dict[str, tuple[str, ...]] = attrs.field(factory=dict)
    """Readings that differ from `SIMPLE`."""

    choices: dict[str, tuple[str, ...]] = attrs.field(factory=dict)
    """What is seen, in order, where it is not what the question names first."""

    position: float = 3.4
    reversed: bool = False
    pack: float = 0.0
    seated: float = 0.01
    """How much longer the joined stack is than its parts, in mm."""

    taken: dict[str, int] = attrs.field(factory=dict)

    def answer(self, request: Request) -> str:
        """People by their roles, words from the list above, pictures by their names, the rest as any crew."""
        parts = request.address.split("/")
        name = parts[-1]
        if parts[:2] == ["opening", "crew"]:
            return self._everyone().get(name) or super().answer(request)
        told = any(request.address.endswith(end) for end in self.ways)
        if not told and parts[0] != "opening" and (name in TEXTS or request.kind == "text"):
            self.done(request, name)
            return self.texts.get(name) or TEXTS.get(name) or f"{name}_{100 + sum(map(ord, name)) % 900}.jpg"
        return super().answer(request)

    def _everyone(self) -> dict[str, str]:
        return {**PEOPLE, **self.people}

    def _signer(self, request: Request) -> str:
        """Whoever of them the question names first."""
        text = f"{request.people} {' '.join(request.choices)} {request.prompt}"
        other = super()._signer(request)
        found = [(text.find(person), person) for person in (*self._everyone().values(), other) if person in text]
        return min(found)[1] if found else other

    def reading(self, request: Request, name: str) -> str:
        """What the instruments show."""
        value = name.partition("[")[0]
        if value in self.readings:
            return self._next(value, self.readings[value])
        if value in ("dx", "left_dx", "dy", "left_dy"):
            return self._card(self.mirror.spot(self.short_throw), value)
        if value in ("far_dx", "far_dy", "last_dx", "last_dy"):
            return self._card(self.mirror.spot(self.long_throw), value)
        if value in ("spot_x", "spot_y"):
            return self._card(self.laser.spot(int(re.findall(r"turned\[(\d)\]", request.address)[0])), value)
        if value == "throw":
            return f"{self.long_throw if 'full_alignment' in request.address else self.short_throw:.0f} mm"
        if value in ("line_neutral", "line_earth"):
            return f"{self.line - (0.5 if value == 'line_earth' else 0):.1f} V"
        if value in ("before_jog", "after_jog", "stands_at_jog"):
            if value == "after_jog":
                self.position += 2.01
            return f"{-self.position if self.reversed else self.position:.2f} deg"
        if value == "pack":
            self.pack = float(re.findall(r"of (\d+\.\d+) mm", request.title)[0]) + 0.005
            return f"{self.pack:.3f} mm"
        if value == "stack_left":
            parts = [float(text.removesuffix(" mm")) for text in self.readings.get("depth", SIMPLE["depth"])]
            corner = 0.01 if name.endswith("[top]") else 0.0
            return f"{sum(parts) + self.pack + self.seated + corner:.2f} mm"
        if value == "latitude_here":
            return f"{self.latitude + 0.02:.2f} deg"
        if value in SIMPLE:
            return self._next(value, SIMPLE[value])
        return super().reading(request, name)

    def _next(self, value: str, listed: tuple[str, ...]) -> str:
        place = self.taken.get(value, 0)
        self.taken[value] = place + 1
        return listed[min(place, len(listed) - 1)]

    def _card(self, spot: tuple[float, float], value: str) -> str:
        across = spot[0] if value.endswith("x") else spot[1]
        return f"{round(2 * across) / 2 + 0.0:.1f} mm"

    def choice(self, request: Request, name: str) -> str:
        """What is seen, in the order of the day."""
        if name in self.choices:
            return self._next(name, self.choices[name])
        return super().choice(request, name)

    def done(self, request: Request, name: str) -> None:
        """Do what the step says, as it is printed."""
        if name in ("turn_screws", "turn_again", "turn_coarse"):
            turns = {"A": 0.0, "B": 0.0}
            for sentence in request.prose:
                found = SCREWS.fullmatch(sentence)
                if found is not None:
                    turns[found[1]] = float(found[2]) * (1 if found[3] in ("right", "up") else -1)
            coarse = name == "turn_coarse"
            if not (self.mirror.coarse_stuck if coarse else self.mirror.stuck):
                self.mirror.turn(turns["A"], turns["B"], 1.0 if coarse else 0.5)
        elif name == "aim_laser":
            # Nothing to move has no direction: "0.0 mm".
            right, up = (
                float(number) * (-1 if way in ("left", "down") else 1)
                for number, way in re.findall(r"(\d+\.\d+) mm(?: (right|left|up|down))?", request.prose[0])
            )
            self.laser.aim(right, up)
        elif name == "lock_screws":
            self.mirror.right += self.lock_pull[0]
            self.mirror.up += self.lock_pull[1]
            self.lock_pull = (self.lock_pull[0] / 4, self.lock_pull[1] / 4)  # with more care the next time
        elif name == "centre_fine":
            self.mirror.stuck = False
        elif name == "mended":
            self.reversed = False
