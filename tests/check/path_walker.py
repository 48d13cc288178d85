"""Every run of a small procedure, one after the other, by brute force.

It walks the tree that the parser makes and nothing else of the checker: an oracle for what the analyses find by going
along all ways at once. Small procedures only: the runs double with every verdict.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

import attrs

from proclang.syntax import nodes as n
from proclang.syntax.parse import parse
from proclang.text.span import Source

ITEMS = {"cap": ("fitted", "removed"), "hook": ("landed", "hanging")}

MACHINE = """\
proclang 1
machine rig "Rig, training example"
kind cover
  states fitted, removed
kind load
  states landed, hanging
cap: cover "cap"
hook: load "load"
interlock hook is hanging only while cap is fitted
"""

HEAD = """\
proclang 1
procedure trial "Trial"
labels pair 1, 2
inputs
  slab: one of concrete, steel
  crane: one of small, large
needs
  crew lead
  authority lead
machine rig
  cap found fitted, left fitted
  hook found landed, left landed
section main "Main"
  step begin "Begin."
"""


@attrs.frozen
class Run:
    """One run under way: hardware, facts, verdicts, and whether a rule was broken."""

    hardware: dict[str, str]
    facts: dict[str, str]
    verdicts: dict[str, bool]
    broken: bool = False
    over: bool = False
    """Ended by a deviation: no run of the procedure's own."""

    stops: tuple[tuple[tuple[str, str], ...], ...] = ()
    """The hardware at each question at which it might be stopped."""


def breaks(text: str) -> bool:
    """Whether any run of a procedure breaks a rule of its hardware."""
    tree = parse(Source("trial.proc", text)).tree
    (section,) = tree.all(n.Section)
    for slab in ("concrete", "steel"):
        for crane in ("small", "large"):
            start = Run({"cap": "fitted", "hook": "landed"}, {"slab": slab, "crane": crane}, {})
            for run in _block(section.body, start):
                if run.broken or (not run.over and run.hardware != {"cap": "fitted", "hook": "landed"}):
                    return True
    return False


def unsafe_stops(text: str) -> bool:
    """Whether some run, stopped at some question, breaks an interlock in its `if stopped` or does not end with the hook
    landed and the cap fitted. Of runs that break no rule before."""
    tree = parse(Source("trial.proc", text)).tree
    (section,) = tree.all(n.Section)
    (stopped,) = (x for x in section.body if isinstance(x, n.Stopped))
    seen: set[tuple[tuple[str, str], ...]] = set()
    for slab in ("concrete", "steel"):
        for crane in ("small", "large"):
            start = Run({"cap": "fitted", "hook": "landed"}, {"slab": slab, "crane": crane}, {})
            for run in _block(tuple(x for x in section.body if x is not stopped), start):
                seen.update(run.stops)
    for at in seen:
        for after in _block(stopped.body, Run(dict(at), {}, {})):
            if after.broken or after.hardware != {"cap": "fitted", "hook": "landed"}:
                return True
    return False


def _block(body: tuple[n.Node, ...], run: Run) -> Iterator[Run]:
    if not body or run.broken or run.over:
        yield run
        return
    first, *rest = body
    for after in _one(first, run):
        yield from _block(tuple(rest), after)


def _one(node: n.Node, run: Run) -> Iterator[Run]:
    if isinstance(node, n.Step):
        yield from _block(node.body, attrs.evolve(run, stops=(*run.stops, tuple(sorted(run.hardware.items())))))
    elif isinstance(node, n.Now):
        hardware = {**run.hardware, node.place.name.text: node.state.text}
        forbidden = hardware["hook"] == "hanging" and hardware["cap"] != "fitted" and hardware != run.hardware
        yield attrs.evolve(run, hardware=hardware, broken=run.broken or forbidden)
    elif isinstance(node, n.Require):
        wrong = run.hardware[node.place.name.text] != node.state.text
        yield attrs.evolve(run, broken=run.broken or wrong)
    elif isinstance(node, n.Measure):
        for passes in (True, False):
            yield attrs.evolve(run, verdicts={**run.verdicts, node.name.text: passes})
    elif isinstance(node, n.When):
        if _holds(node.condition, run):
            yield from _block(node.body, run)
        elif node.otherwise is not None:
            yield from _block(node.otherwise.body, run)
        else:
            yield run
    elif isinstance(node, n.Repeat):
        yield from _loop(node, run, int(node.times.typed))
    elif isinstance(node, n.ForEach):
        runs = [run]
        for _ in ("1", "2"):
            runs = [after for one in runs for after in _block(node.body, one)]
        yield from runs
    else:
        raise AssertionError(type(node))


