"""Ways on from a verdict, a broken rule or an unknown value: once more, adjusted, put right, accepted, stopped.
See `answers`."""

from __future__ import annotations

from typing import Any, cast

from proclang.engine.answer_values import after_read_back
from proclang.engine.interlocks import change_breach, states_of
from proclang.engine.people import find_person
from proclang.engine.performing import leave_routine, stop
from proclang.engine.reach_values import end_reread, first_of_series
from proclang.engine.reach_ways import take_way, ways_of
from proclang.engine.typed import NOTHING_SAID, read_choice, read_words
from proclang.engine.ways import BACK, authorised, others_in_hand, ways_at
from proclang.engine.working import Working
from proclang.program import model as m
from proclang.text.diagnostic import Problem

Answered = int | Problem | None
Rest = dict[str, Any]


def way(work: Working, instr: m.Instr, pc: int, text: str) -> Answered:
    """One of the ways open here."""
    rest = dict(work.state.rest)
    word = read_choice(text, tuple(x.word for x in ways_at(work, instr, str(rest["phase"]))))
    if isinstance(word, Problem):
        return word
    if word == "stop":
        work.emit("way", at=work.at(instr), way=word)
        return stop(work, "")
    if word == "accept":
        work.emit("way", at=work.at(instr), way=word)
        work.rest(instr, "reason", of=rest)
        return None
    if word == "exchange":
        work.emit("way", at=work.at(instr), way=word)
        work.rest(instr, "exchange", of=rest)
        return None
    if word == "changed":
        work.emit("blocked", at=work.at(instr), why=rest["why"])
        return _put_right(work, instr, pc, rest)
    return _once_more(work, instr, pc, word, rest)


def _once_more(work: Working, instr: m.Instr, pc: int, word: str, rest: Rest) -> Answered:
    """Read or answer once more: `again` joins the readings there are, `adjust` begins afresh."""
    back: int | None = None
    if isinstance(instr, m.ComputeValue):
        back = instr.reread
    elif isinstance(instr, m.Read) and rest.get("all"):
        back = first_of_series(work, instr, pc)
    if back is not None:
        work.emit("way", at=work.at(instr), way=word, back=True, until=instr.address)
        return back
    work.emit("way", at=work.at(instr), way=word)
    if isinstance(instr, m.Read):
        work.rest(instr, "read", key=rest.get("key", ""), new=word == "adjust")
    elif isinstance(instr, m.SetInstr):
        work.rest(instr, "read back")
    elif isinstance(instr, m.Ask):
        work.rest(instr, instr.kind)
    return None


def exchange(work: Working, instr: m.Instr, pc: int, text: str) -> Answered:
    """Which instrument is read from now on, in place of the one that leaves too much doubt."""
    others = others_in_hand(work, instr)
    name = read_choice(text, tuple(dict.fromkeys(other for listed in others.values() for other in listed)))
    if isinstance(name, Problem):
        return name
    for before, listed in others.items():
        if name in listed:
            work.emit("exchanged", at=work.at(instr), name=before, to=name)
    return _once_more(work, instr, pc, "adjust", cast(Rest, work.state.rest["of"]))


# ---------------------------------------------------------------------------- hardware put right


def _put_right(work: Working, instr: m.Instr, pc: int, rest: Rest) -> int | None:
    """Hardware has been put right, which no step foresaw: recorded, and the rule is looked at once more."""
    if rest.get("ask"):
        work.rest(instr, "state now", items=rest["ask"])
        return None
    for item, state in rest["mend"]:
        _moved(work, instr, item, state)
    return pc + 1 if isinstance(instr, m.AskFound) else pc


def _moved(work: Working, instr: m.Instr, item: str, state: str) -> None:
    """No step looked at the rules of the machine before this: one that was broken by it is recorded."""
    breach = change_breach(work.state.hardware, work.routine.machine, (item,), state)
    if breach is not None:
        work.emit("breach", at=work.at(instr), why=breach.text)
    work.emit("hardware", at=work.at(instr), items=[item], state=state, why="put right")


def state_now(work: Working, instr: m.Instr, pc: int, text: str) -> Answered:
    """In which state an item is now, where more than one would do."""
    items = [str(item) for item in work.state.rest["items"]]
    state = read_choice(text, states_of(work, items[0]))
    if isinstance(state, Problem):
        return state
    _moved(work, instr, items[0], state)
    if items[1:]:
        work.rest(instr, "state now", items=items[1:])
        return None
    return pc


# ---------------------------------------------------------------------------- deviations


def reason(work: Working, instr: m.Instr, pc: int, text: str) -> Answered:
    """Why a deviation can be accepted."""
    before = cast(Rest, work.state.rest["of"])
    if text.casefold() == BACK:
        return _back(work, instr, before)
    words = read_words(text, "a reason")
    if isinstance(words, Problem):
        return words
    if words.casefold() in NOTHING_SAID:
        return Problem("not-a-reason", f"`{words}` is no reason", hint="say why the next one may rely on it")
    work.rest(instr, "accepted by", of=before, reason=words)
    return None


def _back(work: Working, instr: m.Instr, before: Rest) -> Answered:
    """Another way after all."""
    work.emit("way", at=work.at(instr), way=BACK)
    work.rest(instr, **before)
    return None


def accepted_by(work: Working, instr: m.Instr, pc: int, text: str) -> Answered:
    """Who accepts a deviation; then on, as if it had passed."""
    rest = work.state.rest
    before = cast(Rest, rest["of"])
    person = find_person(text, work.state.people)
    if isinstance(person, Problem):
        return _back(work, instr, before) if text.casefold() == BACK else person
    allowed = authorised(work)
    if person not in allowed:
        return Problem("no-authority", f"{person} may not accept a deviation here", hint=f"{' or '.join(allowed)} may")
    key, why = before.get("key"), before.get("why")
    work.emit("deviation", at=work.at(instr), reason=rest["reason"], by=person, key=key, why=why)
    return _after_deviation(work, instr, pc, before)


def _after_deviation(work: Working, instr: m.Instr, pc: int, before: Rest) -> Answered:
    phase = str(before["phase"])
    if isinstance(instr, m.Return):
        return leave_routine(work)
    if isinstance(instr, m.EndLoop):
        work.emit("loop end", loop=instr.name, at=work.at(instr), why="deviation", passes=before.get("passes"))
        return instr.exhausted
    if isinstance(instr, (m.Arms, m.Branch, m.Leave)):
        work.rest(instr, "which way")
        return None
    if isinstance(instr, m.SetInstr) and phase == "verdict":
        return after_read_back(work, instr, pc, str(before.get("of", "")))
    if isinstance(instr, m.ComputeValue):
        end_reread(work, instr)
    return pc + 1


def which_way(work: Working, instr: m.Arms | m.Branch | m.Leave, pc: int, text: str) -> Answered:
    """The way taken where the condition is not known."""
    word = read_choice(text, ways_of(instr))
    if isinstance(word, Problem):
        return word
    return take_way(work, instr, pc, word, chosen=True)
