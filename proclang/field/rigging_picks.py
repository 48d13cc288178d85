"""What each pick carries, from where the centre of gravity lies between the picks.

The shares hold for ropes that hang vertical and for legs that meet in a hook straight above the centre of gravity, all
picks at one height: the parts of the pull that lie level make no moment about a line through the picks. What pulls
along such a leg is `sling_tension` of its share.

A centre of gravity outside the picks is refused. So is one level with the picks or above them, unless a competent
person has shown that the load cannot turn over (`stability = shown`).
"""

from __future__ import annotations

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.rigging import RIGGING_CAUTION, WEIGHT
from proclang.values.dimension import LENGTH, MASS, NUMBER

_CG_HEIGHT = Parameter(
    "cg_height",
    LENGTH,
    "height of the centre of gravity above the picks; negative where it hangs below them",
    named=True,
)
_STABILITY = Parameter(
    "stability",
    NUMBER,
    "whether a competent person has shown in writing that the load cannot turn over about its picks",
    choices=("shown", "not_shown"),
    optional=True,
    named=True,
)
_CG_CAUTION = (
    f"{RIGGING_CAUTION} A centre of gravity not marked or weighed is a guess: lift a hand's breadth, look, and lower if"
    " it tips."
)
_INSIDE = (
    "a centre of gravity inside the picks and below them, or above with `stability = shown`; picks at one height;"
    " vertical ropes, or legs to one hook straight above the centre of gravity, where `sling_tension` makes of a share"
    " what pulls along the leg"
)


def _steady(cg_height: float, stability: str | None) -> None:
    if cg_height >= 0 and stability != "shown":
        raise CannotCompute(
            "the centre of gravity is not below the picks: the load can turn over; a competent person has to answer for"
            " it, `stability = shown`"
        )


def _outside() -> CannotCompute:
    return CannotCompute("the centre of gravity is not inside the picks: the load would swing or turn over")


def _two_picks(
    weight: float, span: float, from_first: float, cg_height: float, stability: str | None
) -> tuple[float, float]:
    _steady(cg_height, stability)
    if not 0 < from_first < span:
        raise _outside()
    second = weight * (from_first / span)
    return weight * ((span - from_first) / span), second


def _three_picks(
    weight: float,
    x: tuple[float, ...],
    y: tuple[float, ...],
    cg_x: float,
    cg_y: float,
    cg_height: float,
    stability: str | None,
) -> list[float]:
    if len(x) != 3:
        raise CannotCompute("this is for three picks; two and four have calculations of their own")
    _steady(cg_height, stability)
    # Twice the areas of the triangles the centre of gravity makes with each side, all with one sign when it is inside.
    areas = []
    for k in range(3):
        ax, ay = x[(k + 1) % 3] - cg_x, y[(k + 1) % 3] - cg_y
        bx, by = x[(k + 2) % 3] - cg_x, y[(k + 2) % 3] - cg_y
        areas.append(ax * by - bx * ay)
    whole = sum(areas)
    longest = max((x[i] - x[j]) ** 2 + (y[i] - y[j]) ** 2 for i, j in ((0, 1), (1, 2), (2, 0)))
    if abs(whole) < 1e-3 * longest:
        raise CannotCompute("the three picks lie on one line, or nearly: nothing keeps the load from rolling")
    shares = [area / whole for area in areas]
    if min(shares) <= 0:
        raise _outside()
    return [weight * share for share in shares]


def _shares(weight: float, length: float, width: float, cg_x: float, cg_y: float) -> tuple[float, float, float, float]:
    u, v = 2 * cg_x / length, 2 * cg_y / width
    if not (abs(u) < 1 and abs(v) < 1):
        raise _outside()
    quarter = weight / 4
    return (
        quarter * (1 + u) * (1 + v),
        quarter * (1 - u) * (1 + v),
        quarter * (1 - u) * (1 - v),
        quarter * (1 + u) * (1 - v),
    )


def _bilinear_shares(
    weight: float, length: float, width: float, cg_x: float, cg_y: float, cg_height: float, stability: str | None
) -> tuple[float, float, float, float]:
    _steady(cg_height, stability)
    return _shares(weight, length, width, cg_x, cg_y)


def _four_picks(
    weight: float, length: float, width: float, cg_x: float, cg_y: float, cg_height: float, stability: str | None
) -> tuple[float, float]:
    _steady(cg_height, stability)
    pp, mp, mm, pm = _shares(weight, length, width, cg_x, cg_y)
    # Four ropes leave one freedom: as much more on one diagonal as less on the other. It ends where a rope goes slack.
    worst = max(max(pp, mm) + min(mp, pm), max(mp, pm) + min(pp, mm))
    return worst, max(pp, mp, mm, pm)


