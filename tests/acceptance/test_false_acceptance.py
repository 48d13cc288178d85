"""A crew that reads again until it passes, with a plate that does not.

The true tilt lies outside its limit. The crew reads, and where the verdict is not to its liking reads once more, up to
ten times. Judged by the best reading, nearly every such plate would be accepted some day; judged by the mean of all
readings since the last adjustment, which is what the engine does, the share is that of a mean that wanders over the
limit. The draws come from a seed, so that the engine can be held, crew by crew, against a model of a few lines.

    python -m pytest tests/acceptance/test_false_acceptance.py -s

prints the shares. They depend on nothing but the numbers below, which are invented.
"""

from __future__ import annotations

import random
from fractions import Fraction

from helpers import answer_opening, program_of, start

CREWS = 300
MOST = 10
LIMIT = Fraction(2)
TRUE = 2.1
REPEATS = 0.2
"""Arcminutes: the true tilt is half a standard deviation of one reading outside the limit."""

PROCEDURE = """\
proclang 1
procedure stubborn "A plate that is not level, training example"
needs
  instrument level "level", repeats to 0.2 arcmin
  crew lead
  authority lead
section only "Only"
  step look "Look."
    measure tilt in arcmin using level
      at most 2 arcmin
GUARD
  hold seen "Seen" by lead
"""


def readings_of(crew: int) -> list[Fraction]:
    rng = random.Random(1000 + crew)
    return [Fraction(str(round(rng.gauss(TRUE, REPEATS), 2))) for _ in range(MOST)]


def accepted_by_the_mean(readings: list[Fraction]) -> bool:
    return any(sum(readings[:n], Fraction(0)) / n <= LIMIT for n in range(1, MOST + 1))


def accepted_by_the_best(readings: list[Fraction]) -> bool:
    return min(readings) <= LIMIT


def accepted_by_the_engine(readings: list[Fraction], guard: str = "") -> bool:
    program = program_of({"stubborn": PROCEDURE.replace("GUARD\n", guard)}, "stubborn")
    run = answer_opening(start(program))
    for number, reading in enumerate(readings):
        if number:
            run.say("again")
        run.say(str(float(reading)))
        if "/seen/" in run.address:
            return True
    return False


def test_reading_until_it_passes_is_no_way_to_pass() -> None:
    """The engine accepts exactly the crews whose mean passes, and far fewer than have one reading that does."""
    drawn = [readings_of(crew) for crew in range(CREWS)]
    engine = [accepted_by_the_engine(readings) for readings in drawn]
    mean = [accepted_by_the_mean(readings) for readings in drawn]
    best = [accepted_by_the_best(readings) for readings in drawn]
    guarded = [accepted_by_the_engine(readings, "      guarded\n") for readings in drawn]
    shares = {
        name: sum(each) / CREWS
        for name, each in (("engine", engine), ("mean", mean), ("best", best), ("guarded", guarded))
    }
    print("\nfalse acceptances:", ", ".join(f"by the {name} {share:.1%}" for name, share in shares.items()))
    assert engine == mean
    assert shares["best"] > 0.9
    assert shares["engine"] < 0.6 < shares["best"]
    assert shares["guarded"] < 0.05
