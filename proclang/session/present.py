"""What a technician sees, as lines: where they are, what to do, what can hurt, what to type, what it became.

Pure functions from what the engine says to lines of fragments. Every text passes through `Look.shown`. Lines are only
ever added below the ones before, one sentence a line, so that a screen reader, a capture and a slow line serve alike.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Sequence

import attrs

from proclang.engine.model import Callout, Entry, Event, Request
from proclang.engine.people import initials
from proclang.engine.tell import Told, tell
from proclang.engine.wording import in_words, spoken
from proclang.session.exercise import sentence_of
from proclang.session.look import Line, Look, columns, wrap
from proclang.session.outlook import said_unproved
from proclang.text.diagnostic import Diagnostic, Problem
from proclang.text.printable import has_hidden

ROOM_TO_TYPE = 14
"""Columns a prompt leaves for the reply."""

ENTERED_SHOWN = 20
"""How many of the latest replies `entered` shows."""

HEAD_SHOWN = 16
"""How many signs of the hash of the latest entry are written down beside a signature."""

STOP_WORDS = "recorded; this stops nothing on the machine: use its emergency stop"


@attrs.frozen
class Question:
    """A request, the hazards of the step it belongs to, the numbers of the steps of its section that can still be
    come to from there, None where that has not been looked at, and what the last reply left unproved."""

    request: Request
    hazards: tuple[Callout, ...] = ()
    to_come: frozenset[int] | None = None
    unproved: tuple[Diagnostic, ...] = ()
    mark: str = ""
    """What a run is marked with in which nothing is done; it stands before every prompt."""


@attrs.frozen
class Place:
    """What stands on the screen already: section, step and its number, where the loops stand, the hazards shown one by
    one since the step was, those read out in full when the section was begun, and the row of readings the last question
    belonged to."""

    section: str = ""
    step: str = ""
    number: int = 0
    within: tuple[str, ...] = ()
    hazards: tuple[Callout, ...] = ()
    briefed: tuple[Callout, ...] = ()
    row: tuple[str, ...] = ()


@attrs.frozen
class Asked:
    """A question ready to be shown: lines, the prompt after which is typed, and where the screen then is."""

    lines: tuple[Line, ...]
    prompt: str
    place: Place


class _Sheet:
    def __init__(self, look: Look) -> None:
        self.look = look
        self.lines: list[Line] = []

    def say(self, text: str, style: str = "", indent: int = 0) -> None:
        lead = " " * indent
        self.lines.extend(((style, line),) for line in wrap(self.look.shown(text), self.look.width, lead, lead + "  "))

    def gap(self) -> None:
        self.lines.append((("", ""),))


# ---------------------------------------------------------------------------- a question


def ask(question: Question, before: Place, look: Look) -> Asked:
    """A question as it is put: only what the screen does not show already, then what can be typed."""
    request = question.request
    sheet = _Sheet(look)
    new_step = bool(request.step) and request.step != before.step
    new_section = request.section != before.section and bool(request.section)
    if new_section:
        sheet.gap()
        sheet.say(request.section if _is_opening(request) else f"{_section(request)}: {request.section}", "heading")
    for text in said_unproved(question.unproved):
        sheet.say(text, "warning")
    told, briefed = before.hazards, () if new_section else before.briefed
    if request.kind == "names":  # a briefing, where all are read out; at its step each is shown again
        for hazard in request.hazards:
            _hazard(sheet, hazard)
        briefed = request.hazards
    else:
        for hazard in dict.fromkeys((*(question.hazards if new_step else ()), *request.hazards)):
            if hazard not in told:
                _hazard(sheet, hazard, briefed=hazard in briefed)
                told = (*told, hazard)
    number = 0 if new_section else before.number
    if new_step:
        _step(sheet, request, _passed_over(question, number), request.within != before.within)
        told, number = (), request.number[0] if request.number else number
    elif request.within and request.within != before.within:
        sheet.gap()
        _within(sheet, request)
    if not new_step or _has_body(request):
        sheet.gap()
    prompt = _body(sheet, request, before.row, f"{question.mark} " if question.mark else "")
    place = Place(request.section, request.step, number, request.within, told, briefed, request.row)
    return Asked(tuple(sheet.lines), prompt, place)


def _is_opening(request: Request) -> bool:
    return request.address.startswith("opening/")


def _section(request: Request) -> str:
    """`Section 2 of 6`; a procedure of one section counts none."""
    n, of = request.section_number or (1, 1)
    return f"Section {n} of {of}" if of > 1 else "Section"


def _passed_over(question: Question, before: int) -> tuple[int, ...]:
    """The steps between the one before and this one that cannot be come to any more."""
    number, to_come = question.request.number, question.to_come
    if number is None or to_come is None or not before:
        return ()
    return tuple(n for n in range(before + 1, number[0]) if n not in to_come)


def _within(sheet: _Sheet, request: Request, indent: int = 0) -> None:
    for text in request.within:
        sheet.say(_sentence(text), indent=indent)


def _hazard(sheet: _Sheet, hazard: Callout, *, briefed: bool = False) -> None:
    """A hazard; one that was read out in full a moment ago without its risk, unless it is a DANGER."""
    style = hazard.word.casefold()
    short = briefed and style != "danger" and bool(hazard.avoid)
    sheet.gap()
    sheet.say(f"{hazard.word.upper()}: {hazard.title}{' (as briefed)' if short else ''}", style)
    if hazard.risk and not short:
        sheet.say(f"What happens: {hazard.risk}", style, 2)
    if hazard.avoid:
        sheet.say(f"To avoid it: {hazard.avoid}", style, 2)


def _step(sheet: _Sheet, request: Request, passed_over: tuple[int, ...], turned: bool) -> None:
    sheet.gap()
    if passed_over:
        first, last = passed_over[0], passed_over[-1]
        run = len(passed_over) > 2 and last - first + 1 == len(passed_over)
        which = f"{first} to {last}" if run else in_words(map(str, passed_over))
        one = len(passed_over) == 1
        sheet.say(f"Step{'' if one else 's'} {which} {'does' if one else 'do'} not apply now.", "quiet")
    sheet.say(f"{_step_number(request).capitalize() or 'Step'}: {request.title}", "heading")
    if turned:
        _within(sheet, request, 2)
    for sentence in request.prose:
        sheet.say(sentence, indent=2)
    for figure in request.figures:
        sheet.say(f"Figure {figure}", indent=2)
    if request.by:
        sheet.say(f"By: {request.by}", indent=2)
    if request.takes:
        sheet.say(f"Takes: {request.takes}", indent=2)


def _step_number(request: Request) -> str:
    return f"step {request.number[0]} of {request.number[1]}" if request.number else ""


def _has_body(request: Request) -> bool:
    """Whether anything stands between the step and the prompt."""
    return request.kind != "word" or bool(request.facts)


def _body(sheet: _Sheet, request: Request, before_row: tuple[str, ...], mark: str) -> str:
    """The question, what is known to it, and what may be answered; gives the prompt."""
    what, short = _prompts(request)
    look = sheet.look
    room = look.width - ROOM_TO_TYPE - columns(mark)
    prompt = next((p for p in (*what, *short) if columns(look.shown(p)) <= room), "> ")
    if prompt not in what:
        sheet.say(_sentence(request.prompt), "prompt")
    if request.people and (not request.step or request.people != request.by):
        sheet.say(f"Asked of: {request.people}")
    meanings = _meanings(request)
    for fact in request.facts:
        if fact and fact.partition(": ")[0] not in meanings:
            sheet.say(_sentence(fact))
    for limit in request.limits:
        sheet.say(f"Limits: {limit}.")
    if request.plausible:
        sheet.say(f"Expected: {request.plausible}.")
    if request.row and request.row != before_row[1:]:
        sheet.say(f"One line can hold {_count(request.row)}, with ; between: {'; '.join(row_names(request))}.", "quiet")
    _choices(sheet, request, meanings, prompt)
    return look.shown(mark + prompt)


def row_names(request: Request) -> tuple[str, ...]:
    """The readings of a row by their labels, `direct` of `ns[direct]`, or by their name where there are none."""
    labels = (address.rpartition("/")[2].rstrip("]").rpartition("[")[2] for address in request.row)
    return tuple(", ".join(spoken(label).split(",")) for label in labels)


def _count(row: tuple[str, ...]) -> str:
    return "both readings" if len(row) == 2 else f"all {len(row)} readings"


def _sentence(text: str) -> str:
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "?", "!", ":")) else text + "."


def _prompts(request: Request) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Prompts that name the question, and shorter ones for which it stands above; each from long to short."""
    place = _step_number(request)
    where = f"{place}, " if place else ""
    if request.kind == "quantity":
        unit = f"in {request.unit}" if request.unit else "a number"
        named = f"{request.prompt}, {unit}"
        return (f"{where}{named}: ", f"{named}: "), (f"{where}{unit}: ", f"{unit}: ")
    if request.kind == "word":
        word = f"type {' or '.join(request.choices)}"
        named = f"{request.prompt} {word[:1].upper()}{word[1:]}"
        return (f"{place.capitalize()}. {named}: " if place else f"{named}: ",), (f"{where}{word}: ", f"{word}: ")
    if request.kind == "choice":
        some = _one_of([spoken(choice) for choice in request.choices])
        shorter = (f"{some}: ",) if request.choices == ("yes", "no") else (f"{where}one of them: ", "one of them: ")
        return (), (f"{where}{some}: ", *shorter)
    what = {"name": "a name", "names": "names, with commas"}.get(request.kind, "answer")
    return (), (f"{where}{what}: ", f"{what}: ")


