"""Small wordings that questions, sentences and reasons share."""

from __future__ import annotations

from collections.abc import Iterable

from proclang.text.diagnostic import Problem
from proclang.values.number import decimal_text, to_significant
from proclang.values.show import parse_exact
from proclang.values.unit import NONE, find_unit

_TOLD_DIGITS = 6


def spoken(name: str) -> str:
    """A name as people say it: `mirror_cover` as mirror cover."""
    return str(name).replace("_", " ")


def in_words(keys: Iterable[str]) -> str:
    """Names as people list them, a long list cut short."""
    listed = [spoken(key) for key in keys]
    if len(listed) > 4:
        return f"{', '.join(listed[:3])} and {len(listed) - 3} more"
    if len(listed) > 2:
        return f"{', '.join(listed[:-1])} and {listed[-1]}"
    return " and ".join(listed)


def to_read(stored: str, digits: int = _TOLD_DIGITS, *, signed: bool = False) -> str:
    """A stored value at a glance, rounded to so many significant digits; a text that is no quantity, as it is.

    What counts is the stored value: it is what the log holds and what was judged.
    """
    quantity = parse_exact(stored)
    if isinstance(quantity, Problem):
        return stored
    symbol = stored.partition(" ")[2]
    unit = find_unit(symbol) if symbol else NONE
    if isinstance(unit, Problem):
        return stored
    number = to_significant(quantity.wrapped().in_unit(unit), digits)
    plus = "+" if signed and number > 0 and not quantity.dimension.is_bearing else ""
    return f"{plus}{decimal_text(number, digits)}" + (f" {symbol}" if symbol else "")
