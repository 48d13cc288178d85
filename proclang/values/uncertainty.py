"""How far off a value may be, by where that comes from.

A `Form` is the linear part of a value in its sources of error: what one standard deviation of each source does to it.
Two values that share a source, such as two readings of one instrument its accuracy, share the key; in a difference the
source then drops out by itself. Sources of different keys are independent by definition.

The rules are those of JCGM 100:2008 (GUM): standard uncertainties of limits (4.3.7), of readings repeated (4.2.3), the
combined standard uncertainty (5.1, written in sources, so that the correlations of 5.2 need no terms of their own), the
effective degrees of freedom (G.4) and the factor from the t-distribution (G.3).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction

import attrs

SHAPES = ("normal", "limits", "t")
"""What is known of a source: a standard deviation; limits within which it may be anywhere; or a standard deviation that
was itself found from a few readings."""

_ROOT_3 = math.sqrt(3)
_MOST_FREEDOM = 1e6
"""Degrees of freedom beyond which there is no difference to a normal distribution that anybody could print."""


_NOISE = 1e-12
"""What floats leave of a cancellation, and more, as a share of what was cancelled."""


@attrs.frozen
class Source:
    """One source of error. Equal keys are one source; `freedom` is the degrees of freedom of its standard deviation."""

    key: str
    shape: str = attrs.field(default="normal", validator=attrs.validators.in_(SHAPES))
    freedom: float = math.inf


@attrs.frozen
class Form:
    """What one standard deviation of each source adds to a value, with its sign, in the base unit of the value.

    `shared`: some source reached the value by more than one reading, so that what was combined was not independent.
    """

    terms: tuple[tuple[Source, float], ...] = ()
    shared: bool = False

    @property
    def standard(self) -> float:
        """The combined standard uncertainty."""
        return math.sqrt(math.fsum(c * c for _, c in self.terms))

    @property
    def freedom(self) -> float:
        """Effective degrees of freedom, after Welch and Satterthwaite (JCGM 100, G.2b). Infinite where all are."""
        below = math.fsum(c**4 / source.freedom for source, c in self.terms)
        return self.standard**4 / below if below > 0 else math.inf


NOTHING = Form()
"""The form of a value of which nothing is known to be off: a number that was written down."""


def combined(parts: Iterable[tuple[float, Form]]) -> Form:
    """The form of a sum: each part's form times the factor it enters with."""
    sums: dict[str, float] = {}
    sizes: dict[str, float] = {}
    sources: dict[str, Source] = {}
    shared = False
    for factor, form in parts:
        shared = shared or (form.shared and bool(factor))
        for source, c in form.terms:
            key = source.key
            if key in sources and factor and c:
                shared = True
            sources.setdefault(key, source)
            sums[key] = sums.get(key, 0.0) + factor * c
            sizes[key] = sizes.get(key, 0.0) + abs(factor * c)
    size = max((abs(c) for c in sums.values()), default=0.0)
    # What cancels leaves the noise of the subtraction behind; it is no uncertainty, also where nothing else is left.
    kept = tuple((sources[key], c) for key, c in sums.items() if abs(c) > _NOISE * max(size, sizes[key]))
    return Form(kept, shared)


def of_limits(half: float) -> float:
    """Standard uncertainty of what lies within ± `half`, equally likely anywhere (JCGM 100, 4.3.7)."""
    return half / _ROOT_3


def of_resolution(step: float) -> float:
    """Standard uncertainty of a readout that shows whole steps (JCGM 100, F.2.2.1)."""
    return step / (2 * _ROOT_3)


def of_expanded(expanded: float, k: float) -> float:
    """Standard uncertainty behind a figure stated with its coverage factor (JCGM 100, 4.3.3)."""
    return expanded / k


def of_triangle(half: float) -> float:
    """Standard uncertainty of what lies within ± `half` and likelier in the middle (JCGM 100, 4.3.9)."""
    return half / math.sqrt(6)


def of_arcsine(half: float) -> float:
    """Standard uncertainty of what swings to ± `half` and back like a pendulum (JCGM 100, H.1.3.4)."""
    return half / math.sqrt(2)


def deviation(readings: Iterable[Fraction]) -> float:
    """The experimental standard deviation of two readings or more (JCGM 100, 4.2.2)."""
    values = list(readings)
    mean = sum(values, Fraction(0)) / len(values)
    return math.sqrt(float(sum(((x - mean) ** 2 for x in values), Fraction(0)) / (len(values) - 1)))


@attrs.frozen
class Coverage:
    """The interval that holds 95 % of what a value may be: its half width, the factor, and where that comes from."""

    half: float
    k: float
    how: str


def coverage(form: Form) -> Coverage | None:
    """The expanded uncertainty for 95 %, or None where only drawing can tell: a few degrees of freedom that were
    combined with readings sharing a source (JCGM 100, G.4.1 takes independent inputs).

    k = 2 where every standard deviation is known; otherwise from the t-distribution at the effective degrees of
    freedom, cut to a whole number.
    """
    u = form.standard
    freedom = form.freedom
    if freedom > _MOST_FREEDOM:
        return Coverage(2 * u, 2.0, "k = 2")
    if form.shared:
        return None
    whole = max(1, math.floor(freedom))
    k = t_factor(0.95, whole)
    return Coverage(k * u, k, f"k = {k:.2f} from {whole} degrees of freedom")


def t_factor(probability: float, freedom: float) -> float:
    """The factor within which, either way, a t-distribution holds `probability`."""
    if freedom > _MOST_FREEDOM:
        from statistics import NormalDist

        return NormalDist().inv_cdf((1 + probability) / 2)
    from scipy.special import stdtrit  # a tenth of a second: only where somebody's readings were few

    return float(stdtrit(freedom, (1 + probability) / 2))


def below(value: float, freedom: float = math.inf) -> float:
    """The share of a standard normal, or t, distribution below a value."""
    if freedom > _MOST_FREEDOM:
        return 0.5 * math.erfc(-value / math.sqrt(2))
    from scipy.special import stdtr

    return float(stdtr(freedom, value))


def contributions(form: Form) -> list[tuple[str, float]]:
    """What a form is made of, largest first: those that only their number tells apart as one."""
    sums: dict[str, float] = {}
    for source, c in form.terms:
        name = source.key.partition(" #")[0]
        sums[name] = math.hypot(sums.get(name, 0.0), c)
    return sorted(sums.items(), key=lambda pair: -pair[1])
