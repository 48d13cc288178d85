"""What the check says of names and of lines, against runs walked one by one (`flow_walker`)."""

from __future__ import annotations

import flow_walker
import pytest
from flow_walker import TooManyRuns, Walker, procedure_at_random

from proclang.check.check import Checked, check_files
from proclang.check.reached import find_never_reached

UNSET = {"perhaps-not-set", "not-set-yet", "not-complete"}
PROCEDURES = 250


class _Texts:
    def shown(self, name: str) -> str:
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        return flow_walker.SURVEY.encode() if name == "survey" else None

    def names(self) -> tuple[str, ...]:
        return ("survey",)


def _lines(checked: Checked, codes: set[str]) -> set[int]:
    found = [f for f in checked.findings if f.code in codes]
    return {checked.files.sources[f.span.file].place(f.span.start)[0] for f in found}


@pytest.mark.parametrize("part", range(2))
def test_a_name_is_found_unset_where_some_way_leads_past_its_setting_and_nowhere_else(part: int) -> None:
    """Exactly the lines some way comes to with the name unset; conditions are taken to go either way each time."""
    wrong, walked, faulty = [], 0, 0
    for seed in range(part * PROCEDURES, (part + 1) * PROCEDURES):
        text = procedure_at_random(seed)
        checked = check_files("trial", text.encode(), _Texts())
        others = {f.code for f in checked.findings if f.code in ("syntax", "duplicate-name", "unknown-name")}
        assert not others, (seed, others, text)
        try:
            expected = Walker(text, free=True).walk().unset
        except TooManyRuns:
            continue
        walked += 1
        found = _lines(checked, UNSET)
        faulty += bool(expected)
        if found != expected:
            wrong.append((seed, found - expected, expected - found))
    assert wrong == []
    assert walked > PROCEDURES * 0.8
    assert walked / 4 < faulty < walked * 0.95


def test_what_is_said_never_to_be_reached_is_reached_by_no_run() -> None:
    """And most of what no run comes to is found; what is missed hangs on how conditions go together."""
    wrong: list[object] = []
    lines = found_lines = fixed = always = 0
    for seed in range(4 * PROCEDURES):
        text = procedure_at_random(seed)
        checked = check_files("trial", text.encode(), _Texts())
        if not checked.sound and any(f.code in UNSET for f in checked.findings):
            continue
        assert checked.built.program is not None, text
        tree, scope = checked.files.files["trial"].tree, checked.built.scopes["trial"]
        findings = find_never_reached(tree, scope, checked.built.program.main)
        by_code: dict[str, set[int]] = {"never-reached": set(), "always-left": set(), "loop-exit-fixed": set()}
        for f in findings:
            by_code[f.code].add(checked.files.sources[f.span.file].place(f.span.start)[0])
        try:
            seen = Walker(text, free=False).walk()
        except TooManyRuns:
            continue
        never = by_code["never-reached"]
        if never & seen.come_to or by_code["always-left"] & seen.stayed or by_code["loop-exit-fixed"] & seen.changed:
            wrong.append((seed, never & seen.come_to, by_code))
        outermost = seen.met - seen.come_to  # some run decided there, and none went in
        lines, found_lines = lines + len(outermost), found_lines + len(outermost & never)
        fixed, always = fixed + len(by_code["loop-exit-fixed"]), always + len(by_code["always-left"])
    assert wrong == []
    assert (found_lines > lines * 0.7, fixed > 20, always > 5, lines > 20) == (True,) * 4, (
        lines, found_lines, fixed, always,
    )  # fmt: skip
