"""Answers given in words: names, states, that something is done, and what was seen. See `answers`."""

from __future__ import annotations

import datetime

from proclang.engine.people import find_people, find_person, read_name
from proclang.engine.reach_ways import left_of_group
from proclang.engine.roster import hazards_now, known_name, not_both, not_witness, put_on, wanted
from proclang.engine.typed import NOTHING_SAID, due, read_choice, read_date, read_done, read_words
from proclang.engine.wording import spoken
from proclang.engine.working import Working
from proclang.program import model as m
from proclang.text.diagnostic import Problem
from proclang.values.reader import read_quantity
from proclang.values.show import exact_text

Answered = int | Problem | None

# ---------------------------------------------------------------------------- before the first section


def role(work: Working, instr: m.AskRole, pc: int, text: str) -> Answered:
    """One person's name; one already on the roster is known in any spelling of its capitals."""
    name = known_name(work.state, text)
    if isinstance(name, Problem):
        return name
    problem = not_both(work, instr.role, name)
    if problem is not None:
        return problem
    put_on(work, instr.role, name)
    return pc + 1


def serial(work: Working, instr: m.AskInstrument, pc: int, text: str) -> Answered:
    """Which instrument is in hand."""
    number = read_words(text, "the serial number")
    if isinstance(number, Problem):
        return number
    if instr.instrument.calibrated_within is not None:
        work.rest(instr, "calibrated", serial=number)
        return None
    work.emit("instrument", name=instr.instrument.name, title=instr.instrument.title, serial=number)
    return pc + 1


_FIRST_DAY = datetime.date(2026, 1, 1)
"""No run was made before this program was: a clock that says so is wrong."""


def calibrated(work: Working, instr: m.AskInstrument, pc: int, text: str) -> Answered:
    """When it was calibrated. An interval that has run out is recorded, and refuses nothing: what to do about it is
    not for this program to say."""
    within = instr.instrument.calibrated_within
    assert within is not None
    date = read_date(text)
    if isinstance(date, Problem):
        return date
    today, overdue = work.today, None
    if today is not None and date > today:
        if today >= _FIRST_DAY:
            hint = (
                f"type the date of the last calibration; if today is not {today}, set the clock of this machine first"
            )
            return Problem("not-a-date", f"{date} has not come yet", hint=hint)
        # The clock is evidence, never logic: with a dead battery it says 1970, and nobody can be asked to wait for it.
        overdue = f"calibrated {date}; whether that is overdue is not known, since the clock said {today}"
    elif today is not None and today > due(date, within):
        interval = next((x for x in instr.instrument.said if x.startswith("calibrated")), "overdue")
        overdue = f"calibrated {(today - date).days} days ago; to be {interval}"
    work.emit(
        "instrument",
        name=instr.instrument.name,
        title=instr.instrument.title,
        serial=work.state.rest["serial"],
        calibrated=date.isoformat(),
        overdue=overdue,
    )
    return pc + 1


def ready(work: Working, instr: m.AskReady, pc: int, text: str) -> Answered:
    """Tools or parts are at hand."""
    problem = read_done(text, "ready", "when everything listed lies here")
    if problem is not None:
        return problem
    work.emit("ready", at=work.at(instr), kind=instr.kind, things=list(wanted(work, instr)))
    return pc + 1


def found(work: Working, instr: m.AskFound, pc: int, text: str) -> Answered:
    """The state an item is found in, and whether the procedure may begin with that."""
    state = read_choice(text, instr.states)
    if isinstance(state, Problem):
        return state
    work.emit("hardware", at=work.at(instr), items=list(instr.keys), state=state, why="found")
    if state != instr.expected:
        why = f"{instr.title} is {spoken(state)}; the procedure begins with it {spoken(instr.expected)}"
        work.rest(instr, "blocked", why=why, mend=[[key, instr.expected] for key in instr.keys])
        return None
    return pc + 1


# ---------------------------------------------------------------------------- hazards, steps


def briefing(work: Working, instr: m.EnterSection, pc: int, text: str) -> Answered:
    """The hazards of a section, signed by everyone at once."""
    people = find_people(text, work.state.people)
    if isinstance(people, Problem):
        return people
    missing = [name for name in dict.fromkeys(work.state.people.values()) if name not in people]
    if missing:
        return Problem(
            "not-everyone", f"not signed by {' and '.join(missing)}", hint="everyone on the roster signs a briefing"
        )
    work.emit("briefed", at=work.at(instr), hazards=[h.name for h in instr.hazards], by=list(people))
    return pc + 1


def joining(work: Working, instr: m.Instr, pc: int, text: str) -> Answered:
    """Who joins is briefed on the hazards there are now; then back to the question that was asked."""
    rest = dict(work.state.rest)
    name = str(rest["name"])
    people = find_people(text, {role: who for role, who in work.state.people.items() if who == name})
    if isinstance(people, Problem):
        return people
    hazards = [hazard.name for _, hazard in hazards_now(work)]
    work.emit("briefed", at=work.at(instr), hazards=hazards, by=list(people), joined=True)
    work.rest(instr, **rest["of"])
    return None


def acknowledge(work: Working, instr: m.Acknowledge, pc: int, text: str) -> Answered:
    """A hazard, taken note of by one who does the step."""
    people = work.state.people
    person = find_person(text, people) if people else read_name(text)
    if isinstance(person, Problem):
        return person
    performers = [people[role] for role in instr.people if role in people]
    if performers and person not in performers:
        who = " or ".join(dict.fromkeys(performers))
        return Problem("other-person", f"{person} does not do the next step", hint=f"{who} takes note of it here")
    _acknowledged(work, instr, [person])
    return pc + 1


