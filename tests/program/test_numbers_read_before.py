"""Numbers of a source are kept once they have been read; what is kept is what would be read."""

from __future__ import annotations

import pytest

from proclang.program import scope
from proclang.program.scope import read_number
from proclang.values.reader import read_quantity
from proclang.values.unit import Unit, find_unit

TYPED = ("12", "0.5", "3/8", "1 1/2", "12 mm", "1 deg 20 arcmin", "180 deg true", "5 Nm", "1,5", "20 °C", "4 %", "1e99")
SYMBOLS = ("mm", "inch", "deg", "deg true", "deg magnetic", "°C", "K", "N.m", "%", "mm/turn", "m/s^2")


def unit_of(symbol: str) -> Unit:
    unit = find_unit(symbol)
    assert isinstance(unit, Unit)
    return unit


@pytest.mark.parametrize("typed", TYPED)
def test_what_was_read_before_is_what_is_read(typed: str) -> None:
    """With and without a unit shared with another number, the first time and again; a refusal is kept as well."""
    for unit in (None, *map(unit_of, SYMBOLS)):
        for _ in range(2):
            assert read_number(typed, unit) == read_quantity(typed, unit=unit)


@pytest.mark.parametrize("symbol", SYMBOLS)
def test_a_unit_is_known_by_its_symbol(symbol: str) -> None:
    """No two units are printed alike, or one would be read in the place of the other."""
    unit = unit_of(symbol)
    assert find_unit(unit.symbol) == unit


def test_a_source_full_of_numbers_does_not_fill_the_memory() -> None:
    for number in range(3 * scope._MOST_READ):
        read_number(str(number))
        assert len(scope._READ) <= scope._MOST_READ
