"""Whether what was recorded and what comes out anew are the same, to the last digit or within what floats allow.

Arithmetic is exact, so its values must be equal. A built-in that works with floats may come out differently on another
machine; its values may differ by 1 part in 10^9, and so may all that is worked out from them in the same entry. When a
verdict or a way turns on such a difference, that is a margin too narrow to rest on, and is said to be one.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import attrs

from proclang.engine.model import Event
from proclang.field.registry import find
from proclang.text.diagnostic import Problem
from proclang.values.show import parse_exact

NEAR = Fraction(1, 10**9)
"""The greatest relative difference between two machines' floats, 12 digits of which were kept."""

_CALL = re.compile(r"\b([a-z][a-z0-9_]*)\(")
_NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?(?:e-?[0-9]+)?(?:/[0-9]+)?")
_SHOWN_NEAR = 1e-4
"""Numbers in sentences are shown rounded to 6 digits; they are not what is compared, so a generous bound will do."""


@attrs.frozen
class Differs:
    """The first event that is not the same, in words. `turned` names what came out the other way, where floats may be
    the cause: whether they are depends on how near the value stands to its limit."""

    says: str
    turned: str = ""


def called(formula: str) -> tuple[str, ...]:
    """The names a formula calls, each once."""
    return tuple(dict.fromkeys(_CALL.findall(formula)))


def uses_floats(formula: str) -> bool:
    """Whether a formula calls a built-in that does not work exactly."""
    calculations = (find(name) for name in called(formula))
    return any(calculation is not None and not calculation.exact for calculation in calculations)


def compare(recorded: Sequence[Event], anew: Sequence[Event]) -> Differs | None:
    """None when the events of an entry are the same."""
    if list(recorded) == list(anew):
        return None
    loose = _Loose.of(anew)
    for old, new in zip(recorded, anew, strict=False):
        if old == new or (loose.allows(new) and _near(old, new)):
            continue
        if loose.floats and _turned(old, new):
            outcome = old.get("outcome") or old.get("took") or old["is"]
            return Differs(f"{_name(old)}: `{outcome}` is recorded and comes out the other way", str(old.get("name")))
        return Differs(_how(old, new))
    if len(recorded) != len(anew):
        return Differs(f"{len(recorded)} events are recorded, {len(anew)} follow from the reply")
    return None


@attrs.frozen
class _Loose:
    """Which values of an entry come from floats, straight or by way of another."""

    floats: bool
    exact: frozenset[str]
    """Names that were read, computed or set here without any: these must be equal."""

    @classmethod
    def of(cls, events: Sequence[Event]) -> _Loose:
        loose: set[str] = set()
        exact: set[str] = set()
        floats = False
        for event in events:
            name = event.get("name", "")
            if event["is"] in ("computed", "setting"):
                from_floats = uses_floats(event["formula"]) or not loose.isdisjoint(event["inputs"])
                (loose if from_floats else exact).add(name)
                floats |= from_floats
            elif event["is"] == "read":
                exact.add(name)
            floats |= uses_floats(event.get("condition") or event.get("why") or "")
        return cls(floats, frozenset(exact - loose))

    def allows(self, event: Event) -> bool:
        """Whether an event may differ a little. Values handed from procedure to procedure may: their formula stands
        in no event."""
        return self.floats and not (
            event["is"] in ("value", "computed", "setting", "read") and event["name"] in self.exact
        )


def _name(event: Event) -> str:
    return f"`{event.get('name') or event.get('at') or event['is']}`"


def _turned(old: Event, new: Event) -> bool:
    """The same verdict, or the same way by a condition that itself works with floats, with another outcome."""
    kinds = (old["is"], new["is"])
    if kinds == ("verdict", "verdict"):
        return all(old.get(x) == new.get(x) for x in ("at", "name", "key"))
    if kinds == ("branch", "branch"):
        return old.get("at") == new.get("at") and uses_floats(new.get("condition", ""))
    # A `leave when` that holds leaves the loop; one that does not leaves no event of its own.
    return any(e["is"] == "loop end" and uses_floats(e.get("why", "")) for e in (old, new))


def _how(old: Event, new: Event) -> str:
    if old["is"] != new["is"]:
        return f"`{old['is']}` is recorded where `{new['is']}` follows"
    for member in [*old, *new]:
        if old.get(member) != new.get(member):
            there, here = _short(old.get(member)), _short(new.get(member))
            return f"`{old['is']}` of {_name(old)}: `{member}` is recorded as {there} and comes out as {here}"
    return f"`{old['is']}` of {_name(old)} holds its members in another order"


def _short(value: object) -> str:
    if value is None:
        return "nothing"
    text = str(value)
    return f"`{text}`" if len(text) <= 80 else f"`{text[:77]}...`"


def _near(old: Any, new: Any) -> bool:
    if isinstance(old, str) and isinstance(new, str):
        return old == new or _near_amounts(old, new)
    if isinstance(old, dict) and isinstance(new, dict):
        return old.keys() == new.keys() and all(_near(old[k], new[k]) for k in old)
    if isinstance(old, list) and isinstance(new, list):
        return len(old) == len(new) and all(map(_near, old, new))
    return type(old) is type(new) and bool(old == new)


def _near_amounts(old: str, new: str) -> bool:
    a, b = parse_exact(old), parse_exact(new)
    if isinstance(a, Problem) or isinstance(b, Problem):
        return _near_sentences(old, new)
    if a.dimension != b.dimension or old.partition(" ")[2] != new.partition(" ")[2]:
        return False
    return abs(a.value - b.value) <= NEAR * max(abs(a.value), abs(b.value))


def _near_sentences(old: str, new: str) -> bool:
    """The same words with numbers that are nearly the same: limits, titles, inputs of a formula."""
    if _NUMBER.sub("0", old) != _NUMBER.sub("0", new):
        return False
    for a, b in zip(_NUMBER.findall(old), _NUMBER.findall(new), strict=True):
        x, y = _float(a), _float(b)
        if abs(x - y) > _SHOWN_NEAR * max(abs(x), abs(y)):
            return False
    return True


def _float(text: str) -> float:
    top, _, bottom = text.partition("/")
    try:
        return float(top) / float(bottom or 1)
    except (OverflowError, ZeroDivisionError):
        return 0.0