def _acknowledged(work: Working, instr: m.Acknowledge, by: list[str]) -> None:
    hazard = instr.hazard
    title = work.text(hazard.title)
    work.emit(
        "acknowledged",
        at=work.at(instr),
        hazard=hazard.name,
        word=hazard.word,
        title=title,
        by=by,
        roles=list(instr.people) or None,
    )


def asks(work: Working, instr: m.Acknowledge, pc: int, text: str) -> Answered:
    """A DANGER, answered with a fact from the site."""
    n = int(work.state.rest["n"])
    asked = instr.hazard.asks[n]
    if asked.unit is None:
        words = read_words(text, "an answer")
        if isinstance(words, Problem):
            return words
        if words.casefold() in NOTHING_SAID:
            return Problem("not-a-fact", f"`{words}` says nothing about the site", hint="answer with what is there now")
        value = words
    else:
        entered = read_quantity(text, unit=asked.unit, reply=True)
        if isinstance(entered, Problem):
            return entered
        value = exact_text(entered.quantity, asked.unit)
    work.emit("value", name=asked.name, value=value)
    work.emit(
        "answered", at=work.at(instr, asked.name), name=asked.name, text=work.text(asked.text), value=value, typed=text
    )
    if n + 1 < len(instr.hazard.asks):
        work.rest(instr, "asks", n=n + 1)
        return None
    _acknowledged(work, instr, work.names(instr.people))
    return pc + 1


def done(work: Working, instr: m.BeginStep | m.SetInstr, pc: int, text: str) -> Answered:
    """A step is done; a value has been set."""
    set_in = isinstance(instr, m.SetInstr)
    problem = read_done(text, "done", f"when the {'value has been entered' if set_in else 'step has been carried out'}")
    if problem is not None:
        return problem
    work.emit("done", at=work.at(instr))
    return pc + 1


# ---------------------------------------------------------------------------- what was seen


def confirm(work: Working, instr: m.Ask, pc: int, text: str) -> Answered:
    """`yes` goes on; `no` leads to what can be done about it."""
    word = read_choice(text, ("yes", "no"))
    if isinstance(word, Problem):
        return word
    _answered(work, instr, word, text)
    work.emit("value", name=instr.symbol.name, value=word)
    if word == "no":
        work.rest(instr, "verdict", failed=[f"not so: {work.text(instr.text)}"])
        return None
    return pc + 1


def choose(work: Working, instr: m.Ask, pc: int, text: str) -> Answered:
    """One of a few words."""
    assert isinstance(instr.symbol.type, m.Choice)
    word = read_choice(text, instr.symbol.type.options)
    if isinstance(word, Problem):
        return word
    _answered(work, instr, word, text)
    work.emit("value", name=instr.symbol.name, value=word)
    return pc + 1


def write(work: Working, instr: m.Ask, pc: int, text: str) -> Answered:
    """A note, or what the camera called a photo."""
    words = read_words(text, "a file name or number" if instr.kind == "photo" else "a note")
    if isinstance(words, Problem):
        return words
    _answered(work, instr, words, text)
    work.emit("value", name=instr.symbol.name, value=words)
    return pc + 1


def _answered(work: Working, instr: m.Ask, value: str, typed: str) -> None:
    work.emit(
        "answered",
        at=work.at(instr),
        name=instr.symbol.name,
        kind=instr.kind,
        text=work.text(instr.text),
        value=value,
        typed=typed,
        **work.performers(instr.people),
    )


# ---------------------------------------------------------------------------- signatures and order


def sign(work: Working, instr: m.Sign, pc: int, text: str) -> Answered:
    """One signature of a hold or a witness point: by whoever holds the role. A witness is somebody else than those who
    have signed, whatever roles they hold."""
    n, signed = int(work.state.rest["n"]), list(work.state.rest["by"])
    roles = (*instr.people, *instr.witness)
    witnessing = n >= len(instr.people)
    holder = work.state.people.get(roles[n])
    roster = tuple(dict.fromkeys(work.state.people.values()))
    barred = not_witness(work, instr)
    others = [name for name in roster if name not in barred]
    instead = (witnessing or instr.kind == "witness") and holder in barred
    person = find_person(text, work.state.people)
    if instead and not others and isinstance(person, Problem):
        person = read_name(text)  # a visitor: nobody on the roster is left to witness
    if isinstance(person, Problem):
        return person
    if (witnessing or instr.kind == "witness") and person in barred:
        hint = f"{' or '.join(others)} may" if others else "somebody else who has seen it gives the whole name"
        did = "signed this" if person in signed else "done this"
        return Problem("own-witness", f"{person} has {did} and cannot witness it as well", hint=hint)
    if holder is not None and person != holder and not instead:
        return Problem("other-person", f"the {spoken(roles[n])} is {holder}, not {person}", hint=f"{holder} signs here")
    work.emit(
        "signed",
        at=work.at(instr),
        kind="witness" if witnessing or instr.kind == "witness" else "hold",
        text=work.text(instr.text),
        role=roles[n],
        name=person,
        instead_of=holder if instead else None,
        visitor=True if person not in roster else None,
    )
    if n + 1 < len(roles):
        work.rest(instr, "sign", n=n + 1, by=[*signed, person] if not witnessing else signed)
        return None
    return pc + 1


def pick(work: Working, instr: m.AnyOrderInstr, pc: int, text: str) -> Answered:
    """Which step of a group is next."""
    left = left_of_group(work, instr)
    name = read_choice(text, tuple(step for step, _, _ in left))
    if isinstance(name, Problem):
        return name
    work.emit("picked", at=work.at(instr), order=instr.address, step=name)
    return next(target for step, _, target in left if step == name)
