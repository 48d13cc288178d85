"""How far off a value of the run may be: the errors of the instruments behind it, carried through the formulas.

First order where the formulas are near enough to straight lines over the size of the errors; otherwise draws of all
sources together, put through the formulas (JCGM 101:2008), with a seed that the value itself gives, so that anybody
who recomputes the record draws the same.
"""

from __future__ import annotations

import math
import random
import zlib
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from typing import Protocol

import attrs

from proclang.field import registry
from proclang.program import model as m
from proclang.program.origins import Origin, Reading, Taken, Worked
from proclang.program.then import Behind, Then, find_formula, stored_value
from proclang.values import uncertainty as unc
from proclang.values.quantity import Quantity, difference
from proclang.values.uncertainty import NOTHING, Form, Source

DRAWS = 10_000
"""Draws of a Monte Carlo: a share near 95 % is then known to 0.2 %."""

_TRIALS = 40
_STRAIGHT = 0.1
"""How far, in standard uncertainties and root mean square, a formula may be from its straight line: what then is left
out changes the standard uncertainty by less than one part in a hundred."""

_FAR, _FAR_LIMITS = 3.0, math.sqrt(3)
"""How far out a source is tried by itself, in its standard deviations: nearly all of what is normal, and the limits."""

_FEWEST_FOR_SCATTER = 3
"""Readings from which their own scatter says how well they repeat, where nobody else has said it. Common practice, no
source: the factor for two readings is 12.7."""


@attrs.frozen
class Doubt:
    """How far off a value may be. `draws` are differences from it, in base units, where they were needed."""

    form: Form
    standard: float
    half: float
    """Within this distance of the value lie 95 % of what it may be."""

    how: str
    draws: tuple[float, ...] = ()

    @property
    def known(self) -> bool:
        """Whether anything is known to be off at all."""
        return self.standard > 0


UNKNOWN = Doubt(NOTHING, 0.0, 0.0, "")
"""Nothing is known to be off."""


class Routines(Protocol):
    """Where routines are looked up: a program, or one procedure by itself."""

    def routine(self, name: str) -> m.Routine:
        """A routine by the name frames carry."""


