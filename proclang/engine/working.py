"""A state on its way to the next question: events are emitted and absorbed in one breath, so that what `decide` ends in
and what `apply` makes of the recorded events is the same by construction.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import Any

from proclang.engine.fold import absorb
from proclang.engine.judgement import judge_values
from proclang.engine.model import BadEntry, Event, Frame, State
from proclang.engine.wording import amount_text, beyond_text, not_passed_text, value_name
from proclang.field.declare import Series
from proclang.field.registry import find
from proclang.program import model as m
from proclang.program.budget import Budget
from proclang.text.diagnostic import Problem
from proclang.text.limits import JOURNAL_LINE_BYTES
from proclang.values.quantity import Quantity
from proclang.values.show import parse_exact, show
from proclang.values.tolerance import Outcome, Verdict, limits_text
from proclang.values.unit import NONE

# An entry is one line of the journal. What the instruction at hand may add is left free.
_FULL = JOURNAL_LINE_BYTES // 3
_TOO_MUCH = JOURNAL_LINE_BYTES * 7 // 8

_TEXT_CHARACTERS = 2_000
"""A quoted text with its values in place; notes inserted into it might make it endless."""

_INPUT_CHARACTERS = 1_000


@lru_cache(maxsize=4096)
def stored(text: str) -> Quantity:
    """A value as the journal holds it. Raises `BadEntry` for what is none."""
    quantity = parse_exact(text)
    if isinstance(quantity, Problem):
        raise BadEntry(f"the recorded value `{text[:60]}` cannot be read")
    return quantity


class Working:
    """The state being worked on, the events so far, and what formulas may ask of it."""

    def __init__(self, program: m.Program, state: State, today: datetime.date | None = None) -> None:
        self.program = program
        self.state = state
        self.today = today
        self.events: list[Event] = []
        self.asked: set[tuple[str, str]] = set()
        """The values formulas have asked for, by name and label; cleared by who wants to know."""

        self._size = 0
        self._budget: Budget | None = None

    # ------------------------------------------------------------------ events and places

    def emit(self, event_kind: str, /, **what: Any) -> None:
        """Record an event and let it act."""
        event = {"is": event_kind, **{k: v for k, v in what.items() if v is not None}}
        self.events.append(event)
        self._size += len(str(event).encode(errors="replace"))
        absorb(self.state, event)

    @property
    def full(self) -> bool:
        """Whether one entry should hold no more: calculations without a question between them could go on for long."""
        return self._size > _FULL

    @property
    def too_much(self) -> bool:
        """Whether the events do not fit one entry: a single calculation with more results than anybody would read."""
        return self._size > _TOO_MUCH

    @property
    def frame(self) -> Frame:
        """The procedure being gone through."""
        return self.state.frames[-1]

    @property
    def routine(self) -> m.Routine:
        """Its instructions."""
        return self.program.routine(self.frame.routine)

    def at(self, instr: m.Instr, *more: str) -> str:
        """The occurrence of an instruction here: its identity with pass numbers and labels, below the calls to it."""
        return occurrence(self.frame, instr, *more)

    def rest(self, instr: m.Instr, phase: str, **what: Any) -> None:
        """Stop here and ask."""
        self.emit("rest", address=instr.address, phase=phase, **what)

    # ------------------------------------------------------------------ what formulas ask (m.Env)

    def _keys(self, name: str) -> dict[str, str]:
        keys = self.frame.values.get(name)
        if keys is None:
            raise m.NotKnown(f"`{name}` is not known")
        return keys

    def amount(self, name: str, key: str) -> Fraction:
        """A value in base units."""
        self.asked.add((name, key))
        text = self._keys(name).get(key)
        if text is None:
            raise m.NotKnown(f"`{name}{f'[{key}]' if key else ''}` is not known")
        return stored(text).value

    def series(self, name: str) -> Series:
        """A series in label order."""
        keys = self._keys(name)
        self.asked.update((name, key) for key in keys)
        symbol = self.routine.symbols.get(name)
        order: Sequence[str] = tuple(keys)
        if symbol is not None and isinstance(symbol.type, m.Amount) and len(symbol.type.axes) == 1:
            order = symbol.type.axes[0]
        missing = [label for label in order if label not in keys]
        if missing:
            raise m.NotKnown(f"`{name}[{missing[0]}]` is not known")
        return Series(tuple((label, stored(keys[label]).value) for label in order))

    def label(self, name: str) -> str:
        """A choice, a text, or where a loop stands."""
        for loop, value in reversed(self.frame.loops):
            if loop == name:
                return str(value)
        if name in self.frame.values:
            text = self._keys(name).get("")
            if text is not None:
                return text
        if name == "hemisphere" and "hemisphere" in self.state.facts:
            return self.state.facts["hemisphere"]
        raise m.NotKnown(f"`{name}` is not known")

    def outcome(self, name: str, key: str) -> str:
        """The recorded verdict; of a series without a label, the worst of them.

        A value upset since, and a series not read to its end, are undecided: that neither passes nor fails.
        """
        outcomes = self.frame.outcomes.get(name)
        if not outcomes:
            raise m.NotKnown(f"`{name}` has not been judged")
        if key and key not in outcomes:
            raise m.NotKnown(f"`{name}[{key}]` has not been judged")
        stale = self.frame.stale.get(name, [])
        if key:
            return "undecided" if key in stale else outcomes[key]
        if stale:
            return "undecided"
        worst = next((o for o in ("fails", "undecided") if o in outcomes.values()), "passes")
        return "undecided" if worst == "passes" and self._unjudged_labels(name, outcomes) else worst

    def _unjudged_labels(self, name: str, outcomes: dict[str, str]) -> bool:
        """Whether a series that is judged label by label has labels without a verdict."""
        symbol = self.routine.symbols.get(name)
        if symbol is None or not symbol.facets.limits or not isinstance(symbol.type, m.Amount):
            return False
        wanted = 1
        for axis in symbol.type.axes:
            wanted *= len(axis)
        return len([key for key in outcomes if key != "spread"]) < wanted

    # ------------------------------------------------------------------ values

    def keep(self, symbol: m.Symbol, key: str, value: Fraction) -> str:
        """Record a value of a name and give it as stored."""
        text = self.stored_text(symbol, value)
        self.emit("value", name=symbol.name, key=key or None, value=text)
        return text

    def stored_text(self, symbol: m.Symbol, value: Fraction) -> str:
        """A value in base units as it is stored under a name."""
        assert isinstance(symbol.type, m.Amount)
        return amount_text(symbol, Quantity(value, symbol.type.dimension))

    def said_of(self, formula: m.Formula) -> dict[str, Any]:
        """What has to be told with a result: cautions that this run has not told yet, and how well a calculation
        stands that somebody may hang a load on."""
        calculations = [calc for calc in map(find, formula.calls) if calc is not None]
        cautions = [c.name for c in calculations if c.caution and c.name not in self.state.cautioned]
        stands = {c.name: c.standing for c in calculations if c.print_standing}
        return {"cautions": cautions or None, "stands": stands or None}

    def inputs(self, formula: m.Formula) -> dict[str, str]:
        """The values a formula rests on, as texts; a long series is cut short."""
        found: dict[str, str] = {}
        for name in formula.names:
            keys = self.frame.values.get(name)
            if keys is None:
                label = next((str(value) for loop, value in reversed(self.frame.loops) if loop == name), "")
                text = label or (self.state.facts.get(name, "") if name == "hemisphere" else "")
            else:
                text = keys[""] if list(keys) == [""] else ", ".join(f"{key}: {value}" for key, value in keys.items())
            if len(text) > _INPUT_CHARACTERS:
                text = f"{text[:_INPUT_CHARACTERS]} ... ({len(keys or ())} values)"
            if text:
                found[name] = text
        return found

    @property
    def budget(self) -> Budget:
        """How far off values may be, with the instruments in hand."""
        if self._budget is None:
            serials = {name: facts.get("serial", "") for name, facts in self.state.instruments.items()}
            self._budget = Budget(self.program, serials, self.state.facts)
        return self._budget

    def judged(self, instr: m.Instr, symbol: m.Symbol, key: str, values: Sequence[Fraction]) -> bool:
        """Judge a value, or each of a series when it is judged by the worst, against every limit of its name.

        Records the verdict; gives whether it passes, True when there is nothing to judge it by. Raises `NotKnown`.
        """
        if not symbol.facets.limits:
            return True
        allowed = [make(self) for make, _ in symbol.facets.limits]
        said = " and ".join(limits_text(limits, symbol.unit or NONE) for limits in allowed)
        origin = self.frame.origins.get(symbol.name, {}).get(key)
        judgement = judge_values(self.budget, symbol, origin, values, allowed)
        self.record(instr, symbol, key, judgement.verdict, said, sure=judgement.told(symbol))
        return judgement.verdict.outcome is Outcome.PASSES

    def record(
        self,
        instr: m.Instr,
        symbol: m.Symbol,
        key: str,
        verdict: Verdict,
        limits: str,
        *more: str,
        sure: Mapping[str, Any] | None = None,
    ) -> None:
        """Record a verdict; `sure` is how sure it is, where anything is known of that."""
        self.emit(
            "verdict",
            at=self.at(instr, *more),
            name=symbol.name,
            key=key or None,
            outcome=verdict.outcome.value,
            beyond=beyond_text(verdict, symbol) if verdict.beyond else None,
            limits=limits,
            **(sure or {}),
        )

    def not_passed(self, since: int) -> list[str]:
        """What the verdicts from event `since` on found fault with, one sentence each."""
        return [
            f"{self._called(e['name'], e.get('key', ''))}: {not_passed_text(e)} ({e['limits']})"
            for e in self.events[since:]
            if e["is"] == "verdict" and e["outcome"] != Outcome.PASSES.value and not e.get("given")
        ]

    def only_undecided(self, since: int) -> bool:
        """Whether the verdicts from event `since` on found nothing out of tolerance, and something undecided."""
        outcomes = {e["outcome"] for e in self.events[since:] if e["is"] == "verdict"}
        return Outcome.UNDECIDED.value in outcomes and Outcome.FAILS.value not in outcomes

    def _called(self, name: str, key: str) -> str:
        """A value by its title, as it was asked for, else by its name."""
        symbol = self.routine.symbols.get(name)
        return value_name(symbol.title if symbol is not None and symbol.title else name, key)

    # ------------------------------------------------------------------ texts and people

    def text(self, template: m.Template) -> str:
        """A quoted text with its values in place."""
        pieces = []
        for piece in template.pieces:
            if isinstance(piece, str):
                pieces.append(piece)
                continue
            try:
                value = piece.formula.evaluate(self)
            except m.NotKnown:
                pieces.append("(not known)")
                continue
            if isinstance(value, Fraction) and isinstance(piece.formula.type, m.Amount):
                quantity = Quantity(value, piece.formula.type.dimension)
                unit = piece.unit or NONE
                pieces.append(show(quantity, unit, step=piece.step, signed=piece.signed, words=piece.words))
                pieces.extend(f" ({standing})" for standing in self._printed_standings(piece.formula))
            else:
                pieces.append(str(value))
        text = "".join(pieces)
        return text if len(text) <= _TEXT_CHARACTERS else f"{text[:_TEXT_CHARACTERS]} ..."

    def instrument_in_hand(self, name: str | None) -> str | None:
        """The instrument that is read where the procedure names one: another, where it was exchanged for one that this
        procedure has as well."""
        if name is None:
            return None
        taken = self.state.exchanged.get(name, name)
        return taken if taken in self.routine.instruments else name

    def off(self, calculation: str) -> float:
        """How far off a model is taken to be, in its own standard uncertainties: as it stands."""
        return 0.0

    def _printed_standings(self, formula: m.Formula) -> Iterable[str]:
        """How well the calculations in a text stand, of those whose standing goes with every result."""
        calculations = map(find, formula.calls)
        return dict.fromkeys(calc.standing for calc in calculations if calc is not None and calc.print_standing)

    def names(self, roles: Iterable[str]) -> list[str]:
        """The people who hold these roles; the role itself where nobody was named."""
        return list(dict.fromkeys(self.state.people.get(role, role) for role in roles))

    def performers(self, roles: tuple[str, ...]) -> dict[str, Any]:
        """Who does something, for an event: the people, and the roles they do it in. Nothing where nobody is named."""
        return {"by": self.names(roles), "roles": list(roles)} if roles else {}


def occurrence(frame: Frame, instr: m.Instr, *more: str) -> str:
    """The path of an instruction in a frame: `#2` after a loop in its second pass, `[3]` after a labelled one."""
    names = instr.identity.split("/")
    if names[0] == "opening":
        return "/".join([*names, *more])
    # The routine is said by the path of the frame; the section is not a loop, even if one inside has its name.
    out = names[1:2]
    loops = list(frame.loops)
    for name in names[2:]:
        if loops and loops[0][0] == name:
            _, value = loops.pop(0)
            out.append(f"{name}#{value}" if isinstance(value, int) else f"{name}[{value}]")
        else:
            out.append(name)
    return "/".join([frame.path, *out, *more])
