"""Procedures whose kinds of quantity fit by construction, and the same with one of them wrong.

Each expression is drawn for a kind that is wanted, so that what fits is known without asking the checker. Where two
kinds have to agree (a sum, a comparison, a limit, an argument) one side is an *operand* and is counted; `wrong` makes
one of them of another kind, one that no rule of the language lets stand there.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

import attrs

UNITS = {
    "length": "mm",
    "mass": "kg",
    "angle": "deg",
    "torque": "N.m",
    "force": "N",
    "time": "min",
    "difference": "K",
    "number": "",
    "temperature": "°C",
    "bearing": "deg true",
    "instant": "UTC",
}
AMOUNTS = ("length", "mass", "angle", "torque", "force", "time", "difference", "number")
POINTS = {"temperature": "difference", "bearing": "angle", "instant": "time"}
"""Kinds that have a zero of their own, and the kind of their difference."""

NEVER = {
    "angle": ("length", "mass", "force"),
    "bearing": ("length", "mass", "force"),
    "difference": ("length", "mass", "torque"),
    "temperature": ("length", "mass", "torque"),
    "time": ("length", "mass", "angle"),
    "instant": ("length", "mass", "angle"),
}
"""Kinds that may not stand for one, where not all of length, mass and force are meant."""

SURVEY = """\
proclang 1
procedure survey "Survey, training example"
inputs
  wanted: length = 3 mm
  base: one of rock, soil = rock
needs
  crew rigger
  authority rigger
gives drop, warmth
section look "Look"
  step read "Read." by rigger
    measure drop in mm
      at most wanted
    measure warmth in °C
"""

HEADER = """\
proclang 1
procedure job "Kinds that fit, training example"
inputs
  latitude: angle
  reach: length = 20 mm
  load: force
  slab: one of rock, soil = rock
labels places 1 .. 2
table pulls of share, settle
  snug 30 %, 2 min
  full 100 %, 10 min
needs
  instrument gauge "gauge", reads to 0.01 mm, repeats to 0.02 mm
  crew lead, rigger, scribe
  authority lead
danger beam "Beam"
  risk "Eyes."
  avoid "Eyewear."
  asks gust "Gust now" in m/s
