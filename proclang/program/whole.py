"""The program as a whole: what the site has to give, how many steps it comes to, who may accept a deviation."""

from __future__ import annotations

from collections.abc import Mapping
from math import prod

from proclang.program import model as m
from proclang.program.opening import opening_routine
from proclang.program.staffing import fewest_of, pairs_of
from proclang.text import limits
from proclang.text.diagnostic import Diagnostic, Label, Severity


def whole_program(
    entry: str,
    routines: Mapping[str, m.Routine],
    machines: Mapping[str, m.Machine],
    findings: list[Diagnostic],
    *,
    authority_unsure: bool = False,
) -> m.Program:
    """The procedure `entry` with all it performs; what is wrong with the whole goes to `findings`.

    `authority_unsure`: a damaged line may have said who has authority, or that nobody has.
    """
    reached = reached_routines(entry, routines)
    kept = {name: routines[name] for name in reached}
    _bound_steps(entry, kept, findings)
    if not authority_unsure:
        _check_authority(entry, kept, findings)
    facts = _site_facts(entry, kept, findings)
    hemisphere = any(_asks_hemisphere(instr) for routine in kept.values() for instr in routine.code)
    opening = opening_routine(entry, kept)
    pairs = pairs_of(kept.values())
    fewest = fewest_of(opening.crew, pairs, opening.fewest)
    return m.Program(entry, kept, facts, hemisphere, opening, dict(machines), pairs, fewest)


def reached_routines(entry: str, routines: Mapping[str, m.Routine]) -> tuple[str, ...]:
    """Procedures in the order in which they are first performed."""
    order: dict[str, None] = {}
    stack = [entry]
    while stack:
        name = stack.pop()
        if name in order or name not in routines:
            continue
        order[name] = None
        stack.extend(reversed([i.routine for i in routines[name].code if isinstance(i, m.Call)]))
    return tuple(order)


def _site_facts(entry: str, routines: Mapping[str, m.Routine], findings: list[Diagnostic]) -> dict[str, m.Symbol]:
    """Inputs that some call leaves open: one name is one fact of the site, whoever asks for it."""
    open_inputs: dict[str, set[str]] = {entry: {s.name for s in routines[entry].inputs}}
    for routine in routines.values():
        for instr in routine.code:
            if isinstance(instr, m.Call) and instr.routine in routines:
                bound = {symbol.name for symbol, _ in instr.arguments}
                left = {s.name for s in routines[instr.routine].inputs} - bound
                open_inputs.setdefault(instr.routine, set()).update(left)
    facts: dict[str, m.Symbol] = {}
    for name, routine in routines.items():
        for symbol in routine.inputs:
            if symbol.name not in open_inputs.get(name, set()):
                continue
            earlier = facts.get(symbol.name)
            if earlier is not None and earlier.type != symbol.type:
                findings.append(
                    Diagnostic(
                        "other-kind",
                        f"the site fact `{symbol.name}` is {symbol.type.describe()} here "
                        f"and {earlier.type.describe()} elsewhere",
                        symbol.span,
                        hint="give one of them another name, or hand it over with `with`",
                        also=(Label(earlier.span, "elsewhere"),),
                    )
                )
            elif earlier is None or (earlier.default is not None and symbol.default is None):
                facts[symbol.name] = symbol  # where one of several has no default, the site has to say
    return facts


def _asks_hemisphere(instr: m.Instr) -> bool:
    formulas: list[m.Formula] = []
    if isinstance(instr, (m.Branch, m.Leave)):
        formulas.append(instr.condition)
    elif isinstance(instr, m.Arms):
        formulas.append(instr.subject)
    elif isinstance(instr, m.Call):
        formulas.extend(formula for _, formula in instr.arguments)
    for template in texts_of(instr):
        formulas.extend(piece.formula for piece in template.pieces if isinstance(piece, m.Insert))
    return any("hemisphere" in formula.names for formula in formulas)


