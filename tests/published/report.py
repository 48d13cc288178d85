"""Runs the published checks and prints, by topic, how many rows are checked, passed and not covered, and why.

PYTHONPATH=. python tests/published/report.py
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from rows import HERE, ROWS, TOPICS
from test_every_row import reasons


class Outcomes:
    """What became of every row that a test is marked with."""

    def __init__(self) -> None:
        self.passed: dict[str, bool] = {}

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_makereport(self, item: pytest.Item, call: pytest.CallInfo[None]):  # type: ignore[no-untyped-def]
        outcome = yield
        report = outcome.get_result()
        if report.when == "call" or report.failed:
            for mark in item.iter_markers("row"):
                for name in mark.args:
                    self.passed[name] = self.passed.get(name, True) and report.passed


def main() -> int:
    """The exit code: 0 if every checked row passed and none is left out."""
    outcomes = Outcomes()
    pytest.main([str(HERE), "-q", "--no-header", "-p", "no:benchmark", "-p", "no:xdist"], plugins=[outcomes])
    why = reasons()
    print(f"\n{'topic':<28} {'rows':>5} {'checked':>8} {'passed':>7} {'left out':>9}")
    total = [0, 0, 0, 0]
    for topic, title in TOPICS.items():
        names = [name for name, row in ROWS.items() if row.topic == topic]
        counts = [
            len(names),
            sum(name in outcomes.passed for name in names),
            sum(outcomes.passed.get(name, False) for name in names),
            sum(name in why for name in names),
        ]
        total = [a + b for a, b in zip(total, counts, strict=True)]
        print(f"{title:<28} {counts[0]:>5} {counts[1]:>8} {counts[2]:>7} {counts[3]:>9}")
    print(f"{'all':<28} {total[0]:>5} {total[1]:>8} {total[2]:>7} {total[3]:>9}")
    for name, reason in why.items():
        print(f"{name}: {reason}")
    left = [name for name in ROWS if name not in outcomes.passed and name not in why]
    if left:
        print("neither checked nor left out:", ", ".join(left))
    return 1 if left or not all(outcomes.passed.values()) else 0


if __name__ == "__main__":
    sys.exit(main())
