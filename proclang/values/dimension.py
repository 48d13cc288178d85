"""What kind of quantity a value is, and which kinds may be added, multiplied or compared.

Angle is a base dimension, so a torque (energy per angle) is not an energy, and a torque times an angular speed is a
power. Three kinds of quantity are points and not amounts: a bearing, counted from one of three norths, a temperature
on a scale, and an instant, a date with a time of day. Points carry a `frame`. An amount may be added to a point, two
points of one frame have a difference, and nothing else is allowed with them; temperatures and instants have an order.

Problem codes: `dimension-mismatch`, `different-north`, `two-points` (adding two points), `point-arithmetic`
(multiplying, dividing, negating or raising a point, or ordering bearings), `power-out-of-range`, `no-root`.
"""

from __future__ import annotations

import attrs

from proclang.text.diagnostic import Problem

_BASES = ("length", "mass", "time", "angle", "temperature difference", "current")
_ANGLE_AT = 3
_MASS_AT = 1

NORTHS = ("true", "magnetic", "grid")
"""The three norths a bearing may be counted from."""

SCALE = "scale"
"""Frame of a temperature on a scale, 20 °C, as against a difference of 20 K."""

UTC = "utc"
"""Frame of an instant, a date with a time of day, as against a time that passes. Its base value is the seconds since
2000-01-01 00:00:00 UTC, every day having 86,400 of them: leap seconds are not counted."""

GREATEST_POWER = 9
"""Largest exponent, either way, of a power or a root."""


@attrs.frozen
class Dimension:
    """Powers of length, mass, time, angle, temperature and current, in that order, and the frame of a point.

    `frame` is empty for an amount; "true", "magnetic" or "grid" for a bearing; "scale" for a temperature on a scale;
    "utc" for an instant.
    """

    powers: tuple[int, ...]
    frame: str = ""

    @property
    def is_bearing(self) -> bool:
        """Whether this is an angle counted from a north."""
        return self.frame in NORTHS

    @property
    def is_plain(self) -> bool:
        """Whether this is an amount: no north, no temperature scale, no calendar."""
        return not self.frame

    @property
    def is_instant(self) -> bool:
        """Whether this is a date with a time of day."""
        return self.frame == UTC

    @property
    def is_number(self) -> bool:
        """Whether this is a plain number, a ratio or a count."""
        return not self.frame and not any(self.powers)

    @property
    def radians_within(self) -> int:
        """Power of the radian in the base unit of this dimension.

        The base unit of angle is the degree, so that `2.5 mm/turn` is exact. Where mass comes in it is the radian, so
        that `40 N.m` (a joule per radian) is exact too. `product_scale` accounts for the change between the two.
        """
        return self.powers[_ANGLE_AT] if self.powers[_MASS_AT] else 0

    def describe(self) -> str:
        """The name in the user's words: "length", "bearing from true north", or a product: "length per angle"."""
        if self.is_bearing:
            return f"bearing from {self.frame} north"
        if self.frame:
            return "instant" if self.frame == UTC else "temperature"
        return _NAMES.get(self.powers) or _product_text(self.powers)

    @property
    def phrase(self) -> str:
        """`describe` with its article: "a length", "an angle", "a plain number"."""
        name = self.describe()
        if name.startswith("a plain"):
            return name
        if name.startswith("per "):
            return f"a quantity {name}"
        return f"an {name}" if name[0] in "aeiou" else f"a {name}"


def _product_text(powers: tuple[int, ...]) -> str:
    def joined(sign: int) -> str:
        return " x ".join(
            name if power * sign == 1 else f"{name}^{power * sign}"
            for name, power in zip(_BASES, powers, strict=True)
            if power * sign > 0
        )

    above, below = joined(1), joined(-1)
    if not below:
        return above
    return f"{above} per {below}" if above else f"per {below}"