section work "Work"
"""

READINGS = {"length": ("0", "1.5", "-2 mm", "3/8 in", "0.2 cm"), "mass": ("0 kg", "2", "500 g"),
            "angle": ("0", "12", "1 deg 20 arcmin", "-400"), "torque": ("40", "0", "30 N.m"), "force": ("0", "1 kN"),
            "time": ("0", "3", "1 h"), "difference": ("0", "-3", "2 K"), "number": ("0", "1", "-2.5", "1/3"),
            "temperature": ("-12", "20 °C", "0"), "bearing": ("0", "359.5", "12 deg true"),
            "instant": ("2031-05-01T10:00Z", "2031-05-02 09:30")}  # fmt: skip
"""What may be typed for a reading of a kind."""


@attrs.define
class Draw:
    """Draws one procedure. `wrong` is the number of the operand to get wrong."""

    rng: Random
    wrong: int | None = None
    operands: int = 0
    count: int = 0
    names: list[tuple[str, str]] = attrs.field(factory=lambda: [("reach", "length"), ("load", "force")])
    """Names that are set here, with their kinds."""

    kinds: dict[str, str] = attrs.field(factory=dict)
    """Every name of a quantity there is."""

    series: list[tuple[str, str]] = attrs.field(factory=list)
    judged: list[str] = attrs.field(factory=list)
    choices: list[str] = attrs.field(factory=list)
    notes: list[str] = attrs.field(factory=list)
    again: list[str] = attrs.field(factory=list)
    computed: list[str] = attrs.field(factory=list)
    inside: int = 0
    """How many loops over labels are around the present line."""

    def new(self, stem: str) -> str:
        self.count += 1
        return f"{stem}{self.count}"

    # ------------------------------------------------------------------ expressions

    def operand(self, kind: str, depth: int) -> str:
        """An expression whose kind has to be this one."""
        self.operands += 1
        right = self.expression(kind, depth)
        if self.operands_before(right) != self.wrong:
            return right
        other = Random(self.wrong).choice(NEVER.get(kind, tuple({"length", "mass", "force"} - {kind})))
        return f"(3 {UNITS[other]})"

    def operands_before(self, _: str) -> int:
        """The number of the operand just drawn: those inside it have theirs before it."""
        self.numbered += 1
        return self.numbered

    numbered: int = 0

    def leaf(self, kind: str) -> str:
        known = [name for name, its in self.names if its == kind]
        if known and self.rng.random() < 0.7:
            return self.rng.choice(known)
        if kind == "instant":
            return "2031-05-01T08:00Z"
        if kind == "number" and not self.inside and self.rng.random() < 0.3:
            return "share[snug]"
        return f"{self.rng.choice((1, 2, 0.5, 12))} {UNITS[kind]}".strip()

    def expression(self, kind: str, depth: int) -> str:
        """An expression of a kind."""
        if depth <= 0 or self.rng.random() < 0.2:
            return self.leaf(kind)
        if kind in POINTS:
            sign = self.rng.choice("+-")
            return f"({self.leaf(kind)} {sign} {self.operand(POINTS[kind], depth - 1)})"
        of = lambda k=kind: self.operand(k, depth - 1)  # noqa: E731
        free = lambda k=kind: self.expression(k, depth - 1)  # noqa: E731
        forms: list[Callable[[], str]] = [
            lambda: f"({free()} + {of()})",
            lambda: f"({free()} - {of()})",
            lambda: f"(-{free()})",
            lambda: f"({free()} * {self.leaf('number')})",
            lambda: f"({free()} / {self.leaf('number')})",
            lambda: f"abs({free()})",
            lambda: f"min({free()}, {of()})",
            lambda: f"max({free()}, {of()})",
            lambda: f"hypot({free()}, {of()})",
            lambda: f"round_to({free()}, 0.1 {UNITS[kind]})".replace(" )", ")"),
        ]
        if kind == "number":
            amount = self.rng.choice(AMOUNTS[:-1])
            forms += [lambda: f"({free(amount)} / {free(amount)})", lambda: f"({free()} ^ 2)"]
        for point, difference in POINTS.items():
            if difference == kind:
                forms.append(lambda p=point: f"({self.leaf(p)} - {self.operand(p, 0)})")  # type: ignore[misc]
        listed = [name for name, its in self.series if its == kind]
        if listed:
            called = self.rng.choice(("mean", "sum", "smallest", "largest", "spread"))
            forms += [lambda: f"{called}({self.rng.choice(listed)})"] * 3
        return self.rng.choice(forms)()

    def condition(self) -> str:
        forms: list[Callable[[], str]] = [lambda: f"slab is {self.rng.choice(('rock', 'soil'))}", self.compared]
        if self.judged:
            forms.append(lambda: f"{self.rng.choice(self.judged)} {self.rng.choice(('passes', 'fails'))}")
        if self.choices:
            forms.append(lambda: f"{self.rng.choice(self.choices)} is left")
        one, other = (self.rng.choice(forms)() for _ in range(2))
        return self.rng.choice((one, one, one, f"not ({one})", f"({one}) and ({other})", f"({one}) or ({other})"))

    def compared(self) -> str:
        kind = self.rng.choice((*AMOUNTS, "instant"))
        return f"{self.expression(kind, 1)} {self.rng.choice(('<', '<=', '>', '>='))} {self.operand(kind, 1)}"

    # ------------------------------------------------------------------ lines

    def limits(self, kind: str, pad: str) -> list[str]:
        half = POINTS.get(kind, kind)
        forms: list[Callable[[], str]] = [
            lambda: f"within ({self.operand(kind, 1)}) ± ({self.operand(half, 1)})",
            lambda: f"within ({self.operand(kind, 1)}) .. ({self.operand(kind, 1)})",
        ]
        if kind not in POINTS:
            forms += [lambda: f"at most ({self.operand(kind, 1)})", lambda: f"at least ({self.operand(kind, 1)})"]
        return [pad + self.rng.choice(forms)()]

    def measure(self, pad: str) -> list[str]:
        kind = self.rng.choice((*AMOUNTS, *POINTS))
        name, unit = self.new("x"), UNITS[kind] or "pieces"
        listed = self.rng.random() < 0.3
        using = " using gauge" if kind == "length" else ""
        out = [f"{pad}measure {name}{'[near, far]' if listed else ''} in {unit}{using}"]
        judged = self.rng.random() < 0.4
        if judged:
            out += self.limits(kind, pad + "  ")
        self.kinds[name] = kind
        self.pending.append((name, kind, listed, judged))
        return out

    pending: list[tuple[str, str, bool, bool]] = attrs.field(factory=list)
    """What the present step reads: it can be used after it."""

    def step(self, pad: str) -> list[str]:
        shown = ""
        if self.names and self.rng.random() < 0.5:
            name, kind = self.rng.choice(self.names)
            to = f" to 0.1 {UNITS[kind]}, signed" if kind in AMOUNTS[:-2] and self.rng.random() < 0.5 else ""
            shown = f" {{{name}{to}}}"
        if self.notes:
            shown += f" {{{self.rng.choice(self.notes)}}}"
        out = [f'{pad}step {self.new("s")} "Do it{shown}."']
        inner = pad + "  "
        for what in self.rng.choices(("measure", "measure", "again", "upsets", "note", "choose", "confirm"), k=2):
            if what == "measure" and not self.inside:
                out += self.measure(inner)
            elif what in ("again", "upsets") and self.again:
                out.append(f"{inner}{'measure again' if what == 'again' else 'upsets'} {self.rng.choice(self.again)}")
            elif what == "note" and not self.inside:
                self.notes.append(self.new("n"))
                out.append(f'{inner}note {self.notes[-1]} "What is seen?"')
                later = self.notes.pop()
                self.late_notes.append(later)
            elif what == "choose" and not self.inside:
                self.late_choices.append(self.new("w"))
                out.append(f'{inner}choose {self.late_choices[-1]} from left, right "Which?"')
            elif what == "confirm" and not self.inside:
                out.append(f'{inner}confirm {self.new("c")} "It is so"')
        self.settle()
        return out

    late_notes: list[str] = attrs.field(factory=list)
    late_choices: list[str] = attrs.field(factory=list)

    def settle(self) -> None:
        """A step is over: what it set is there."""
        for name, kind, listed, judged in self.pending:
            self.again.append(name)
            if listed:
                self.names.append((f"{name}[near]", kind))
                if kind not in POINTS:
                    self.series.append((name, kind))
            else:
                self.names.append((name, kind))
            if judged:
                self.judged.append(name)
        self.notes += self.late_notes
        self.choices += self.late_choices
        self.pending, self.late_notes, self.late_choices = [], [], []

    def compute(self, pad: str) -> list[str]:
        kind, name = self.rng.choice((*AMOUNTS, *POINTS)), self.new("y")
        out = [f"{pad}compute {name} = {self.expression(kind, 3)}"]
        if self.rng.random() < 0.4:
            out += self.limits(kind, pad + "  ")
            self.judged.append(name)
        self.kinds[name] = kind
        self.names.append((name, kind))
        self.computed.append(name)
        return out

    def setting(self, pad: str) -> list[str]:
        kind = self.rng.choice(AMOUNTS[:-1])
        name = self.new("v")
        self.kinds[name] = kind
        value = self.expression(kind, 2)
        return [f'{pad}set {name} "value" to {value} ± {self.operand(kind, 0)} in {UNITS[kind]}, read back']

    def perform(self, pad: str) -> list[str]:
        drop, warmth = self.new("d"), self.new("t")
        out = [f"{pad}perform survey as {self.new('p')}", f"{pad}  with wanted = {self.operand('length', 1)}"]
        out += [f"{pad}  with base = slab", f"{pad}  gives drop as {drop}", f"{pad}  gives warmth as {warmth}"]
        self.names += [(drop, "length"), (warmth, "temperature")]
        self.kinds |= {drop: "length", warmth: "temperature"}
        self.judged.append(drop)
        return out

    def each(self, pad: str) -> list[str]:
        label, name, made, kind = self.new("l"), self.new("z"), self.new("u"), self.rng.choice(AMOUNTS[:-1])
        rows = self.rng.random() < 0.5
        factor = f"share[{label}]" if rows else "2"
        out = [
            f"{pad}for each {label} of {'pulls' if rows else 'places'}",
            f'{pad}  step {self.new("s")} "At {{{label}}}."',
        ]
        out += [f"{pad}    measure {name}[{label}] in {UNITS[kind]}"]
        out += [f"{pad}  compute {made}[{label}] = {name}[{label}] * {factor} + {self.operand(kind, 1)}"]
        self.inside += 1
        kept = self.kept()
        out += self.step(pad + "  ")
        self.restore(kept)
        self.inside -= 1
        self.kinds |= {name: kind, made: kind}
        self.series += [(name, kind), (made, kind)]
        return out

    def kept(self) -> tuple[list[object], ...]:
        held = (self.names, self.series, self.judged, self.choices, self.notes, self.again, self.computed)
        return tuple(list(x) for x in held)

    def restore(self, kept: tuple[list[object], ...]) -> None:
        self.names, self.series, self.judged, self.choices, self.notes, self.again, self.computed = kept  # type: ignore[assignment]

    def scoped(self, pad: str, depth: int) -> list[str]:
        kept = self.kept()
        out = self.block(pad, depth, 2)
        self.restore(kept)
        return out

    def block(self, pad: str, depth: int, most: int) -> list[str]:
        kinds = ["step", "step", "step", "compute", "compute", "again", "hold", "danger"]
        kinds += ["set", "perform", "each", "when", "arms", "repeat", "group"] if depth else []
        out: list[str] = []
        for kind in self.rng.choices(kinds, k=self.rng.randint(1, most)):
            out += self.statement(kind, pad, depth)
        return out or self.step(pad)

    def statement(self, kind: str, pad: str, depth: int) -> list[str]:
        if kind == "step":
            return self.step(pad)
        if kind == "compute":
            return self.compute(pad)
        if kind == "again":
            return [f"{pad}compute again {self.rng.choice(self.computed)}"] if self.computed else []
        if kind == "hold":
            return [f'{pad}hold {self.new("h")} "All well" by lead']
        if kind == "danger":
            return [f"{pad}danger beam", *self.step(pad)]
        if kind in ("set", "perform", "each"):
            return {"set": self.setting, "perform": self.perform, "each": self.each}[kind](pad)
        if kind == "when":
            out = [f"{pad}when {self.condition()}", *self.scoped(pad + "  ", depth - 1)]
            return [*out, f"{pad}otherwise", *self.scoped(pad + "  ", depth - 1)] if self.rng.random() < 0.5 else out
        if kind == "arms":
            subject, labels = ("slab", ("rock", "soil"))
            if self.choices and self.rng.random() < 0.5:
                subject, labels = self.rng.choice(self.choices), ("left", "right")
            out = [f"{pad}according to {subject}"]
            for label in labels:
                out += [f"{pad}  {label}", *self.scoped(pad + "    ", depth - 1)]
            return out
        if kind == "group":
            out = [f"{pad}in any order"]
            for _ in range(2):
                kept = self.kept()
                out += self.step(pad + "  ")
                self.restore(kept)
            return out
        kept = self.kept()
        out = [
            f"{pad}repeat {self.new('r')} at most {self.rng.randint(1, 3)} times",
            *self.block(pad + "  ", depth - 1, 2),
        ]
        out += [f"{pad}  leave when {self.condition()}", *self.step(pad + "  ")]
        self.restore(kept)
        return [*out, f"{pad}otherwise", *self.scoped(pad + "  ", 0)] if self.rng.random() < 0.5 else out


def drawn(seed: int, wrong: int | None = None) -> tuple[str, Draw]:
    """A procedure and what is known of it. With `wrong`, that operand is of another kind and all else is the same."""
    draw = Draw(Random(seed), wrong)
    begun = draw.step("  ")
    return HEADER + "\n".join([*begun, *draw.block("  ", 2, 7)]) + "\n", draw
