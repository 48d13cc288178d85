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
from proclang.session.look import Line, Look, columns, wrap
from proclang.text.diagnostic import Problem
from proclang.text.printable import has_hidden

ROOM_TO_TYPE = 14
"""Columns a prompt leaves for the reply."""

ENTERED_SHOWN = 20
"""How many of the latest replies `entered` shows."""

STOP_WORDS = "recorded; this stops nothing on the machine: use its emergency stop"


@attrs.frozen
class Question:
    """A request, and the hazards of the step it belongs to."""

    request: Request
    hazards: tuple[Callout, ...] = ()


@attrs.frozen
class Place:
    """What stands on the screen already: section, step, the hazards shown one by one since the step was, and the row of
    readings the last question belonged to."""

    section: str = ""
    step: str = ""
    hazards: tuple[Callout, ...] = ()
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
    if request.section != before.section and request.section:
        sheet.gap()
        sheet.say(request.section if _is_opening(request) else f"Section: {request.section}", "heading")
    told = before.hazards
    if request.kind == "names":  # a briefing, where all are read out; at its step each is shown again
        for hazard in request.hazards:
            _hazard(sheet, hazard)
    else:
        for hazard in dict.fromkeys((*(question.hazards if new_step else ()), *request.hazards)):
            if hazard not in told:
                _hazard(sheet, hazard)
                told = (*told, hazard)
    if new_step:
        _step(sheet, request)
        told = ()
    if not new_step or _has_body(request):
        sheet.gap()
    prompt = _body(sheet, request, before.row)
    return Asked(tuple(sheet.lines), prompt, Place(request.section, request.step, told, request.row))


def _is_opening(request: Request) -> bool:
    return request.address.startswith("opening/")


def _hazard(sheet: _Sheet, hazard: Callout) -> None:
    style = hazard.word.casefold()
    sheet.gap()
    sheet.say(f"{hazard.word.upper()}: {hazard.title}", style)
    if hazard.risk:
        sheet.say(f"What happens: {hazard.risk}", style, 2)
    if hazard.avoid:
        sheet.say(f"To avoid it: {hazard.avoid}", style, 2)


def _step(sheet: _Sheet, request: Request) -> None:
    sheet.gap()
    sheet.say(f"{_step_number(request).capitalize() or 'Step'}: {request.title}", "heading")
    for sentence in request.prose:
        sheet.say(sentence, indent=2)
    for figure in request.figures:
        sheet.say(f"Figure {figure}", indent=2)
    if request.people:
        sheet.say(f"By: {request.people}", indent=2)
    if request.takes:
        sheet.say(f"Takes: {request.takes}", indent=2)


def _step_number(request: Request) -> str:
    return f"step {request.number[0]} of {request.number[1]}" if request.number else ""


def _has_body(request: Request) -> bool:
    """Whether anything stands between the step and the prompt."""
    return request.kind != "word" or bool(request.facts)


def _body(sheet: _Sheet, request: Request, before_row: tuple[str, ...]) -> str:
    """The question, what is known to it, and what may be answered; gives the prompt."""
    what, short = _prompts(request)
    look = sheet.look
    prompt = next((p for p in (*what, *short) if columns(look.shown(p)) + ROOM_TO_TYPE <= look.width), "> ")
    if prompt not in what:
        sheet.say(_sentence(request.prompt), "prompt")
    if request.people and not request.step:
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
        sheet.say(f"One line can hold {_count(request.row)}: {'; '.join(row_names(request))}.", "quiet")
    _choices(sheet, request, meanings, prompt)
    return look.shown(prompt)


def row_names(request: Request) -> tuple[str, ...]:
    """The readings of a row as they are called in the procedure: `ns[direct]`."""
    return tuple(address.rpartition("/")[2] for address in request.row)


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
        some = _one_of(request.choices)
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
        sheet.say(f"{number}{choice}{meaning}", indent=2)


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
    told = [t for t in tell(entry) if t.kind not in ("section", "stopped")]
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
        sheet.say(f"head of the journal: {head[:16]}", "quiet", 2)
    return tuple(sheet.lines)


