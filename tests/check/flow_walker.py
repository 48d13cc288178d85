"""Every run of a small procedure, one after the other: which lines it comes to, and what it uses before it is set.

It walks the tree that the parser makes and nothing else of the checker. Runs keep to what they have found: the site has
one slab, a reading one verdict. In `free` runs each condition goes either way each time it is met, which is what the
language promises to prove names for.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator

import attrs

from proclang.syntax import nodes as n
from proclang.syntax.parse import parse
from proclang.text.span import Source

SURVEY = """\
proclang 1
procedure survey "Survey, training example"
needs
  crew lead
  authority lead
gives drop
section look "Look"
  step read "Read." by lead
    measure drop in mm
      at most 2 mm
"""

HEAD = """\
proclang 1
procedure trial "Trial"
labels pair 1, 2
inputs
  slab: one of concrete, steel
  reach: length
needs
  crew lead
  authority lead
section main "Main"
"""

_MOST_LINES = 4_000
"""Lines gone through in all runs together; a procedure with more is left out."""

_VERDICTS = ("passes", "fails", "undecided")


class TooManyRuns(Exception):
    """The procedure has more runs than can be walked here."""


@attrs.frozen
class Run:
    """One run under way."""

    names: frozenset[str] = frozenset()
    facts: tuple[tuple[str, str], ...] = ()
    over: bool = False
    """Ended by a deviation: no run of the procedure's own."""


@attrs.define
class Seen:
    """What all runs have met. Lines are numbers of lines."""

    unset: set[int] = attrs.field(factory=set)
    """Lines on which some run uses a name that is not set."""

    come_to: set[int] = attrs.field(factory=set)
    """Whens, arms and `otherwise` whose block was entered, and ways out of loops that were taken."""

    stayed: set[int] = attrs.field(factory=set)
    """Ways out of loops that some run came to and did not take."""

    changed: set[int] = attrs.field(factory=set)
    """Ways out of loops that some run took after it had come to them in vain, in one going through of the loop."""

    met: set[int] = attrs.field(factory=set)
    """Lines of `when`, `otherwise`, arms and `leave when` at which some run decided."""