def _one_of(choices: Sequence[str]) -> str:
    return f"{', '.join(choices[:-1])} or {choices[-1]}" if len(choices) > 1 else "".join(choices)


_MEANING = re.compile(r"`([A-Za-z0-9_]+)`: (.*?)(?=; `[A-Za-z0-9_]+`: |\.?$)")


def _meanings(request: Request) -> dict[str, str]:
    """What each choice means, where the request says so."""
    if request.kind != "choice":
        return {}
    found = {word: meaning for word, meaning in _MEANING.findall(request.help) if word in request.choices}
    for fact in request.facts:
        word, _, meaning = fact.partition(": ")
        if word in request.choices and meaning:
            found[word] = meaning
    return found


def _choices(sheet: _Sheet, request: Request, meanings: dict[str, str], prompt: str) -> None:
    choices = request.choices
    if request.kind in ("name", "names") and choices:
        sheet.say("On the roster: " + ", ".join(f"{name} ({initials(name)})" for name in choices) + ".")
    if request.kind != "choice" or (choices == ("yes", "no") and "yes or no" in prompt):
        return
    numbered = not any(choice.isdigit() for choice in choices)
    for n, choice in enumerate(choices, 1):
        number = f"{n} " if numbered else ""
        meaning = f": {meanings[choice]}" if choice in meanings else ""
        sheet.say(f"{number}{spoken(choice)}{meaning}", indent=2)


