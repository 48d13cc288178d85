"""The published check values: the table they are copied into, and the mark that says which row a test covers.

`checks.md` holds values of published standards, worked examples and open data with their tolerance, source and how
well each is known; the rows are named there (`LVL-R01`). A test that checks a row is marked `@row("LVL-R01")`. A row
without a test stands in the `NOT_COVERED` of the test file of its topic, with the reason. `test_every_row.py` holds the
two against the table.
"""

from __future__ import annotations

import re
from pathlib import Path

import attrs
import pytest

HERE = Path(__file__).parent

TOPICS = {
    "MAG": "magnetic declination",
    "SUN": "Sun and sidereal time",
    "POL": "pole stars",
    "BLT": "threads and bolts",
    "RIG": "rigging",
    "LVL": "levelling",
    "MET": "uncertainty and conformity",
    "WX": "weather",
    "ELE": "electrical",
    "OPT": "optics",
    "ALT": "motion",
    "REF": "refraction and air mass",
    "SCH": "schedule",
}


@attrs.frozen
class Row:
    """One row as printed: quantity, inputs, what is expected, tolerance, source and how well it is known."""

    name: str
    quantity: str
    inputs: str
    expected: str
    tolerance: str
    source: str
    tag: str

    @property
    def topic(self) -> str:
        """Which part of the table it stands in."""
        return self.name.partition("-")[0]

    @property
    def wrong(self) -> bool:
        """Whether the number is printed as a trap: a test shows that it is not reproduced."""
        return self.quantity.startswith("DO NOT USE")


def read_rows() -> dict[str, Row]:
    """Every row of the table by its name."""
    rows = {}
    for line in (HERE / "checks.md").read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split(" | ")]
        if re.fullmatch(r"[A-Z]+-R\d+", cells[0]):
            assert len(cells) == 7, line
            rows[cells[0]] = Row(*cells)
    return rows


ROWS = read_rows()


def row(*names: str) -> pytest.MarkDecorator:
    """Marks a test as the check of these rows of the table."""
    unknown = [name for name in names if name not in ROWS]
    assert not unknown, unknown
    return pytest.mark.row(*names)
