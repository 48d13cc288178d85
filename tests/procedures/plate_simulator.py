"""A plate on three nuts, a level with a zero error, a compass, the Sun, and a crew that does what the steps say.

Nothing of the project computes here: heights, tilts and bearings follow from geometry written out below, so that a
procedure whose printed turns were wrong would never come level. All values are invented.

Frame: x east, y north, heights up; a slope is positive where the ground rises toward north or east.
"""

from __future__ import annotations

import datetime
import math
import re

import attrs
import ephem
from site_crew import Crew

from proclang.engine.model import Request

CIRCLE = 540.0
PITCH = 2.5
"""mm per turn, M20 coarse (ISO 261, read in two pages that reproduce it)."""

STUDS = 6
BEARING = (1, 3, 5)
_PER_RADIAN = 180 * 60 / math.pi
_TURN = re.compile(r"Nut (\d): (\d+\.\d+) turn(?: (raise|lower))?\.")


def stud(number: int) -> tuple[float, float]:
    """Where a stud stands, east and north of the centre in mm: stud 1 north, then clockwise seen from above."""
    azimuth = 2 * math.pi * (number - 1) / STUDS
    return CIRCLE / 2 * math.sin(azimuth), CIRCLE / 2 * math.cos(azimuth)


@attrs.define
class Plate:
    """Heights of the nuts in mm; the plate lies on 1, 3 and 5."""

    heights: dict[int, float]
    stuck: set[int] = attrs.field(factory=set)
    bent: tuple[float, float] = (0.0, 0.0)
    """Slopes to north and east that the tension of the studs adds."""

    @classmethod
    def tilted(cls, ns_arcmin: float, ew_arcmin: float) -> Plate:
        """A plate found with these tilts."""
        north, east = math.tan(ns_arcmin / _PER_RADIAN), math.tan(ew_arcmin / _PER_RADIAN)
        return cls({n: 40.0 + stud(n)[0] * east + stud(n)[1] * north for n in range(1, STUDS + 1)})

    def turn(self, number: int, turns: float) -> None:
        """Turn one nut, plus raises; a nut that is stuck goes round and does not climb."""
        if number not in self.stuck:
            self.heights[number] += turns * PITCH

    def slopes(self) -> tuple[float, float]:
        """Slope to north and to east of the plane through the three bearing nuts."""
        (x1, y1, z1), (x2, y2, z2), (x3, y3, z3) = ((*stud(n), self.heights[n]) for n in BEARING)
        determinant = (x2 - x1) * (y3 - y1) - (x3 - x1) * (y2 - y1)
        east = ((z2 - z1) * (y3 - y1) - (z3 - z1) * (y2 - y1)) / determinant
        north = ((x2 - x1) * (z3 - z1) - (x3 - x1) * (z2 - z1)) / determinant
        return north + self.bent[0], east + self.bent[1]

    def tilts(self) -> tuple[float, float]:
        """Tilts to north and east in arcmin."""
        north, east = self.slopes()
        return math.atan(north) * _PER_RADIAN, math.atan(east) * _PER_RADIAN

    def size(self) -> float:
        """The whole tilt in arcmin."""
        return math.atan(math.hypot(*self.slopes())) * _PER_RADIAN

    def height_at(self, east: float, north: float) -> float:
        """Height of the plate at a place, in mm."""
        slope_north, slope_east = self.slopes()
        middle = sum(self.heights[n] for n in BEARING) / 3
        return middle + east * slope_east + north * slope_north


