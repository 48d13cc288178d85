"""Every example of the reference is carried out by the language itself: measured, computed, compared."""

from __future__ import annotations

import pytest
from example_calls import agrees, apart, run_example

from proclang.field.declare import Calculation, Example
from proclang.field.registry import all_calculations
from proclang.text.diagnostic import Problem
from proclang.values.show import parse_exact

EXAMPLES = [
    pytest.param(calc, example, id=f"{calc.name}-{number}")
    for calc in all_calculations()
    for number, example in enumerate(calc.examples, 1)
]


def test_every_calculation_has_an_example() -> None:
    """A reference entry without one has to be guessed at."""
    assert [calc.name for calc in all_calculations() if not calc.examples] == []


@pytest.mark.parametrize(("calc", "example"), EXAMPLES)
def test_an_example_gives_what_it_says(calc: Calculation, example: Example) -> None:
    """To the digits it is written with; a result for each that is declared."""
    run = run_example(calc, example.call)
    assert len(example.gives) == len(calc.results)
    computed = run.events("computed")
    assert [event["name"] for event in computed] == [f"result_{result.name}" for result in calc.results]
    for event, told in zip(computed, example.gives, strict=True):
        texts = list(event["values"].values())
        written = apart(told)
        assert len(texts) >= len([x for x in written if x != "..."])
        for text, wanted in zip(texts, written, strict=False):
            value = parse_exact(text)
            assert not isinstance(value, Problem)
            assert wanted == "..." or agrees(value, wanted), f"{event['name']} is {text}, not {wanted}"
