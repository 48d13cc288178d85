"""Every built-in calculation can be called by its name: none is a word that the grammar keeps for itself."""

from __future__ import annotations

import pytest

from proclang.field.registry import names
from proclang.syntax.parse import parse
from proclang.text.span import Source

LINES = 'proclang 1\nprocedure job "Job"\nsection work "Work"\n  compute result = {}(x)\n'


@pytest.mark.parametrize("name", names())
def test_a_calculation_can_be_called(name: str) -> None:
    assert parse(Source("job.proc", LINES.format(name))).findings == ()
