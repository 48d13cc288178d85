"""Nuts and studs: turns for a height, levelling on three studs, what thread is left when the nuts have been turned.

A turn is positive where the nut raises the plate; on a right-hand stud standing up, that is anticlockwise seen from
above.
"""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.circle import without_noise
from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result, Series
from proclang.field.levelling import PLATE_CAUTION
from proclang.values.dimension import ANGLE, LENGTH, LENGTH_PER_ANGLE, NUMBER

_FLAT = Fraction(60)


def _turn_for_height(rise: Fraction, pitch: Fraction) -> tuple[Fraction, Fraction]:
    turn = rise / pitch
    return turn, turn / _FLAT


def _foot_turn(tilt: float, baseline: float, pitch: float) -> tuple[float, float]:
    rise = -baseline * math.tan(tilt)
    return rise, rise / pitch


def _turns_by_heights(heights: Series, pitch: Fraction, to: Fraction | None) -> list[Fraction]:
    level = sum(heights.values, Fraction(0)) / len(heights.items) if to is None else to
    return [(level - height) / pitch for height in heights.values]


def _turns_at(ns: float, ew: float, east: tuple[float, ...], north: tuple[float, ...], pitch: float) -> list[float]:
    rise_north, rise_east = math.tan(ns), math.tan(ew)
    far = max(math.hypot(x, y) for x, y in zip(east, north, strict=True))
    turns = [-(rise_north * y + rise_east * x) / pitch for x, y in zip(east, north, strict=True)]
    return without_noise(turns, math.hypot(rise_north, rise_east) * far / pitch)


def _three_of(studs: int) -> tuple[float, float, float, float]:
    if studs < 3:
        raise CannotCompute("a plate stands on three studs at least")
    if studs == 4:
        raise CannotCompute(
            "of four studs no three have the middle of the plate inside them: level on the four, two across at a time"
        )
    second, third = (int(Fraction(studs * k, 3) + Fraction(1, 2)) for k in (1, 2))
    widest = max(second, third - second, studs - third)
    return 1.0, 1.0 + second, 1.0 + third, math.cos(math.pi * widest / studs)


def _studs_after_turns(
    turns: Series,
    stand_off: Series,
    thread_above: Series,
    pitch: Fraction,
    diameter: Fraction,
    engagement: Fraction,
    most_stand_off: Fraction | None,
) -> tuple[list[Fraction], list[Fraction]]:
    below, above = [], []
    for (label, turn), gap, thread in zip(turns.items, stand_off.values, thread_above.values, strict=True):
        rise = turn * pitch
        gap, thread = gap + rise, thread - rise
        if gap < 0:
            raise CannotCompute(f"the nut of stud {label} would meet what is below it before it has been turned so far")
        if thread < engagement * diameter:
            raise CannotCompute(
                f"stud {label} would be left with less thread above the plate than the {float(engagement):g} diameters"
                " that are asked for"
            )
        if most_stand_off is not None and gap > most_stand_off:
            raise CannotCompute(f"stud {label} would stand off further than the drawing allows")
        below.append(gap)
        above.append(thread)
    return below, above


