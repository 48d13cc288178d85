"""What each kind of event does to the state. Kinds that only the log cares for are listed as doing nothing here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from proclang.engine.model import FOREIGN, BadEntry, Entry, Event, Frame, State
from proclang.program.origins import Reading, Taken, Worked
from proclang.text.collector import collector_paused


class UnknownEvent(BadEntry):
    """An event of a kind this version does not know: written by a newer one."""


def apply(state: State, entry: Entry) -> State:
    """The state after an entry; `state` itself is left as it was. Raises `BadEntry`.

    An entry that strikes a reading goes back behind it and needs the entries before: see `replay`.
    """
    after = state.copy()
    _take(after, entry)
    return after


MISTYPED = "mistyped"
"""The kind of a reply that strikes the reading before it."""


MOST_STRUCK = 100
"""Readings that can be struck in one run: going back behind one takes as long as the run so far."""


def struck(entries: Sequence[Entry]) -> dict[int, int]:
    """Where the struck entries stand, each with where the entry stands that strikes it; from 0. Raises `BadEntry`."""
    strikes = [i for i, entry in enumerate(entries) if entry.reply.kind == MISTYPED]
    if len(strikes) > MOST_STRUCK:
        raise BadEntry(f"more than {MOST_STRUCK} readings are struck")
    found: dict[int, int] = {}
    for strike in strikes:
        answers = (i for i in range(strike - 1, 0, -1) if i not in found and entries[i].reply.kind == "answer")
        last = next(answers, None)
        if last is None:
            raise BadEntry("an entry strikes a reading, and there is none before it")
        found[last] = strike
    return found


def counted(entries: Sequence[Entry]) -> Sequence[Entry]:
    """The entries that count: without struck readings and without the entries that struck them. Raises `BadEntry`."""
    left_out = struck(entries)
    if not left_out:
        return entries
    without = {*left_out, *left_out.values()}
    return [entry for i, entry in enumerate(entries) if i not in without]


def replay(entries: Iterable[Entry]) -> State:
    """The state after all entries, from nothing. Recorded outcomes are trusted, nothing is computed.

    Raises `BadEntry`.
    """
    state = State()
    with collector_paused():
        entries = tuple(entries)  # it may be making them as it goes
        for entry in counted(entries):
            _take(state, entry)
    state.entries = len(entries)
    return state


def _take(state: State, entry: Entry) -> None:
    """Change `state` by an entry."""
    try:
        for event in entry.then:
            # `absorb`, without a call between: this loop is the cost of a resume.
            act = _ACTS.get(event["is"])
            if act is None:
                raise UnknownEvent(str(event["is"]))
            act(state, event)
    except UnknownEvent:
        raise
    except FOREIGN as error:
        raise BadEntry(f"entry {state.entries + 1} holds an event that cannot be taken: {error!r}") from error
    state.entries += 1


def absorb(state: State, event: Event) -> None:
    """Change `state` by one event. Raises `UnknownEvent`, and whatever Python makes of an event without its parts."""
    act = _ACTS.get(event["is"])
    if act is None:
        raise UnknownEvent(str(event["is"]))
    act(state, event)


def _opened(state: State, e: Event) -> None:
    state.status = "running"
    state.facts = dict(e["facts"])
    state.rules = e.get("rules", 1)
    state.frames = [Frame("", "opening")]


def _struck(state: State, e: Event) -> None:
    raise BadEntry("what stands after a struck reading follows from the entries before it")


def _rest(state: State, e: Event) -> None:
    state.frames[-1].address = e["address"]
    rest = e.copy()
    del rest["is"], rest["address"]
    state.rest = rest


def _called(state: State, e: Event) -> None:
    caller = state.top
    caller.address, caller.did = e["at"], []
    inner = Frame(e["routine"], e["path"])
    for name, (text, names) in e.get("handed", {}).items():
        inner.origins[name] = {"": worked(caller, "argument", e["at"], name, "", text, names)}
    state.frames.append(inner)


def _returned(state: State, e: Event) -> None:
    inner = state.frames.pop()
    for name in e.get("gives", ()):
        _forget(state.top, name, "")
    for name, within in e.get("took", {}).items():
        if within in inner.origins:
            state.top.origins[name] = inner.origins[within]


def _section(state: State, e: Event) -> None:
    state.top.section = e["address"]
    state.top.heard, state.top.did = [], []


def _pass(state: State, e: Event) -> None:
    loops = state.top.loops
    if loops and loops[-1][0] == e["loop"] and e["n"] != 1:
        loops[-1] = (e["loop"], e["n"])
    else:
        loops.append((e["loop"], e["n"]))


def _label(state: State, e: Event) -> None:
    loops = state.top.loops
    if not e["first"]:
        loops.pop()
    loops.append((e["each"], e["label"]))


def _loop_end(state: State, e: Event) -> None:
    frame = state.top
    while frame.loops and frame.loops.pop()[0] != e["loop"]:
        pass
    # Whoever leaves a loop does not come to the value any more for which readings in it were taken again.
    frame.rereads = [reread for reread in frame.rereads if reread[2] <= len(frame.loops)]


def _value(state: State, e: Event) -> None:
    frame, name, key = state.frames[-1], e["name"], e.get("key", "")
    known = frame.values.get(name)
    if known is None:
        frame.values[name] = {key: e["value"]}
    else:
        known[key] = e["value"]
    if name in frame.stale:
        left = frame.stale[name]
        if key in left:
            left.remove(key)
            if not left:
                del frame.stale[name]


def _read(state: State, e: Event) -> None:
    frame, name, label, text = state.frames[-1], e["name"], e.get("key", ""), e["value"]
    series, key = frame.series, f"{name}|{label}"
    state.readings += 1
    reading = Reading(state.readings, text, e.get("instrument", ""), state.sitting)
    if e["new"] or key not in series:
        series[key] = [text]
        frame.taken[key] = [reading]
    else:
        series[key].append(text)
        frame.taken[key].append(reading)
    taken = frame.taken[key]
    origin = Taken(frame.routine, name, label, taken, len(taken))
    known = frame.origins.get(name)
    if known is None:
        frame.origins[name] = {label: origin}
    else:
        known[label] = origin


def _computed(state: State, e: Event) -> None:
    frame, name = state.top, e["name"]
    frame.rests_on[name] = list(e["inputs"])
    state.cautioned.extend(e.get("cautions", ()))
    off, known = e.get("off", {}), frame.off.setdefault(name, {})
    for key, text in e["values"].items():
        known.pop(key, None)
        if key in off:
            known[key] = off[key]
        frame.origins.setdefault(name, {})[key] = worked(frame, "compute", e["formula"], name, key, text, e["inputs"])


def _setting(state: State, e: Event) -> None:
    frame, name = state.top, e["name"]
    state.cautioned.extend(e.get("cautions", ()))
    frame.origins[name] = {"": worked(frame, "set", e["formula"], name, "", e["value"], e["inputs"])}


def worked(frame: Frame, kind: str, place: str, name: str, key: str, text: str, names: Iterable[str]) -> Worked:
    """A value worked out here, with what stands behind it now. The maps are copied: what comes later is not."""
    values = {x: dict(frame.values[x]) for x in names if x in frame.values}
    origins = {x: dict(frame.origins[x]) for x in names if x in frame.origins}
    return Worked(frame.routine, kind, place, name, key, text, values, origins, tuple(frame.loops))


def _paused(state: State, e: Event) -> None:
    state.sitting += 1


def _exchanged(state: State, e: Event) -> None:
    state.exchanged[e["name"]] = e["to"]


def _verdict(state: State, e: Event) -> None:
    outcomes, name = state.frames[-1].outcomes, e["name"]
    judged = outcomes.get(name)
    if judged is None:
        outcomes[name] = {e.get("key", ""): e["outcome"]}
    else:
        judged[e.get("key", "")] = e["outcome"]


def _stale(state: State, e: Event) -> None:
    frame = state.top
    _mark_stale(frame, [*e["names"], *e.get("also", ())])
    for name in (*e["names"], *e.get("ended", ())):
        for key in frame.series:
            if key.partition("|")[0] == name:
                frame.series[key] = []  # the next reading begins a series: what it reads is not what was read before


def _unfresh(state: State, e: Event) -> None:
    _mark_stale(state.top, e["names"], e.get("key"))


def _mark_stale(frame: Frame, names: Iterable[str], key: str | None = None) -> None:
    """Mark every label of some names, or one of them."""
    for name in names:
        if key is not None:
            marked = frame.stale.setdefault(name, [])
            if key not in marked:
                marked.append(key)
        elif name in frame.values:
            frame.stale[name] = list(frame.values[name])


def _unknown(state: State, e: Event) -> None:
    for name, key in e.get("unset", ()):
        _forget(state.top, name, key)
    for name, key in e.get("unjudged", ()):
        state.top.outcomes.get(name, {}).pop(key, None)


def _forget(frame: Frame, name: str, key: str) -> None:
    """What is not known any more has neither value nor verdict; without a key, the whole name."""
    if key:
        frame.values.get(name, {}).pop(key, None)
        frame.outcomes.get(name, {}).pop(key, None)
        frame.origins.get(name, {}).pop(key, None)
        return
    frame.values.pop(name, None)
    frame.outcomes.pop(name, None)
    frame.stale.pop(name, None)
    frame.origins.pop(name, None)


def _hardware(state: State, e: Event) -> None:
    for item in e["items"]:
        state.hardware[item] = e["state"]


def _person(state: State, e: Event) -> None:
    state.people[e["role"]] = e["name"]


def _instrument(state: State, e: Event) -> None:
    state.instruments[e["name"]] = {k: v for k, v in e.items() if k not in ("is", "name", "at")}


def _step(state: State, e: Event) -> None:
    state.frames[-1].did = e.get("by", [])


def _acknowledged(state: State, e: Event) -> None:
    state.top.heard.append(e["hazard"])


def _picked(state: State, e: Event) -> None:
    state.top.orders.setdefault(e["order"], [])


def _order_done(state: State, e: Event) -> None:
    state.top.orders.setdefault(e["order"], []).append(e["step"])


def _order_over(state: State, e: Event) -> None:
    state.top.orders.pop(e["order"], None)


def _chosen_way(state: State, e: Event) -> None:
    frame = state.top
    if e.get("back"):
        if e["way"] == "adjust":
            # What was adjusted on the way may bear on everything that was to be read once more.
            frame.rereads = [("adjust", until, depth) for _, until, depth in frame.rereads]
        frame.rereads.append((e["way"], e["until"], len(frame.loops)))


def _reread(state: State, e: Event) -> None:
    rereads = state.top.rereads
    while rereads and rereads.pop()[1] != e["until"]:
        pass


def _stopped(state: State, e: Event) -> None:
    state.status = "stopping"
    for frame in state.frames:
        frame.loops.clear()
        frame.orders.clear()
        frame.rereads.clear()


def _finished(state: State, e: Event) -> None:
    state.status = e["status"]
    state.rest = {}


def _nothing(state: State, e: Event) -> None:
    """For the log alone."""


_ACTS: dict[str, Callable[[State, Event], None]] = {
    "opened": _opened,
    "rest": _rest,
    "called": _called,
    "returned": _returned,
    "section": _section,
    "pass": _pass,
    "label": _label,
    "loop end": _loop_end,
    "value": _value,
    "read": _read,
    "verdict": _verdict,
    "computed": _computed,
    "stale": _stale,
    "unfresh": _unfresh,
    "unknown": _unknown,
    "hardware": _hardware,
    "person": _person,
    "instrument": _instrument,
    "step": _step,
    "acknowledged": _acknowledged,
    "picked": _picked,
    "order done": _order_done,
    "order over": _order_over,
    "way": _chosen_way,
    "reread": _reread,
    "stopped": _stopped,
    "finished": _finished,
    # told, but nothing later is asked because of them
    "ready": _nothing,
    "briefed": _nothing,
    "done": _nothing,
    "answered": _nothing,
    "setting": _setting,
    "signed": _nothing,
    "branch": _nothing,
    "deviation": _nothing,
    "breach": _nothing,
    "blocked": _nothing,
    "struck": _struck,
    "noted": _nothing,
    "paused": _paused,
    "exchanged": _exchanged,
}

EVENT_KINDS = frozenset(_ACTS)
"""Every kind of event there is."""