class Walker:
    """Walks one procedure. Free runs forget what conditions said."""

    def __init__(self, text: str, *, free: bool) -> None:
        self.free = free
        self.seen = Seen()
        self._lines = 0
        self._source = Source("trial.proc", text)
        self._tree = parse(self._source).tree

    def walk(self) -> Seen:
        """All runs."""
        (section,) = self._tree.all(n.Section)
        starts = [Run()] if self.free else [
            Run(facts=(("slab", slab), ("reach against 3 m", order)))
            for slab in ("concrete", "steel") for order in "<=>"
        ]  # fmt: skip
        runs = [Run(run.names | {"slab", "reach"}, run.facts) for run in starts]
        self._block(section.body, runs)
        return self.seen

    def line(self, node: n.Node) -> int:
        """The line a node begins on."""
        return self._source.place(node.span.start)[0]

    def _block(self, body: tuple[n.Node, ...], runs: list[Run]) -> list[Run]:
        for node in body:
            ended = [run for run in runs if run.over]
            going = dict.fromkeys(after for run in runs if not run.over for after in self._one(node, run))
            runs = [*ended, *going]
        return runs

    def _one(self, node: n.Node, run: Run) -> list[Run]:
        self._lines += 1
        if self._lines > _MOST_LINES:
            raise TooManyRuns
        self._uses(node, run)
        if isinstance(node, n.Step):
            return self._block(node.body, [run])
        if isinstance(node, n.MeasureAgain) and node.name.text not in run.names:
            return [run]  # what is not there is not read again
        if isinstance(node, (n.Measure, n.MeasureAgain)):
            return self._judged(run, node.name.text)
        if isinstance(node, n.Choose):
            if self.free:
                return [attrs.evolve(run, names=run.names | {node.name.text})]
            return [_with(run, node.name.text, option.text) for option in node.options]
        if isinstance(node, n.Compute):
            return [attrs.evolve(run, names=run.names | {x.name.text for x in node.targets})]
        if isinstance(node, n.Perform):
            (take,) = (x for x in node.parts if isinstance(x, n.Take))
            return self._judged(run, (take.into or take.name).text)
        if isinstance(node, n.When):
            return self._when(node, run)
        if isinstance(node, n.According):
            out = []
            for arm in node.arms:
                assert isinstance(arm, n.Arm)
                self.seen.met.add(self.line(arm))
                label = str(arm.labels[0])
                if self.free or dict(run.facts)[node.subject.text] == label:
                    self.seen.come_to.add(self.line(arm))
                    out += self._block(arm.body, [run])
            return out
        if isinstance(node, n.Repeat):
            return self._repeat(node, run)
        if isinstance(node, n.ForEach):
            runs = [run]
            for _ in ("1", "2"):
                runs = self._block(node.body, runs)
            return runs
        if isinstance(node, n.AnyOrder):
            one, two = node.body
            return [*self._block((one, two), [run]), *self._block((two, one), [run])]
        return [run]

    def _judged(self, run: Run, name: str) -> list[Run]:
        if self.free:
            return [attrs.evolve(run, names=run.names | {name})]
        return [_with(run, name, verdict) for verdict in _VERDICTS]

    def _uses(self, node: n.Node, run: Run) -> None:
        names: set[str] = set()
        if isinstance(node, n.Step):
            names = {insert.value.name.text for insert in node.title.inserts}
        elif isinstance(node, n.Compute):
            names = {x.name.text for x in node.value.walk() if isinstance(x, n.Reference)}
        elif isinstance(node, (n.When, n.LeaveWhen)):
            names = {x.name.text for x in node.condition.walk() if isinstance(x, n.Reference)}
        elif isinstance(node, n.MeasureAgain):
            names = {node.name.text}
        elif isinstance(node, n.According):
            names = {node.subject.text}
        if not names <= run.names:
            self.seen.unset.add(self.line(node))

    def _answers(self, condition: n.Expression, run: Run) -> tuple[bool, ...]:
        """What a condition may say here."""
        facts = dict(run.facts)
        if self.free:
            return (True, False)
        if isinstance(condition, n.Unary):
            return tuple(not x for x in self._answers(condition.operand, run))
        if isinstance(condition, n.Binary) and condition.operator in ("and", "or"):
            (left,), (right,) = self._answers(condition.left, run), self._answers(condition.right, run)
            return (left and right,) if condition.operator == "and" else (left or right,)
        if isinstance(condition, n.Binary):
            return (facts["reach against 3 m"] in condition.operator,)
        assert isinstance(condition, (n.Being, n.Judged))
        assert isinstance(condition.value, n.Reference)
        wanted = condition.label.text if isinstance(condition, n.Being) else condition.outcome
        return (facts.get(condition.value.name.text) == wanted,)

    def _when(self, node: n.When, run: Run) -> list[Run]:
        self.seen.met.add(self.line(node))
        out = []
        for holds in self._answers(node.condition, run):
            if holds:
                self.seen.come_to.add(self.line(node))
                out += self._block(node.body, [run])
            elif node.otherwise is not None:
                self.seen.come_to.add(self.line(node.otherwise))
                out += self._block(node.otherwise.body, [run])
            else:
                out.append(run)
        if node.otherwise is not None:
            self.seen.met.add(self.line(node.otherwise))
        return out

    def _repeat(self, node: n.Repeat, run: Run) -> list[Run]:
        out: list[Run] = []
        going: list[tuple[Run, frozenset[int]]] = [(run, frozenset())]
        for _ in range(int(node.times.typed)):
            stayed: dict[tuple[Run, frozenset[int]], None] = {}
            for here, vain in going:
                for after, left, now in self._until_left(node.body, here, vain):
                    if left or after.over:
                        out.append(after)
                    else:
                        stayed.setdefault((after, now))
            going = list(stayed)
        for here, _ in going:
            if node.otherwise is not None:
                out += self._block(node.otherwise.body, [here])
            elif any(isinstance(x, n.LeaveWhen) for x in node.body):
                out.append(attrs.evolve(here, over=True))
            else:
                out.append(here)
        return out

    def _until_left(
        self, body: tuple[n.Node, ...], run: Run, vain: frozenset[int]
    ) -> Iterator[tuple[Run, bool, frozenset[int]]]:
        if not body or run.over:
            yield run, False, vain
            return
        first, *rest = body
        if not isinstance(first, n.LeaveWhen):
            for after in self._one(first, run):
                yield from self._until_left(tuple(rest), after, vain)
            return
        line = self.line(first)
        self._uses(first, run)
        self.seen.met.add(line)
        for holds in self._answers(first.condition, run):
            if holds:
                self.seen.come_to.add(line)
                if line in vain:
                    self.seen.changed.add(line)
                yield run, True, vain
            else:
                self.seen.stayed.add(line)
                yield from self._until_left(tuple(rest), run, vain | {line})


def _with(run: Run, name: str, fact: str) -> Run:
    facts = tuple(sorted({**dict(run.facts), name: fact}.items()))
    return attrs.evolve(run, names=run.names | {name}, facts=facts)


# ---------------------------------------------------------------------------- procedures at random


def procedure_at_random(seed: int) -> str:
    """A procedure nobody has thought about: names are used here and there, whether set or not."""
    draw = _Draw(random.Random(seed))
    lines = draw.block(1, 3)
    return HEAD + '  step begin "Begin."\n' + "\n".join([*lines, *draw.use(1)]) + "\n"


