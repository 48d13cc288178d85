"""What is gathered from a run's entries, and what every handler of events needs: the place of an occurrence, a line for
it, the roles of people.
"""

from __future__ import annotations

from collections.abc import Iterable

import attrs

from proclang.engine.model import Event, State
from proclang.log.drafts import Computed, Deviation, Judged, Reading, Setting
from proclang.log.markdown import Md, code, inline
from proclang.log.model import Fact
from proclang.log.places import Key, Order, Places
from proclang.program import model as m

Place = tuple[Order, Key]
JudgedKey = tuple[str, str, str]
"""Path of the frame, name, labels (or `spread`)."""

STOP, BREACH, PUT_RIGHT, UNKNOWN, INSISTED = range(5)
"""Kinds of matters left open that events tell of, in the order in which the log lists them."""


def occurrence(at: str, instr: m.Instr | None) -> Md:
    """An occurrence as the log shows it: the end of a loop stands at the loop."""
    return code(at.rpartition("/")[0] if isinstance(instr, m.EndLoop) else at)


@attrs.define
class Gathered:
    """All that happened. Facts come with the place to sort them by, in the order in which they happened."""

    program: m.Program
    state: State = attrs.field(factory=State)
    places: Places = attrs.field(init=False)
    opened: Event = attrs.field(factory=dict)
    done: list[tuple[Place, Fact | Reading]] = attrs.field(factory=list)
    computed: list[tuple[Place, Computed]] = attrs.field(factory=list)
    settings: list[tuple[Place, Setting]] = attrs.field(factory=list)
    hazards: list[tuple[Place, Fact]] = attrs.field(factory=list)
    signed: list[tuple[Place, Fact]] = attrs.field(factory=list)
    deviations: list[tuple[Place, Deviation]] = attrs.field(factory=list)
    open: list[tuple[int, Place, Fact]] = attrs.field(factory=list)
    """Kind, place and what is left open."""

    found: dict[str, str] = attrs.field(factory=dict)
    """Hardware as it was found, by item."""

    verdicts: dict[JudgedKey, tuple[Place, Judged]] = attrs.field(factory=dict)
    """The last verdict on each value."""

    stale: list[tuple[Place, str, str]] = attrs.field(factory=list)
    """What procedures that have ended left upset: place, path of the frame, name."""

    notes: list[Fact] = attrs.field(factory=list)
    """What was noted beside the questions, each at its question, in the order of the clock."""

    before: dict[str, list[str]] = attrs.field(factory=dict)
    """Who held a role before somebody took it over, by role."""

    short: tuple[int, ...] = ()
    """How many people are on the roster and how many it takes, where they are too few."""

    failed: int = 0
    """How often something was out of tolerance, whatever was done about it."""

    struck: int = 0
    """Readings that were struck as mistyped."""

    def __attrs_post_init__(self) -> None:
        self.places = Places(self.program)


@attrs.define
class Fold:
    """The gathered so far, and what one event has to know of those before it."""

    out: Gathered

    ask: str = ""
    """The question of this entry."""

    reading: tuple[str, Reading] | None = None
    """The name and the reading of this entry: the value kept after it and verdicts at its place are its own."""

    series: dict[JudgedKey, list[list[Reading]]] = attrs.field(factory=dict)
    computings: dict[tuple[str, str, tuple[str, ...]], list[Computed]] = attrs.field(factory=dict)
    last_computed: dict[tuple[str, str], Computed] = attrs.field(factory=dict)
    setting: dict[str, Setting] = attrs.field(factory=dict)
    judged_at: dict[str, dict[JudgedKey, None]] = attrs.field(factory=dict)
    judged_of: dict[tuple[str, str], dict[JudgedKey, None]] = attrs.field(factory=dict)
    unknown: dict[str, tuple[Place, Fact]] = attrs.field(factory=dict)
    asked: dict[str, list[Md]] = attrs.field(factory=dict)
    answers: dict[str, Md] = attrs.field(factory=dict)
    steps: dict[str, tuple[int, Md, Md]] = attrs.field(factory=dict)
    calling: bool = False
    """A procedure has just been called, and what it is given is handed over."""

    struck: dict[str, tuple[Place, Md, tuple[Md, ...]]] = attrs.field(factory=dict)
    """Mistyped readings by their occurrence, until it is read again."""

    roles_of: dict[tuple[tuple[str, ...], tuple[str, ...]], Md] = attrs.field(factory=dict)
    """Roles looked up since somebody was last put on the roster."""

    left: str = ""
    """The path of the procedure that has just come back, while what it gives is handed over."""

    handed_up: tuple[str, ...] = ()
    """What it gives; a value computed right behind the call is not among it."""

    _placed: tuple[str, tuple[m.Instr | None, Place]] | None = None
    """The last occurrence looked up: several events in a row tell of one."""

    def place(self, at: str) -> tuple[m.Instr | None, Place]:
        """The instruction an occurrence belongs to, and what to sort it by."""
        if self._placed is None or self._placed[0] != at:
            places = self.out.places
            pc = places.pc_of(at)
            found = (places.top.map.instruction(pc), places.order_of(pc, self.out.state))
            self._placed = (at, found)
        return self._placed[1]

    def place_of_address(self, address: str, at: str = "") -> tuple[m.Instr | None, Place]:
        """The same for an address in the innermost frame; `at` is the occurrence, where events to come tell of it."""
        places = self.out.places
        pc = places.top.map.pc_at(address)
        found = (places.top.map.instruction(pc), places.order_of(pc, self.out.state))
        if at:
            self._placed = (at, found)
        return found

    def say(self, at: str, says: str) -> None:
        """A fact of the section that is being gone through."""
        instr, place = self.place(at)
        self.out.done.append((place, Fact(occurrence(at, instr), Md(says))))

    def leave_open(self, kind: int, at: str, says: str) -> None:
        """Something a reader has to know of."""
        instr, place = self.place(at)
        self.out.open.append((kind, place, Fact(occurrence(at, instr), Md(says))))

    def roles(self, names: Iterable[str], wanted: tuple[str, ...] = ()) -> Md:
        """The roles of people, so that who they are stands in one place only; of several roles, those wanted here."""
        asked = (tuple(names), wanted)
        if asked not in self.roles_of:
            self.roles_of[asked] = self._roles(*asked)
        return self.roles_of[asked]

    def _roles(self, names: tuple[str, ...], wanted: tuple[str, ...]) -> Md:
        people = self.out.state.people
        said: dict[str, None] = {}
        for name in names:
            held = [role for role, holder in people.items() if holder == name]
            held = [role for role in held if role in wanted] or held
            if not held and name in self.out.program.opening.crew:
                held = [name]
            said.update(dict.fromkeys(held or ["somebody not on the roster"]))
        return inline(" and ".join(role.replace("_", " ") for role in said))

    def by(self, names: Iterable[str] | None, wanted: tuple[str, ...] = ()) -> Md:
        """` by lead and rigger`, or nothing."""
        return Md(f" by {self.roles(names, wanted)}") if names else Md("")
