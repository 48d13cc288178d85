"""Every run of one procedure, for its values: whether each is set where it is used, and fresh at the end.

The same walker as for the hardware, looking at something else: which labels of which values have been read or computed
on a run, and which of them a later step has upset. Each file is gone through by itself; what it performs gives values.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product

from walked_state import Broken, Env, Facts, State, forget, put, references, spelled, value_of
from walker import Followed, Runs, Walker, Went, names_set

from proclang.field import registry
from proclang.syntax import nodes as n

FRESH, STALE = "fresh", "stale"


def walk_values(walker: Walker, name: str) -> frozenset[Broken]:
    """What the runs of one file break about its values."""
    tree = walker.trees[name]
    key = ("values", name, walker.reached(name))
    known = walker.kept.get(key)
    if known is None:
        before, walker.broken = walker.broken, set()
        followed = _Values(walker, name, frozenset())
        followed.begin(tree)
        followed.whole(State((), frozenset(), frozenset()))
        known = frozenset(walker.broken)
        walker.kept[key] = known
        walker.broken = before
    return known  # type: ignore[return-value]


class _Values(Followed):
    def begin(self, tree: n.File) -> None:
        """What can be said of the file as a whole."""
        self.loops: dict[str, list[tuple[str, ...]]] = {}
        for loop in tree.every(n.ForEach):
            self.loops.setdefault(loop.variable.text, []).append(self.names.sets.get(loop.labels.text, ()))
        self.series: dict[str, list[tuple[n.Label, ...]]] = {}
        for measure in tree.every(n.Measure):
            self.series.setdefault(measure.name.text, []).append(measure.labels)
        for compute in tree.every(n.Compute):
            for target in compute.targets:
                self.series.setdefault(target.name.text, []).append(target.labels)
        self.always = set(self.names.inputs) | self.names.columns | {"hemisphere"}
        self.ends_with = {name for name in self.series if self.names.judged(name)} | set(self.names.gives)

    def whole(self, start: State) -> Runs:
        """From the first line to the last; at the end nothing judged or given may be stale."""
        runs: Runs = {start}
        sections = self.tree.all(n.Section)
        for at, section in enumerate(sections):
            later = frozenset().union(*(self._asked_in(s.body) for s in sections[at + 1 :]), self.ends_with)
            runs, _ = self._block(section.body, runs, {}, later)
        for run in runs:
            for key, state in run.own:
                what, _, rest = key.partition(" ")
                if what == "value" and state == STALE and rest.partition("[")[0] in self.ends_with:
                    self.walker.broken.add(Broken("left-stale", self.name, 0, rest))
            for name in self.names.gives:
                if name not in self.always and not self._is_set(run, name, ()):
                    self.walker.broken.add(Broken("not-set", self.name, 0, name))
        return runs

    # ------------------------------------------------------------------ what is used

    def _asked_in(self, body: Iterable[n.Node]) -> frozenset[str]:
        found: set[str] = set()
        for node in body:
            known = self.walker._needed.get(-id(node))
            if known is None:
                names = {x.name.text for x in node.walk() if isinstance(x, (n.Reference, n.MeasureAgain))}
                names |= {x.subject.text for x in node.walk() if isinstance(x, n.According)}
                for again in node.walk():
                    if isinstance(again, n.ComputeAgain):
                        names.add(again.name.text)
                        names |= references(self._formula(again.name.text))
                known = frozenset(names)
                self.walker._needed[-id(node)] = known
                self.walker._alive.append(node)
            found |= known
        return frozenset(found)

    def _formula(self, name: str) -> n.Node:
        made = self.names.defined.get(name)
        return made.value if isinstance(made, n.Compute) else n.Name("", span=self.tree.span)

    def _asks_now(self, node: n.Node, run: State) -> bool:
        return True

    def _counted(self, node: n.Node, counts: list[n.Counts], run: State, env: Env) -> Iterator[State]:
        yield run

    def _is_set(self, run: State, name: str, labels: tuple[str, ...]) -> bool:
        if value_of(run.own, f"value {name}") is not None:
            return True
        if labels:
            return value_of(run.own, f"value {name}[{','.join(labels)}]") is not None
        return any(
            all(value_of(run.own, f"value {key}") is not None for key in keys)
            for keys in (self._keys(name, axes) for axes in self.series.get(name, ()))
            if keys
        )

    def _keys(self, name: str, axes: tuple[n.Label, ...], env: Env | None = None) -> list[str]:
        """All labels of a series; those of loops written out, or as the loops stand."""
        spread: list[list[str]] = []
        listed: list[str] = []
        for axis in axes:
            if isinstance(axis, n.Name) and env is not None and axis.text in env:
                spread.append([env[axis.text]])
            elif isinstance(axis, n.Name) and axis.text in self.loops:
                spread.append(list(self.loops[axis.text][0]))
            elif isinstance(axis, n.Name) and axis.text in self.names.sets:
                spread.append(list(self.names.sets[axis.text]))
            else:
                listed += spelled((axis,), {}, self.names, whole=False)
        if listed:
            spread.append(listed)
        if not spread:
            return [name]
        return [f"{name}[{','.join(labels)}]" for labels in product(*spread)]

    def _missing(self, node: n.Node, run: State, env: Env) -> str | None:
        """A name that something uses and that is not set on this run."""
        words = _words(node, self.walker)
        for inner in node.walk():
            if not isinstance(inner, n.Reference):
                continue
            name = inner.name.text
            if name in self.always or name in env or (id(inner) in words and name not in self.series):
                continue
            labels = tuple(spelled(inner.labels, env, self.names, whole=False))
            if not self._is_set(run, name, labels):
                return name
        return None

    def _fit(self, nodes: Iterable[n.Node | None], runs: Runs, env: Env) -> Runs:
        """The runs on which all that some nodes use is set."""
        fit = set(runs)
        for node in nodes:
            if node is None:
                continue
            for run in list(fit):
                missing = self._missing(node, run, env)
                if missing is not None:
                    self._break("not-set", node, missing)
                    fit.discard(run)
        return fit

    # ------------------------------------------------------------------ lines

    def _line(self, node: n.Node, runs: Runs, env: Env, later: frozenset[str]) -> Went:
        if isinstance(node, n.Step):
            shown: list[n.Node | None] = [node.title, node.takes]
            shown += list(_shown(node.body))
            runs = self._fit(shown, runs, env)
            return super()._line(node, runs, env, later)
        if isinstance(node, (n.When, n.LeaveWhen)):
            runs = self._fit([node.condition], runs, env)
        elif isinstance(node, n.According) and node.subject.text not in env:
            subject = n.Reference(node.subject, span=node.subject.span)
            runs = self._fit([subject], runs, env)
        return super()._line(node, runs, env, later)

    def _single(self, node: n.Node, run: State, env: Env) -> Iterator[State]:
        if isinstance(node, (n.Require, n.Now, n.Prose, n.Figure, n.Stopped)):
            yield run
            return
        if isinstance(node, n.Upsets):
            for after in super()._single(node, run, env):
                upset = self._resting_on({x.text for x in node.names})
                yield after._replace(own=self._stale(after.own, upset))
            return
        for used in _used(node):
            missing = self._missing(used, run, env)
            if missing is not None:
                self._break("not-set", node, missing)
                return
        state = FRESH
        keys: list[str] = []
        if isinstance(node, n.Measure):
            keys = self._keys(node.name.text, node.labels, env)
        elif isinstance(node, n.MeasureAgain):
            if not any(key.partition("[")[0] == f"value {node.name.text}" for key, _ in run.own):
                self._break("not-set", node, node.name.text)
                return
            series = self.series.get(node.name.text, [()])
            keys = self._keys(node.name.text, node.labels or series[0], env)
        elif isinstance(node, (n.Compute, n.ComputeAgain)):
            formula = node.value if isinstance(node, n.Compute) else self._formula(node.name.text)
            missing = self._missing(formula, run, env)
            if missing is not None:
                self._break("not-set", node, missing)
                return
            if self._any_stale(formula, run, env):
                state = STALE
            targets = node.targets if isinstance(node, n.Compute) else (n.Target(node.name, span=node.span),)
            keys = [key for target in targets for key in self._keys(target.name.text, target.labels, env)]
        else:
            keys = list(names_set(node, self.names))
        for after in super()._single(node, run, env):
            own = after.own
            for key in keys:
                own = put(own, f"value {key}", state)
            yield after._replace(own=own)

    def _any_stale(self, formula: n.Node, run: State, env: Env) -> bool:
        for inner in formula.walk():
            if isinstance(inner, n.Reference):
                labels = ",".join(spelled(inner.labels, env, self.names, whole=False))
                name = inner.name.text
                for key, state in run.own:
                    exact = {f"value {name}", f"value {name}[{labels}]"}
                    whole = not labels and key.startswith(f"value {name}[")
                    if state == STALE and (key in exact or whole):
                        return True
        return False

    def _stale(self, own: Facts, upset: set[str]) -> Facts:
        return frozenset(
            (key, STALE) if key.startswith("value ") and key[6:].partition("[")[0] in upset else (key, value)
            for key, value in own
        )

    def _performed(self, call: n.Perform, run: State, env: Env) -> Iterator[State]:
        for part in call.parts:
            if isinstance(part, n.With):
                missing = self._missing(part, run, env)
                if missing is not None:
                    self._break("not-set", part, missing)
                    return
        own = run.own
        for name in names_set(call, self.names):
            own = put(forget(own, name), f"value {name}", FRESH)
        yield run._replace(own=own)


def _shown(body: Iterable[n.Node]) -> Iterator[n.Node]:
    """The sentences that are shown with a step before anything in it is asked."""
    for node in body:
        if isinstance(node, n.Prose):
            yield node.text
        elif isinstance(node, n.When):
            continue


def _used(node: n.Node) -> Iterator[n.Node]:
    """What a line uses when it is come to."""
    if isinstance(node, (n.Measure, n.Compute)):
        yield from node.facets
    elif isinstance(node, n.ComputeAgain) or not isinstance(node, (n.MeasureAgain, n.Hazard)):
        yield node


def _words(node: n.Node, walker: Walker) -> set[int]:
    """References that are words of a calculation, or answers that a performed procedure knows, and no values."""
    found: set[int] = set()
    for inner in node.walk():
        if isinstance(inner, n.Call):
            calculation = registry.find(inner.name.text)
            words = {word for p in calculation.parameters for word in p.choices} if calculation is not None else set()
            for argument in inner.arguments:
                if isinstance(argument.value, n.Reference) and argument.value.name.text in words:
                    found.add(id(argument.value))
        elif isinstance(inner, n.With) and isinstance(inner.value, n.Reference):
            for tree in walker.trees.values():
                for one in tree.every(n.Input):
                    if one.name.text == inner.name.text and inner.value.name.text in {c.text for c in one.kind.choices}:
                        found.add(id(inner.value))
    return found
