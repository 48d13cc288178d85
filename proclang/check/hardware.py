"""Hardware over every way: what a step requires, what the machine forbids, what a procedure begins with and leaves.

The graph of `ways` is gone through until nothing changes; at each place the states every item may be in are known, and
what is known where it is in them (`standing`). Fault is found once for each cause: what was found fault with is taken
as put right from there on, as the runner has it put right. Corrections and deviations are no part of the ways; what a
stop leads to is looked at from each of them (`stops`).

Codes: `state-required`, `interlock-broken`, `begins-otherwise`, `left-otherwise`, `left-unsaid`, `state-unsaid`,
`asked-meanwhile`, `stopped-unsafe` (errors), `already-so` (warning).
"""

from __future__ import annotations

from collections.abc import Iterable

import attrs

from proclang.check.lasts import Lasts, lasts_of
from proclang.check.settle import settle
from proclang.check.standing import UNKNOWN, Known, Standing, compatible
from proclang.check.stops import is_question, over_after_stops, section_of
from proclang.check.story import step_of, story
from proclang.check.unsaid import left_unsaid
from proclang.check.ways import Place, Ways, names_set, upset_with, verdicts_made
from proclang.program import model as m
from proclang.text.diagnostic import Diagnostic, Label, Severity
from proclang.text.span import Span


def find_hardware_faults(program: m.Program, ways: Ways | None = None) -> list[Diagnostic]:
    """Findings about a procedure and all it performs, from its own beginning. `ways` is its graph, if it is made."""
    if not any(
        isinstance(x, (m.NowInstr, m.RequireInstr)) or r.hardware for r in program.routines.values() for x in r.code
    ):
        return []
    ways = ways or Ways(program)
    looked = Look(program, ways, ways.start)
    looked.settle(looked.beginning())
    looked.report()
    looked.report_stops()
    return list(looked.findings.values())


