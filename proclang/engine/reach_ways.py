"""Where the ways part and loops turn. See `advance` for what a handler returns.

A condition that is not known is no condition that fails: the run rests there, and somebody with the authority chooses.
"""

from __future__ import annotations

from proclang.engine.reach_values import unknown
from proclang.engine.working import Working
from proclang.program import model as m

YES, NO = "yes", "no"


def arms(work: Working, instr: m.Arms, pc: int) -> int | None:
    """`according to`."""
    try:
        label = str(instr.subject.evaluate(work))
    except m.NotKnown as reason:
        return unknown(work, instr, str(reason))
    if label not in instr.targets:
        return unknown(work, instr, f"`{instr.name}` is `{label}`, for which nothing is said")
    return take_way(work, instr, pc, label)


def branch(work: Working, instr: m.Branch | m.Leave, pc: int) -> int | None:
    """`when`, and `leave when`."""
    try:
        holds = bool(instr.condition.evaluate(work))
    except m.NotKnown as reason:
        return unknown(work, instr, str(reason))
    return take_way(work, instr, pc, YES if holds else NO)


leave = branch


def ways_of(instr: m.Instr) -> tuple[str, ...]:
    """The ways that part here."""
    return tuple(instr.targets) if isinstance(instr, m.Arms) else (YES, NO)


def take_way(work: Working, instr: m.Arms | m.Branch | m.Leave, pc: int, took: str, *, chosen: bool = False) -> int:
    """Go one of the ways; `chosen` by somebody, as the condition was not known."""
    by = True if chosen else None
    if isinstance(instr, m.Arms):
        work.emit("branch", at=work.at(instr), took=took, chosen=by)
        return instr.targets[took]
    if isinstance(instr, m.Branch):
        if not instr.silent:
            work.emit("branch", at=work.at(instr), took=took, condition=instr.condition.text, chosen=by)
        return pc + 1 if took == YES else instr.otherwise
    if took == NO:
        return pc + 1
    passes = turn(work, instr.loop)
    work.emit("loop end", loop=instr.loop, at=work.at(instr), why=instr.condition.text, passes=passes, chosen=by)
    return instr.out


def turn(work: Working, loop: str) -> int:
    """In which pass a `repeat` is."""
    return next(value for name, value in reversed(work.frame.loops) if name == loop and isinstance(value, int))


def jump(work: Working, instr: m.Jump, pc: int) -> int:
    """Go on elsewhere."""
    return instr.target


def begin_loop(work: Working, instr: m.BeginLoop, pc: int) -> int:
    """The first pass of a `repeat`."""
    work.emit("pass", loop=instr.name, n=1, of=instr.bound)
    return pc + 1


def end_loop(work: Working, instr: m.EndLoop, pc: int) -> int | None:
    """Round again, or out at the bound: to `otherwise`, or to a question where the author said nothing."""
    n = turn(work, instr.name)
    if n < instr.bound:
        work.emit("pass", loop=instr.name, n=n + 1, of=instr.bound)
        return instr.begin + 1
    if instr.unfinished:
        work.rest(instr, "bound", passes=n)
        return None
    work.emit("loop end", loop=instr.name, at=work.at(instr), why="bound", passes=n)
    return instr.exhausted


def begin_each(work: Working, instr: m.BeginEach, pc: int) -> int:
    """`for each`: the first label."""
    work.emit("label", each=instr.variable, label=instr.labels[0], first=True)
    return pc + 1


def end_each(work: Working, instr: m.EndEach, pc: int) -> int:
    """The next label, or out."""
    place = instr.labels.index(work.label(instr.variable)) + 1
    if place < len(instr.labels):
        work.emit("label", each=instr.variable, label=instr.labels[place], first=False)
        return instr.begin
    work.emit("loop end", loop=instr.variable, at=work.at(instr), why="all", passes=place)
    return pc + 1


def order_done(work: Working, instr: m.OrderDone, pc: int) -> int:
    """One step of a group is done."""
    work.emit("order done", order=work.routine.code[instr.back].address, step=instr.step)
    return instr.back


def left_of_group(work: Working, instr: m.AnyOrderInstr) -> list[tuple[str, str, int]]:
    """The steps still to do: name, title, and where each begins."""
    done = work.frame.orders.get(instr.address, [])
    return [step for step in instr.steps if step[0] not in done]


def any_order(work: Working, instr: m.AnyOrderInstr, pc: int) -> int | None:
    """Which step of a group is next; the last one left is not asked for."""
    left = left_of_group(work, instr)
    if not left:
        if instr.address in work.frame.orders:
            work.emit("order over", order=instr.address)
        return instr.out
    if len(left) > 1:
        work.rest(instr, "pick")
        return None
    name, _, target = left[0]
    work.emit("picked", at=work.at(instr), order=instr.address, step=name)
    return target
