"""What LANGUAGE.md says under "What is proved of kinds": a procedure without findings meets no kind of quantity that
does not fit in any run, and one with such a place is always refused.

What fits is known from how the procedures are drawn (`typed`), not from the checker.
"""

from __future__ import annotations

import os
import re
from random import Random

import pytest
from helpers import Run, answer_opening, start
from typed import READINGS, SURVEY, UNITS, drawn

from proclang.engine.decide import decide
from proclang.engine.fold import apply
from proclang.engine.model import Entry, Over, Refused, Reply, Request
from proclang.program.build import build
from proclang.program.load import load
from proclang.program.model import Program
from proclang.text.diagnostic import Diagnostic, Severity
from proclang.values import quantity
from proclang.values.quantity import Quantity
from proclang.values.show import parse_exact
from proclang.values.unit import NONE, Unit, find_unit

PROCEDURES = int(os.environ.get("PROCLANG_KINDS", "120"))
"""How many are drawn. A longer search: `PROCLANG_KINDS=5000 pytest tests/engine/test_kinds_proved.py`."""

OF_KINDS = {
    "dimension-mismatch", "wrong-dimension", "different-north", "two-points", "point-arithmetic", "wrong-kind",
    "no-share", "missing-unit",
}  # fmt: skip

OF_NUMBERS = {"limits-reversed", "negative-tolerance", "never-passes"}
"""What is found of limits drawn in numbers: they are of the right kind all the same."""

MAY_BE = re.compile(
    r"divide by zero|division by zero|past every sensible size|too large|below every sensible size|too small"
    r"|a tolerance is not below zero|the lower limit is above the upper one"
    r"|`(\w+)(\[\w+\])?` (is not known|has not been judged)"
)
"""All that LANGUAGE.md leaves to the run."""


class _Texts:
    def __init__(self, text: str) -> None:
        self._texts = {"job": text, "survey": SURVEY}

    def shown(self, name: str) -> str:
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        return self._texts[name].encode() if name in self._texts else None

    def names(self) -> tuple[str, ...]:
        return tuple(self._texts)


def _built(text: str) -> tuple[Program | None, list[Diagnostic]]:
    built = build(load("job", text.encode(), _Texts(text)))
    return built.program, [f for f in built.findings if f.severity is Severity.ERROR]


def _unit_of(kind: str) -> Unit:
    unit = find_unit(UNITS[kind]) if UNITS[kind] else NONE
    assert isinstance(unit, Unit)
    return unit


@pytest.fixture
def mismatches(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every time a quantity refuses another for its kind."""
    met: list[str] = []
    refuse = quantity.DimensionError.__init__

    def noted(self: quantity.DimensionError, problem: object) -> None:
        if getattr(problem, "code", "") not in ("negative-tolerance", "limits-reversed"):
            met.append(str(problem))
        refuse(self, problem)  # type: ignore[arg-type]

    monkeypatch.setattr(quantity.DimensionError, "__init__", noted)
    return met


def test_a_kind_that_does_not_fit_would_be_noticed(mismatches: list[str]) -> None:
    """The counter that the runs below are held to."""
    with pytest.raises(quantity.DimensionError):
        Quantity.of(1, _unit_of("length")) + Quantity.of(1, _unit_of("mass"))
    assert len(mismatches) == 1


def _reply(rng: Random, request: Request, kinds: dict[str, str]) -> str:
    if request.kind == "quantity":
        names = [part.partition("[")[0] for part in request.address.split("/")]
        kind = next((kinds[name] for name in reversed(names) if name in kinds), "number")
        return rng.choice(READINGS[kind])
    if request.phase == "briefing":
        return ", ".join(request.choices)
    if request.choices:
        return rng.choice([word for word in request.choices if word != "stop"] or ["stop"])
    if request.people:
        return request.people.partition(" (")[0].partition(" and ")[0]
    return "A word or two."


def _go(run: Run, rng: Random, kinds: dict[str, str]) -> int:
    """Answer at random until the run is over or has gone on for long; refused replies are left and others given."""
    taken = 0
    for _ in range(250):
        request = run.request
        if isinstance(request, Over):
            break
        decided = decide(run.program, run.state, Reply(_reply(rng, request, kinds), "answer", {"date": "2031-05-01"}))
        if isinstance(decided, Refused):
            continue
        assert isinstance(decided, Entry)
        run.entries.append(decided)
        run.state = apply(run.state, decided)
        taken += 1
    return taken


def test_what_fits_by_construction_meets_no_other_kind_in_any_run(mismatches: list[str]) -> None:
    """Drawn procedures through the engine with replies at random: every kind of statement and of quantity."""
    answered, kept, seen, unknown = 0, 0, set(), 0
    for seed in range(PROCEDURES):
        text, draw = drawn(seed)
        program, errors = _built(text)
        if {f.code for f in errors} <= OF_NUMBERS and errors:
            continue
        assert not errors, (seed, [(f.code, f.message) for f in errors], text)
        assert program is not None
        mismatches.clear()
        kinds = {**draw.kinds, "drop": "length", "warmth": "temperature"}
        facts = {"latitude": "30 deg", "hemisphere": "north", "load": "5 N", "slab": "rock", "reach": "20 mm"}
        run = answer_opening(start(program, facts))
        answered += _go(run, Random(seed), kinds)
        assert mismatches == [], (seed, text)
        lost: set[str] = set()
        for event in run.events():
            if event["is"] == "unknown":
                unknown += 1
                named = MAY_BE.search(str(event["why"]))
                assert named, (seed, event)
                if named[1] is not None:
                    assert named[1] in lost, (seed, event, "is set on every way here, and was not lost before")
                lost |= {name for name, _ in [*(event.get("unset") or ()), *(event.get("unjudged") or ())]}
            elif event["is"] == "value" and event["name"] in kinds:
                stored = parse_exact(str(event["value"]))
                assert isinstance(stored, Quantity), event
                assert stored.dimension == _unit_of(kinds[str(event["name"])]).dimension, (seed, event)
                kept += 1
                seen.add(kinds[str(event["name"])])
    assert seen == set(UNITS)
    assert (answered > 8 * PROCEDURES, kept > 3 * PROCEDURES, unknown > 0) == (True, True, True), (
        answered,
        kept,
        unknown,
    )


def test_one_operand_of_another_kind_is_always_refused() -> None:
    """The same procedures with one operand of a kind that nothing lets stand there."""
    missed, refused = [], 0
    for seed in range(PROCEDURES):
        sound, draw = drawn(seed)
        places = range(1, draw.operands + 1)
        for wrong in Random(seed).sample(places, min(4, len(places))):
            text, _ = drawn(seed, wrong)
            if text == sound:
                continue  # that operand was drawn and not written
            _, errors = _built(text)
            if not {f.code for f in errors} & OF_KINDS:
                missed.append((seed, wrong, [f.code for f in errors]))
            refused += 1
    assert missed == []
    assert refused > 2 * PROCEDURES