NUMBER = Dimension((0, 0, 0, 0, 0, 0))
LENGTH = Dimension((1, 0, 0, 0, 0, 0))
MASS = Dimension((0, 1, 0, 0, 0, 0))
TIME = Dimension((0, 0, 1, 0, 0, 0))
INSTANT = Dimension((0, 0, 1, 0, 0, 0), UTC)
ANGLE = Dimension((0, 0, 0, 1, 0, 0))
TEMPERATURE_DIFFERENCE = Dimension((0, 0, 0, 0, 1, 0))
TEMPERATURE = Dimension((0, 0, 0, 0, 1, 0), SCALE)
CURRENT = Dimension((0, 0, 0, 0, 0, 1))
AREA = Dimension((2, 0, 0, 0, 0, 0))
VOLUME = Dimension((3, 0, 0, 0, 0, 0))
SPEED = Dimension((1, 0, -1, 0, 0, 0))
ACCELERATION = Dimension((1, 0, -2, 0, 0, 0))
ANGULAR_SPEED = Dimension((0, 0, -1, 1, 0, 0))
ANGULAR_ACCELERATION = Dimension((0, 0, -2, 1, 0, 0))
LENGTH_PER_ANGLE = Dimension((1, 0, 0, -1, 0, 0))
FORCE = Dimension((1, 1, -2, 0, 0, 0))
STIFFNESS = Dimension((0, 1, -2, 0, 0, 0))
TORQUE = Dimension((2, 1, -2, -1, 0, 0))
ENERGY = Dimension((2, 1, -2, 0, 0, 0))
POWER = Dimension((2, 1, -3, 0, 0, 0))
PRESSURE = Dimension((-1, 1, -2, 0, 0, 0))
VOLTAGE = Dimension((2, 1, -3, 0, 0, -1))
RESISTANCE = Dimension((2, 1, -3, 0, 0, -2))
FREQUENCY = Dimension((0, 0, -1, 0, 0, 0))
DENSITY = Dimension((-3, 1, 0, 0, 0, 0))
MAGNETIC_FLUX_DENSITY = Dimension((0, 1, -2, 0, 0, -1))
MASS_MOMENT = Dimension((1, 1, 0, 0, 0, 0))
MOMENT_OF_INERTIA = Dimension((2, 1, 0, 0, 0, 0))
EXPANSION = Dimension((0, 0, 0, 0, -1, 0))
RESISTANCE_PER_LENGTH = Dimension((1, 1, -3, 0, 0, -2))
CURRENT_SQUARED_TIME = Dimension((0, 0, 1, 0, 0, 2))
BEARING_TRUE = Dimension(ANGLE.powers, "true")
BEARING_MAGNETIC = Dimension(ANGLE.powers, "magnetic")
BEARING_GRID = Dimension(ANGLE.powers, "grid")

NAMED: dict[str, Dimension] = {
    "number": NUMBER,
    "length": LENGTH,
    "mass": MASS,
    "time": TIME,
    "angle": ANGLE,
    "temperature": TEMPERATURE,
    "temperature_difference": TEMPERATURE_DIFFERENCE,
    "current": CURRENT,
    "area": AREA,
    "volume": VOLUME,
    "speed": SPEED,
    "acceleration": ACCELERATION,
    "angular_speed": ANGULAR_SPEED,
    "angular_acceleration": ANGULAR_ACCELERATION,
    "force": FORCE,
    "torque": TORQUE,
    "energy": ENERGY,
    "power": POWER,
    "pressure": PRESSURE,
    "voltage": VOLTAGE,
    "resistance": RESISTANCE,
    "frequency": FREQUENCY,
    "density": DENSITY,
    "bearing_true": BEARING_TRUE,
    "bearing_magnetic": BEARING_MAGNETIC,
    "bearing_grid": BEARING_GRID,
    "instant": INSTANT,
}
"""The words for a dimension that an author may write where an input is declared."""

