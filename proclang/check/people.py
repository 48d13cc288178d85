"""Who is needed and who may be who: roles that are used, people enough, witnesses who only watched, and authority.

A role is one person throughout a run, whichever procedure names it, and one person may hold several. What has to be two
people, `proclang/program/staffing.py` says. Findings are about each procedure with all it performs, so that they are
the same whichever procedure a check begins with.

Codes: `own-witness`, `too-few-people` (errors), `people-without-role`, `signaller-not-apart`, `unused-role`,
`role-not-named`, `hold-without-authority`, `unused-authority`, `nobody-confirms` (warnings).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from proclang.program import model as m
from proclang.program.fewest import too_many_for
from proclang.program.staffing import done_before, pairs_of
from proclang.program.whole import can_fail, reached_routines
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Diagnostic, Label, Severity

SIGNALLER = "signaller"
OTHER_HANDS = ("rigger", "scribe")
"""Roles the signaller of a lift does not hold: their hands and eyes are elsewhere. Common practice; see the page of the
finding for how far it has a source."""


def find_people_faults(program: m.Program, trees: Mapping[str, n.File]) -> list[Diagnostic]:
    """Findings about every procedure of a program; each has a tree."""
    found: list[Diagnostic] = []
    for name, routine in program.routines.items():
        tree = trees[name]
        found += _enough(program, routine, tree)
        found += _watching(routine)
        found += _signaller(routine, tree)
        found += _roles(program, routine, tree)
        found += _authority(routine, tree)
        found += _confirmed_by_nobody(tree)
    return found


def _warn(code: str, message: str, node: n.Node, hint: str, also: tuple[Label, ...] = ()) -> Diagnostic:
    return Diagnostic(code, message, node.span, hint=hint, also=also, severity=Severity.WARNING)


# ---------------------------------------------------------------------------- enough people


def _enough(program: m.Program, routine: m.Routine, tree: n.File) -> Iterator[Diagnostic]:
    """Where the author says how many people there are to be: whether so many are enough."""
    said = next((crew.fewest for crew in tree.every(n.Crew) if crew.fewest is not None), None)
    if said is None or not routine.fewest:
        return
    reached = [program.routines[name] for name in reached_routines(routine.name, program.routines)]
    roles = tuple(dict.fromkeys(role for each in reached for role in each.crew))
    places: dict[frozenset[str], m.TwoPeople] = {}
    for two in pairs_of(reached):
        places.setdefault(two.pair, two)
    contradiction = too_many_for(roles, tuple(places), routine.fewest)
    if contradiction:
        many = "1 person is" if routine.fewest == 1 else f"{routine.fewest} people are"
        among = {role: None for role in roles if any(role in pair for pair in contradiction)}
        yield Diagnostic(
            "too-few-people",
            f"{many} too few for {_listed(among)}",
            said.span,
            hint="ask for more people, or let one person do what takes two",
            also=tuple(Label(places[pair].span, _two_because(places[pair])) for pair in contradiction),
        )
    elif routine.fewest > len(roles):
        yield _warn(
            "people-without-role",
            f"{routine.fewest} people, and there are roles for {len(roles)}",
            said,
            "name a role for each of them; nobody else is put on the roster",
        )


def _listed(names: Mapping[str, None]) -> str:
    quoted = [f"`{name}`" for name in names]
    return ", ".join(quoted[:-1]) + f" and {quoted[-1]}" if len(quoted) > 1 else quoted[0]


def _two_because(two: m.TwoPeople) -> str:
    one, other = f"`{two.one}`", f"`{two.other}`"
    if two.why == "witness":
        return f"{one} witnesses {other} here"
    return f"{one} and {other} are two people here"


# ---------------------------------------------------------------------------- witnesses, and the signaller


def _watching(routine: m.Routine) -> Iterator[Diagnostic]:
    """A witness point witnessed by who does the step before it."""
    for pc, doers in done_before(routine).items():
        instr = routine.code[pc]
        assert isinstance(instr, m.Sign)
        for role in instr.people:
            if role in doers:
                step = f"`{role}` does the step that is witnessed here"
                hint = "let another role witness it"
                yield Diagnostic("own-witness", step, instr.span, hint=hint)


def _signaller(routine: m.Routine, tree: n.File) -> Iterator[Diagnostic]:
    apart = {frozenset((one, other)) for one, other, _ in routine.apart}
    for crew in tree.every(n.Crew):
        for role in crew.roles:
            if role.text != SIGNALLER:
                continue
            for other in OTHER_HANDS:
                if other in routine.crew and frozenset((SIGNALLER, other)) not in apart:
                    yield _warn(
                        "signaller-not-apart",
                        f"nothing keeps one person from being {SIGNALLER} and {other}",
                        role,
                        f"add `nobody is both {SIGNALLER} and {other}` under `needs`",
                    )


# ---------------------------------------------------------------------------- roles


def _roles(program: m.Program, routine: m.Routine, tree: n.File) -> Iterator[Diagnostic]:
    used = {role for instr in routine.code for role in (*_people(instr), *getattr(instr, "witness", ()))}
    inside = {call.routine: None for call in routine.code if isinstance(call, m.Call) if call.routine != routine.name}
    for perform in tree.every(n.Perform):
        if perform.procedure.text not in inside:
            continue
        needed = program.routines[perform.procedure.text].crew
        used.update(needed)
        missing = dict.fromkeys(role for role in needed if role not in routine.crew)
        if missing:
            yield _warn(
                "role-not-named",
                f"`{perform.procedure}` needs {_listed(missing)}, and the crew here does not say so",
                perform.procedure,
                f"add {_listed(missing)} to the line `crew`",
            )
    if _accepting(routine):
        used.update(routine.authority)
    for crew in tree.every(n.Crew):
        for role in crew.roles:
            if role.text not in used:
                yield _warn(
                    "unused-role",
                    f"nothing is done, confirmed or signed by `{role}`",
                    role,
                    f"say which step is done `by {role}`, or delete it",
                )


def _people(instr: m.Instr) -> tuple[str, ...]:
    return instr.people if isinstance(instr, (m.BeginStep, m.Ask, m.Sign)) else ()


def _authority(routine: m.Routine, tree: n.File) -> Iterator[Diagnostic]:
    holds = [instr for instr in routine.code if isinstance(instr, m.Sign) and instr.kind == "hold"]
    for hold in holds:
        if not set(hold.people) & set(routine.authority):
            yield Diagnostic(
                "hold-without-authority",
                f"`{hold.name}` is released by nobody who has authority",
                hold.span,
                hint="let a role with authority release it too, or name one of these in the line `authority`",
                severity=Severity.WARNING,
            )
    releasing = {role for hold in holds for role in hold.people}
    accepting = _accepting(routine)
    for line in tree.every(n.Authority):
        for role in line.roles:
            if not accepting and role.text not in releasing:
                yield _warn(
                    "unused-authority",
                    f"`{role}` has authority, and nothing here can be accepted or released",
                    role,
                    "delete it, or let a hold point be released by this role",
                )


def _accepting(routine: m.Routine) -> bool:
    """Whether something here, or in what is performed from here, may have to be accepted by somebody with authority."""
    return any(isinstance(instr, m.Call) or can_fail(instr) for instr in routine.code)


def _confirmed_by_nobody(tree: n.File) -> Iterator[Diagnostic]:
    """What nobody may accept otherwise is confirmed by somebody who has a name: in its own line, or in its step's."""
    named = {id(confirm) for step in tree.every(n.Step) if step.people for confirm in _inside(step)}
    for confirm in tree.every(n.Confirm):
        if confirm.no_deviation and not confirm.people and id(confirm) not in named:
            yield _warn(
                "nobody-confirms",
                f"`{confirm.name}` has to be so, and nothing says who confirms it",
                confirm.name,
                "add `by` and a role, before the comma",
            )


def _inside(step: n.Step) -> Iterator[n.Node]:
    return (node for statement in step.body for node in statement.walk_holders() if isinstance(node, n.Confirm))
