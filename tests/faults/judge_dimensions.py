"""An independent word on kinds of quantity: what has another dimension than what it is held against.

The table of units is written out here, from the list in LANGUAGE.md, chapter 3; angle is a base, torque is a force
times a lever per angle. What a formula comes to is worked out where it is plain; of the rest nothing is said. What the
parameters of calculations take is read from their declarations.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from walked_state import Names

from proclang.field import registry
from proclang.field.declare import Like
from proclang.syntax import nodes as n
from proclang.values.dimension import Dimension

Dim = tuple[tuple[int, ...], str]
"""Powers of length, mass, time, angle, temperature difference, current; and the frame of a point."""

PLAIN: Dim = ((0,) * 6, "")


def _base(**powers: int) -> tuple[int, ...]:
    return tuple(powers.get(x, 0) for x in ("l", "m", "t", "a", "k", "i"))


_UNITS = {
    "m km cm mm µm μm um nm inch ft yd mil thou": _base(l=1),
    "kg g mg t lb oz": _base(m=1),
    "s ms µs μs us min h d month months year years": _base(t=1),
    "deg ° turn turns rev arcmin arcsec mas rad mrad": _base(a=1),
    "K": _base(k=1),
    "A mA": _base(i=1),
    "N daN kN kgf lbf kip": _base(m=1, l=1, t=-2),
    "Pa hPa kPa MPa mbar bar psi": _base(m=1, l=-1, t=-2),
    "J kJ Wh": _base(m=1, l=2, t=-2),
    "W kW": _base(m=1, l=2, t=-3),
    "V mV kV": _base(m=1, l=2, t=-3, i=-1),
    "ohm Ω mohm mΩ kohm kΩ Mohm MΩ": _base(m=1, l=2, t=-3, i=-2),
    "Hz kHz": _base(t=-1),
    "rpm": _base(a=1, t=-1),
    "µT μT uT nT": _base(m=1, t=-2, i=-1),
    "L l": _base(l=3),
    "% ppm pieces piece": _base(),
}
UNITS = {unit: powers for listed, powers in _UNITS.items() for unit in listed.split()}
POINTS = {"°C": (_base(k=1), "scale"), "degC": (_base(k=1), "scale"), "UTC": (_base(t=1), "utc")}
NORTHS = ("true", "magnetic", "grid")
_KINDS = {
    "number": PLAIN,
    "length": (_base(l=1), ""),
    "mass": (_base(m=1), ""),
    "time": (_base(t=1), ""),
    "angle": (_base(a=1), ""),
    "temperature": (_base(k=1), "scale"),
    "temperature_difference": (_base(k=1), ""),
    "current": (_base(i=1), ""),
    "area": (_base(l=2), ""),
    "volume": (_base(l=3), ""),
    "speed": (_base(l=1, t=-1), ""),
    "acceleration": (_base(l=1, t=-2), ""),
    "angular_speed": (_base(a=1, t=-1), ""),
    "angular_acceleration": (_base(a=1, t=-2), ""),
    "force": (_base(m=1, l=1, t=-2), ""),
    "torque": (_base(m=1, l=2, t=-2, a=-1), ""),
    "energy": (_base(m=1, l=2, t=-2), ""),
    "power": (_base(m=1, l=2, t=-3), ""),
    "pressure": (_base(m=1, l=-1, t=-2), ""),
    "voltage": (_base(m=1, l=2, t=-3, i=-1), ""),
    "resistance": (_base(m=1, l=2, t=-3, i=-2), ""),
    "frequency": (_base(t=-1), ""),
    "density": (_base(m=1, l=-3), ""),
    "bearing_true": (_base(a=1), "true"),
    "bearing_magnetic": (_base(a=1), "magnetic"),
    "bearing_grid": (_base(a=1), "grid"),
    "instant": (_base(t=1), "utc"),
}
_SAME = ("abs", "min", "max", "smallest", "largest", "mean", "sum", "spread", "round_to", "round_down", "round_up")


def unit_dimension(text: str) -> Dim | None:
    """The dimension of a unit as it is written."""
    text = text.strip()
    if not text:
        return PLAIN
    head, _, north = text.rpartition(" ")
    if north in NORTHS and head in UNITS:
        return (UNITS[head], north)
    if text in POINTS:
        return POINTS[text]
    powers = [0] * 6
    torque = False
    for at, part in enumerate(text.split("/")):
        sign = 1 if at == 0 else -1
        factors = part.split(".")
        torque = torque or (any(x in ("m", "mm", "ft", "inch") for x in factors) and len(factors) == 2)
        for factor in factors:
            name, _, power = factor.replace("²", "^2").replace("³", "^3").partition("^")
            if name == "1":
                continue
            if name not in UNITS:
                return None
            for base in range(6):
                powers[base] += sign * UNITS[name][base] * int(power or 1)
    found = tuple(powers)
    if torque and found == _base(m=1, l=2, t=-2):
        found = _base(m=1, l=2, t=-2, a=-1)
    return (found, "")


def number_dimension(typed: str) -> Dim | None:
    """The dimension of a number as it is typed; of a sum such as `1 deg 20 arcmin` that of its first part."""
    if re.match(r"^\d{4}-\d\d-\d\d", typed):
        return POINTS["UTC"]
    found = re.match(r"^[-+−]?\s*[0-9][0-9.]*(?:e[-+]?[0-9]+)?(?:\s+[0-9]+/[0-9]+|/[0-9]+)?\s*(.*)$", typed)
    if found is None:
        return None
    unit = re.split(r"\s+[0-9]", found[1])[0]
    return unit_dimension(unit)


def _both(left: Dim, right: Dim, sign: int) -> Dim | None:
    if left[1] or right[1]:
        return None
    return (tuple(a + sign * b for a, b in zip(left[0], right[0], strict=True)), "")


class Dimensions:
    """The dimensions of one file."""

    def __init__(self, tree: n.File, names: Names) -> None:
        self.tree = tree
        self.names = names
        self.faults: list[str] = []
        self._busy: set[str] = set()
        self.columns: dict[str, Dim | None] = {}
        for table in tree.every(n.Table):
            for at, column in enumerate(table.columns):
                cells = [row.cells[at] for row in table.rows if isinstance(row, n.Row) and at < len(row.cells)]
                self.columns[column.text] = number_dimension(cells[0].typed) if cells else None
                for cell in cells[1:]:
                    self._same(number_dimension(cell.typed), self.columns[column.text], f"column {column.text}")

    def judge(self) -> list[str]:
        """All that is held against something of another dimension."""
        for measure in self.tree.every(n.Measure):
            have = unit_dimension(measure.unit.text)
            self._facets(measure.facets, have, measure.name.text)
            if measure.instrument is not None:
                self._instrument(measure.instrument.text, have, measure.name.text)
        for one in self.tree.every(n.Input):
            have = self._kind(one)
            if have is not None:
                self._facets(one.facets, have, one.name.text)
                if one.default is not None:
                    self._same(self.of(one.default), have, one.name.text)
        for compute in self.tree.every(n.Compute):
            made = self.of(compute.value)
            what = compute.targets[0].name.text
            self._facets(compute.facets, made, what)
            if compute.unit is not None and len(compute.targets) == 1:
                self._same(unit_dimension(compute.unit.text), made, what)
        for one in self.tree.every(n.SetValue):
            have = self.of(one.value)
            if one.allowed is not None:
                self._amount(self.of(one.allowed), have, one.name.text)
        for line in (*self.tree.every(n.When), *self.tree.every(n.LeaveWhen)):
            self.of(line.condition)
        for instrument in self.tree.every(n.Instrument):
            self._abilities(instrument)
        for takes in self.tree.every(n.Takes):
            for end in (takes.low, takes.high):
                if end is not None:
                    self._same(self._bare(end, takes.high or end), (_base(t=1), ""), "takes")
        for shown in self.tree.every(n.Insert):
            have = self.of(shown.value)
            if shown.step is not None:
                self._amount(number_dimension(shown.step.typed), have, "a text")
            if shown.unit is not None:
                self._same(unit_dimension(shown.unit.text), have, "a text")
        return self.faults

    def _kind(self, one: n.Input) -> Dim | None:
        words = [word.text for word in one.kind.words]
        if not words or words == ["text"]:
            return None
        found = _KINDS.get(words[0])
        for word in words[1:]:
            if word == "per" or found is None:
                continue
            other = _KINDS.get(word)
            found = _both(found, other, -1) if other is not None else None
        return found

    def _facets(self, facets: tuple[n.Node, ...], have: Dim | None, what: str) -> None:
        for facet in facets:
            if isinstance(facet, n.WithinAround):
                self._limit(self._bare(facet.centre, facet.half), have, what)
                if not _share(facet.half):
                    self._amount(self.of(facet.half), have, what)
            elif isinstance(facet, (n.WithinRange, n.Plausible)):
                self._limit(self._bare(facet.low, facet.high), have, what)
                self._limit(self.of(facet.high), have, what)
            elif isinstance(facet, n.Bound):
                self._limit(self.of(facet.value), have, what)
            elif isinstance(facet, n.Spread):
                self._amount(self.of(facet.most), have, what)
            elif isinstance(facet, n.KnownTo) and not _share(facet.value):
                self._amount(self.of(facet.value), have, what)

    def _bare(self, value: n.Expression, other: n.Expression) -> Dim | None:
        """A number whose unit is written once, behind the other."""
        if isinstance(value, n.Literal) and re.fullmatch(r"[-+−]?\s*[0-9.]+", value.number.typed):
            found = self.of(other)
            return None if _share(other) else found
        return self.of(value)

    def _abilities(self, instrument: n.Instrument) -> None:
        """All that is said of an instrument is an amount of the quantity it reads, or a share."""
        reads = [self.of(a.value) for a in instrument.abilities if a.what == "reads to"]
        for ability in instrument.abilities:
            if ability.what == "calibrated within":
                self._same(self.of(ability.value), (_base(t=1), ""), instrument.name.text)
            elif reads and reads[0] != PLAIN and not _share(ability.value):
                self._same(self.of(ability.value), reads[0], instrument.name.text)
            elif not reads or reads[0] == PLAIN:
                self._same(self.of(ability.value), reads[0] if reads else None, instrument.name.text)

    def _instrument(self, name: str, have: Dim | None, what: str) -> None:
        for instrument in self.tree.every(n.Instrument):
            if instrument.name.text != name:
                continue
            for ability in instrument.abilities:
                if ability.what.startswith(("reads", "repeats", "accurate", "drifts")) and (
                    not _share(ability.value) or (ability.what == "reads to" and have != PLAIN)
                ):
                    self._amount(self.of(ability.value), have, what)

    def of(self, value: n.Node) -> Dim | None:
        """The dimension of an expression; None where it is not plain."""
        if isinstance(value, n.Literal):
            return number_dimension(value.number.typed)
        if isinstance(value, n.Reference):
            return self._value(value.name.text)
        if isinstance(value, n.Unary):
            return self.of(value.operand)
        if isinstance(value, n.Power):
            base = self.of(value.base)
            if base is None or base[1] or not value.exponent.typed.isdigit():
                return None
            return (tuple(p * int(value.exponent.typed) for p in base[0]), "")
        if isinstance(value, n.Binary):
            return self._binary(value)
        if isinstance(value, (n.Judged, n.Being)):
            return None
        return self._call(value) if isinstance(value, n.Call) else None

    def _value(self, name: str) -> Dim | None:
        if name in self.names.inputs:
            return self._kind(self.names.inputs[name])
        if name in self.columns:
            return self.columns[name]
        made = self.names.defined.get(name)
        if isinstance(made, n.Measure):
            return unit_dimension(made.unit.text)
        if isinstance(made, n.Compute) and name not in self._busy:
            self._busy.add(name)
            try:
                kept = list(self.faults)
                found = self.of(made.value) if len(made.targets) == 1 else None
                if found is None and len(made.targets) == 1 and made.unit is not None:
                    found = unit_dimension(made.unit.text)
                self.faults = kept
                return found
            finally:
                self._busy.discard(name)
        return None

    def _binary(self, value: n.Binary) -> Dim | None:
        left, right = self.of(value.left), self.of(value.right)
        if value.operator in ("and", "or") or left is None or right is None:
            return None
        if value.operator in ("*", "/"):
            if left[1] or right[1]:
                self.faults.append("a point is multiplied")
            return _both(left, right, 1 if value.operator == "*" else -1)
        if value.operator in ("+", "-"):
            if left[1] and right[1]:
                if value.operator == "+" or left[1] != right[1]:
                    self.faults.append("two points")
                return (left[0], "")
            if left[0] != right[0] or (right[1] and value.operator == "-"):
                self.faults.append("a sum of unlike things")
            return (left[0], left[1] or right[1])
        self._same(left, right, "a comparison")
        return None

    def _call(self, value: n.Call) -> Dim | None:
        given = [self.of(argument.value) for argument in value.arguments]
        calculation = registry.find(value.name.text)
        if calculation is not None:
            frames: list[Dim | None] = []
            positional = iter(calculation.parameters)
            for argument, have in zip(value.arguments, given, strict=True):
                named = argument.name.text if argument.name is not None else None
                parameter = next((p for p in calculation.parameters if p.name == named), None)
                if named is None:
                    parameter = next(positional, None)
                if parameter is not None and isinstance(parameter.takes, Dimension) and not parameter.choices:
                    self._same(have, (parameter.takes.powers, parameter.takes.frame), value.name.text)
                elif parameter is not None and isinstance(parameter.takes, Like) and parameter.takes.bearing:
                    frames.append(have)
            known = [x for x in frames if x is not None]
            if any(not x[1] or x != known[0] for x in known):
                self.faults.append(f"bearings that differ in {value.name.text}")
        if value.name.text in _SAME and given:
            amounts = [x for x in given if x is not None]
            if any(x[0] != amounts[0][0] for x in amounts):
                self.faults.append(f"unlike things in {value.name.text}")
            return given[0]
        if calculation is not None and len(calculation.results) == 1:
            gives = calculation.results[0].gives
            return (gives.powers, gives.frame) if isinstance(gives, Dimension) else None
        return None

    def _same(self, have: Dim | None, want: Dim | None, what: str) -> None:
        if have is not None and want is not None and have != want:
            self.faults.append(f"another dimension: {what}")

    def _limit(self, have: Dim | None, want: Dim | None, what: str) -> None:
        """A limit of a bearing may be written without its north."""
        if have is not None and want is not None and want[1] in NORTHS and not have[1]:
            want = (want[0], "")
        self._same(have, want, what)

    def _amount(self, have: Dim | None, want: Dim | None, what: str) -> None:
        """A distance along something: its frame does not matter."""
        if have is not None and want is not None and (have[0] != want[0] or have[1]):
            self.faults.append(f"another dimension: {what}")


def _share(value: n.Node) -> bool:
    return isinstance(value, n.Literal) and value.number.typed.rstrip().endswith(("%", "ppm"))


def judge_dimensions(tree: n.File, names: Names) -> Iterator[str]:
    """What has another dimension than what it is held against."""
    yield from Dimensions(tree, names).judge()
