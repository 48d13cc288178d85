"""Forces on a structure: the torque a force makes about an axis."""

from __future__ import annotations

from proclang.field.declare import Calculation, Parameter, Result
from proclang.values.dimension import FORCE, LENGTH, TORQUE


def _torque(force: float, arm: float) -> float:
    return force * arm


CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="torque",
        topic="structure",
        parameters=(
            Parameter("force", FORCE, "the force, or its part at right angles to the arm"),
            Parameter("arm", LENGTH, "shortest distance from the axis to the line of the force"),
        ),
        results=(Result("torque", TORQUE, "turning moment about the axis, with the sign of force times arm"),),
        formula="force * arm",
        source="definition of the moment of a force",
        standing="arithmetic",
        caution=(
            "An axis out of balance moves by itself when it is unlocked: keep it pinned until its balance has been"
            " read, and stay out of its sweep."
        ),
        work=_torque,
    ),
)