_NAMES: dict[tuple[int, ...], str] = {
    **{dimension.powers: word.replace("_", " ") for word, dimension in NAMED.items() if dimension.is_plain},
    NUMBER.powers: "a plain number",
    STIFFNESS.powers: "force per length",
    MASS_MOMENT.powers: "mass times length",
    MAGNETIC_FLUX_DENSITY.powers: "magnetic flux density",
    MOMENT_OF_INERTIA.powers: "moment of inertia",
}


def add(a: Dimension, b: Dimension) -> Dimension | Problem:
    """The dimension of `a + b`. A point takes an amount on either side; two points do not add."""
    if a.frame and b.frame:
        if different := _different_north(a, b):
            return different
        if a == b:
            return Problem(
                "two-points",
                f"cannot add two {_point_words(a)[0]}",
                hint=_point_words(a)[1],
            )
    elif a.powers == b.powers:
        return a if a.frame else b
    return _mismatch(f"cannot add {b.phrase} to {a.phrase}", a, b)


def subtract(a: Dimension, b: Dimension) -> Dimension | Problem:
    """The dimension of `a - b`: a point less an amount is a point; two points of one frame differ by an amount."""
    if different := _different_north(a, b):
        return different
    if a == b:
        return Dimension(a.powers) if a.frame else a
    if a.powers == b.powers and not b.frame:
        return a
    return _mismatch(f"cannot subtract {b.phrase} from {a.phrase}", a, b)


def multiply(a: Dimension, b: Dimension) -> Dimension | Problem:
    """The dimension of `a * b`. A point may not be multiplied, not even by a number."""
    if a.frame or b.frame:
        return _point(a if a.frame else b, "multiplied")
    return _in_bounds(tuple(x + y for x, y in zip(a.powers, b.powers, strict=True)))


def divide(a: Dimension, b: Dimension) -> Dimension | Problem:
    """The dimension of `a / b`. A point may not be divided, nor divide."""
    if a.frame or b.frame:
        return _point(a if a.frame else b, "divided")
    return _in_bounds(tuple(x - y for x, y in zip(a.powers, b.powers, strict=True)))


def _in_bounds(powers: tuple[int, ...]) -> Dimension | Problem:
    """The dimension of a product; one that no unit is written for is none that anybody measures."""
    if any(abs(x) > GREATEST_POWER for x in powers):
        return Problem("power-out-of-range", f"powers of a quantity go from -{GREATEST_POWER} to {GREATEST_POWER}")
    return Dimension(powers)


def negate(a: Dimension) -> Dimension | Problem:
    """The dimension of `-a`."""
    return _point(a, "negated") if a.frame else a


def power(a: Dimension, n: int) -> Dimension | Problem:
    """The dimension of `a` to a whole power from -9 to 9."""
    if a.frame:
        return _point(a, "raised to a power")
    if abs(n) > GREATEST_POWER:
        return Problem("power-out-of-range", f"a power goes from -{GREATEST_POWER} to {GREATEST_POWER}")
    return _in_bounds(tuple(x * n for x in a.powers))


