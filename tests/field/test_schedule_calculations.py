"""Times of steps and chains against scipy's distributions."""

from __future__ import annotations

import pytest
from field_help import number, refusal, several
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

times = st.tuples(st.integers(0, 50), st.integers(0, 50), st.integers(1, 50))


@given(shape=times, available=st.integers(-10, 160))
def test_the_triangle_is_scipys(shape: tuple[int, int, int], available: int) -> None:
    """Mean, deviation and chance, also where the likely time is the best or the worst one, and outside."""
    best, likely, worst = shape[0], shape[0] + shape[1], shape[0] + shape[1] + shape[2]
    law = stats.triang((likely - best) / (worst - best), loc=best, scale=worst - best)
    given = {"best": f"{best} h", "likely": f"{likely} h", "worst": f"{worst} h"}
    mean, deviation = several("triangular_time", "h", "h", **given)
    assert (mean, deviation) == (pytest.approx(law.mean()), pytest.approx(law.std()))
    chance = number("triangular_chance", "", available=f"{available} h", **given)
    assert chance == pytest.approx(law.cdf(available), abs=1e-9)


@given(mean=st.integers(1, 100), deviation=st.integers(1, 30), available=st.integers(-50, 200))
def test_the_chance_is_scipys(mean: int, deviation: int, available: int) -> None:
    """Deep into both tails."""
    found = number("chance_in_time", "", mean=f"{mean} h", deviation=f"{deviation} h", available=f"{available} h")
    assert found == pytest.approx(stats.norm.cdf(available, mean, deviation), rel=1e-9)


def test_a_chain_adds_variances_not_deviations() -> None:
    """3 and 4 make 5."""
    found = several(
        "chain_time", "h", "h",
        means={"rig": "1 h", "lift": "120 min"}, deviations={"lift": "40 min", "rig": "30 min"},
    )  # fmt: skip
    assert found == pytest.approx([3, 50 / 60])


@pytest.mark.parametrize("name", ["three_point_time", "triangular_time"])
@pytest.mark.parametrize("shape", [(3, 2, 8), (2, 9, 8), (5, 5, 5), (8, 5, 2)])
def test_times_out_of_order_are_refused(name: str, shape: tuple[int, int, int]) -> None:
    """Or that leave no room: a step that takes exactly as long as said needs no estimate."""
    best, likely, worst = (f"{x} h" for x in shape)
    assert "at most" in refusal(name, best=best, likely=likely, worst=worst).message


def test_work_starts_when_the_last_thing_it_waits_for_is_done() -> None:
    """Not when the first is."""
    assert number("earliest_finish", "h", before=["1.5 h", "30 min"], duration="2 h") == pytest.approx(3.5)
    assert refusal("chance_in_time", mean="3 h", deviation="0 h", available="4 h").code == "cannot-compute"
