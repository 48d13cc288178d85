"""The crew of a rehearsal: what it says where words are asked for, and how far off its instruments are.

Its people are called after their roles, so that nobody takes a rehearsal for something that somebody did.
"""

from __future__ import annotations

import datetime
import random
from fractions import Fraction

import attrs

from proclang.engine.model import Request, State
from proclang.engine.wording import spoken
from proclang.program import model as m

SAID = "rehearsed"
"""What the crew says where a text is asked for."""

_CALIBRATED_BEFORE = datetime.timedelta(days=40)
_FIRST_DAY = datetime.date(2031, 5, 1)


def word_for(request: Request, state: State, rng: random.Random) -> str:
    """The answer to a question that nothing hangs on."""
    match request.phase:
        case "role":
            return f"Rehearsal {spoken(request.address.rpartition('/')[2]).title()}"
        case "serial":
            return f"REHEARSAL-{request.address.rpartition('/')[2]}"
        case "calibrated":
            return (_FIRST_DAY - _CALIBRATED_BEFORE).isoformat()
        case "briefing":
            return ", ".join(request.choices)
        case "acknowledge":
            return _performer(request, state)
        case "asks":
            return f"{rng.randrange(10, 40) / 10} {request.unit}" if request.unit else SAID
        case "sign":
            return _signer(request, state)
        case "photo":
            return f"rehearsed-{state.entries}.jpg"
        case "reason":
            return "rehearsed: accepted to see what follows"
        case "exchange" | "pick" | "state now":
            return rng.choice(request.choices)
        case _:
            return request.choices[0] if request.choices else SAID


def _performer(request: Request, state: State) -> str:
    names = dict.fromkeys(state.people.values())
    return next((name for name in names if name in request.people), next(iter(names), f"Rehearsal {SAID.title()}"))


def _signer(request: Request, state: State) -> str:
    """Who is asked to sign; a witness is somebody else than those who have signed."""
    signed = set(state.rest.get("by", ()))
    for name in dict.fromkeys(state.people.values()):
        if name in request.people and name not in signed:
            return name
    others = [name for name in dict.fromkeys(state.people.values()) if name not in signed]
    role = spoken(request.address.rpartition("/")[2]).title()
    return others[0] if others and request.people else f"Rehearsal Visitor {role}"


@attrs.define
class Instruments:
    """How far off the instruments of one run are: each by one amount for all its readings, and by one of its own for
    each. Both are drawn from what the procedure says of the instrument."""

    rng: random.Random
    _shared: dict[str, float] = attrs.field(factory=dict)
    """In shares of what it is accurate to."""

    def shared(self, instrument: m.Instrument, value: Fraction) -> Fraction:
        """What all its readings are off by, for a value of this size."""
        if instrument.name not in self._shared:
            self._shared[instrument.name] = self.rng.uniform(-1, 1)
        size = sum(_size(claim, value) for claim in (instrument.accurate_to, instrument.calibrated_to) if claim)
        return Fraction(round(self._shared[instrument.name] * float(size), 12)).limit_denominator(10**9)

    def own(self, instrument: m.Instrument, value: Fraction) -> Fraction:
        """What one reading is off by, by itself."""
        if instrument.repeats_to is None:
            return Fraction(0)
        drawn = self.rng.gauss(0, 1) * float(_size(instrument.repeats_to, value))
        return Fraction(round(drawn, 12)).limit_denominator(10**9)


def _size(claim: m.Claim, value: Fraction) -> Fraction:
    """What a claim comes to in base units: its limits, or with a coverage factor its standard deviation."""
    size = claim.amount.value * abs(value) if claim.share else claim.amount.value
    return size / claim.k if claim.k is not None else size
