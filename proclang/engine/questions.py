"""The questions answered in words: people, things at hand, hazards, steps, what was seen, signatures. One phase each;
see `request`."""

from __future__ import annotations

from typing import Any

import attrs

from proclang.engine.model import Callout, Request
from proclang.engine.reach_ways import left_of_group
from proclang.engine.roster import TWO_PEOPLE, hazards_now, not_witness, wanted
from proclang.engine.wording import spoken
from proclang.engine.working import Working
from proclang.program import model as m

Rest = dict[str, Any]


def person_text(work: Working, role: str) -> str:
    """A role and who holds it."""
    name = work.state.people.get(role)
    return f"{name} ({spoken(role)})" if name else spoken(role)


def callout(work: Working, hazard: m.HazardInfo) -> Callout:
    """A hazard as it is shown."""
    return Callout(
        hazard.word,
        work.text(hazard.title),
        work.text(hazard.risk) if hazard.risk is not None else "",
        work.text(hazard.avoid) if hazard.avoid is not None else "",
    )


# ---------------------------------------------------------------------------- before the first section


def role(work: Working, instr: m.AskRole, rest: Rest) -> Request:
    """Who holds a role."""
    return Request(
        "text",
        work.at(instr),
        f"Who is the {spoken(instr.role)}?",
        facts=_others_than(work, instr.role),
        help="One person's name. The same person may hold several roles.",
    )


def _others_than(work: Working, role: str) -> tuple[str, ...]:
    """How many people it takes, at the first role; and which roles named already somebody else has to hold."""
    if work.state.rules < TWO_PEOPLE:
        return ()
    wanted, people = work.program.fewest.number, work.state.people
    facts = [f"it takes at least {wanted} people on site"] if not people and wanted > 1 else []
    apart = (two for two in work.program.pairs if two.strict and role in two.pair)
    others = dict.fromkeys(two.other if two.one == role else two.one for two in apart)
    facts += [f"somebody else than {people[other]}, the {spoken(other)}" for other in others if other in people]
    return tuple(facts)


def serial(work: Working, instr: m.AskInstrument, rest: Rest) -> Request:
    """Which instrument is in hand."""
    return Request(
        "text",
        work.at(instr),
        f"Serial number of the {instr.instrument.title}?",
        facts=instr.instrument.said,
        help="As engraved on the instrument in hand.",
    )


def calibrated(work: Working, instr: m.AskInstrument, rest: Rest) -> Request:
    """When it was calibrated."""
    return Request(
        "text",
        work.at(instr, "calibrated"),
        f"Date of the last calibration of {rest['serial']}?",
        facts=instr.instrument.said,
        help="As on its label or certificate, such as 2031-04-17.",
    )


def ready(work: Working, instr: m.AskReady, rest: Rest) -> Request:
    """Whether everything is at hand."""
    return Request(
        "word",
        work.at(instr),
        f"Are all {instr.kind} at hand?",
        facts=wanted(work, instr),
        choices=("ready",),
        help="Type `ready` when everything listed lies here.",
    )


def found(work: Working, instr: m.AskFound, rest: Rest) -> Request:
    """In which state an item is found, or all of a set."""
    alone = len(instr.keys) == 1
    return Request(
        "choice",
        work.at(instr),
        f"How is {'the' if alone else 'each'} {instr.title} found?",
        choices=instr.states,
        facts=(
            *(() if alone else (f"one answer for all {len(instr.keys)}",)),
            f"the procedure begins with {'it' if alone else 'them'} {spoken(instr.expected)}",
        ),
        help="Go and look; type the state it is in.",
    )


# ---------------------------------------------------------------------------- hazards, steps


def briefing(work: Working, instr: m.EnterSection, rest: Rest) -> Request:
    """Who has been briefed on the hazards of a section."""
    return Request(
        "names",
        work.at(instr, "briefing"),
        "Who has been briefed?",
        hazards=tuple(callout(work, h) for h in instr.hazards),
        choices=tuple(dict.fromkeys(work.state.people.values())),
        help="Read the hazards aloud. Everyone on the roster signs: names or initials, with commas.",
    )


def joining(work: Working, instr: m.Instr, rest: Rest) -> Request:
    """Whether somebody who joins has been briefed, on the hazards of every section that is open."""
    frames = work.state.frames
    hazards = []
    for frame, hazard in hazards_now(work):
        outer = attrs.evolve(work.state, frames=frames[: frames.index(frame) + 1])
        hazards.append(callout(Working(work.program, outer), hazard))
    return Request(
        "names",
        work.at(instr, "briefing"),
        f"Has {rest['name']} been briefed?",
        hazards=tuple(hazards),
        choices=(str(rest["name"]),),
        help="Read the hazards aloud to whoever joins, who then signs: name or initials.",
    )