def texts_of(instr: m.Instr) -> tuple[m.Template, ...]:
    """The quoted texts of an instruction."""
    if isinstance(instr, m.BeginStep):
        return (instr.title, *instr.prose, *(caption for _, caption in instr.figures))
    if isinstance(instr, (m.EnterSection, m.SetInstr)):
        return (instr.title,)
    if isinstance(instr, (m.Ask, m.Sign)):
        return (instr.text,)
    if isinstance(instr, m.Acknowledge):
        hazard = instr.hazard
        parts = (hazard.title, hazard.risk, hazard.avoid, *(asked.text for asked in hazard.asks))
        return tuple(part for part in parts if part is not None)
    return ()


def _acceptable(symbol: m.Symbol) -> bool:
    return symbol.facets.judged and not symbol.facets.no_deviation


def can_fail(instr: m.Instr) -> bool:
    """Whether an instruction can end out of tolerance, so that somebody must be able to accept it."""
    if isinstance(instr, m.Read):
        return _acceptable(instr.symbol) and not instr.handled
    if isinstance(instr, m.ComputeValue):
        return not instr.handled and any(_acceptable(symbol) for symbol, _, _ in instr.targets)
    if isinstance(instr, m.Ask):
        return instr.kind == "confirm" and not instr.symbol.facets.no_deviation
    if isinstance(instr, m.SetInstr):
        return instr.read_back and not instr.symbol.facets.no_deviation
    return isinstance(instr, m.EndLoop) and instr.unfinished


def _check_authority(entry: str, routines: Mapping[str, m.Routine], findings: list[Diagnostic]) -> None:
    if any(routine.authority for routine in routines.values()):
        return
    first = next((i for i in routines[entry].code if can_fail(i)), None)
    if first is None:
        return
    findings.append(
        Diagnostic(
            "no-authority",
            "this can end out of tolerance, and no role may accept a deviation",
            first.span,
            hint="add a line such as `authority lead` under `needs`",
            severity=Severity.WARNING,
        )
    )


def _bound_steps(entry: str, routines: Mapping[str, m.Routine], findings: list[Diagnostic]) -> None:
    """Refuse a procedure that would come to too much, without writing it out."""
    totals: dict[str, tuple[int, int]] = {}

    def total(name: str) -> tuple[int, int]:
        """Steps and readings of a procedure; and all else it does, none of which asks anything by itself."""
        if name not in totals:
            totals[name] = (0, 0)  # a circle has been refused already
            steps, rest, factors = 0, 0, [1]
            for instr in routines[name].code:
                if isinstance(instr, (m.EndLoop, m.EndEach)):
                    factors.pop()
                elif isinstance(instr, (m.BeginStep, m.Read)):
                    steps += factors[-1]
                elif isinstance(instr, m.Call) and instr.routine in routines:
                    inside = total(instr.routine)
                    steps += factors[-1] * (inside[0] + 1)
                    rest += factors[-1] * inside[1]
                else:
                    if isinstance(instr, m.BeginLoop):
                        factors.append(factors[-1] * instr.bound)
                    elif isinstance(instr, m.BeginEach):
                        factors.append(factors[-1] * max(1, len(instr.labels)))
                    rest += factors[-1] * _results(instr)
            totals[name] = (steps, rest)
        return totals[name]

    steps, rest = total(entry)

    def say(code: str, count: int, what: str, most: int) -> None:
        message = f"with every loop run to its bound this comes to {_about(count)} {what}, more than {most:,}"
        at = routines[entry].code[0].span
        findings.append(Diagnostic(code, message, at, hint="lower the bounds of its loops"))

    if steps > limits.STEPS_EXPANDED:
        say("too-many-steps", steps, "steps and readings", limits.STEPS_EXPANDED)
    elif rest > limits.INSTRUCTIONS_EXPANDED:
        say("too-many-passes", rest, "passes, calculations and decisions", limits.INSTRUCTIONS_EXPANDED)


def _results(instr: m.Instr) -> int:
    """How many values an instruction leaves; one for all that leave none."""
    if not isinstance(instr, m.ComputeValue):
        return 1
    counts = (
        prod(map(len, symbol.type.axes)) if isinstance(symbol.type, m.Amount) and not labels else 1
        for symbol, labels, _ in instr.targets
    )
    return max(1, sum(counts))


def _about(count: int) -> str:
    return f"{count:,}" if count < 10**12 else "more than a million million"
