"""The ways through a procedure: from each instruction to those that may follow it."""

from __future__ import annotations

from proclang.program import model as m


def successors(code: tuple[m.Instr, ...], pc: int) -> tuple[int, ...]:
    """Where a procedure may go on from an instruction, stops apart."""
    instr = code[pc]
    if isinstance(instr, (m.Return, m.EndStopped)):
        return ()
    if isinstance(instr, m.Jump):
        return (instr.target,)
    if isinstance(instr, m.Arms):
        return tuple(dict.fromkeys(instr.targets.values()))
    if isinstance(instr, m.Branch):
        return (pc + 1, instr.otherwise)
    if isinstance(instr, m.EndLoop):
        return (instr.begin + 1, instr.exhausted)
    if isinstance(instr, m.Leave):
        return (pc + 1, instr.out)
    if isinstance(instr, m.EndEach):
        return (instr.begin, pc + 1)
    if isinstance(instr, m.AnyOrderInstr):
        return (*(begin for _, _, begin in instr.steps), instr.out)
    if isinstance(instr, m.OrderDone):
        return (instr.back,)
    return (pc + 1,)
