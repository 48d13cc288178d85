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
    parts: dict[str, str] = {}
    for routine in routines.values():
        roles.update(dict.fromkeys(routine.crew))
        for name, instrument in routine.instruments.items():
            instruments.setdefault(name, instrument)
        tools.update(dict(routine.tools))
        parts.update({name: f"{count} x {title}" for name, title, count in routine.parts})
    code.extend(m.AskRole(role=role, **at("crew", role)) for role in roles)
    code.extend(m.AskInstrument(instrument=x, **at("instrument", x.name)) for x in instruments.values())
    if tools:
        code.append(m.AskReady(kind="tools", things=tuple(tools.values()), **at("tools")))
    if parts:
        code.append(m.AskReady(kind="parts", things=tuple(parts.values()), **at("parts")))
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
    said = set().union(*(line.place.keys() for line in main.hardware if line.found is not None))
    for machine in {r.machine.name: r.machine for r in routines.values() if r.machine is not None}.values():
        for item in machine.items.values():
            every = m.ItemPlace(machine.name, item.name, item.labels).keys()
            keys = tuple(key for key in every if key not in said)
            if item.kind == m.COUNTED and keys:
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