def root(a: Dimension, n: int) -> Dimension | Problem:
    """The dimension of the `n`-th root of `a`, `n` from 1 to 9. Every power in it must divide."""
    if a.frame:
        return _point(a, "put under a root")
    if not 1 <= n <= GREATEST_POWER:
        return Problem("power-out-of-range", f"a root goes from 1 to {GREATEST_POWER}")
    if any(x % n for x in a.powers):
        name = {2: "square root", 3: "cube root"}.get(n, f"root of order {n}")
        return Problem(
            "no-root",
            f"{a.phrase} has no {name} with a dimension",
            hint=f"take it of something whose powers all divide by {n}, such as {'an area' if n == 2 else 'a ratio'}",
        )
    return Dimension(tuple(x // n for x in a.powers))


def same(a: Dimension, b: Dimension, what: str) -> Dimension | Problem:
    """`a` when the two are one dimension. `what` is the verb of the message: "cannot {what} a length with an angle"."""
    if a == b:
        return a
    return _different_north(a, b) or _mismatch(f"cannot {what} {a.phrase} with {b.phrase}", a, b)


def ordered(a: Dimension, b: Dimension) -> Dimension | Problem:
    """The dimension of two values put in order, `a < b`. Bearings go round and have no order."""
    if a.is_bearing and a == b:
        return Problem(
            "point-arithmetic",
            "bearings go round, so neither of two is the greater",
            hint="compare their difference with an angle, or give limits, which are read clockwise",
        )
    return same(a, b, "compare")


def product_turns(a: Dimension, b: Dimension, sign: int = 1) -> int:
    """Power of 180/pi that the base value of `a * b` (`sign` 1) or `a / b` (`sign` -1) has to be multiplied with.

    It is 0, and the arithmetic exact, unless an angle meets mass: 40 N.m through 90 deg is 40 x pi/2 J. The algebra
    must allow the operation.
    """
    powers = tuple(x + sign * y for x, y in zip(a.powers, b.powers, strict=True))
    return a.radians_within + sign * b.radians_within - (powers[_ANGLE_AT] if powers[_MASS_AT] else 0)


def _different_north(a: Dimension, b: Dimension) -> Problem | None:
    if not (a.is_bearing and b.is_bearing) or a.frame == b.frame:
        return None
    bridge = {
        frozenset(("true", "magnetic")): "the declination",
        frozenset(("true", "grid")): "the grid convergence",
        frozenset(("magnetic", "grid")): "the declination and the grid convergence",
    }[frozenset((a.frame, b.frame))]
    return Problem(
        "different-north",
        f"one bearing is from {a.frame} north, the other from {b.frame} north",
        hint=f"bring both to one north with {bridge} first",
    )


def _point(a: Dimension, done: str) -> Problem:
    return Problem("point-arithmetic", f"{a.phrase} cannot be {done}", hint=_point_words(a)[2])


def _point_words(a: Dimension) -> tuple[str, str, str]:
    """Points of this kind in the plural, what may be added to one, and what must be done before it is multiplied."""
    if a.is_bearing:
        return "bearings", "add an angle to a bearing", "take the angle between two bearings (their difference) first"
    if a.is_instant:
        return "instants", "add a time, such as `2 h`, to an instant", "take the time since another instant first"
    return (
        "temperatures",
        "add a temperature difference, in K, to a temperature",
        "take the difference from another temperature first",
    )


def _mismatch(message: str, a: Dimension, b: Dimension) -> Problem:
    return Problem("dimension-mismatch", message, hint=mismatch_hint(a, b))


def mismatch_hint(a: Dimension, b: Dimension) -> str:
    """What two easily confused dimensions have to do with each other, or an empty string."""
    pair = {a, b}
    if pair == {TORQUE, ENERGY}:
        return "a torque is energy per angle: force times lever, divided by `1 rad`, is a torque"
    if pair == {TEMPERATURE, TEMPERATURE_DIFFERENCE}:
        return "a temperature is written in °C, a temperature difference in K"
    if pair == {INSTANT, TIME}:
        return "an instant is a date with a time of day, `2026-11-25T14:30:00Z`; a time is an amount, `2 h`"
    if pair == {FREQUENCY, ANGULAR_SPEED}:
        return "a rate of turning is an angle per time: write `turn/s` or `rpm`"
    if pair == {MASS_MOMENT, TORQUE}:
        return "a torque is written with a force: `N.m`, `kgf.m` or `lbf.ft`"
    if pair == {MASS, FORCE}:
        return "a force is written `N`, `kgf` or `lbf`; `kg` and `lb` are masses"
    if ANGLE in pair and (a.is_bearing or b.is_bearing):
        return "a bearing names its north: `deg true`, `deg magnetic` or `deg grid`"
    if NUMBER in pair:
        return "give the plain number a unit"
    return ""
