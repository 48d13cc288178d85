"""How a step is worded: one action, said first, in few and sure words."""

from __future__ import annotations

import re
from collections.abc import Iterator

from proclang.check.writing.patterns import Pattern
from proclang.check.writing.rule import Found, Rule, Seen
from proclang.check.writing.sentences import MASK, Sentence, masked
from proclang.check.writing.verbs import VERBS, surely_no_verb, words
from proclang.syntax import nodes as n

_MORE = Pattern(
    r"(?:,|\band\b|\bthen\b)\s+(?:then\s+|and\s+)?(?P<verb>[a-z]+)(?=(?: (?:at|into|onto|on|to|in|off))? (?:the|a|an"
    rf"|all|both|every|each|its|it|them|their|his|her|one|two)\b| [0-9{MASK}])"
)
_TOGETHER = Pattern(r"\b(?:while|together|at once|at the same time)\b", re.IGNORECASE)
_PROHIBITIONS = ("Do not ", "Don't ", "Never ", "Avoid ")
_MODAL = Pattern(r"\b(?:shall|should|may)\b", re.IGNORECASE, ("shall", "should", "may"))
_PASSIVE = Pattern(
    r"\b(?:(?:must|has to|have to|needs to|need to|is to|are to) be [a-z]+"
    r"|(?:is|are) (?:then |now )?(?:[a-z]+ed|put|set|taken|done|held|made|driven) by (?:the )?(?P<role>[a-z_]+))\b",
    re.IGNORECASE,
    ("be", "by"),
)
_PRONOUN = Pattern(r"(?:[A-Za-z]+ )?(?P<pronoun>it|them|this|these|those|they)\b", re.IGNORECASE)
_AMOUNT = Pattern(rf"[0-9{MASK}]")
_NUMBERED = Pattern(
    r"\b(?:step|section|chapter|paragraph) [0-9]+\b", re.IGNORECASE, ("step", "section", "chapter", "paragraph")
)
_WATCH = Pattern(r"(?:Monitor|Watch|Observe|Keep watching|Keep an eye)\b")
_WATCHING = frozenset({"monitor", "watch", "observe", "keep"})
_ENDS = Pattern(r"\b(?:until|till|while|for|during|through|throughout|as|once)\b")
_IF = Pattern(r"\b(?P<before>[a-z]+) (?P<if>if|unless)\b", words=("if", "unless"))
_WHETHER = words("see check ask look say know tell note test even as only what find verify decide feel")
_WAIT = Pattern(rf"Wait (?:at least )?(?P<long>[0-9{MASK}][^ ]*(?: (?P<unit>s|min|h|d)\b)?)")

_PARTS = re.compile("[a-z]+")
_CONDITIONS = words("if when where once after before until unless while for with at on in from to by as")

_VAGUE = (
    "approximately", "appropriate", "appropriately", "adequate", "adequately", "as required", "as necessary",
    "as needed", "as appropriate", "if needed", "if necessary", "if required", "normal", "normally", "properly",
    "carefully", "slowly", "quickly", "tight", "snug", "snugly", "firmly", "sufficient", "sufficiently", "periodically",
    "regularly",
)  # fmt: skip
"""`about` is not among them: it is also a preposition, as in `turn about the axis`."""


def _several(seen: Seen, least: int) -> Iterator[tuple[Sentence, list[re.Match[str]]]]:
    for sentence in seen.sentences:
        if sentence.first_word in VERBS and (
            "," in sentence.text or " and " in sentence.text or " then " in sentence.text
        ):
            more = [found for found in _MORE.finditer(sentence.text) if found["verb"] in VERBS]
            if len(more) + 1 >= least and not _TOGETHER.search(sentence.text):
                yield sentence, more


def several_actions(seen: Seen) -> Iterator[Found]:
    """Three actions or more in one sentence."""
    for sentence, more in _several(seen, 3):
        message = f"one sentence asks for {len(more) + 1} actions: the last begins with `{more[-1]['verb']}`"
        yield Found(sentence.at(more[-1], 1), message, "give each action a step, or at least a line, of its own")


def two_actions(seen: Seen) -> Iterator[Found]:
    """Two actions in one sentence."""
    for sentence, more in _several(seen, 2):
        if len(more) == 1:
            hint = "make two steps of it; if both are done at the same time, say so with `while`"
            yield Found(sentence.at(more[0], 1), f"a second action begins here: `{more[0]['verb']}`", hint)


