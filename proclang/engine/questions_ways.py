"""The questions of how to go on: from a verdict, a broken rule, an unknown value, a deviation. One phase each; see
`request`."""

from __future__ import annotations

from typing import Any

from proclang.engine.interlocks import states_of
from proclang.engine.model import Request
from proclang.engine.questions_values import limit_texts, value_facts
from proclang.engine.reach_values import targets_keys
from proclang.engine.reach_ways import ways_of
from proclang.engine.ways import BACK, Way, authorised, never_accepted, others_in_hand, ways_at
from proclang.engine.wording import in_words, spoken
from proclang.engine.working import Working
from proclang.program import model as m

Rest = dict[str, Any]


def _choice(work: Working, instr: m.Instr, suffix: str, prompt: str, facts: list[str], phase: str) -> Request:
    ways: tuple[Way, ...] = ways_at(work, instr, phase)
    if never_accepted(work, instr, phase):
        facts = [*facts, "no deviation: nobody may accept this"]
    return Request(
        "choice",
        work.at(instr, suffix),
        prompt,
        facts=tuple(facts),
        choices=tuple(w.word for w in ways),
        help="; ".join(f"`{w.word}`: {w.meaning}" for w in ways) + ".",
    )


def verdict(work: Working, instr: m.Instr, rest: Rest) -> Request:
    """Out of tolerance, or not so."""
    facts: list[str] = []
    limits: list[str] = []
    for symbol, key in _judged_here(work, instr, rest):
        facts.extend(value_facts(work, symbol, key))
        limits.extend(f"limits: {text}" for text in limit_texts(work, symbol))
    failed = [str(sentence) for sentence in rest.get("failed", ())]
    if isinstance(instr, m.Ask):
        said = work.text(instr.text)
        prompt = f"Not so: {said if said.endswith(('.', '!', '?')) else said + '.'} What now?"
        failed = []
    elif isinstance(instr, m.SetInstr):
        prompt = "It does not read back as set. What now?"
    else:
        prompt = (
            "Neither in tolerance nor out of it. What now?" if rest.get("undecided") else "Out of tolerance. What now?"
        )
    return _choice(work, instr, "verdict", prompt, [*facts, *(failed or limits)], "verdict")


def _judged_here(work: Working, instr: m.Instr, rest: Rest) -> list[tuple[m.Symbol, str]]:
    if isinstance(instr, m.Read):
        if rest.get("all"):
            return [(instr.symbol, key) for key in work.frame.values.get(instr.symbol.name, {})]
        return [(instr.symbol, str(rest.get("key", "")))]
    if isinstance(instr, m.ComputeValue):
        return [(symbol, key) for symbol, key in targets_keys(work, instr) if symbol.facets.judged]
    if isinstance(instr, m.SetInstr):
        return [(instr.symbol, "")]
    return []


def exchange(work: Working, instr: m.Instr, rest: Rest) -> Request:
    """Which instrument is read instead."""
    others = dict.fromkeys(other for listed in others_in_hand(work, instr).values() for other in listed)
    facts = []
    for name in others:
        known = work.routine.instruments[name]
        serial = work.state.instruments.get(name, {}).get("serial", "")
        facts.append(f"{spoken(name)}: {', '.join([known.title, *([serial] if serial else []), *known.said])}")
    return Request(
        "choice",
        work.at(instr, "exchange"),
        "Which instrument is read instead?",
        facts=tuple(facts),
        choices=tuple(others),
        help="Readings begin afresh with it. It stays in hand for this quantity to the end of the run.",
    )


def unknown(work: Working, instr: m.Instr, rest: Rest) -> Request:
    """Something that cannot be worked out."""
    prompt = "This cannot be worked out. What now?"
    return _choice(work, instr, "verdict", prompt, [str(rest["why"])], "unknown")


def blocked(work: Working, instr: m.Instr, rest: Rest) -> Request:
    """A rule of the machine, or the state a procedure begins or ends with."""
    mend = rest.get("mend", [])
    facts = [str(rest["why"])]
    for state in dict.fromkeys(s for _, s in mend):
        facts.append(f"to put right: {in_words([i for i, s in mend if s == state])} {spoken(state)}")
    if rest.get("ask"):
        facts.append(f"to put right first: {in_words(rest['ask'])}")
    prompt = "This may not go on as things stand. What now?"
    return _choice(work, instr, "blocked", prompt, facts, str(rest["phase"]))


def state_now(work: Working, instr: m.Instr, rest: Rest) -> Request:
    """How an item stands after it was put right."""
    item = str(rest["items"][0])
    return Request(
        "choice",
        work.at(instr, "blocked", item),
        f"How does the {spoken(item)} stand now?",
        choices=states_of(work, item),
        help="Go and look; type the state it is in.",
    )


def bound(work: Working, instr: m.EndLoop, rest: Rest) -> Request:
    """A loop that has come to its bound without what it was for."""
    facts = [f"{spoken(instr.name)} was to be left when its condition holds"]
    return _choice(work, instr, "verdict", f"Not reached in {rest['passes']} passes. What now?", facts, "bound")


def reason(work: Working, instr: m.Instr, rest: Rest) -> Request:
    """Why a deviation can be accepted."""
    before = rest["of"]
    facts = [*before.get("failed", ()), *([before["why"]] if "why" in before else [])]
    return Request(
        "text",
        work.at(instr, "reason"),
        "Why can it be accepted?",
        facts=tuple(str(fact) for fact in facts),
        help=f"A reason that a reviewer far away will understand. `{BACK}` leads back.",
    )


def accepted_by(work: Working, instr: m.Instr, rest: Rest) -> Request:
    """Who accepts a deviation."""
    allowed = authorised(work)
    return Request(
        "name",
        work.at(instr, "accepted_by"),
        "Who accepts the deviation?",
        choices=allowed,
        facts=(f"reason: {rest['reason']}",),
        help=f"{' or '.join(allowed)} may. `{BACK}` leads back.",
    )


def which_way(work: Working, instr: m.Arms | m.Branch | m.Leave, rest: Rest) -> Request:
    """The way to take where the condition is not known."""
    asked = f"{spoken(instr.name)}?" if isinstance(instr, m.Arms) else f"Does this hold: {instr.condition.text}?"
    return Request(
        "choice",
        work.at(instr, "which_way"),
        f"Which way? {asked}" if isinstance(instr, m.Arms) else asked,
        choices=ways_of(instr),
        help="It is not known here; what is chosen is recorded with the deviation.",
    )
