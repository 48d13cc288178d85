"""Every run of a set of procedures, by brute force on the trees: an oracle that knows nothing of the checker.

The walker holds a set of concrete runs and takes all of them through each line: every arm, every outcome of a verdict,
every order of a group, every pass of a loop up to its bound. Runs that have become the same are one, which makes it
end; nothing is joined or approximated. A run that breaks a rule is noted and gone on with no further, for there the
runner stops. A performed procedure is gone through once for each concrete state it is begun in. At every question the
run may be stopped as well, and goes through the `if stopped` of its section and of those around it.

What it goes by is LANGUAGE.md, chapters 7 to 14 and 17. What it does not follow: corrections and deviations. Where a
condition compares readings it may hold or not, whatever another condition said of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from walked_state import (
    Broken,
    Conditions,
    Env,
    Facts,
    Names,
    State,
    forget,
    known_as,
    put,
    references,
    spelled,
    value_of,
)

from proclang.syntax import nodes as n

UNSAID = "?"
"""The state of an item of which nobody says how it is found."""

BACK = "back"
"""What is counted is back until a count takes it out."""

MOST_STATES = 20_000


class TooManyRuns(Exception):
    """More runs at one line than are followed."""


Runs = set[State]
Hardware = tuple[str, ...]
Went = tuple[Runs, Runs]
"""Runs at the end of some lines, and runs that left the loop around them."""


class Walker:
    """Goes through one folder. What performed procedures come to is kept, for other folders too."""

    def __init__(
        self, trees: Mapping[str, n.File], digests: Mapping[str, str], kept: dict[object, object] | None = None
    ) -> None:
        self.trees = trees
        self.digests = digests
        self.kept: dict[object, object] = {} if kept is None else kept
        self.broken: set[Broken] = set()
        self._names: dict[str, Names] = {}
        self._needed: dict[int, frozenset[str]] = {}
        self._alive: list[n.Node] = []
        self._reached: dict[str, tuple[str, ...]] = {}
        self.file = ""
        self.keys: list[str] = []
        self.kinds: dict[str, str] = {}
        self.first: list[str] = []
        for tree in trees.values():
            for item in (*tree.every(n.Item), *tree.every(n.CountedThing)):
                for label in spelled(item.labels, {}, Names(tree, None), whole=True) or [""]:
                    self.keys.append(item.name.text + (f"[{label}]" if label else ""))
                    self.first.append(UNSAID if isinstance(item, n.Item) else BACK)
        self.at = {key: place for place, key in enumerate(self.keys)}

    # ------------------------------------------------------------------ whole procedures

    def walk(self, entry: str) -> set[Broken]:
        """What the runs break that begin with a procedure."""
        self.broken = set()
        hardware = list(self.first)
        for line in self._hardware(entry):
            if line.found is not None:
                for key in self._items(line.place, {}, entry):
                    hardware[self.at[key]] = line.found.text
        start = State(tuple(hardware), frozenset(), frozenset(), tuple(hardware))
        _, stopped, idle = self._procedure(entry, start, frozenset())
        self.broken |= {Broken("already-so", entry, at, "") for at in idle}
        self._stopped_well(entry, tuple(hardware), stopped)
        return self.broken

    def _stopped_well(self, entry: str, start: Hardware, stopped: set[Hardware]) -> None:
        """What the machine wants to be so after a stop is so, if anything was moved at all."""
        for use in self.trees[entry].all(n.MachineUse):
            machine = self.trees.get(use.name.text)
            for rule in machine.every(n.MadeSafe) if machine is not None else ():
                for condition in rule.conditions:
                    for key in self._items(condition.place, {}, entry):
                        at = self.at[key]
                        if any(h[at] not in (condition.state.text, start[at]) for h in stopped):
                            self.broken.add(Broken("stopped-unsafe", entry, 0, key))

    def _hardware(self, name: str) -> Iterator[n.Hardware]:
        for use in self.trees[name].all(n.MachineUse):
            for line in use.items:
                if isinstance(line, n.Hardware):
                    yield line

    def names(self, name: str) -> Names:
        """The names of a file."""
        if name not in self._names:
            tree = self.trees[name]
            uses = tree.all(n.MachineUse)
            machine = self.trees.get(uses[0].name.text) if uses else None
            self._names[name] = Names(tree, machine)
        return self._names[name]

    def reached(self, name: str) -> tuple[str, ...]:
        """Which texts say what a procedure does: its own and those it performs and works on."""
        if name not in self._reached:
            found: list[str] = []
            todo = [name]
            while todo:
                at = todo.pop()
                tree = self.trees.get(at)
                if tree is None or self.digests[at] in found:
                    continue
                found.append(self.digests[at])
                todo += [call.procedure.text for call in tree.every(n.Perform)]
                todo += [use.name.text for use in tree.every(n.MachineUse)]
            self._reached[name] = tuple(sorted(found))
        return self._reached[name]

    def _procedure(self, name: str, start: State, handed: frozenset[str]) -> tuple[Runs, set[Hardware], set[int]]:
        """The runs at the end of a procedure that is begun in a state, how its stops leave the hardware, and which of
        its lines change nothing on any run. `own` of `start` is what was handed over."""
        key = (name, self.reached(name), start, handed)
        known = self.kept.get(key)
        if known is None:
            before, self.broken = self.broken, set()
            outside, self.file = self.file, name
            followed = Followed(self, name, handed)
            ends = followed.whole(start)
            known = (frozenset(self.broken), frozenset(ends), frozenset(followed.stopped), frozenset(followed.idle))
            self.kept[key] = known
            self.broken, self.file = before, outside
        broken, ends, stopped, idle = known  # type: ignore[misc]
        self.broken |= broken
        return set(ends), set(stopped), set(idle)

    def _items(self, place: n.Place, env: Env, name: str) -> list[str]:
        """The items a place means where loops stand."""
        labels = spelled(place.labels, env, self.names(name), whole=True)
        if labels:
            return [key for label in labels if (key := f"{place.name.text}[{label}]") in self.at]
        names = self.names(name)
        if place.name.text in names.sets:
            return [f"{place.name.text}[{label}]" for label in names.sets[place.name.text]]
        return [place.name.text] if place.name.text in self.at else []


class Followed:
    """One performing of a procedure."""

    def __init__(self, walker: Walker, name: str, handed: frozenset[str]) -> None:
        self.walker = walker
        self.name = name
        self.tree = walker.trees[name]
        self.names = walker.names(name)
        self.conditions = Conditions(self.names, handed)
        self.handed = handed
        uses = self.tree.all(n.MachineUse)
        machine = walker.trees.get(uses[0].name.text) if uses else None
        self.locks = machine.every(n.Interlock) if machine is not None else []
        self.quiet = [c for rule in machine.every(n.AskNothing) for c in rule.conditions] if machine is not None else []
        self.stopped: set[Hardware] = set()
        self.idle: set[int] = set()
        self._busy: set[int] = set()
        self.section: n.Section | None = None
        self.people: frozenset[str] = frozenset()
        self._asked_at: set[Hardware] = set()

    def whole(self, start: State) -> Runs:
        """From the first line to the last, and what is said of beginning and end."""
        sections = self.tree.all(n.Section)
        runs: Runs = {start}
        kept = frozenset(self.names.gives)
        for at, section in enumerate(sections):
            later = frozenset().union(*(self._asked_in(s.body) for s in sections[at + 1 :]), kept)
            self.section = section
            self._asked_at = set()
            runs, _ = self._block(section.body, runs, {}, later)
            self._stop_at(self._asked_at)
        ends: Runs = set()
        for run in runs:
            if self._ends_well(start, run):
                given = frozenset(f for f in run.own if f[0].partition(" ")[2].partition("[")[0] in kept)
                ends.add(run._replace(own=given))
        return ends

    def _ends_well(self, start: State, run: State) -> bool:
        walker = self.walker
        said: set[str] = set()
        for line in walker._hardware(self.name):
            if line.left is None:
                continue
            for key in walker._items(line.place, {}, self.name):
                said.add(key)
                if run.hardware[walker.at[key]] != line.left.text:
                    self._break("left-otherwise", line, key)
                    return False
        for key, before, after in zip(walker.keys, start.hardware, run.hardware, strict=True):
            if before != after and key not in said:
                walker.broken.add(Broken("left-unsaid", self.name, 0, key))
                return False
        return True

    # ------------------------------------------------------------------ questions and stops

    def _asks_now(self, node: n.Node, run: State) -> bool:
        """Somebody is asked: a run may be stopped here, and it must be a time to ask. Whether it is one."""
        self._asked_at.add(run.shown)
        for condition in self.quiet:
            for key in self.walker._items(condition.place, {}, self.name):
                if run.shown[self.walker.at[key]] == condition.state.text and not isinstance(node, n.Step):
                    self._break("asked-meanwhile", node, key)
                    return False
        return True

    def _stop_at(self, states: set[Hardware]) -> None:
        """Takes each hardware in which a run may be stopped through the `if stopped` of the section."""
        assert self.section is not None
        for hardware in states:
            at: State | None = State(hardware, frozenset(), frozenset(), hardware)
            for stopped in self.section.body:
                if isinstance(stopped, n.Stopped):
                    for node in stopped.walk():
                        if isinstance(node, n.Now) and at is not None:
                            at = self._moved(node.place, node.state.text, at, {}, node)
            if at is not None:
                self.stopped.add(at.hardware)

    def _break(self, rule: str, node: n.Node, about: str) -> None:
        self.walker.broken.add(Broken(rule, self.name, node.span.start, about))

    # ------------------------------------------------------------------ lines

    def _asked_in(self, body: Iterable[n.Node]) -> frozenset[str]:
        """The names that conditions under some lines ask for."""
        found: set[str] = set()
        for node in body:
            known = self.walker._needed.get(id(node))
            if known is None:
                names: set[str] = set()
                for inner in node.walk():
                    if isinstance(inner, (n.When, n.LeaveWhen)):
                        names |= references(inner.condition)
                    elif isinstance(inner, n.According):
                        names.add(inner.subject.text)
                    elif isinstance(inner, n.Perform):
                        names |= {name for part in inner.parts for name in references(part)}
                known = frozenset(names)
                self.walker._needed[id(node)] = known
                self.walker._alive.append(node)
            found |= known
        return frozenset(found)

    def _block(self, body: tuple[n.Node, ...], runs: Runs, env: Env, later: frozenset[str]) -> Went:
        """Takes runs through lines; `later` are the names that are still asked for behind them."""
        left: Runs = set()
        for at, node in enumerate(body):
            if not runs:
                break
            needed = later | self._asked_in(body[at + 1 :])
            runs, out = self._line(node, runs, env, needed)
            left |= out
            runs = self._without_the_past(runs, needed)
            if len(runs) > MOST_STATES:
                raise TooManyRuns(f"{self.name}: {len(runs)}")
        return runs, left

    def _without_the_past(self, runs: Runs, needed: frozenset[str]) -> Runs:
        """The runs without what nobody will ask for any more; many become one."""
        if all(not run.own for run in runs):
            return runs

        def wanted(key: str) -> bool:
            what, _, rest = key.partition(" ")
            if what == "condition":
                return bool(needed & set(rest.partition(":")[0].split()))
            return rest.partition("[")[0] in needed

        return {run._replace(own=frozenset(f for f in run.own if wanted(f[0]))) for run in runs}

    def _line(self, node: n.Node, runs: Runs, env: Env, later: frozenset[str]) -> Went:
        if isinstance(node, n.Step):
            return self._stepped(node, runs, env, later)
        if isinstance(node, (n.When, n.According)):
            runs = {run._replace(shown=run.hardware) for run in runs}
            return self._parted(node, runs, env, later)
        if isinstance(node, n.Repeat):
            return self._repeated(node, runs, env, later)
        if isinstance(node, n.ForEach):
            left: Runs = set()
            again = later | self._asked_in(node.body)
            for label in self.names.sets.get(node.labels.text, ()):
                runs, out = self._block(node.body, runs, {**env, node.variable.text: label}, again)
                left |= out
            return runs, left
        if isinstance(node, n.AnyOrder):
            return self._any_order(node, runs, env, later)
        if isinstance(node, n.LeaveWhen):
            inside: Runs = set()
            out = set()
            for run in runs:
                for holds, after in self.conditions.outcomes(node.condition, run, env):
                    (out if holds else inside).add(after)
            return inside, out
        if isinstance(node, n.Perform):
            return {after for run in runs for after in self._performed(node, run, env)}, set()
        return {after for run in runs for after in self._single(node, run, env)}, set()

    def _stepped(self, step: n.Step, runs: Runs, env: Env, later: frozenset[str]) -> Went:
        outside, self.people = self.people, frozenset(person.text for person in step.people)
        for run in runs:
            self._asks_now(step, run)
        ends, left = self._block(step.body, runs, env, later)
        self.people = outside
        return {run._replace(shown=run.hardware) for run in ends}, left

    def _parted(self, node: n.When | n.According, runs: Runs, env: Env, later: frozenset[str]) -> Went:
        ways: dict[int, tuple[tuple[n.Node, ...], Runs]] = {}

        def on(body: tuple[n.Node, ...], run: State) -> None:
            ways.setdefault(id(body), (body, set()))[1].add(run)

        nothing: tuple[n.Node, ...] = ()
        if isinstance(node, n.When):
            otherwise = node.otherwise.body if node.otherwise is not None else nothing
            for run in runs:
                for holds, after in self.conditions.outcomes(node.condition, run, env):
                    on(node.body if holds else otherwise, after)
        else:
            arms = {label: arm.body for arm in node.arms if isinstance(arm, n.Arm) for label in _plain(arm.labels)}
            for run in runs:
                for label, after in self.conditions.choice(node.subject.text, run, env):
                    if label in arms:
                        on(arms[label], after)
                    else:
                        self._break("arm-missing", node, label)
        ends: Runs = set()
        left: Runs = set()
        for body, some in ways.values():
            went, out = self._block(body, some, env, later)
            ends |= went
            left |= out
        return ends, left

    def _repeated(self, node: n.Repeat, runs: Runs, env: Env, later: frozenset[str]) -> Went:
        again = later | self._asked_in(node.body)
        if node.otherwise is not None:
            again |= self._asked_in(node.otherwise.body)
        ends: Runs = set()
        for _ in range(int(node.times.typed)):
            after, out = self._block(node.body, runs, env, again)
            ends |= out
            if after == runs:
                break
            runs = after
        if node.otherwise is None:  # going on is a deviation, and no run of the procedure's own
            return self._without_the_past(ends, later), set()
        went, left = self._block(node.otherwise.body, runs, env, later)
        return self._without_the_past(ends, later) | went, left

    def _any_order(self, node: n.AnyOrder, runs: Runs, env: Env, later: frozenset[str]) -> Went:
        again = later | self._asked_in(node.body)
        done: dict[frozenset[int], Runs] = {frozenset(): runs}
        everything = frozenset(range(len(node.body)))
        for _ in node.body:
            after: dict[frozenset[int], Runs] = {}
            for ready, some in done.items():
                for at in everything - ready:
                    went, _ = self._block((node.body[at],), some, env, again)
                    after.setdefault(ready | {at}, set()).update(went)
            done = after
        return done.get(everything, set()), set()

    # ------------------------------------------------------------------ what a line does

    def _single(self, node: n.Node, run: State, env: Env) -> Iterator[State]:
        if isinstance(node, n.Require):
            for key in self.walker._items(node.place, env, self.name):
                if run.hardware[self.walker.at[key]] != node.state.text:
                    self._break("state-required", node, key)
                    return
            yield run
        elif isinstance(node, n.Now):
            after = self._moved(node.place, node.state.text, run, env, node)
            changes = after is None or after.hardware != run.hardware
            self._busy |= {node.span.start} if changes else set()
            self.idle = (self.idle | {node.span.start}) - self._busy
            if after is not None:
                yield after
        elif isinstance(node, ASKING) and not self._asks_now(node, run):
            return
        elif isinstance(node, n.Upsets):
            own = run.own
            for name in self._resting_on({x.text for x in node.names}):
                own = forget(own, name)
                if name in self.names.asked:
                    own = put(own, f"verdict {name}", "undecided")
            yield run._replace(own=own)
        else:
            own = run.own
            for name in names_set(node, self.names):
                own = forget(own, name)
            after = run._replace(own=own)
            if isinstance(node, ASKING):
                after = after._replace(shown=after.hardware)
            counts = [facet for facet in getattr(node, "facets", ()) if isinstance(facet, n.Counts)]
            yield from self._counted(node, counts, after, env) if counts else (after,)

    def _counted(self, node: n.Node, counts: list[n.Counts], run: State, env: Env) -> Iterator[State]:
        """A count takes things out; one that passes shows them to be back, and one that fails shows nothing."""
        name = next(names_set(node, self.names))
        labels = node.labels if isinstance(node, n.Measure) else node.targets[0].labels  # type: ignore[attr-defined]
        value = n.Reference(n.Name(name, span=node.span), labels, span=node.span)
        ways: list[tuple[str, State]] = [("passes", run)]
        if name in self.names.asked:
            ways = list(self.conditions.verdicts(value, run, env))
        for outcome, after in ways:
            at: State | None = after
            for count in counts:
                if at is not None and (count.state.text == "out" or outcome == "passes"):
                    at = self._moved(count.place, count.state.text, at, env, node)
            if at is not None:
                yield at._replace(shown=at.hardware)

    def _resting_on(self, upset: set[str]) -> set[str]:
        """The values that are upset, and all that were computed from them."""
        found = set(upset)
        grown = True
        while grown:
            grown = False
            for compute in self.tree.every(n.Compute):
                if references(compute.value) & found:
                    fresh = {t.name.text for t in compute.targets} - found
                    found |= fresh
                    grown = grown or bool(fresh)
        return found

    def _moved(self, place: n.Place, state: str, run: State, env: Env, node: n.Node) -> State | None:
        walker = self.walker
        keys = walker._items(place, env, self.name)
        before = run.hardware
        moving = {key for key in keys if before[walker.at[key]] != state}
        hardware = list(before)
        for key in keys:
            hardware[walker.at[key]] = state
        for lock in self.locks:
            guarded = walker._items(lock.place, {}, self.name)
            needed = [(k, c.state.text) for c in lock.conditions for k in walker._items(c.place, {}, self.name)]
            if not lock.conditions:  # moves only by their own role
                own = {key.partition("[")[2].rstrip("]") for key in moving & set(guarded)}
                if not own <= self.people and not self._in_stop(node):
                    self._break("anothers-own", node, lock.place.name.text)
                    return None
                continue
            if lock.state is None or lock.becomes:
                touched = moving & set(guarded)
                held = not touched or (lock.becomes and lock.state is not None and lock.state.text != state)
                held = held or all(before[walker.at[k]] == s for k, s in needed)
            else:
                touched = moving & {*guarded, *(k for k, _ in needed)}
                standing = any(hardware[walker.at[k]] == lock.state.text for k in guarded)
                held = not (touched and standing) or all(hardware[walker.at[k]] == s for k, s in needed)
            if not held:
                self._break("interlock-broken", node, lock.place.name.text)
                return None
        return run._replace(hardware=tuple(hardware))

    def _in_stop(self, node: n.Node) -> bool:
        return any(s.span.start <= node.span.start < s.span.end for s in self.tree.every(n.Stopped))

    def _performed(self, call: n.Perform, run: State, env: Env) -> Iterator[State]:
        walker = self.walker
        name = call.procedure.text
        if name not in walker.trees:
            self._break("missing-file", call, name)
            return
        for line in walker._hardware(name):
            if line.found is not None:
                for key in walker._items(line.place, {}, name):
                    if run.hardware[walker.at[key]] != line.found.text:
                        self._break("begins-otherwise", call, key)
                        return
        inside = walker.names(name)
        handed = frozenset(part.name.text for part in call.parts if isinstance(part, n.With))
        for facts, now in self._handed_over(call, run, env, inside):
            start = State(now.hardware, now.site, facts, now.hardware)
            ends, stopped, _ = walker._procedure(name, start, handed)
            self._asked_at |= stopped
            for end in ends:
                own = now.own
                for part in call.parts:
                    if isinstance(part, n.Take):
                        own = self._taken(part, own, end.own, inside)
                yield State(end.hardware, end.site, own, end.hardware)

    def _handed_over(self, call: n.Perform, run: State, env: Env, inside: Names) -> Iterator[tuple[Facts, State]]:
        """What is known inside of the choices that are handed over; each answer that is still open is a way."""
        ways: list[tuple[Facts, State]] = [(frozenset(), run)]
        for part in call.parts:
            if not isinstance(part, n.With) or not isinstance(part.value, n.Reference):
                continue
            wanted, given = part.name.text, part.value.name.text
            if wanted not in inside.choices or not self._asks(call.procedure.text, wanted):
                continue
            if given in env or given in self.names.choices:
                ways = [
                    (put(facts, f"choice {wanted}", label), after)
                    for facts, now in ways
                    for label, after in self.conditions.choice(given, now, env)
                ]
            elif given in inside.choices[wanted]:
                ways = [(put(facts, f"choice {wanted}", given), now) for facts, now in ways]
        yield from ways

    def _asks(self, procedure: str, name: str) -> bool:
        tree = self.walker.trees[procedure]
        if name in self.walker.names(procedure).asked:
            return True
        return any(name in references(part) for call in tree.every(n.Perform) for part in call.parts)

    def _taken(self, part: n.Take, own: Facts, ended: Facts, inside: Names) -> Facts:
        within, into = part.name.text, (part.into or part.name).text
        own = forget(own, into)
        if into not in self.names.asked and into not in self.names.gives:
            return own
        for what in ("verdict", "choice"):
            known = value_of(ended, f"{what} {within}")
            if known is not None:
                own = put(own, f"{what} {into}", known)
        if within not in inside.asked and inside.judged(within) and inside.no_deviation(within):
            own = put(own, f"verdict {into}", "passes")
        return own


ASKING = (n.Measure, n.MeasureAgain, n.Choose, n.Note, n.Photo, n.Confirm, n.SetValue, n.Hold, n.Witness, n.Hazard)
"""Lines that ask for a reading, an answer or a signature."""


def _plain(labels: Iterable[n.Label]) -> list[str]:
    return spelled(labels, {}, None, whole=False)  # type: ignore[arg-type]


def names_set(node: n.Node, names: Names) -> Iterator[str]:
    """The names a line gives a value."""
    if isinstance(node, (n.Measure, n.MeasureAgain, n.ComputeAgain, n.Choose, n.Note, n.Photo, n.Confirm, n.SetValue)):
        yield node.name.text
    elif isinstance(node, n.Compute):
        for target in node.targets:
            yield target.name.text
    elif isinstance(node, n.Hazard):
        written = node if node.title is not None else names.hazards.get(node.name.text, node)
        for part in written.parts:
            if isinstance(part, n.Asks):
                yield part.name.text
    elif isinstance(node, n.Perform):
        for part in node.parts:
            if isinstance(part, n.Take):
                yield (part.into or part.name).text


__all__ = ["Broken", "TooManyRuns", "Walker", "known_as", "names_set"]
