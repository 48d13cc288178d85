"""The verdict on a value that may be off: what it is by itself, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import attrs

from proclang.engine.wording import uncertainty_text
from proclang.program import model as m
from proclang.program.budget import Budget, Doubt
from proclang.program.origins import Origin, Taken
from proclang.values import conformity
from proclang.values.quantity import Quantity
from proclang.values.tolerance import Limits, Outcome, Verdict, judge
from proclang.values.uncertainty import contributions

_NEVER_CERTAIN = 0.9999
"""No probability is told as more than this: what the instruments are said to do is not known any better."""


@attrs.frozen
class Judgement:
    """A verdict, the doubt it was made with, and the probability that the value conforms; None where nothing is known
    of how far off the value may be."""

    verdict: Verdict
    doubt: Doubt | None = None
    conforms: float | None = None

    def told(self, symbol: m.Symbol) -> dict[str, Any]:
        """What an event says of it: the probability; by the guarded rule also how far off the value may be, and what
        is asked for."""
        doubt, conforms, asked = self.doubt, self.conforms, symbol.facets.guarded
        if doubt is None or conforms is None:
            return {}
        if asked is None:
            # A simple verdict that nobody could doubt needs no number beside it.
            return {} if _beyond_doubt(conforms) else {"conforms": percent_text(conforms)}
        return {
            "off": doubt_texts(symbol, doubt),
            "conforms": percent_text(conforms),
            "guarded": percent_text(float(asked)),
        }


def doubt_texts(symbol: m.Symbol, doubt: Doubt) -> list[str]:
    """How far off a value may be, as it is recorded: the standard uncertainty, the distance within which 95 % lie, and
    how the one follows from the other, and the largest of what it is made of; nothing of that where it was drawn."""
    parts = [] if doubt.draws else contributions(doubt.form)[:_MOST_PARTS]
    made_of = ", ".join(f"{name}: {uncertainty_text(symbol, size)}" for name, size in parts)
    return [uncertainty_text(symbol, doubt.standard), uncertainty_text(symbol, doubt.half), doubt.how, made_of]


_MOST_PARTS = 4
"""Sources of error that are told of a value; what is less does not change the sum."""


def _beyond_doubt(conforms: float) -> bool:
    return not 1 - _NEVER_CERTAIN < conforms < _NEVER_CERTAIN


def percent_text(share: float) -> str:
    """A probability for people: whole percents in the middle, a decimal toward the ends, never nothing nor all."""
    if share >= _NEVER_CERTAIN:
        return "more than 99.99 %"
    if share <= 1 - _NEVER_CERTAIN:
        return "less than 0.01 %"
    if 0.1 <= share <= 0.9:
        return f"{math.floor(share * 100 + 0.5)} %"
    # Away from certainty: what falls short of what is asked for is never told as having reached it.
    hundredths = math.floor(share * 10_000 + 1e-9) if share > 0.5 else math.ceil(share * 10_000 - 1e-9)
    text = f"{hundredths / 100:.2f}".rstrip("0").rstrip(".")
    return f"{text} %"


def judge_values(
    budget: Budget, symbol: m.Symbol, origin: Origin | None, values: Sequence[Fraction], allowed: Sequence[Limits]
) -> Judgement:
    """The verdict on a value, or the worst of those on each of a series, within every one of its limits.

    By the simple rule a value is judged as it stands, by the guarded one by the probability that it conforms.
    """
    judgements = [
        _judge_one(budget, symbol, _one_of(origin, at, len(values)), value, allowed) for at, value in enumerate(values)
    ]
    return max(judgements, key=_how_bad)


_RANK = {Outcome.PASSES: 0, Outcome.UNDECIDED: 1, Outcome.FAILS: 2}


def _how_bad(judgement: Judgement) -> tuple[int, Fraction, float]:
    verdict = judgement.verdict
    return _RANK[verdict.outcome], abs(verdict.beyond), -(judgement.conforms if judgement.conforms is not None else 1.0)


def _one_of(origin: Origin | None, at: int, count: int) -> Origin | None:
    """What stands behind one of several readings that are judged each by itself."""
    if count == 1 or not isinstance(origin, Taken) or origin.upto != count:
        return origin
    return origin._replace(readings=origin.readings[at : at + 1], upto=1)


def _judge_one(
    budget: Budget, symbol: m.Symbol, origin: Origin | None, value: Fraction, allowed: Sequence[Limits]
) -> Judgement:
    assert isinstance(symbol.type, m.Amount)
    verdicts = [judge(Quantity(value, symbol.type.dimension), limits) for limits in allowed]
    plain = max(verdicts, key=lambda verdict: abs(verdict.beyond))
    asked = symbol.facets.guarded
    doubt = budget.doubt(origin, value, rough=True) if origin is not None else None
    if doubt is None or not doubt.known:
        if asked is not None and plain.outcome is Outcome.PASSES:
            return Judgement(attrs.evolve(plain, outcome=Outcome.UNDECIDED))  # nothing says how sure that is
        return Judgement(plain)
    seen = conformity.within_all(value, allowed)
    conforms, at_most = _probabilities(doubt, seen)
    if asked is not None and origin is not None and _near(doubt, conforms, at_most, asked):
        # A few draws leave open which way it goes (JCGM 101:2008, 7.9: as many draws as are needed).
        doubt = budget.doubt(origin, value)
        conforms, at_most = _probabilities(doubt, seen)
    if asked is None:
        return Judgement(plain, doubt, conforms)
    return Judgement(Verdict(conformity.guarded(conforms, asked, at_most), plain.beyond), doubt, conforms)


def _probabilities(doubt: Doubt, seen: conformity.Interval) -> tuple[float, float]:
    """The probability of conformity at least and at most. Draws for which the formula has no value may be anywhere:
    they prove neither the one nor the other."""
    if not (doubt.draws or doubt.lost):
        conforms = conformity.probability_of(seen, doubt.standard, doubt.form.freedom)
        return conforms, conforms
    inside, of_all = conformity.count_within(doubt.draws, seen), len(doubt.draws) + doubt.lost
    return inside / of_all, (inside + doubt.lost) / of_all


_SIGMAS = 5
"""How many standard deviations of a share of draws a probability is away from what is asked, to be left as it is."""


def _near(doubt: Doubt, conforms: float, at_most: float, asked: Fraction) -> bool:
    """Whether a share of so few draws may be on the wrong side of what is asked for, or of its opposite."""
    count = len(doubt.draws) + doubt.lost
    if not count:
        return False
    wanted = float(asked)
    slack = _SIGMAS * math.sqrt(wanted * (1 - wanted) / count)
    return abs(conforms - wanted) < slack or abs(at_most - (1 - wanted)) < slack
