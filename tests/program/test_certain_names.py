"""Layers of certain names: what a way sets is told from what was set before it."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from proclang.program.certain import Certain

NAMES = st.sets(st.sampled_from("abcdef"))


def test_a_layer_is_certain_inside_and_handed_out_afterwards() -> None:
    """What follows a branch adds what both ways have set."""
    certain = Certain()
    certain.add("before")
    with certain.layer() as yes:
        certain.add("both")
        certain.add("one")
        assert "one" in certain
        assert "before" in certain
    assert "one" not in certain
    with certain.layer() as no:
        certain.add("both")
    certain.update(yes & no)
    assert ("both" in certain, "one" in certain) == (True, False)


def test_a_way_to_a_safe_state_knows_nothing_of_its_section() -> None:
    """And leaves nothing behind."""
    certain = Certain()
    certain.add("before")
    with certain.layer() as names:
        certain.add("section")
        with certain.without(names):
            assert "section" not in certain
            assert "before" in certain
            certain.add("stopped")
        assert ("section" in certain, "stopped" in certain) == (True, False)


def test_since_a_depth_counts_every_layer_above_it() -> None:
    """A loop may be left from inside a branch."""
    certain = Certain()
    certain.add("before")
    depth = certain.depth
    with certain.layer():
        certain.add("body")
        with certain.layer():
            certain.add("branch")
            assert certain.since(depth) == {"body", "branch"}


@given(NAMES, NAMES, NAMES)
def test_a_branch_is_the_meeting_of_its_ways(before: set[str], yes: set[str], no: set[str]) -> None:
    """Plain sets are the oracle: what was before, and what both ways have set."""
    certain = Certain()
    certain.update(before)
    with certain.layer() as first:
        certain.update(yes)
    with certain.layer() as second:
        certain.update(no)
    certain.update(first & second)
    assert {name for name in "abcdef" if name in certain} == (before | yes) & (before | no)
