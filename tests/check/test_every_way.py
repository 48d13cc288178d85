"""What the check proves over all ways at once, against runs walked one by one."""

from __future__ import annotations

import pytest
from path_walker import MACHINE, breaks, procedure_at_random

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