_RECTANGLE = (
    WEIGHT,
    Parameter("length", LENGTH, "distance between the picks along x", above="0 m"),
    Parameter("width", LENGTH, "distance between the picks along y", above="0 m"),
    Parameter("cg_x", LENGTH, "how far the centre of gravity lies from the middle along x, with its sign", named=True),
    Parameter("cg_y", LENGTH, "the same along y", named=True),
    _CG_HEIGHT,
    _STABILITY,
)
_CORNERS = "four picks at the corners of a rectangle"

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="two_picks",
        topic="rigging_picks",
        parameters=(
            WEIGHT,
            Parameter("span", LENGTH, "horizontal distance between the two picks", above="0 m"),
            Parameter(
                "from_first",
                LENGTH,
                "horizontal distance from the first pick to the centre of gravity, toward the second",
                named=True,
            ),
            _CG_HEIGHT,
            _STABILITY,
        ),
        results=(
            Result("first", MASS, "what the first pick carries"),
            Result("second", MASS, "what the second pick carries"),
        ),
        formula="weight * (span - from_first) / span; weight * from_first / span",
        source="statics: moments about each pick; agrees with a worked example in a rigging guide",
        standing="computed",
        caution=_CG_CAUTION,
        safe_direction="up",
        validity=_INSIDE,
        print_standing=True,
        examples=(
            Example("two_picks(1200 kg, 2.4 m, from_first = 0.9 m, cg_height = -0.3 m)", ("750.00 kg", "450.00 kg")),
        ),
        work=_two_picks,
    ),
    Calculation(
        name="three_picks",
        topic="rigging_picks",
        parameters=(
            WEIGHT,
            Parameter("x", LENGTH, "where each of the three picks lies, seen from above", series=True),
            Parameter("y", LENGTH, "the same at right angles to x, with the same labels", series=True),
            Parameter("cg_x", LENGTH, "where the centre of gravity lies along x", named=True),
            Parameter("cg_y", LENGTH, "where it lies along y", named=True),
            _CG_HEIGHT,
            _STABILITY,
        ),
        results=(Result("shares", MASS, "what each pick carries", labels="x"),),
        formula="weight * area of the triangle of the centre of gravity and the two other picks / area of all three",
        source="statics: moments about each side of the triangle",
        standing="computed",
        caution=_CG_CAUTION,
        safe_direction="up",
        validity=f"{_INSIDE}; three picks not on one line",
        print_standing=True,
        examples=(
            Example(
                "three_picks(900 kg, [a = 0 m, b = 1.2 m, c = 0 m], [a = 0 m, b = 0 m, c = 1.2 m], cg_x = 0.4 m,"
                " cg_y = 0.3 m, cg_height = -0.2 m)",
                ("375 kg, 300 kg, 225 kg",),
            ),
        ),
        work=_three_picks,
    ),
    Calculation(
        name="four_picks",
        topic="rigging_picks",
        parameters=_RECTANGLE,
        results=(
            Result("slack_leg", MASS, "the most one pick can carry when another goes slack: the one to use"),
            Result("bilinear", MASS, "the most loaded pick by the bilinear rule; for comparison only, it is lower"),
        ),
        formula="greatest load on a pick over the two ways in which one rope goes slack, by statics of the other three",
        source="statics of a rigid load on three of four ropes, derived here; checked against solved equations",
        standing="computed",
        caution=f"{_CG_CAUTION} Four ropes never share as drawn: a little difference in length takes one out.",
        safe_direction="up",
        validity=f"{_INSIDE}; {_CORNERS}",
        print_standing=True,
        examples=(
            Example(
                "four_picks(1000 kg, 1.2 m, 0.8 m, cg_x = 0.1 m, cg_y = -0.05 m, cg_height = -0.2 m)",
                ("562.5 kg", "328.1 kg"),
            ),
        ),
        work=_four_picks,
    ),
    Calculation(
        name="bilinear_shares",
        topic="rigging_picks",
        parameters=_RECTANGLE,
        results=(
            Result("plus_plus", MASS, "what the pick at +x, +y carries"),
            Result("minus_plus", MASS, "at -x, +y"),
            Result("minus_minus", MASS, "at -x, -y"),
            Result("plus_minus", MASS, "at +x, -y"),
        ),
        formula="weight / 4 * (1 ± 2 cg_x / length) * (1 ± 2 cg_y / width)",
        source="a convention for what statics leave open",
        standing="common practice, no source",
        caution=f"{_CG_CAUTION} This rule is not conservative: size picks and ropes by `four_picks`.",
        validity=f"{_INSIDE}; {_CORNERS}, all alike and equally tight",
        print_standing=True,
        examples=(
            Example(
                "bilinear_shares(1000 kg, 1.2 m, 0.8 m, cg_x = 0.1 m, cg_y = -0.05 m, cg_height = -0.2 m)",
                ("255.21 kg", "182.29 kg", "234.37 kg", "328.12 kg"),
            ),
        ),
        work=_bilinear_shares,
    ),
)