def acknowledge(work: Working, instr: m.Acknowledge, rest: Rest) -> Request:
    """Who takes note of a hazard."""
    return Request(
        "name",
        work.at(instr),
        "Who takes note of this?",
        hazards=(callout(work, instr.hazard),),
        people=" and ".join(person_text(work, r) for r in instr.people),
        help="Name or initials of the one who does the next step.",
    )


def asks(work: Working, instr: m.Acknowledge, rest: Rest) -> Request:
    """A fact from the site that a DANGER is answered with."""
    asked = instr.hazard.asks[int(rest["n"])]
    return Request(
        "quantity" if asked.unit is not None else "text",
        work.at(instr, asked.name),
        work.text(asked.text),
        hazards=(callout(work, instr.hazard),),
        unit=asked.unit.symbol if asked.unit is not None else "",
        help="Answer with what is so at the site now, not from memory.",
    )


def done(work: Working, instr: m.BeginStep, rest: Rest) -> Request:
    """Whether a step has been carried out."""
    return Request(
        "word", work.at(instr), "Done?", choices=("done",), help="Type `done` when the step has been carried out."
    )


def pause(work: Working, instr: m.Instr, rest: Rest) -> Request:
    """A long calculation is broken here."""
    return Request(
        "word",
        work.at(instr, "pause"),
        "Much has been worked out; there is more. Go on?",
        choices=("on",),
        help="Type `on` to go on.",
    )


# ---------------------------------------------------------------------------- what was seen


def confirm(work: Working, instr: m.Ask, rest: Rest) -> Request:
    """Whether something is so."""
    return Request(
        "choice",
        work.at(instr),
        work.text(instr.text),
        choices=("yes", "no"),
        people=" and ".join(person_text(work, r) for r in instr.people),
        help="`yes` if it is so. `no` leads to what can be done about it.",
    )


def choose(work: Working, instr: m.Ask, rest: Rest) -> Request:
    """One of a few words."""
    assert isinstance(instr.symbol.type, m.Choice)
    return Request(
        "choice",
        work.at(instr),
        work.text(instr.text),
        choices=instr.symbol.type.options,
        help="One of the words, its first letters, or its number.",
    )


def note(work: Working, instr: m.Ask, rest: Rest) -> Request:
    """A note the procedure asks for."""
    return Request("text", work.at(instr), work.text(instr.text), help="A sentence of your own.")


def photo(work: Working, instr: m.Ask, rest: Rest) -> Request:
    """A photo the procedure asks for."""
    return Request(
        "text", work.at(instr), f"Photo: {work.text(instr.text)}", help="The name or number the camera gave it."
    )


# ---------------------------------------------------------------------------- signatures and order


def sign(work: Working, instr: m.Sign, rest: Rest) -> Request:
    """One signature of a hold or a witness point."""
    n = int(rest["n"])
    role = (*instr.people, *instr.witness)[n]
    witness = n >= len(instr.people)
    word = "Witnessed by" if witness or instr.kind == "witness" else "Released by"
    head = "witness point" if instr.kind == "witness" else "hold point"
    people, help_ = person_text(work, role), "Nothing goes on before. Name or initials of that person."
    barred = not_witness(work, instr)
    if (witness or instr.kind == "witness") and work.state.people.get(role) in barred:
        others = [name for name in dict.fromkeys(work.state.people.values()) if name not in barred]
        people = " or ".join(others) or "somebody else who has seen it"
        did = "signed" if instr.kind == "hold" else "done"
        help_ = f"{work.state.people[role]} has {did} it: a witness is somebody else."
    return Request(
        "name",
        work.at(instr, role),
        f"{word} the {spoken(role)}",
        people=people,
        facts=(f"{head}: {work.text(instr.text)}",),
        help=help_,
    )


def pick(work: Working, instr: m.AnyOrderInstr, rest: Rest) -> Request:
    """Which step of a group is next."""
    left = left_of_group(work, instr)
    return Request(
        "choice",
        work.at(instr),
        "Which next?",
        choices=tuple(name for name, _, _ in left),
        facts=tuple(f"{name}: {title}" for name, title, _ in left),
        help="These may be done in any order; all of them are.",
    )
