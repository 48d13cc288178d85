"""Circuits: load against a rating, inrush against a breaker and a fuse, continuity of the earth."""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.power import POWER_CAUTION
from proclang.values.dimension import CURRENT, CURRENT_SQUARED_TIME, NUMBER, POWER, RESISTANCE, TIME, VOLTAGE
from proclang.values.quantity import Quantity

_SHAPES = {"square": 1.0, "half_sine": 0.5, "decay": 0.5}


def _load_current(power: float, supply: float, efficiency: float) -> float:
    return power / supply / efficiency


def _circuit_load(loads: tuple[float, ...], rating: float, share: float) -> tuple[float, float]:
    total = math.fsum(loads)
    return total, rating * share - total


def _inrush_margin(running: float, inrush: float, trip: float) -> tuple[float, float]:
    return running + inrush, trip - running - inrush


def _fuse_inrush(peak: float, time: float, shape: str, melting: float) -> tuple[float, float]:
    let_through = _SHAPES[shape] * peak * peak * time
    return let_through, let_through / melting


def _earth_continuity(measured: float, leads: float, limit: float) -> tuple[float, float]:
    if measured < leads:
        raise CannotCompute("it reads less than the leads alone: measure the leads again, and clean the points")
    return measured - leads, limit - (measured - leads)


CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="load_current",
        topic="circuits",
        parameters=(
            Parameter("power", POWER, "power the load gives or takes", least="0 W"),
            Parameter("supply", VOLTAGE, "voltage at the load, the lowest it may fall to", above="0 V"),
            Parameter(
                "efficiency",
                NUMBER,
                "efficiency, where the power is that behind a converter",
                default=Quantity(Fraction(1), NUMBER),
                above="0 %",
                most="100 %",
            ),
        ),
        results=(Result("current", CURRENT, "current it draws", unit="A"),),
        formula="power / supply / efficiency",
        source="definition of electrical power, direct current",
        standing="arithmetic",
        caution=POWER_CAUTION,
        safe_direction="up",
        print_standing=True,
        validity="direct current; a converter draws more as the voltage falls",
        examples=(Example("load_current(180 W, 22 V, efficiency = 90 %)", ("9.09 A",)),),
        work=_load_current,
    ),
    Calculation(
        name="circuit_load",
        topic="circuits",
        parameters=(
            Parameter(
                "loads", CURRENT, "greatest running current of each load that may run at once", series=True, least="0 A"
            ),
            Parameter("rating", CURRENT, "rating of the circuit's protection", named=True, above="0 A"),
            Parameter(
                "share",
                NUMBER,
                "part of the rating the local code allows for such a load; 80 % for long loads is common practice",
                named=True,
                above="0 %",
                most="100 %",
            ),
        ),
        results=(
            Result("total", CURRENT, "sum of the loads", unit="A"),
            Result("margin", CURRENT, "what may still be added; negative where it is too much", unit="A"),
        ),
        formula="total = sum of the loads; margin = rating * share - total",
        source="definition; the share is an input from the local code",
        standing="arithmetic",
        caution=POWER_CAUTION,
        print_standing=True,
        validity="currents added as if in step, which is right for direct current and careful for alternating current",
        examples=(
            Example(
                "circuit_load([mount = 6 A, computer = 3.5 A, heaters = 2.5 A], rating = 16 A, share = 80 %)",
                ("12 A", "0.8 A"),
            ),
        ),
        work=_circuit_load,
    ),
    Calculation(
        name="inrush_margin",
        topic="circuits",
        parameters=(
            Parameter("running", CURRENT, "current that runs already", named=True, least="0 A"),
            Parameter(
                "inrush", CURRENT, "peak of what is switched on, all that starts at once", named=True, least="0 A"
            ),
            Parameter(
                "trip",
                CURRENT,
                "the least current at which the breaker may trip at once, from its maker",
                named=True,
                above="0 A",
            ),
        ),
        results=(
            Result("peak", CURRENT, "peak current of the circuit", unit="A"),
            Result("margin", CURRENT, "how far below the trip; negative where the breaker may trip", unit="A"),
        ),
        formula="peak = running + inrush; margin = trip - peak",
        source="definition; the trip current and the inrush are the makers'",
        standing="arithmetic",
        caution=POWER_CAUTION,
        print_standing=True,
        validity="peaks compared with peaks: where the trip is given as effective value, give the inrush so too",
        examples=(Example("inrush_margin(running = 6 A, inrush = 55 A, trip = 80 A)", ("61 A", "19 A")),),
        work=_inrush_margin,
    ),
    Calculation(
        name="fuse_inrush",
        topic="circuits",
        parameters=(
            Parameter("peak", CURRENT, "peak of the inrush", least="0 A"),
            Parameter("time", TIME, "how long it lasts: the half wave, or the time constant of a decay", least="0 s"),
            Parameter("shape", NUMBER, "its shape", choices=tuple(_SHAPES)),
            Parameter(
                "melting",
                CURRENT_SQUARED_TIME,
                "least melting integral of the fuse, from its maker",
                named=True,
                above="0 A^2.s",
            ),
        ),
        results=(
            Result("integral", CURRENT_SQUARED_TIME, "what the inrush puts into the fuse", unit="A^2.s"),
            Result("share", NUMBER, "part of the melting integral; each time ages the fuse", unit="%"),
        ),
        formula="integral = peak^2 * time for a square pulse, half of it for a half sine or a decay",
        source="integral of the square of the current over the pulse",
        standing="computed",
        caution=POWER_CAUTION,
        safe_direction="up",
        print_standing=True,
        validity="one pulse with the fuse cold; how many pulses it bears is in its maker's sheet",
        examples=(Example("fuse_inrush(55 A, 4 ms, shape = decay, melting = 30 A^2.s)", ("6.05 A^2.s", "20.2 %")),),
        work=_fuse_inrush,
    ),
    Calculation(
        name="earth_continuity",
        topic="circuits",
        parameters=(
            Parameter(
                "measured",
                RESISTANCE,
                "resistance read from the earth terminal to the metal, leads included",
                least="0 ohm",
            ),
            Parameter(
                "leads", RESISTANCE, "resistance of the test leads alone, clipped together", named=True, least="0 ohm"
            ),
            Parameter("limit", RESISTANCE, "the limit of the local code or of the maker", named=True, above="0 ohm"),
        ),
        results=(
            Result("resistance", RESISTANCE, "resistance of the earth path"),
            Result("margin", RESISTANCE, "how far below the limit; negative where it is too much"),
        ),
        formula="resistance = measured - leads; margin = limit - resistance",
        source="definition; the limit and the test current are those of the local code",
        standing="arithmetic",
        caution=POWER_CAUTION,
        print_standing=True,
        validity="a reading that is not below that of the leads, with the supply isolated",
        examples=(Example("earth_continuity(142 mohm, leads = 65 mohm, limit = 100 mohm)", ("77 mohm", "23 mohm")),),
        work=_earth_continuity,
    ),
)