def _style(told: Told) -> str:
    if told.kind == "verdict":
        for word in ("FAILS", "UNDECIDED", "PASSES"):
            if word in told.text:
                return word.casefold()
    return {"warning": "warning", "unknown": "undecided", "deviation": "undecided", "stale": "notice"}.get(
        told.kind, ""
    )


def refused(problem: Problem, look: Look) -> tuple[Line, ...]:
    """Why a reply was not taken, and what to do."""
    sheet = _Sheet(look)
    sheet.say(f"not taken: {problem.message}", "refused", 2)
    if problem.hint:
        sheet.say(problem.hint, "refused", 2)
    return tuple(sheet.lines)


# ---------------------------------------------------------------------------- beginning, helping, leaving


def greeting(opened: Event, look: Look) -> tuple[Line, ...]:
    """What is run, where, and the words that help on."""
    sheet = _Sheet(look)
    revision = f", revision {opened['revision']}" if opened.get("revision") else ""
    sheet.say(f"{opened.get('title', opened.get('procedure', ''))}{revision}", "heading")
    sheet.say(f"Site: {opened.get('site_title') or opened.get('site', '')}")
    if opened.get("training"):
        sheet.say("TRAINING: nothing recorded here counts as done on a real machine.", "notice")
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
    """Help at a question: about its answer, then the words that can be typed anywhere."""
    sheet = _Sheet(look)
    if request.help and not _MEANING.search(request.help):
        sheet.say(request.help)
    sheet.say("At any question you can also type:")
    for typed, meaning in (
        ("help or ?", "this text"),
        ("readings with ; between them", "several readings of one measurement, in their order"),
        ("here", "the step and its question once more"),
        ("entered", f"the latest replies, {ENTERED_SHOWN} at most"),
        ("! and a text", "a note beside this question"),
        ("mistyped", "the latest reading was typed wrongly: it is struck, and asked for again"),
        ("pause", "leave; what was entered is kept, and the run can be gone on with"),
        ("stop", "record a stop; it stops nothing on the machine: use its emergency stop. Steps that make safe follow"),
        ("stop: and a reason", "the same, with the reason"),
        ("= and an answer", "an answer that begins with one of these words or signs"),
    ):
        sheet.say(f"{typed}: {meaning}.", indent=2)
    sheet.say("A word that is an answer to the question is taken as its answer. Enter alone changes nothing.")
    return tuple(sheet.lines)


def entered(entries: Sequence[Entry], look: Look) -> tuple[Line, ...]:
    """The latest replies, as lines of a reply file."""
    sheet = _Sheet(look)
    replies = [(n, e) for n, e in enumerate(entries, 1) if e.reply.kind not in ("open", "pause")]
    if not replies:
        sheet.say("Nothing has been entered yet.")
    elif len(replies) > ENTERED_SHOWN:
        sheet.say(f"The latest {ENTERED_SHOWN} of {len(replies)} replies:")
    for n, entry in replies[-ENTERED_SHOWN:]:
        sheet.say(f"{n}: {entry.ask} {reply_text(entry.reply.text, entry.reply.kind)}", indent=2)
    return tuple(sheet.lines)


def reply_text(text: str, kind: str) -> str:
    """A reply as it stands behind its address in a reply file."""
    if kind == "note":
        return f"! {text}"
    return f"{kind} {text}".rstrip() if kind in ("stop", "mistyped") else f"= {text}"


def readings_left(readings: Sequence[str], look: Look) -> tuple[Line, ...]:
    """What was typed for later readings and is not used, since something else has come between."""
    sheet = _Sheet(look)
    sheet.say(f"not taken, since something else is asked now: {'; '.join(readings)}", "refused", 2)
    return tuple(sheet.lines)


def resume_words(folder: str) -> str:
    """How to go on."""
    return f"To go on: proclang resume {shell_word(folder)}"


def shell_word(path: str) -> str:
    """A path as it can be typed to a shell, whatever bytes it is made of."""
    if not has_hidden(path):
        word = shlex.quote(path)
    else:  # `$'...'` of bash, zsh and ksh writes any byte
        signs = (chr(byte) for byte in path.encode("utf-8", "surrogateescape"))
        plain = "".join(c if " " <= c <= "~" and c not in "\\'" else f"\\x{ord(c):02x}" for c in signs)
        word = f"$'{plain}'"
    return f"./{word}" if path.startswith("-") else word
