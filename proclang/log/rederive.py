"""Every entry once more from its reply: the same procedure, the same question, and what must follow."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import attrs

from proclang.engine.decide import begin, decide
from proclang.engine.fold import MISTYPED, absorb, apply, replay
from proclang.engine.model import Entry, Event, Refused, State
from proclang.engine.strike import strike
from proclang.engine.working import Working, stored
from proclang.log.agree import NEAR, Differs, compare, uses_floats
from proclang.program import model as m
from proclang.session.site import Site, read_site, resolve_facts
from proclang.values.quantity import Quantity
from proclang.values.tolerance import judge

MOST_SAID = 20
"""After so many entries that do not agree, the rest are not looked at: by then one cause has many effects."""


@attrs.frozen
class Finding:
    """An entry, counted from 1, and what is not as it should be about it; or `marginal`, what another machine may see
    otherwise; or `unseen`, what could not be looked at."""

    entry: int
    ask: str
    says: str
    marginal: bool = False
    unseen: bool = False


def rederive(program: m.Program, entries: tuple[Entry, ...]) -> Iterator[Finding]:
    """Go through the entries. Each is decided anew from the state the recorded ones before it lead to, so that one
    wrong entry does not make every later one wrong. Never raises, whatever the entries hold."""
    state, said = State(), 0
    for number in range(1, len(entries) + 1):
        found, state_after = _one(program, entries, number, state)
        yield from found
        said += sum(not (f.marginal or f.unseen) for f in found)
        if state_after is None or said >= MOST_SAID:
            if number < len(entries):
                yield Finding(number + 1, "", f"nothing was looked at from here to record {len(entries)}", unseen=True)
            return
        state = state_after


def _one(
    program: m.Program, entries: tuple[Entry, ...], number: int, state: State
) -> tuple[list[Finding], State | None]:
    """Entry `number` of these, counted from 1; `state` is that after the ones before it."""
    found: list[Finding] = []
    entry = entries[number - 1]

    def say(says: str, marginal: bool = False, unseen: bool = False) -> None:
        found.append(Finding(number, entry.ask, says, marginal, unseen))

    try:
        anew = _anew(program, entries, number, state)
        if isinstance(anew, Refused):
            say(f"the reply would not be taken: {anew.problem.message}")
        else:
            if anew.ask != entry.ask:
                say(f"the question there is `{anew.ask}`")
            differs = compare(entry.then, anew.then)
            if differs is not None and _by_floats(program, state, differs, anew):
                say(differs.says, marginal=True)
                say("what follows from it there was not looked at, since it comes out otherwise here", unseen=True)
            elif differs is not None:
                say(differs.says)
            else:
                for name in _narrow(program, state, entry.then):
                    say(f"`{name}` stands so near a limit that another machine may judge it otherwise", marginal=True)
    except Exception as error:  # a stranger's entries may lead to states that no reply leads to
        say(f"nothing follows from it in this procedure: {error!r}"[:300])
    try:
        return found, replay(entries[:number]) if entry.reply.kind == MISTYPED else apply(state, entry)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as error:
        say(f"it cannot be replayed: {error}"[:300])
        return found, None


def _anew(program: m.Program, entries: tuple[Entry, ...], number: int, state: State) -> Entry | Refused:
    entry = entries[number - 1]
    if entry.reply.kind == MISTYPED:
        return strike(program, entries[: number - 1], entry.reply)
    if number > 1:
        return decide(program, state, entry.reply)
    opened = {k: v for k, v in entry.then[0].items() if k != "is"}
    return begin(program, opened, entry.reply.stamp)


def _by_floats(program: m.Program, state: State, differs: Differs, anew: Entry) -> bool:
    """Whether what turned could do so: a verdict only where its value stands near enough to the limit."""
    verdicts = [e for e in anew.then if e["is"] == "verdict" and e["name"] == differs.turned]
    return differs.turned != "" and (not verdicts or differs.turned in _narrow(program, state, anew.then))


def _narrow(program: m.Program, state: State, events: tuple[Event, ...]) -> Iterator[str]:
    """Computed values whose verdict would flip if a float differed in its tenth digit."""
    formulas = {e["name"]: e["formula"] for e in events if e["is"] == "computed" and uses_floats(e["formula"])}
    if not formulas:
        return
    mid = state.copy()
    for event in events:
        absorb(mid, event)
        if event["is"] == "verdict" and event["name"] in formulas and not event.get("given"):
            work = Working(program, mid)
            symbol = work.routine.symbols.get(event["name"])
            text = mid.top.values.get(event["name"], {}).get(event.get("key", ""))
            if symbol is not None and text is not None and _flips(work, symbol, text):
                yield event["name"]


def _flips(work: Working, symbol: m.Symbol, text: str) -> bool:
    value = stored(text)
    shift = abs(value.value) * NEAR
    for make, _ in symbol.facets.limits:
        limits = make(work)
        outcomes = {judge(Quantity(value.value + s, value.dimension), limits).outcome for s in (-shift, shift)}
        if len(outcomes) > 1:
            return True
    return False


def check_opening(program: m.Program, opened: Event, site_data: bytes | None) -> Iterator[str]:
    """What the first entry says of procedure and site, against the files kept with the run."""
    said: dict[str, Any] = {"procedure": program.entry, "title": program.main.title, "revision": program.main.revision}
    if site_data is not None:
        site = read_site(site_data, "site.toml")
        if not isinstance(site, Site):
            yield "the site file of the run is not accepted any more"
            return
        facts = resolve_facts(program, site)
        if isinstance(facts, tuple):
            yield f"the site file does not fit the procedure: {facts[0].message}"
            return
        said |= {"site": site.name, "site_title": site.title, "training": site.training, "facts": facts}
    for member, value in said.items():
        if opened.get(member) != value:
            yield f"`{member}` is recorded as `{str(opened.get(member))[:80]}`; the files say `{str(value)[:80]}`"
