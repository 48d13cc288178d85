"""The weight on the hook with all that hangs there, and what part of the crane's chart figure it takes.

The capacity of a crane is never computed: the operator reads the chart. More than one crane is refused.
"""

from __future__ import annotations

from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.rigging import RIGGING_CAUTION, WEIGHT
from proclang.values.dimension import LENGTH, MASS, NUMBER


def _one_crane(cranes: int) -> None:
    """Refuses everything but one crane."""
    if cranes != 1:
        raise CannotCompute(
            "a load on two or more cranes needs a plan of its own by a competent person; no sum here covers it"
        )


def _lift_weight(mass: Fraction, basis: str, hook_and_gear: Fraction, cranes: int, factor: Fraction | None) -> Fraction:
    _one_crane(cranes)
    if basis == "estimated" and factor is None:
        raise CannotCompute("an estimated mass needs a `factor`, what it may be too low by, decided by whoever lifts")
    if basis != "weighed" and hook_and_gear == 0:
        raise CannotCompute("hook and gear weigh something; 0 kg is only for a mass that was weighed with them")
    return mass * (1 if factor is None else factor) + hook_and_gear


def _chart_share(
    weight: Fraction, chart_capacity: Fraction, radius: Fraction, chart_radius: Fraction, cranes: int
) -> Fraction:
    _one_crane(cranes)
    if radius > chart_radius:
        raise CannotCompute("the load goes out further than the radius at which the chart was read")
    return weight / chart_capacity


_CRANES = Parameter(
    "cranes", NUMBER, "how many cranes hold the load; anything but 1 is refused", whole=True, named=True
)

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="lift_weight",
        topic="rigging_lift",
        parameters=(
            Parameter("mass", MASS, "mass of the load", above="0 kg"),
            Parameter(
                "basis", NUMBER, "where the mass comes from", choices=("weighed", "drawing", "estimated"), named=True
            ),
            Parameter(
                "hook_and_gear",
                MASS,
                "hook block, slings, shackles, beam: all that hangs with the load; 0 kg only where the mass was weighed"
                " with it",
                named=True,
                least="0 kg",
            ),
            _CRANES,
            Parameter(
                "factor",
                NUMBER,
                "what the mass is multiplied by for what it may be too low; must be given for an estimated mass",
                optional=True,
                named=True,
                least="1",
            ),
        ),
        results=(Result("weight", MASS, "weight on the hook, gear included"),),
        formula="mass * factor + hook_and_gear; the factor is 1 where it may be left out",
        source="addition; that hook and gear count as load is common to crane charts",
        standing="arithmetic",
        caution=f"{RIGGING_CAUTION} A load is heavier than its drawing by what was added, and by ice and water.",
        safe_direction="up",
        validity="a mass above zero, one crane, a factor of 1 or more",
        exact=True,
        print_standing=True,
        examples=(
            Example("lift_weight(480 kg, basis = weighed, hook_and_gear = 62 kg, cranes = 1)", ("542 kg",)),
            Example(
                "lift_weight(480 kg, basis = estimated, hook_and_gear = 62 kg, cranes = 1, factor = 1.25)",
                ("662 kg",),
            ),
        ),
        work=_lift_weight,
    ),
    Calculation(
        name="chart_share",
        topic="rigging_lift",
        parameters=(
            WEIGHT,
            Parameter(
                "chart_capacity",
                MASS,
                "what the crane's operator reads in the chart for this boom, counterweight and setup",
                above="0 kg",
            ),
            Parameter("radius", LENGTH, "greatest radius the hook goes out to with the load", named=True, above="0 m"),
            Parameter("chart_radius", LENGTH, "radius at which the chart was read", named=True, above="0 m"),
            _CRANES,
        ),
        results=(Result("share", NUMBER, "part of the chart figure that the lift takes", unit="%"),),
        formula="weight / chart_capacity",
        source="division; the capacity is the operator's figure and is never computed here",
        standing="arithmetic",
        caution=f"{RIGGING_CAUTION} Ground, outriggers, wind and the boom itself are the operator's to judge.",
        safe_direction="up",
        validity="one crane, a radius no greater than that at which the chart was read",
        exact=True,
        print_standing=True,
        examples=(Example("chart_share(542 kg, 1.8 t, radius = 9.5 m, chart_radius = 10 m, cranes = 1)", ("30.1 %",)),),
        work=_chart_share,
    ),
)
