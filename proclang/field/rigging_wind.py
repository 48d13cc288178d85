"""Wind on a hanging load: by the gust, which is what swings it, not by the mean."""

from __future__ import annotations

from proclang.field.declare import Calculation, Example, Parameter, Result
from proclang.field.rigging import RIGGING_CAUTION
from proclang.values.dimension import AREA, FORCE, NUMBER, PRESSURE, SPEED

# Half the density of air in kg/m^3 that each convention counts with.
HALF_DENSITY = {"asce_7": 0.613, "en_1991": 0.625, "air_1_2": 0.6}


def _wind_pressure(gust: float, air: str) -> float:
    return HALF_DENSITY[air] * gust * gust


def _wind_force(gust: float, area: float, drag: float, air: str) -> float:
    return _wind_pressure(gust, air) * drag * area


_GUST = Parameter(
    "gust", SPEED, "highest gust measured or forecast at the height of the load, not the mean wind", least="0 m/s"
)
_AIR = Parameter(
    "air",
    NUMBER,
    "density of air by convention: 1.226 kg/m^3 (`asce_7`), 1.25 kg/m^3 (`en_1991`), 1.2 kg/m^3 (`air_1_2`)",
    choices=tuple(HALF_DENSITY),
    named=True,
)
_SOURCE = "dynamic pressure; 0.613 of ASCE 7 and 0.625 of EN 1991-1-4 from memory, 1.2 kg/m^3 read in a wind load table"
_CAUTION = (
    f"{RIGGING_CAUTION} The limit for wind is that of the crane's maker and of the lift's plan; a large light load"
    " sails at less."
)

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="wind_pressure",
        topic="rigging_wind",
        parameters=(_GUST, _AIR),
        results=(Result("pressure", PRESSURE, "dynamic pressure of the gust", unit="Pa"),),
        formula="density / 2 * gust^2",
        source=_SOURCE,
        standing="from memory",
        caution=_CAUTION,
        safe_direction="up",
        validity="a gust of zero or more",
        print_standing=True,
        examples=(Example("wind_pressure(10 m/s, air = asce_7)", ("61.3 Pa",)),),
        work=_wind_pressure,
    ),
    Calculation(
        name="wind_force",
        topic="rigging_wind",
        parameters=(
            _GUST,
            Parameter("area", AREA, "greatest area the load can turn toward the wind", above="0 m^2"),
            Parameter(
                "drag",
                NUMBER,
                "drag coefficient of its shape; flat plates and boxes 1.2 or more",
                named=True,
                above="0",
            ),
            _AIR,
        ),
        results=(Result("force", FORCE, "steady push of the gust on the load", unit="N"),),
        formula="density / 2 * gust^2 * drag * area",
        source=_SOURCE,
        standing="from memory",
        caution=_CAUTION,
        safe_direction="up",
        validity="a gust of zero or more; swinging can double the pull, which is not in this sum",
        print_standing=True,
        examples=(Example("wind_force(9 m/s, 1.8 m^2, drag = 1.2, air = asce_7)", ("107.3 N",)),),
        work=_wind_force,
    ),
)
