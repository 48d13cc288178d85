"""Runs in which nothing is done: a rehearsal, answered by the program, and practice, answered by people.

The mark stands in the first entry of the journal, which every later entry hangs on, so it cannot be taken off a run;
and wherever the run is shown it is said again.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

REHEARSAL, PRACTICE = "rehearsal", "practice"

_SAID = {
    REHEARSAL: "nobody did any of this; a program answered every question, and every reading is made up",
    PRACTICE: "people practised; nothing recorded here was done to a machine",
}
_MARKS = {REHEARSAL: "REHEARSAL", PRACTICE: "PRACTICE"}


def mark_of(opened: Mapping[str, Any]) -> str:
    """The one word in capitals that a run is marked with; empty for one that counts."""
    exercise = opened.get("exercise")
    if not exercise:
        return ""
    return _MARKS.get(exercise, "EXERCISE") if isinstance(exercise, str) else "EXERCISE"


def sentence_of(opened: Mapping[str, Any]) -> str:
    """The mark and what it means, as a sentence; empty for a run that counts."""
    mark = mark_of(opened)
    exercise = opened.get("exercise")
    said = _SAID.get(exercise, "nothing recorded here counts as done") if isinstance(exercise, str) else ""
    return f"{mark}: {said}." if mark and said else f"{mark}." if mark else ""