@attrs.define
class Look:
    """One look at a program, from a place in it."""

    program: m.Program
    ways: Ways
    start: Place
    at: dict[Place, Standing] = attrs.field(factory=dict)
    findings: dict[tuple[str, str, int, str], Diagnostic] = attrs.field(factory=dict)
    _telling: bool = False
    _stopped_at: Place | None = None
    """Where the run was stopped, in an `if stopped`."""

    _origins: dict[tuple[str, str, int, str], tuple[str, int, str]] = attrs.field(factory=dict)
    """For a finding the line that made the item so: its file, where in it, and the item."""

    _lasts: dict[str, Lasts] = attrs.field(factory=dict)
    _above: dict[str, dict[str, set[str]]] = attrs.field(factory=dict)
    _redundant: dict[tuple[str, int, int], bool] = attrs.field(factory=dict)

    # ------------------------------------------------------------------ to a standstill

    def settle(self, begin: Standing) -> None:
        """Go on along every way until no place learns anything new."""
        self.at = settle(self.ways, begin, self._after, self.start)

    def report(self) -> None:
        """Find fault, with every place settled."""
        self._telling = True
        for place in sorted(self.at, key=lambda p: (p.context, p.pc)):
            self._after(place, self.at[place])
        for (file, begin, end), always in self._redundant.items():
            if always:
                self._say_redundant(Span(file, begin, end))
        # What follows from a change that nobody is told of has one cause with it, and is told when that is mended.
        unsaid = {(file, start, item) for code, file, start, item in self.findings if code == "left-unsaid"}
        for known, origin in self._origins.items():
            if origin in unsaid:
                del self.findings[known]

    def report_stops(self) -> None:
        """Find fault with what is so after a stop, wherever the run is stopped."""
        safe = self.program.main.machine.made_safe if self.program.main.machine is not None else ()
        if not safe and not any(isinstance(x, m.EndStopped) for r in self.program.routines.values() for x in r.code):
            return
        for stop in over_after_stops(self.ways, self.at, self._after_stop):
            for condition in safe:
                for key in _keys_of(condition.place):
                    for other, known in self._wrong(stop.standing, key, condition.state):
                        if other != UNKNOWN and known.since is not None:
                            self._say_unsafe(stop.place, key, other, condition.state, known)

    def _after_stop(self, stopped_at: Place, place: Place, here: Standing) -> Standing:
        self._stopped_at = stopped_at
        try:
            return self._after(place, here)
        finally:
            self._stopped_at = None

    def every_item(self) -> dict[str, m.MachineItem]:
        """Every item there is, each member of a set by itself."""
        machine = self.program.main.machine
        return {
            key: item
            for each in (self.program.machines.values() if machine is None else (machine,))
            for item in each.items.values()
            for key in ([f"{item.name}[{x}]" for x in item.labels] or [item.name])
        }

    def beginning(self) -> Standing:
        """What the first procedure says it finds; of the rest nothing is known."""
        items: dict[str, dict[str, Known]] = {
            key: {m.BACK if item.kind == m.COUNTED else UNKNOWN: Known({}, None)}
            for key, item in self.every_item().items()
        }
        for line in self.program.main.hardware:
            if line.found is not None:
                for key in _keys_of(line.place):
                    items[key] = {line.found: Known({}, None)}
        return Standing(items, {})

    # ------------------------------------------------------------------ one instruction

    def _after(self, place: Place, here: Standing) -> Standing:
        """The hardware after an instruction; fault is found on the way, when it is to be told."""
        instr = self.ways.instr(place)
        context = self.ways.contexts[place.context]
        if isinstance(instr, (m.BeginStep, m.EnterSection)):
            here = self._trimmed(place, here)
        names = names_set(instr)
        if isinstance(instr, m.UpsetsInstr):  # what rests on it has no verdict either
            if context.routine.name not in self._above:
                self._above[context.routine.name] = upset_with(context.routine)
            names = names.union(*(self._above[context.routine.name].get(name, ()) for name in instr.names))
        if names:
            here = here.without(names, place.context).told(verdicts_made(instr, place.context))
        if self._telling and context.routine.machine is not None and is_question(instr):
            self._asked(place, here, context.routine.machine, instr)
        if isinstance(instr, m.RequireInstr):
            return self._required(place, here, self._keys(place, instr.place), instr.state, instr.span)
        if isinstance(instr, m.NowInstr):
            return self._moved(place, here, instr)
        if isinstance(instr, m.Call):
            routine = self.program.routines[instr.routine]
            for line in routine.hardware:
                if line.found is not None:
                    here = self._begins(place, here, instr, line.place, line.found)
        elif isinstance(instr, m.Return):
            for line in context.routine.hardware:
                if line.left is not None:
                    here = self._left(place, here, line, line.left)
            if self._telling:
                self._unsaid(place)
        return here

    def _trimmed(self, place: Place, here: Standing) -> Standing:
        """The same without what no line from here on asks for, and no item hangs on: a long procedure carries no more
        along than a short one."""
        routine = self.ways.contexts[place.context].routine
        if routine.name not in self._lasts:
            self._lasts[routine.name] = lasts_of(routine, {})
        asked = self._lasts[routine.name].asked
        gone = frozenset(
            atom
            for atom in here.facts
            if atom.context == place.context
            and atom.names
            and atom not in here.used
            and all(asked.get(name, -1) < place.pc for name in atom.names)
        )
        return here.forgotten(gone) if gone else here

    def _keys(self, place: Place, item: m.ItemPlace) -> tuple[str, ...]:
        if item.variable is None:
            return item.keys()
        label = dict(place.env).get(item.variable)
        return item.keys(label) if label is not None else ()

    def _wrong(self, here: Standing, key: str, state: str) -> list[tuple[str, Known]]:
        """The other states an item may be in."""
        return [
            (other, known)
            for other, known in here.items.get(key, {}).items()
            if other != state and compatible(known.facts, here.facts)
        ]

    def _required(self, place: Place, here: Standing, keys: Iterable[str], state: str, span: Span) -> Standing:
        keys = tuple(keys)
        for key in keys:
            for other, known in self._wrong(here, key, state):
                if other == UNKNOWN:
                    self._unsaid_state(key, state, span)
                else:
                    message = f"`{key}` must be {state} here and may be {other}"
                    self._say("state-required", message, span, place, key, known)
                here = here.only(key, state)
                break
        return here

    def _moved(self, place: Place, here: Standing, instr: m.NowInstr) -> Standing:
        keys = self._keys(place, instr.place)
        if self._telling and keys and not instr.ensure and place.context == 0:
            already = all(
                set(here.items.get(key, {})) == {instr.state} and not here.items[key][instr.state].mended
                for key in keys
            )
            at = (instr.span.file, instr.span.start, instr.span.end)
            self._redundant[at] = self._redundant.get(at, True) and already
        machine = self.ways.contexts[place.context].routine.machine
        if machine is not None:
            here = self._interlocks(place, here, instr, machine, keys)
        return here.moved(keys, instr.state, place)

    def _interlocks(
        self, place: Place, here: Standing, instr: m.NowInstr, machine: m.Machine, keys: tuple[str, ...]
    ) -> Standing:
        after = here.moved(keys, instr.state, place)
        moving = [key for key in keys if set(here.items.get(key, {})) != {instr.state}]
        if instr.ensure and any(UNKNOWN in here.items.get(key, {}) for key in keys):
            return here  # nothing says how it is found, and where a stop leads to nothing has to
        for lock in machine.interlocks:
            guarded = lock.place.keys()
            for condition in lock.conditions:
                if not lock.bears_on(moving, instr.state, condition):
                    continue
                needed = condition.place.keys()
                if lock.of_change:
                    holders = [Known({}, place)]
                    seen = here
                else:
                    seen = after
                    assert lock.state is not None
                    holders = [after.items[k][lock.state] for k in guarded if lock.state in after.items.get(k, {})]
                for key in needed:
                    wrong = [
                        (other, known)
                        for other, known in self._wrong(seen, key, condition.state)
                        if any(compatible(known.facts, holder.facts) for holder in holders)
                    ]
                    if not wrong:
                        continue
                    other, known = wrong[0]
                    if other == UNKNOWN:
                        self._unsaid_state(key, condition.state, instr.span)
                    else:
                        about = key if key not in keys else next(iter(guarded))
                        origin = known if key not in keys else holders[0]
                        message = f"`{lock.text}`, and `{key}` may be {other} here"
                        if key in keys:
                            message = f"`{lock.text}`; here `{key}` becomes {other}"
                        self._say("interlock-broken", message, instr.span, place, about, origin)
                    if key not in keys:
                        here = here.only(key, condition.state)
                        after = after.only(key, condition.state)
        return here

    def _asked(self, place: Place, here: Standing, machine: m.Machine, instr: m.Instr) -> None:
        """A question while the machine lets nothing be asked."""
        for condition in machine.ask_nothing:
            for key in _keys_of(condition.place):
                known = here.items.get(key, {}).get(condition.state)
                if known is not None and compatible(known.facts, here.facts):
                    message = f"this is asked while `{key}` may be {condition.state}, and nothing is to be asked then"
                    self._say("asked-meanwhile", message, instr.span, place, key, known)
                    break

    # ------------------------------------------------------------------ beginning and end of a procedure

    def _begins(self, place: Place, here: Standing, call: m.Call, item: m.ItemPlace, found: str) -> Standing:
        for key in _keys_of(item):
            for other, known in self._wrong(here, key, found):
                if other == UNKNOWN:
                    self._unsaid_state(key, found, call.span)
                else:
                    message = f"`{call.routine}` begins with `{key}` {found}, and here it may be {other}"
                    self._say("begins-otherwise", message, call.span, place, key, known)
                here = here.only(key, found)
                break
        return here

    def _left(self, place: Place, here: Standing, line: m.FoundLeft, left: str) -> Standing:
        name = self.ways.contexts[place.context].routine.name
        for key in _keys_of(line.place):
            for other, known in self._wrong(here, key, left):
                if other != UNKNOWN:
                    message = f"`{name}` is to leave `{key}` {left}, and may leave it {other}"
                    self._say("left-otherwise", message, line.span, place, key, known)
                else:
                    self._find(
                        "left-otherwise",
                        f"`{name}` is to leave `{key}` {left}, and on some way nothing makes it so",
                        line.span,
                        key.partition("[")[0],
                        hint="nothing says how it is found: make it so on every way, or write"
                        f" `{key.partition('[')[0]} found {left}` where it is so",
                    )
                here = here.only(key, left)
                break
        return here

    def _unsaid(self, place: Place) -> None:
        """What a procedure changed and says nothing of."""
        routine = self.ways.contexts[place.context].routine
        for left in left_unsaid(self.ways, self.at, place):
            assert left.known.since is not None
            item = left.key.partition("[")[0]
            span = self.ways.instr(left.known.since).span
            if ("left-unsaid", span.file, span.start, item) in self.findings:
                continue
            message = f"`{routine.name}` may leave `{left.key}` {left.state}, and its header does not say so"
            told = story(self.ways, self.at, place, left.key, left.known, self.start)
            counted = routine.machine is not None and routine.machine.items[item].kind == m.COUNTED
            back = f"count it back (`counts {item} back`)" if counted else "put it back"
            hint = f"{told.text}. On that way too {back}, or write `{item} ... left {left.state}` under `machine`"
            self._find("left-unsaid", message, span, item, hint=hint)

    # ------------------------------------------------------------------ telling

    def _say(self, code: str, message: str, span: Span, place: Place, key: str, known: Known) -> None:
        item = key.partition("[")[0]  # one member of a set stands for all: one cause is told once
        if not self._telling or (code, span.file, span.start, item) in self.findings:
            return
        told = story(self.ways, self.at, self._stopped_at or place, key, known, self.start)
        also = tuple(Label(at, text) for at, text in told.labels)
        hint = told.text
        if self._stopped_at is not None:
            where = self._where(self._stopped_at)
            if known.since is None or known.since in self.at:
                hint = f"{hint or 'it is so there'}; the run is stopped then{where}"
            else:
                hint = f"the run is stopped{where}, and before this line of `if stopped` another one makes it so"
        self._find(code, message, span, item, hint=hint, also=also)
        if known.since is not None and known.since in self.at:
            since = self.ways.instr(known.since).span
            self._origins[code, span.file, span.start, item] = (since.file, since.start, item)

    def _where(self, place: Place) -> str:
        """In which step a place is."""
        routine = self.ways.contexts[place.context].routine
        step = step_of(routine, place.pc)
        return f", in step `{step}` of `{routine.name}`" if step else ""

    def _say_unsafe(self, stopped_at: Place, key: str, state: str, wanted: str, known: Known) -> None:
        assert known.since is not None
        item = key.partition("[")[0]
        told = story(self.ways, self.at, stopped_at, key, known)
        context = self.ways.contexts[stopped_at.context]
        section = section_of(context.routine, stopped_at.pc)
        also = (Label(section.span, f"no `if stopped` from here outward makes `{item}` {wanted}"),) if section else ()
        self._find(
            "stopped-unsafe",
            f"a run that is stopped after this may end with `{key}` {state}; however it ends, it is to be {wanted}",
            self.ways.instr(known.since).span,
            item,
            hint=f"{told.text}; the run is stopped then{self._where(stopped_at)}. Write it into `if stopped`:"
            f" `now {item} is {wanted}`",
            also=also,
        )

    def _unsaid_state(self, key: str, state: str, span: Span) -> None:
        item = key.partition("[")[0]
        self._find(
            "state-unsaid",
            f"nothing says in which state `{item}` is found, and it must be {state} here",
            span,
            item,
            hint=f"write `{item} found {state}` below `machine` in the header",
            once=True,
        )

    def _say_redundant(self, span: Span) -> None:
        self._find(
            "already-so",
            "this is so already, on every way that leads here",
            span,
            "",
            hint="is a step missing before it? `require` says that something is to be so",
            severity=Severity.WARNING,
        )

    def _find(
        self,
        code: str,
        message: str,
        span: Span,
        key: str,
        hint: str = "",
        also: tuple[Label, ...] = (),
        severity: Severity = Severity.ERROR,
        once: bool = False,
    ) -> None:
        if self._telling:
            known = (code, span.file, 0 if once else span.start, key)
            self.findings.setdefault(known, Diagnostic(code, message, span, hint=hint, also=also, severity=severity))


def _keys_of(place: m.ItemPlace) -> tuple[str, ...]:
    return place.keys()
