"""To how many digits a value is printed: to those its uncertainty leaves it."""

from __future__ import annotations

from fractions import Fraction

from proclang.values.number import leading_place, power_of_ten, to_significant

UNCERTAINTY_DIGITS = 2
"""Significant digits of an uncertainty (JCGM 100:2008, 7.2.6: two at most)."""


def deserved_step(standard: Fraction) -> Fraction | None:
    """The step to which a value with this standard uncertainty is rounded: the place of the last digit of the
    uncertainty (JCGM 100:2008, 7.2.6). None where the uncertainty is nothing.
    """
    rounded = to_significant(abs(standard), UNCERTAINTY_DIGITS)
    if not rounded:
        return None
    return power_of_ten(leading_place(rounded) + 1 - UNCERTAINTY_DIGITS)
