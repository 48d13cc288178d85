"""The names that can be seen from one place of a procedure, and the findings made while looking them up."""

from __future__ import annotations

import attrs

from proclang.program.model import Choice, Symbol
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Diagnostic, Label, Problem
from proclang.text.span import Span
from proclang.text.suggest import did_you_mean
from proclang.values.quantity import Quantity
from proclang.values.reader import Entered, read_quantity
from proclang.values.unit import Unit, find_unit, reply_only


@attrs.frozen
class Column:
    """One column of a table: a value for each row."""

    table: str
    values: dict[str, Quantity]
    unit: Unit
    span: Span = attrs.field(eq=False)


@attrs.define
class Scope:
    """Everything declared in one procedure so far. `excused` are the words of damaged lines: nothing is said about them."""

    symbols: dict[str, Symbol] = attrs.field(factory=dict)
    label_sets: dict[str, tuple[str, ...]] = attrs.field(factory=dict)
    columns: dict[str, Column] = attrs.field(factory=dict)
    loops: list[tuple[str, tuple[str, ...]]] = attrs.field(factory=list)
    certain: set[str] = attrs.field(factory=set)
    later: dict[str, Span] = attrs.field(factory=dict)
    """Every name any statement sets, with where."""
    excused: frozenset[str] = frozenset()
    used: set[str] = attrs.field(factory=set)
    findings: list[Diagnostic] = attrs.field(factory=list)
    hemisphere: Symbol | None = None
    uses_hemisphere: bool = False

    def say(self, code: str, message: str, span: Span, hint: str = "", also: tuple[Label, ...] = ()) -> None:
        """Add a finding."""
        self.findings.append(Diagnostic(code, message, span, hint=hint, also=also))

    def say_problem(self, problem: Problem, span: Span) -> None:
        """Add what a reader of a small text found wrong."""
        start = min(span.start + problem.start, span.end)
        end = min(span.start + problem.end, span.end) if problem.end > problem.start else span.end
        place = Span(span.file, start, end) if end > start else span
        self.findings.append(problem.at(place))

    def loop_labels(self, variable: str) -> tuple[str, ...] | None:
        """The labels a loop variable goes through, if it is one here."""
        for name, labels in reversed(self.loops):
            if name == variable:
                return labels
        return None

    def known_values(self) -> list[str]:
        """Names to suggest from."""
        return [*self.symbols, *self.columns, *(v for v, _ in self.loops), *self.later, "hemisphere"]

    def symbol(self, name: n.Name, *, certain: bool = True) -> Symbol | None:
        """The symbol of a name, or None after having said what is wrong with it."""
        self.used.add(name.text)
        symbol = self.symbols.get(name.text)
        if symbol is None and name.text == "hemisphere":
            self.uses_hemisphere = True
            return self.hemisphere
        if symbol is None:
            if name.text in self.excused:
                return None
            if name.text in self.later:
                self.say(
                    "not-set-yet",
                    f"`{name}` is used before it is set",
                    name.span,
                    hint="move the line that sets it above this one",
                    also=(Label(self.later[name.text], "set here"),),
                )
                return None
            self.say(
                "unknown-name", f"there is no value called `{name}`", name.span, hint=self._unknown_hint(name.text)
            )
            return None
        if certain and name.text not in self.certain and name.text not in self.excused:
            self.say(
                "perhaps-not-set",
                f"`{name}` is not set on every way to this line",
                name.span,
                hint="set it on the other ways too, or use it only where it is set",
                also=(Label(symbol.span, "set here"),),
            )
        return symbol

    def _unknown_hint(self, name: str) -> str:
        if name in self.label_sets:
            return f"`{name}` is a set of labels; go through it with `for each ... of {name}`"
        return did_you_mean(name, self.known_values())

    def unit(self, node: n.Unit) -> Unit | None:
        """The unit a line declares with `in`."""
        unit = find_unit(node.text)
        if isinstance(unit, Problem):
            self.say_problem(unit, node.span)
            return None
        if reply_only(node.text):
            self.say("unknown-unit", f"`{node.text}` is not written in a procedure", node.span, hint="write `inch`")
            return None
        return unit

    def quantity(self, number: n.Number, unit: Unit | None = None) -> Entered | None:
        """A number of the source, read; `unit` is shared with a bare number."""
        entered = read_quantity(number.typed, unit=None)
        if not isinstance(entered, Problem) and unit is not None and entered.unit.symbol == "":
            entered = read_quantity(number.typed, unit=unit)
        if isinstance(entered, Problem):
            self.say_problem(entered, number.span)
            return None
        return entered

    def whole(self, number: n.Number, least: int, most: int, what: str) -> int | None:
        """A whole number within bounds, such as how many times a loop goes round."""
        entered = self.quantity(number)
        if entered is None:
            return None
        value = entered.quantity.value
        if not entered.quantity.dimension.is_number or value.denominator != 1 or not least <= value <= most:
            self.say("not-whole", f"{what} is a whole number from {least} to {most}", number.span)
            return None
        return int(value)

    def labels(self, written: tuple[n.Label, ...], most: int) -> tuple[str, ...]:
        """The labels of a set, ranges written out; repeated ones are said."""
        out: list[str] = []
        for label in written:
            texts: list[str]
            if isinstance(label, n.LabelRange):
                first = self.whole(label.first, 0, 10**6, "the first label")
                last = self.whole(label.last, 0, 10**6, "the last label")
                if first is None or last is None:
                    continue
                if last < first or last - first >= most:
                    self.say("label-range", f"a range of labels goes up, and has at most {most}", label.span)
                    continue
                texts = [str(i) for i in range(first, last + 1)]
            elif isinstance(label, n.Number):
                whole = self.whole(label, 0, 10**6, "a label")
                if whole is None:
                    continue
                texts = [str(whole)]
            else:
                texts = [label.text]
            for text in texts:
                if text in out:
                    self.say("duplicate-label", f"the label `{text}` stands in this set twice", label.span)
                else:
                    out.append(text)
        return tuple(out)


def hemisphere_symbol(span: Span) -> Symbol:
    """The choice every procedure can be written according to."""
    from proclang.program.model import HEMISPHERES

    return Symbol("hemisphere", Choice(HEMISPHERES), "input", span, title="hemisphere of the site")
