"""How far off readings and facts are, by where that comes from: what instruments, certificates and scatter say of them.

The keys of sources say what is shared: what an instrument is off by its serial number, the zero of an instrument also
by the sitting; what a reading has for itself by its number in the run.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Protocol

from proclang.program import model as m
from proclang.program.origins import Reading, Taken, Worked
from proclang.program.then import stored_value
from proclang.values import uncertainty as unc
from proclang.values.quantity import Quantity, difference
from proclang.values.uncertainty import NOTHING, Form, Source

_FEWEST_FOR_SCATTER = 3
"""Readings from which their own scatter says how well they repeat, where nobody else has said it. Common practice, no
source: the factor for two readings is 12.7."""


READS_TO = "reads to"
"""What the keys of the steps of readouts begin with."""

REPEATS_TO = "repeats to"
"""Likewise of what readings repeat to."""


class Routines(Protocol):
    """Where routines are looked up: a program, or one procedure by itself."""

    def routine(self, name: str) -> m.Routine:
        """A routine by the name frames carry."""


def apart(a: Fraction, b: Fraction, bearing: bool) -> Fraction:
    """`a - b`; for bearings the shorter way round."""
    return (a - b + 180) % 360 - 180 if bearing else a - b


class ReadingForms:
    """The forms of readings and of facts. `serials` are the numbers engraved on the instruments in hand, by name."""

    def __init__(self, program: Routines, serials: Mapping[str, str]) -> None:
        self._program = program
        self._serials = serials

    def taken(self, origin: Taken) -> Form:
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
        # What is off in one series by eye is the same for all its readings, and another one in the next series.
        labelled = f"{origin.name}[{origin.key}]" if origin.key else origin.name
        called = f"{labelled} #{origin.readings[0].number} of {origin.routine}"
        parts: list[tuple[float, Form]] = []
        repeats = False
        for reading in readings:
            instrument = routine.instruments.get(reading.instrument)
            terms: list[tuple[Source, float]] = []
            if instrument is not None:
                # Readings that all show the same say nothing of what lies within one step of the readout.
                own = f"#{readings[0].number if alike else reading.number}"
                terms = self._instrument(instrument, reading, own, symbol.type)
                repeats = repeats or instrument.repeats_to is not None or instrument.in_all
            known = symbol.facets.known
            if known is not None:
                size = _signed(known, stored_value(reading.value), number)
                terms.append((Source(f"known to {called}", _shape(known)), size))
                repeats = True
            parts.append((1 / count, Form(tuple(term for term in terms if term[1]))))
        if count >= _FEWEST_FOR_SCATTER and not repeats and not alike:
            scatter = self._scatter(symbol, readings)
            source = Source(f"scatter {called}", "t", count - 1)
            parts.append((1.0, Form(((source, scatter / math.sqrt(count)),))))
        joined = unc.combined(parts)
        return Form(joined.terms)  # readings of one series share by design; that alone is no correlation between inputs

    def _scatter(self, symbol: m.Symbol, readings: Sequence[Reading]) -> float:
        assert isinstance(symbol.type, m.Amount)
        dimension = symbol.type.dimension
        first = Quantity(stored_value(readings[0].value), dimension)
        return unc.deviation(difference(Quantity(stored_value(r.value), dimension), first).value for r in readings)

    def _instrument(
        self, instrument: m.Instrument, reading: Reading, own: str, read: m.Type
    ) -> list[tuple[Source, float]]:
        value = stored_value(reading.value)
        number = isinstance(read, m.Amount) and read.dimension.is_number
        who = self._serials.get(reading.instrument) or reading.instrument
        # Makers number for themselves: one serial number is one instrument only among those that read one quantity.
        kind = f"#{','.join(map(str, read.dimension.powers)) if isinstance(read, m.Amount) else ''}"
        step = unc.of_resolution(float(instrument.reads_to.value)) if instrument.reads_to is not None else 0.0
        repeats = _standard(instrument.repeats_to, value, number)
        terms: list[tuple[Source, float]] = [
            (Source(f"{READS_TO} {own}", "limits"), step),
            (Source(f"{REPEATS_TO} #{reading.number}"), repeats),
        ]
        accurate = instrument.accurate_to
        if accurate is not None:
            whole = _signed(accurate, value, number)
            if instrument.in_all:
                # The figure holds all of it. What every reading has for itself is taken out, so that a difference of
                # two readings does not cancel it.
                whole = math.copysign(math.sqrt(max(0.0, whole**2 - step**2 - repeats**2)), whole)
            terms.append((Source(f"accurate to {who} {kind}", _shape(accurate)), whole))
        calibrated = instrument.calibrated_to
        if calibrated is not None:
            size = _signed(calibrated, value, number)
            terms.append((Source(f"calibrated to {who} {kind}", _shape(calibrated)), size))
        if instrument.drifts_by is not None:
            key = f"drifts by {who} sitting {reading.sitting + 1} {kind}"
            terms.append((Source(key, "limits"), _signed(instrument.drifts_by, value, number)))
        return terms

    def fact(self, origin: Worked, name: str, handed: bool = False) -> Form:
        """What a fact of the site is known to, where the procedure says so; or a number it is `handed`, which is its
        own."""
        symbol = self._program.routine(origin.routine).symbols.get(name)
        if symbol is None or symbol.how != "input" or symbol.facets.known is None:
            return NOTHING
        text = origin.values.get(name, {}).get("")
        known = symbol.facets.known
        if text is None:
            return NOTHING
        number = isinstance(symbol.type, m.Amount) and symbol.type.dimension.is_number
        size = _signed(known, stored_value(text), number)
        called = f"{name} #of {origin.routine}" if handed else name
        return Form(((Source(f"known to {called}", _shape(known)), size),)) if size else NOTHING


def _standard(claim: m.Claim | None, value: Fraction, number: bool) -> float:
    """The standard uncertainty a claim comes to, in base units, for a reading of this value. Of what is a plain number
    itself, such as a humidity, 2 % is an amount and no share."""
    if claim is None:
        return 0.0
    size = float(claim.amount.value)
    if claim.share and not number:
        size *= abs(float(value))
    return unc.of_limits(size) if claim.k is None else unc.of_expanded(size, float(claim.k))


def _signed(claim: m.Claim, value: Fraction, number: bool) -> float:
    """The same with the sign of the value where it is a share of it: what reads 2 % too much reads so either way, and
    the difference of 100 and -100 is 2 % too much as well."""
    size = _standard(claim, value, number)
    return -size if claim.share and not number and value < 0 else size


def _shape(claim: m.Claim) -> str:
    """What is known of an error by its claim: limits, or with a coverage factor a standard deviation."""
    return "limits" if claim.k is None else "normal"