@attrs.define
class _Draw:
    rng: random.Random
    number: int = 0
    single: list[str] = attrs.field(factory=list)
    """Names that some line sets and that have a verdict."""

    chosen: list[str] = attrs.field(factory=list)
    series: list[str] = attrs.field(factory=list)
    _taken: set[str] = attrs.field(factory=set)
    _each: int = 0

    def name(self, what: str) -> str:
        self.number += 1
        return f"{what}_{self.number}"

    def block(self, depth: int, left: int, fewest: int = 1) -> list[str]:
        return [line for _ in range(self.rng.randint(fewest, 2)) for line in self.statement(depth, left)]

    def use(self, depth: int) -> list[str]:
        """A line that uses a name."""
        pad = "  " * depth
        known = [*self.single, *self.chosen]
        if self.series and self.rng.random() < 0.3:
            return [f"{pad}compute {self.name('c')} = mean({self.rng.choice(self.series)})"]
        if not known:
            return [f'{pad}step {self.name("s")} "Look."']
        return [f'{pad}step {self.name("s")} "Use {{{self.rng.choice(known)}}}."']

    def set_single(self, name: str, depth: int) -> list[str]:
        pad = "  " * depth
        if self.rng.random() < 0.15:
            return [f"{pad}perform survey as {self.name('p')}", f"{pad}  gives drop as {name}"]
        step = f'{pad}step {self.name("s")} "Read."'
        return [step, f"{pad}  measure {name} in mm", f"{pad}    at most 2 mm"]

    def set_new(self, depth: int) -> list[str]:
        if self._each:
            return self.use(depth)
        if self.rng.random() < 0.3:
            name = self.name("w")
            self.chosen.append(name)
            return [f'{"  " * depth}step {self.name("s")} "Ask."', f'{"  " * depth}  choose {name} from a, b "Which?"']
        name = self.name("x")
        lines = self.set_single(name, depth)
        self.single.append(name)
        return lines

    def condition(self) -> str:
        kinds: list[Callable[[], str]] = [
            lambda: f"slab is {self.rng.choice(('steel', 'concrete'))}",
            lambda: f"reach {self.rng.choice(('<', '<=', '>', '>='))} 3 m",
        ]
        if self.single:
            judged = lambda: f"{self.rng.choice(self.single)} {self.rng.choice(('passes', 'fails'))}"  # noqa: E731
            kinds += [judged, judged, judged]
        if self.chosen:
            kinds.append(lambda: f"{self.rng.choice(self.chosen)} is {self.rng.choice('ab')}")
        text = self.rng.choice(kinds)()
        draw = self.rng.random()
        if draw < 0.15:
            return f"not ({text})"
        if draw < 0.3:
            return f"{text} {self.rng.choice(('and', 'or'))} {self.rng.choice(kinds)()}"
        return text

    def statement(self, depth: int, left: int) -> list[str]:
        pad = "  " * depth
        kinds = (
            ["set"] * 4
            + ["use"] * 2
            + ["again"]
            + (["when"] * 4 + ["arms", "repeat", "repeat", "each", "order", "both"]) * bool(left)
        )
        kind = self.rng.choice(kinds)
        if kind == "set":
            return self.set_new(depth)
        if kind == "use":
            return self.use(depth)
        if kind == "again":
            if not self.single or self._each:
                return self.use(depth)
            return [f'{pad}step {self.name("s")} "Read."', f"{pad}  measure again {self.rng.choice(self.single)}"]
        if kind == "when":
            lines = [f"{pad}when {self.condition()}", *self.block(depth + 1, left - 1)]
            if self.rng.random() < 0.5:
                lines += [f"{pad}otherwise", *self.block(depth + 1, left - 1)]
            return lines
        if kind == "both":  # both ways set one name
            condition = self.condition()
            if self._each:
                return self.use(depth)
            name = self.name("x")
            lines = [f"{pad}when {condition}", *self.set_single(name, depth + 1)]
            lines += [f"{pad}otherwise", *self.set_single(name, depth + 1)]
            self.single.append(name)
            return lines
        if kind == "arms":
            lines = [f"{pad}according to slab", f"{pad}  concrete", *self.block(depth + 2, left - 1)]
            return [*lines, f"{pad}  steel", *self.block(depth + 2, left - 1)]
        if kind == "order":
            if self._each:
                return self.use(depth)
            name, other = self.name("x"), self.name("x")
            lines = [f"{pad}in any order", f'{pad}  step {self.name("s")} "Read."']
            lines += [f"{pad}    measure {name} in mm", f"{pad}      at most 2 mm"]
            inside = self.use(depth + 1)
            if inside[0].lstrip().startswith("step"):
                lines += inside
            else:
                lines += [f'{pad}  step {self.name("s")} "Read."']
            lines += [f"{pad}    measure {other} in mm", f"{pad}      at most 2 mm"]
            self.single += [name, other]
            return lines
        if kind == "each":
            label, name = self.name("k"), self.name("y")
            self._each += 1
            lines = [f"{pad}for each {label} of pair", *self.block(depth + 1, left - 1)]
            lines += [f'{pad}  step {self.name("s")} "Read."', f"{pad}    measure {name}[{label}] in mm"]
            self._each -= 1
            if not self._each:
                self.series.append(name)
            return lines
        lines = [f"{pad}repeat {self.name('r')} at most {self.rng.randint(1, 2)} times"]
        lines += self.block(depth + 1, left - 1)
        if self.rng.random() < 0.8:
            lines += [f"{pad}  leave when {self.condition()}", *self.block(depth + 1, left - 1, fewest=0)]
            if self.rng.random() < 0.3:
                lines += [f"{pad}  leave when {self.condition()}"]
            if self.rng.random() < 0.5:
                lines += [f"{pad}otherwise", *self.block(depth + 1, left - 1)]
        return lines