@attrs.define
class PlateCrew(Crew):
    """Levels, points and tightens the plate as the steps say, and reads what the plate shows."""

    plate: Plate = attrs.field(factory=lambda: Plate.tilted(18.0, -11.0))
    zero: float = 0.7
    """What the level shows on level ground, in arcmin."""

    declination: float = 4.5
    latitude: float = 31.2
    longitude: float = 16.0
    """Where the plate stands, in deg; the northern site."""

    marked_at: datetime.datetime = datetime.datetime(2031, 5, 1, 7, 40)
    """When the shadow is marked, in UTC; a quarter of an hour later each time."""

    shadow: str = "sharp"
    to_mark_error: float = 0.0
    """How far the angle from the shadow to the mark is read off, in deg."""

    mark: float = 77.0
    """True bearing of the mid-wrap mark in deg, and where it was to point."""

    aim: float = 0.0

    ring_error: float = -0.3
    """How far the ring stands from where it was meant to, once clamped, in deg."""

    bend: tuple[float, float] = (0.4, -0.3)
    """Tilt in arcmin that the full torque adds, to north and east."""

    slip: float = 0.0
    """The sag of the tripod during the survey, in mm."""

    torque_errors: dict[str, float] = attrs.field(factory=dict)
    """By `[pass]/nut[label]`: parts of the target by which the first click is off."""

    noise: float = 0.03
    """Standard deviation of a level reading in arcmin before it is rounded."""

    places: dict[int, tuple[int, int]] = attrs.field(factory=dict)
    line_of_sight: float = 1180.0
    trail: list[float] = attrs.field(factory=list)
    """The true tilt each time the level was read, in arcmin."""

    def reading(self, request: Request, name: str) -> str:
        """What the level, the compass, the wrench, the staff or the tape shows."""
        value = name.partition("[")[0]
        if value.startswith(("ns", "ew", "left_ns", "left_ew")):
            return self._level(name)
        if value in ("sight_near", "sight_far"):
            near = 0.1 if value == "sight_near" else 0.0
            return f"{round((self.mark - self.declination + near) % 360, 1) % 360:.1f} deg"
        if value == "shadow_at":
            return self._clock()
        if value == "to_mark":
            return f"{round((self.mark - self.shadow_bearing() + self.to_mark_error) % 360, 1) % 360:.1f} deg"
        if value == "torque":
            return self._torque(request)
        if value in ("east", "north", "staff", "staff_check"):
            return self._survey(request, value)
        return super().reading(request, name)

    def _level(self, name: str) -> str:
        ns, ew = self.plate.tilts()
        tilt = ns if "ns" in name.partition("[")[0] else ew
        if name.endswith("ns[direct]"):
            self.trail.append(self.plate.size())
        shown = self.zero + (tilt if "[direct]" in name else -tilt) + self.random.gauss(0, self.noise)
        return f"{round(shown, 1) + 0.0:.1f} arcmin"

    def _clock(self) -> str:
        self.marked_at += datetime.timedelta(minutes=15)
        return f"{self.marked_at:%Y-%m-%d %H:%M:%S}"

    def shadow_bearing(self) -> float:
        """True bearing of the shadow of a plumb line in deg: opposite to the Sun, whose place is that of `ephem`."""
        here = ephem.Observer()
        here.lat, here.lon = math.radians(self.latitude), math.radians(self.longitude)
        here.date, here.pressure = self.marked_at, 0
        return (math.degrees(float(ephem.Sun(here).az)) + 180) % 360

    def choice(self, request: Request, name: str) -> str:
        """Whether there is a shadow."""
        return self.shadow if name == "shadow" else super().choice(request, name)

    def _torque(self, request: Request) -> str:
        target = float(re.findall(r"to (\d+) N\.m", request.title)[0])
        place = "/".join(request.address.split("/")[-4:-2])
        error = self.torque_errors.pop(place, None)
        if error is None:
            error = self.random.choice((-0.01, 0.0, 0.0, 0.01))
        if "pass[full]" in place and self.bend != (0.0, 0.0):
            self.plate.bent = (math.tan(self.bend[0] / _PER_RADIAN), math.tan(self.bend[1] / _PER_RADIAN))
        return f"{target * (1 + error):.0f} N.m"

    def _survey(self, request: Request, value: str) -> str:
        found = re.search(r"point\[(\d)\]", request.address)
        number = int(found[1]) if found else 1
        if number not in self.places:
            # The staff stands beside the stud, 30 mm nearer to the centre, set down to some millimetres.
            x, y = stud(number)
            inward = 1 - 60 / CIRCLE
            self.places[number] = (
                round(x * inward) + self.random.randint(-4, 4),
                round(y * inward) + self.random.randint(-4, 4),
            )
        east, north = self.places[number]
        if value == "east":
            return f"{east} mm"
        if value == "north":
            return f"{north} mm"
        sag = self.slip if value == "staff_check" else 0.0
        return f"{self.line_of_sight - self.plate.height_at(east, north) - sag:.1f} mm"

    def done(self, request: Request, name: str) -> None:
        """Do what the step says, as it is printed."""
        if name in ("turn_bearing", "turn_by_survey", "turn_again"):
            if name == "turn_by_survey":
                self.plate.stuck.clear()  # the survey has shown which nut does not climb, and it was cleaned
            for sentence in request.prose:
                found = _TURN.fullmatch(sentence)
                if found is not None:
                    self.plate.turn(int(found[1]), float(found[2]) * (1 if found[3] == "raise" else -1))
            for number in (2, 4, 6):
                assert self.plate.heights[number] < self.plate.height_at(*stud(number)), "a clear nut lifts the plate"
        elif name == "rest_on_three":
            for number in (2, 4, 6):
                self.plate.turn(number, -3)
        elif name in ("turn_ring_south", "turn_ring_north"):
            aim = float(re.findall(r"is (\d+(?:\.\d+)?) deg", request.prose[0])[0])
            self.aim = (aim + self.declination) % 360
            self.mark = (self.aim + self.ring_error) % 360

    def way(self, request: Request, word: str) -> None:
        """A ring that was adjusted stands close to where it was meant to."""
        if word == "adjust" and request.address.endswith("/bearing/verdict"):
            self.mark = (self.aim - 0.1) % 360


def bearing_apart(a: float, b: float) -> float:
    """The shortest way between two bearings in deg, without a sign."""
    return abs((a - b + 180) % 360 - 180)
