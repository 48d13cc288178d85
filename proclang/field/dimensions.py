"""Dimensions that only the calculations need a name for."""

from __future__ import annotations

from proclang.values.dimension import Dimension

PITCH = Dimension((1, 0, 0, -1, 0, 0))
"""Length per angle: how far a thread moves as it is turned."""
