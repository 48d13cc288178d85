"""Whether what was recorded and what comes out anew are the same, to the last digit or within what floats allow.

Arithmetic is exact, so its values must be equal. A built-in that works with floats may come out differently on another
machine; its values may differ by 1 part in 10^9, and so may all that is worked out from them in the same entry. When a
verdict or a way turns on such a difference, that is a margin too narrow to rest on, and is said to be one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
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
    """The first event that is not the same, in words; `marginal` when floats explain it."""

    says: str
    marginal: bool = False


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
    floats = any(uses_floats(text) for event in anew for text in _formulas(event))
    for old, new in zip(recorded, anew, strict=False):
        if old == new or (floats and _near(old, new)):
            continue
        if floats and _turned(old, new):
            return Differs(f"{_name(old)} {old.get('outcome') or old.get('took')!r} comes out the other way", True)
        return Differs(_how(old, new))
    if len(recorded) != len(anew):
        return Differs(f"{len(recorded)} events are recorded, {len(anew)} follow from the reply")
    return None


def _formulas(event: Event) -> Iterable[str]:
    for member in ("formula", "condition"):
        text = event.get(member)
        if isinstance(text, str):
            yield text


def _name(event: Event) -> str:
    return f"`{event.get('name') or event.get('at') or event['is']}`"


def _turned(old: Event, new: Event) -> bool:
    """The same verdict or way, with another outcome."""
    for kind, outcome in (("verdict", "outcome"), ("branch", "took")):
        if old["is"] == new["is"] == kind:
            same = ("at", "name", "key", "condition")
            return all(old.get(x) == new.get(x) for x in same) and old.get(outcome) != new.get(outcome)
    # A `leave when` that holds leaves the loop; one that does not leaves no event of its own.
    return "loop end" in (old["is"], new["is"])


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
