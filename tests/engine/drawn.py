"""Procedures drawn at random: every statement there is, in any order that makes sense, and replies to them.

What is drawn follows from one number, so that small procedures are not drawn more often than large ones.
"""

from __future__ import annotations

from random import Random

from engine_help import MACHINE, lines, procedure
from helpers import PEOPLE, program_of
from hypothesis import strategies as st

from proclang.engine.model import Request
from proclang.program.model import Program

ITEMS = {
    "lid": ("fitted", "removed"),
    "hood": ("fitted", "removed"),
    "nuts": ("slack", "tight"),
    "hook": ("landed", "test_lifted", "hanging"),
    "lamp": ("off", "on"),
}
NEEDS = """\
needs
  instrument gauge "gauge", reads to 0.01 mm, calibrated within 12 months
  tool wrench "torque wrench"
  part nut "M20 nut" x 12
  crew lead, rigger, scribe
  authority lead
"""
HEADER = """
inputs
  latitude: angle
  wanted: length
machine rig
  lid found fitted
  hood found fitted, left fitted
  nuts found slack, left tight
  hook found landed
  lamp found off, left off
labels places 1 .. 3
labels ways direct, reversed
"""
SURVEY = procedure(
    """
    warning pinch
    step look "Look." by rigger
      measure inner[ways] in mm using gauge
        at most wanted
        spread at most 2 mm
      upsets inner
    compute result = inner[direct] - inner[reversed]
      within 0 ± 1 mm
    step shut "Shut."
      now lid is fitted
    if stopped
      step lower "Lower."
        now lamp is off
    """,
    header="""
    inputs
      wanted: length = 3 mm
    machine rig
      lid left fitted
      lamp found off
    labels ways direct, reversed
    gives result
    """,
    name="survey",
)
RIG = (
    MACHINE
    + """\
warning pinch "Fingers can be caught"
  risk "Crushed fingers."
  avoid "Keep them out."
danger beam "Beam"
  risk "Eyes."
  avoid "Eyewear."
  asks marking "Marking on the eyewear"
"""
)


class Namer:
    """Names in turn, and the values set so far on every way to here."""

    def __init__(self) -> None:
        self.count = 0
        self.amounts: list[str] = []
        self.judged: list[str] = []
        self.notes: list[str] = []

    def kept(self) -> tuple[list[str], ...]:
        """What is set here."""
        return list(self.amounts), list(self.judged), list(self.notes)

    def restore(self, kept: tuple[list[str], ...]) -> None:
        """Back to what is certain."""
        self.amounts, self.judged, self.notes = (list(names) for names in kept)

    def new(self, stem: str) -> str:
        self.count += 1
        return f"{stem}{self.count}"


LIMITS = ("at most 2 mm", "within 1 ± 1 mm", "at least -3 mm", "at most wanted", "within 2 +1 mm / -3 mm")


def measure(rnd: Random, names: Namer, pad: str) -> list[str]:
    name = names.new("x")
    series = rnd.random() < 0.5
    out = [f"{pad}measure {name}{'[ways]' if series else ''} in mm using gauge"]
    if rnd.random() < 0.5:
        out.append(f"{pad}  {rnd.choice(LIMITS)}")
        if not series:
            names.judged.append(name)
    if series and (rnd.random() < 0.5):
        out.append(f"{pad}  spread at most 1 mm")
    if rnd.randint(0, 3) == 0:
        out.append(f"{pad}  plausible -50 .. 50 mm")
    if rnd.randint(0, 3) == 0:
        out.append(f"{pad}  judged by worst")
    names.amounts.append(f"{name}[direct]" if series else name)
    return out


def change(rnd: Random, pad: str) -> str:
    item = rnd.choice(sorted(ITEMS))
    word = rnd.choice(("now", "now", "require"))
    return f"{pad}{word} {item} is {rnd.choice(ITEMS[item])}"


def step(rnd: Random, names: Namer, pad: str) -> list[str]:
    seen = "".join(f" {{{rnd.choice(names.notes)}}}" for _ in range(rnd.randint(0, 4)) if names.notes)
    out = [f'{pad}step {names.new("s")} "Do it{seen}."{rnd.choice(("", " by rigger", " by lead and rigger"))}']
    inner, taken = pad + "  ", []
    for kind in rnd.choices(("measure", "again", "change", "confirm", "upsets", "note", "when"), k=rnd.randint(0, 3)):
        if kind == "measure":
            out += measure(rnd, names, inner)
        elif kind == "change":
            out.append(change(rnd, inner))
        elif kind == "when":
            out += [f"{inner}when {condition(rnd, names)}", change(rnd, inner + "  ")]
        elif kind == "confirm":
            out.append(f'{inner}confirm {names.new("c")} "It is so." by rigger')
        elif kind == "note":
            name = names.new("n")
            out.append(f'{inner}note {name} "What is seen?"')
            taken.append(name)
        elif names.amounts:
            name = rnd.choice(names.amounts).partition("[")[0]
            if kind == "upsets":
                out.append(f"{inner}upsets {name}")
            elif name.startswith("x"):
                out.append(f"{inner}measure again {name}")
    names.notes += taken
    return out


