"""The sections of one procedure to a flat list of instructions.

One walk in source order: names are declared as they are set, expressions proved as they are met, and a running set of
names that are *certain* to be set is kept through branches and loops (both ways of a branch: what both set; a loop:
what every way out has set; the body of a loop runs at least once). Instructions that change hardware come after the
next question of their step, so that nothing is recorded as done before anybody has answered.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import attrs

from proclang.field.sequence import star_order
from proclang.program import model as m
from proclang.program.facets import compile_facets, compile_text, display_unit, plain_text
from proclang.program.formula import compile_condition, compile_formula, compile_results
from proclang.program.header import Needs
from proclang.program.machine import SIGNAL_WORDS, known_state, resolve_hazard, resolve_place
from proclang.program.names import Definitions
from proclang.program.scope import Scope
from proclang.syntax import nodes as n
from proclang.syntax.printer import print_line
from proclang.text.diagnostic import Label
from proclang.text.span import Span
from proclang.text.suggest import did_you_mean
from proclang.values.dimension import TIME

_IN_STEP_ONLY = (n.Measure, n.MeasureAgain, n.Prose, n.Figure, n.Now, n.Upsets)
_IN_SECTION_ONLY = (n.Step, n.Hold, n.Witness, n.Perform, n.Repeat, n.ForEach, n.AnyOrder, n.Stopped, n.Hazard)
_QUESTIONS = (n.Measure, n.MeasureAgain, n.Confirm, n.Choose, n.Note, n.Photo, n.SetValue)


@attrs.define
class _Loop:
    name: str
    leaves: list[int] = attrs.field(factory=list)
    certain: list[set[str]] = attrs.field(factory=list)


@attrs.define
class Lowering:
    """One procedure on its way to instructions. `routines` are those it may perform, lowered before."""

    procedure: str
    scope: Scope
    needs: Needs
    machine: m.Machine | None
    hazards: dict[str, m.HazardInfo]
    routines: dict[str, m.Routine]
    definitions: Definitions
    judged: frozenset[str]
    code: list[m.Instr] = attrs.field(factory=list)
    formerly: dict[str, str] = attrs.field(factory=dict)
    _address: list[str] = attrs.field(factory=list)
    _identity: list[str] = attrs.field(factory=list)
    _loops: list[_Loop] = attrs.field(factory=list)
    _blocks: list[int] = attrs.field(factory=list)
    _block_count: int = 0
    _step: n.Step | None = None
    _step_pc: int = 0
    _stopping: bool = False
    _held_back: list[Callable[[], None]] = attrs.field(factory=list)
    _read_at: dict[str, tuple[int, tuple[int, ...]]] = attrs.field(factory=dict)
    _depends: dict[str, set[str]] = attrs.field(factory=dict)
    _taken: dict[str, Span] = attrs.field(factory=dict)
    _addresses: dict[str, int] = attrs.field(factory=dict)

    # ------------------------------------------------------------------ places

    @contextmanager
    def _at(self, address: str, identity: str | None = None) -> Iterator[None]:
        self._address.append(address)
        if identity is not None:
            self._identity.append(identity)
        yield
        self._address.pop()
        if identity is not None:
            self._identity.pop()

    @contextmanager
    def _block(self) -> Iterator[None]:
        self._block_count += 1
        self._blocks.append(self._block_count)
        yield
        self._blocks.pop()

    def _where(self, node: n.Node, *more: str) -> dict[str, Any]:
        """The address, identity and span of an instruction; an address used before gets a number."""
        address = "/".join([*self._address, *more])
        count = self._addresses.get(address, 0) + 1
        self._addresses[address] = count
        if count > 1:
            address = f"{address}~{count}"
        return {"address": address, "identity": "/".join([self.procedure, *self._identity, *more]), "span": node.span}

    def _emit(self, instr: m.Instr) -> int:
        self.code.append(instr)
        return len(self.code) - 1

    def _patch(self, pc: int, **changes: Any) -> None:
        self.code[pc] = attrs.evolve(self.code[pc], **changes)

    def _jump(self, node: n.Node, target: int = -1) -> int:
        return self._emit(m.Jump(target=target, **self._where(node, ".jump")))

    def _former(self, name: n.Name, former: n.Name | None) -> None:
        if former is not None:
            base = "/".join([self.procedure, *self._identity])
            self.formerly[f"{base}/{former}"] = f"{base}/{name}"

    def _take(self, name: n.Name, what: str) -> None:
        """A name of a step, hold, loop or call: one in its place, exclusive arms apart."""
        key = "/".join([*self._address, name.text])
        if key in self._taken:
            self.scope.say(
                "duplicate-name",
                f"there is a {what} `{name}` here already",
                name.span,
                hint="give it a name of its own; names say which one is meant in the log",
                also=(Label(self._taken[key], "first here"),),
            )
        self._taken.setdefault(key, name.span)

    # ------------------------------------------------------------------ sections

    def section(self, node: n.Section) -> None:
        """One section, and its `if stopped` behind it."""
        self._take(node.name, "section")
        self._former(node.name, node.former)
        title = compile_text(node.title, self.scope)
        with self._at(node.name.text, node.name.text), self._block():
            hazards = self._hazards_of(node.body)
            enter = self._emit(
                m.EnterSection(
                    name=node.name.text,
                    title=title,
                    takes=self._takes(node.takes),
                    hazards=(),
                    stopped=None,
                    **self._where(node),
                )
            )
            stopped = [s for s in node.body if isinstance(s, n.Stopped)]
            for extra in stopped[1:]:
                self.scope.say("twice", "this section says already what happens if it is stopped", extra.span)
            self._statements([s for s in node.body if not isinstance(s, n.Stopped)])
            self._emit(m.LeaveSection(**self._where(node, ".left")))
            found = tuple(h for h in (self._hazard_info(x) for x in hazards) if h is not None)
            ordered = tuple(sorted({h.name: h for h in found}.values(), key=lambda h: SIGNAL_WORDS.index(h.word)))
            self._patch(enter, hazards=ordered)
            if stopped:
                over = self._jump(node)
                certain = set(self.scope.certain)
                self._patch(enter, stopped=len(self.code))
                with self._at("if stopped", "if_stopped"):
                    self._stopping = True
                    self._statements(stopped[0].body)
                    self._stopping = False
                self._emit(m.EndStopped(**self._where(node, ".end")))
                self.scope.certain = certain
                self._patch(over, target=len(self.code))

    def _hazards_of(self, body: Iterable[n.Node]) -> list[n.Hazard]:
        found = []
        for statement in body:
            for node in statement.walk():
                if isinstance(node, n.Hazard):
                    found.append(node)
        return found

    def _hazard_info(self, node: n.Hazard) -> m.HazardInfo | None:
        return self.hazards.get(node.name.text)

    def _takes(self, takes: n.Takes | None) -> str:
        if takes is None:
            return ""
        for operand in (takes.low, takes.high):
            if isinstance(operand, n.Literal):
                shared = isinstance(takes.high, n.Literal) and operand is takes.low
                unit = self.scope.quantity(takes.high.number) if shared and isinstance(takes.high, n.Literal) else None
                entered = self.scope.quantity(operand.number, unit.unit if unit is not None else None)
                if entered is not None and entered.quantity.dimension != TIME:
                    self.scope.say("dimension-mismatch", "`takes` wants a time, such as `30 .. 50 min`", operand.span)
            elif operand is not None:
                self.scope.say("not-a-number", "`takes` wants a number with its unit", operand.span)
        return print_line(n.Section(_NOBODY, None, _NOTEXT, takes, (), span=takes.span)).partition(", takes ")[2]

    # ------------------------------------------------------------------ statements

    def _statements(self, body: Iterable[n.Node]) -> None:
        statements = list(body)
        for index, statement in enumerate(statements):
            if isinstance(statement, n.Broken):
                continue
            if self._misplaced(statement):
                continue
            if isinstance(statement, n.Hazard):
                following = next((s for s in statements[index + 1 :] if isinstance(s, n.Step)), None)
                self._hazard(statement, following)
                continue
            _LOWER[type(statement)](self, statement)

    def _misplaced(self, node: n.Node) -> bool:
        if isinstance(node, n.Otherwise):
            self.scope.say("misplaced", "this `otherwise` follows neither a `when` nor a `repeat`", _head(node))
            return True
        in_step = self._step is not None
        if isinstance(node, _IN_STEP_ONLY) and not in_step:
            word = print_line(node).split()[0]
            what = "a sentence" if isinstance(node, n.Prose) else f"`{word}`"
            self.scope.say(
                "misplaced", f"{what} belongs inside a step", _head(node), hint="indent it under the step it is done in"
            )
            return True
        if isinstance(node, _IN_SECTION_ONLY) and in_step:
            word = print_line(node).split()[0]
            self.scope.say(
                "misplaced", f"`{word}` does not belong inside a step", _head(node), hint="put it beside the step"
            )
            return True
        if isinstance(node, n.Stopped):
            self.scope.say("misplaced", "`if stopped` stands directly in a section", _head(node))
            return True
        if self._stopping and isinstance(node, (n.Repeat, n.Perform, n.AnyOrder)):
            word = print_line(node).split()[0]
            self.scope.say(
                "misplaced",
                f"`{word}` does not belong in `if stopped`",
                _head(node),
                hint="a safe state is reached by plain steps",
            )
            return True
        return False

    def _hazard(self, node: n.Hazard, following: n.Step | None) -> None:
        if node.title is not None:
            if node.name.text in self.hazards:
                self.scope.say("duplicate-name", f"there is a hazard `{node.name}` already", node.name.span)
            self._former(node.name, node.former)
            info = resolve_hazard(node, self.scope)
            self.hazards[node.name.text] = info
        else:
            known = self.hazards.get(node.name.text)
            if known is None:
                if node.name.text not in self.scope.excused:
                    self.scope.say(
                        "unknown-hazard",
                        f"there is no hazard `{node.name}`",
                        node.name.span,
                        hint=did_you_mean(node.name.text, self.hazards) or "write it out here, with `risk` and `avoid`",
                    )
                return
            if known.word != node.word:
                self.scope.say(
                    "other-signal-word",
                    f"`{node.name}` is a {known.word}, not a {node.word}",
                    node.span,
                    hint="say the same word",
                )
            info = known
        people = tuple(p.text for p in following.people) if following is not None else ()
        for asked in info.asks:
            kind: m.Type = m.Amount(asked.unit.dimension) if asked.unit is not None else m.Words()
            symbol = m.Symbol(asked.name, kind, "answered", node.span, asked.unit)
            self.scope.symbols.setdefault(asked.name, symbol)
            self.scope.certain.add(asked.name)
            self.scope.used.add(asked.name)
        self._emit(m.Acknowledge(hazard=info, people=people, **self._where(node, node.name.text)))

    def _people(self, names: tuple[n.Name, ...]) -> tuple[str, ...]:
        for role in names:
            self.scope.used.add(role.text)
            if role.text not in self.needs.crew and role.text not in self.scope.excused:
                self.scope.say(
                    "unknown-role",
                    f"nobody in the crew is `{role}`",
                    role.span,
                    hint=did_you_mean(role.text, self.needs.crew)
                    or "declare the role under `needs`, in the line `crew`",
                )
        return tuple(role.text for role in names)

    # ------------------------------------------------------------------ steps

    def _step_statement(self, node: n.Step) -> None:
        self._take(node.name, "step")
        self._former(node.name, node.former)
        people = self._people(node.people)
        with self._at(node.name.text, node.name.text):
            self._step = node
            prose = tuple(compile_text(s.text, self.scope) for s in node.body if isinstance(s, n.Prose))
            figures = tuple(
                (plain_text(s.path, self.scope), compile_text(s.caption, self.scope))
                for s in node.body
                if isinstance(s, n.Figure)
            )
            ask_done = not any(isinstance(s, _QUESTIONS) for s in node.body)
            title = compile_text(node.title, self.scope)
            pc = self._emit(
                m.BeginStep(
                    name=node.name.text,
                    title=title,
                    prose=prose,
                    figures=figures,
                    people=people,
                    takes=self._takes(node.takes),
                    changes=(),
                    ask_done=ask_done,
                    **self._where(node),
                )
            )
            self._step_pc = pc
            self._statements(s for s in node.body if not isinstance(s, (n.Prose, n.Figure)))
            self._flush()
            self._emit(m.EndStep(name=node.name.text, ask_done=ask_done, **self._where(node, ".end")))
            self._patch(pc, changes=tuple(self._changes(node.body, ())))
            self._step = None

    def _flush(self) -> None:
        held, self._held_back = self._held_back, []
        for emit in held:
            emit()

    def _hold_back(self, emit: Callable[[], None]) -> None:
        """Until the next question of the step has been answered; at once where the step begins with its answer."""
        if self._step is not None and any(isinstance(s, _QUESTIONS) for s in self._step.body):
            self._held_back.append(emit)
        else:
            emit()

    def _changes(self, body: Iterable[n.Node], when: tuple[m.Formula, ...]) -> Iterator[m.Change]:
        """The hardware changes of a step in order, each with the conditions it stands under."""
        quiet = attrs.evolve(self.scope, findings=[], used=set())
        for statement in body:
            if isinstance(statement, (n.Now, n.Require)) and self.machine is not None:
                place = resolve_place(statement.place, self.machine.name, dict(self.machine.items), quiet)
                if place is not None:
                    require = isinstance(statement, n.Require)
                    yield m.Change(place=place, state=statement.state.text, require=require, when=when)
            elif isinstance(statement, n.When):
                condition = compile_condition(statement.condition, quiet)
                if condition is not None:
                    yield from self._changes(statement.body, (*when, condition))
                    if statement.otherwise is not None:
                        yield from self._changes(statement.otherwise.body, (*when, _negated(condition)))

    def _measure(self, node: n.Measure) -> None:
        unit = self.scope.unit(node.unit)
        if node.instrument is not None:
            self._instrument(node.instrument)
        axes, texts, variables = self._axes(node.labels)
        if unit is None:
            self._declare_unknown(node.name)
            return
        facets = compile_facets(node.facets, unit.dimension, unit, self.scope, series=bool(axes))
        title = node.title.plain if node.title is not None else ""
        symbol = m.Symbol(
            node.name.text,
            m.Amount(unit.dimension, axes),
            "read",
            node.name.span,
            unit,
            facets,
            title,
            instrument=node.instrument.text if node.instrument is not None else None,
            former=node.former.text if node.former is not None else None,
        )
        self._former(node.name, node.former)
        self._declare(symbol, node.name)
        self._readings(node, symbol, texts, variables, again=False, instrument=symbol.instrument)
        self._read_at.setdefault(node.name.text, (self._step_pc, tuple(self._blocks)))

    def _again(self, node: n.MeasureAgain) -> None:
        symbol = self.scope.symbol(node.name)
        if symbol is None:
            return
        if symbol.how != "read":
            self.scope.say("not-a-reading", f"`{node.name}` is {symbol.how}, not measured", node.name.span)
            return
        instrument = symbol.instrument
        if node.instrument is not None:
            self._instrument(node.instrument)
            instrument = node.instrument.text
        if not node.labels:
            axes = symbol.type.axes if isinstance(symbol.type, m.Amount) else ()
            if len(axes) > 1:
                self.scope.say("label-count", f"say which of `{node.name}` is measured again", node.span)
                return
            texts: list[tuple[str, ...]] = [(label,) for label in axes[0]] if axes else [()]
            variables: tuple[bool, ...] = (False,) if axes else ()
        else:
            _, texts, variables = self._axes(node.labels)
        self._readings(node, symbol, texts, variables, again=True, instrument=instrument)

    def _readings(
        self,
        node: n.Node,
        symbol: m.Symbol,
        texts: list[tuple[str, ...]],
        variables: tuple[bool, ...],
        *,
        again: bool,
        instrument: str | None,
    ) -> None:
        handled = symbol.name in self.judged
        for index, labels in enumerate(texts):
            shown = f"{symbol.name}[{','.join(labels)}]" if labels else symbol.name
            last = index == len(texts) - 1
            self._emit(
                m.Read(
                    symbol=symbol,
                    labels=labels,
                    variables=variables,
                    last_of_series=last,
                    again=again,
                    handled=handled,
                    instrument=instrument,
                    **self._where(node, shown if not any(variables) else symbol.name),
                )
            )
        self._flush()

    def _axes(
        self, labels: tuple[n.Label, ...]
    ) -> tuple[tuple[tuple[str, ...], ...], list[tuple[str, ...]], tuple[bool, ...]]:
        """Axes of a series, the label tuples to ask for one by one, and which of them are loop variables."""
        if not labels:
            return (), [()], ()
        names = [x for x in labels if isinstance(x, n.Name)]
        loops = [self.scope.loop_labels(x.text) for x in names]
        if len(names) == len(labels) and all(loop is not None for loop in loops):
            self.scope.used.update(x.text for x in names)
            return (
                tuple(loop for loop in loops if loop is not None),
                [tuple(x.text for x in names)],
                tuple(True for _ in names),
            )
        if any(loop is not None for loop in loops):
            self.scope.say(
                "mixed-labels",
                "labels of a loop and fixed labels do not mix in one bracket",
                labels[0].span.to(labels[-1].span),
            )
        if len(names) == 1 == len(labels) and names[0].text in self.scope.label_sets:
            self.scope.used.add(names[0].text)
            axis = self.scope.label_sets[names[0].text]
        else:
            axis = self.scope.labels(labels, 1000)
        return (axis,), [(label,) for label in axis], (False,)

    def _instrument(self, name: n.Name) -> None:
        self.scope.used.add(name.text)
        if name.text not in self.needs.instruments and name.text not in self.scope.excused:
            self.scope.say(
                "unknown-instrument",
                f"no instrument `{name}` is among the needs",
                name.span,
                hint=did_you_mean(name.text, self.needs.instruments) or f'add `instrument {name} "..."` under `needs`',
            )

    # ------------------------------------------------------------------ values

    def _declare(self, symbol: m.Symbol, name: n.Name) -> None:
        earlier = self.scope.symbols.get(symbol.name)
        if earlier is not None and symbol.name not in self.scope.excused:
            if earlier.how == "input":
                self.scope.say(
                    "duplicate-name",
                    f"`{name}` is an input and cannot be set again",
                    name.span,
                    also=(Label(earlier.span, "declared here"),),
                )
            elif not self.definitions.exclusive(symbol.name, name):
                self.scope.say(
                    "duplicate-name",
                    f"`{name}` is set by another line already",
                    name.span,
                    hint="choose another name; to read it once more write `measure again`",
                    also=(Label(earlier.span, "first set here"),),
                )
            elif earlier.type != symbol.type:
                self.scope.say(
                    "other-kind",
                    f"`{name}` is {symbol.type.describe()} here and {earlier.type.describe()} in another arm",
                    name.span,
                    also=(Label(earlier.span, "set here"),),
                )
        for known, what in ((self.scope.columns, "a column of a table"), (self.scope.label_sets, "a set of labels")):
            if symbol.name in known:
                self.scope.say("duplicate-name", f"`{name}` is {what} already", name.span)
        if self.scope.loop_labels(symbol.name) is not None:
            self.scope.say("duplicate-name", f"`{name}` is the label of the loop around it", name.span)
        self.scope.symbols.setdefault(symbol.name, symbol)
        self.scope.certain.add(symbol.name)

    def _declare_unknown(self, name: n.Name) -> None:
        """A name whose line has been complained about: nothing more is said of it."""
        self.scope.excused |= {name.text}
        self.scope.certain.add(name.text)

    def _compute(self, node: n.Compute) -> None:
        compiled = compile_results(node.value, self.scope)
        unit = self.scope.unit(node.unit) if node.unit is not None else None
        if compiled is None or (node.unit is not None and unit is None):
            for target in node.targets:
                self._declare_unknown(target.name)
            return
        formula, types = compiled
        if len(types) != len(node.targets):
            gives = "one result" if len(types) == 1 else f"{len(types)} results"
            self.scope.say(
                "target-count",
                f"`{formula.text}` gives {gives}; {len(node.targets)} names are given for them",
                node.targets[0].span.to(node.targets[-1].span),
            )
            for target in node.targets:
                self._declare_unknown(target.name)
            return
        targets = []
        for target, kind in zip(node.targets, types, strict=True):
            made = self._target(node, target, kind, unit, formula)
            if made is not None:
                targets.append(made)
        if len(targets) != len(node.targets):
            return
        name = targets[0][0].name
        for symbol, _, _ in targets:
            self._depends[symbol.name] = set(formula.names)
        self._emit(
            m.ComputeValue(
                targets=tuple(targets),
                formula=formula,
                handled=all(s.name in self.judged for s, _, _ in targets),
                reread=self._reread(name),
                **self._where(node, name),
            )
        )

    def _target(
        self, node: n.Compute, target: n.Target, kind: m.Type, unit: Any, formula: m.Formula
    ) -> tuple[m.Symbol, tuple[str, ...], tuple[bool, ...]] | None:
        if not isinstance(kind, m.Amount):
            self.scope.say("wrong-kind", f"a compute gives a quantity, not {kind.describe()}", node.value.span)
            self._declare_unknown(target.name)
            return None
        texts: tuple[str, ...] = ()
        variables: tuple[bool, ...] = ()
        axes = kind.axes
        if target.labels:
            axes, many, variables = self._axes(target.labels)
            texts = many[0]
            if kind.axes or not all(variables):
                self.scope.say(
                    "wrong-kind",
                    "a computed series is labelled by its calculation, or one by one in a `for each`",
                    target.span,
                )
                self._declare_unknown(target.name)
                return None
        dimension = kind.dimension
        if unit is not None and unit.dimension != dimension:
            self.scope.say(
                "dimension-mismatch",
                f"`{formula.text}` is {dimension.phrase}; it cannot be given in {unit.symbol}",
                node.unit.span if node.unit is not None else node.span,
            )
            self._declare_unknown(target.name)
            return None
        facets = compile_facets(node.facets, dimension, unit, self.scope, series=bool(axes))
        shown = unit or _facet_unit(node.facets, dimension, self.scope) or formula.unit
        if shown is None or shown.dimension != dimension:
            shown = display_unit(dimension)
        symbol = m.Symbol(
            target.name.text,
            m.Amount(dimension, axes),
            "computed",
            target.name.span,
            shown,
            facets,
            former=target.former.text if target.former is not None else None,
        )
        self._former(target.name, target.former)
        self._declare(symbol, target.name)
        return symbol, texts, variables

    def _reread(self, name: str) -> int | None:
        """Where to go back to so that the readings behind a value are taken again: in this block, or nowhere."""
        closure, todo = set(), [name]
        while todo:
            for other in self._depends.get(todo.pop(), ()):
                if other not in closure:
                    closure.add(other)
                    todo.append(other)
        here = tuple(self._blocks)
        places = [pc for x in closure for pc, blocks in [self._read_at.get(x, (-1, ()))] if pc >= 0 and blocks == here]
        return min(places) if places else None

    def _set(self, node: n.SetValue) -> None:
        formula = compile_formula(node.value, self.scope)
        allowed = compile_formula(node.allowed, self.scope) if node.allowed is not None else None
        unit = self.scope.unit(node.unit) if node.unit is not None else None
        instrument = node.read_back.instrument if node.read_back is not None else None
        if instrument is not None:
            self._instrument(instrument)
        self._take(node.name, "setting")
        if node.again_after_power_cycle and node.read_back is None:
            self.scope.say(
                "no-read-back",
                "to be read again it has to be read back first",
                node.span,
                hint="write `, read back` before",
            )
        if formula is None or not isinstance(formula.type, m.Amount) or formula.type.axes:
            if formula is not None:
                self.scope.say(
                    "wrong-kind", f"what is set is one quantity, not {formula.type.describe()}", node.value.span
                )
            self._declare_unknown(node.name)
            return
        dimension = formula.type.dimension
        if unit is not None and unit.dimension != dimension:
            self.scope.say(
                "dimension-mismatch", f"this is {dimension.phrase}, not {unit.dimension.phrase}", node.value.span
            )
            return
        if allowed is not None:
            wanted = attrs.evolve(dimension, frame="")
            if not isinstance(allowed.type, m.Amount) or allowed.type.axes or allowed.type.dimension != wanted:
                self.scope.say("dimension-mismatch", f"the difference allowed is {wanted.phrase}", node.allowed.span)  # type: ignore[union-attr]
                return
        shown = unit or (formula.unit if formula.unit is not None and formula.unit.dimension == dimension else None)
        symbol = m.Symbol(
            node.name.text,
            m.Amount(dimension),
            "set",
            node.name.span,
            shown or display_unit(dimension),
            title=node.title.plain,
            instrument=instrument.text if instrument is not None else None,
        )
        self._former(node.name, node.former)
        self._declare(symbol, node.name)
        self.scope.used.add(node.name.text)
        self._emit(
            m.SetInstr(
                symbol=symbol,
                title=compile_text(node.title, self.scope),
                formula=formula,
                allowed=allowed,
                instrument=symbol.instrument,
                read_back=node.read_back is not None,
                power_cycle=node.again_after_power_cycle,
                **self._where(node, node.name.text),
            )
        )
        self._flush()

    def _ask(self, node: n.Confirm | n.Choose | n.Note | n.Photo) -> None:
        kind = type(node).__name__.lower()
        people = self._people(node.people) if isinstance(node, n.Confirm) else ()
        value: m.Type = m.Words()
        how = {"confirm": "confirmed", "choose": "chosen", "note": "noted", "photo": "photo"}[kind]
        if isinstance(node, n.Choose):
            options = tuple(o.text for o in node.options)
            if len(set(options)) < len(options) or len(options) < 2:
                self.scope.say("too-few-choices", "a choice has at least two different answers", node.name.span)
            value = m.Choice(options)
        elif isinstance(node, n.Confirm):
            value = m.Choice(("yes",))
        symbol = m.Symbol(node.name.text, value, how, node.name.span, title=node.text.plain)
        self._former(node.name, node.former)
        self._declare(symbol, node.name)
        if kind != "choose":
            self.scope.used.add(node.name.text)
        text = compile_text(node.text, self.scope)
        self._emit(m.Ask(kind=kind, symbol=symbol, text=text, people=people, **self._where(node, node.name.text)))
        self._flush()

    def _sign(self, node: n.Hold | n.Witness) -> None:
        kind = type(node).__name__.lower()
        self._take(node.name, kind)
        self._former(node.name, node.former)
        people = self._people(node.people)
        witness = self._people(node.witness) if isinstance(node, n.Hold) else ()
        for role in node.witness if isinstance(node, n.Hold) else ():
            if role.text in people:
                self.scope.say("own-witness", f"`{role}` cannot witness what they release themselves", role.span)
        self._emit(
            m.Sign(
                kind=kind,
                name=node.name.text,
                text=compile_text(node.text, self.scope),
                people=people,
                witness=witness,
                **self._where(node, node.name.text),
            )
        )

    # ------------------------------------------------------------------ hardware

    def _place(self, node: n.Now | n.Require) -> m.ItemPlace | None:
        if self.machine is None:
            self.scope.say(
                "no-machine",
                "this procedure names no machine, so nothing has a state",
                node.span,
                hint="add `machine NAME` to its header",
            )
            return None
        items = dict(self.machine.items)
        place = resolve_place(node.place, self.machine.name, items, self.scope)
        if place is None or not known_state(place, node.state, items, self.scope):
            return None
        return place

    def _now(self, node: n.Now) -> None:
        place = self._place(node)
        if place is None:
            return
        ensure, where, state = self._stopping, self._where(node, f"now {place.text}"), node.state.text
        self._hold_back(lambda: void(self._emit(m.NowInstr(place=place, state=state, ensure=ensure, **where))))

    def _require(self, node: n.Require) -> None:
        place = self._place(node)
        if place is not None:
            self._emit(m.RequireInstr(place=place, state=node.state.text, **self._where(node, f"require {place.text}")))

    def _upsets(self, node: n.Upsets) -> None:
        for name in node.names:
            self.scope.used.add(name.text)
            known = name.text in self.scope.symbols or name.text in self.scope.later
            if not known and name.text not in self.scope.excused:
                self.scope.say(
                    "unknown-name",
                    f"there is no value called `{name}`",
                    name.span,
                    hint=did_you_mean(name.text, self.scope.known_values()),
                )
        where, names = self._where(node, "upsets"), tuple(x.text for x in node.names)
        self._hold_back(lambda: void(self._emit(m.UpsetsInstr(names=names, **where))))

    # ------------------------------------------------------------------ ways through

    def _according(self, node: n.According) -> None:
        formula = compile_formula(n.Reference(node.subject, span=node.subject.span), self.scope)
        options: tuple[str, ...] = ()
        if formula is not None:
            if isinstance(formula.type, m.Choice):
                options = formula.type.options
            else:
                self.scope.say(
                    "wrong-kind",
                    f"`{node.subject}` is {formula.type.describe()}; ways part according to a choice",
                    node.subject.span,
                    hint="use `when` with a comparison",
                )
        targets: dict[str, int] = {}
        where: dict[str, Span] = {}
        whole = all(isinstance(arm, n.Arm) for arm in node.arms)
        arms = self._emit(
            m.Arms(
                subject=formula or _nothing(),
                name=node.subject.text,
                targets={},
                **self._where(node, f"according to {node.subject}"),
            )
        )
        before, after, ends = set(self.scope.certain), [], []
        for arm in node.arms:
            if isinstance(arm, n.Broken):
                continue
            labels = self.scope.labels(arm.labels, 1000)
            for label in labels:
                if label in targets:
                    self.scope.say(
                        "duplicate-arm", f"there is an arm for `{label}` already", arm.labels[0].span,
                        also=(Label(where[label], "first here"),),
                    )  # fmt: skip
                elif options and label not in options and label not in self.scope.excused:
                    self.scope.say(
                        "unknown-label",
                        f"`{node.subject}` is never `{label}`",
                        arm.labels[0].span,
                        hint=did_you_mean(label, options) or f"it is one of {', '.join(options[:8])}",
                    )
                    whole = False
                where.setdefault(label, arm.labels[0].span)
                targets.setdefault(label, len(self.code))
            self.scope.certain = set(before)
            with self._at(f"{node.subject}={','.join(labels)}"), self._block():
                self._statements(arm.body)
            after.append(self.scope.certain)
            ends.append(self._jump(node))
        missing = [o for o in options if o not in targets]
        if missing and whole:
            listed = " and ".join(f"`{x}`" for x in missing)
            self.scope.say(
                "arm-missing",
                f"nothing is said for {listed}",
                _head(node),
                hint=f"add an arm for {listed}; with nothing to do there, say so in a step",
            )
        for end in ends:
            self._patch(end, target=len(self.code))
        self._patch(arms, targets={**targets, **{x: len(self.code) for x in missing}})
        self.scope.certain = set.intersection(*after) if after else before

    def _when(self, node: n.When) -> None:
        condition = compile_condition(node.condition, self.scope) or _nothing()
        branch = self._emit(m.Branch(condition=condition, otherwise=-1, **self._where(node, "when")))
        before = set(self.scope.certain)
        count = self._addresses["/".join([*self._address, "when"])]
        with self._at(f"when~{count}"), self._block():
            self._statements(node.body)
            self._flush()
        yes = self.scope.certain
        self.scope.certain = set(before)
        if node.otherwise is None:
            self._patch(branch, otherwise=len(self.code))
        else:
            over = self._jump(node)
            self._patch(branch, otherwise=len(self.code))
            with self._at(f"otherwise~{count}"), self._block():
                self._statements(node.otherwise.body)
                self._flush()
            self._patch(over, target=len(self.code))
        self.scope.certain = yes & self.scope.certain

    def _repeat(self, node: n.Repeat) -> None:
        self._take(node.name, "loop")
        self._former(node.name, node.former)
        bound = self.scope.whole(node.times, 1, 1000, "how often a loop goes round") or 1
        loop = _Loop(node.name.text)
        self._loops.append(loop)
        with self._at(node.name.text, node.name.text):
            begin = self._emit(m.BeginLoop(name=loop.name, bound=bound, **self._where(node)))
            with self._block():
                self._statements(node.body)
            end = self._emit(
                m.EndLoop(
                    name=loop.name,
                    bound=bound,
                    begin=begin,
                    exhausted=-1,
                    out=-1,
                    unfinished=node.otherwise is None and any(isinstance(x, n.LeaveWhen) for x in node.walk()),
                    **self._where(node, ".end"),
                )
            )
            exhausted = len(self.code)
            body_end = set(self.scope.certain)
        self._loops.pop()
        if node.otherwise is not None:
            with self._at(f"{node.name}=otherwise", node.name.text), self._block():
                self._statements(node.otherwise.body)
        ways_out = [*loop.certain, set(self.scope.certain) if node.otherwise is not None else body_end]
        self.scope.certain = set.intersection(*ways_out)
        out = len(self.code)
        self._patch(end, exhausted=exhausted, out=out)
        for pc in loop.leaves:
            self._patch(pc, out=out)

    def _leave(self, node: n.LeaveWhen) -> None:
        condition = compile_condition(node.condition, self.scope)
        if not self._loops:
            self.scope.say("misplaced", "`leave when` belongs inside a `repeat`", _head(node))
            return
        loop = self._loops[-1]
        loop.leaves.append(
            self._emit(
                m.Leave(loop=loop.name, condition=condition or _nothing(), out=-1, **self._where(node, "leave when"))
            )
        )
        loop.certain.append(set(self.scope.certain))

    def _for_each(self, node: n.ForEach) -> None:
        name = node.labels.text
        labels = self.scope.label_sets.get(name)
        if labels is None and self.machine is not None and name in self.machine.items:
            labels = self.machine.items[name].labels or None
        self.scope.used.add(name)
        if labels is None:
            if name not in self.scope.excused:
                self.scope.say(
                    "unknown-labels",
                    f"there is no set of labels or table called `{name}`",
                    node.labels.span,
                    hint=did_you_mean(name, self.scope.label_sets)
                    or f"declare it in the header: `labels {name} 1 .. 8`",
                )
            labels = ()
        variable = node.variable.text
        if variable in self.scope.symbols or self.scope.loop_labels(variable) is not None:
            self.scope.say("duplicate-name", f"`{variable}` is the name of something else here", node.variable.span)
        if node.star:
            labels = tuple(labels[i - 1] for i in star_order(len(labels))) if labels else labels
        self._take(node.variable, "loop")
        self.scope.loops.append((variable, labels))
        with self._at(variable, variable), self._block():
            self._emit(m.BeginEach(variable=variable, labels=labels, **self._where(node)))
            begin = len(self.code)
            self._statements(node.body)
            self._emit(m.EndEach(variable=variable, labels=labels, begin=begin, **self._where(node, ".end")))
        self.scope.loops.pop()

    def _any_order(self, node: n.AnyOrder) -> None:
        steps: list[tuple[str, str, int]] = []
        with self._block():
            order = self._emit(m.AnyOrderInstr(steps=(), out=-1, **self._where(node, "in any order")))
            for step in node.body:
                if isinstance(step, n.Broken):
                    continue
                if not isinstance(step, n.Step):
                    self.scope.say(
                        "misplaced",
                        "only steps stand in `in any order`",
                        _head(step),
                        hint="put it before or after the group",
                    )
                    continue
                steps.append((step.name.text, step.title.plain, len(self.code)))
                self._step_statement(step)
                self._emit(m.OrderDone(step=step.name.text, back=order, **self._where(step, step.name.text, ".done")))
            self._patch(order, steps=tuple(steps), out=len(self.code))

    def _perform(self, node: n.Perform) -> None:
        self._take(node.name, "performed procedure")
        self._former(node.name, node.former)
        routine = self.routines.get(node.procedure.text)
        arguments: list[tuple[m.Symbol, m.Formula]] = []
        given: set[str] = set()
        for part in node.parts:
            if not isinstance(part, n.With):
                continue
            formula = compile_formula(part.value, self.scope)
            if routine is None:
                continue
            symbol = next((s for s in routine.inputs if s.name == part.name.text), None)
            if symbol is None:
                if part.name.text not in self.scope.excused:
                    self.scope.say(
                        "unknown-input",
                        f"`{node.procedure}` has no input `{part.name}`",
                        part.name.span,
                        hint=did_you_mean(part.name.text, [s.name for s in routine.inputs]),
                    )
                continue
            if part.name.text in given:
                self.scope.say("twice", f"`{part.name}` is given twice", part.name.span)
            given.add(part.name.text)
            if formula is None:
                continue
            if formula.type != symbol.type:
                self.scope.say(
                    "dimension-mismatch",
                    f"`{part.name}` of `{node.procedure}` is {symbol.type.describe()}; this is {formula.type.describe()}",
                    part.value.span,
                )
                continue
            arguments.append((symbol, formula))
        gives: list[tuple[str, m.Symbol]] = []
        for part in node.parts:
            if isinstance(part, n.Take):
                taken = self._taken_result(node, part, routine)
                if taken is not None:
                    gives.append(taken)
        if routine is None:
            return
        if routine.machine is not None and self.machine is not None and routine.machine.name != self.machine.name:
            self.scope.say(
                "other-machine",
                f"`{node.procedure}` works on the machine `{routine.machine.name}`, this procedure on `{self.machine.name}`",
                node.procedure.span,
            )
        self._emit(
            m.Call(
                routine=node.procedure.text,
                name=node.name.text,
                arguments=tuple(arguments),
                gives=tuple(gives),
                **self._where(node, node.name.text),
            )
        )

    def _taken_result(self, node: n.Perform, part: n.Take, routine: m.Routine | None) -> tuple[str, m.Symbol] | None:
        into = part.into or part.name
        if routine is None:
            self._declare_unknown(into)
            return None
        if part.name.text not in routine.gives:
            if part.name.text not in self.scope.excused:
                self.scope.say(
                    "unknown-result",
                    f"`{node.procedure}` gives no `{part.name}`",
                    part.name.span,
                    hint=did_you_mean(part.name.text, routine.gives)
                    or f"it says what it gives in its header: `gives {part.name}`",
                )
            self._declare_unknown(into)
            return None
        inner = routine.symbols.get(part.name.text)
        if inner is None:
            self._declare_unknown(into)
            return None
        symbol = attrs.evolve(inner, name=into.text, how="given", span=into.span, former=None)
        self._declare(symbol, into)
        return part.name.text, symbol


def void(_: object) -> None:
    """Drop a result."""


def _head(node: n.Node) -> Span:
    """The first line of a statement, as far as it was written: enough to underline."""
    return Span(node.span.file, node.span.start, node.span.start + len(print_line(node).split()[0]))


def _nothing() -> m.Formula:
    """Stands in for a condition that was complained about; never evaluated, since such a procedure is not run."""
    return m.Formula(m.Truth(), lambda env: False, "", ())


def _negated(formula: m.Formula) -> m.Formula:
    return m.Formula(m.Truth(), lambda env: not formula.evaluate(env), f"not ({formula.text})", formula.names)


def _facet_unit(facets: tuple[n.Facet | n.Broken, ...], dimension: Any, scope: Scope) -> Any:
    """The unit the limits are written in: the one the reader of the line thinks in."""
    from proclang.program.facets import shared_unit

    for facet in facets:
        if isinstance(facet, (n.WithinAround, n.WithinRange, n.Bound)):
            operands = [x for x in facet.children() if isinstance(x, n.Literal)]
            unit = shared_unit(*operands)
            if unit is not None and unit.dimension == dimension:
                return unit
    return None


_NOWHERE = Span("", 0, 0)
_NOBODY = n.Name("x", span=_NOWHERE)
_NOTEXT = n.Text((), span=_NOWHERE)

_LOWER: dict[type[n.Node], Callable[[Any, Any], None]] = {
    n.Step: Lowering._step_statement,
    n.Measure: Lowering._measure,
    n.MeasureAgain: Lowering._again,
    n.Compute: Lowering._compute,
    n.SetValue: Lowering._set,
    n.Confirm: Lowering._ask,
    n.Choose: Lowering._ask,
    n.Note: Lowering._ask,
    n.Photo: Lowering._ask,
    n.Hold: Lowering._sign,
    n.Witness: Lowering._sign,
    n.Now: Lowering._now,
    n.Require: Lowering._require,
    n.Upsets: Lowering._upsets,
    n.According: Lowering._according,
    n.When: Lowering._when,
    n.Repeat: Lowering._repeat,
    n.LeaveWhen: Lowering._leave,
    n.ForEach: Lowering._for_each,
    n.AnyOrder: Lowering._any_order,
    n.Perform: Lowering._perform,
}
