"""From entries to what happened, place by place: a fold over events, beside the one that makes the state.

Recorded outcomes are trusted and nothing is computed, so that a log can be made on any machine and is the same there.
Each event is looked at before the state hears of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from proclang.engine.fold import MISTYPED, absorb, struck
from proclang.engine.model import Entry, Event
from proclang.log import course
from proclang.log.amounts import amount
from proclang.log.drafts import Computed, Deviation, Judged, Reading, Setting
from proclang.log.gathered import INSISTED, UNKNOWN, Fold, Gathered, JudgedKey, occurrence
from proclang.log.markdown import Md, code, told
from proclang.log.model import Fact
from proclang.program import model as m


def gather(program: m.Program, entries: Iterable[Entry]) -> Gathered:
    """Fold entries. Raises `places.Strayed`, `engine.fold.UnknownEvent`, and whatever Python makes of events that have
    not the shape this program gives them; `render` turns all of it into one message."""
    fold = Fold(Gathered(program))
    acts, state = _ACTS, fold.out.state
    entries = tuple(entries)
    left_out = struck(entries)
    for i, entry in enumerate(entries):
        if i in left_out:
            _struck(fold, entry, entries[left_out[i]])
            continue
        if entry.reply.kind == MISTYPED:
            continue
        fold.ask, fold.reading, fold.calling = entry.ask, None, False
        for event in entry.then:
            kind = event["is"]
            if kind not in ("value", "verdict"):
                fold.left = ""
            if kind != "value":
                fold.calling = False
            act = acts.get(kind)
            if act is not None:
                act(fold, event)
            absorb(state, event)
    _finish(fold)
    return fold.out


def _struck(fold: Fold, reading: Entry, strike: Entry) -> None:
    """A mistyped reading: told with the one that took its place, left open until there is one."""
    at = reading.then[0]["at"]
    fold.out.struck += 1
    reason = f" ({code(strike.reply.text)})" if strike.reply.text.strip() else ""
    says = Md(f"struck before it as mistyped: {code(reading.reply.text)}{reason}")
    instr, place = fold.place(at)
    before = fold.struck[at][2] if at in fold.struck else ()
    fold.struck[at] = (place, occurrence(at, instr), (*before, says))


# ---------------------------------------------------------------------------- values


def _value(fold: Fold, e: Event) -> None:
    if fold.reading is not None and fold.reading[0] == e["name"]:
        fold.reading[1].used = e["value"]
    elif fold.calling:
        course.given(fold, e["name"], e["value"])
    elif fold.left and e["name"] in fold.handed_up:
        label = f" {code(e['key'])}" if e.get("key") else ""
        fold.say(fold.left, f"gave {code(e['name'])}{label}: {amount(e['value'])}")


def _read(fold: Fold, e: Event) -> None:
    at, name = e["at"], e["name"]
    out = fold.out
    here, frame = out.places.top, out.state.frames[-1]
    fold.unknown.pop(at, None)
    # By its name: what it is, and its serial number, stand under Instruments.
    instrument = code(e["instrument"]) if e.get("instrument") else Md("")
    reading = Reading(at, e["typed"], e["value"], instrument, bool(e.get("implausible")))
    fold.reading = (name, reading)
    if at in fold.struck:
        reading.struck = fold.struck.pop(at)[2]
    setting = fold.setting.get(at.rpartition("/")[0]) if fold.setting else None
    if setting is not None and "." in name:
        setting.readings.append((at.rpartition("/")[2].replace("_", " "), reading))
        return
    symbol = here.map.routine.symbols.get(name)
    reading.by_worst = symbol is not None and symbol.facets.worst
    key = e.get("key", "")
    series = fold.series.setdefault((here.path, name, key), [])
    if e["new"] or not series or not frame.series.get(f"{name}|{key}"):
        series.append([reading])
    else:
        series[-1].append(reading)
        reading.number = len(series[-1])
    # A reading is answered where the run rests, so its address is at hand and need not be found from its name.
    out.done.append((fold.place_of_address(frame.address, at)[1], reading))
    if reading.implausible:
        fold.leave_open(INSISTED, at, f"{amount(e['value'])}, outside what was expected, and insisted on")


def _computed(fold: Fold, e: Event) -> None:
    at, name, values = e["at"], e["name"], e["values"]
    fold.unknown.pop(at, None)
    off, stands = e.get("off", {}), e.get("stands", {})
    draft = Computed(f"{at.rpartition('/')[0]}/{name}", values, e["formula"], e["inputs"], off, stands)
    fold.out.computed.append((fold.place(at)[1], draft))
    fold.last_computed[at, name] = draft
    fold.computings.setdefault((fold.out.places.top.path, name, tuple(values)), []).append(draft)


def _setting(fold: Fold, e: Event) -> None:
    at = e["at"]
    fold.unknown.pop(at, None)
    fold.setting[at] = Setting(at, e.get("title", ""), e["value"], e["formula"], e["inputs"])
    fold.out.settings.append((fold.place(at)[1], fold.setting[at]))


def _verdict(fold: Fold, e: Event) -> None:
    judged = Judged.of(e)
    if judged.outcome == "fails" and not e.get("given"):
        fold.out.failed += 1
    if e.get("given"):
        _given(fold, judged)
    elif fold.reading is not None and fold.reading[1].at == judged.at:
        fold.reading[1].verdicts.append(judged)
    elif (judged.at, judged.name) in fold.last_computed:
        draft = fold.last_computed[judged.at, judged.name]
        judged.off = ()
        if judged.key == "spread" and "spread" not in draft.values:
            draft.spread = judged
        else:
            draft.verdicts[judged.key] = judged
    path = fold.out.places.top.path
    key: JudgedKey = (path, judged.name, judged.key)
    fold.out.verdicts[key] = (fold.place(judged.at)[1], judged)
    fold.judged_at.setdefault(judged.at, {})[key] = None
    fold.judged_of.setdefault((path, judged.name), {})[key] = None


def _given(fold: Fold, judged: Judged) -> None:
    """A verdict handed up by a performed procedure is the caller's now, and not counted twice."""
    here = fold.out.places.top
    call = here.map.instruction(here.map.pc_at(fold.out.state.top.address))
    for inner, symbol in call.gives if isinstance(call, m.Call) else ():
        if symbol.name == judged.name:
            below = fold.out.verdicts.pop((fold.left, inner, judged.key), None)
            if below is not None:
                judged.limits, judged.beyond, judged.accepted = below[1].limits, below[1].beyond, below[1].accepted
                judged.conforms, judged.guarded = below[1].conforms, below[1].guarded


