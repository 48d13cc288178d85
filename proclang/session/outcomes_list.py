"""All that can come about in a procedure: a list made from its statements and from what is known of the sites, not from
any run.

Left out is what the constants of the procedure, the facts of the site and the choices and verdicts known on every way
to the statement exclude. The list errs on the long side: what cannot come about for another reason stays in it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import product
from typing import Any, cast

import attrs

from proclang.engine.fold import worked
from proclang.engine.judgement import judge_values
from proclang.engine.model import Frame
from proclang.field.declare import Series
from proclang.program import model as m
from proclang.program.budget import Budget
from proclang.session.outcomes import (
    ACCEPTED,
    AGREES,
    AS_DECLARED,
    BOUND,
    CYCLED_AGREES,
    CYCLED_DIFFERS,
    DIFFERS,
    FAILS,
    LEAVES,
    OTHERWISE,
    PASSES,
    STOPPED,
    UNDECIDED,
    Outcome,
    answered,
    condition_is,
    judged,
    left_after,
    loop_counts,
    statement_of,
    takes_arm,
)
from proclang.values.quantity import Quantity
from proclang.values.show import exact_text, parse_exact
from proclang.values.tolerance import judge
from proclang.values.unit import NONE

_PICKING = {"largest", "smallest", "max", "min"}
"""Calculations that give one of what they are given."""

_MOST_CASES = 2_000
"""Combinations of choices and verdicts that are looked at for one condition; beyond that it may go either way."""


def feasible_outcomes(program: m.Program, facts: Iterable[Mapping[str, str]]) -> dict[Outcome, m.Instr]:
    """Every outcome that can come about at one of the sites, each with its statement, in the order of the text.

    `facts` are those of each site, as they are stored with a run.
    """
    found: dict[Outcome, m.Instr] = {}
    for known in facts:
        lister = _Lister(program, known)
        lister.opening()
        lister.walk(program.entry, {}, {})
        found.update(lister.found)
    order = {name: n for n, name in enumerate(("", *program.routines))}

    def place(outcome: Outcome) -> tuple[int, int]:
        return order[outcome.routine], program.routine(outcome.routine).index[found[outcome].address]

    return {outcome: found[outcome] for outcome in sorted(found, key=place)}


Known = dict[str, frozenset[str]]
"""What a choice, or the verdict on a name (`name?`), can be here; a name that is missing can be anything."""


@attrs.define
class _Lister:
    """Goes along every way of a program at one site."""

    program: m.Program
    facts: Mapping[str, str]
    found: dict[Outcome, m.Instr] = attrs.field(factory=dict)
    _walked: set[tuple[Any, ...]] = attrs.field(factory=set)

    def opening(self) -> None:
        """What is found before the first section."""
        for instr in self.program.opening.code:
            if isinstance(instr, m.AskFound) and not instr.counted:
                self._add("", instr, AS_DECLARED)
                if len(instr.states) > 1:
                    self._add("", instr, OTHERWISE)

    def _add(self, routine: str, instr: m.Instr, says: str) -> None:
        self.found.setdefault(Outcome(routine, statement_of(instr), says), instr)

    def walk(self, name: str, labels: Mapping[str, frozenset[str]], amounts: Mapping[str, Fraction | None]) -> None:
        """Go along the ways of one procedure. `labels` and `amounts` are the inputs handed over: None where the amount
        is not known before the run."""
        key = (name, frozenset(labels.items()), frozenset(amounts.items()))
        if key in self._walked:
            return
        self._walked.add(key)
        _Walk(self, self.program.routines[name], dict(labels), dict(amounts)).go()


class _Fixed:
    """What a formula may ask: amounts that are fixed before the run, and one case of choices and verdicts."""

    def __init__(
        self,
        amounts: Mapping[str, Fraction],
        case: Mapping[str, str],
        series: Mapping[str, Mapping[str, Fraction]] | None = None,
    ) -> None:
        self._amounts = amounts
        self._case = case
        self._series = series or {}

    def amount(self, name: str, key: str) -> Fraction:
        if key or name not in self._amounts:
            raise m.NotKnown(name)
        return self._amounts[name]

    def series(self, name: str) -> Series:
        if name not in self._series:
            raise m.NotKnown(name)
        return Series(tuple(self._series[name].items()))

    def label(self, name: str) -> str:
        if name not in self._case:
            raise m.NotKnown(name)
        return self._case[name]

    def outcome(self, name: str, key: str) -> str:
        if f"{name}?" not in self._case:
            raise m.NotKnown(name)
        return self._case[f"{name}?"]

    def off(self, calculation: str) -> float:
        return 0.0


class _Walk:
    """The ways of one procedure with what is handed to it: what is known at each instruction, joined over all ways."""

    def __init__(
        self,
        lister: _Lister,
        routine: m.Routine,
        labels: dict[str, frozenset[str]],
        amounts: dict[str, Fraction | None],
    ) -> None:
        self.lister = lister
        self.routine = routine
        self.inputs: Known = dict(labels)
        self.fixed: dict[str, Fraction] = {}
        self._take_inputs(amounts)
        if "hemisphere" in lister.facts:
            self.inputs["hemisphere"] = frozenset((lister.facts["hemisphere"],))
        self.fixed, frame = self._fix_computed(self.fixed, {})
        self.cases = [[(self.fixed, frame)], *self._cases()]
        """What is known before the run; and by each choice of the procedure what is known with each answer."""

        self.here: dict[int, Known] = {}

    def _take_inputs(self, amounts: Mapping[str, Fraction | None]) -> None:
        for symbol in self.routine.inputs:
            if symbol.name in amounts:
                value = amounts[symbol.name]
                if value is not None:
                    self.fixed[symbol.name] = value
            elif symbol.name not in self.inputs:
                self._take_fact(symbol)

    def _take_fact(self, symbol: m.Symbol) -> None:
        text = self.lister.facts.get(symbol.name)
        if isinstance(symbol.type, m.Choice):
            word = text if text is not None else symbol.default
            if isinstance(word, str):
                self.inputs[symbol.name] = frozenset((word,))
        elif isinstance(symbol.type, m.Amount):
            value = parse_exact(text) if text is not None else symbol.default
            if isinstance(value, Quantity):
                self.fixed[symbol.name] = value.value

    def _cases(self) -> Iterator[list[tuple[dict[str, Fraction], Frame]]]:
        for symbol in self.routine.symbols.values():
            if symbol.how == "chosen" and isinstance(symbol.type, m.Choice):
                yield [self._fix_computed(self.fixed, {symbol.name: option}) for option in symbol.type.options]

    def _fix_computed(
        self, known: Mapping[str, Fraction], case: Mapping[str, str]
    ) -> tuple[dict[str, Fraction], Frame]:
        """What is worked out from facts and constants alone, by one statement only, is known before the run."""
        fixed = dict(known)
        frame = Frame(self.routine.name, "")
        frame.values = {name: {"": self._text(name, value)} for name, value in known.items()}
        frame.values |= {name: {"": word} for name, word in case.items()}
        setters: dict[str, int] = {}
        for instr in self.routine.code:
            for name in _sets(instr):
                setters[name] = setters.get(name, 0) + 1
        for instr in self.routine.code:
            if not isinstance(instr, m.ComputeValue) or any(labels for _, labels, _ in instr.targets):
                continue
            if any(setters[symbol.name] > 1 for symbol, _, _ in instr.targets):
                continue
            try:
                outcome = instr.formula.evaluate(_Fixed(fixed, case))
            except m.NotKnown:
                continue
            values = cast("tuple[Any, ...]", outcome) if isinstance(outcome, tuple) else (outcome,)
            for (symbol, _, _), value in zip(instr.targets, values, strict=True):
                if isinstance(value, Fraction):
                    fixed[symbol.name] = value
                    text = self._text(symbol.name, value)
                    origin = worked(frame, "compute", instr.formula.text, symbol.name, "", text, instr.formula.names)
                    frame.values[symbol.name], frame.origins[symbol.name] = {"": text}, {"": origin}
        return fixed, frame

    def _text(self, name: str, value: Fraction) -> str:
        symbol = self.routine.symbols[name]
        assert isinstance(symbol.type, m.Amount)
        return exact_text(Quantity(value, symbol.type.dimension), symbol.unit or NONE)

    def _verdict_of(self, symbol: m.Symbol, fixed: Mapping[str, Fraction], frame: Frame) -> frozenset[str]:
        """The verdicts that can be on a value that is known before the run, or not."""
        value = fixed.get(symbol.name)
        if value is None or not isinstance(symbol.type, m.Amount):
            return _any_verdict(symbol)
        try:
            allowed = [make(_Fixed(fixed, {})) for make, _ in symbol.facets.limits]
        except m.NotKnown:
            return _any_verdict(symbol)
        budget = Budget(self.lister.program, {}, dict(self.lister.facts))
        judgement = judge_values(budget, symbol, frame.origins.get(symbol.name, {}).get(""), [value], allowed)
        return frozenset((judgement.verdict.outcome.value,))

    def go(self) -> None:
        """Go along all ways until nothing new is learned."""
        self.here = {0: {}}
        todo = [0]
        while todo:
            pc = todo.pop()
            for target, known in list(self._onward(pc, self.here[pc])):
                before = self.here.get(target)
                after = known if before is None else _joined(before, known)
                if after != before:
                    self.here[target] = after
                    todo.append(target)
        for pc in sorted(self.here):
            self._list(pc)

    # ------------------------------------------------------------------ one instruction

    def _onward(self, pc: int, known: Known) -> Iterator[tuple[int, Known]]:
        instr = self.routine.code[pc]
        if isinstance(instr, (m.Return, m.EndStopped)):
            return
        if isinstance(instr, m.Jump):
            yield instr.target, known
        elif isinstance(instr, m.Arms):
            for label in self._labels(instr, known):
                after = {**known, instr.name: frozenset((label,))} if instr.name in self._choices() else known
                yield instr.targets[label], after
        elif isinstance(instr, m.Branch):
            for holds, after in self._sides(instr.condition, known):
                yield (pc + 1 if holds else instr.otherwise), after
        elif isinstance(instr, m.Leave):
            for holds, after in self._sides(instr.condition, known):
                yield (instr.out if holds else pc + 1), after
        elif isinstance(instr, m.EndLoop):
            if instr.bound > 1:
                yield instr.begin + 1, known
            if not instr.unfinished or self._bound_accepted(instr):
                yield instr.exhausted, known
        elif isinstance(instr, m.EndEach):
            yield instr.begin, known
            yield pc + 1, known
        elif isinstance(instr, m.AnyOrderInstr):
            yield instr.out, known
            for _, _, begin in instr.steps:
                yield begin, known
        elif isinstance(instr, m.OrderDone):
            yield instr.back, known
        else:
            yield pc + 1, self._after(instr, known)

    def _after(self, instr: m.Instr, known: Known) -> Known:
        """What is known behind an instruction that sets names or judges them."""
        names = _sets(instr)
        upset = set(instr.names) if isinstance(instr, m.UpsetsInstr) else set()
        if not names and not upset:
            return known
        left = {k: v for k, v in known.items() if k not in names and k.removesuffix("?") not in (*names, *upset)}
        for symbol, outcomes in self._verdicts(instr):
            if isinstance(symbol.type, m.Amount) and symbol.type.axes:
                continue
            going = outcomes
            if not getattr(instr, "handled", False) and symbol.facets.no_deviation:
                going = outcomes & {PASSES}
            left[f"{symbol.name}?"] = frozenset(going)
        return left

    def _verdicts(self, instr: m.Instr) -> Iterator[tuple[m.Symbol, frozenset[str]]]:
        """The values an instruction judges, each with the verdicts that can be."""
        if isinstance(instr, m.Read):
            if instr.symbol.facets.limits:
                yield instr.symbol, _any_verdict(instr.symbol)
        elif isinstance(instr, m.ComputeValue):
            for symbol, _, _ in instr.targets:
                if symbol.facets.limits:
                    verdicts = self._computed_verdicts(symbol)
                    yield symbol, verdicts - {FAILS} if self._held_inside(instr, symbol) else verdicts

    def _computed_verdicts(self, symbol: m.Symbol) -> frozenset[str]:
        for cases in self.cases:
            found: set[str] = set()
            for fixed, frame in cases:
                found |= self._verdict_of(symbol, fixed, frame)
            if found != _any_verdict(symbol):
                return frozenset(found)
        return _any_verdict(symbol)

    def _held_inside(self, instr: m.ComputeValue, symbol: m.Symbol) -> bool:
        """Whether a value passes for all readings with which a run gets here: it is the greatest or least of readings
        each of which has to pass, since nobody may accept one that does not. Such a value changes from piece to piece
        along a straight line, so that the ends and the middle of each reading say all."""
        formula = instr.formula
        if len(instr.targets) != 1 or set(formula.calls) - _PICKING or re.search(r"[*/^]", formula.text):
            return False
        names = [name for name in formula.names if name not in self.fixed]
        kept = [self._kept_in(name) for name in names]
        if not names or len(names) > 1 or kept[0] is None:
            return False
        labels, points = kept[0]
        if len(points) ** len(labels) > _MOST_CASES:
            return False
        assert isinstance(symbol.type, m.Amount)
        try:
            allowed = [make(_Fixed(self.fixed, {})) for make, _ in symbol.facets.limits]
            for values in product(points, repeat=len(labels)):
                series = {names[0]: dict(zip(labels, values, strict=True))}
                value = formula.evaluate(_Fixed(self.fixed, {}, series))
                if not isinstance(value, Fraction):
                    return False
                quantity = Quantity(value, symbol.type.dimension)
                if any(judge(quantity, limits).outcome.value != PASSES for limits in allowed):
                    return False
        except m.NotKnown:
            return False
        return True

    def _kept_in(self, name: str) -> tuple[tuple[str, ...], tuple[Fraction, ...]] | None:
        """The labels of a series of readings that nobody may accept outside its limits, and their ends and middle."""
        symbol = self.routine.symbols.get(name)
        reads = [x for x in self.routine.code if isinstance(x, m.Read) and x.symbol.name == name]
        if symbol is None or not isinstance(symbol.type, m.Amount) or len(symbol.type.axes) != 1 or not reads:
            return None
        if not symbol.facets.no_deviation or any(x.handled for x in reads):
            return None
        try:
            limits = [make(_Fixed(self.fixed, {})) for make, _ in symbol.facets.limits]
        except m.NotKnown:
            return None
        for x in limits:
            if x.low is not None and x.high is not None and not x.dimension.is_bearing:
                return symbol.type.axes[0], (x.low, (x.low + x.high) / 2, x.high)
        return None

    def _choices(self) -> set[str]:
        return {n for n, s in self.routine.symbols.items() if isinstance(s.type, m.Choice)} | {"hemisphere"}

    def _allowed(self, name: str, known: Known) -> frozenset[str] | None:
        """What a choice can be here; None for what is no choice of the procedure, such as a label of a loop."""
        if name in known:
            return known[name]
        if name in self.inputs:
            return self.inputs[name]
        symbol = self.routine.symbols.get(name)
        if symbol is not None and isinstance(symbol.type, m.Choice):
            return frozenset(symbol.type.options)
        return None

    def _labels(self, instr: m.Arms, known: Known) -> list[str]:
        allowed = self._allowed(instr.name, known)
        return [label for label in instr.targets if allowed is None or label in allowed]

    def _sides(self, condition: m.Formula, known: Known) -> Iterator[tuple[bool, Known]]:
        """The sides of a condition that can come about, each with what is known there."""
        asked = dict(self._asked(condition, known))
        size = 1
        for options in asked.values():
            size *= max(1, len(options))
        if size > _MOST_CASES:
            yield True, known
            yield False, known
            return
        sides: dict[bool, list[dict[str, str]]] = {True: [], False: []}
        for words in product(*(sorted(options) for options in asked.values())):
            case = dict(zip(asked, words, strict=True))
            try:
                holds = bool(condition.evaluate(_Fixed(self.fixed, case)))
            except m.NotKnown:
                sides[True].append(case)
                sides[False].append(case)
                continue
            sides[holds].append(case)
        for holds, cases in sides.items():
            if cases:
                yield holds, {**known, **{name: frozenset(case[name] for case in cases) for name in asked}}

    def _asked(self, condition: m.Formula, known: Known) -> Iterator[tuple[str, frozenset[str]]]:
        for name in condition.names:
            allowed = self._allowed(name, known)
            if allowed is not None:
                yield name, allowed
        for name in condition.verdicts:
            symbol = self.routine.symbols.get(name)
            if symbol is None:
                continue
            # Where not all labels were read, and where a value was upset, it is undecided by either rule.
            yield f"{name}?", known.get(f"{name}?", frozenset((PASSES, FAILS, UNDECIDED)))

    def _bound_accepted(self, instr: m.EndLoop) -> bool:
        tested = {
            name
            for line in self.routine.code[instr.begin : self.routine.index[instr.address]]
            if isinstance(line, m.Leave)
            for name in line.condition.verdicts
        }
        symbols = self.routine.symbols
        return self._authority() and not any(n in symbols and symbols[n].facets.no_deviation for n in tested)

    def _authority(self) -> bool:
        return bool(self.routine.authority or self.lister.program.opening.authority)

    # ------------------------------------------------------------------ the list

    def _list(self, pc: int) -> None:
        instr, known = self.routine.code[pc], self.here[pc]

        def add(says: str, at: m.Instr = instr) -> None:
            self.lister._add(self.routine.name, at, says)

        if isinstance(instr, m.Arms):
            for label in self._labels(instr, known):
                add(takes_arm(label))
        elif isinstance(instr, m.Branch):
            if not instr.silent:
                for holds, _ in self._sides(instr.condition, known):
                    add(condition_is("yes" if holds else "no"))
        elif isinstance(instr, m.Leave):
            self._list_leave(instr, known, add)
        elif isinstance(instr, m.EndLoop):
            add(BOUND)
            if instr.unfinished and self._bound_accepted(instr):
                add(ACCEPTED)
        elif isinstance(instr, m.Ask):
            self._list_ask(instr, add)
        elif isinstance(instr, (m.Read, m.ComputeValue)):
            self._list_judged(instr, add)
        elif isinstance(instr, m.SetInstr) and instr.read_back:
            for says in (AGREES, DIFFERS, *((CYCLED_AGREES, CYCLED_DIFFERS) if instr.power_cycle else ())):
                add(says)
            if self._authority() and not instr.symbol.facets.no_deviation:
                add(ACCEPTED)
        elif isinstance(instr, m.EnterSection) and instr.stopped is not None:
            add(STOPPED)
        elif isinstance(instr, m.Call):
            self._perform(instr, known)

    def _list_leave(self, instr: m.Leave, known: Known, add: Any) -> None:
        sides = {holds for holds, _ in self._sides(instr.condition, known)}
        end = next(
            line
            for line in self.routine.code[instr.out - 1 :: -1]
            if isinstance(line, m.EndLoop) and line.name == instr.loop
        )
        if True in sides:
            add(LEAVES)
            # With a condition that always holds, or without a way to come here again, there is no second pass.
            again = self.routine.index[end.address] in self.here
            for passes in loop_counts(end.bound) if again else (1,):
                add(left_after(passes), end)

    def _list_ask(self, instr: m.Ask, add: Any) -> None:
        if instr.kind == "choose" and isinstance(instr.symbol.type, m.Choice):
            for option in instr.symbol.type.options:
                add(answered(option))
        elif instr.kind == "confirm":
            add(answered("yes"))
            add(answered("no"))
            if self._authority() and not instr.symbol.facets.no_deviation:
                add(ACCEPTED)

    def _list_judged(self, instr: m.Read | m.ComputeValue, add: Any) -> None:
        acceptable = False
        for symbol, outcomes in self._verdicts(instr):
            for outcome in (PASSES, FAILS, UNDECIDED):
                if outcome in outcomes:
                    add(judged(symbol.name, outcome))
            acceptable |= outcomes != {PASSES} and not symbol.facets.no_deviation
        symbols = [instr.symbol] if isinstance(instr, m.Read) else [symbol for symbol, _, _ in instr.targets]
        for symbol in symbols:
            if symbol.facets.spread is not None and self._series(instr, symbol):
                add(judged(symbol.name, PASSES, spread=True))
                add(judged(symbol.name, FAILS, spread=True))
                acceptable |= not symbol.facets.no_deviation
        if acceptable and not instr.handled and self._authority():
            add(ACCEPTED)

    def _series(self, instr: m.Read | m.ComputeValue, symbol: m.Symbol) -> bool:
        if isinstance(instr, m.ComputeValue):
            return isinstance(symbol.type, m.Amount) and bool(symbol.type.axes)
        return instr.last_of_series and isinstance(symbol.type, m.Amount) and bool(symbol.type.axes)

    def _perform(self, instr: m.Call, known: Known) -> None:
        labels: dict[str, frozenset[str]] = {}
        amounts: dict[str, Fraction | None] = {}
        for symbol, formula in instr.arguments:
            if isinstance(symbol.type, m.Choice):
                labels[symbol.name] = self._handed_labels(symbol.type, formula, known)
                continue
            try:
                value = formula.evaluate(_Fixed(self.fixed, {}))
            except m.NotKnown:
                value = ""
            amounts[symbol.name] = value if isinstance(value, Fraction) else None
        self.lister.walk(instr.routine, labels, amounts)

    def _handed_labels(self, kind: m.Choice, formula: m.Formula, known: Known) -> frozenset[str]:
        if formula.names:
            allowed = self._allowed(formula.names[0], known)
            return allowed if allowed is not None else frozenset(kind.options)
        try:
            return frozenset((str(formula.evaluate(_Fixed({}, {}))),))
        except m.NotKnown:
            return frozenset(kind.options)


def _any_verdict(symbol: m.Symbol) -> frozenset[str]:
    return frozenset((PASSES, FAILS) if symbol.facets.guarded is None else (PASSES, FAILS, UNDECIDED))


def _joined(a: Known, b: Known) -> Known:
    return {name: a[name] | b[name] for name in a if name in b}


def _sets(instr: m.Instr) -> frozenset[str]:
    """The names an instruction sets."""
    if isinstance(instr, (m.Read, m.Ask, m.SetInstr)):
        return frozenset((instr.symbol.name,))
    if isinstance(instr, m.ComputeValue):
        return frozenset(symbol.name for symbol, _, _ in instr.targets)
    if isinstance(instr, m.Acknowledge):
        return frozenset(asked.name for asked in instr.hazard.asks)
    if isinstance(instr, m.Call):
        return frozenset(symbol.name for _, symbol in instr.gives)
    return frozenset()