def condition(rnd: Random, names: Namer) -> str:
    choices = ["wanted > 2 mm", "hemisphere is north"]
    choices += [f"{name} > 1 mm" for name in names.amounts[-2:]] + [f"{name} passes" for name in names.judged[-2:]]
    return rnd.choice(choices)


def block(rnd: Random, names: Namer, pad: str, depth: int, most: int = 3) -> list[str]:
    out: list[str] = []
    simple = ["step", "step", "compute", "choose", "photo", "set", "hold", "hazard"]
    nested = ["when", "repeat", "each", "group", "perform", "according"] if depth else []
    for kind in rnd.choices(simple + nested, k=rnd.randint(1, most)):
        out += STATEMENTS[kind](rnd, names, pad, depth)
    return out or step(rnd, names, pad)


def scoped(rnd: Random, names: Namer, pad: str, depth: int) -> list[str]:
    """A block whose names are not certain after it."""
    kept = names.kept()
    out = block(rnd, names, pad, depth, most=2)
    names.restore(kept)
    return out


def compute(rnd: Random, names: Namer, pad: str, depth: int) -> list[str]:
    if not names.amounts:
        return []
    name = names.new("y")
    one, other = (rnd.choice([*names.amounts, "wanted"]) for _ in range(2))
    formula = rnd.choice((f"{one} + {other}", f"{one} - {other}", f"{one} * 3", f"1 mm^2 / {one}"))
    out = [f"{pad}compute {name} = {formula}"]
    if rnd.random() < 0.5:
        out.append(f"{pad}  {rnd.choice(LIMITS)}")
        names.judged.append(name)
    names.amounts.append(name)
    return out


def choose(rnd: Random, names: Namer, pad: str, depth: int) -> list[str]:
    return [f'{pad}choose {names.new("w")} from left, right, none "Which?"']


def photo(rnd: Random, names: Namer, pad: str, depth: int) -> list[str]:
    return [f'{pad}photo {names.new("p")} "As it is."']


def setting(rnd: Random, names: Namer, pad: str, depth: int) -> list[str]:
    value = rnd.choice([*names.amounts, "wanted"])
    tail = rnd.choice(("", " ± 0.5 mm, read back", ", read back, read again after a power cycle"))
    return [f'{pad}set {names.new("v")} "value" to {value}{tail}']


def hold(rnd: Random, names: Namer, pad: str, depth: int) -> list[str]:
    return [f'{pad}hold {names.new("h")} "All well" by lead{rnd.choice(("", ", witness scribe"))}']


def hazard(rnd: Random, names: Namer, pad: str, depth: int) -> list[str]:
    return [f"{pad}{rnd.choice(('warning pinch', 'danger beam'))}", *step(rnd, names, pad)]


def when(rnd: Random, names: Namer, pad: str, depth: int) -> list[str]:
    out = [f"{pad}when {condition(rnd, names)}", *scoped(rnd, names, pad + "  ", depth - 1)]
    if rnd.random() < 0.5:
        out += [f"{pad}otherwise", *scoped(rnd, names, pad + "  ", depth - 1)]
    return out


def repeat(rnd: Random, names: Namer, pad: str, depth: int) -> list[str]:
    out = [f"{pad}repeat {names.new('r')} at most {rnd.randint(1, 3)} times"]
    kept = names.kept()
    out += block(rnd, names, pad + "  ", depth - 1, most=2)
    leaves = rnd.random() < 0.5
    if leaves:
        out.append(f"{pad}  leave when {condition(rnd, names)}")
        out += block(rnd, names, pad + "  ", 0, most=1)
    names.restore(kept)
    if leaves and (rnd.random() < 0.5):
        out += [f"{pad}otherwise", *scoped(rnd, names, pad + "  ", 0)]
    return out


def each(rnd: Random, names: Namer, pad: str, depth: int) -> list[str]:
    label, name = names.new("l"), names.new("z")
    out = [
        f"{pad}for each {label} of places{rnd.choice(('', ' in star order'))}",
        f'{pad}  step {names.new("s")} "At {{{label}}}."',
        f"{pad}    measure {name}[{label}] in mm using gauge",
    ]
    if rnd.random() < 0.5:
        out.append(f"{pad}      at most 2 mm")
    if rnd.random() < 0.5:
        out.append(f"{pad}      spread at most 1 mm")
    if rnd.random() < 0.5:
        out.append(f"{pad}    now nuts[{label}] is tight")
    return out + scoped(rnd, names, pad + "  ", 0)


