"""Verdicts that the instruments cannot give: what is judged finer than it is known.

A procedure is gone through once on paper: every reading is taken to be in the middle of its limits, or of what is
plausible for it, or nothing, and every value is worked out from those. How far off each value may be then follows as
it does in a run. That is not every run there can be; but the uncertainties of instruments depend little on the
readings, and where they do, this is the run in which everything is as it should be.

Codes: `no-uncertainty`, `never-decided` (errors), `cannot-resolve`, `cannot-judge` (warnings).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from fractions import Fraction
from typing import Any

import attrs

from proclang.field.declare import Series
from proclang.program import model as m
from proclang.program.budget import Budget, Doubt
from proclang.program.display import display_unit
from proclang.program.origins import Origin, Reading, Taken, Worked
from proclang.program.scope import Scope
from proclang.program.then import Then
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Diagnostic, Severity
from proclang.values.conformity import around, probability, share_within
from proclang.values.dimension import TIME
from proclang.values.number import NumberError
from proclang.values.quantity import Quantity
from proclang.values.show import exact_text, show
from proclang.values.tolerance import Limits
from proclang.values.unit import NONE

_DRAWS = 1_000
_MARGIN = 0.03
"""A share of so many draws is known to about 0.005; a finding is made only well past that."""

_FIRST_DRAWS = 100
"""As many settle most cases: a standard deviation of them is off by some 7 %."""

_SUPPOSED = {"scale": Fraction(29315, 100), "utc": Fraction(835_000_000)}
"""Where nothing is said of it, a temperature is 20 °C and an instant in 2026; any other reading is nothing."""

_TENTH = 10
"""Steps of the readout that a tolerance should hold (common practice, no source: ten, where nothing else is said of the
instrument)."""


def find_doubtful(tree: n.File, scope: Scope, routine: m.Routine | None) -> list[Diagnostic]:
    """Findings about one procedure."""
    if routine is None or not any(_judges(symbol) for symbol in routine.symbols.values()):
        return []
    paper = _Paper(routine)
    found: list[Diagnostic] = []
    for symbol in routine.symbols.values():
        if _judges(symbol):
            finding = _about(paper, symbol)
            if finding is not None:
                found.append(finding)
    return found


def _judges(symbol: m.Symbol) -> bool:
    return bool(symbol.facets.limits) and symbol.how in ("read", "computed") and isinstance(symbol.type, m.Amount)


def _about(paper: _Paper, symbol: m.Symbol) -> Diagnostic | None:
    limits = paper.limits(symbol)
    asked = symbol.facets.guarded
    if limits is None:
        return None
    if asked is not None:
        origin = paper.origin(symbol)
        if origin is None:
            return None
        value = paper.value(symbol.name, origin.key)
        if _soon_decided(paper.budget.doubt(origin, value, most=_FIRST_DRAWS), value, limits):
            return None
        doubt = paper.budget.doubt(origin, value)
        if not doubt.known:
            return Diagnostic(
                "no-uncertainty",
                f"`guarded` asks how sure a verdict is, and nothing is said of how far off `{symbol.name}` may be"
                + (", but the step of a readout" if doubt.standard else ""),
                symbol.span,
                hint="say it of the instrument (`accurate to`, `repeats to`) or of the value (`known to`)",
            )
        return _never_decided(paper, symbol, doubt, value, limits, asked)
    return _not_resolved(paper, symbol, limits)


def _soon_decided(first: Doubt, value: Fraction, limits: Limits) -> bool:
    """Whether the first draws show that a guarded value may pass. More draws only reach further, so they would not tell
    of an end either; and of a value that conforms with three in a hundred less than is asked for, hardly ever a whole
    hundred do."""
    if not (first.known and first.draws) or first.lost:
        return False
    return not _at_its_best(first, value, limits) or share_within(first.draws, value, limits) == 1


def _never_decided(
    paper: _Paper, symbol: m.Symbol, doubt: Doubt, value: Fraction, limits: Limits, asked: Fraction
) -> Diagnostic | None:
    """A guarded value that not even the best readings let pass."""
    if doubt.draws or doubt.lost:
        if not _at_its_best(doubt, value, limits):
            return None
        best = share_within(doubt.draws, value, limits) + _MARGIN
    else:
        best = probability(_middle(limits, value), limits, doubt.standard, doubt.form.freedom)
    if best >= asked:
        return None
    loop = paper.loops.get(symbol.name)
    ends = f"; the loop `{loop}` is never left before its bound" if loop else ""
    return Diagnostic(
        "never-decided",
        f"`{symbol.name}` can never pass: at its best it conforms with {_percent(best)},"
        f" and {_percent(float(asked))} is asked for{ends}",
        symbol.span,
        hint=f"its standard uncertainty is {_in_unit(symbol, doubt.standard)}; take a finer instrument, more readings"
        " (`measure again`), or wider limits",
    )


def _at_its_best(doubt: Doubt, value: Fraction, limits: Limits) -> bool:
    """Whether other readings would not let a drawn value conform better: it lies at the end of what its formula gives,
    such as a size at nothing, and that end is within the limits. Elsewhere one run on paper proves nothing."""
    seen = around(value, limits)
    if not doubt.draws or doubt.lost or seen.low > 0 or seen.high < 0:
        return False
    noise = 1e-9 * max(map(abs, doubt.draws))
    return (min(doubt.draws) >= -noise and seen.high < float("inf")) or (
        max(doubt.draws) <= noise and seen.low > float("-inf")
    )


def _not_resolved(paper: _Paper, symbol: m.Symbol, limits: Limits) -> Diagnostic | None:
    """A value judged as it stands, though its instruments cannot tell one side of a limit from the other."""
    if limits.low is None or limits.high is None:
        return None
    width = (limits.high - limits.low) % 360 if limits.dimension.is_bearing else limits.high - limits.low
    if not width:
        return None  # a count is exactly so many, and nothing is read off a scale
    instrument = paper.routine.instruments.get(symbol.instrument or "")
    if instrument is not None and instrument.reads_to is not None and _nothing_else_said(instrument):
        step = instrument.reads_to.value
        if step * _TENTH > width:
            return Diagnostic(
                "cannot-resolve",
                f"`{instrument.name}` reads to {_in_unit(symbol, float(step))}; that is coarse for limits"
                f" {_in_unit(symbol, float(width))} apart",
                symbol.span,
                hint="take an instrument that reads to a tenth of that, or say how far off this one may be",
                severity=Severity.WARNING,
            )
        return None
    origin = paper.origin(symbol)
    if origin is None:
        return None
    value = paper.value(symbol.name, origin.key)
    # Draws take long, so a few first: those of a value that is known far better than it has to be are enough.
    doubt = paper.budget.doubt(origin, value, most=_FIRST_DRAWS)
    if doubt.draws and (doubt.lost or 6 * doubt.standard > float(width)):
        doubt = paper.budget.doubt(origin, value)
    if doubt.known and 4 * doubt.standard > float(width):
        return Diagnostic(
            "cannot-judge",
            f"`{symbol.name}` is known to ± {_in_unit(symbol, 2 * doubt.standard)} (k = 2) and judged within limits"
            f" {_in_unit(symbol, float(width))} apart: a verdict on it says little",
            symbol.span,
            hint="take a finer instrument, or wider limits; with `guarded` a verdict says how sure it is",
            severity=Severity.WARNING,
        )
    return None


def _nothing_else_said(instrument: m.Instrument) -> bool:
    return instrument.repeats_to is None and instrument.accurate_to is None and instrument.calibrated_to is None


def _middle(limits: Limits, value: Fraction) -> Fraction:
    """The value that conforms best: half way between two limits; far inside one."""
    if limits.low is not None and limits.high is not None:
        if limits.dimension.is_bearing:
            return limits.low + ((limits.high - limits.low) % 360) / 2
        return (limits.low + limits.high) / 2
    far = Fraction(10) ** 30
    if limits.high is not None:
        return limits.high - far
    return limits.low + far if limits.low is not None else value


def _in_unit(symbol: m.Symbol, size: float) -> str:
    """An amount in the unit of a name, to two digits."""
    from proclang.values.number import to_significant

    assert isinstance(symbol.type, m.Amount)
    unit = symbol.unit or NONE
    if symbol.type.dimension.is_instant:
        unit = display_unit(TIME)
    number = to_significant(Fraction(size) / unit.factor, 2)
    plain = attrs.evolve(unit, dimension=attrs.evolve(unit.dimension, frame=""), zero=Fraction(0))
    text = show(Quantity.of(number, plain), plain)
    return text.removesuffix(" true").removesuffix(" magnetic").removesuffix(" grid")


def _percent(share: float) -> str:
    return f"{share * 100:.3g} %"


class _Paper:
    """One procedure gone through on paper."""

    def __init__(self, routine: m.Routine) -> None:
        self.routine = routine
        self.values: dict[str, dict[str, str]] = {}
        self.origins: dict[str, dict[str, Origin]] = {}
        self.loops: dict[str, str] = {}
        """For a value that a `leave when` waits for: its loop."""
        self.budget = Budget(_One(routine), {}, {}, draws=_DRAWS)
        self._first: dict[str, str] = {}
        self._named: dict[str, tuple[str, ...]] = {}
        self._firm: dict[str, dict[str, str]] = {}
        """Facts that are written down, and not only supposed: limits are made of nothing else."""
        self._number = 0
        self._through = False
        self._suppose()

    def origin(self, symbol: m.Symbol) -> Origin | None:
        """Where the value of a name comes from, the first of a series. The procedure is gone through when it is first
        asked for: for most values what is said of an instrument is enough."""
        if not self._through:
            self._through = True
            self.go_through()
        return next(iter(self.origins.get(symbol.name, {}).values()), None)

    def _suppose(self) -> None:
        """The facts of the site, and where loops over labels begin: limits may ask for both."""
        for instr in self.routine.code:
            if isinstance(instr, m.BeginEach) and instr.labels:
                self._first.setdefault(instr.variable, instr.labels[0])
        for symbol in self.routine.symbols.values():
            if symbol.how == "input" and isinstance(symbol.type, m.Amount):
                value = self._supposed(symbol)
                if value is not None:
                    self.values[symbol.name] = {"": value}
                    if symbol.default is not None:
                        self._firm[symbol.name] = {"": value}
            elif isinstance(symbol.type, m.Choice) and symbol.type.options:
                self.values[symbol.name] = {"": symbol.type.options[0]}

    def go_through(self) -> None:
        """Every line once, in the order it is written."""
        for instr in self.routine.code:
            if isinstance(instr, m.Read):
                self._read(instr)
            elif isinstance(instr, m.ComputeValue):
                self._compute(instr)
            elif isinstance(instr, m.Leave):
                for name in instr.condition.verdicts:
                    self.loops.setdefault(name, instr.loop)

    def value(self, name: str, key: str) -> Fraction:
        """A value of the paper run in base units."""
        from proclang.program.then import stored_value

        return stored_value(self.values[name][key])

    def limits(self, symbol: m.Symbol) -> Limits | None:
        """The one interval all limits of a name come to, as far as numbers are known without a run."""
        then = Then(self._worked("", "", "", {})._replace(values=self._firm), self.routine.symbols, {})
        try:
            allowed = [make(then) for make, _ in symbol.facets.limits]
        except (m.NotKnown, NumberError, ValueError):
            return None
        if len(allowed) == 1:
            return allowed[0]
        if allowed[0].dimension.is_bearing:
            return None
        lows = [x.low for x in allowed if x.low is not None]
        highs = [x.high for x in allowed if x.high is not None]
        return Limits(max(lows, default=None), min(highs, default=None), allowed[0].dimension)

    # ------------------------------------------------------------------ readings

    def _supposed(self, symbol: m.Symbol) -> str | None:
        """What a reading or a fact is taken to be: as it should be, else as may be expected; a reading else nothing."""
        assert isinstance(symbol.type, m.Amount)
        unit = symbol.unit or NONE
        dimension = symbol.type.dimension
        if isinstance(symbol.default, Quantity):
            return exact_text(symbol.default, unit)
        limits = self.limits(symbol) if symbol.facets.limits else None
        if limits is not None and limits.low is not None and limits.high is not None:
            return exact_text(Quantity(_middle(limits, Fraction(0)), dimension), unit)
        plausible = symbol.facets.plausible
        zero = Fraction(0)
        if plausible is not None:
            low, high = plausible[0].value, plausible[1].value
            inside = zero if low <= zero <= high else (low + high) / 2
            return exact_text(Quantity(inside, dimension), unit)
        if symbol.how != "read":
            return None
        return exact_text(Quantity(_SUPPOSED.get(dimension.frame, zero), dimension), unit)

    def _read(self, instr: m.Read) -> None:
        symbol = instr.symbol
        assert isinstance(symbol.type, m.Amount)
        text = self._supposed(symbol)
        if text is None:
            return
        keys: Iterable[tuple[str, ...]] = [instr.labels]
        if any(instr.variables):
            keys = itertools.product(*symbol.type.axes)
        for key in itertools.islice((",".join(parts) for parts in keys), 2_000):
            self._number += 1
            reading = Reading(self._number, text, instr.instrument or "", 0)
            before = self.origins.get(symbol.name, {}).get(key)
            readings = [*before.readings, reading] if isinstance(before, Taken) else [reading]
            self.values.setdefault(symbol.name, {})[key] = text
            taken = Taken(self.routine.name, symbol.name, key, readings, len(readings))
            self.origins.setdefault(symbol.name, {})[key] = taken

    # ------------------------------------------------------------------ values worked out

    def _compute(self, instr: m.ComputeValue) -> None:
        self._named[instr.formula.text] = instr.formula.names
        for symbol, labels, variables in instr.targets:
            key = ",".join(
                self._first.get(x, x) if variable else x for x, variable in zip(labels, variables, strict=True)
            )
            then = Then(self._worked(instr.formula.text, symbol.name, key, {}), self.routine.symbols, {})
            try:
                outcome: Any = instr.formula.evaluate(then)
            except (m.NotKnown, NumberError, ValueError):
                return
            if isinstance(outcome, tuple):
                outcome = outcome[[s.name for s, _, _ in instr.targets].index(symbol.name)]
            pairs = outcome.items if isinstance(outcome, Series) else ((key, outcome),)
            assert isinstance(symbol.type, m.Amount)
            for label, value in pairs:
                text = exact_text(Quantity(value, symbol.type.dimension), symbol.unit or NONE)
                self.values.setdefault(symbol.name, {})[label] = text
                names = instr.formula.names
                # As it stands now: a formula that names what it sets would stand behind itself otherwise.
                behind = {x: dict(self.origins[x]) for x in names if x in self.origins}
                self.origins.setdefault(symbol.name, {})[label] = self._worked(
                    instr.formula.text, symbol.name, label, behind
                )

    def _worked(self, formula: str, name: str, key: str, behind: dict[str, dict[str, Origin]]) -> Worked:
        # What a formula does not name it does not ask for; limits ask for anything, and keep nothing.
        names = self._named.get(formula) if formula else None
        values = {x: dict(self.values[x]) for x in names if x in self.values} if names is not None else self.values
        loops = tuple(self._first.items())
        return Worked(self.routine.name, "compute", formula, name, key, "", values, behind, loops)


@attrs.frozen
class _One:
    """A program of one routine, for the budget to look things up in."""

    only: m.Routine

    def routine(self, name: str) -> m.Routine:
        """The one there is."""
        return self.only
