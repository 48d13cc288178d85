"""A state on its way to the next question: events are emitted and absorbed in one breath, so that what `decide` ends in
and what `apply` makes of the recorded events is the same by construction.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from typing import Any

from proclang.engine.fold import absorb
from proclang.engine.model import Event, Frame, State
from proclang.field.declare import Series
from proclang.program import model as m
from proclang.text.diagnostic import Problem
from proclang.values.quantity import Quantity
from proclang.values.show import exact_text, parse_exact, show
from proclang.values.tolerance import Limits, Outcome, Verdict, judge, limits_text
from proclang.values.unit import NONE, Unit


@lru_cache(maxsize=4096)
def stored(text: str) -> Quantity:
    """A value as the journal holds it. Raises `NotKnown` for what is none: a journal from somebody else."""
    quantity = parse_exact(text)
    if isinstance(quantity, Problem):
        raise m.NotKnown(f"the recorded value `{text}` cannot be read")
    return quantity


class Working:
    """The state being worked on, the events so far, and what formulas may ask of it."""

    def __init__(self, program: m.Program, state: State) -> None:
        self.program = program
        self.state = state
        self.events: list[Event] = []

    # ------------------------------------------------------------------ events and places

    def emit(self, event_kind: str, /, **what: Any) -> None:
        """Record an event and let it act."""
        event = {"is": event_kind, **{k: v for k, v in what.items() if v is not None}}
        self.events.append(event)
        absorb(self.state, event)

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
        text = self._keys(name).get(key)
        if text is None:
            raise m.NotKnown(f"`{name}{f'[{key}]' if key else ''}` is not known")
        return stored(text).value

    def series(self, name: str) -> Series:
        """A series in label order."""
        keys = self._keys(name)
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
            return self._keys(name)[""]
        if name == "hemisphere" and "hemisphere" in self.state.facts:
            return self.state.facts["hemisphere"]
        raise m.NotKnown(f"`{name}` is not known")

    def outcome(self, name: str, key: str) -> str:
        """The recorded verdict; of a series without a label, the worst of them."""
        outcomes = self.frame.outcomes.get(name)
        if not outcomes:
            raise m.NotKnown(f"`{name}` has not been judged")
        if key in outcomes and (key or len(outcomes) == 1):
            return outcomes[key]
        if key:
            raise m.NotKnown(f"`{name}[{key}]` has not been judged")
        return next((o for o in ("fails", "undecided") if o in outcomes.values()), "passes")

    # ------------------------------------------------------------------ values

    def keep(self, symbol: m.Symbol, key: str, value: Fraction) -> str:
        """Record a value of a name and give it as stored."""
        text = amount_text(symbol, value)
        self.emit("value", name=symbol.name, key=key or None, value=text)
        return text

    def judged(self, instr: m.Instr, symbol: m.Symbol, key: str, values: Sequence[Fraction]) -> Verdict | None:
        """Judge a value, or each of a series when it is judged by the worst, against every limit of its name.

        Records the verdict and returns the worst; None when nothing is to be judged. Raises `NotKnown`.
        """
        if not symbol.facets.limits:
            return None
        assert isinstance(symbol.type, m.Amount)
        worst: Verdict | None = None
        said: list[str] = []
        for make, _ in symbol.facets.limits:
            limits = make(self)
            said.append(limits_text(limits, symbol.unit or NONE))
            for value in values:
                verdict = judge(Quantity(value, symbol.type.dimension), limits)
                if worst is None or abs(verdict.beyond) > abs(worst.beyond):
                    worst = verdict
        assert worst is not None
        self.record(instr, symbol, key, worst, " and ".join(said))
        return worst

    def record(self, instr: m.Instr, symbol: m.Symbol, key: str, verdict: Verdict, limits: str) -> None:
        """Record a verdict."""
        self.emit(
            "verdict",
            at=self.at(instr),
            name=symbol.name,
            key=key or None,
            outcome=verdict.outcome.value,
            beyond=beyond_text(verdict, symbol) if verdict.outcome is Outcome.FAILS else None,
            limits=limits,
        )

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
            else:
                pieces.append(str(value))
        return "".join(pieces)

    def names(self, roles: Sequence[str]) -> list[str]:
        """The people who hold these roles; the role itself where nobody was named."""
        return [self.state.people.get(role, role) for role in roles]


def occurrence(frame: Frame, instr: m.Instr, *more: str) -> str:
    """The path of an instruction in a frame, with `#2` after a loop in its second pass and `[3]` after a labelled one."""
    names = instr.identity.split("/")
    if instr.identity.startswith("opening/"):
        return "/".join([*names, *more])
    out: list[str] = []
    loops = list(frame.loops)
    for name in names[1:]:
        if loops and loops[0][0] == name:
            _, value = loops.pop(0)
            out.append(f"{name}#{value}" if isinstance(value, int) else f"{name}[{value}]")
        else:
            out.append(name)
    return "/".join([frame.path, *out, *more])


def amount_text(symbol: m.Symbol, value: Fraction) -> str:
    """A value as it is stored: exact, in the unit of its name."""
    assert isinstance(symbol.type, m.Amount)
    return exact_text(Quantity(value, symbol.type.dimension), symbol.unit or NONE)


def beyond_text(verdict: Verdict, symbol: m.Symbol) -> str:
    """By how much a value is outside, as an amount, with `above` or `below`."""
    assert isinstance(symbol.type, m.Amount)
    unit, dimension = difference_unit(symbol)
    side = "above" if verdict.beyond > 0 else "below"
    return f"{show(Quantity(abs(verdict.beyond), dimension), unit)} {side}"


def difference_unit(symbol: m.Symbol) -> tuple[Unit, Any]:
    """The unit and dimension of a difference between two values of a name: points become amounts."""
    import attrs

    from proclang.values.unit import find_unit

    assert isinstance(symbol.type, m.Amount)
    dimension, unit = symbol.type.dimension, symbol.unit or NONE
    if dimension.is_plain:
        return unit, dimension
    plain = attrs.evolve(dimension, frame="")
    found = find_unit(unit.symbol.split(" ")[0] if dimension.is_bearing else "K")
    assert not isinstance(found, Problem)
    return found, plain


def shown(text: str, unit: Unit | None = None) -> str:
    """A stored value for people: to 12 digits where it is exact, else to 6."""
    quantity = parse_exact(text)
    if isinstance(quantity, Problem):
        return text
    if unit is None:
        from proclang.values.unit import find_unit

        symbol = text.partition(" ")[2]
        found = find_unit(symbol) if symbol else NONE
        if isinstance(found, Problem):
            return text
        unit = found
    return show(quantity, unit)


def fixed_limits(limits: Limits, symbol: m.Symbol) -> str:
    """Limits in the unit of a name."""
    return limits_text(limits, symbol.unit or NONE)
