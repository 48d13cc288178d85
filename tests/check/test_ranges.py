"""Ranges against values drawn from them, and what is said of limits against readings drawn from what is plausible."""

from __future__ import annotations

import random
from fractions import Fraction

from marked_cases import Texts

from proclang.check.check import check_files
from proclang.check.ranges import _CALLS, Range, Ranges
from proclang.field.declare import Series
from proclang.program import model as m
from proclang.program.build import build
from proclang.program.load import load
from proclang.syntax import nodes as n
from proclang.values.dimension import NUMBER

HEAD = """\
proclang 1
procedure trial "Trial, training example"
needs
  crew lead
  authority lead
section main "Main"
  step read "Read." by lead
    measure a in mm
      plausible {a[0]} .. {a[1]} mm
    measure b in mm
      plausible {b[0]} .. {b[1]} mm
    measure s[one, two, three] in mm
      plausible {s[0]} .. {s[1]} mm
"""


class _Drawn:
    """Values for a formula: drawn at or between the ends of what is plausible."""

    def __init__(self, ranges: dict[str, tuple[int, int]], rng: random.Random) -> None:
        self._values: dict[tuple[str, str], Fraction] = {}
        self._ranges = ranges
        self._rng = rng

    def amount(self, name: str, key: str) -> Fraction:
        low, high = self._ranges[name]
        value = self._rng.choice((Fraction(low), Fraction(high), low + (high - low) * Fraction(self._rng.random())))
        return self._values.setdefault((name, key), value / 1000)

    def series(self, name: str) -> Series:
        return Series(tuple((key, self.amount(name, key)) for key in ("one", "two", "three")))

    def label(self, name: str) -> str:
        raise m.NotKnown(name)

    def off(self, calculation: str) -> float:
        return 0.0

    def outcome(self, name: str, key: str) -> str:
        raise m.NotKnown(name)


def _expression(rng: random.Random, depth: int) -> str:
    """A length, made of two readings and a series of three in every way that is followed."""
    if not depth:
        return rng.choice(
            ("a", "b", "s[two]", "2 mm", "-1 mm", "smallest(s)", "largest(s)", "mean(s)", "sum(s)", "spread(s)")
        )
    one, two = (_expression(rng, rng.randint(0, depth - 1)) for _ in range(2))
    return rng.choice(
        (
            f"({one}) + ({two})", f"({one}) - ({two})", f"-({one})", f"({one}) * 3", f"({one}) / 2",
            f"({one}) * (({two}) / (1 mm))", f"({one}) * ({two}) / (7 mm)", f"(2 mm) ^ 2 / (({one}) + 500 mm)",
            f"(({one}) / (1 mm)) ^ 2 * (1 mm)", f"(({one}) / (1 mm)) ^ 3 * (1 mm)", f"abs({one})", f"min({one}, {two})",
            f"max({one}, {two})", f"hypot({one}, {two})", f"round_to({one}, 0.5 mm)", f"round_up({one}, to = 2 mm)",
            f"round_down({one}, 1 mm)",
        )
    )  # fmt: skip


def _ranges_at_random(rng: random.Random) -> dict[str, tuple[int, int]]:
    ends = {name: sorted((rng.randint(-9, 9), rng.randint(-9, 9))) for name in "abs"}
    return {name: (low, high) for name, (low, high) in ends.items()}


def test_no_value_lies_outside_the_range_of_its_expression() -> None:
    """Each expression is evaluated as a run would evaluate it; a range without ends holds everything."""
    rng = random.Random(5)
    bounded, called, wide = 0, set(), 0
    for _ in range(150):
        ends, text = _ranges_at_random(rng), _expression(rng, 3)
        body = HEAD.format(**ends) + f"  compute x = {text}\n    at most 1 km\n"
        files = load("trial", body.encode(), Texts({"trial": body}))
        built = build(files)
        assert built.program is not None, (text, built.findings)
        formula = next(x.formula for x in built.program.main.code if isinstance(x, m.ComputeValue))
        (node,) = files.files["trial"].tree.every(n.Compute)
        symbols = built.program.main.symbols
        known = {
            name: Range(Fraction(low, 1000), Fraction(high, 1000), symbols[name].type.dimension)  # type: ignore[union-attr]
            for name, (low, high) in ends.items()
        }
        found = Ranges(built.scopes["trial"], known).of(node.value)
        if found is None:
            continue
        bounded += 1
        called |= {x.name.text for x in node.value.walk() if isinstance(x, n.Call)}
        seen = []
        for _ in range(40):
            try:
                value = formula.evaluate(_Drawn(ends, rng))
            except m.NotKnown:
                continue
            assert isinstance(value, Fraction)
            assert found.low is None or found.low <= value, (text, ends, found, value)
            assert found.high is None or value <= found.high, (text, ends, found, value)
            seen.append(value)
        if found.low is not None and found.high is not None and len(seen) > 20:
            wide += found.high - found.low > 20 * (max(seen) - min(seen)) > 0
    assert bounded > 100
    assert called == set(_CALLS)
    assert wide < bounded / 4  # they are not so wide that they say nothing


def test_what_is_said_of_limits_is_so_for_every_reading_drawn() -> None:
    """Of a limit that nothing meets no draw passes; of one that judges nothing every draw does. Both come up."""
    rng = random.Random(6)
    never = always = neither = 0
    for _ in range(300):
        ends, text = _ranges_at_random(rng), _expression(rng, 2)
        low, high = sorted((rng.randint(-30, 30), rng.randint(-30, 30)))
        facet = rng.choice((f"at most {high} mm", f"at least {low} mm", f"within {low} .. {high} mm"))
        body = HEAD.format(**ends) + f"  compute x = {text}\n    {facet}\n"
        checked = check_files("trial", body.encode(), Texts({"trial": body}))
        assert checked.built.program is not None
        codes = {f.code for f in checked.findings} & {"never-passes", "always-passes"}
        instr = next(x for x in checked.built.program.main.code if isinstance(x, m.ComputeValue))
        ((make, _),) = instr.targets[0][0].facets.limits
        drawn = _Drawn(ends, rng)
        limits = make(drawn)
        passed = set()
        for _ in range(30):
            try:
                value = instr.formula.evaluate(_Drawn(ends, rng))
            except m.NotKnown:
                continue
            assert isinstance(value, Fraction)
            passed.add((limits.low is None or limits.low <= value) and (limits.high is None or value <= limits.high))
        never, always = never + ("never-passes" in codes), always + ("always-passes" in codes)
        neither += not codes
        if codes:
            assert passed <= {"always-passes" in codes}, (text, ends, facet, codes)
    assert min(never, always, neither) > 15, (never, always, neither)


def test_a_range_of_bearings_is_not_followed() -> None:
    """They go round: the largest of two is no bearing."""
    ranges = Ranges(build(load("t", b"", Texts({}))).scopes["t"], {"x": Range(None, None, NUMBER)})
    assert ranges.of(n.Literal(n.Number("5 deg true", span=None), span=None)) is None  # type: ignore[arg-type]
