"""Exact arithmetic must come out equal; a built-in's floats may differ by 1 in 10^9, and what turns on that is said."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from log_help import ran
from test_verify_finds import events, records, write_anew

from proclang.log.agree import called, compare, uses_floats
from proclang.log.verify import FAILS, HOLDS, MARGINAL, UNSEEN, passed, verify

# Invented for the tests.
TEXTS = {
    "slope": """\
proclang 1
procedure slope "Slope"
revision 1
purpose "Two slopes make one."
needs
  crew lead
  authority lead
section read "Read"
  step both "Read both."
    measure x in mm
    measure y in mm
  compute total = hypot(x, y) in mm
    at most 5 mm
  compute twice = 2 * x in mm
    at most 100 mm
  when total passes
    step on "Go on."
  otherwise
    step back "Go back."
"""
}
SITE = '[site]\nname = "flat"\n[facts]\n'


def run_with(folder: Path, x: str, y: str) -> list[dict[str, Any]]:
    ran(folder, TEXTS, "slope", {"both/x": x, "both/y": y}, SITE)
    return records(folder)


def outcomes(folder: Path) -> list[str]:
    checks = verify(folder)
    assert isinstance(checks, tuple)
    return [c.outcome for c in checks if c.name == "entries"]


def put_total(entries: list[dict[str, Any]], text: str) -> None:
    (value,) = events(entries, "value", name="total")
    value["value"] = text
    (computed,) = events(entries, "computed", name="total")
    computed["values"] = {"": text}


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (0, [HOLDS]),
        (1, [HOLDS]),  # the twelfth digit: another machine's float
        (-3, [HOLDS]),
        (10_000, [FAILS]),  # the eighth: no machine's
        (-10_000, [FAILS]),
    ],
)
def test_a_float_may_differ_in_the_last_digits_kept(tmp_path: Path, change: int, expected: list[str]) -> None:
    entries = run_with(tmp_path / "run", "1 mm", "1 mm")
    digits = round(math.hypot(1, 1) * 10**11)  # hypot of the standard library, to 12 digits
    stored = events(entries, "value", name="total")[0]["value"]
    assert stored == f"{digits / 10**11:.11f} mm"
    put_total(entries, f"{(digits + change) / 10**11:.11f} mm")
    write_anew(tmp_path / "run", entries)
    assert outcomes(tmp_path / "run") == expected


def test_exact_arithmetic_may_not_differ_at_all(tmp_path: Path) -> None:
    entries = run_with(tmp_path / "run", "1 mm", "1 mm")
    for event in events(entries, "value", name="twice"):
        event["value"] = "2.00000000001 mm"
    events(entries, "computed", name="twice")[0]["values"] = {"": "2.00000000001 mm"}
    write_anew(tmp_path / "run", entries)
    assert outcomes(tmp_path / "run") == [FAILS]


def test_a_value_that_stands_on_its_limit_is_marginal_and_no_fault(tmp_path: Path) -> None:
    # 3-4-5: on the limit, so that one unit of the last digit of a float decides.
    run_with(tmp_path / "run", "3 mm", "4 mm")
    assert outcomes(tmp_path / "run") == [MARGINAL, HOLDS]
    checks = verify(tmp_path / "run")
    assert isinstance(checks, tuple)
    assert passed(checks)
    (marginal,) = [c for c in checks if c.outcome == MARGINAL]
    assert marginal.says.startswith("numerically marginal: `total` stands so near a limit")


def test_a_value_well_inside_is_not(tmp_path: Path) -> None:
    run_with(tmp_path / "run", "3 mm", "3.99999 mm")
    assert outcomes(tmp_path / "run") == [HOLDS]


def test_a_verdict_that_flips_with_a_float_is_marginal(tmp_path: Path) -> None:
    """Recorded on a machine where the same hypot came out one digit above the limit."""
    entries = run_with(tmp_path / "run", "3 mm", "4 mm")
    (verdict,) = events(entries, "verdict", name="total")
    assert verdict["outcome"] == "passes"
    put_total(entries, "5.00000000001 mm")
    verdict.update(outcome="fails", beyond="0.00000000001 mm above")
    write_anew(tmp_path / "run", entries)
    # What went on from that verdict cannot follow here, so the run is not said to be sound either.
    assert outcomes(tmp_path / "run") == [MARGINAL, UNSEEN]


def test_a_verdict_that_flips_by_more_is_a_fault(tmp_path: Path) -> None:
    entries = run_with(tmp_path / "run", "1 mm", "1 mm")
    put_total(entries, "1.41421356236 mm")  # a float may do this; the verdict it may not turn
    (verdict,) = events(entries, "verdict", name="total")
    verdict.update(outcome="fails", beyond="1 mm above")
    write_anew(tmp_path / "run", entries)
    assert FAILS in outcomes(tmp_path / "run")


def test_which_formulas_work_with_floats() -> None:
    assert called("hypot(mean(a), b) + f(2)") == ("hypot", "mean", "f")
    assert uses_floats("hypot(a, b)")
    assert not uses_floats("mean(a) + round_down(b, to = 1 mm)")
    assert not uses_floats("a * 2")


def test_the_first_difference_is_told_with_both_values() -> None:
    old, new = {"is": "read", "name": "x", "value": "1 mm"}, {"is": "read", "name": "x", "value": "2 mm"}
    differs = compare([old], [new])
    assert differs is not None
    assert differs.says == "`read` of `x`: `value` is recorded as `1 mm` and comes out as `2 mm`"
    differs = compare([old], [old, new])
    assert differs is not None
    assert differs.says == "1 events are recorded, 2 follow from the reply"