class Budget:
    """The uncertainties of one run's values. `serials` and the facts are those of its state."""

    def __init__(
        self, program: Routines, serials: Mapping[str, str], facts: Mapping[str, str], draws: int = DRAWS
    ) -> None:
        self._program = program
        self._serials = serials
        self._facts = facts
        self._draws = draws
        self._forms: dict[int, tuple[Origin, Form]] = {}
        self._asked: dict[int, tuple[Origin, tuple[tuple[str, str], ...]]] = {}
        self._doubts: dict[tuple[str, str, str, Fraction, Form], Doubt] = {}
        self._formulas: dict[tuple[str, str, str, str], Behind | None] = {}

    # ------------------------------------------------------------------ what is asked from outside

    def doubt(self, origin: Origin, value: Fraction) -> Doubt:
        """How far off a value may be. `value` is what the record says it is."""
        try:
            form = self.form(origin)
            known = (origin.routine, origin.name, origin.key, value, form)
            if known not in self._doubts:
                self._doubts[known] = self._found(origin, value, form)
            return self._doubts[known]
        except OverflowError:
            # A value past every float is told as it is; nobody asks how well it is known.
            return UNKNOWN

    def _found(self, origin: Origin, value: Fraction, form: Form) -> Doubt:
        if isinstance(origin, Taken) or self._straight(origin, value, form):
            covered = unc.coverage(form)
            if covered is not None:
                return Doubt(form, form.standard, covered.half, covered.how)
        return self._drawn(origin, value, form)

    def of_reading(self, origin: Taken, at: int) -> Form:
        """The form of one reading of a series by itself."""
        return self._mean(origin, origin.readings[at : at + 1])

    def form(self, origin: Origin) -> Form:
        """The linear part of a value in its sources of error."""
        kept = self._forms.get(id(origin))
        if kept is not None and kept[0] is origin:
            return kept[1]
        made = self._taken(origin) if isinstance(origin, Taken) else self._worked(origin)
        self._forms[id(origin)] = (origin, made)
        return made

    # ------------------------------------------------------------------ readings

    def _taken(self, origin: Taken) -> Form:
        readings = origin.readings[: origin.upto]
        symbol = self._program.routine(origin.routine).symbols.get(origin.name)
        if symbol is not None and symbol.facets.worst and len(readings) > 1:
            # One reading stands for all of them: it is as far off as the least certain of them.
            forms = [self._mean(origin, readings[i : i + 1]) for i in range(len(readings))]
            return max(forms, key=lambda form: form.standard)
        return self._mean(origin, readings)

    def _mean(self, origin: Taken, readings: Sequence[Reading]) -> Form:
        """The mean of some readings: what they share stays as it is, what is each one's own grows less."""
        routine = self._program.routine(origin.routine)
        symbol = routine.symbols.get(origin.name)
        if symbol is None or not readings:
            return NOTHING
        number = isinstance(symbol.type, m.Amount) and symbol.type.dimension.is_number
        count = len(readings)
        alike = count > 1 and len({reading.value for reading in readings}) == 1
        called = f"{origin.routine} {origin.name}[{origin.key}]"
        parts: list[tuple[float, Form]] = []
        repeats = False
        for reading in readings:
            instrument = routine.instruments.get(reading.instrument)
            terms: list[tuple[Source, float]] = []
            if instrument is not None:
                # Readings that all show the same say nothing of what lies within one step of the readout.
                own = f"#{readings[0].number if alike else reading.number}"
                terms = self._instrument(instrument, reading, own, number)
                repeats = repeats or instrument.repeats_to is not None or instrument.in_all
            known = symbol.facets.known
            if known is not None:
                size = _standard(known, stored_value(reading.value), number)
                terms.append((Source(f"known to {called}", "normal" if known.k is not None else "limits"), size))
                repeats = True
            parts.append((1 / count, Form(tuple(term for term in terms if term[1] > 0))))
        if count >= _FEWEST_FOR_SCATTER and not repeats and not alike:
            scatter = self._scatter(symbol, readings)
            source = Source(f"scatter {called} #{readings[0].number}", "t", count - 1)
            parts.append((1.0, Form(((source, scatter / math.sqrt(count)),))))
        joined = unc.combined(parts)
        return Form(joined.terms)  # readings of one series share by design; that alone is no correlation between inputs

    def _scatter(self, symbol: m.Symbol, readings: Sequence[Reading]) -> float:
        assert isinstance(symbol.type, m.Amount)
        dimension = symbol.type.dimension
        first = Quantity(stored_value(readings[0].value), dimension)
        return unc.deviation(difference(Quantity(stored_value(r.value), dimension), first).value for r in readings)

    def _instrument(
        self, instrument: m.Instrument, reading: Reading, own: str, number: bool
    ) -> list[tuple[Source, float]]:
        value = stored_value(reading.value)
        who = self._serials.get(reading.instrument) or reading.instrument
        step = unc.of_resolution(float(instrument.reads_to.value)) if instrument.reads_to is not None else 0.0
        repeats = _standard(instrument.repeats_to, value, number)
        terms: list[tuple[Source, float]] = [
            (Source(f"reads to {own}", "limits"), step),
            (Source(f"repeats to #{reading.number}"), repeats),
        ]
        accurate = instrument.accurate_to
        if accurate is not None:
            whole = _standard(accurate, value, number)
            if instrument.in_all:
                # The figure holds all of it. What every reading has for itself is taken out, so that a difference of
                # two readings does not cancel it.
                whole = math.sqrt(max(0.0, whole**2 - step**2 - repeats**2))
            shape = "normal" if accurate.k is not None else "limits"
            terms.append((Source(f"accurate to {who}", shape), whole))
        calibrated = instrument.calibrated_to
        if calibrated is not None:
            shape = "normal" if calibrated.k is not None else "limits"
            terms.append((Source(f"calibrated to {who}", shape), _standard(calibrated, value, number)))
        drift = _standard(instrument.drifts_by, value, number)
        terms.append((Source(f"drifts by {who} sitting {reading.sitting + 1}", "limits"), drift))
        return terms

    # ------------------------------------------------------------------ formulas

    def _worked(self, origin: Worked) -> Form:
        """By how much the formula answers to each value in it, and what each of those is off."""
        behind = self._behind(origin)
        if behind is None:
            return NOTHING
        then = self._then(origin)
        at_rest = behind.result(then, origin.key)
        if at_rest is None:
            return NOTHING
        parts: list[tuple[float, Form]] = []
        for operand in sorted(then.asked):
            form = self._operand(origin, *operand)
            if form.standard > 0:
                centre, step = then.amount(*operand), Fraction(form.standard)
                then.shifted[operand] = centre + step
                above = behind.result(then, origin.key)
                then.shifted[operand] = centre - step
                under = behind.result(then, origin.key)
                del then.shifted[operand]
                parts.append((_slope(under, at_rest, above, behind.bearing) / form.standard, form))
        for model in _models(behind.formula):
            then.offs[model] = 1.0
            above = behind.result(then, origin.key)
            del then.offs[model]
            slope = _slope(None, at_rest, above, behind.bearing)
            parts.append((slope, Form(((Source(f"model {model}"), 1.0),))))
        return unc.combined(parts)

    def _operand(self, origin: Worked, name: str, key: str) -> Form:
        behind = origin.origins.get(name, {}).get(key)
        return self.form(behind) if behind is not None else self._fact(origin, name)

    def _fact(self, origin: Worked, name: str) -> Form:
        """What a fact of the site is known to, where the procedure says so."""
        symbol = self._program.routine(origin.routine).symbols.get(name)
        if symbol is None or symbol.how != "input" or symbol.facets.known is None:
            return NOTHING
        text = origin.values.get(name, {}).get("")
        known = symbol.facets.known
        if text is None:
            return NOTHING
        shape = "normal" if known.k is not None else "limits"
        number = isinstance(symbol.type, m.Amount) and symbol.type.dimension.is_number
        return Form(((Source(f"known to {name}", shape), _standard(known, stored_value(text), number)),))

    def _behind(self, origin: Worked) -> Behind | None:
        """The formula behind a value."""
        key = (origin.routine, origin.kind, origin.place, origin.name)
        if key not in self._formulas:
            self._formulas[key] = find_formula(self._program.routine(origin.routine), origin)
        return self._formulas[key]

    def _operands(self, origin: Worked, behind: Behind) -> tuple[tuple[str, str], ...]:
        """The values a formula asks for, by name and label."""
        kept = self._asked.get(id(origin))
        if kept is None or kept[0] is not origin:
            then = self._then(origin)
            behind.result(then, origin.key)
            kept = self._asked[id(origin)] = (origin, tuple(sorted(then.asked)))
        return kept[1]

    def _then(self, origin: Worked) -> Then:
        return Then(origin, self._program.routine(origin.routine).symbols, self._facts)

    def _bearing(self, origin: Origin) -> bool:
        """Whether a value goes round."""
        if isinstance(origin, Worked):
            behind = self._behind(origin)
            return behind is not None and behind.bearing
        symbol = self._program.routine(origin.routine).symbols.get(origin.name)
        return symbol is not None and isinstance(symbol.type, m.Amount) and symbol.type.dimension.is_bearing

    # ------------------------------------------------------------------ draws

    def _straight(self, origin: Worked, value: Fraction, form: Form) -> bool:
        """Whether the value follows its linear form over what it may be off: on a few draws of all sources together,
        and with each source by itself far out, where a step or an edge of the formula may lie that few draws meet."""
        sources = self._sources(origin)
        bearing = self._bearing(origin)

        def left(z: Mapping[str, float]) -> float:
            drawn = self._sample(origin, z)
            if drawn is None:
                return math.inf
            line = math.fsum(c * z[source.key] for source, c in form.terms if source.key in z)
            return float(_apart(drawn, value, bearing)) - line

        rest = dict.fromkeys(sources, 0.0)
        for key, source in sources.items():
            far = _FAR_LIMITS if source.shape == "limits" else _FAR
            if any(abs(left({**rest, key: z})) > form.standard for z in (far, -far)):
                return False
        rng = random.Random(0)  # the same trials for everybody
        squares = [left({key: _draw(rng, source) for key, source in sources.items()}) ** 2 for _ in range(_TRIALS)]
        return math.sqrt(math.fsum(squares) / _TRIALS) <= _STRAIGHT * form.standard

    def _drawn(self, origin: Origin, value: Fraction, form: Form) -> Doubt:
        """Draws of all sources together, put through every formula behind the value."""
        sources = self._sources(origin)
        seed = zlib.crc32(f"{origin.routine} {origin.name}[{origin.key}] {value}".encode())
        rng = random.Random(seed)
        draws: list[float] = []
        for _ in range(self._draws):
            z = {key: _draw(rng, source) for key, source in sources.items()}
            drawn = self._sample(origin, z)
            if drawn is not None:
                draws.append(float(_apart(drawn, value, self._bearing(origin))))
        if len(draws) < self._draws / 2:
            how = "k = 2; the formula has no value for much of what its inputs may be off"
            return Doubt(form, form.standard, 2 * form.standard, how)
        mean = math.fsum(draws) / len(draws)
        standard = math.sqrt(math.fsum((x - mean) ** 2 for x in draws) / (len(draws) - 1))
        how = f"Monte Carlo, {len(draws)} draws, seed {seed}"
        half = sorted(abs(x) for x in draws)[math.ceil(0.95 * len(draws)) - 1]
        return Doubt(form, standard, half, how, tuple(draws))

    def _sources(self, origin: Origin) -> dict[str, Source]:
        """Every source behind a value, also one whose first-order part is nothing where the value stands."""
        found: dict[str, Source] = {}
        if isinstance(origin, Taken):
            return {source.key: source for source, _ in self.form(origin).terms}
        behind = self._behind(origin)
        if behind is None:
            return found
        for name, key in self._operands(origin, behind):
            operand = origin.origins.get(name, {}).get(key)
            if operand is not None:
                found.update(self._sources(operand))
            else:
                found.update((source.key, source) for source, _ in self._fact(origin, name).terms)
        found.update((f"model {model}", Source(f"model {model}")) for model in _models(behind.formula))
        return found

    def _sample(self, origin: Origin, z: Mapping[str, float]) -> Fraction | None:
        """The value with every source off by so many of its standard deviations."""
        if isinstance(origin, Taken):
            return _moved(self._representative(origin), self.form(origin), z)
        behind = self._behind(origin)
        if behind is None:
            return None
        then = self._then(origin)
        for name, key in self._operands(origin, behind):
            operand = origin.origins.get(name, {}).get(key)
            if operand is not None:
                drawn = self._sample(operand, z)
                if drawn is None:
                    return None
                then.shifted[(name, key)] = drawn
            elif (form := self._fact(origin, name)).terms:
                then.shifted[(name, key)] = _moved(stored_value(origin.values[name][key]), form, z)
        for model in _models(behind.formula):
            then.offs[model] = z.get(f"model {model}", 0.0)
        return behind.result(then, origin.key)

    def _representative(self, origin: Taken) -> Fraction:
        values = [stored_value(reading.value) for reading in origin.readings[: origin.upto]]
        if len(values) == 1:
            return values[0]
        symbol = self._program.routine(origin.routine).symbols.get(origin.name)
        if symbol is not None and isinstance(symbol.type, m.Amount) and symbol.type.dimension.is_bearing:
            first = values[0]
            return first + sum((_apart(x, first, True) for x in values), Fraction(0)) / len(values)
        return sum(values, Fraction(0)) / len(values)