_PITCH = Parameter("pitch", LENGTH_PER_ANGLE, "how far a nut climbs per turn", above="0 mm/turn")
_GEOMETRY = "geometry of a thread: one turn is one pitch"

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="turn_for_height",
        topic="levelling_nuts",
        parameters=(
            Parameter("rise", LENGTH, "change of height wanted, or the gap a feeler gauge shows under the plate"),
            _PITCH,
        ),
        results=(
            Result("turn", ANGLE, "how far the nut is turned: positive raises", unit="turn"),
            Result("flats", NUMBER, "the same counted in flats of a hexagon nut, six to a turn"),
        ),
        formula="rise / pitch, and six times that",
        source=_GEOMETRY,
        standing="arithmetic",
        caution=PLATE_CAUTION,
        validity="a pitch above zero",
        exact=True,
        examples=(Example("turn_for_height(0.75 mm, 1.5 mm/turn)", ("0.5 turn", "3")),),
        work=_turn_for_height,
    ),
    Calculation(
        name="foot_turn",
        topic="levelling_nuts",
        parameters=(
            Parameter(
                "tilt", ANGLE, "tilt to take out, positive where this foot is high", least="-10 deg", most="10 deg"
            ),
            Parameter("baseline", LENGTH, "from this foot, level, to the line the others stand on", above="0 mm"),
            _PITCH,
        ),
        results=(
            Result("rise", LENGTH, "change of height of this foot: negative where it has to come down", unit="mm"),
            Result("turn", ANGLE, "how far its nut is turned: positive raises", unit="turn"),
        ),
        formula="rise = -baseline * tan(tilt); turn = rise / pitch",
        source="trigonometry and " + _GEOMETRY,
        standing="computed",
        caution=PLATE_CAUTION,
        validity="a tilt up to 10 deg, a baseline and a pitch above zero, the other feet standing still",
        examples=(Example("foot_turn(60 arcsec, 400 mm, 1.5 mm/turn)", ("-0.1164 mm", "-0.0776 turn")),),
        work=_foot_turn,
    ),
    Calculation(
        name="turns_by_heights",
        topic="levelling_nuts",
        parameters=(
            Parameter("heights", LENGTH, "height of the plate measured beside each stud, positive up", series=True),
            _PITCH,
            Parameter(
                "level_to",
                LENGTH,
                "height every stud is brought to; left out, the mean of them all",
                optional=True,
                named=True,
            ),
        ),
        results=(
            Result(
                "turns",
                ANGLE,
                "how far the nut of each stud is turned: positive raises; without a height to go to they add up to"
                " nothing",
                labels="heights",
                unit="turn",
            ),
        ),
        formula="(height to go to - height of the stud) / pitch",
        source=_GEOMETRY,
        standing="arithmetic",
        caution=(
            PLATE_CAUTION
            + " Heights beside the studs also show a plate that is bent: nuts turned to them bend a stiff plate"
            " straight and load the studs; `plane_residuals` shows how far it is from flat."
        ),
        validity="a pitch above zero",
        exact=True,
        examples=(
            Example("turns_by_heights([10.0 mm, 10.5 mm, 10.25 mm], 2.5 mm/turn)", ("0.1 turn, -0.1 turn, 0 turn",)),
        ),
        work=_turns_by_heights,
    ),
    Calculation(
        name="turns_at",
        topic="levelling_nuts",
        parameters=(
            Parameter(
                "ns",
                ANGLE,
                "tilt along north-south, positive where the north side is high",
                least="-10 deg",
                most="10 deg",
            ),
            Parameter(
                "ew",
                ANGLE,
                "tilt along east-west, positive where the east side is high",
                least="-10 deg",
                most="10 deg",
            ),
            Parameter("east", LENGTH, "how far east of the point that keeps its height each stud stands", series=True),
            Parameter("north", LENGTH, "how far north of it each stud stands", series=True),
            _PITCH,
        ),
        results=(
            Result(
                "turns", ANGLE, "how far the nut of each stud is turned: positive raises", labels="east", unit="turn"
            ),
        ),
        formula="-(north * tan(ns) + east * tan(ew)) / pitch, for studs in any pattern, such as a rectangle",
        source="geometry of a tilted plane, derived here and agreed with `levelling_turns` and a fitted plane",
        standing="computed",
        caution=PLATE_CAUTION,
        validity="tilts up to 10 deg, a pitch above zero",
        examples=(
            Example(
                "turns_at(6 arcmin, 0 arcmin, [200 mm, -200 mm, 0 mm], [150 mm, 150 mm, -150 mm], 2.5 mm/turn)",
                ("-0.105 turn, -0.105 turn, 0.105 turn",),
            ),
        ),
        work=_turns_at,
    ),
    Calculation(
        name="three_of",
        topic="levelling_nuts",
        parameters=(
            Parameter("studs", NUMBER, "how many studs stand on the circle, evenly spaced, counted round", whole=True),
        ),
        results=(
            Result("first", NUMBER, "number of the first stud to level on"),
            Result("second", NUMBER, "number of the second"),
            Result("third", NUMBER, "number of the third"),
            Result(
                "margin",
                NUMBER,
                "how far the load may stand off the middle before it stands outside the three, as a part of the radius"
                " of the circle",
            ),
        ),
        formula=(
            "stud 1 and those nearest to a third and two thirds of the way round; margin = cosine of half the widest"
            " angle between neighbours"
        ),
        source="geometry: a load stands on three points while its weight falls inside their triangle",
        standing="computed",
        caution=(
            "Three nuts carry the plate only while the weight falls well inside them. Back the others off before"
            " levelling, bring each up until it just touches, without lifting the plate, and then read the level"
            " again. " + PLATE_CAUTION
        ),
        safe_direction="down",
        validity="three studs or more, but not four",
        examples=(Example("three_of(6)", ("1", "3", "5", "0.500")), Example("three_of(8)", ("1", "4", "6", "0.383"))),
        work=_three_of,
    ),
    Calculation(
        name="studs_after_turns",
        topic="levelling_nuts",
        parameters=(
            Parameter("turns", ANGLE, "how far each nut is to be turned: positive raises", series=True),
            Parameter(
                "stand_off", LENGTH, "at each stud now, from the foundation up to the levelling nut", series=True
            ),
            Parameter(
                "thread_above",
                LENGTH,
                "at each stud now, full thread above plate and washer, for the nut on top",
                series=True,
            ),
            _PITCH,
            Parameter("diameter", LENGTH, "nominal diameter of the studs", named=True, above="0 mm"),
            Parameter(
                "engagement",
                NUMBER,
                "thread the nut on top has to engage, in diameters, from the drawing or the maker",
                named=True,
                least="0.5",
            ),
            Parameter(
                "most_stand_off",
                LENGTH,
                "greatest stand-off the drawing allows",
                named=True,
                optional=True,
                above="0 mm",
            ),
        ),
        results=(
            Result("stand_off", LENGTH, "stand-off of each stud after the turn", labels="turns", unit="mm"),
            Result("thread_above", LENGTH, "thread left above at each stud after the turn", labels="turns", unit="mm"),
        ),
        formula="stand_off + turn * pitch, and thread_above - turn * pitch",
        source=_GEOMETRY + "; what engagement and stand-off are allowed is the designer's to say",
        standing="arithmetic",
        caution=(
            "A stud that stands off far bends under wind and earthquake, and a nut on part of its thread strips: the"
            " figures are those of the drawing or the maker, not of habit. " + PLATE_CAUTION
        ),
        validity=(
            "a pitch and a diameter above zero, an engagement of half a diameter at least, and turns that leave every"
            " stud the engagement asked for and no greater stand-off than allowed"
        ),
        exact=True,
        examples=(
            Example(
                "studs_after_turns([0.4 turn, -0.4 turn, 0 turn], [20 mm, 20 mm, 21 mm], [31 mm, 30 mm, 30 mm],"
                " 2.5 mm/turn, diameter = 20 mm, engagement = 1.2)",
                ("21 mm, 19 mm, 21 mm", "30 mm, 31 mm, 30 mm"),
            ),
        ),
        work=_studs_after_turns,
    ),
)
