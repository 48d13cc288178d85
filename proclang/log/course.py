"""What each event says of the course of a run: sections, steps, answers, ways taken, people, hardware.

Texts of the procedure are shown as they were written, with the name of a value where the value stood when it was
asked: two runs then show the same line, and the value has a line of its own.
"""

from __future__ import annotations

from collections.abc import Iterable

from proclang.engine.model import Event, Frame
from proclang.log.amounts import amount
from proclang.log.gathered import BREACH, PUT_RIGHT, STOP, Fold
from proclang.log.markdown import Md, code, inline, leading, told
from proclang.log.model import Fact
from proclang.log.places import Strayed
from proclang.program import model as m

_CREW_MOST = 200
"""Roles one run may have: each name is looked up among them."""

_CHOSEN = ", as somebody chose, since it was not known"


def opened(fold: Fold, e: Event) -> None:
    """The run begins."""
    fold.out.opened = e
    fold.out.places.open()


def ready(fold: Fold, e: Event) -> None:
    """Tools or parts are at hand, each a line: a title may hold commas."""
    under = tuple(leading(thing) for thing in e["things"])
    fold.out.done.append((fold.place(e["at"])[1], Fact(code(e["at"]), Md(f"{inline(e['kind'])} at hand"), under)))


def roles_of(e: Event) -> tuple[str, ...]:
    """The roles in which people did something.

    They, and every text, are taken from the event, never from the instruction of the same identity: two arms of a
    branch may hold steps of one name, and a log that shows the text of the other arm turns a mark the wrong way.
    """
    return tuple(e.get("roles", ()))


# ---------------------------------------------------------------------------- ways through


def section(fold: Fold, e: Event) -> None:
    """A section begins."""
    fold.out.places.section(e["address"], e["title"])


def called(fold: Fold, e: Event) -> None:
    """A procedure is performed."""
    places = fold.out.places
    fold.unknown.pop(e["path"], None)
    if len(places.frames) > 1:
        _, place = fold.place_of_address(e["at"])
        fold.out.done.append((place, Fact(code(e["path"]), Md(f"performed; {inline(e['title'])}"))))
    places.call(e["routine"], e["at"], e["path"], fold.out.state)
    fold.calling = True


def given(fold: Fold, name: str, value: str) -> None:
    """What a performed procedure was given goes below the line that says that it was performed."""
    out = fold.out
    if len(out.places.frames) > 2 and out.done:
        place, fact = out.done[-1]
        if isinstance(fact, Fact):
            under = (*fact.under, Md(f"with {code(name)}: {amount(value)}"))
            out.done[-1] = (place, fact._replace(under=under))


def returned(fold: Fold, e: Event) -> None:
    """A procedure ends; what it left upset is remembered."""
    out = fold.out
    frame = out.state.top
    _, place = fold.place_of_address(frame.address)
    out.stale.extend((place, frame.path, name) for name in left_stale(frame))
    fold.left, fold.handed_up = frame.path, tuple(e.get("gives") or ())
    fold.reading = None  # a value of the name of the last reading is the caller's now
    out.places.leave()


def left_stale(frame: Frame) -> Iterable[str]:
    """What was upset and not read again. What was worked out on the way and has no limits, such as by how much a weight
    is to be moved, has served when the adjustment is made that upsets it."""
    return (name for name in frame.stale if name in frame.outcomes or name not in frame.rests_on)


def branch(fold: Fold, e: Event) -> None:
    """A way was taken."""
    fold.unknown.pop(e["at"], None)
    chosen = _CHOSEN if e.get("chosen") else ""
    if "condition" in e:
        fold.say(e["at"], f"{code(e['condition'])} {'held' if e['took'] == 'yes' else 'did not hold'}{chosen}")
    else:
        fold.say(e["at"], f"the way of {inline(e['took'])}{chosen}")


def loop_end(fold: Fold, e: Event) -> None:
    """A loop is left."""
    fold.unknown.pop(e["at"], None)
    reason = e["why"]
    if reason == "all":
        return  # every label of a `for each`, as always
    passes = inline(str(e.get("passes", "")))
    if reason in ("bound", "deviation"):
        fold.say(e["at"], f"left after pass {passes}, the last allowed")
    else:
        fold.say(e["at"], f"left after pass {passes}; {code(reason)} held{_CHOSEN if e.get('chosen') else ''}")


# ---------------------------------------------------------------------------- steps and answers


def step(fold: Fold, e: Event) -> None:
    """A step was shown."""
    _, place = fold.place(e["at"])
    by = fold.by(e.get("by"), roles_of(e))
    title = inline(e["title"])
    fold.steps[e["at"]] = (len(fold.out.done), by, title)
    fold.out.done.append((place, Fact(code(e["at"]), Md(f"step{by}; {title}"))))


