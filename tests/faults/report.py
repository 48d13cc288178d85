"""Runs the whole seeded-fault study on two processes and prints what came of every kind of fault.

PYTHONPATH=. python tests/faults/report.py [--generated N] [--json FILE] [OPERATOR ...]
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from edits import Mutant
from study import Standing, as_json, as_text, mutants, sample, shipped, standing, tally, written
from trial import OPERATORS, Originals, Outcome

_FOLDERS: dict[str, Originals] = {}
PER_KIND = 2
"""Faults of each kind that are made of each generated folder."""


def _folder(name: str) -> Originals:
    if name not in _FOLDERS:
        known = {originals.name: originals for originals in shipped()}
        _FOLDERS[name] = known.get(name) or written(int(name.removeprefix("generated ")))
    return _FOLDERS[name]


def _stands(name: str) -> tuple[str, Standing]:
    return name, standing(_folder(name))


def _tried(work: tuple[str, list[Mutant]]) -> list[tuple[str, Outcome]]:
    name, some = work
    outcomes = [(name, outcome) for mutant in some if (outcome := _folder(name).try_one(mutant)) is not None]
    if name.startswith("generated"):
        _FOLDERS.pop(name, None)
    return outcomes


def main() -> int:
    """Everything, with progress on standard error."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--generated", type=int, default=60, help="generated folders (60)")
    parser.add_argument(
        "--places", type=int, default=PER_KIND, help=f"of each generated folder, for each kind; 0 for all ({PER_KIND})"
    )
    parser.add_argument("--json", type=Path, help="write the results there as well")
    parser.add_argument("operators", nargs="*", help="only these kinds of fault")
    asked = parser.parse_args()
    operators = tuple(x for x in OPERATORS if not asked.operators or x.__name__ in asked.operators)
    begun = time.monotonic()
    names = [originals.name for originals in shipped()] + [f"generated {seed}" for seed in range(asked.generated)]
    with multiprocessing.Pool(2) as pool:
        stands = dict(pool.imap(_stands, names))
        print(_originals(stands), flush=True)
        work: list[tuple[str, list[Mutant]]] = []
        for at, name in enumerate(names):
            if stands[name].wrong:
                continue
            some = list(mutants(_folder(name), operators))
            if name.startswith("generated") and asked.places:
                some = sample(some, asked.places, at)
            work += [(name, some[first : first + 20]) for first in range(0, len(some), 20)]
        total = sum(len(some) for _, some in work)
        outcomes: list[tuple[str, Outcome]] = []
        for done in pool.imap(_tried, work):
            outcomes += done
            print(
                f"\r{len(outcomes)} of {total}, {time.monotonic() - begun:.0f} s", end="", file=sys.stderr, flush=True
            )
    print(file=sys.stderr)
    for title, of in (("SHIPPED", False), ("GENERATED", True)):
        some = [(name, o) for name, o in outcomes if name.startswith("generated") == of]
        if some:
            print(f"\n{title}\n{as_text(tally([o for _, o in some]), some)}")
    counts = tally([outcome for _, outcome in outcomes])
    print(f"\nALL\n{as_text(counts, outcomes)}")
    if asked.json is not None:
        told: dict[str, object] = {n: {"wrong": s.wrong, "said": s.said} for n, s in stands.items()}
        asked.json.write_text(as_json(counts, outcomes, told), encoding="utf-8")
    missed = any(outcome.kind in ("missed", "crashed") for _, outcome in outcomes)
    return 1 if missed or not all(s.agrees for s in stands.values()) else 0


def _originals(stands: dict[str, Standing]) -> str:
    right = [name for name, s in stands.items() if not s.wrong]
    alarms = [(name, line) for name in right for line in stands[name].said]
    passed = [name for name, s in stands.items() if s.wrong and not s.said]
    lines = [
        f"originals: {len(stands)}, of which the judges call {len(right)} right and {len(stands) - len(right)} wrong",
        f"false alarms on those that are right: {len(alarms)}",
        *(f"  {name}: {line}" for name, line in alarms),
        f"wrong ones of which the check says nothing: {len(passed)}",
        *(f"  {name}: {line}" for name in passed for line in stands[name].wrong),
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    raise SystemExit(main())