def no_verb_first(seen: Seen) -> Iterator[Found]:
    """A step whose first word is surely not a verb."""
    for sentence in seen.sentences:
        if sentence.leads and surely_no_verb(sentence.first_word):
            message = "the step does not begin with what is to be done"
            yield Found(sentence.first_span, message, 'begin with a verb, as in "Close the lid."')


def verb_unlisted(seen: Seen) -> Iterator[Found]:
    """A step that begins with a word that is in no list of verbs."""
    for sentence in seen.sentences:
        word = sentence.first_word
        known = word in VERBS or word in seen.wanted.verbs or word in _CONDITIONS or surely_no_verb(word)
        if sentence.leads and not known:
            hint = "use one that is, or add it to `check.verbs` in the settings"
            yield Found(sentence.first_span, f"`{word}` is not among the verbs a step begins with", hint)


def long_sentence(seen: Seen) -> Iterator[Found]:
    """More words than are read at a glance."""
    most = seen.wanted.longest_sentence
    for sentence in seen.sentences:
        if len(sentence.text) > 2 * most and sentence.words > most:
            message = f"this sentence has {sentence.words} words, more than {most}"
            yield Found(sentence.span, message, "make two sentences of it, each on a line of its own")


def not_positive(seen: Seen) -> Iterator[Found]:
    """A step that says what is not to be done."""
    for sentence in seen.sentences:
        if sentence.text.startswith(_PROHIBITIONS):
            hint = "say what is to be done instead; what must never be done belongs into a hazard, under `avoid`"
            yield Found(sentence.first_span, "this says what is not to be done", hint)


def vague_word(seen: Seen) -> Iterator[Found]:
    """A word of measure without a measure."""
    vague = {*_VAGUE, *seen.wanted.vague} - seen.wanted.fitting - seen.names
    vague = {word for word in vague if seen.words.issuperset(_PARTS.findall(word.lower()))}
    if not vague:
        return
    alternatives = "|".join(re.escape(word) for word in sorted(vague, key=len, reverse=True))
    pattern = re.compile(rf"(?<![\w-])(?:{alternatives})(?![\w-])", re.IGNORECASE)
    hint = "say how much, with a number and its unit, or how it is seen"
    for sentence in seen.sentences:
        for found in pattern.finditer(sentence.text):
            geometry = found[0] == "normal" and sentence.text.startswith(" to ", found.end())
            if not geometry and not _AMOUNT.search(sentence.text, found.end()):
                yield Found(sentence.at(found), f"`{found[0].lower()}` leaves open how much", hint)
    for confirm in seen.tree.every(n.Confirm):
        raw, begin = masked(confirm.text, seen.source)
        for found in pattern.finditer(raw):
            if not _AMOUNT.search(raw, found.end()):
                yield Found(seen.place(found, begin), f"`{found[0].lower()}` leaves open how much", hint)


def pronoun(seen: Seen) -> Iterator[Found]:
    """A pronoun that stands before any noun of its sentence."""
    for sentence in seen.sentences:
        found = _PRONOUN.match(sentence.text)
        if found is not None:
            message = f"nothing in this sentence says what `{found['pronoun'].lower()}` is"
            yield Found(sentence.at(found, 1), message, "name the thing; a step may be read by itself")


def modal_verb(seen: Seen) -> Iterator[Found]:
    """`shall`, `should` or `may` in a step."""
    if not _MODAL.possible(seen.words):
        return
    for sentence in seen.sentences:
        for found in _MODAL.finditer(sentence.text):
            hint = "a step is an order: begin with a verb; what is only allowed is a choice, `choose` or `when`"
            yield Found(sentence.at(found), f"`{found[0].lower()}` leaves open whether it is to be done", hint)


def passive_action(seen: Seen) -> Iterator[Found]:
    """An action that nobody is told to do."""
    if not _PASSIVE.possible(seen.words):
        return
    roles = {role.text for crew in seen.tree.every(n.Crew) for role in crew.roles}
    for sentence in seen.sentences:
        for found in _PASSIVE.finditer(sentence.text):
            if found["role"] is None or found["role"].lower() in roles:
                hint = "say it as an order, and who does it behind `by`"
                yield Found(sentence.at(found), "this says what is done to a thing, not what to do", hint)