def _unknown(fold: Fold, e: Event) -> None:
    """Left open until it is worked out after all, or accepted."""
    instr, place = fold.place(e["at"])
    fold.unknown[e["at"]] = (place, Fact(occurrence(e["at"], instr), Md(f"not known; {told(e['why'])}")))


# ---------------------------------------------------------------------------- deviations


def _deviation(fold: Fold, e: Event) -> None:
    at = e["at"]
    instr, place = fold.place(at)
    routine, path = fold.out.places.top.map.routine, fold.out.places.top.path
    fold.unknown.pop(at, None)
    what: list[Md] = []
    if isinstance(instr, m.EndLoop):
        what.append(Md("not reached in the passes allowed"))
        for name in fold.out.places.top.map.left_on(instr.name):
            what.extend(_accept(fold, fold.judged_of.pop((path, name), {})))
    if "why" in e:
        what.append(Md(f"what was not right: {told(e['why'])}"))
    for below in (at, f"{at}/read_back", f"{at}/after_power_cycle"):
        what.extend(_accept(fold, fold.judged_at.pop(below, {})))
    if not what and at in fold.answers:
        what.append(fold.answers[at])
    by = fold.roles([e["by"]], routine.authority or fold.out.program.opening.authority)
    fold.out.deviations.append((place, Deviation(occurrence(at, instr), e["reason"], by, what)))


def _accept(fold: Fold, keys: Iterable[JudgedKey]) -> Iterable[Md]:
    """What was out of tolerance and is accepted now. Each is looked at once, until it is judged again."""
    values = fold.out.state.top.values
    for key in keys:
        if key not in fold.out.verdicts:
            continue
        judged = fold.out.verdicts[key][1]
        if not judged.stands_open:
            continue
        judged.accepted = True
        _, name, label = key
        value = values.get(name, {}).get("" if label == "spread" else label)
        labelled = f" {code(label)}" if label and label != "spread" else ""
        shown = f" {amount(value)}" if value is not None else ""
        yield Md(f"{code(name)}{labelled}{shown}; {judged.says}")


# ---------------------------------------------------------------------------- afterwards


def _finish(fold: Fold) -> None:
    """Mark what was read again after an adjustment, first as found and last as left; keep what is not known still."""
    for series in fold.series.values():
        if len(series) > 1:
            series[0][0].mark, series[-1][-1].mark = "as found", "as left"
    for drafts in fold.computings.values():
        if len(drafts) > 1:
            drafts[0].mark, drafts[-1].mark = "as found", "as left"
    for place, at, says in fold.struck.values():
        fold.out.open.append((UNKNOWN, place, Fact(at, Md("; ".join(says) + "; not read again"))))
    fold.out.open.extend((UNKNOWN, place, fact) for place, fact in fold.unknown.values())


_ACTS: dict[str, Callable[[Fold, Event], None]] = {
    "opened": course.opened,
    "ready": course.ready,
    "section": course.section,
    "called": course.called,
    "returned": course.returned,
    "branch": course.branch,
    "loop end": course.loop_end,
    "step": course.step,
    "done": course.done,
    "answered": course.answered,
    "value": _value,
    "person": course.person,
    "read": _read,
    "computed": _computed,
    "verdict": _verdict,
    "setting": _setting,
    "stale": lambda fold, e: fold.say(e["at"], f"upsets {' and '.join(code(name) for name in e['names'])}"),
    "unknown": _unknown,
    "acknowledged": course.acknowledged,
    "briefed": course.briefed,
    "signed": course.signed,
    "deviation": _deviation,
    "hardware": course.hardware,
    "breach": course.breach,
    "blocked": course.blocked,
    "noted": course.noted,
    "stopped": course.stopped,
}

SILENT = frozenset(
    (
        "rest",
        "pass",
        "label",
        "instrument",
        "picked",
        "unfresh",
        "order done",
        "order over",
        "way",
        "paused",
        "exchanged",
        "struck",
        "reread",
        "finished",
    )
)
"""Kinds without a line of their own: what they did stands in the lines of others, in the state, or in the course of
the run."""

TOLD = frozenset(_ACTS)
"""Kinds with a handler. Together with `SILENT` these are all kinds there are."""