def _models(formula: m.Formula) -> list[str]:
    """The calculations in a formula whose own model may be off."""
    calculations = (registry.find(name) for name in formula.calls)
    return [calc.name for calc in calculations if calc is not None and calc.own_uncertainty is not None]


def _moved(value: Fraction, form: Form, z: Mapping[str, float]) -> Fraction:
    """A value with every source of its form off by so many standard deviations."""
    size = form.standard
    if not size:
        return value
    off = math.fsum(c * z[source.key] for source, c in form.terms)
    # Short fractions keep the arithmetic short; less than a thousandth of a hundredth of the uncertainty is lost.
    step = Fraction(2) ** (math.frexp(size)[1] - 18)
    return value + round(off / float(step)) * step


def _slope(under: Fraction | None, at_rest: Fraction, above: Fraction | None, bearing: bool) -> float:
    """The change of a result for one step of an operand; at the edge of what a formula takes only one side is there."""
    if above is not None and under is not None:
        return float(_apart(above, under, bearing)) / 2
    if above is not None:
        return float(_apart(above, at_rest, bearing))
    return float(_apart(at_rest, under, bearing)) if under is not None else 0.0


def _apart(a: Fraction, b: Fraction, bearing: bool) -> Fraction:
    """`a - b`; for bearings the shorter way round."""
    return (a - b + 180) % 360 - 180 if bearing else a - b


def _standard(claim: m.Claim | None, value: Fraction, number: bool) -> float:
    """The standard uncertainty a claim comes to, in base units, for a reading of this value. Of what is a plain number
    itself, such as a humidity, 2 % is an amount and no share."""
    if claim is None:
        return 0.0
    size = float(claim.amount.value)
    if claim.share and not number:
        size *= abs(float(value))
    return unc.of_limits(size) if claim.k is None else unc.of_expanded(size, float(claim.k))


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
