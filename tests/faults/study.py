"""The seeded-fault study: which faults are made of which procedures, what came of them, and how that is told."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import attrs
from edits import Mutant
from folder import from_disk
from generated import generated
from trial import BEYOND, OPERATORS, PROVABLE, Operator, Originals, Outcome

SHIPPED = Path(__file__).parents[2] / "procedures"
SEEDS = range(60)
"""Of the generated folders; those that the walker finds wrong as they stand are set aside."""

WOULD_CATCH = {
    "rename_use": "a review of the formulas, or a rehearsal with numbers that are known",
    "drop_upsets": "a review: only who knows the machine knows what a step makes stale",
    "other_label": "a review with the drawing beside it",
    "swap_arms": "a rehearsal for each hemisphere; a person who looks where the mark points (`confirm`)",
    "like_unit": "a review; a plausible range under the value; a second instrument",
    "flip_sign": "a rehearsal with numbers that are known; words for both signs in the texts",
    "tenfold_limit": "a review of limits against their source",
    "swap_named_limits": "a review; the plausible ranges of the two facts, where they do not overlap",
    "drop_performer": "the rule of writing `step-without-role`, which is off by default",
    "drop_witness": "a review of who has to see what",
    "drop_hazard": "a line `due before` in the machine file, where a state of the hardware tells of the hazard",
    "late_hazard": "a line `due before` in the machine file, where a state of the hardware tells of the hazard",
    "coarse_instrument": "the certificate of the instrument, read on site",
}
"""Of the kinds that no proof sees: what would."""


@attrs.define
class Count:
    """What came of the faults of one operator."""

    made: int = 0
    equivalent: int = 0
    spoken_of: int = 0
    caught: int = 0
    missed: int = 0
    told_where: int = 0
    beyond_caught: int = 0
    beyond_missed: int = 0
    crashed: int = 0

    def add(self, outcome: Outcome) -> None:
        """One more."""
        self.made += 1
        kind = outcome.kind
        if kind in ("equivalent", "spoken of"):
            self.equivalent += 1
            self.spoken_of += kind == "spoken of"
        elif kind == "caught":
            self.caught += 1
            self.told_where += outcome.told
        else:
            name = {"missed": "missed", "crashed": "crashed"}.get(kind, kind.replace(", ", "_"))
            setattr(self, name, getattr(self, name) + 1)


@cache
def shipped() -> tuple[Originals, ...]:
    """The procedures of the project."""
    return tuple(
        Originals(path.name, from_disk(path)) for path in sorted(SHIPPED.iterdir()) if any(path.glob("*.proc"))
    )


def written(seed: int) -> Originals:
    """A generated folder."""
    return Originals(f"generated {seed}", generated(seed))


@attrs.frozen
class Standing:
    """How an unbroken folder stands by the walker and by the check."""

    wrong: tuple[str, ...]
    said: tuple[str, ...]

    @property
    def agrees(self) -> bool:
        """Whether the walker and the check say the same of it."""
        return bool(self.wrong) == bool(self.said)


def standing(originals: Originals) -> Standing:
    """What is wrong with a folder before anybody broke it, and what the check says."""
    found = [(file, line) for file, lines in originals.faults_of().items() for line in lines]
    wrong = tuple(f"{file}: {line}" for file, line in found if not line.startswith("check: "))
    return Standing(wrong, tuple(f"{file}: {line}" for file, line in found if line.startswith("check: ")))


def mutants(originals: Originals, operators: tuple[Operator, ...] = OPERATORS) -> Iterator[Mutant]:
    """Every fault of every kind at every place."""
    for operator in operators:
        yield from originals.mutants(operator)


def sample(some: list[Mutant], size: int, seed: int) -> list[Mutant]:
    """A few of each kind, the same for the same seed."""
    rng = random.Random(seed)
    by_kind: dict[str, list[Mutant]] = {}
    for mutant in some:
        by_kind.setdefault(mutant.operator, []).append(mutant)
    return [mutant for kind in by_kind.values() for mutant in rng.sample(kind, min(size, len(kind)))]


def share(counts: dict[str, Count]) -> float:
    """Of the faults that are no equivalent ones, how many are caught."""
    caught = sum(count.caught for count in counts.values())
    missed = sum(count.missed + count.crashed for count in counts.values())
    return caught / (caught + missed) if caught + missed else 1.0


def tally(outcomes: list[Outcome]) -> dict[str, Count]:
    """Counts by operator, in the order of the operators."""
    counts = {operator.__name__: Count() for operator in OPERATORS}
    for outcome in outcomes:
        counts[outcome.mutant.operator].add(outcome)
    return {name: count for name, count in counts.items() if count.made}


def as_text(counts: dict[str, Count], outcomes: list[tuple[str, Outcome]]) -> str:
    """The table and what was missed, for people."""
    provable = [x.__name__ for x in PROVABLE if x.__name__ in counts]
    beyond = [x.__name__ for x in BEYOND if x.__name__ in counts]
    head = f"{'':20} {'made':>6} {'equivalent':>11} {'caught':>7} {'missed':>7} {'crashed':>8} {'told where':>11}"
    lines = ["Kinds that a proof sees:", head, *(_row(name, counts[name]) for name in provable)]
    lines += ["", "Kinds that often read as well as what was meant; caught and missed count what a judge calls wrong:"]
    lines.append(f"{head} {'beyond proof: spoken of':>24} {'not':>5}")
    lines += [
        f"{_row(name, counts[name])} {counts[name].beyond_caught:24} {counts[name].beyond_missed:5}" for name in beyond
    ]
    lines += ["", "In brackets: equivalent by the walker, and the check says something all the same."]
    lines.append(f"Caught of those that are wrong: {share(counts):.2%}")
    missed = [(folder, o) for folder, o in outcomes if o.kind in ("missed", "crashed")]
    lines.append(f"Missed: {len(missed)}")
    for folder, outcome in missed:
        fault = outcome.mutant
        lines.append(f"  {fault.operator} {folder}/{fault.file}.proc:{fault.line}: {fault.what} | {outcome.why}")
    lines.append("What would catch the kinds that no proof sees:")
    lines += [f"  {name}: {WOULD_CATCH.get(name, 'a review')}" for name in beyond if counts[name].beyond_missed]
    return "\n".join(lines)


def _row(name: str, count: Count) -> str:
    equivalent = f"{count.equivalent} ({count.spoken_of})" if count.spoken_of else f"{count.equivalent}"
    return (
        f"{name:20} {count.made:6} {equivalent:>11} {count.caught:7} {count.missed:7} {count.crashed:8}"
        f" {count.told_where:11}"
    )


def as_json(counts: dict[str, Count], outcomes: list[tuple[str, Outcome]], originals: dict[str, object]) -> str:
    """The same for machines."""
    provable = {operator.__name__ for operator in PROVABLE}
    return json.dumps(
        {
            "share": share(counts),
            "originals": originals,
            "operators": {
                name: {**attrs.asdict(count), "provable": name in provable} for name, count in counts.items()
            },
            "missed": [
                {"folder": folder, "file": o.mutant.file, "line": o.mutant.line, "operator": o.mutant.operator,
                 "what": o.mutant.what, "why": o.why, "kind": o.kind}
                for folder, o in outcomes
                if o.kind in ("missed", "crashed", "beyond, missed")
            ],
        },
        indent=1,
    )  # fmt: skip
