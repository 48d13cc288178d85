"""What came about in a run: outcomes read from its journal, whoever gave the replies.

Entries are followed event by event; of the program no more is asked than which statement an event belongs to.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

import attrs

from proclang.engine.model import Entry, Event
from proclang.program import model as m
from proclang.session import outcomes as o
from proclang.session.outcomes import Outcome

_TURN = re.compile(r"#[0-9]+$")
_LABEL = re.compile(r"\[[^\]]*\]$")
_CYCLED = "after_power_cycle"
_SET_LABELS = ("read_back", _CYCLED)


@attrs.define
class _Frame:
    """A procedure being followed: where in its instructions the last event was."""

    routine: m.Routine
    path: str
    at: int = 0
    section: int = -1


@attrs.define
class Seen:
    """The outcomes of the entries of one run that were followed so far, each once."""

    program: m.Program
    outcomes: dict[Outcome, None] = attrs.field(factory=dict)
    _frames: list[_Frame] = attrs.field(factory=list)
    _stopping: bool = False

    def follow(self, entries: Iterable[Entry]) -> None:
        """Follow further entries of the run."""
        for entry in entries:
            for event in entry.then:
                act = getattr(self, f"_on_{event['is'].replace(' ', '_')}", None)
                if act is not None:
                    act(event)

    def copy(self) -> Seen:
        """One that can be led on by itself."""
        frames = [attrs.evolve(frame) for frame in self._frames]
        return Seen(self.program, dict(self.outcomes), frames, self._stopping)

    def _see(self, instr: m.Instr | None, says: str) -> None:
        if instr is not None:
            self.outcomes.setdefault(Outcome(self._frames[-1].routine.name, o.statement_of(instr), says))

    # ------------------------------------------------------------------ where

    def _find(self, occurrence: str, kinds: tuple[type[m.Instr], ...], more: int = 0) -> m.Instr | None:
        """The instruction of an occurrence in the procedure that is gone through: of several with one identity, as in
        exclusive arms, the first from where the run is. `more` names at its end are not of the instruction."""
        frame = self._frames[-1]
        code = frame.routine.code
        if not frame.routine.name:
            names = occurrence.split("/")
            wanted = ["/".join(names[: len(names) - more])]
        else:
            names = _names(occurrence.removeprefix(f"{frame.path}/"))
            names = names[: len(names) - more] if more else names
            bare = [_TURN.sub("", name) for name in names]
            loose = [_LABEL.sub("", name) for name in bare]
            wanted = [
                "/".join((frame.routine.name, frame_names))
                for frame_names in ("/".join((*loose[:-1], bare[-1])), "/".join(loose))
            ]
        for identity in wanted:
            places = [pc for pc, x in enumerate(code) if x.identity == identity and isinstance(x, kinds)]
            if places:
                frame.at = next((pc for pc in places if pc >= frame.at), places[0])
                return code[frame.at]
        return None

    # ------------------------------------------------------------------ events

    def _on_opened(self, e: Event) -> None:
        self._frames = [_Frame(self.program.opening, "opening")]

    def _on_called(self, e: Event) -> None:
        self._frames.append(_Frame(self.program.routine(e["routine"]), e["path"]))

    def _on_returned(self, e: Event) -> None:
        self._frames.pop()
        if self._stopping:
            self._see_stopped()

    def _on_section(self, e: Event) -> None:
        frame = self._frames[-1]
        frame.at = frame.section = frame.routine.index[e["address"]]

    def _on_rest(self, e: Event) -> None:
        frame = self._frames[-1]
        frame.at = frame.routine.index[e["address"]]
        if e["phase"] == "bound":
            self._see(frame.routine.code[frame.at], o.BOUND)

    def _on_hardware(self, e: Event) -> None:
        if e["why"] == "found":
            instr = self._find(e["at"], (m.AskFound,))
            if isinstance(instr, m.AskFound):
                self._see(instr, o.AS_DECLARED if e["state"] == instr.expected else o.OTHERWISE)

    def _on_branch(self, e: Event) -> None:
        frame = self._frames[-1]
        instr = self._find(e["at"], (m.Arms, m.Branch))
        if isinstance(instr, m.Arms):
            self._see(instr, o.takes_arm(e["took"]))
            frame.at = instr.targets[e["took"]]
        elif isinstance(instr, m.Branch):
            self._see(instr, o.condition_is(e["took"]))
            frame.at = frame.at + 1 if e["took"] == "yes" else instr.otherwise

    def _on_pass(self, e: Event) -> None:
        frame = self._frames[-1]
        first = e["n"] == 1
        for pc in [*range(frame.at, len(frame.routine.code)), *range(frame.at)]:
            instr = frame.routine.code[pc]
            if first and isinstance(instr, m.BeginLoop) and instr.name == e["loop"]:
                frame.at = pc + 1
                return
            if not first and isinstance(instr, m.EndLoop) and instr.name == e["loop"]:
                frame.at = instr.begin + 1
                return

    def _on_label(self, e: Event) -> None:
        frame = self._frames[-1]
        if not e["first"]:
            for pc in range(frame.at, len(frame.routine.code)):
                instr = frame.routine.code[pc]
                if isinstance(instr, m.EndEach) and instr.variable == e["each"]:
                    frame.at = instr.begin
                    return

    def _on_loop_end(self, e: Event) -> None:
        frame = self._frames[-1]
        instr = self._find(e["at"], (m.Leave, m.EndLoop))
        if isinstance(instr, m.Leave):
            end = next(
                x for x in frame.routine.code[instr.out - 1 :: -1] if isinstance(x, m.EndLoop) and x.name == instr.loop
            )
            self._see(instr, o.LEAVES)
            self._see(end, o.left_after(e["passes"]))
            frame.at = instr.out
        elif isinstance(instr, m.EndLoop):
            self._see(instr, o.BOUND)
            frame.at = instr.exhausted

    def _on_way(self, e: Event) -> None:
        frame = self._frames[-1]
        if e.get("back"):
            # Readings are taken once more: what comes next stands before. The question that follows says where.
            frame.at = max(frame.section, 0)

    def _on_answered(self, e: Event) -> None:
        if e.get("kind") in ("choose", "confirm"):
            self._see(self._find(e["at"], (m.Ask,)), o.answered(e["value"]))

    def _on_verdict(self, e: Event) -> None:
        if e.get("given"):
            return
        label = e["at"].rpartition("/")[2]
        if label in _SET_LABELS and (instr := self._find(e["at"], (m.SetInstr,), more=1)) is not None:
            agrees = e["outcome"] == o.PASSES
            if label == _CYCLED:
                self._see(instr, o.CYCLED_AGREES if agrees else o.CYCLED_DIFFERS)
            else:
                self._see(instr, o.AGREES if agrees else o.DIFFERS)
            return
        instr = self._find(e["at"], (m.Read, m.ComputeValue))
        self._see(instr, o.judged(e["name"], e["outcome"], spread=e.get("key") == "spread"))

    def _on_deviation(self, e: Event) -> None:
        frame = self._frames[-1]
        if not e.get("why"):  # otherwise a value was not known, or hardware not as declared
            self._see(frame.routine.code[frame.at], o.ACCEPTED)

    def _on_stopped(self, e: Event) -> None:
        if not e.get("again"):
            self._stopping = True
            self._see_stopped()

    def _see_stopped(self) -> None:
        """The `if stopped` of the section that was being gone through comes next, where it has one."""
        frame = self._frames[-1]
        enter: Any = frame.routine.code[frame.section] if frame.section >= 0 else None
        if isinstance(enter, m.EnterSection) and enter.stopped is not None:
            self._see(enter, o.STOPPED)
            frame.at = enter.stopped
            frame.section = -1  # gone through once


def _names(path: str) -> list[str]:
    """The names of a path; a label between square brackets may hold anything but a bracket."""
    return re.split(r"/(?![^\[]*\])", path)