def group(rnd: Random, names: Namer, pad: str, depth: int) -> list[str]:
    kept = names.kept()
    out = [f"{pad}in any order"]
    for _ in range(rnd.randint(2, 3)):
        out += step(rnd, names, pad + "  ")
        names.restore(kept)
    return out


def perform(rnd: Random, names: Namer, pad: str, depth: int) -> list[str]:
    out = [f"{pad}perform survey as {names.new('f')}"]
    if rnd.random() < 0.5:
        out.append(f"{pad}  with wanted = {rnd.choice([*names.amounts, 'wanted'])}")
    if rnd.random() < 0.5:
        given = names.new("g")
        out.append(f"{pad}  gives result as {given}")
        names.amounts.append(given)
        names.judged.append(given)
    return out


def according(rnd: Random, names: Namer, pad: str, depth: int) -> list[str]:
    inner = pad + "    "
    return [
        f"{pad}according to hemisphere",
        f"{pad}  north",
        *scoped(rnd, names, inner, depth - 1),
        f"{pad}  south",
        *scoped(rnd, names, inner, depth - 1),
    ]


STATEMENTS = {
    "step": lambda rnd, names, pad, depth: step(rnd, names, pad),
    "compute": compute,
    "choose": choose,
    "photo": photo,
    "set": setting,
    "hold": hold,
    "hazard": hazard,
    "when": when,
    "repeat": repeat,
    "each": each,
    "group": group,
    "perform": perform,
    "according": according,
}


def body_of(seed: int) -> str:
    """What stands in a section, and perhaps its safe state."""
    rnd, names = Random(seed), Namer()
    out = block(rnd, names, "", depth=2, most=9)
    if rnd.random() < 0.5:
        out += ["if stopped", f'  step {names.new("s")} "Lower it."', "    now lamp is off"]
    return "\n".join(out)


def bodies() -> st.SearchStrategy[str]:
    """The bodies of sections."""
    return st.integers(0, 2**32).map(body_of)


def drawn_program(body: str) -> Program:
    """The program of a drawn body."""
    return program_of({"job": procedure(lines(body), HEADER, needs=NEEDS), "rig": RIG, "survey": SURVEY}, "job")


# ---------------------------------------------------------------------------- replies

NONSENSE = (
    "", " ", "yes", "no", "really 5", "really", "back", "1 mm", "1/0", "99999999999999999999", "-1e99 mm", "5 kg",
    "AQ", "AQ, BT and CM", "nobody", "2031-02-30", "stop", "x" * 2001, "\x1b[2J", "a\u202eb", "\ud800", "½", "1,5",
    "1 deg 20 arcmin", "\u00e9", "' OR 1=1", "{0.__class__}", "0", "-0", "1e-99 mm", "3/7 in", "٣", "x" * 2000,
    "\U0001f4a5" * 2000,
)  # fmt: skip
GARBAGE = st.text(max_size=20) | st.sampled_from(NONSENSE)
READINGS = ("0", "1", "2", "2 mm", "1.5", "0.5", "-2", "3/8 in", "20", "1e3", "really 900", "0.1 cm", "1/3 mm")


def sensible(rnd: Random, request: Request) -> str:
    """A reply that a question may well be answered with; a run is stopped by it only now and then."""
    if request.kind == "quantity":
        return rnd.choice(READINGS)
    if request.phase == "calibrated":
        return rnd.choice(("2031-01-01", "2001-01-01"))
    if request.phase == "briefing":
        return ", ".join(request.choices)
    if request.choices:
        others = [word for word in request.choices if word != "stop"]
        return rnd.choice(others) if others and rnd.random() < 0.99 else "stop"
    named = [part.partition(" (")[0] for part in request.people.split(" and ") if part]
    if request.kind == "name" and named and rnd.random() < 0.8:
        return rnd.choice(named)
    return rnd.choice((*PEOPLE[:3], "A word or two.", "AQ", "Vera Lund"))


def any_reply(rnd: Random, request: Request) -> tuple[str, str]:
    """A reply and its kind: mostly sensible."""
    kind = rnd.choices(("answer", "note", "crew", "stop"), (150, 5, 5, 1))[0]
    if kind == "crew" and rnd.random() < 0.8:
        return f"{rnd.choice(('lead', 'rigger', 'Scribe'))} {rnd.choice((*PEOPLE[:4], 'AQ'))}", kind
    return (rnd.choice(NONSENSE) if rnd.random() < 0.1 else sensible(rnd, request)), kind
