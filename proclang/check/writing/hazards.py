"""How hazards are said: right before their step, worst first, by the word that fits, with what to do."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from proclang.check.writing.patterns import Pattern
from proclang.check.writing.rule import Found, Rule, Seen
from proclang.check.writing.sentences import masked
from proclang.check.writing.verbs import VERBS, surely_no_verb, words
from proclang.check.writing.warned import hazard_unsaid
from proclang.program.machine import SIGNAL_WORDS
from proclang.syntax import nodes as n

FEW_HAZARDS = 5
"""Below this many, it says nothing that most of them are a `danger`."""

EVERY_STEP = 3
"""A hazard before each of this many steps of a section is said too often."""

_CAPITALS = Pattern(
    r"\b(?:DANGER|WARNING|CAUTION|NOTICE|ATTENTION|IMPORTANT)\b",
    words=("danger", "warning", "caution", "notice", "attention", "important"),
)
_WORDS = Pattern("[A-Za-z]+")
_DEADLY = words(
    "kill kills killed killing death deaths dead deadly die dies fatal lethal blind blinds blinded blindness"
)
_DEADLY_STEMS = ("electrocut", "suffocat", "amputat")
_BODY = words(
    "hurt hurts wound wounds finger fingers hand hands arm arms leg legs foot feet eye eyes face faces skin back backs"
    " bone bones person persons people"
)
_BODY_STEMS = ("injur",)
_JOINED = Pattern(r"\b(?:and|or)\b")
_LIMIT = Pattern(r"\b(?:limit|maximum|minimum|too (?:hot|cold|high|fast|heavy|close|near))\b", re.IGNORECASE)
_ORDER = Pattern(r"(?P<verb>[A-Z][a-z]+) (?:the|a|an|all|both|every|each|its)\b")
_TOLD = words("write say describe name list note explain state record tell enter give")

_ASKS = (n.Measure, n.MeasureAgain, n.Confirm, n.Choose, n.Note, n.Photo, n.Hold, n.Witness)
_HOLDERS = (n.When, n.Repeat, n.ForEach, n.AnyOrder)


def _begins_with_step(node: n.Node) -> bool:
    """Whether a step, or something like one, comes first in a statement."""
    while True:
        if isinstance(node, _HOLDERS):
            body = [x for x in node.body if not isinstance(x, n.Hazard)]
        elif isinstance(node, n.According):
            arms = [x for x in node.arms if isinstance(x, n.Arm)]
            return all(_begins_with_step(x.body[0]) for x in arms if x.body)
        else:
            return not isinstance(node, _ASKS)
        if not body:
            return True
        node = body[0]


def hazard_apart(seen: Seen) -> Iterator[Found]:
    """A hazard with a question between it and the step it warns of."""
    for block in seen.blocks:
        after: n.Node | None = None
        for node in reversed(block):
            if not isinstance(node, n.Hazard):
                after = after if isinstance(node, n.Compute | n.ComputeAgain) else node
            elif after is not None and not _begins_with_step(after):
                message = f"something is asked between the {node.word} `{node.name}` and the step it warns of"
                yield Found(node.name.span, message, "put it directly before that step")


def hazard_order(seen: Seen) -> Iterator[Found]:
    """Several hazards before one step, and a less serious one first."""
    for block in seen.blocks:
        for before, after in pairwise(block):
            if isinstance(before, n.Hazard) and isinstance(after, n.Hazard):
                ranks = [SIGNAL_WORDS.index(x.word) for x in (before, after)]
                if ranks[0] > ranks[1]:
                    message = f"a {before.word} is said before a {after.word}"
                    yield Found(after.name.span, message, "say the most serious first")


def hazard_everywhere(seen: Seen) -> Iterator[Found]:
    """The same hazard before every step of a section."""
    for section in seen.tree.all(n.Section):
        inside = list(n.nested(section.body))
        steps = sum(1 for x in inside if isinstance(x, n.Step) and x.span.start not in seen.stopped)
        hazards = [x for x in inside if isinstance(x, n.Hazard)]
        last = {hazard.name.text: hazard for hazard in hazards}
        for name, times in Counter(hazard.name.text for hazard in hazards).items():
            if times >= max(EVERY_STEP, steps):
                message = f"`{name}` is said {times} times in a section of {steps} steps"
                yield Found(
                    last[name].name.span, message, "say it where it begins; what is said everywhere is not heard"
                )


def danger_common(seen: Seen) -> Iterator[Found]:
    """A file in which most hazards are a `danger`."""
    written = [hazard for hazard in seen.tree.every(n.Hazard) if hazard.title is not None]
    dangers = [hazard for hazard in written if hazard.word == "danger"]
    if len(written) >= FEW_HAZARDS and 2 * len(dangers) > len(written):
        message = f"{len(dangers)} of {len(written)} hazards are a danger, which is the word for the extreme ones"
        hint = "keep `danger` for what will kill or maim unless it is avoided; what only could is a `warning`"
        yield Found(dangers[-1].name.span, message, hint)


def capital_signal_word(seen: Seen) -> Iterator[Found]:
    """`WARNING:` inside a text."""
    if not _CAPITALS.possible(seen.words):
        return
    for raw, begin in seen.texts:
        for found in _CAPITALS.finditer(raw):
            hint = 'make it a hazard: `warning NAME "..."` before the step, with `risk` and `avoid`'
            yield Found(seen.place(found, begin), f"`{found[0]}` is written into a text", hint)


def signal_word_low(seen: Seen) -> Iterator[Found]:
    """A `caution` that tells of death, a `notice` that tells of people."""
    for hazard in seen.tree.every(n.Hazard):
        if hazard.word not in ("caution", "notice"):
            continue
        for risk in hazard.parts:
            if not isinstance(risk, n.Risk):
                continue
            raw, begin = masked(risk.text, seen.source)
            found = _first_of(raw, _DEADLY, _DEADLY_STEMS)
            word = "`warning` or `danger`"
            if found is None and hazard.word == "notice":
                found, word = _first_of(raw, _BODY, _BODY_STEMS), "`caution` or a more serious one"
            if found is not None:
                message = f"`{found[0].lower()}` is more than a {hazard.word} stands for"
                hint = f"use {word}; a notice is about property, a caution about slight injury"
                yield Found(seen.place(found, begin), message, hint)


def _first_of(text: str, known: frozenset[str], stems: tuple[str, ...]) -> re.Match[str] | None:
    """The first word that is one of those known, or begins like one."""
    for found in _WORDS.finditer(text):
        word = found[0].lower()
        if word in known or word.startswith(stems):
            return found
    return None


def hazards_joined(seen: Seen) -> Iterator[Found]:
    """A hazard whose title joins two."""
    for hazard in seen.tree.every(n.Hazard):
        if hazard.title is not None:
            raw, begin = masked(hazard.title, seen.source)
            found = _JOINED.search(raw)
            if found is not None:
                hint = "write one for each; each has its own way out"
                yield Found(seen.place(found, begin), f"`{hazard.name}` may be two hazards", hint)


def hazard_limit(seen: Seen) -> Iterator[Found]:
    """A hazard that speaks of a limit and does not give it."""
    for hazard in seen.tree.every(n.Hazard):
        for text in (hazard.title, *(part.text for part in hazard.parts if isinstance(part, n.Risk | n.Avoid))):
            raw, begin = masked(text, seen.source) if text is not None else ("", 0)
            found = _LIMIT.search(raw)
            if found is not None and not re.search(r"[0-9\u00a4]", raw):
                message = f"`{found[0].lower()}` without a number"
                yield Found(seen.place(found, begin), message, "say the limit with its unit")


def avoid_phrase(seen: Seen) -> Iterator[Found]:
    """An `avoid` that does not begin with what to do."""
    for hazard in seen.tree.every(n.Hazard):
        for part in hazard.parts:
            if isinstance(part, n.Avoid):
                raw, begin = masked(part.text, seen.source)
                found = re.match(r"[A-Za-z']+|.", raw)
                if found is not None and surely_no_verb(found[0].lower()):
                    hint = 'begin with a verb, as in "Stand clear of the load."'
                    yield Found(seen.place(found, begin), "this does not begin with what to do", hint)


def note_with_action(seen: Seen) -> Iterator[Found]:
    """A `note`, which only asks, with an order in it."""
    for note in seen.tree.every(n.Note):
        raw, begin = masked(note.text, seen.source)
        found = _ORDER.match(raw)
        if found is not None and found["verb"].lower() in VERBS - _TOLD:
            hint = "make the order the text of the step; the note asks for what came of it"
            yield Found(seen.place(found, begin, "verb"), "a note asks for words, and this is something to do", hint)


RULES = (
    Rule("hazard-apart", "something is asked between a hazard and the step it warns of", ("HZ-02",), hazard_apart),
    Rule(
        "signal-word-low", "what is told of a hazard is more serious than its signal word", ("HZ-07",), signal_word_low
    ),
    Rule("capital-signal-word", "a signal word in capitals inside a text", ("HZ-09",), capital_signal_word),
    Rule("hazards-joined", "the title of a hazard may join two", ("HZ-10",), hazards_joined, usual=False),
    Rule("hazard-order", "several hazards, and a less serious one is said first", ("HZ-11",), hazard_order),
    Rule("hazard-everywhere", "a hazard is said before every step of a section", ("HZ-13",), hazard_everywhere),
    Rule("avoid-phrase", "an `avoid` does not begin with what to do", ("HZ-14",), avoid_phrase),
    Rule("hazard-limit", "a hazard speaks of a limit and does not give it", ("HZ-15",), hazard_limit, usual=False),
    Rule("danger-common", "most hazards of a file are a `danger`", ("HZ-16",), danger_common),
    Rule("note-with-action", "a `note` holds something to do", ("HZ-17",), note_with_action),
    Rule(
        "hazard-unsaid",
        "hardware comes into a state whose hazard was not said in its section",
        ("HZ-18",),
        hazard_unsaid,
    ),
)
