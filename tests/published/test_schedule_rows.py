"""Schedule estimates against the published rows."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from rows import row

from proclang.text.diagnostic import Problem

sys.path.insert(0, str(Path(__file__).parents[1] / "field"))

from field_help import inside, number, run


def in_hours(name: str, **given: str | dict[str, str]) -> list[float]:
    found = run(name, **given)
    assert not isinstance(found, Problem), found
    return [inside(x, "h") for x in found]


@pytest.mark.parametrize(
    ("times", "mean", "deviation"),
    [
        pytest.param((5, 8, 14), 8.5, 1.5, marks=row("SCH-R01")),
        pytest.param((3, 5, 9), 5.3333, 1, marks=row("SCH-R02")),
        pytest.param((2, "3.5", 8), 4, 1, marks=row("SCH-R03")),
        pytest.param((6, 9, 18), 10, 2, marks=row("SCH-R04")),
    ],
)
def test_three_point_estimates(times: tuple[int | str, ...], mean: float, deviation: float) -> None:
    """A published mean and deviation (the first), read inputs and computed values; tolerance 1e-4. R04 prints the
    variance, 4."""
    best, likely, worst = (f"{x} h" for x in times)
    assert in_hours("three_point_time", best=best, likely=likely, worst=worst) == pytest.approx(
        [mean, deviation], abs=1e-4
    )


@row("SCH-R05")
def test_a_textbook_chain_of_eight() -> None:
    """Prototype network of Hillier and Lieberman, from memory: mean 44, variance 9, P(T <= 47) = 0.8413; 1e-3."""
    steps = {"a": (1, 2, 3), "b": (2, "3.5", 8), "c": (6, 9, 18), "e": (1, "4.5", 5), "f": (4, 4, 10), "j": (3, 9, 9),
             "l": (1, "5.5", 7), "n": (5, "5.5", 9)}  # fmt: skip
    found = {
        name: in_hours("three_point_time", best=f"{a} h", likely=f"{m} h", worst=f"{b} h")
        for name, (a, m, b) in steps.items()
    }
    mean, deviation = in_hours(
        "chain_time",
        means={name: f"{x[0]:.12f} h" for name, x in found.items()},
        deviations={name: f"{x[1]:.12f} h" for name, x in found.items()},
    )
    assert mean == pytest.approx(44, abs=1e-3)
    assert deviation**2 == pytest.approx(9, abs=1e-3)
    chance = number("chance_in_time", "", mean="44 h", deviation="3 h", available="47 h")
    assert chance == pytest.approx(0.8413, abs=1e-3)


@row("SCH-R06")
def test_triangular_estimate() -> None:
    """Computed: mean 4, variance 1.16667, P(X <= 3) = 0.2; tolerance 1e-5."""
    given = {"best": "2 h", "likely": "3 h", "worst": "7 h"}
    mean, deviation = in_hours("triangular_time", **given)
    assert mean == pytest.approx(4, abs=1e-5)
    assert deviation**2 == pytest.approx(1.16667, abs=1e-5)
    assert number("triangular_chance", "", **given, available="3 h") == pytest.approx(0.2, abs=1e-5)


@row("SCH-R07")
def test_chance_of_being_done_in_time() -> None:
    """The row's value is scipy's: mean 30, variance 4, 33 available; tolerance 1e-5."""
    found = number("chance_in_time", "", mean="30 h", deviation="2 h", available="33 h")
    assert found == pytest.approx(0.93319, abs=1e-5)


@row("SCH-R08")
def test_longest_way_through_a_network() -> None:
    """Example 6.5-2 of Taha, its network read: 25 along 1-2-4-5-6, exact. One call a node, the forward pass; the way
    is that of the predecessors that were last."""
    network = {(1, 2): 5, (1, 3): 6, (2, 3): 3, (2, 4): 8, (3, 5): 2, (3, 6): 11, (4, 5): 0, (4, 6): 1, (5, 6): 12}
    done, last = {1: 0.0}, {}
    for node in range(2, 7):
        arrivals = {
            start: in_hours("earliest_finish", before=[f"{done[start]:.0f} h"], duration=f"{time} h")[0]
            for (start, end), time in network.items()
            if end == node
        }
        done[node] = in_hours("earliest_finish", before=[f"{x:.0f} h" for x in arrivals.values()], duration="0 h")[0]
        last[node] = max(arrivals, key=lambda start: arrivals[start])
    assert done[6] == 25
    way = [6]
    while way[0] != 1:
        way.insert(0, last[way[0]])
    assert way == [1, 2, 4, 5, 6]
