"""Independent look-ups in one file: labels, arms, roles, instruments, hazards, and numbers that cannot be meant."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from judge_dimensions import UNITS
from walked_state import Names, labels_of

from proclang.field import registry
from proclang.syntax import nodes as n

LIMITS = (n.WithinAround, n.WithinRange, n.WithinUneven, n.Bound, n.Spread)


def judge_lookups(tree: n.File, names: Names) -> Iterator[str]:
    """What a look into the file shows to be wrong."""
    yield from _labels(tree, names)
    yield from _arms(tree, names)
    yield from _people(tree)
    yield from _instruments(tree)
    yield from _hazards(tree, names)
    yield from _numbers(tree)


# ---------------------------------------------------------------------------- labels and arms


def _labels(tree: n.File, names: Names) -> Iterator[str]:
    """A label that the set or the series does not have."""
    loops = {loop.variable.text: loop.labels.text for loop in tree.every(n.ForEach)}
    have: dict[str, set[str]] = {}
    for measure in tree.every(n.Measure):
        have.setdefault(measure.name.text, set()).update(_spread(measure.labels, loops, names))
    for compute in tree.every(n.Compute):
        for target in compute.targets:
            if target.labels:
                have.setdefault(target.name.text, set()).update(_spread(target.labels, loops, names))
    for table in tree.every(n.Table):
        rows = set(labels_of(row.label for row in table.rows if isinstance(row, n.Row)))
        for column in table.columns:
            have[column.text] = rows
    for used in (*tree.every(n.Reference), *tree.every(n.MeasureAgain)):
        name = used.name.text
        for label in _spread(used.labels, loops, names):
            if have.get(name) and label not in have[name]:
                yield f"no label {label} in {name}"
    for place in tree.every(n.Place):
        members = names.sets.get(place.name.text)
        for label in _spread(place.labels, loops, names):
            if members is not None and label not in members:
                yield f"no {place.name.text}[{label}]"
    for loop in tree.every(n.ForEach):
        if loop.labels.text not in names.sets:
            yield f"no labels {loop.labels.text}"
    for one in tree.every(n.Labels):
        plain = list(labels_of(one.labels))
        if len(set(plain)) < len(plain):
            yield f"a label twice in {one.name.text}"
    for call in tree.every(n.Call):
        yield from _series(call, have)
    whole = {t.name.text: c.value for c in tree.every(n.Compute) for t in c.targets if not t.labels}
    for used in tree.every(n.Reference):
        made = whole.get(used.name.text)
        count = _results(made) if isinstance(made, n.Call) else None
        for label in used.labels:
            if count is not None and isinstance(label, n.Number) and int(label.typed) > count:
                yield f"no {used.name.text}[{label.typed}]"
    for being in tree.every(n.Being):
        if isinstance(being.value, n.Reference):
            answers = _answers(being.value.name.text, loops, names)
            if answers is not None and being.label.text not in answers:
                yield f"{being.value.name.text} is never {being.label.text}"


def _series(call: n.Call, have: dict[str, set[str]]) -> Iterator[str]:
    """A series without the labels that its calculation is declared to take."""
    calculation = registry.find(call.name.text)
    if calculation is None:
        return
    positional = iter(calculation.parameters)
    for argument in call.arguments:
        named = argument.name.text if argument.name is not None else None
        parameter = next((p for p in calculation.parameters if p.name == named), None)
        if named is None:
            parameter = next(positional, None)
        value = argument.value
        if parameter is not None and parameter.labels and isinstance(value, n.Reference) and not value.labels:
            found = have.get(value.name.text)
            if found is not None and found != set(parameter.labels):
                yield f"{call.name.text} wants {', '.join(parameter.labels)}"


def _results(call: n.Call) -> int | None:
    """How many labels, from 1 on, the one result of a calculation has: as many as an argument says, a plain number."""
    calculation = registry.find(call.name.text)
    if calculation is None or len(calculation.results) != 1 or calculation.results[0].labels is None:
        return None
    for argument in call.arguments:
        if argument.name is not None and argument.name.text == calculation.results[0].labels:
            value = argument.value
            if isinstance(value, n.Literal) and value.number.typed.isdigit():
                return int(value.number.typed)
    return None


def _spread(labels: tuple[n.Label, ...], loops: dict[str, str], names: Names) -> set[str]:
    found: set[str] = set()
    for label in labels:
        if isinstance(label, n.Name) and label.text in loops:
            found |= set(names.sets.get(loops[label.text], ()))
        elif isinstance(label, n.Name) and label.text in names.sets:
            found |= set(names.sets[label.text])
        else:
            found |= set(labels_of((label,)))
    return found


def _answers(name: str, loops: dict[str, str], names: Names) -> tuple[str, ...] | None:
    if name in loops:
        return names.sets.get(loops[name])
    return names.choices.get(name)


def _arms(tree: n.File, names: Names) -> Iterator[str]:
    """An answer without an arm, or an arm without an answer."""
    loops = {loop.variable.text: loop.labels.text for loop in tree.every(n.ForEach)}
    for parted in tree.every(n.According):
        answers = _answers(parted.subject.text, loops, names)
        arms = [label for arm in parted.arms if isinstance(arm, n.Arm) for label in labels_of(arm.labels)]
        if answers is not None and sorted(arms) != sorted(answers):
            yield f"arms of {parted.subject.text}"


# ---------------------------------------------------------------------------- people, instruments, hazards


def _people(tree: n.File) -> Iterator[str]:
    """A role that nobody in the crew has; something that may end out of tolerance, and nobody who may accept that."""
    crew = {role.text for line in tree.every(n.Crew) for role in line.roles}
    for node in tree.walk():
        for role in (*getattr(node, "people", ()), *getattr(node, "witness", ())):
            if role.text not in crew:
                yield f"no {role.text} in the crew"
    apart = {frozenset((line.one.text, line.other.text)) for line in tree.every(n.Apart)}
    for hands in ("rigger", "scribe"):  # the trade of lifting; LANGUAGE.md, chapter 5
        if {"signaller", hands} <= crew and frozenset(("signaller", hands)) not in apart:
            yield f"nothing keeps the signaller from being {hands}"
    performers = {id(c): step.people for step in tree.every(n.Step) for c in step.walk() if isinstance(c, n.Confirm)}
    for confirm in tree.every(n.Confirm):
        if confirm.no_deviation and not confirm.people and not performers.get(id(confirm)):
            yield f"nobody confirms {confirm.name.text}"
    authorities = [role.text for line in tree.every(n.Authority) for role in line.roles]
    for role in authorities:
        if role not in crew:
            yield f"no {role} in the crew"
    alone = not any(tree.every(n.Perform))  # else the authority of a performed procedure may serve for the whole run
    if not authorities and alone and any(_may_fail(node) for node in tree.walk()):
        yield "nobody has authority"


def _may_fail(node: n.Node) -> bool:
    if isinstance(node, n.Confirm):
        return not node.no_deviation
    if isinstance(node, (n.Measure, n.Compute)):
        judged = any(isinstance(facet, LIMITS) for facet in node.facets)
        return judged and not any(isinstance(facet, n.NoDeviation) for facet in node.facets)
    return False


def _instruments(tree: n.File) -> Iterator[str]:
    known = {one.name.text for one in tree.every(n.Instrument)}
    for reading in (*tree.every(n.Measure), *tree.every(n.MeasureAgain)):
        if reading.instrument is not None and reading.instrument.text not in known:
            yield f"no instrument {reading.instrument.text}"


def _hazards(tree: n.File, names: Names) -> Iterator[str]:
    """A hazard that is said again and was never written out before; a danger that asks for no fact."""
    written = {h.name.text for h in tree.all(n.Hazard)}
    written |= {h.name.text for h in names.machine.every(n.Hazard)} if names.machine is not None else set()
    for hazard in sorted(tree.every(n.Hazard), key=lambda h: h.span.start):
        if hazard.title is None:
            if hazard.name.text not in written:
                yield f"no hazard {hazard.name.text}"
        else:
            written.add(hazard.name.text)
            if hazard.word == "danger" and not any(isinstance(part, n.Asks) for part in hazard.parts):
                yield f"danger {hazard.name.text} asks nothing"


# ---------------------------------------------------------------------------- numbers

_SIZES = {
    "m": 1, "km": 1000, "cm": Fraction(1, 100), "mm": Fraction(1, 1000), "inch": Fraction(254, 10000),
    "kg": 1, "g": Fraction(1, 1000), "t": 1000, "s": 1, "ms": Fraction(1, 1000), "min": 60, "h": 3600, "d": 86400,
    "month": 2629746, "months": 2629746, "year": 31556952, "years": 31556952,
    "deg": Fraction(1, 360), "turn": 1, "arcmin": Fraction(1, 21600), "arcsec": Fraction(1, 1296000),
    "V": 1, "mV": Fraction(1, 1000), "A": 1, "mA": Fraction(1, 1000), "ohm": 1, "N.m": 1, "N": 1, "kN": 1000,
    "%": Fraction(1, 100), "ppm": Fraction(1, 1000000), "pieces": 1, "K": 1, "m/s": 1, "Hz": 1, "MPa": 1, "": 1,
    "°C": 1,
}  # fmt: skip


def size(typed: str) -> tuple[str, Fraction] | None:
    """A plain number with one plain unit: what it is like, and how much. From the SI Brochure; inch and pound exact."""
    found = re.fullmatch(r"([-+−]?)\s*([0-9]+(?:\.[0-9]+)?)\s*(\S*)", typed.strip())
    if found is None or found[3] not in _SIZES:
        return None
    sign = -1 if found[1] in ("-", "−") else 1
    like = str(UNITS.get(found[3], found[3]))
    return like, sign * Fraction(found[2]) * _SIZES[found[3]]


def amount(value: n.Node | None, unit_of: n.Node | None = None) -> tuple[str, Fraction] | None:
    """A literal, signs in front of it included; a bare one takes the unit of the other."""
    if isinstance(value, n.Unary) and value.operator == "-":
        inner = amount(value.operand, unit_of)
        return None if inner is None else (inner[0], -inner[1])
    if not isinstance(value, n.Literal):
        return None
    typed = value.number.typed
    if unit_of is not None and isinstance(unit_of, n.Literal) and re.fullmatch(r"[-+−]?\s*[0-9.]+", typed):
        unit = re.sub(r"^[-+−]?\s*[0-9.]+\s*", "", unit_of.number.typed)
        typed = f"{typed} {unit}" if unit not in ("%", "ppm") else typed
    return size(typed)


def _numbers(tree: n.File) -> Iterator[str]:
    """Ranges that go down, tolerances below zero, limits that no plausible reading meets."""
    for node in (*tree.every(n.Measure), *tree.every(n.Compute), *tree.every(n.Input)):
        most: list[tuple[str, Fraction]] = []
        least: list[tuple[str, Fraction]] = []
        plain: list[tuple[tuple[str, Fraction], tuple[str, Fraction]]] = []
        for facet in node.facets:
            if isinstance(facet, (n.WithinRange, n.Plausible)):
                low, high = amount(facet.low, facet.high), amount(facet.high)
                if low is not None and high is not None and low[0] == high[0]:
                    if low[1] > high[1]:
                        yield "a range that goes down"
                    if isinstance(facet, n.Plausible):
                        plain.append((low, high))
                    else:
                        least.append(low)
                        most.append(high)
            elif isinstance(facet, n.WithinAround):
                half = amount(facet.half)
                if half is not None and half[1] < 0:
                    yield "a tolerance below zero"
                centre = amount(facet.centre, facet.half)
                if centre is not None and half is not None and centre[0] == half[0]:
                    least.append((centre[0], centre[1] - half[1]))
                    most.append((centre[0], centre[1] + half[1]))
            elif isinstance(facet, n.Bound):
                bound = amount(facet.value)
                if bound is not None:
                    (most if facet.most else least).append(bound)
            elif isinstance(facet, n.Spread):
                spread = amount(facet.most)
                if spread is not None and spread[1] < 0:
                    yield "a spread below zero"
        bearing = isinstance(node, n.Measure) and node.unit.text.endswith(("true", "magnetic", "grid"))
        if bearing:
            continue
        for low, high in plain:
            if any(x[0] == high[0] and x[1] > high[1] for x in least) or any(
                x[0] == low[0] and x[1] < low[1] for x in most
            ):
                yield "no plausible value lies within the limits"
        if any(a[0] == b[0] and a[1] > b[1] for a in least for b in most):
            yield "limits that exclude each other"
        if isinstance(node, n.Input) and node.default is not None:
            value = amount(node.default)
            bounds = [*least, *(low for low, _ in plain)], [*most, *(high for _, high in plain)]
            if value is not None and (
                any(x[0] == value[0] and x[1] > value[1] for x in bounds[0])
                or any(x[0] == value[0] and x[1] < value[1] for x in bounds[1])
            ):
                yield "a default outside its own limits"
