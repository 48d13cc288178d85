"""How a run ended, and what it leaves open: everything a reader should know before trusting the rest."""

from __future__ import annotations

from proclang.engine.model import State
from proclang.engine.working import occurrence
from proclang.log.course import left_stale
from proclang.log.gathered import Gathered, Place
from proclang.log.markdown import Md, code, inline
from proclang.log.model import Fact
from proclang.log.places import NOWHERE
from proclang.program import model as m

_STALE, _FAILED, _HARDWARE, _OVERDUE, _SHORT = 10, 11, 12, 13, 14
_AT_THE_END: Place = (((NOWHERE,),), ())


def outcome(gathered: Gathered) -> tuple[Md, ...]:
    """The outcome, what was met with on the way, and how much a reader has to look at below."""
    state = gathered.state
    deviations = len(gathered.deviations)
    if state.status == "finished":
        said = f"complete, {_count(deviations, 'deviation')}" if deviations else "complete, without deviation"
    elif state.status == "stopped":
        said = f"stopped before its end, {_count(deviations, 'deviation')}"
    else:
        doing = "being made safe after a stop" if state.status == "stopping" else "unfinished"
        said = f"{doing}; the next question is at {code(resting_place(gathered, state))}"
    times = {0: "never", 1: "once"}.get(gathered.failed, f"{gathered.failed} times")
    failed = f"{times} out of tolerance on the way"
    if gathered.struck:
        failed += f", {_count(gathered.struck, 'mistyped reading')} struck"
    left = _count(len(left_open(gathered)), "point")
    notes = _count(len(gathered.notes), "note")
    return (Md(said), Md(failed), Md(f"{left} left open, {notes} beside the questions"))


def resting_place(gathered: Gathered, state: State) -> str:
    """The occurrence of the instruction that a question is asked at."""
    if not state.frames:
        return ""
    frame = state.top
    routine = gathered.program.routine(frame.routine)
    pc = routine.index.get(frame.address)
    return occurrence(frame, routine.code[pc]) if pc is not None else frame.address


def left_open(gathered: Gathered) -> tuple[Fact, ...]:
    """What is left open, the kinds of matters in a fixed order and each kind in that of the procedure."""
    items = list(gathered.open)
    items += _out_of_tolerance(gathered)
    items += _stale(gathered)
    items += _hardware(gathered)
    for name, known in gathered.state.instruments.items():
        if known.get("overdue"):
            fact = Fact(code(name), Md(f"{inline(known.get('title', ''))} {inline(known['overdue'])}"))
            items.append((_OVERDUE, _AT_THE_END, fact))
    if gathered.short:
        named, wanted = (inline(str(number)) for number in gathered.short)
        says = Md(f"on the roster: {named}; it takes at least {wanted}")
        items.append((_SHORT, _AT_THE_END, Fact(code("people"), says)))
    items.sort(key=lambda item: item[:2])
    return tuple(fact for _, _, fact in items)


def _out_of_tolerance(gathered: Gathered) -> list[tuple[int, Place, Fact]]:
    """The last verdict on a value is not a pass, and nobody has accepted that."""
    items = []
    for (_, name, key), (place, judged) in gathered.verdicts.items():
        if judged.stands_open:
            label = f" {code(key)}" if key and key != "spread" else ""
            says = Md(f"{code(name)}{label}; {judged.says}; no deviation accepted")
            items.append((_FAILED, place, Fact(code(judged.at), says)))
    return items


def _stale(gathered: Gathered) -> list[tuple[int, Place, Fact]]:
    upset = list(gathered.stale)
    for frame in gathered.state.frames:
        upset.extend((_AT_THE_END, frame.path, name) for name in left_stale(frame))
    return [
        (_STALE, place, Fact(code(f"{path}/{name}"), Md("upset after it was last read"))) for place, path, name in upset
    ]


def _hardware(gathered: Gathered) -> list[tuple[int, Place, Fact]]:
    """Hardware that is not as the procedure says it leaves it; only once the run is over."""
    state = gathered.state
    if not state.over:
        return []
    items = []
    for item, wanted in _declared_left(gathered).items():
        now = state.hardware.get(item, "in no known state")
        if now != wanted:
            says = Md(f"left {inline(now)}; the procedure leaves it {inline(wanted)}")
            items.append((_HARDWARE, _AT_THE_END, Fact(code(item), says)))
    return items


def _declared_left(gathered: Gathered) -> dict[str, str]:
    wanted: dict[str, str] = {}
    for item in (x for machine in gathered.program.machines.values() for x in machine.items.values()):
        if item.kind == m.COUNTED:
            keys = m.ItemPlace("", item.name, item.labels).keys()
            wanted.update((key, m.BACK) for key in keys if key in gathered.state.hardware)
    for line in gathered.program.main.hardware:
        if line.left is not None:
            wanted.update(dict.fromkeys(line.place.keys(), line.left))
    return wanted


def hardware_lines(gathered: Gathered) -> tuple[Md, ...]:
    """Each item as it was found and as it was left, in the order of the machine file."""
    state = gathered.state
    order: dict[str, None] = {}
    for machine in gathered.program.machines.values():
        for item in machine.items.values():
            order.update(dict.fromkeys([f"{item.name}[{label}]" for label in item.labels] or [item.name]))
    known = [key for key in order if key in state.hardware]
    known += sorted(key for key in state.hardware if key not in order)
    word = "left" if state.over else "now"
    lines = []
    for key in known:
        found = f"found {inline(gathered.found[key])}" if key in gathered.found else "not looked at when found"
        lines.append(Md(f"{code(key)}: {found}, {word} {inline(state.hardware[key])}"))
    return tuple(lines)


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"
