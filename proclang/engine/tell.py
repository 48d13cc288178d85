"""What an entry became, in short plain sentences: what a technician sees between one question and the next.

Only the entry is looked at, so that a live run, a resumed one and a log tell the same. What the technician typed and
what merely asks the next question is not told again.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import attrs

from proclang.engine.model import Entry, Event
from proclang.engine.wording import are, in_words, spoken, to_read, turn_text, value_name, with_doubt
from proclang.field.registry import find


@attrs.frozen
class Told:
    """One sentence. `kind` says what it is about, for a driver that marks verdicts or hazards in its own way:
    section, read as, verdict, computed, setting, branch, hardware, loop, place (where a loop now stands, which the
    next question says as well), called, returned, stale, note, deviation, signed, person, instrument, answered,
    standing and caution (of a calculation), warning, unknown, struck, stopped, finished."""

    kind: str
    text: str


def tell(entry: Entry) -> tuple[Told, ...]:
    """The sentences of an entry, in the order in which things happened."""
    told: list[Told] = []
    just: tuple[str, str] | None = None
    for event in entry.then:
        kind = event["is"]
        if kind == "verdict":
            told.extend(_verdict(event, named=(str(event.get("name", "")), str(event.get("key", ""))) != just))
            continue
        if kind in ("read", "computed"):
            just = _judged_next(event)
        sentence = _SENTENCES.get(kind)
        if sentence is not None:
            told.extend(sentence(event))
    return tuple(told)


def _judged_next(e: Event) -> tuple[str, str] | None:
    """The name and label a verdict that follows needs not repeat: that of the one value just told."""
    if e["is"] == "computed" and len(e["values"]) != 1:
        return None
    return str(e["name"]).partition(".")[0], str(e.get("key", ""))


# ---------------------------------------------------------------------------- values


_AMONG_OTHERS = 4
"""Significant digits of a value that is told in a row with others: enough to follow it."""

_PLAIN = re.compile(r"([+-]?)([0-9]+)(?:\.([0-9]+))?")


def _read(e: Event) -> Iterator[Told]:
    if not _same_form(str(e["typed"]), str(e["value"])):
        yield Told("read as", f"read as {to_read(e['value'], 12)}")
    if e.get("implausible"):
        yield Told("warning", "outside what was expected here, and confirmed")


def _same_form(typed: str, value: str) -> bool:
    """Whether the value is what was typed over again, unit and all. A bare number is not: its unit is said."""
    number, _, unit = typed.strip().partition(" ")
    stored, _, stored_unit = value.partition(" ")
    if " ".join(unit.split()) != stored_unit:
        return False
    return _digits(number) is not None and _digits(number) == _digits(stored)


def _digits(number: str) -> tuple[bool, str, str] | None:
    found = _PLAIN.fullmatch(number)
    if found is None:
        return None
    sign, whole, decimals = found.groups()
    whole, decimals = whole.lstrip("0"), (decimals or "").rstrip("0")
    return sign == "-" and bool(whole or decimals), whole, decimals


def _computed(e: Event) -> Iterator[Told]:
    yield from _values_computed(e)
    yield from _said_of(e)


def _said_of(e: Event) -> Iterator[Told]:
    """How well a calculation stands, and its caution the first time it is used."""
    for name, standing in e.get("stands", {}).items():
        yield Told("standing", f"{spoken(name)}: {standing}; arithmetic only, a competent person decides")
    for name in e.get("cautions", ()):
        calc = find(name)
        if calc is not None:
            yield Told("caution", f"caution: {calc.caution}")


def _values_computed(e: Event) -> Iterator[Told]:
    name = value_name(e["name"], e.get("key", ""))
    values, off = e["values"], e.get("off", {})
    if len(values) == 1:
        ((key, value),) = values.items()
        yield Told("computed", f"{name} = {with_doubt(value, off[key]) if key in off else to_read(value)}")
        return
    yield Told(
        "computed", f"{name}: " + ", ".join(f"{key} = {to_read(value, _AMONG_OTHERS)}" for key, value in values.items())
    )


def _verdict(e: Event, named: bool) -> Iterator[Told]:
    if e.get("given"):
        return  # told when it was made, inside the performed procedure
    who = f"{value_name(e['name'], e.get('key', ''))} " if named else ""
    outcome, limits = str(e["outcome"]), str(e.get("limits", ""))
    if outcome == "fails":
        beyond = f" by {e['beyond']}" if e.get("beyond") else ""
        yield Told("verdict", f"{who}FAILS{beyond}" + (f" ({limits})" if limits else "") + _sure(e))
        return
    whole = ("at ", "any ", "within ", "spread ", "exactly ")
    bounds = limits if limits.startswith(whole) or not limits else f"within {limits}"
    yield Told("verdict", f"{who}{outcome.upper()}" + (f": {bounds}" if bounds else "") + _sure(e))


def _sure(e: Event) -> str:
    """How sure a verdict is, where anything is known of how far off the value may be."""
    if not e.get("conforms"):
        return ""
    asked = f", {e['guarded']} asked for" if e.get("guarded") else ""
    return f"; probability of conformity {e['conforms']}{asked}"


def _unknown(e: Event) -> Iterator[Told]:
    yield Told("unknown", f"not known: {e['why']}")


def _setting(e: Event) -> Iterator[Told]:
    yield from _said_of(e)
    yield Told("setting", f"{e['title']} is to be set to {to_read(e['value'], 12, signed=True)}")


def _answered(e: Event) -> Iterator[Told]:
    if str(e["typed"]).strip().casefold() != str(e["value"]).casefold():
        yield Told("answered", f"taken as {e['value']}")


def _stale(e: Event) -> Iterator[Told]:
    names = [*e["names"], *e.get("also", ())]
    if names:
        yield Told("stale", f"{in_words(names)} no longer {_counts(names)}: to be read anew")


def _unfresh(e: Event) -> Iterator[Told]:
    yield Told("stale", f"{in_words(e['names'])} does not count: {spoken(e['why'])} was upset and not read since")


def _counts(names: list[str]) -> str:
    return "counts" if len(names) == 1 else "count"


# ---------------------------------------------------------------------------- ways through


def _section(e: Event) -> Iterator[Told]:
    yield Told("section", str(e["title"]))


def _branch(e: Event) -> Iterator[Told]:
    chosen = ", as chosen" if e.get("chosen") else ""
    if "condition" not in e:
        subject = str(e["at"]).rpartition("/")[2]
        yield Told("branch", f"{spoken(subject).removeprefix('according to ')}: {spoken(e['took'])}{chosen}")
    elif e["took"] == "yes" or chosen:  # where a `when` does not hold, nothing happens
        yield Told("branch", f"{spoken(e['condition'])}: {e['took']}{chosen}")


def _pass(e: Event) -> Iterator[Told]:
    yield Told("place", turn_text(str(e["loop"]), str(e["n"]), e["of"]))


def _label(e: Event) -> Iterator[Told]:
    yield Told("place", f"{spoken(e['each'])} {spoken(e['label'])}")


def _loop_end(e: Event) -> Iterator[Told]:
    if e["why"] == "all":
        return
    passes = "1 pass" if e["passes"] == 1 else f"{e['passes']} passes"
    if e["why"] == "bound":
        yield Told("loop", f"{spoken(e['loop'])}: ended by its bound, after {passes}")
    elif e["why"] == "deviation":
        yield Told("loop", f"{spoken(e['loop'])}: ended by a deviation, after {passes}")
    else:
        yield Told("loop", f"{spoken(e['loop'])}: left after {passes}, {spoken(e['why'])}")


def _called(e: Event) -> Iterator[Told]:
    if "/" in e["path"]:  # the procedure that is run is performed by nobody
        yield Told("called", f"now: {e['title']}")


def _returned(e: Event) -> Iterator[Told]:
    if "/" in e["at"]:
        yield Told("returned", "back in the procedure that performed it")


# ---------------------------------------------------------------------------- hardware, people, exceptions


def _hardware(e: Event) -> Iterator[Told]:
    items = list(e["items"])
    verb = ("found" if len(items) == 1 else "all found") if e.get("why") == "found" else f"{are(items)} now"
    yield Told("hardware", f"{in_words(items)} {verb} {spoken(e['state'])}")


def _breach(e: Event) -> Iterator[Told]:
    yield Told("warning", f"a rule of the machine is broken: {e['why']}")


def _person(e: Event) -> Iterator[Told]:
    if e.get("before"):
        yield Told("person", f"{e['name']} is the {spoken(e['role'])} from now on, in place of {e['before']}")
    if e.get("short"):
        named, wanted = e["short"]
        people = "1 person is" if named == 1 else f"{named} people are"
        yield Told("warning", f"{people} on the roster, and it takes at least {wanted}: see who else comes")
    if e.get("shares_initials"):
        yield Told("person", f"{e['name']} has the same initials as {e['shares_initials']}: type whole names")


def _exchanged(e: Event) -> Iterator[Told]:
    yield Told("instrument", f"{spoken(e['to'])} is read from now on, instead of {spoken(e['name'])}")


def _instrument(e: Event) -> Iterator[Told]:
    if e.get("overdue"):
        said = f"calibration overdue: {e['overdue']}"
        yield Told("warning", f"{said}. The run may go on; it stands in the log, and whoever accepts has to know")


def _signed(e: Event) -> Iterator[Told]:
    did = "witnessed by" if e["kind"] == "witness" else "released by"
    hold = "HOLD " if e["kind"] == "hold" else ""
    who = f"{e['name']}, a visitor" if e.get("visitor") else e["name"]
    role = f"instead of {e['instead_of']}" if e.get("instead_of") else spoken(e["role"])
    yield Told("signed", f"{hold}{did} {who} ({role}): {e['text']}")


def _deviation(e: Event) -> Iterator[Told]:
    yield Told("deviation", f"accepted as a deviation by {e['by']}: {e['reason']}")


def _noted(e: Event) -> Iterator[Told]:
    yield Told("note", "noted")


def _struck(e: Event) -> Iterator[Told]:
    name = value_name(str(e["name"]).partition(".")[0], e.get("key", ""))
    yield Told("struck", f"{e['typed']} is struck as mistyped: it stays in the record, and {name} is asked for again")


def _stopped(e: Event) -> Iterator[Told]:
    reason = f": {e['reason']}" if e.get("reason") else ""
    again = " once more" if e.get("again") else ""
    yield Told("stopped", f"stop recorded{again}{reason}; this stops no machine by itself")


def _finished(e: Event) -> Iterator[Told]:
    yield Told("finished", "the procedure is finished" if e["status"] == "finished" else "the run is over, stopped")


_SENTENCES: dict[str, Callable[[Event], Iterator[Told]]] = {
    "section": _section,
    "read": _read,
    "computed": _computed,
    "unknown": _unknown,
    "setting": _setting,
    "answered": _answered,
    "stale": _stale,
    "unfresh": _unfresh,
    "branch": _branch,
    "pass": _pass,
    "label": _label,
    "loop end": _loop_end,
    "called": _called,
    "returned": _returned,
    "hardware": _hardware,
    "breach": _breach,
    "person": _person,
    "instrument": _instrument,
    "exchanged": _exchanged,
    "signed": _signed,
    "deviation": _deviation,
    "noted": _noted,
    "struck": _struck,
    "stopped": _stopped,
    "finished": _finished,
}
