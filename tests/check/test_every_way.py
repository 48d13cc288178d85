"""What the check proves over all ways at once, against runs walked one by one."""

from __future__ import annotations

import pytest
from path_walker import MACHINE, breaks, procedure_at_random, unsafe_stops, with_a_stop

from proclang.check.check import check_files
from proclang.check.hardware import find_hardware_faults
from proclang.text.diagnostic import Severity

FAULTS = {"state-required", "interlock-broken", "begins-otherwise", "left-otherwise"}


class _Texts:
    def shown(self, name: str) -> str:
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        return MACHINE.encode() if name == "rig" else None

    def names(self) -> tuple[str, ...]:
        return ("rig",)


@pytest.mark.parametrize("part", range(4))
def test_a_fault_is_found_where_some_run_has_it_and_nowhere_else(part: int) -> None:
    """Procedures at random, not written around the checker; whether a run breaks a rule is found by walking them all.

    Conditions that are the same are written the same, as the theorem in LANGUAGE.md asks.
    """
    wrong, broken = [], 0
    for seed in range(part * 150, part * 150 + 150):
        text = procedure_at_random(seed)
        built = check_files("trial", text.encode(), _Texts()).built
        assert built.program is not None, text
        found = {f.code for f in find_hardware_faults(built.program) if f.severity is Severity.ERROR}
        expected = breaks(text)
        broken += expected
        if bool(found & FAULTS) != expected:
            wrong.append((seed, found, expected))
    assert wrong == []
    assert 20 < broken < 140  # the procedures are neither all sound nor all broken


SAFE = "if stopped hook is landed and cap is fitted\n"


def test_a_stop_is_found_fault_with_where_some_run_ends_unsafe_and_nowhere_else() -> None:
    """Sound procedures at random, each with an `if stopped` at random; every run is stopped at every question."""

    class Machine(_Texts):
        def read(self, name: str) -> bytes | None:
            return (MACHINE + SAFE).encode() if name == "rig" else None

    wrong, looked_at, unsafe = [], 0, 0
    for seed in range(750):
        text = procedure_at_random(seed)
        if breaks(text):
            continue
        text = with_a_stop(text, seed)
        built = check_files("trial", text.encode(), Machine()).built
        assert built.program is not None, text
        found = {f.code for f in find_hardware_faults(built.program) if f.severity is Severity.ERROR}
        expected = unsafe_stops(text)
        looked_at, unsafe = looked_at + 1, unsafe + expected
        if bool(found) != expected:
            wrong.append((seed, found, expected))
    assert wrong == []
    assert looked_at > 120
    assert 20 < unsafe < looked_at - 20