def echo(prompt: str, typed: str, look: Look) -> tuple[Line, ...]:
    """A reply shown behind its prompt, where no terminal has shown it."""
    lead = " " * columns(prompt)
    lines = wrap(look.shown(typed), look.width, lead, "    ")
    return ((("prompt", prompt), ("", lines[0][len(lead) :])), *((("", line),) for line in lines[1:]))


# ---------------------------------------------------------------------------- what a reply became


def accepted(entry: Entry, number: int, head: str, look: Look) -> tuple[Line, ...]:
    """What an entry became. `number` is its place in the journal, where it now is; `head` its hash."""
    sheet = _Sheet(look)
    kinds = {e["is"] for e in entry.then}
    told = [t for t in tell(entry) if t.kind not in ("section", "stopped", "place")]  # the next question says where
    if "finished" in kinds:
        told = [t for t in told if t.kind != "returned"]
    if "stopped" in kinds:
        sheet.say(f"entry {number}: stop {STOP_WORDS}", "fails", 2)
        if entry.reply.kind == "stop" and entry.reply.text:
            sheet.say(f"reason: {entry.reply.text}", indent=2)
        if "finished" not in kinds:
            sheet.say("now come the steps that make safe", "fails", 2)
    elif not told:
        sheet.say(f"entry {number}: recorded", "quiet", 2)
    else:
        sheet.say(f"entry {number}: {told[0].text}", _style(told[0]), 2)
        told = told[1:]
    for sentence in told:
        sheet.say(sentence.text, _style(sentence), 2)
    if "signed" in kinds:
        said = f"head of the journal, {HEAD_SHOWN} signs to write on the paper log"
        sheet.say(f"{said}: {head[:HEAD_SHOWN]}", "quiet", 2)
    return tuple(sheet.lines)


def _style(told: Told) -> str:
    if told.kind == "verdict":
        for word in ("FAILS", "UNDECIDED", "PASSES"):
            if word in told.text:
                return word.casefold()
    return _STYLES.get(told.kind, "")


_STYLES = {
    "warning": "warning",
    "caution": "notice",
    "stale": "notice",
    "unknown": "undecided",
    "deviation": "undecided",
}


def refused(problem: Problem, look: Look) -> tuple[Line, ...]:
    """Why a reply was not taken, and what to do: each way on a line of its own."""
    sheet = _Sheet(look)
    sheet.say(f"not taken: {problem.message}", "refused", 2)
    for way in problem.hint.split("; ") if problem.hint else ():
        sheet.say(way, "refused", 2)
    return tuple(sheet.lines)


# ---------------------------------------------------------------------------- beginning, helping, leaving


TRAINING = "TRAINING: nothing recorded here counts as done on a real machine."


def greeting(opened: Event, purpose: Sequence[str], look: Look) -> tuple[Line, ...]:
    """What is run, what for and with which cautions of its author, where, and the words that help on."""
    sheet = _Sheet(look)
    revision = f", revision {opened['revision']}" if opened.get("revision") else ""
    sheet.say(f"{opened.get('title', opened.get('procedure', ''))}{revision}", "heading")
    for sentence in purpose:
        sheet.say(sentence)
    sheet.say(f"Site: {opened.get('site_title') or opened.get('site', '')}")
    if opened.get("training"):
        sheet.say(TRAINING, "notice")
    if marked := sentence_of(opened):
        sheet.say(marked, "notice")
    sheet.say("At any question: `help`, `pause` to leave and go on later, `stop` to record a stop.", "quiet")
    return tuple(sheet.lines)


