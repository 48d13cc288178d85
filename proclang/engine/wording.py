"""Small wordings that questions, sentences and reasons share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Any

from proclang.program import model as m
from proclang.text.diagnostic import Problem
from proclang.values.deserved import deserved_step
from proclang.values.dimension import Dimension
from proclang.values.number import decimal_text, significant_up, to_significant
from proclang.values.quantity import Quantity
from proclang.values.show import exact_text, parse_exact, show
from proclang.values.tolerance import Verdict
from proclang.values.unit import NONE, Unit, find_unit

_TOLD_DIGITS = 6


def spoken(name: str) -> str:
    """A name as people say it: `mirror_cover` as mirror cover."""
    return str(name).replace("_", " ")


def value_name(name: str, key: str = "") -> str:
    """A value as people say it, with its labels: `ns` of `direct` as ns, direct."""
    return spoken(name) + (f", {', '.join(key.split(','))}" if key else "")


def in_words(keys: Iterable[str]) -> str:
    """Names as people list them, a long list cut short."""
    listed = [spoken(key) for key in keys]
    if len(listed) > 4:
        return f"{', '.join(listed[:3])} and {len(listed) - 3} more"
    if len(listed) > 2:
        return f"{', '.join(listed[:-1])} and {listed[-1]}"
    return " and ".join(listed)


def are(keys: Iterable[str]) -> str:
    """`is` of one thing, `are` of several."""
    return "is" if len(list(keys)) == 1 else "are"


_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def turn_text(loop: str, n: str, bound: int) -> str:
    """Which pass of a loop it is: `levelling: pass 1, at most 5`."""
    return f"{spoken(loop)}: pass {n}, at most {bound}"


def label_text(variable: str, label: str, labels: tuple[str, ...], written: tuple[str, ...]) -> str:
    """Where a `for each` stands: `nut 4, second of 6`; at the first label also the order, if not the `written`."""
    place = labels.index(label) if label in labels else 0
    ordinal = _ORDINALS[place] if place < len(_ORDINALS) else f"number {place + 1}"
    text = f"{spoken(variable)} {spoken(label)}, {ordinal} of {len(labels)}"
    if place == 0 and labels != written:
        text += f", in the order {', '.join(spoken(x) for x in labels)}"
    return text


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
    if quantity.dimension.is_instant:
        return show(quantity, unit)
    number = to_significant(quantity.wrapped().in_unit(unit), digits)
    plus = "+" if signed and number > 0 and not quantity.dimension.is_bearing else ""
    return f"{plus}{decimal_text(number, digits)}" + (f" {symbol}" if symbol else "")


def with_doubt(stored: str, off: Sequence[str], digits: int = _TOLD_DIGITS) -> str:
    """A stored value to the digits it deserves, and within what it is meant: `2.26 arcmin ± 0.16 arcmin (k = 2)`.

    `off` is what an event says of how far off it may be.
    """
    standard, half, how = off[:3]
    quantity, doubt = parse_exact(stored), parse_exact(standard)
    symbol = stored.partition(" ")[2]
    unit = find_unit(symbol) if symbol else NONE
    if isinstance(quantity, Problem) or isinstance(doubt, Problem) or isinstance(unit, Problem):
        return stored
    step = deserved_step(doubt.value / unit.factor)
    if step is None:
        return to_read(stored, digits)
    value = show(quantity, unit, step=Quantity(step * unit.factor, doubt.dimension))
    return f"{value} ± {half} ({how.partition(',')[0].partition(';')[0]})"


def shown(text: str, unit: Unit | None = None) -> str:
    """A stored value for people: to 12 digits where it is exact, else to 6."""
    quantity = parse_exact(text)
    if isinstance(quantity, Problem):
        return text
    if unit is None:
        symbol = text.partition(" ")[2]
        found = find_unit(symbol) if symbol else NONE
        if isinstance(found, Problem):
            return text
        unit = found
    return show(quantity, unit)


def amount_text(symbol: m.Symbol, quantity: Quantity) -> str:
    """A value as it is stored: exact, in the unit of its name."""
    return exact_text(quantity, symbol.unit or NONE)


def beyond_text(verdict: Verdict, symbol: m.Symbol) -> str:
    """By how much a value is outside, as an amount, with `above` or `below`.

    Four digits are enough to know what to do; they are rounded up, so that it is never said to be less than it is.
    """
    unit, dimension = difference_unit(symbol)
    side = "above" if verdict.beyond > 0 else "below"
    number = Quantity(abs(verdict.beyond), dimension).in_unit(unit)
    if to_significant(number, _DIGITS_BEYOND) != number:
        number = significant_up(number, _DIGITS_BEYOND)
    return f"{show(Quantity.of(number, unit), unit)} {side}"


_DIGITS_BEYOND = 4


def not_passed_text(verdict: Mapping[str, Any]) -> str:
    """What a recorded verdict that is not `passes` says: by how much it is outside, or how sure it is."""
    if verdict["outcome"] != "undecided":
        return str(verdict.get("beyond", verdict["outcome"]))
    if "conforms" not in verdict:
        return "undecided, since how far off it may be is not known"
    return f"undecided, conforms with {verdict['conforms']}; {verdict['guarded']} is asked for"


def uncertainty_text(symbol: m.Symbol, standard: float) -> str:
    """A standard uncertainty at two significant digits (JCGM 100, 7.2.6), in the unit of the name."""
    unit, dimension = difference_unit(symbol)
    number = Quantity(Fraction(standard), dimension).in_unit(unit)
    return exact_text(Quantity.of(to_significant(number, 2), unit), unit)


def difference_unit(symbol: m.Symbol) -> tuple[Unit, Dimension]:
    """The unit and dimension of a difference between two values of a name: points become amounts."""
    import attrs

    assert isinstance(symbol.type, m.Amount)
    dimension, unit = symbol.type.dimension, symbol.unit or NONE
    if dimension.is_plain:
        return unit, dimension
    found = find_unit(unit.symbol.split(" ")[0] if dimension.is_bearing else "s" if dimension.is_instant else "K")
    assert not isinstance(found, Problem)
    return found, attrs.evolve(dimension, frame="")
