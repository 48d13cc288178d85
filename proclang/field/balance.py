"""Balance of an axis: moments of masses, the torque they make, where a counterweight goes."""

from __future__ import annotations

import math
from fractions import Fraction

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.values.dimension import ANGLE, FORCE, LENGTH, MASS, MASS_MOMENT, TORQUE
from proclang.values.quantity import Quantity

STANDARD_GRAVITY = 9.80665
"""m/s^2, the conventional value of the 3rd General Conference on Weights and Measures, 1901, by definition."""


def _balance(masses: tuple[float, ...], arms: tuple[float, ...]) -> tuple[float, float, float]:
    total = math.fsum(masses)
    moment = math.fsum(mass * arm for mass, arm in zip(masses, arms, strict=True))
    return moment, total, moment / total


def _gravity_torque(mass: float, arm: float, from_horizontal: float) -> float:
    return mass * STANDARD_GRAVITY * arm * math.cos(from_horizontal)


def _counterweight_arm(moment: float, mass: float) -> float:
    return -moment / mass


def _counterweight_mass(moment: float, arm: float) -> float:
    if arm == 0 or moment * arm > 0:
        raise CannotCompute("the counterweight has to sit on the other side of the axis: its arm has the other sign")
    return -moment / arm if moment else 0.0


def _balance_by_pulls(raising: float, lowering: float, arm: float) -> tuple[float, float]:
    if abs(lowering) > raising:
        raise CannotCompute("lowering pulls harder than raising: the two are exchanged, or the other side is heavy")
    return (raising + lowering) / 2 * arm, (raising - lowering) / 2 * arm


_CAUTION = (
    "An axis out of balance moves by itself when it is unlocked or when a part is taken off. Keep it pinned until its"
    " balance has been read, stay out of its sweep, and follow the maker's order; the competent person on site decides."
)
_MOMENT = Parameter("moment", MASS_MOMENT, "mass times arm that is to be balanced, with its sign")
_MASSES = Parameter("masses", MASS, "the mass of each part that turns with the axis", series=True, above="0 kg")
_ARMS = Parameter(
    "arms", LENGTH, "where its centre of gravity is, measured from the axis; one side positive", series=True
)

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="balance",
        topic="balance",
        parameters=(_MASSES, _ARMS),
        results=(
            Result("moment", MASS_MOMENT, "sum of mass times arm; zero where the axis is balanced"),
            Result("mass", MASS, "sum of the masses"),
            Result("centre", LENGTH, "where the centre of gravity of all of them is, from the axis"),
        ),
        formula="moment = sum of mass * arm; centre = moment / sum of the masses",
        source="definition of the centre of gravity",
        standing="arithmetic",
        caution=_CAUTION,
        validity="masses above zero, every part counted once",
        examples=(
            Example(
                "balance([tube = 120 kg, camera = 15 kg, weight = 60 kg], [tube = 0.10 m, camera = 0.80 m,"
                " weight = -0.42 m])",
                ("-1.2 kg.m", "195 kg", "-6.15 mm"),
            ),
        ),
        work=_balance,
    ),
    Calculation(
        name="gravity_torque",
        topic="balance",
        parameters=(
            Parameter("mass", MASS, "the mass out of balance", least="0 kg"),
            Parameter("arm", LENGTH, "its distance from the axis"),
            Parameter(
                "from_horizontal",
                ANGLE,
                "angle of the arm from the horizontal: the torque is greatest at 0 deg",
                default=Quantity(Fraction(0), ANGLE),
                named=True,
                least="-90 deg",
                most="90 deg",
            ),
        ),
        results=(Result("torque", TORQUE, "what the drive or the brake has to hold", unit="N.m"),),
        formula="mass * 9.80665 m/s^2 * arm * cos(from_horizontal)",
        source="definition of the moment of a force; standard acceleration of gravity, 3rd CGPM 1901",
        standing="computed",
        caution=_CAUTION,
        safe_direction="up",
        validity="a horizontal axis, the arm at most 90 deg from the horizontal",
        examples=(Example("gravity_torque(3 kg, 400 mm)", ("11.768 N.m",)),),
        work=_gravity_torque,
    ),
    Calculation(
        name="counterweight_arm",
        topic="balance",
        parameters=(_MOMENT, Parameter("mass", MASS, "mass of the counterweight", above="0 kg")),
        results=(Result("arm", LENGTH, "where its centre goes, from the axis"),),
        formula="-moment / mass",
        source="definition of the centre of gravity",
        standing="arithmetic",
        caution=_CAUTION,
        validity="a counterweight with a mass above zero",
        examples=(Example("counterweight_arm(24 kg.m, 60 kg)", ("-0.4 m",)),),
        work=_counterweight_arm,
    ),
    Calculation(
        name="counterweight_mass",
        topic="balance",
        parameters=(_MOMENT, Parameter("arm", LENGTH, "where its centre goes, from the axis")),
        results=(Result("mass", MASS, "mass of the counterweight"),),
        formula="-moment / arm",
        source="definition of the centre of gravity",
        standing="arithmetic",
        caution=_CAUTION,
        validity="an arm on the other side of the axis than the moment",
        examples=(Example("counterweight_mass(24 kg.m, -0.4 m)", ("60 kg",)),),
        work=_counterweight_mass,
    ),
    Calculation(
        name="balance_by_pulls",
        topic="balance",
        parameters=(
            Parameter("raising", FORCE, "pull that just keeps the heavy side rising, slowly", least="0 N"),
            Parameter(
                "lowering", FORCE, "pull that just lets it sink, slowly; negative where it has to be pushed down"
            ),
            Parameter("arm", LENGTH, "distance from the axis to the line of the pull, at right angles", above="0 mm"),
        ),
        results=(
            Result("unbalance", TORQUE, "torque of the part out of balance", unit="N.m"),
            Result("friction", TORQUE, "torque of the friction", unit="N.m"),
        ),
        formula="unbalance = (raising + lowering) / 2 * arm; friction = (raising - lowering) / 2 * arm",
        source="follows from raising = unbalance + friction and lowering = unbalance - friction",
        standing="computed",
        caution=_CAUTION,
        validity="friction the same both ways, and raising the harder pull of the two",
        examples=(Example("balance_by_pulls(52 N, 31 N, 650 mm)", ("26.975 N.m", "6.825 N.m")),),
        work=_balance_by_pulls,
    ),
)
