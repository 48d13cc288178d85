"""Sine and cosine of an angle in radians that are exactly zero where they should be."""

from __future__ import annotations

import math


def sine(angle: float) -> float:
    """Sine; folded into the first quadrant, so that half a turn gives 0 and not the rounding error of pi."""
    angle = math.remainder(angle, 2 * math.pi)
    if angle > math.pi / 2:
        angle = math.pi - angle
    elif angle < -math.pi / 2:
        angle = -math.pi - angle
    return math.sin(angle)


def cosine(angle: float) -> float:
    """Cosine, as the sine of what is missing to a quarter turn."""
    return sine(math.pi / 2 - abs(math.remainder(angle, 2 * math.pi)))


def without_noise(values: list[float], scale: float) -> list[float]:
    """Values below 1e-13 of `scale` made zero: what a float subtraction leaves differs between machines."""
    floor = 1e-13 * scale
    return [0.0 if abs(value) <= floor else value for value in values]
