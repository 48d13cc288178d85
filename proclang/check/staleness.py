"""Readings that are accepted and were upset afterwards.

A value is fresh from its reading on, stale from a step on that upsets it, or upsets what it was computed from. At the
end of every procedure each value that is judged, or handed on, has to be fresh on every way that leads there: what
torquing or turning has changed since is not what was accepted.

Codes: `left-stale` (error).
"""

from __future__ import annotations

from collections.abc import Mapping

import attrs

from proclang.check.settle import settle
from proclang.check.standing import Known, Standing
from proclang.check.story import story
from proclang.check.ways import Place, Ways, names_set, verdict_of, verdicts_made
from proclang.program import model as m
from proclang.text.diagnostic import Diagnostic, Label

FRESH, STALE = "fresh", "stale"


def find_stale_values(program: m.Program, ways: Ways | None = None) -> list[Diagnostic]:
    """Findings about a procedure and all it performs. `ways` is its graph, if it is made."""
    if not any(isinstance(x, m.UpsetsInstr) for routine in program.routines.values() for x in routine.code):
        return []
    look = _Look(ways or Ways(program))
    at = settle(look.ways, Standing({}, {}), look.after)
    return look.report(at)


@attrs.define
class _Look:
    ways: Ways
    _behind: dict[str, Mapping[str, frozenset[str]]] = attrs.field(factory=dict)

    def after(self, place: Place, here: Standing) -> Standing:
        """What is fresh after an instruction."""
        instr = self.ways.instr(place)
        names = names_set(instr)
        if names:
            here = here.without(names, place.context).told(verdicts_made(instr, place.context))
        if isinstance(instr, m.UpsetsInstr):
            return self._upset(place, here, instr)
        if isinstance(instr, m.Read):
            return here.moved([_key(place.context, instr.symbol.name)], FRESH, place)
        if isinstance(instr, m.ComputeValue):
            stale = self._stale_among(place, here, instr.formula.names)
            for symbol, _, _ in instr.targets:
                key = _key(place.context, symbol.name)
                here = here.moved([key], FRESH, place)
                if stale is not None:
                    states = {FRESH: Known({}, place), STALE: stale}
                    here = Standing({**here.items, key: states}, here.facts, here.used)
            return here
        if isinstance(instr, m.Return):
            return self._handed_up(place, here)
        return here

    def _upset(self, place: Place, here: Standing, instr: m.UpsetsInstr) -> Standing:
        routine = self.ways.contexts[place.context].routine
        names = set(instr.names)
        for name, behind in self._resting_on(routine).items():
            if behind & set(instr.names):
                names.add(name)
        for name in sorted(names):
            key = _key(place.context, name)
            if key in here.items:
                # Nothing that was upset passes until it is read anew: a `leave when` does not lead past it.
                facts = {verdict_of(place.context, name): frozenset(("undecided",))}
                here = Standing({**here.items, key: {STALE: Known(facts, place)}}, here.facts, here.used | facts.keys())
        return here

    def _resting_on(self, routine: m.Routine) -> Mapping[str, frozenset[str]]:
        """For each computed value everything it was computed from, however far back."""
        if routine.name not in self._behind:
            direct: dict[str, set[str]] = {}
            for instr in routine.code:
                if isinstance(instr, m.ComputeValue):
                    for symbol, _, _ in instr.targets:
                        direct.setdefault(symbol.name, set()).update(instr.formula.names)
            found: dict[str, frozenset[str]] = {}
            for name in direct:
                seen: set[str] = set()
                todo = list(direct[name])
                while todo:
                    other = todo.pop()
                    if other not in seen:
                        seen.add(other)
                        todo.extend(direct.get(other, ()))
                found[name] = frozenset(seen)
            self._behind[routine.name] = found
        return self._behind[routine.name]

    def _stale_among(self, place: Place, here: Standing, names: tuple[str, ...]) -> Known | None:
        """The staleness a computed value takes over from what stands in its formula."""
        for name in names:
            known = here.items.get(_key(place.context, name), {}).get(STALE)
            if known is not None:
                return Known({}, known.since)
        return None

    def _handed_up(self, place: Place, here: Standing) -> Standing:
        context = self.ways.contexts[place.context]
        if context.caller is None:
            return here
        call = self.ways.instr(context.caller)
        items = dict(here.items)
        if isinstance(call, m.Call):
            for within, symbol in call.gives:
                states = items.get(_key(place.context, within))
                if states is not None:
                    items[_key(context.caller.context, symbol.name)] = {
                        s: Known({}, k.since) for s, k in states.items()
                    }
        mine = f"{place.context} "
        return Standing(
            {key: states for key, states in items.items() if not key.startswith(mine)}, here.facts, here.used
        )

    # ------------------------------------------------------------------ telling

    def report(self, at: Mapping[Place, Standing]) -> list[Diagnostic]:
        """One finding for each step that leaves a judged value stale."""
        found: dict[tuple[str, int, str], Diagnostic] = {}
        for place, here in at.items():
            if not isinstance(self.ways.instr(place), m.Return):
                continue
            routine = self.ways.contexts[place.context].routine
            for name, symbol in routine.symbols.items():
                key = _key(place.context, name)
                known = here.items.get(key, {}).get(STALE)
                if known is None or known.since is None or not (symbol.facets.judged or name in routine.gives):
                    continue
                upset = self.ways.instr(known.since)
                told = story(self.ways, at, place, key, known)
                found.setdefault(
                    (upset.span.file, upset.span.start, name),
                    Diagnostic(
                        "left-stale",
                        f"`{name}` is upset here, and on some way it is not read again before `{routine.name}` ends",
                        upset.span,
                        hint=f"{told.text}; read it again (`measure again`, `compute again`) after the last step"
                        " that upsets it",
                        also=(Label(symbol.span, "this is the value"),),
                    ),
                )
        return list(found.values())


def _key(context: int, name: str) -> str:
    return f"{context} {name}"
