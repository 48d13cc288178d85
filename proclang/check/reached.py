"""Lines that no run comes to, and loops whose way out is decided before they begin.

The lines of a procedure are gone through once, with what is known of choices, verdicts and comparisons
(`known_facts`). A loop forgets first what its body sets, so that what is known in it holds in every pass. Too much may
be taken to be possible, never too little: what is found here is so in every run without correction or deviation.

Codes: `never-reached`, `always-left`, `loop-exit-fixed` (errors).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import attrs

from proclang.check.known_facts import (
    Conditions,
    Facts,
    Known,
    atoms_of,
    joined,
    names_in,
    without,
    without_verdicts,
)
from proclang.program import model as m
from proclang.program.lowering import head
from proclang.program.scope import Scope
from proclang.syntax import nodes as n
from proclang.syntax.printer import expression as expression_text
from proclang.text.diagnostic import Diagnostic, Label


def find_never_reached(tree: n.File, scope: Scope, routine: m.Routine | None) -> list[Diagnostic]:
    """Findings about one procedure."""
    asking = bool(tree.every(n.When)) or bool(tree.every(n.According)) or bool(tree.every(n.LeaveWhen))
    if routine is None or not asking:
        return []
    look = _Look(scope, routine)
    look.conditions.asked_once = _asked_once(tree, look.conditions)
    facts: Facts | None = {}
    for section in tree.all(n.Section):
        facts = look.block(section.body, facts)
    return look.findings


def _asked_once(tree: n.File, conditions: Conditions) -> frozenset[str]:
    asks: list[n.When | n.LeaveWhen] = [*tree.every(n.When), *tree.every(n.LeaveWhen)]
    count = Counter(key for node in asks for key in atoms_of(conditions, node.condition))
    count.update(f"{node.subject} is" for node in tree.every(n.According))
    return frozenset(key for key, times in count.items() if times == 1)


@attrs.define
class _Loop:
    """A `repeat` under way: what is known on each way out of it."""

    node: n.Repeat
    leaves: list[n.LeaveWhen] = attrs.field(factory=list)
    outs: list[Facts] = attrs.field(factory=list)
    said: bool = False


@attrs.define
class _Look:
    scope: Scope
    routine: m.Routine
    findings: list[Diagnostic] = attrs.field(factory=list)
    loops: list[_Loop] = attrs.field(factory=list)
    through: dict[str, tuple[str, ...]] = attrs.field(factory=dict)
    """The labels of each `for each` around the present line."""

    conditions: Conditions = attrs.field(init=False)
    asked: frozenset[str] = attrs.field(init=False)
    """Every name that some hazard asks for."""

    variables: dict[str, frozenset[str]] = attrs.field(init=False)
    """The labels of every `for each` of a name, wherever it stands."""

    @variables.default
    def _variables(self) -> dict[str, frozenset[str]]:
        found: dict[str, frozenset[str]] = {}
        for instr in self.routine.code:
            if isinstance(instr, m.BeginEach):
                found[instr.variable] = found.get(instr.variable, frozenset()) | frozenset(instr.labels)
        return found

    @conditions.default
    def _conditions(self) -> Conditions:
        return Conditions(self._options)

    @asked.default
    def _asked(self) -> frozenset[str]:
        hazards = [x.hazard for x in self.routine.code if isinstance(x, m.Acknowledge)]
        hazards += [h for x in self.routine.code if isinstance(x, m.EnterSection) for h in x.hazards]
        return frozenset(asked.name for hazard in hazards for asked in hazard.asks)

    def _options(self, name: str) -> frozenset[str] | None:
        if name in self.through:
            return frozenset(self.through[name])
        if name == "hemisphere":
            return frozenset(m.HEMISPHERES)
        symbol = self.routine.symbols.get(name)
        if symbol is not None and isinstance(symbol.type, m.Choice):
            return frozenset(symbol.type.options)
        return self.variables.get(name)

    # ------------------------------------------------------------------ lines

    def block(self, body: Sequence[n.Node], facts: Facts | None) -> Facts | None:
        """What is known after some lines; None if no run comes so far."""
        for node in body:
            if facts is None:
                return None
            facts = self._one(node, facts)
        return facts

    def _one(self, node: n.Node, facts: Facts) -> Facts | None:
        if isinstance(node, n.Step):
            return self.block(node.body, facts)
        if isinstance(node, n.When):
            return self._when(node, facts)
        if isinstance(node, n.According):
            return self._according(node, facts)
        if isinstance(node, n.Repeat):
            return self._repeat(node, facts)
        if isinstance(node, n.LeaveWhen):
            return self._leave(node, facts)
        if isinstance(node, n.ForEach):
            return self._for_each(node, facts)
        if isinstance(node, n.AnyOrder):
            facts = without(facts, self._set_in(node.body))
            for step in node.body:
                self._one(step, facts)
            return facts
        if isinstance(node, n.Stopped):
            self.block(node.body, {})  # a run may come from anywhere in the section
            return facts
        if isinstance(node, n.Upsets):
            return without_verdicts(facts)
        names = self._sets(node)
        return without(facts, names) if names else facts

    def _sets(self, node: n.Node) -> Iterable[str]:
        """The names a line sets, those of the lines under it apart."""
        if isinstance(node, (n.Measure, n.MeasureAgain, n.ComputeAgain, n.SetValue)):
            return (node.name.text,)
        if isinstance(node, (n.Confirm, n.Choose, n.Note, n.Photo)):
            return (node.name.text,)
        if isinstance(node, n.Compute):
            return [target.name.text for target in node.targets]
        if isinstance(node, n.Perform):
            return [(part.into or part.name).text for part in node.parts if isinstance(part, n.Take)]
        if isinstance(node, n.Hazard):
            return self.asked
        if isinstance(node, n.ForEach):
            return (node.variable.text,)
        return ()

    def _set_in(self, body: Sequence[n.Node]) -> set[str]:
        return {name for node in n.nested(body) for name in self._sets(node)}

    # ------------------------------------------------------------------ branches

    def _assume(self, facts: Facts, node: n.When | n.LeaveWhen, want: bool) -> Facts | None:
        self.conditions.clash = None
        return self.conditions.assume(facts, node.condition, want, head(node))

    def _when(self, node: n.When, facts: Facts) -> Facts | None:
        otherwise = node.otherwise.body if node.otherwise is not None else ()
        no = self._assume(facts, node, False)
        if no is None and node.otherwise is not None:
            self._say(node.otherwise, f"`{expression_text(node.condition)}` always holds", self.conditions.clash)
        yes = self._assume(facts, node, True)
        if yes is None:
            self._say(node, f"`{expression_text(node.condition)}` never holds", self.conditions.clash)
        return joined(self.block(node.body, yes), self.block(otherwise, no))

    def _according(self, node: n.According, facts: Facts) -> Facts | None:
        name = node.subject.text
        atom = self.conditions.choice(name, frozenset(), frozenset((name,)))
        if atom is None:
            return facts
        after: Facts | None = None
        taken: list[n.Arm] = []
        idle: list[n.Arm] = []
        clash: Known | None = None
        for arm in node.arms:
            if isinstance(arm, n.Broken):
                continue
            labels = frozenset(self.scope.labels(arm.labels, len(atom.every)))
            says = f"`{name}` is {' or '.join(sorted(labels))}"
            told = self.conditions.told(facts, atom, labels & atom.every, says, arm.labels[0].span)
            if told is None:
                idle.append(arm)
                clash = self.conditions.clash
            else:
                taken.append(arm)
                after = joined(after, self.block(arm.body, told))
        if idle and len(taken) == 1:
            # With more than one arm left all labels have to have one, so the others cannot be done without.
            left = clash.outcomes if clash is not None else ()
            self._say(idle[0], f"`{name}` is always {' or '.join(sorted(left))}", clash)
        return after

    # ------------------------------------------------------------------ loops

    def _repeat(self, node: n.Repeat, facts: Facts) -> Facts | None:
        loop = _Loop(node)
        changed = self._set_in(node.body)
        self.loops.append(loop)
        end = self.block(node.body, _fresh(facts, changed, node.body))
        self.loops.pop()
        self._say_fixed(loop, changed)
        after: Facts | None = None
        for out in loop.outs:
            after = joined(after, out)
        if node.otherwise is not None:
            return joined(after, self.block(node.otherwise.body, end))
        # Without an `otherwise`, going on at the bound is a deviation, and no way of the procedure's own.
        return after if after is not None else end

    def _leave(self, node: n.LeaveWhen, facts: Facts) -> Facts | None:
        loop = self.loops[-1]
        loop.leaves.append(node)
        stay = self._assume(facts, node, False)
        if stay is None:
            loop.said = True
            clash = self.conditions.clash
            self.findings.append(
                Diagnostic(
                    "always-left",
                    f"`{loop.node.name}` is always left here{_where(clash)}: it never goes round",
                    head(node),
                    hint="do without the loop, or leave it by something that its body changes",
                    also=_label(clash),
                )
            )
        out = self._assume(facts, node, True)
        if out is None:
            loop.said = True
            self._say(node, f"`{expression_text(node.condition)}` never holds", self.conditions.clash)
        else:
            loop.outs.append(out)
        return stay

    def _say_fixed(self, loop: _Loop, changed: set[str]) -> None:
        """A loop none of whose ways out can change from one pass to the next."""
        if loop.said or not loop.leaves or any(names_in(x.condition) & changed for x in loop.leaves):
            return
        names = sorted(set().union(*(names_in(x.condition) for x in loop.leaves)))
        what = " and ".join(f"`{x}`" for x in names[:3]) or "what it asks"
        self.findings.append(
            Diagnostic(
                "loop-exit-fixed",
                f"nothing inside `{loop.node.name}` changes {what}, so every pass ends like the first",
                head(loop.leaves[0]),
                hint="read or compute it inside the loop (`measure again`, `compute again`), or ask once with `when`",
                also=(Label(loop.node.name.span, "this loop"),),
            )
        )

    def _for_each(self, node: n.ForEach, facts: Facts) -> Facts | None:
        name = node.variable.text
        facts = _fresh(facts, {*self._set_in(node.body), name}, node.body)
        outer = self.through.get(name)
        self.through[name] = self.scope.labels_of(node.labels.text) or ()
        end = self.block(node.body, facts)
        if outer is None:
            del self.through[name]
        else:
            self.through[name] = outer
        return None if end is None else without(end, (name,))

    # ------------------------------------------------------------------ telling

    def _say(self, node: n.Node, why: str, clash: Known | None) -> None:
        if isinstance(node, n.LeaveWhen):
            message, place = f"the loop is never left here: {why}", head(node)
        elif isinstance(node, n.Arm):
            message, place = f"no run comes to this arm: {why} here", node.labels[0].span
        elif isinstance(node, n.Otherwise):
            message, place = f"no run comes to this `otherwise`: {why} here", head(node)
        else:
            message, place = f"no run comes to what stands below this line: {why} here", head(node)
        hint = f"here {clash.says}" if clash is not None else "take it out, or mend the condition"
        self.findings.append(Diagnostic("never-reached", message, place, hint=hint, also=_label(clash)))


def _fresh(facts: Facts, changed: set[str], body: Sequence[n.Node]) -> Facts:
    """What is known at the beginning of every pass of a loop."""
    facts = without(facts, changed)
    return without_verdicts(facts) if any(isinstance(x, n.Upsets) for x in n.nested(body)) else facts


def _where(clash: Known | None) -> str:
    return f", where {clash.says}" if clash is not None else ""


def _label(clash: Known | None) -> tuple[Label, ...]:
    return (Label(clash.span, "this says so"),) if clash is not None else ()
