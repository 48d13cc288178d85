"""The seeded-fault study on a sample that is the same every time; `report.py` runs all of it."""

from __future__ import annotations

import pytest
from edits import Mutant
from folder import Folder
from study import mutants, sample, share, shipped, standing, tally, written
from trial import BEYOND, PROVABLE, Originals, Outcome

SMALL = (
    "enter_vault",
    "leave_vault",
    "prepare_vault",
    "restore_power",
    "isolate",
    "storm_exit",
    "lift_base",
    "lift_fork",
    "try_stop",
)
"""Files whose faults are quickly looked for."""

AGREE = range(30)
"""Generated folders whose originals are held against the walker."""

BROKEN = (0, 6, 7)
"""Generated folders that are right as they stand, and are broken."""


@pytest.mark.parametrize("originals", shipped(), ids=lambda o: o.name)
def test_the_shipped_procedures_are_right_by_every_judge(originals: Originals) -> None:
    stands = standing(originals)
    assert stands.wrong == ()
    assert stands.said == (), "a false alarm"


def test_the_walker_and_the_check_agree_on_procedures_nobody_has_thought_about() -> None:
    stands = {seed: standing(written(seed)) for seed in AGREE}
    assert [(seed, s.wrong, s.said) for seed, s in stands.items() if not s.agrees] == []
    right = sum(not s.wrong for s in stands.values())
    assert 10 <= right <= len(stands) - 5, "the writer is to be right often, and wrong often enough to tell"


def _tried(originals: Originals, some: list[Mutant]) -> list[Outcome]:
    return [outcome for mutant in some if (outcome := originals.try_one(mutant)) is not None]


@pytest.fixture(scope="module")
def outcomes() -> list[Outcome]:
    found: list[Outcome] = []
    for at, originals in enumerate(shipped()):
        small = [x for x in mutants(originals) if x.file in SMALL or x.operator == "other_north"]
        found += _tried(originals, sample(small, 4, at))
    for seed in BROKEN:
        originals = written(seed)
        assert not standing(originals).wrong
        found += _tried(originals, sample(list(mutants(originals)), 2, seed))
    return found


def test_nothing_that_is_wrong_is_missed(outcomes: list[Outcome]) -> None:
    """At least 95 % of the faults of each provable kind that are no equivalent ones, and nothing makes the check fall
    over."""
    counts = tally(outcomes)
    assert [o.why for o in outcomes if o.kind == "crashed"] == []
    assert share(counts) >= 0.95, [(o.mutant.file, o.mutant.what, o.why) for o in outcomes if o.kind == "missed"]
    for name, count in counts.items():
        if name in {operator.__name__ for operator in PROVABLE}:
            assert share({name: count}) >= 0.95, name


def test_the_sample_tells_something(outcomes: list[Outcome]) -> None:
    """Every kind is made, and the kinds a proof sees are wrong often enough to be missed."""
    counts = tally(outcomes)
    assert set(counts) == {operator.__name__ for operator in (*PROVABLE, *BEYOND)}
    silent = [x.__name__ for x in PROVABLE if not counts[x.__name__].caught]
    assert silent == []
    assert sum(count.equivalent for count in counts.values()) > 10


def test_most_findings_lead_to_the_fault(outcomes: list[Outcome]) -> None:
    """By a line near it, or by a name that is said."""
    caught = [outcome for outcome in outcomes if outcome.kind == "caught"]
    assert sum(outcome.told for outcome in caught) >= 0.9 * len(caught)


# ---------------------------------------------------------------------------- the judges themselves

MACHINE = """\
proclang 1
machine rig "Invented rig, training example"
kind cover
  states fitted, removed
kind load
  states landed, hanging
cap: cover "cap"
hook: load "load"
counted rags
interlock hook is hanging only while cap is fitted
ask nothing while hook is hanging
if stopped cap is fitted
"""

HEAD = """\
proclang 1
procedure trial "Invented, training example"
inputs
  slab: one of soft, firm
needs
  instrument rule "rule", reads to 0.1 mm
  crew lead, rigger
  authority lead
machine rig
  cap found fitted, left fitted
  hook found landed, left landed
"""


@pytest.mark.parametrize(
    ("lines", "rule"),
    [
        ("step a\n  now cap is removed\nstep b\n  now cap is fitted", ""),
        ("step a\n  now cap is removed", "left-otherwise"),
        ("when slab is soft\n  step a\n    now cap is removed\nwhen slab is soft\n  step b\n    now cap is fitted", ""),
        (
            "when slab is soft\n  step a\n    now cap is removed\nwhen slab is firm\n  step b\n    now cap is fitted",
            "left-otherwise",
        ),
        ("step a\n  require cap is removed", "state-required"),
        ("step a\n  now cap is removed\nstep b\n  now hook is hanging", "interlock-broken"),
        ("step a\n  now hook is hanging\n  now hook is landed", ""),
        ("step a\n  now hook is hanging\nstep b\n  note n \"N\"\n  now hook is landed", "asked-meanwhile"),
        ("step a\n  measure x in pieces\n    counts rags out", "left-unsaid"),
        ("step a\n  now cap is fitted", "already-so"),
        ("when slab is soft\n  step a\n    measure x in mm\nstep b\n  note n \"N\"\ncompute y = x", "not-set"),
        ("step a\n  measure x in mm\n    at most 2 mm\nstep b\n  upsets x", "left-stale"),
        ("step a\n  measure x in mm\n    at most 2 mm\nstep b\n  upsets x\nstep c\n  measure again x", ""),
        (
            "repeat r at most 3 times\n  step a\n    measure x in mm\n      at most 2 mm\n  leave when x passes\n"
            "  step b\n    now cap is removed",
            "left-otherwise",
        ),
        ("step a\n  measure x in deg using rule", "another dimension"),
        ("step a\n  measure x in mm using rule\n    within 5 .. 2 mm", "a range that goes down"),
        ("step a by signaller", "no signaller in the crew"),
    ],
)  # fmt: skip
def test_the_judges_know_right_from_wrong(lines: str, rule: str) -> None:
    steps = "\n".join(
        line.replace("step a", 'step a "Act."').replace("step b", 'step b "Act."').replace("step c", 'step c "Act."')
        for line in lines.splitlines()
    )
    body = "".join(f"  {line}\n" for line in steps.splitlines())
    stop = '  if stopped\n    step stop "Put the cap on."\n      now cap is fitted\n'
    folder = Folder({"rig": MACHINE, "trial": f'{HEAD}section main "Main"\n{body}{stop}'})
    wrong = standing(Originals("trial", folder)).wrong
    if rule:
        assert any(rule in line for line in wrong), wrong
    else:
        assert wrong == ()


def test_a_stop_that_leaves_something_open_is_seen() -> None:
    body = '  step a "Act."\n    now cap is removed\n  step b "Act."\n    now cap is fitted\n'
    folder = Folder({"rig": MACHINE, "trial": f'{HEAD}section main "Main"\n{body}'})
    assert any("stopped-unsafe" in line for line in standing(Originals("trial", folder)).wrong)
