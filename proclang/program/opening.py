"""What is asked before the first section of a run, as instructions like any other."""

from __future__ import annotations

from typing import Any

from proclang.program import model as m


def opening_routine(entry: str, routines: dict[str, m.Routine]) -> m.Routine:
    """Who is here, which instruments, tools and parts are at hand, how the hardware is found; then the procedure."""
    main = routines[entry]
    where = main.code[0].span
    code: list[m.Instr] = []

    def at(*names: str) -> dict[str, Any]:
        path = "/".join(("opening", *names))
        return {"address": path, "identity": path, "span": where}

    roles: dict[str, None] = {}
    instruments: dict[str, m.Instrument] = {}
    tools: dict[str, str] = {}
    last: dict[str, str] = {}
    most: dict[str, tuple[int, str]] = {}
    for routine in routines.values():
        roles.update(dict.fromkeys(routine.crew))
        for name, instrument in routine.instruments.items():
            instruments.setdefault(name, instrument)
        tools.update(dict(routine.tools))
        for name, title, count in routine.parts:
            last[name] = f"{count} x {title}"
            if name not in most or _pieces(count) > most[name][0]:
                most[name] = (_pieces(count), last[name])
    code.extend(m.AskRole(role=role, **at("crew", role)) for role in roles)
    code.extend(m.AskInstrument(instrument=x, **at("instrument", x.name)) for x in instruments.values())
    if tools:
        listed = tuple(tools.values())
        code.append(m.AskReady(kind="tools", things=listed, most=listed, **at("tools")))
    if last:
        wanted = tuple(said for _, said in most.values())
        code.append(m.AskReady(kind="parts", things=tuple(last.values()), most=wanted, **at("parts")))
    for line in main.hardware:
        if line.found is None or main.machine is None:
            continue
        item = main.machine.items[line.place.item]
        title = (
            item.title if line.place.whole or not line.place.labels else f"{item.title} {', '.join(line.place.labels)}"
        )
        code.append(
            m.AskFound(
                keys=line.place.keys(),
                title=title,
                states=item.states,
                expected=line.found,
                counted=item.kind == m.COUNTED and line.found == m.BACK,
                **at("found", line.place.text),
            )
        )
    touched = {
        instr.place.item
        for routine in routines.values()
        for instr in routine.code
        if isinstance(instr, (m.NowInstr, m.RequireInstr))
    }
    said = set().union(*(line.place.keys() for line in main.hardware if line.found is not None))
    for machine in {r.machine.name: r.machine for r in routines.values() if r.machine is not None}.values():
        for item in machine.items.values():
            every = m.ItemPlace(machine.name, item.name, item.labels).keys()
            keys = tuple(key for key in every if key not in said)
            if item.kind == m.COUNTED and keys and _matters(item.name, machine, touched):
                found = m.AskFound(
                    keys=keys,
                    title=item.title,
                    states=item.states,
                    expected=m.BACK,
                    counted=True,
                    **at("found", item.name),
                )
                code.append(found)
    code.append(m.Call(routine=entry, name=entry, arguments=(), gives=(), **at(entry)))
    code.append(m.Return(**at(".return")))
    return m.Routine(
        name="",
        title="Before the first section",
        revision="",
        former=None,
        purpose=(),
        inputs=(),
        symbols={},
        label_sets={},
        tables={},
        instruments=instruments,
        tools=tuple(tools.items()),
        parts=(),
        crew=tuple(roles),
        fewest=max(routine.fewest for routine in routines.values()),
        apart=(),
        authority=tuple(dict.fromkeys(r for routine in routines.values() for r in routine.authority)),
        machine=None,
        hardware=(),
        gives=(),
        code=tuple(code),
        index={instr.address: pc for pc, instr in enumerate(code)},
    )


def _pieces(count: str) -> int:
    """How many of a part are needed; one that is no whole number has been complained about."""
    return int(count) if count.isascii() and count.isdigit() else 0


def _matters(item: str, machine: m.Machine, touched: set[str]) -> bool:
    """Whether a step changes or requires an item, or one that depends on it."""
    return item in touched or any(
        lock.place.item in touched and any(condition.place.item == item for condition in lock.conditions)
        for lock in machine.interlocks
    )
