"""Every way through a procedure and all it performs, as a graph: a place is an instruction, where the loops over labels
around it stand, and the call that led there.

Loops over labels are gone through label by label, groups in any order step by step (up to six steps in every order),
`repeat` by its way round. What a branch tells is kept with the way: that `slab` is steel here, that `tilt` has passed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

import attrs

from proclang.program import model as m

Env = tuple[tuple[str, str], ...]

MOST_PLACES = 200_000
"""Places of a graph that is still looked at; a procedure may come to 100,000 instructions with loops at their bound."""

_ANY_ORDER = 6
"""Steps of a group that are looked at in every order, which is a way for each set of them that is done; in a larger
group they are taken in the order in which they are written."""

_IS = re.compile(r"([A-Za-z_]\w*) is ([A-Za-z_]\w*)")
_NOT = re.compile(r"not \((.*)\)")
_JUDGED = re.compile(r"([A-Za-z_]\w*) (passes|fails)")
_OUTCOMES = frozenset(("passes", "fails", "undecided"))


class Place(NamedTuple):
    """Where a run may stand."""

    context: int
    pc: int
    env: Env = ()
    done: frozenset[tuple[int, str]] = frozenset()


class Atom(NamedTuple):
    """Something that is the same until a name in it is set anew: a choice, a verdict, a condition."""

    context: int
    """Of which call; -1 for a fact of the site, which is one for all."""

    text: str
    names: frozenset[str]


Fact = tuple[Atom, frozenset[str]]
"""What an atom may be."""


class Way(NamedTuple):
    """On to a place; what that tells, and how it is said to people."""

    to: Place
    fact: Fact | None = None
    says: str = ""


@attrs.frozen
class Context:
    """One performing of a procedure. `handed` are its inputs that are choices of its caller."""

    routine: m.Routine
    caller: Place | None
    path: tuple[str, ...]
    handed: dict[str, Atom]
    bound: frozenset[str]
    """Inputs that the call hands over, and which are no facts of the site therefore."""


class Ways:
    """The graph of a program, made as it is asked for."""

    def __init__(self, program: m.Program) -> None:
        self.program = program
        self.contexts: list[Context] = [Context(program.main, None, (program.entry,), {}, frozenset())]
        self._performed: dict[tuple[Place, str], int] = {}
        self._onward: dict[Place, tuple[Way, ...]] = {}
        self._orders: dict[Place, tuple[dict[Place, int], dict[Place, tuple[Way, ...]]]] = {}
        self.start = Place(0, 0)

    def instr(self, place: Place) -> m.Instr:
        """The instruction at a place."""
        return self.contexts[place.context].routine.code[place.pc]

    def onward(self, place: Place) -> tuple[Way, ...]:
        """Where a run may go from a place, stops apart."""
        known = self._onward.get(place)
        if known is None:
            known = self._onward[place] = tuple(self._made(place))
        return known

    def in_order(self, start: Place) -> tuple[dict[Place, int], dict[Place, tuple[Way, ...]]]:
        """Of all places that can be come to from `start`: each one's number in an order that follows the ways (the
        reverse of the order in which a walk in depth leaves them), and the ways on from it."""
        if start not in self._orders:
            self._orders[start] = self._ordered(start)
        return self._orders[start]

    def _ordered(self, start: Place) -> tuple[dict[Place, int], dict[Place, tuple[Way, ...]]]:
        onward: dict[Place, tuple[Way, ...]] = {start: self.onward(start)}
        left: list[Place] = []
        stack = [(start, 0)]
        while stack:
            place, at = stack.pop()
            if at == len(onward[place]):
                left.append(place)
                continue
            stack.append((place, at + 1))
            to = onward[place][at].to
            if to not in onward and len(onward) < MOST_PLACES:
                onward[to] = self.onward(to)
                stack.append((to, 0))
        order = {place: -number for number, place in enumerate(left)}
        if len(onward) < MOST_PLACES:
            return order, onward
        return order, {place: tuple(w for w in listed if w.to in order) for place, listed in onward.items()}

    def _made(self, place: Place) -> Iterator[Way]:
        instr = self.instr(place)
        context = self.contexts[place.context]
        if isinstance(instr, m.Return):
            if context.caller is not None:
                yield Way(context.caller._replace(pc=context.caller.pc + 1))
        elif isinstance(instr, m.EndStopped):
            return
        elif isinstance(instr, m.Jump):
            yield Way(place._replace(pc=instr.target))
        elif isinstance(instr, m.Arms):
            yield from self._arms(place, instr)
        elif isinstance(instr, m.Branch):
            yield from self._branch(place, instr.condition, place.pc + 1, instr.otherwise)
        elif isinstance(instr, m.Leave):
            yield from self._branch(place, instr.condition, instr.out, place.pc + 1)
        elif isinstance(instr, m.EndLoop):
            if instr.bound > 1:
                yield Way(place._replace(pc=instr.begin + 1), says=f"`{instr.name}` goes round again")
            if not instr.unfinished:  # otherwise going on is a deviation, and so is no way of the procedure's own
                yield Way(place._replace(pc=instr.exhausted), says=f"`{instr.name}` reaches its bound")
        elif isinstance(instr, m.BeginEach):
            yield Way(place._replace(pc=place.pc + 1, env=(*place.env, (instr.variable, instr.labels[0]))))
        elif isinstance(instr, m.EndEach):
            at = instr.labels.index(dict(place.env)[instr.variable]) + 1
            outer = place.env[:-1]
            if at < len(instr.labels):
                yield Way(place._replace(pc=instr.begin, env=(*outer, (instr.variable, instr.labels[at]))))
            else:
                yield Way(place._replace(pc=place.pc + 1, env=outer))
        elif isinstance(instr, m.AnyOrderInstr):
            yield from self._any_order(place, instr)
        elif isinstance(instr, m.OrderDone):
            yield Way(place._replace(pc=instr.back, done=place.done | {(instr.back, instr.step)}))
        elif isinstance(instr, m.Call):
            yield Way(Place(self._perform(place, instr), 0))
        else:
            yield Way(place._replace(pc=place.pc + 1))

    def _any_order(self, place: Place, instr: m.AnyOrderInstr) -> Iterator[Way]:
        left = [(name, begin) for name, _, begin in instr.steps if (place.pc, name) not in place.done]
        if not left:
            done = frozenset(x for x in place.done if x[0] != place.pc)
            yield Way(place._replace(pc=instr.out, done=done))
        elif len(instr.steps) > _ANY_ORDER:
            yield Way(place._replace(pc=left[0][1]))
        else:
            for _, begin in left:
                yield Way(place._replace(pc=begin))

    def _perform(self, place: Place, instr: m.Call) -> int:
        known = (place, instr.routine)
        if known not in self._performed:
            caller = self.contexts[place.context]
            handed: dict[str, Atom] = {}
            for symbol, formula in instr.arguments:
                if isinstance(symbol.type, m.Choice) and formula.names == (formula.text,):
                    handed[symbol.name] = self.choice(place, formula.text)
            bound = frozenset(symbol.name for symbol, _ in instr.arguments)
            self._performed[known] = len(self.contexts)
            routine = self.program.routines[instr.routine]
            self.contexts.append(Context(routine, place, (*caller.path, instr.name), handed, bound))
        return self._performed[known]

    # ------------------------------------------------------------------ what branches tell

    def choice(self, place: Place, name: str) -> Atom:
        """The atom of a choice as it is seen from a place."""
        context = self.contexts[place.context]
        if name in context.handed:
            return context.handed[name]
        symbol = context.routine.symbols.get(name)
        if name == "hemisphere" or (symbol is not None and symbol.how == "input" and name not in context.bound):
            return Atom(-1, name, frozenset())
        return Atom(place.context, name, frozenset((name,)))

    def _options(self, place: Place, name: str) -> frozenset[str]:
        if name == "hemisphere":
            return frozenset(m.HEMISPHERES)
        symbol = self.contexts[place.context].routine.symbols.get(name)
        return (
            frozenset(symbol.type.options) if symbol is not None and isinstance(symbol.type, m.Choice) else frozenset()
        )

    def _arms(self, place: Place, instr: m.Arms) -> Iterator[Way]:
        stands = dict(place.env).get(instr.name)
        if stands is not None:
            yield Way(place._replace(pc=instr.targets[stands]), says=f"`{instr.name}` is {stands}")
            return
        by_target: dict[int, list[str]] = {}
        for label, target in instr.targets.items():
            by_target.setdefault(target, []).append(label)
        atom = self.choice(place, instr.name)
        for target, labels in by_target.items():
            says = f"`{instr.name}` is {' or '.join(labels)}"
            yield Way(place._replace(pc=target), (atom, frozenset(labels)), says)

    def _branch(self, place: Place, condition: m.Formula, then: int, otherwise: int) -> Iterator[Way]:
        decided = self._decided(place, condition.text)
        if decided is not None:
            yield Way(place._replace(pc=then if decided else otherwise))
            return
        atom, true, false = self._told(place, condition)
        says = _says(condition.text, true, false)
        yield Way(place._replace(pc=then), (atom, true), says[0])
        yield Way(place._replace(pc=otherwise), (atom, false), says[1])

    def _decided(self, place: Place, text: str) -> bool | None:
        """Whether a condition on where a loop stands holds here; None where it is on something else."""
        found = _IS.fullmatch(text)
        if found is not None:
            stands = dict(place.env).get(found[1])
            return None if stands is None else stands == found[2]
        denied = _NOT.fullmatch(text)
        inner = self._decided(place, denied[1]) if denied is not None else None
        return None if inner is None else not inner

    def _told(self, place: Place, condition: m.Formula) -> tuple[Atom, frozenset[str], frozenset[str]]:
        """What a condition tells where it holds, and where it does not."""
        text = condition.text
        denied = _NOT.fullmatch(text)
        if denied is not None and (_IS.fullmatch(denied[1]) or _JUDGED.fullmatch(denied[1])):
            atom, true, false = self._told(place, attrs.evolve(condition, text=denied[1]))
            return atom, false, true
        found = _IS.fullmatch(text)
        if found is not None:
            options = self._options(place, found[1])
            here = frozenset((found[2],))
            return self.choice(place, found[1]), here, options - here
        judged = _JUDGED.fullmatch(text)
        if judged is not None:
            atom = verdict_of(place.context, judged[1])
            here = frozenset((judged[2],))
            return atom, here, _OUTCOMES - here
        inputs = {s.name for s in self.contexts[place.context].routine.inputs} - self.contexts[place.context].bound
        where = -1 if set(condition.names) <= inputs else place.context
        labels = frozenset(name for name in condition.names if name not in inputs)
        around = " ".join(f"{name}={label}" for name, label in place.env if name in condition.names)
        return Atom(where, f"{text} {around}".strip(), labels), frozenset(("holds",)), frozenset(("does not",))


def _says(text: str, true: frozenset[str], false: frozenset[str]) -> tuple[str, str]:
    """How people say that a condition holds, and that it does not."""
    found = _IS.fullmatch(text)
    if found is not None:
        return f"`{found[1]}` is {' or '.join(sorted(true))}", f"`{found[1]}` is {' or '.join(sorted(false))}"
    judged = _JUDGED.fullmatch(text)
    if judged is not None:
        return (
            f"`{judged[1]}` {judged[2]}",
            f"`{judged[1]}` {'does not pass' if judged[2] == 'passes' else 'does not fail'}",
        )
    return f"`{text}`", f"not `{text}`"


def verdict_of(context: int, name: str) -> Atom:
    """The atom of a verdict."""
    return Atom(context, f"{name}'s verdict", frozenset((name,)))


def verdicts_made(instr: m.Instr, context: int) -> dict[Atom, frozenset[str]]:
    """What a reading or a calculation may come to, where a line asks for its verdict: only what is guarded is ever
    undecided before a step upsets it."""
    if not isinstance(instr, (m.Read, m.ComputeValue)) or not instr.handled:
        return {}
    symbols = [instr.symbol] if isinstance(instr, m.Read) else [symbol for symbol, _, _ in instr.targets]
    whole = not isinstance(instr, m.Read) or (instr.last_of_series and not instr.labels)
    return {
        verdict_of(context, symbol.name): frozenset(("passes", "fails"))
        for symbol in symbols
        if whole and symbol.facets.judged and symbol.facets.guarded is None
    }


def names_set(instr: m.Instr) -> frozenset[str]:
    """The names an instruction gives a new value or a new verdict; what was known of them is known no more."""
    if isinstance(instr, (m.Read, m.Ask, m.SetInstr)):
        return frozenset((instr.symbol.name,))
    if isinstance(instr, m.ComputeValue):
        return frozenset(symbol.name for symbol, _, _ in instr.targets)
    if isinstance(instr, m.Acknowledge):
        return frozenset(asked.name for asked in instr.hazard.asks)
    if isinstance(instr, m.UpsetsInstr):
        return frozenset(instr.names)
    if isinstance(instr, m.Call):
        return frozenset(symbol.name for _, symbol in instr.gives)
    return frozenset()


def upset_with(routine: m.Routine) -> dict[str, set[str]]:
    """For each value those that were computed from it, however far on: they are upset with it."""
    direct: dict[str, set[str]] = {}
    for instr in routine.code:
        if isinstance(instr, m.ComputeValue):
            for symbol, _, _ in instr.targets:
                direct.setdefault(symbol.name, set()).update(instr.formula.names)
    above: dict[str, set[str]] = {}
    for name in direct:
        seen: set[str] = set()
        todo = list(direct[name])
        while todo:
            other = todo.pop()
            if other not in seen:
                seen.add(other)
                above.setdefault(other, set()).add(name)
                todo.extend(direct.get(other, ()))
    return above