def went_on(entries: int, set_aside: str, look: Look) -> tuple[Line, ...]:
    """What a resumed run goes on from."""
    sheet = _Sheet(look)
    sheet.say(f"Going on after entry {entries}.")
    if set_aside:
        sheet.say(f"The beginning of a reply that was never acknowledged was set aside as {set_aside}.", "notice")
    return tuple(sheet.lines)


def help_lines(request: Request, look: Look) -> tuple[Line, ...]:
    """Help at a question: the words that can be typed anywhere, and then, nearest to the prompt, about its answer."""
    sheet = _Sheet(look)
    sheet.say("At any question:")
    several = (("READING; READING", "several, in their order"),) if request.row else ()
    for typed, meaning in (
        *several,
        ("here", "the step and its question once more"),
        ("entered", "the latest replies"),
        ("! TEXT", "a note; also where an earlier answer was wrong"),
        ("mistyped", "strike the latest reading and read it again"),
        ("crew: ROLE NAME", "somebody takes a role over"),
        ("pause", "leave; all is kept, and the run can be gone on with"),
        ("stop, stop: REASON", "record a stop, then make safe; it stops no machine"),
        ("= ANSWER", "an answer that begins with one of these"),
    ):
        sheet.say(f"{typed}: {meaning}.", indent=2)
    meanings = _meanings(request)
    for word, meaning in meanings.items():
        sheet.say(f"{spoken(word)}: {meaning}.", indent=2)
    if request.help and not meanings:
        sheet.say(request.help)
    return tuple(sheet.lines)


def entered(replies: Sequence[tuple[int, str, Entry]], earlier: int, look: Look) -> tuple[Line, ...]:
    """The latest replies, each with the number of its entry and the question it answers; `earlier` is how many there
    were before."""
    sheet = _Sheet(look)
    if not replies:
        sheet.say("Nothing has been entered yet.")
    elif earlier:
        sheet.say(f"The latest {len(replies)} of {len(replies) + earlier} replies:")
    for number, question, entry in replies:
        reply = entry.reply.text if entry.reply.kind == "answer" else reply_text(entry.reply.text, entry.reply.kind)
        sheet.say(
            f"{number}: {question if question.endswith(('.', '?', ':', '!')) else question + ':'} {reply}", indent=2
        )
    return tuple(sheet.lines)


def reply_text(text: str, kind: str) -> str:
    """A reply as it stands behind its address in a reply file."""
    if kind == "note":
        return f"! {text}"
    return f"{kind} {text}".rstrip() if kind in ("stop", "mistyped", "crew") else f"= {text}"


def readings_left(readings: Sequence[str], look: Look) -> tuple[Line, ...]:
    """What was typed for later readings and is not used, since something else has come between."""
    sheet = _Sheet(look)
    sheet.say(f"not taken, since something else is asked now: {'; '.join(readings)}", "refused", 2)
    return tuple(sheet.lines)


def called() -> str:
    """How the program was called, so that it can be called like that again: `proclang`, the path of the program, or
    `python3 -m proclang`."""
    import os
    import shutil
    import sys

    program = sys.argv[0] if sys.argv else ""
    spec = getattr(sys.modules.get("__main__"), "__spec__", None)
    if spec is not None and spec.name.partition(".")[0] == "proclang":
        python = os.path.basename(sys.executable)
        found = shutil.which(python)
        return f"{python if found == sys.executable else shell_word(sys.executable)} -m proclang"
    if os.path.basename(program) != "proclang":
        return "proclang"  # somebody else's program has us as a part
    on_path = shutil.which("proclang")
    return (
        "proclang"
        if on_path is not None and os.path.realpath(on_path) == os.path.realpath(program)
        else (shell_word(program))
    )


def resume_words(folder: str) -> str:
    """How to go on: one line that can be pasted."""
    return f"To go on: {called()} resume {shell_word(folder)}"


def shell_word(path: str) -> str:
    """A path as it can be typed to a shell, whatever bytes it is made of."""
    if not has_hidden(path):
        word = shlex.quote(path)
    else:  # `$'...'` of bash, zsh and ksh writes any byte
        signs = (chr(byte) for byte in path.encode("utf-8", "surrogateescape"))
        plain = "".join(c if " " <= c <= "~" and c not in "\\'" else f"\\x{ord(c):02x}" for c in signs)
        word = f"$'{plain}'"
    return f"./{word}" if path.startswith("-") else word
