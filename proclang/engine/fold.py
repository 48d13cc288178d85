"""What each kind of event does to the state. Kinds that only the log cares for are listed as doing nothing here."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from proclang.engine.model import Entry, Event, Frame, State


class UnknownEvent(ValueError):
    """An event of a kind this version does not know: written by a newer one."""


def apply(state: State, entry: Entry) -> State:
    """The state after an entry; `state` itself is left as it was."""
    after = state.copy()
    absorb_all(after, entry.then)
    after.entries += 1
    return after


def replay(entries: Iterable[Entry]) -> State:
    """The state after all entries, from nothing. Recorded outcomes are trusted, nothing is computed."""
    state = State()
    for entry in entries:
        absorb_all(state, entry.then)
        state.entries += 1
    return state


def absorb_all(state: State, events: Iterable[Event]) -> None:
    """Change `state` by events in turn."""
    for event in events:
        absorb(state, event)


def absorb(state: State, event: Event) -> None:
    """Change `state` by one event. Raises `UnknownEvent`."""
    act = _ACTS.get(event["is"])
    if act is None:
        raise UnknownEvent(str(event["is"]))
    act(state, event)


def _opened(state: State, e: Event) -> None:
    state.status = "running"
    state.facts = dict(e["facts"])
    state.frames = [Frame("", "opening")]


def _rest(state: State, e: Event) -> None:
    state.top.address = e["address"]
    state.rest = {k: v for k, v in e.items() if k not in ("is", "address")}


def _called(state: State, e: Event) -> None:
    state.top.address = e["at"]
    state.frames.append(Frame(e["routine"], e["path"]))


def _returned(state: State, e: Event) -> None:
    state.frames.pop()


def _section(state: State, e: Event) -> None:
    state.top.section = e["address"]
    state.top.heard = []


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
    loops = state.top.loops
    while loops and loops.pop()[0] != e["loop"]:
        pass


def _value(state: State, e: Event) -> None:
    frame = state.top
    frame.values.setdefault(e["name"], {})[e.get("key", "")] = e["value"]
    if e["name"] in frame.stale:
        frame.stale.remove(e["name"])


def _read(state: State, e: Event) -> None:
    frame = state.top
    key = f"{e['name']}|{e.get('key', '')}"
    if e["new"]:
        frame.series[key] = []
    frame.series.setdefault(key, []).append(e["value"])


def _verdict(state: State, e: Event) -> None:
    state.top.outcomes.setdefault(e["name"], {})[e.get("key", "")] = e["outcome"]


def _stale(state: State, e: Event) -> None:
    frame = state.top
    for name in e["names"]:
        if name in frame.values and name not in frame.stale:
            frame.stale.append(name)


def _hardware(state: State, e: Event) -> None:
    for item in e["items"]:
        state.hardware[item] = e["state"]


def _person(state: State, e: Event) -> None:
    state.people[e["role"]] = e["name"]


def _instrument(state: State, e: Event) -> None:
    state.instruments[e["name"]] = {k: v for k, v in e.items() if k not in ("is", "name", "at")}


def _acknowledged(state: State, e: Event) -> None:
    state.top.heard.append(e["hazard"])


def _picked(state: State, e: Event) -> None:
    state.top.orders.setdefault(e["order"], [])


def _order_done(state: State, e: Event) -> None:
    state.top.orders.setdefault(e["order"], []).append(e["step"])


def _order_over(state: State, e: Event) -> None:
    state.top.orders.pop(e["order"], None)


def _chosen_way(state: State, e: Event) -> None:
    if e.get("back"):
        state.top.rereading = e["way"]


def _reread(state: State, e: Event) -> None:
    state.top.rereading = ""


def _stopped(state: State, e: Event) -> None:
    state.status = "stopping"
    for frame in state.frames:
        frame.loops.clear()
        frame.rereading = ""


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
    "stale": _stale,
    "hardware": _hardware,
    "person": _person,
    "instrument": _instrument,
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
    "step": _nothing,
    "done": _nothing,
    "computed": _nothing,
    "unknown": _nothing,
    "answered": _nothing,
    "setting": _nothing,
    "signed": _nothing,
    "branch": _nothing,
    "deviation": _nothing,
    "breach": _nothing,
    "blocked": _nothing,
    "noted": _nothing,
}

EVENT_KINDS = frozenset(_ACTS)
"""Every kind of event there is."""
