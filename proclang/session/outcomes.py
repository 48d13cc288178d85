"""What can come about in a procedure, and how it is said: the words of outcomes.

An outcome belongs to a statement, in whichever call and pass it comes about: an arm that is taken, a condition that
holds or does not, an answer that is chosen, a verdict, how often a loop is gone through, a deviation that is accepted,
a section that is stopped.
"""

from __future__ import annotations

from typing import NamedTuple

from proclang.program import model as m

PASSES, FAILS, UNDECIDED = "passes", "fails", "undecided"


class Outcome(NamedTuple):
    """One thing that can come about. `routine` is empty for what is asked before the first section."""

    routine: str
    address: str
    says: str


def statement_of(instr: m.Instr) -> str:
    """The address of the statement an instruction was made from: the labels of one `measure` are one statement."""
    if isinstance(instr, m.Read) and instr.labels and not all(instr.variables):
        return instr.address.rpartition("[")[0] or instr.address
    return instr.address


def left_after(passes: int) -> str:
    """A `repeat` that is left in this pass."""
    return f"left in pass {passes}"


BOUND = "reaches its bound"
ACCEPTED = "accepted as a deviation"
STOPPED = "stopped here"
LEAVES = "holds, and the loop is left"
AGREES, DIFFERS = "reads back as set", "does not read back as set"
CYCLED_AGREES, CYCLED_DIFFERS = "stands after a power cycle", "does not stand after a power cycle"
AS_DECLARED, OTHERWISE = "found as declared", "found otherwise"


def takes_arm(label: str) -> str:
    """An arm of `according to`."""
    return f"goes by `{label}`"


def condition_is(word: str) -> str:
    """One side of a `when`."""
    return "holds" if word == "yes" else "does not hold"


def answered(word: str) -> str:
    """An answer to `choose` or `confirm`."""
    return f"answered `{word}`"


def judged(name: str, outcome: str, *, spread: bool = False) -> str:
    """A verdict on a value, or on the spread of a series."""
    return f"the spread of `{name}` {outcome}" if spread else f"`{name}` {_worded(outcome)}"


def _worded(outcome: str) -> str:
    return "is undecided" if outcome == UNDECIDED else outcome


def loop_counts(bound: int) -> tuple[int, ...]:
    """The numbers of passes after which a loop is to be left once: 1, 2 and its bound."""
    return tuple(sorted({1, min(2, bound), bound}))
