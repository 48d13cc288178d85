"""What the engine is told, what it asks, and what it remembers.

An entry is one journal line: the reply and all that followed from it, as a list of events. State is a fold over
events and over nothing else, so that replaying recorded entries needs no procedure, no formula and no clock.

Events are small dictionaries, as they stand in the journal; `is` says which kind. The table in `fold` is the one
place that says what each kind does to the state.
"""

from __future__ import annotations

from typing import Any

import attrs

from proclang.program.origins import Origin, Reading
from proclang.text.diagnostic import Problem

Event = dict[str, Any]


class BadEntry(ValueError):
    """Entries that no run of this program on this procedure could have left: forged, cut about, or of another version.

    The one error of `apply`, `replay`, `next_request` and `decide`; entries of one's own never lead to it.
    """


FOREIGN = (LookupError, TypeError, ValueError, AttributeError, AssertionError, ArithmeticError, StopIteration)
"""What Python makes of a state that does not go with the procedure."""


@attrs.frozen
class Reply:
    """What was answered. `kind`: `answer` to the question, `note` beside it, `crew` when somebody takes a role over,
    `stop`, or `pause` when somebody leaves.
    `stamp` is when and where, as the session recorded it; of it the engine reads `date` alone, such as 2031-05-01."""

    text: str
    kind: str = "answer"
    stamp: dict[str, Any] = attrs.field(factory=dict)
    refused: tuple[tuple[str, str], ...] = ()
    """What was typed at the question before and not taken, each with the code that says why. Evidence; it decides
    nothing."""