def done(fold: Fold, e: Event) -> None:
    """Somebody said that it is done: a step, or a value that was to be set."""
    at = e["at"]
    if at in fold.setting:
        fold.setting[at].entered = True
    elif at in fold.steps:
        index, by, title = fold.steps[at]
        place, _ = fold.out.done[index]
        fold.out.done[index] = (place, Fact(code(at), Md(f"step done{by}; {title}")))


def answered(fold: Fold, e: Event) -> None:
    """A question was answered with a word or a sentence."""
    if "kind" not in e:
        _fact_asked(fold, e)
        return
    text = inline(e["text"])
    if e["kind"] == "confirm":
        says = f"confirmed {inline(e['value'])}{fold.by(e.get('by'), roles_of(e))}; {text}"
    elif e["kind"] == "choose":
        says = f"chosen {code(e['value'])}; {text}"
    else:
        says = f"{inline(e['kind'])} {code(e['value'])}; {text}"
    fold.answers[e["at"]] = Md(says)
    fold.say(e["at"], says)


def _fact_asked(fold: Fold, e: Event) -> None:
    """The fact from the site a hazard is answered with; kept until the hazard is acknowledged."""
    instr, _ = fold.place(e["at"])
    value, name = e["value"], e["name"]
    asked = instr.hazard.asks if isinstance(instr, m.Acknowledge) else ()
    if value in fold.out.state.people.values():
        shown = fold.roles([value])
    elif any(x.name == name and x.unit is not None for x in asked):
        shown = amount(value)
    else:
        shown = code(value)
    fold.asked.setdefault(e["at"].rpartition("/")[0], []).append(Md(f"{code(name)}: {shown}"))


# ---------------------------------------------------------------------------- people


def person(fold: Fold, e: Event) -> None:
    """Somebody is put on the roster."""
    if len(fold.out.state.people) > _CREW_MOST:
        raise Strayed("more people are on the roster than any crew has")
    fold.roles_of.clear()
    fold.out.short = tuple(e.get("short", ()))
    if e.get("before"):
        fold.out.before.setdefault(e["role"], []).append(e["before"])
        fold.say(e["at"], f"the {inline(e['role'].replace('_', ' '))} is somebody else from here on")


def acknowledged(fold: Fold, e: Event) -> None:
    """A hazard was acknowledged at its step."""
    _, place = fold.place(e["at"])
    by = fold.by(e["by"], roles_of(e))
    says = Md(f"{inline(e['word'].upper())} taken note of{by}; {inline(e['title'])}")
    fold.out.hazards.append((place, Fact(code(e["at"]), says, tuple(fold.asked.pop(e["at"], ())))))


def briefed(fold: Fold, e: Event) -> None:
    """The hazards of a section were read out to everyone."""
    named = " and ".join(code(name) for name in e["hazards"])
    by = f"{fold.roles(e['by'])}, who joined" if e.get("joined") else "everyone on the roster"
    says = Md(f"briefed on {named}; signed by {by}")
    fold.out.hazards.append((fold.place(e["at"])[1], Fact(code(e["at"]), says)))


def signed(fold: Fold, e: Event) -> None:
    """A hold was released or a witness point witnessed."""
    _, place = fold.place(e["at"])
    text = inline(e["text"])
    what = "hold released" if e["kind"] == "hold" else "witnessed"
    role = inline(e["role"].replace("_", " "))
    if e.get("instead_of"):
        other = "a visitor" if e.get("visitor") else fold.roles([e["name"]])
        role = Md(f"{other} in place of {role}")
    fold.out.signed.append((place, Fact(code(e["at"]), Md(f"{what} by {role}; {text}"))))


def noted(fold: Fold, e: Event) -> None:
    """A note beside a question."""
    fold.out.notes.append(Fact(code(e["at"]), code(e["text"])))


def stopped(fold: Fold, e: Event) -> None:
    """Somebody stopped the run, at the question that was asked."""
    reason = f"; {code(e['reason'])}" if e.get("reason") else ""
    fold.leave_open(STOP, fold.ask, f"stopped here{reason}")


# ---------------------------------------------------------------------------- hardware


def hardware(fold: Fold, e: Event) -> None:
    """Hardware is in a state, by a step, as it was found, or because somebody put it right."""
    items = " and ".join(code(item) for item in e["items"])
    now = f"{items} now {inline(e['state'])}"
    if e["why"] in ("found", "counted"):  # of what is counted nothing is out before the first count
        fold.out.found.update(dict.fromkeys(e["items"], e["state"]))
    elif e["why"] == "now":
        fold.say(e["at"], now)
    else:
        fold.leave_open(PUT_RIGHT, e["at"], f"put right, with no step for it; {now}")


def breach(fold: Fold, e: Event) -> None:
    """A rule of the machine was broken although the step was let through."""
    fold.leave_open(BREACH, e["at"], f"a rule of the machine was broken; {told(e['why'])}")


def blocked(fold: Fold, e: Event) -> None:
    """A step could not be shown as things stood, until something was put right."""
    fold.leave_open(PUT_RIGHT, e["at"], f"could not go on; {told(e['why'])}")
