"""What is being asked: the state and the program to one `Request`, with everything a driver needs to put it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import attrs

from proclang.engine.interlocks import in_words
from proclang.engine.model import Callout, Over, Request, State
from proclang.engine.ways import Way, authorised, ways_at
from proclang.engine.working import Working, shown
from proclang.program import model as m
from proclang.values.show import show
from proclang.values.tolerance import limits_text
from proclang.values.unit import NONE


def next_request(program: m.Program, state: State) -> Request | Over:
    """The question a run rests at. `state` is left as it was."""
    if state.over:
        return Over(state.status)
    work = Working(program, state)  # nothing is emitted here: a request only looks
    pc = work.routine.index[work.frame.address]
    instr = work.routine.code[pc]
    phase = str(state.rest["phase"])
    request = _BY_PHASE[phase](work, instr, state.rest)
    return _placed(work, pc, request)


def _placed(work: Working, pc: int, request: Request) -> Request:
    """Where it stands: section, step k of n, and the text of the step."""
    code = work.routine.code
    enter = work.routine.index.get(work.frame.section, -1)
    section = code[enter] if enter >= 0 else None
    title = work.text(section.title) if isinstance(section, m.EnterSection) else ""
    if work.routine.name == "":
        title = work.routine.title
    begin = next((i for i in range(pc, -1, -1) if isinstance(code[i], (m.BeginStep, m.EndStep))), None)
    step = code[begin] if begin is not None else None
    request = attrs.evolve(request, section=title)
    if not isinstance(step, m.BeginStep):
        return request
    inside = [x for x in code[max(enter, 0) : _end_of_section(code, enter)] if isinstance(x, m.BeginStep)]
    places = list(dict.fromkeys(x.identity for x in inside))
    number = (places.index(step.identity) + 1, len(places)) if step.identity in places else None
    return attrs.evolve(
        request,
        step=work.at(step),
        number=number,
        title=work.text(step.title),
        prose=tuple(work.text(t) for t in step.prose),
        figures=tuple(f"{path}: {work.text(caption)}" for path, caption in step.figures),
        people=" and ".join(_person(work, role) for role in step.people),
        takes=step.takes,
    )


def _end_of_section(code: tuple[m.Instr, ...], enter: int) -> int:
    for i in range(max(enter, 0), len(code)):
        if isinstance(code[i], m.LeaveSection):
            return i
    return len(code)


def _person(work: Working, role: str) -> str:
    name = work.state.people.get(role)
    return f"{name} ({role})" if name else role


def _callout(work: Working, hazard: m.HazardInfo) -> Callout:
    return Callout(
        hazard.word,
        work.text(hazard.title),
        work.text(hazard.risk) if hazard.risk is not None else "",
        work.text(hazard.avoid) if hazard.avoid is not None else "",
    )


# ---------------------------------------------------------------------------- one phase each


def _role(work: Working, instr: m.AskRole, rest: dict[str, Any]) -> Request:
    return Request("text", work.at(instr), f"Who is the {instr.role.replace('_', ' ')}?", help="One person's name. The same person may hold several roles.")  # fmt: skip


def _serial(work: Working, instr: m.AskInstrument, rest: dict[str, Any]) -> Request:
    return Request("text", work.at(instr), f"Serial number of the {instr.instrument.title}?",
                   facts=_abilities(instr.instrument), help="As engraved on the instrument in hand.")  # fmt: skip


def _calibrated(work: Working, instr: m.AskInstrument, rest: dict[str, Any]) -> Request:
    return Request("text", work.at(instr, "calibrated"), f"Date of the last calibration of {rest['serial']}?",
                   facts=_abilities(instr.instrument), help="As on its label or certificate, such as 2031-04-17.")  # fmt: skip


def _abilities(instrument: m.Instrument) -> tuple[str, ...]:
    from proclang.program.facets import display_unit
    from proclang.values.unit import find_unit

    facts = []
    for what, value in (
        ("reads to", instrument.reads_to),
        ("repeats to", instrument.repeats_to),
        ("accurate to", instrument.accurate_to),
    ):
        if value is not None:
            facts.append(f"{what} {show(value, display_unit(value.dimension))}")
    if instrument.calibrated_within is not None:
        days = find_unit("d")
        facts.append(
            f"to be calibrated within {show(instrument.calibrated_within, days)}"
            if isinstance(days, type(NONE))
            else ""
        )
    return tuple(facts)


def _ready(work: Working, instr: m.AskReady, rest: dict[str, Any]) -> Request:
    return Request("word", work.at(instr), f"Are all {instr.kind} at hand?", facts=instr.things, choices=("ready",),
                   help="Type `ready` when everything listed lies here.")  # fmt: skip


def _found(work: Working, instr: m.AskFound, rest: dict[str, Any]) -> Request:
    return Request("choice", work.at(instr), f"How is the {instr.title} found?", choices=instr.states,
                   facts=(f"the procedure begins with it {instr.expected}",),
                   help="Go and look; type the state it is in.")  # fmt: skip


def _briefing(work: Working, instr: m.EnterSection, rest: dict[str, Any]) -> Request:
    names = tuple(dict.fromkeys(work.state.people.values()))
    return Request("names", work.at(instr, "briefing"), "Who has been briefed?",
                   hazards=tuple(_callout(work, h) for h in instr.hazards), choices=names,
                   help="Read the hazards aloud. Everyone on the roster signs: names or initials, with commas.")  # fmt: skip


def _acknowledge(work: Working, instr: m.Acknowledge, rest: dict[str, Any]) -> Request:
    return Request("name", work.at(instr), "Who takes note of this?", hazards=(_callout(work, instr.hazard),),
                   people=" and ".join(_person(work, r) for r in instr.people),
                   help="Name or initials of the one who does the next step.")  # fmt: skip


def _asks(work: Working, instr: m.Acknowledge, rest: dict[str, Any]) -> Request:
    asked = instr.hazard.asks[int(rest["n"])]
    kind = "quantity" if asked.unit is not None else "text"
    return Request(kind, work.at(instr, asked.name), work.text(asked.text), hazards=(_callout(work, instr.hazard),),
                   unit=asked.unit.symbol if asked.unit is not None else "",
                   help="Answer with what is so at the site now, not from memory.")  # fmt: skip


def _step_done(work: Working, instr: m.BeginStep, rest: dict[str, Any]) -> Request:
    return Request(
        "word", work.at(instr), "Done?", choices=("done",), help="Type `done` when the step has been carried out."
    )


def _read(work: Working, instr: m.Read, rest: dict[str, Any]) -> Request:
    symbol, key = instr.symbol, str(rest["key"])
    unit = symbol.unit or NONE
    what = symbol.title or symbol.name.replace("_", " ")
    prompt = f"{what}, {key.replace(',', ', ')}" if key else what
    readings = work.frame.series.get(f"{symbol.name}|{key}", []) if not rest["new"] else []
    facts = [f"reads with the ones before: {', '.join(shown(r, unit) for r in readings)}"] if readings else []
    if instr.instrument is not None:
        instrument = work.routine.instruments.get(instr.instrument)
        serial = work.state.instruments.get(instr.instrument, {}).get("serial", "")
        if instrument is not None:
            facts.append(f"with the {instrument.title}" + (f", {serial}" if serial else ""))
    plausible = symbol.facets.plausible
    return Request(
        "quantity",
        work.at(instr),
        prompt,
        unit=unit.symbol,
        limits=limit_texts(work, symbol),
        plausible=f"{show(plausible[0], unit)} to {show(plausible[1], unit)}" if plausible is not None else "",
        facts=tuple(facts),
        help=f"A number in {unit.symbol}, or with another unit of its kind." if unit.symbol else "A number.",
    )


def limit_texts(work: Working, symbol: m.Symbol) -> tuple[str, ...]:
    """The limits on a name as they stand now, in its unit."""
    out = []
    for make, _ in symbol.facets.limits:
        try:
            out.append(limits_text(make(work), symbol.unit or NONE))
        except m.NotKnown:
            continue
    return tuple(out)


def _confirm(work: Working, instr: m.Ask, rest: dict[str, Any]) -> Request:
    people = " and ".join(_person(work, r) for r in instr.people)
    return Request("choice", work.at(instr), work.text(instr.text), choices=("yes", "no"), people=people,
                   help="`yes` if it is so. `no` leads to what can be done about it.")  # fmt: skip


def _choose(work: Working, instr: m.Ask, rest: dict[str, Any]) -> Request:
    assert isinstance(instr.symbol.type, m.Choice)
    return Request("choice", work.at(instr), work.text(instr.text), choices=instr.symbol.type.options,
                   help="One of the words, its first letters, or its number.")  # fmt: skip


def _note(work: Working, instr: m.Ask, rest: dict[str, Any]) -> Request:
    return Request("text", work.at(instr), work.text(instr.text), help="A sentence of your own.")


def _photo(work: Working, instr: m.Ask, rest: dict[str, Any]) -> Request:
    return Request(
        "text", work.at(instr), f"Photo: {work.text(instr.text)}", help="The name or number the camera gave it."
    )


def _set(work: Working, instr: m.SetInstr, rest: dict[str, Any]) -> Request:
    return attrs.evolve(_read_back(work, instr, rest), kind="word", address=work.at(instr), prompt="Is it set?",
                        unit="", choices=("done",), help="Type `done` when the value has been entered.")  # fmt: skip


def _read_back(work: Working, instr: m.SetInstr, rest: dict[str, Any]) -> Request:
    phase = str(rest["phase"])
    unit = instr.symbol.unit or NONE
    value = work.frame.values[instr.symbol.name][""]
    from proclang.engine.working import stored

    told = show(stored(value), unit, signed=True)
    what = work.text(instr.title)
    prompt = f"{what} now reads" if phase == "read back" else f"{what} after switching off and on reads"
    return Request("quantity", work.at(instr, phase.replace(" ", "_")), prompt, unit=unit.symbol,
                   facts=(f"set the {what} to {told}",), help="What the equipment shows, sign and all.")  # fmt: skip


def _sign(work: Working, instr: m.Sign, rest: dict[str, Any]) -> Request:
    n = int(rest["n"])
    witness = n >= len(instr.people)
    role = (*instr.people, *instr.witness)[n]
    word = "Witnessed by" if witness or instr.kind == "witness" else "Released by"
    head = "witness point" if instr.kind == "witness" else "hold point"
    return Request("name", work.at(instr, role), f"{word} the {role.replace('_', ' ')}", people=_person(work, role),
                   facts=(f"{head}: {work.text(instr.text)}",),
                   help="Nothing goes on before. Name or initials of that person.")  # fmt: skip


def _pick(work: Working, instr: m.AnyOrderInstr, rest: dict[str, Any]) -> Request:
    done = work.frame.orders.get(instr.address, [])
    left = [(name, title) for name, title, _ in instr.steps if name not in done]
    return Request("choice", work.at(instr), "Which next?", choices=tuple(name for name, _ in left),
                   facts=tuple(f"{name}: {title}" for name, title in left),
                   help="These may be done in any order; all of them are.")  # fmt: skip


# ---------------------------------------------------------------------------- verdicts


def _ways(ways: tuple[Way, ...]) -> dict[str, Any]:
    return {
        "choices": tuple(w.word for w in ways),
        "help": "; ".join(f"`{w.word}`: {w.meaning}" for w in ways) + ".",
    }


def _verdict(work: Working, instr: m.Instr, rest: dict[str, Any]) -> Request:
    facts: list[str] = []
    for symbol, key in _judged_here(work, instr, rest):
        value = work.frame.values.get(symbol.name, {}).get(key)
        if value is not None:
            name = symbol.title or symbol.name.replace("_", " ")
            facts.append(f"{name}{f', {key}' if key else ''}: {shown(value, symbol.unit)}")
        facts.extend(f"limits: {text}" for text in limit_texts(work, symbol))
    if isinstance(instr, m.Ask):
        prompt = f"Not so: {work.text(instr.text)} What now?"
    elif isinstance(instr, m.SetInstr):
        prompt = "It does not read back as set. What now?"
    else:
        prompt = "Out of tolerance. What now?"
    return Request("choice", work.at(instr, "verdict"), prompt, facts=tuple(facts),
                   **_ways(ways_at(work, instr, "verdict")))  # fmt: skip


def _judged_here(work: Working, instr: m.Instr, rest: dict[str, Any]) -> list[tuple[m.Symbol, str]]:
    if isinstance(instr, (m.Read,)):
        return [(instr.symbol, str(rest.get("key", "")))]
    if isinstance(instr, m.ComputeValue):
        from proclang.engine.advance import targets_keys

        return [(symbol, key) for symbol, key in targets_keys(work, instr) if symbol.facets.judged]
    if isinstance(instr, m.SetInstr):
        return [(instr.symbol, "")]
    return []


def _unknown(work: Working, instr: m.Instr, rest: dict[str, Any]) -> Request:
    return Request("choice", work.at(instr, "verdict"), "This cannot be worked out. What now?", facts=(str(rest["why"]),),
                   **_ways(ways_at(work, instr, "unknown")))  # fmt: skip


def _blocked(work: Working, instr: m.Instr, rest: dict[str, Any]) -> Request:
    mend = rest.get("mend", [])
    facts = [str(rest["why"])]
    for state in dict.fromkeys(s for _, s in mend):
        facts.append(f"to put right: {in_words([i for i, s in mend if s == state])} {state}")
    return Request("choice", work.at(instr, "blocked"), "This may not go on as things stand. What now?",
                   facts=tuple(facts), **_ways(ways_at(work, instr, str(rest["phase"]))))  # fmt: skip


def _bound(work: Working, instr: m.EndLoop, rest: dict[str, Any]) -> Request:
    return Request("choice", work.at(instr, "verdict"), f"Not reached in {rest['passes']} passes. What now?",
                   facts=(f"{instr.name.replace('_', ' ')} was to be left when its condition holds",),
                   **_ways(ways_at(work, instr, "bound")))  # fmt: skip


def _reason(work: Working, instr: m.Instr, rest: dict[str, Any]) -> Request:
    return Request("text", work.at(instr, "reason"), "Why can it be accepted?",
                   help="A reason that a reviewer far away will understand.")  # fmt: skip


def _accepted_by(work: Working, instr: m.Instr, rest: dict[str, Any]) -> Request:
    allowed = authorised(work)
    return Request("name", work.at(instr, "accepted_by"), "Who accepts the deviation?", choices=allowed,
                   facts=(f"reason: {rest['reason']}",), help=f"{' or '.join(allowed)} may.")  # fmt: skip


_BY_PHASE: dict[str, Callable[[Working, Any, dict[str, Any]], Request]] = {
    "role": _role,
    "serial": _serial,
    "calibrated": _calibrated,
    "ready": _ready,
    "found": _found,
    "briefing": _briefing,
    "acknowledge": _acknowledge,
    "asks": _asks,
    "done": _step_done,
    "read": _read,
    "confirm": _confirm,
    "choose": _choose,
    "note": _note,
    "photo": _photo,
    "set": _set,
    "read back": _read_back,
    "after power cycle": _read_back,
    "sign": _sign,
    "pick": _pick,
    "verdict": _verdict,
    "unknown": _unknown,
    "blocked": _blocked,
    "left": _blocked,
    "bound": _bound,
    "reason": _reason,
    "accepted by": _accepted_by,
}
