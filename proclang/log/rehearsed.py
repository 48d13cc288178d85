"""What a rehearsed run shows besides its outcomes: what it leaves open, how long it is, how much time it is said to
take."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import attrs

from proclang.engine.model import Entry
from proclang.log.gather import gather
from proclang.log.outcome import left_open
from proclang.program import model as m
from proclang.session.run import OpenedRun
from proclang.text.diagnostic import Problem
from proclang.values.reader import read_quantity


@attrs.frozen
class Length:
    """How long a run was: questions answered, and minutes at least and at most by what its sections and steps say they
    take."""

    questions: int
    least: Fraction
    most: Fraction


def unproved(run: OpenedRun) -> tuple[str, ...]:
    """What a finished run leaves open: values that failed or were upset, hardware not as it is to be left, instruments
    overdue, and deviations, behind which nothing was proved any more."""
    if run.state.status != "finished":
        return ()
    gathered = gather(run.program, run.entries)
    open_ = [f"{fact.where.strip('`')}: {fact.says}" for fact in left_open(gathered)]
    deviations = sum(event["is"] == "deviation" for entry in run.entries for event in entry.then)
    if deviations:
        open_.append(f"{deviations} deviation{'' if deviations == 1 else 's'} accepted")
    return tuple(open_)


def length(program: m.Program, entries: Sequence[Entry]) -> Length:
    """How long a run was. Where a section says what it takes, the steps in it and what it performs are in that."""
    frames: list[tuple[m.Routine, bool]] = []
    covered = False
    least = most = Fraction(0)
    for entry in entries:
        for event in entry.then:
            kind = event["is"]
            if kind == "called":
                frames.append((program.routine(event["routine"]), covered))
            elif kind == "returned" and frames:
                covered = frames.pop()[1]
            elif kind == "section":
                routine, outer = frames[-1]
                instr = routine.code[routine.index[event["address"]]]
                takes = _takes(instr.takes) if isinstance(instr, m.EnterSection) and not outer else None
                covered = outer or takes is not None
                if takes is not None:
                    least, most = least + takes[0], most + takes[1]
            elif kind == "step" and not covered and frames:
                routine, _ = frames[-1]
                takes = _takes(_step_takes(routine, event["at"]))
                if takes is not None:
                    least, most = least + takes[0], most + takes[1]
    return Length(sum(entry.reply.kind == "answer" for entry in entries), least, most)


def _step_takes(routine: m.Routine, occurrence: str) -> str:
    name = occurrence.rpartition("/")[2]
    return next((x.takes for x in routine.code if isinstance(x, m.BeginStep) and x.name == name), "")


def _takes(text: str) -> tuple[Fraction, Fraction] | None:
    """The minutes that `30 .. 50 min` says, at least and at most."""
    if not text:
        return None
    low, _, high = text.partition("..")
    high = high.strip() or low.strip()
    top = read_quantity(high)
    if isinstance(top, Problem):
        return None
    bottom = read_quantity(low.strip(), unit=top.unit) if low.strip() != high else top
    if isinstance(bottom, Problem):
        return None
    return bottom.quantity.value / 60, top.quantity.value / 60
