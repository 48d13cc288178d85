"""Readings that are accepted and were upset afterwards.

A value is fresh from its reading on, stale from a step on that upsets it, or upsets what it was computed from. At the
end of every procedure each value that is judged, or handed on, has to be fresh on every way that leads there: what
torquing or turning has changed since is not what was accepted.

Codes: `left-stale` (error).
"""

from __future__ import annotations

from collections.abc import Mapping

import attrs

from proclang.check.lasts import Lasts, lasts_of
from proclang.check.settle import settle
from proclang.check.standing import Known, Standing
from proclang.check.story import story
from proclang.check.ways import Atom, Place, Ways, names_set, upset_with, verdict_of, verdicts_made
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
    _above: dict[str, dict[str, set[str]]] = attrs.field(factory=dict)
    _lasts: dict[str, Lasts] = attrs.field(factory=dict)

    def after(self, place: Place, here: Standing) -> Standing:
        """What is fresh after an instruction."""
        instr = self.ways.instr(place)
        if isinstance(instr, (m.BeginStep, m.EnterSection)):
            return self._trimmed(place, here)
        names = names_set(instr)
        if isinstance(instr, m.UpsetsInstr):
            above = self._upset_with(self.ways.contexts[place.context].routine)
            names = names.union(*(above.get(name, ()) for name in instr.names))
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

    def _trimmed(self, place: Place, here: Standing) -> Standing:
        """The same without what matters to no line from here on: of what is forgotten nothing is found later, and a
        long procedure carries no more along than a short one."""
        routine = self.ways.contexts[place.context].routine
        lasts = self._lasts_of(routine)

        def done(atom: Atom) -> bool:
            mine = atom.context == place.context and bool(atom.names)
            return mine and all(lasts.asked.get(name, -1) < place.pc for name in atom.names)

        gone = [atom for atom in (*here.facts, *here.used) if done(atom)]
        if gone:
            here = here.forgotten(frozenset(gone))
        mine = f"{place.context} "
        idle = [
            key
            for key, states in here.items.items()
            if key.startswith(mine)
            and STALE not in states
            and lasts.touched.get(key[len(mine) :], -1) < place.pc
            and key[len(mine) :] not in routine.gives
        ]
        if not idle:
            return here
        return Standing({key: x for key, x in here.items.items() if key not in set(idle)}, here.facts, here.used)

    def _lasts_of(self, routine: m.Routine) -> Lasts:
        if routine.name not in self._lasts:
            self._lasts[routine.name] = lasts_of(routine, self._upset_with(routine))
        return self._lasts[routine.name]

    def _upset_with(self, routine: m.Routine) -> dict[str, set[str]]:
        """For each value those that were computed from it, and are upset with it."""
        if routine.name not in self._above:
            self._above[routine.name] = upset_with(routine)
        return self._above[routine.name]

    def _upset(self, place: Place, here: Standing, instr: m.UpsetsInstr) -> Standing:
        routine = self.ways.contexts[place.context].routine
        names = set(instr.names)
        for name in instr.names:
            names |= self._upset_with(routine).get(name, set())
        for name in sorted(names):
            key = _key(place.context, name)
            if key in here.items:
                # Nothing that was upset passes until it is read anew: a `leave when` does not lead past it.
                facts = {verdict_of(place.context, name): frozenset(("undecided",))}
                here = Standing({**here.items, key: {STALE: Known(facts, place)}}, here.facts, here.used | facts.keys())
        return here

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
        over = frozenset(atom for atom in (*here.facts, *here.used) if atom.context == place.context)
        here = Standing(
            {key: states for key, states in items.items() if not key.startswith(mine)}, here.facts, here.used
        )
        return here.forgotten(over) if over else here

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