def _loop(node: n.Repeat, run: Run, left: int) -> Iterator[Run]:
    if not left:
        if node.otherwise is not None:
            yield from _block(node.otherwise.body, run)
        else:
            yield attrs.evolve(run, over=True)
        return
    for after, out in _until_left(node.body, run):
        if out or after.broken or after.over:
            yield after
        else:
            yield from _loop(node, after, left - 1)


def _until_left(body: tuple[n.Node, ...], run: Run) -> Iterator[tuple[Run, bool]]:
    if not body or run.broken or run.over:
        yield run, False
        return
    first, *rest = body
    if isinstance(first, n.LeaveWhen):
        if _holds(first.condition, run):
            yield run, True
        else:
            yield from _until_left(tuple(rest), run)
        return
    for after in _one(first, run):
        yield from _until_left(tuple(rest), after)


def _holds(condition: n.Expression, run: Run) -> bool:
    if isinstance(condition, n.Being):
        assert isinstance(condition.value, n.Reference)
        return run.facts[condition.value.name.text] == condition.label.text
    assert isinstance(condition, n.Judged)
    assert isinstance(condition.value, n.Reference)
    return run.verdicts[condition.value.name.text] == (condition.outcome == "passes")


# ---------------------------------------------------------------------------- procedures at random


def procedure_at_random(seed: int) -> str:
    """A procedure nobody has thought about: things are taken off and put back more often right than wrong."""
    draw = _Draw(random.Random(seed))
    lines = draw.block(1, 3)
    return HEAD + "\n".join(lines) + "\n"


def with_a_stop(text: str, seed: int) -> str:
    """The same with an `if stopped` nobody has thought about either."""
    rng = random.Random(seed)
    lines = ["  if stopped", '    step halt "Halt."']
    for number in range(rng.randint(1, 3)):
        item = rng.choice(list(ITEMS))
        lines += [f'    step act_{number} "Act."', f"      now {item} is {ITEMS[item][0]}"]
    return text + "\n".join(lines) + "\n"


class _Draw:
    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.number = 0
        self.read: list[str] = []

    def name(self, what: str) -> str:
        self.number += 1
        return f"{what}_{self.number}"

    def step(self, line: str, depth: int) -> list[str]:
        return [f'{"  " * depth}step {self.name("s")} "Act."', f"{'  ' * (depth + 1)}{line}"]

    def block(self, depth: int, left: int) -> list[str]:
        lines: list[str] = []
        for _ in range(self.rng.randint(1, 2)):
            lines += self.statement(depth, left)
        return lines

    def statement(self, depth: int, left: int) -> list[str]:
        pad = "  " * depth
        kind = self.rng.choice(["pair"] * 5 + ["when"] * 3 + ["now", "require", "measure", "repeat", "each"])
        item = self.rng.choice(list(ITEMS))
        usual, other = ITEMS[item]
        if kind == "pair":
            inside = self.block(depth, left - 1) if left else []
            return [*self.step(f"now {item} is {other}", depth), *inside, *self.step(f"now {item} is {usual}", depth)]
        if kind == "now":
            return self.step(f"now {item} is {self.rng.choice((usual, usual, usual, other))}", depth)
        if kind == "require" or not left:
            return self.step(f"require {item} is {usual}", depth)
        if kind == "measure":
            name = self.name("x")
            lines = [*self.step(f"measure {name} in mm", depth), f"{pad}    at most 2 mm"]
            lines += [f"{pad}when {name} passes", *self.block(depth + 1, left - 1)]
            return [*lines, f"{pad}otherwise", *self.block(depth + 1, left - 1)]
        if kind == "when":
            fact, label = self.rng.choice((("slab", "steel"), ("slab", "concrete"), ("crane", "large")))
            lines = [f"{pad}when {fact} is {label}", *self.block(depth + 1, left - 1)]
            if self.rng.random() < 0.4:
                lines += [f"{pad}otherwise", *self.block(depth + 1, left - 1)]
            return lines
        if kind == "each":
            label = self.name("k")
            return [f"{pad}for each {label} of pair", *self.block(depth + 1, left - 1)]
        name = self.name("x")
        body = [*self.step(f"measure {name} in mm", depth + 1), f"{pad}      at most 2 mm"]
        before, after = self.block(depth + 1, left - 1), self.block(depth + 1, left - 1)
        loop = [f"{pad}repeat {self.name('r')} at most 2 times", *before, *body, f"{pad}  leave when {name} passes"]
        lines = [*loop, *after]
        if self.rng.random() < 0.5:
            lines += [f"{pad}otherwise", *self.block(depth + 1, left - 1)]
        return lines