@attrs.frozen
class Entry:
    """One journal line without its chain: which question, which reply, and the events that followed."""

    ask: str
    reply: Reply
    then: tuple[Event, ...]

    def to_json(self) -> dict[str, Any]:
        """The entry as it stands in the journal."""
        refused = {"refused": [list(typed) for typed in self.reply.refused]} if self.reply.refused else {}
        return {
            "ask": self.ask,
            "kind": self.reply.kind,
            "reply": self.reply.text,
            **refused,
            "at": self.reply.stamp,
            "then": list(self.then),
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Entry:
        """The entry a journal line holds. Raises `KeyError` or `TypeError` for anything else."""
        then, ask, kind, text, at = data["then"], data["ask"], data["kind"], data["reply"], data["at"]
        if type(then) is not list:
            raise TypeError("`then` is a list of events")
        for event in then:
            if type(event) is not dict or type(event.get("is")) is not str:
                raise TypeError("`then` is a list of events")
        if type(ask) is not str or type(kind) is not str or type(text) is not str or type(at) is not dict:
            raise TypeError("an entry has a question, a kind, a reply and a stamp")
        return cls(ask, Reply(text, kind, at, _refused(data["refused"]) if "refused" in data else ()), tuple(then))


def _refused(data: object) -> tuple[tuple[str, str], ...]:
    if type(data) is not list or not all(
        type(x) is list and len(x) == 2 and type(x[0]) is str and type(x[1]) is str for x in data
    ):
        raise TypeError("`refused` is a list of texts, each with a code")
    return tuple((text, code) for text, code in data)


@attrs.frozen
class Refused:
    """A reply that cannot be taken as it is; nothing is recorded, and the question stands."""

    problem: Problem


@attrs.frozen
class Callout:
    """A hazard as it is shown."""

    word: str
    title: str
    risk: str
    avoid: str


@attrs.frozen
class Request:
    """One question, with everything a driver needs to ask it.

    `kind` is the kind of answer: quantity, choice, text, name, names or word (one fixed word, such as `done`).
    `step` is the occurrence of the step it belongs to; a driver shows the step's text when it changes.
    """

    kind: str
    address: str
    prompt: str
    phase: str = ""
    """In which way the engine rests; see `answers.PHASES`."""

    section: str = ""
    section_number: tuple[int, int] | None = None
    """Which section of how many in the procedure that is being gone through."""

    within: tuple[str, ...] = ()
    """Where the loops around it stand, outermost first: `levelling: pass 1, at most 5`."""

    step: str = ""
    number: tuple[int, int] | None = None
    """Which step of how many in the section."""

    title: str = ""
    prose: tuple[str, ...] = ()
    figures: tuple[str, ...] = ()
    by: str = ""
    """Who performs the step."""

    people: str = ""
    """Who is asked."""

    takes: str = ""
    hazards: tuple[Callout, ...] = ()
    unit: str = ""
    limits: tuple[str, ...] = ()
    plausible: str = ""
    choices: tuple[str, ...] = ()
    facts: tuple[str, ...] = ()
    help: str = ""
    row: tuple[str, ...] = ()
    """Addresses of the readings that are asked one after the other, this one first, where more than one is left."""


@attrs.frozen
class Over:
    """The run is over: `finished` or `stopped`."""

    status: str


@attrs.define
class Frame:
    """One procedure being gone through."""

    routine: str
    path: str
    """Occurrence of the call: identity with pass numbers and labels."""

    address: str = ""
    section: str = ""
    loops: list[tuple[str, int | str]] = attrs.field(factory=list)
    values: dict[str, dict[str, str]] = attrs.field(factory=dict)
    """By name, then by label key: exact text with unit, a label, or words."""

    outcomes: dict[str, dict[str, str]] = attrs.field(factory=dict)
    series: dict[str, list[str]] = attrs.field(factory=dict)
    """Readings since the last adjustment, by `name|key`."""

    orders: dict[str, list[str]] = attrs.field(factory=dict)
    heard: list[str] = attrs.field(factory=list)
    did: list[str] = attrs.field(factory=list)
    """Who does the step that was begun last in this section."""

    stale: dict[str, list[str]] = attrs.field(factory=dict)
    """Names of values that were upset after they were read, with the label keys not yet read anew."""

    rests_on: dict[str, list[str]] = attrs.field(factory=dict)
    """What each computed value was computed from."""

    rereads: list[tuple[str, str, int]] = attrs.field(factory=list)
    """Readings being taken once more, innermost last: `again` or `adjust`, the address of the value that asked for it,
    and how many loops were around it."""

    taken: dict[str, list[Reading]] = attrs.field(factory=dict)
    """The readings of `series`, each with its number and its instrument."""

    origins: dict[str, dict[str, Origin]] = attrs.field(factory=dict)
    """Where each value came from, by name and label key; a fact of the site has none."""

    off: dict[str, dict[str, list[str]]] = attrs.field(factory=dict)
    """How far off computed values may be, as their events say it, by name and label key."""

    def copy(self) -> Frame:
        """A frame that shares nothing that changes."""
        return Frame(
            self.routine,
            self.path,
            self.address,
            self.section,
            list(self.loops),
            {name: dict(keys) for name, keys in self.values.items()},
            {name: dict(keys) for name, keys in self.outcomes.items()},
            {name: list(readings) for name, readings in self.series.items()},
            {name: list(done) for name, done in self.orders.items()},
            list(self.heard),
            list(self.did),
            {name: list(keys) for name, keys in self.stale.items()},
            {name: list(names) for name, names in self.rests_on.items()},
            list(self.rereads),
            {key: list(readings) for key, readings in self.taken.items()},
            {name: dict(keys) for name, keys in self.origins.items()},
            {name: dict(keys) for name, keys in self.off.items()},
        )


@attrs.define
class State:
    """Everything the engine remembers. Never changed once handed out: `apply` works on a copy."""

    status: str = "new"
    frames: list[Frame] = attrs.field(factory=list)
    rest: dict[str, Any] = attrs.field(factory=dict)
    """What is being asked at the address of the top frame: `phase`, and what that phase needs to know."""

    hardware: dict[str, str] = attrs.field(factory=dict)
    people: dict[str, str] = attrs.field(factory=dict)
    instruments: dict[str, dict[str, str]] = attrs.field(factory=dict)
    facts: dict[str, str] = attrs.field(factory=dict)
    entries: int = 0
    readings: int = 0
    """How many readings have been taken."""

    sitting: int = 0
    """How often the run has been left."""

    exchanged: dict[str, str] = attrs.field(factory=dict)
    """Instruments in whose place another of the procedure is read."""

    cautioned: list[str] = attrs.field(factory=list)
    """Calculations whose caution has been told."""

    rules: int = 1
    """By which rules replies are taken, as the run was begun. A run begun before there were more knows no more: 2 looks
    at roles that are two people, and asks for the most of a part that any procedure needs."""

    def copy(self) -> State:
        """A state that shares nothing that changes."""
        return State(
            self.status,
            [frame.copy() for frame in self.frames],
            dict(self.rest),
            dict(self.hardware),
            dict(self.people),
            {name: dict(facts) for name, facts in self.instruments.items()},
            dict(self.facts),
            self.entries,
            self.readings,
            self.sitting,
            dict(self.exchanged),
            list(self.cautioned),
            self.rules,
        )

    @property
    def top(self) -> Frame:
        """The procedure that is being gone through."""
        return self.frames[-1]

    @property
    def over(self) -> bool:
        """Whether nothing more is asked."""
        return self.status in ("finished", "stopped")
