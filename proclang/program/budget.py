"""How far off a value of the run may be: the errors of the instruments behind it, carried through the formulas.

First order where the formulas are near enough to straight lines over the size of the errors; otherwise draws of all
sources together, put through the formulas (JCGM 101:2008), with a seed that the values behind it give, so that anybody
who recomputes the record draws the same.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from typing import TYPE_CHECKING

import attrs

from proclang.field import registry
from proclang.program import model as m
from proclang.program.origins import Origin, Taken, Worked
from proclang.program.sources import READS_TO, REPEATS_TO, ReadingForms, Routines, apart
from proclang.program.then import Behind, Outcome, Place, Then, formulas_of
from proclang.values import uncertainty as unc
from proclang.values.uncertainty import NOTHING, Form, Source

if TYPE_CHECKING:
    import random

DRAWS = 10_000
"""Draws of a Monte Carlo where a verdict hangs on it: a share near 95 % is then known to 0.2 %."""

_TRIALS = 40
_STRAIGHT = 0.1
"""How far, in standard uncertainties and root mean square, a formula may be from its straight line: what then is left
out changes the standard uncertainty by less than one part in a hundred."""

_MOST_ALONE = 100
"""Sources of single readings that are tried each by itself; more of them are tried in as many groups."""

_MOST_MOVED = 1_000_000
"""Values moved for all draws of one formula; where more stand in it, and behind it, the draws are fewer."""

_FEWEST_DRAWS = 1_000

_FAR, _FAR_LIMITS = 3.0, math.sqrt(3)
"""How far out a source is tried by itself, in its standard deviations: nearly all of what is normal, and the limits."""

Shifts = Mapping[str, float]
"""How far off each source is taken to be, in its standard deviations, by its key."""


@attrs.frozen
class Doubt:
    """How far off a value may be. `draws` are differences from it, in base units, where they were needed."""

    form: Form
    standard: float
    half: float
    """Within this distance of the value lie 95 % of what it may be."""

    how: str
    draws: tuple[float, ...] = ()
    lost: int = 0
    """Draws for which the formula had no value."""

    stated: bool = True
    """Whether more is said of what is behind it than the step of a readout, which leaves out all that matters."""

    @property
    def known(self) -> bool:
        """Whether it is known how far off the value may be."""
        return self.standard > 0 and self.stated


UNKNOWN = Doubt(NOTHING, 0.0, 0.0, "")
"""Nothing is known to be off."""


@attrs.frozen
class _Operand:
    """One value in a formula: a result of another sheet, or a reading or a fact with its form."""

    name: str
    key: str
    value: Fraction
    form: Form
    inner: _Sheet | None = None
    behind: Behind | None = None
    inner_key: str = ""

    terms: tuple[tuple[str, float], ...] = attrs.field(init=False)
    """What each source, by its key, moves it, in steps of two to the power `exponent`: short fractions keep the
    arithmetic short, and less than a thousandth of a hundredth of the uncertainty is lost."""

    exponent: int = attrs.field(init=False)

    @exponent.default
    def _exponent(self) -> int:
        return math.frexp(self.form.standard)[1] - 18

    @terms.default
    def _terms(self) -> tuple[tuple[str, float], ...]:
        exponent = self._exponent()
        return tuple((source.key, math.ldexp(c, -exponent)) for source, c in self.form.terms)

    def moved(self, z: Shifts) -> Fraction:
        """The value with every source of its form off by so many standard deviations."""
        steps = round(math.fsum([c * z[key] for key, c in self.terms]))
        over, under, exponent = self.value.numerator, self.value.denominator, self.exponent
        if exponent >= 0:
            return Fraction(over + (steps << exponent) * under, under)
        return Fraction((over << -exponent) + steps * under, under << -exponent)


@attrs.define
class _Sheet:
    """One working out of a formula, with all its results: what each of them needs is worked out once."""

    origin: Worked
    """One of the results."""

    behind: Behind
    then: Then
    operands: tuple[_Operand, ...]
    models: tuple[str, ...]
    """Calculations in the formula whose own model may be off."""

    at_rest: Outcome
    nudged: list[tuple[Form, Outcome, Outcome]]
    """For each operand that may be off, its form and the outcomes one standard uncertainty of it below and above."""

    sources: dict[str, Source]
    order: tuple[_Sheet, ...]
    """Every sheet behind this one, each after those that stand in it."""

    tried: list[tuple[Shifts, Outcome]] | None = None
    drawn: list[Outcome] = attrs.field(factory=list)
    rng: random.Random | None = None
    """Where the draws go on from."""

    @property
    def size(self) -> int:
        """Values that stand in it and in the sheets behind it."""
        return sum(len(sheet.operands) for sheet in (*self.order, self))

    @property
    def seed(self) -> int:
        """What the draws begin from: the formula and all that stands in it."""
        values = self.origin.values
        texts = " ".join(f"{x.name}[{x.key}] {values.get(x.name, {}).get(x.key, '')}" for x in self.operands)
        return zlib.crc32(f"{self.origin.routine} {self.origin.place} {texts}".encode())


class Budget:
    """The uncertainties of one run's values. `serials` and the facts are those of its state."""

    def __init__(
        self, program: Routines, serials: Mapping[str, str], facts: Mapping[str, str], draws: int = DRAWS
    ) -> None:
        self._program = program
        self._readings = ReadingForms(program, serials)
        self._facts = facts
        self._draws = draws
        self._forms: dict[int, tuple[Origin, Form]] = {}
        self._sheets: dict[tuple[object, ...], _Sheet | None] = {}
        self._doubts: dict[tuple[str, str, str, Fraction, Form, int, bool, int | None], Doubt] = {}
        self._formulas: dict[str, dict[Place, Behind]] = {}

    def doubt(self, origin: Origin, value: Fraction, rough: bool = False, most: int | None = None) -> Doubt:
        """How far off a value may be. `value` is what the record says it is; `rough` is enough where nothing is judged
        by it, and two digits are told. No more than `most` draws are made, where that is said; the rest of them may
        follow later."""
        try:
            form = self.form(origin)
            sheet = self._sheet(origin) if isinstance(origin, Worked) else None
            known = (origin.routine, origin.name, origin.key, value, form, id(sheet), rough, most)
            if known not in self._doubts:
                found = self._found(origin, value, form, rough, most)
                if not (math.isfinite(found.standard) and math.isfinite(found.half)):
                    return UNKNOWN
                self._doubts[known] = attrs.evolve(found, stated=self._stated(origin, form))
            return self._doubts[known]
        except (OverflowError, ValueError):
            # A value past every float is told as it is; nobody asks how well it is known.
            return UNKNOWN

    def form(self, origin: Origin) -> Form:
        """The linear part of a value in its sources of error."""
        kept = self._forms.get(id(origin))
        if kept is not None and kept[0] is origin:
            return kept[1]
        if isinstance(origin, Taken):
            made = self._readings.taken(origin)
        else:
            self._work_out(origin)
            made = self._worked(origin)
        self._forms[id(origin)] = (origin, made)
        return made

    def _found(self, origin: Origin, value: Fraction, form: Form, rough: bool, most: int | None) -> Doubt:
        if isinstance(origin, Taken):
            covered = unc.coverage(form)
            assert covered is not None, "the readings of one series are combined with nothing"
            return Doubt(form, form.standard, covered.half, covered.how)
        sheet = self._sheet(origin)
        if sheet is None:
            return UNKNOWN
        if self._straight(sheet, origin, value, form):
            covered = unc.coverage(form)
            if covered is not None:
                return Doubt(form, form.standard, covered.half, covered.how)
        return self._drawn(sheet, origin, value, form, rough, most)

    def _stated(self, origin: Origin, form: Form) -> bool:
        """Whether any source behind a value is more than the step of a readout."""
        sheet = self._sheet(origin) if isinstance(origin, Worked) else None
        keys = sheet.sources if sheet is not None else [source.key for source, _ in form.terms]
        return any(not key.startswith(READS_TO) for key in keys)

    # ------------------------------------------------------------------ formulas

    def _sheet(self, origin: Worked) -> _Sheet | None:
        """The working out a value is a result of; None in a procedure that is not the one that was run."""
        known = _working_out(origin)
        if known not in self._sheets:
            self._work_out(origin)
        return self._sheets[known]

    def _work_out(self, origin: Worked) -> None:
        """Fill in the sheet of a value, and before it those of all that stands behind it, which may be a long way."""
        begun: dict[tuple[object, ...], tuple[Behind, Then, Outcome]] = {}
        todo = [origin]
        while todo:
            at = todo[-1]
            known = _working_out(at)
            if known in self._sheets:
                todo.pop()
                continue
            if known not in begun:
                behind = self._behind(at)
                if behind is None:
                    self._sheets[known] = None
                    continue
                then = self._then(at)
                begun[known] = (behind, then, behind.outcome(then))
                operands = [at.origins.get(name, {}).get(key) for name, key in sorted(begun[known][1].asked)]
                todo += [x for x in operands if isinstance(x, Worked) and _working_out(x) not in self._sheets]
                continue
            self._sheets[known] = self._worked_out(at, *begun.pop(known))
            todo.pop()

    def _worked_out(self, origin: Worked, behind: Behind, then: Then, at_rest: Outcome) -> _Sheet:
        operands: list[_Operand] = []
        nudged: list[tuple[Form, Outcome, Outcome]] = []
        sources: dict[str, Source] = {}
        order: dict[int, _Sheet] = {}
        for name, key in sorted(then.asked):
            operand = self._operand(origin, then, name, key)
            operands.append(operand)
            if operand.inner is not None:
                order.update((id(x), x) for x in (*operand.inner.order, operand.inner))
                # Every source behind it, also one whose first-order part is nothing where the value stands.
                sources.update(operand.inner.sources)
            sources.update((source.key, source) for source, _ in operand.form.terms)
            if operand.form.standard > 0:
                step = Fraction(operand.form.standard)
                then.shifted[name, key] = operand.value - step
                under = behind.outcome(then)
                then.shifted[name, key] = operand.value + step
                nudged.append((operand.form, under, behind.outcome(then)))
                del then.shifted[name, key]
        models = tuple(_models(behind.formula))
        for model in models:
            source = Source(f"model {model}")
            sources[source.key] = source
            then.offs[model] = 1.0
            nudged.append((Form(((source, 1.0),)), None, behind.outcome(then)))
            del then.offs[model]
        return _Sheet(origin, behind, then, tuple(operands), models, at_rest, nudged, sources, tuple(order.values()))

    def _worked(self, origin: Worked) -> Form:
        """By how much the formula answers to each value in it, times what each of those is off."""
        sheet, behind = self._sheet(origin), self._behind(origin)
        if sheet is None or behind is None:
            return NOTHING
        at_rest = behind.pick(sheet.at_rest, origin.key)
        if at_rest is None:
            return NOTHING
        parts = []
        for form, below, beyond in sheet.nudged:
            under, above = behind.pick(below, origin.key), behind.pick(beyond, origin.key)
            parts.append((_change(under, at_rest, above, behind.bearing) / form.standard, form))
        return unc.combined(parts)

    def _operand(self, origin: Worked, then: Then, name: str, key: str) -> _Operand:
        source = origin.origins.get(name, {}).get(key)
        value = then.amount(name, key) if key in origin.values.get(name, {}) else Fraction(0)
        if source is None:
            return _Operand(name, key, value, self._readings.fact(origin, name))
        if isinstance(source, Taken):
            return _Operand(name, key, value, self.form(source))
        if source.kind == "argument" and not self._all_sources(source):
            # Handed over as a plain number: what the procedure says of its input holds.
            return _Operand(name, key, value, self._readings.fact(origin, name, handed=True))
        return _Operand(name, key, value, self.form(source), self._sheet(source), self._behind(source), source.key)

    def _all_sources(self, origin: Worked) -> dict[str, Source]:
        sheet = self._sheet(origin)
        return sheet.sources if sheet is not None else {}

    def _behind(self, origin: Worked) -> Behind | None:
        """The formula behind a value; None in a procedure that is not the one that was run."""
        if origin.routine not in self._formulas:
            self._formulas[origin.routine] = formulas_of(self._program.routine(origin.routine))
        return self._formulas[origin.routine].get((origin.kind, origin.place, origin.name))

    def _then(self, origin: Worked) -> Then:
        return Then(origin, self._program.routine(origin.routine).symbols, self._facts)

    # ------------------------------------------------------------------ trials and draws

    def _straight(self, sheet: _Sheet, origin: Worked, value: Fraction, form: Form) -> bool:
        """Whether the value follows its linear form over what it may be off: on a few draws of all sources together,
        and with each source by itself far out, where a step or an edge of the formula may lie that few draws meet."""
        if sheet.tried is None:
            sheet.tried = [(z, self._outcome(sheet, z)) for z in _trials(sheet.sources)]
        squares = 0.0
        for at, (z, outcome) in enumerate(sheet.tried):
            off = self._off(outcome, origin, value)
            if off is None:
                return False
            left = off - math.fsum(c * z[source.key] for source, c in form.terms)
            if at < len(sheet.tried) - _TRIALS:
                if abs(left) > form.standard:
                    return False
            else:
                squares += left**2
        return math.sqrt(squares / _TRIALS) <= _STRAIGHT * form.standard

    def _drawn(
        self, sheet: _Sheet, origin: Worked, value: Fraction, form: Form, rough: bool, most: int | None
    ) -> Doubt:
        """Draws of all sources together, put through every formula behind the value."""
        fewest = min(self._draws, _FEWEST_DRAWS)
        wanted = fewest if rough else max(fewest, min(self._draws, _MOST_MOVED // sheet.size))
        wanted = wanted if most is None else min(wanted, most)
        import random  # where nothing is drawn it need not be there

        rng, sources = sheet.rng or random.Random(sheet.seed), sheet.sources.items()
        while len(sheet.drawn) < wanted:
            sheet.drawn.append(self._outcome(sheet, {key: _draw(rng, source) for key, source in sources}))
        sheet.rng = rng
        drawn = sheet.drawn[:wanted]
        offs = (self._off(outcome, origin, value) for outcome in drawn)
        draws = [off for off in offs if off is not None]
        lost = len(drawn) - len(draws)
        if len(draws) <= lost:
            how = "k = 2; the formula has no value for much of what its inputs may be off"
            return Doubt(form, form.standard, 2 * form.standard, how, tuple(draws), lost)
        mean = math.fsum(draws) / len(draws)
        standard = math.sqrt(math.fsum((x - mean) ** 2 for x in draws) / (len(draws) - 1))
        how = f"Monte Carlo, {len(drawn)} draws, seed {sheet.seed}"
        if lost:
            how += f"; the formula has no value for {lost} of them"
        half = sorted(abs(x) for x in draws)[math.ceil(0.95 * len(draws)) - 1]
        return Doubt(form, standard, half, how, tuple(draws), lost)

    def _off(self, outcome: Outcome, origin: Worked, value: Fraction) -> float | None:
        """How far one result of an outcome is from the value."""
        behind = self._behind(origin)
        assert behind is not None
        drawn = behind.pick(outcome, origin.key)
        return None if drawn is None else float(apart(drawn, value, behind.bearing))

    def _outcome(self, sheet: _Sheet, z: Shifts) -> Outcome:
        """What the formula gives with every source off by so many of its standard deviations."""
        done: dict[int, Outcome] = {}
        for inner in sheet.order:
            done[id(inner)] = self._shifted(inner, z, done)
        return self._shifted(sheet, z, done)

    def _shifted(self, sheet: _Sheet, z: Shifts, done: Mapping[int, Outcome]) -> Outcome:
        """The same for one sheet; `done` are the outcomes of those that stand in it."""
        then = sheet.then
        for x in sheet.operands:
            if x.inner is not None and x.behind is not None:
                drawn = x.behind.pick(done[id(x.inner)], x.inner_key)
                if drawn is None:
                    return None
                then.shifted[x.name, x.key] = drawn
            elif x.terms:
                # From the value that stood in the formula, which need not be the mean: see `judged by worst`.
                then.shifted[x.name, x.key] = x.moved(z)
        for model in sheet.models:
            then.offs[model] = z[f"model {model}"]
        return sheet.behind.outcome(then)


def _working_out(origin: Worked) -> tuple[object, ...]:
    """What tells workings out of formulas apart. Operands go by which object they are: those of a sheet live as long
    as it does, since it holds its origin."""
    values = tuple((name, *keys.items()) for name, keys in origin.values.items())
    operands = tuple((name, key, id(x)) for name, keys in origin.origins.items() for key, x in keys.items())
    return (origin.routine, origin.kind, origin.place, values, operands, origin.loops)


def _models(formula: m.Formula) -> list[str]:
    """The calculations in a formula whose own model may be off."""
    calculations = (registry.find(name) for name in formula.calls)
    return [calc.name for calc in calculations if calc is not None and calc.own_uncertainty is not None]


def _change(under: Fraction | None, at_rest: Fraction, above: Fraction | None, bearing: bool) -> float:
    """The change of a result for one step of an operand; at the edge of what a formula takes only one side is there."""
    if above is not None and under is not None:
        return float(apart(above, under, bearing)) / 2
    if above is not None:
        return float(apart(above, at_rest, bearing))
    return float(apart(at_rest, under, bearing)) if under is not None else 0.0


def _trials(sources: Mapping[str, Source]) -> Iterator[Shifts]:
    """Each source by itself far out, both ways; then a few draws of all together, the same for everybody.

    Of a great many sources, those that are one reading's own go out in groups: each group as far as one would.
    """
    rest = dict.fromkeys(sources, 0.0)
    for group in _groups(sources):
        for way in (1.0, -1.0):
            far = {key: _FAR_LIMITS if sources[key].shape == "limits" else _FAR for key in group}
            yield {**rest, **{key: way * size / math.sqrt(len(group)) for key, size in far.items()}}
    import random

    rng = random.Random(0)
    for _ in range(_TRIALS):
        yield {key: _draw(rng, source) for key, source in sources.items()}


def _groups(sources: Mapping[str, Source]) -> list[list[str]]:
    own = [key for key in sources if key.startswith((READS_TO, REPEATS_TO))]
    if len(own) <= _MOST_ALONE:
        return [[key] for key in sources]
    return [[key] for key in sources if not key.startswith((READS_TO, REPEATS_TO))] + [
        own[i::_MOST_ALONE] for i in range(_MOST_ALONE)
    ]


_DRAWS: dict[str, Callable[[random.Random, Source], float]] = {
    "normal": lambda rng, source: rng.gauss(0.0, 1.0),
    "limits": lambda rng, source: rng.uniform(-math.sqrt(3), math.sqrt(3)),
    "t": lambda rng, source: (
        rng.gauss(0.0, 1.0) / math.sqrt(rng.gammavariate(source.freedom / 2, 2.0) / source.freedom)
    ),
}


def _draw(rng: random.Random, source: Source) -> float:
    """One draw of a source, in its standard deviations."""
    return _DRAWS[source.shape](rng, source)