def step_without_role(seen: Seen) -> Iterator[Found]:
    """A step that nobody is named for, where the crew has several roles."""
    crew = [role for line in seen.tree.every(n.Crew) for role in line.roles]
    if len(crew) < 2:
        return
    for step in seen.tree.every(n.Step):
        if not step.people:
            yield Found(step.name.span, f"nothing says who does `{step.name}`", "add `by` and the role")


def numbered_reference(seen: Seen) -> Iterator[Found]:
    """A place in the procedure that is called by a number."""
    if not _NUMBERED.possible(seen.words):
        return
    for sentence in seen.sentences:
        for found in _NUMBERED.finditer(sentence.text):
            message = f"`{found[0].lower()}` is called by a number, and steps and sections have names"
            yield Found(sentence.at(found), message, "say it by its title; a number is wrong after the next change")


def watch_without_end(seen: Seen) -> Iterator[Found]:
    """Something to watch, and nothing says how long."""
    for sentence in seen.sentences:
        found = _WATCH.match(sentence.text) if sentence.first_word in _WATCHING else None
        if found is not None and not _ENDS.search(sentence.text, found.end()):
            hint = "say when it ends: `until ...`, `while ...`, `for 10 min`"
            yield Found(sentence.at(found), "nothing says how long this is watched", hint)


def condition_last(seen: Seen) -> Iterator[Found]:
    """An action whose condition is told after it."""
    if not _IF.possible(seen.words):
        return
    for sentence in seen.sentences:
        if sentence.first_word not in VERBS:
            continue
        for found in _IF.finditer(sentence.text):
            if found["before"] not in _WHETHER and sentence.first_word not in _WHETHER:
                message = f"the condition comes after the action: who reads `{sentence.first_word}` does it"
                hint = "put the condition first, `If ..., ...`, or let ways part with `when`"
                yield Found(sentence.at(found, 2), message, hint)


def wait_not_recorded(seen: Seen) -> Iterator[Found]:
    """A wait of minutes or hours whose beginning nobody writes down."""
    for sentence in seen.sentences:
        found = _WAIT.match(sentence.text)
        body = sentence.step.body
        if found is None or (found["unit"] in ("s", None) and MASK not in found["long"]):
            continue
        if not any(isinstance(x, n.Measure) and x.unit.text == "UTC" for x in body):
            hint = 'add `measure begun "when the wait began" in UTC`'
            yield Found(sentence.at(found), "nobody writes down when this wait began", hint)


RULES = (
    Rule("several-actions", "a sentence of a step asks for three actions or more", ("ST-01",), several_actions),
    Rule("two-actions", "a sentence of a step asks for two actions", ("ST-01",), two_actions, usual=False),
    Rule("no-verb-first", "a step does not begin with what is to be done", ("ST-02",), no_verb_first),
    Rule(
        "verb-unlisted",
        "a step begins with a word that is not in the list of verbs",
        ("ST-03",),
        verb_unlisted,
        usual=False,
    ),
    Rule("long-sentence", "a sentence of a step has more than 20 words", ("ST-04",), long_sentence),
    Rule("numbered-reference", "a step or section is called by a number", ("ST-06",), numbered_reference),
    Rule("not-positive", "a step says what is not to be done", ("ST-07",), not_positive),
    Rule("vague-word", "a word such as `properly` or `slowly`, without a number", ("ST-10",), vague_word),
    Rule("pronoun", "`it` or `this` before anything it could stand for", ("ST-11",), pronoun, usual=False),
    Rule("modal-verb", "`shall`, `should` or `may` in a step", ("ST-12",), modal_verb),
    Rule("step-without-role", "a step that nobody is named for", ("ST-13",), step_without_role, usual=False),
    Rule("passive-action", "a step says what is done to a thing, not what to do", ("ST-15",), passive_action),
    Rule("condition-last", "the condition of an action is told after it", ("CD-01",), condition_last),
    Rule("wait-not-recorded", "a wait whose beginning nobody writes down", ("CD-09",), wait_not_recorded, usual=False),
    Rule("watch-without-end", "something to watch, and nothing says how long", ("CD-11",), watch_without_end),
)
