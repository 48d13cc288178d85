"""Stored values as the log shows them: what was stored, never anything computed anew."""

from __future__ import annotations

import re
from functools import lru_cache

from proclang.log.markdown import Md, code, inline
from proclang.text.diagnostic import Problem
from proclang.values.show import parse_exact, show
from proclang.values.unit import NONE, find_unit

_AS_STORED = re.compile(r"-?(?:0|[1-9][0-9]{0,5})(?:\.[0-9]{1,5})?(?: [A-Za-z%]{1,8}(?:[./][A-Za-z]{1,4})?)?")


def amount(text: str) -> Md:
    """A stored value: exact where 12 digits suffice, otherwise rounded to 6. Words are shown as code."""
    # `show` would give back such a text unchanged; the bearings it wraps have a blank in their unit.
    if _AS_STORED.fullmatch(text):
        return Md(text)
    return _amount(text)


@lru_cache(maxsize=4096)
def _amount(text: str, signed: bool = False) -> Md:
    quantity = parse_exact(text)
    if isinstance(quantity, Problem):
        return code(text)
    symbol = text.partition(" ")[2]
    unit = find_unit(symbol) if symbol else NONE
    return code(text) if isinstance(unit, Problem) else inline(show(quantity, unit, signed=signed))


def signed_amount(text: str) -> Md:
    """A stored value with a plus where it is above zero: what is typed into a controller."""
    return _amount(text, signed=True)


def amounts(text: str) -> Md:
    """The inputs of a formula as an event holds them: one value, or `label: value` with commas between."""
    if ": " not in text:
        return amount(text)
    shown = []
    for piece in text.split(", "):
        label, colon, value = piece.rpartition(": ")
        shown.append(f"{inline(label)}{colon}{amount(value)}")
    return Md(", ".join(shown))


def typed_otherwise(typed: str, stored: str) -> bool:
    """Whether what was typed differs in form or unit from the value it was read as. A bare number, and a bearing
    without its north, do not: both are read in the unit of the name."""
    number, _, unit = stored.partition(" ")
    return typed not in (stored, number, f"{number} {unit.partition(' ')[0]}")
