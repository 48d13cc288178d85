"""The names that can be seen from one place of a procedure, and the findings made while looking them up."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence

import attrs

from proclang.program.certain import Certain
from proclang.program.declared import Symbol
from proclang.program.types import HEMISPHERES, Choice
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Diagnostic, Label, Problem, Severity
from proclang.text.span import Span
from proclang.text.suggest import did_you_mean
from proclang.values.quantity import Quantity
from proclang.values.reader import Entered, read_quantity
from proclang.values.unit import Unit, find_unit, reply_only

_SLIP = 0.88
"""How alike a misspelt word of a few letters is to the one that was meant, with one letter more, less or other."""

_MOST_COMPARED = 20_000
"""Words of one file that are compared, for a suggestion, with those that are known."""

RESERVED = ("hemisphere",)
"""Values that are there without being set."""


@attrs.frozen
class Column:
    """One column of a table: a value for each row."""

    table: str
    values: dict[str, Quantity]
    unit: Unit
    span: Span = attrs.field(eq=False)


@attrs.frozen
class Through:
    """A `for each` around the present line: its variable and labels. `serial` tells two loops of one name apart."""

    variable: str
    labels: tuple[str, ...]
    serial: int


@attrs.define
class Scope:
    """Everything declared in one file so far.

    `excused` are the words of damaged lines, and names whose own line has been complained about: nothing is said about
    them. `hidden` are the kinds of name a damaged line may have declared. `shifted` is set where the levels of the file
    are damaged: nothing is said about what stands where.
    """

    excused: set[str] = attrs.field(factory=set)
    hidden: frozenset[str] = frozenset()
    shifted: bool = False
    symbols: dict[str, Symbol] = attrs.field(factory=dict)
    label_sets: dict[str, tuple[str, ...]] = attrs.field(factory=dict)
    machine_sets: dict[str, tuple[str, ...]] = attrs.field(factory=dict)
    columns: dict[str, Column] = attrs.field(factory=dict)
    loops: list[Through] = attrs.field(factory=list)
    certain: Certain = attrs.field(factory=Certain)
    later: dict[str, Span] = attrs.field(factory=dict)
    """Every name any statement sets, with where."""
    axes_from: dict[str, tuple[int, ...]] = attrs.field(factory=dict)
    """For a series that is set label by label: the loop each of its axes comes from."""
    unjudged: set[str] = attrs.field(factory=set)
    """Names that some line sets without a tolerance."""
    used: set[str] = attrs.field(factory=set)
    words: set[Span] = attrs.field(factory=set)
    """Where a bare word is an argument of a calculation, and so no name."""
    findings: list[Diagnostic] = attrs.field(factory=list)
    hemisphere: Symbol | None = None
    uses_hemisphere: bool = False
    _compared: int = 0

    def say(
        self,
        code: str,
        message: str,
        span: Span,
        hint: str = "",
        also: tuple[Label, ...] = (),
        severity: Severity = Severity.ERROR,
    ) -> None:
        """Add a finding."""
        self.findings.append(Diagnostic(code, message, span, hint=hint, also=also, severity=severity))

    def say_misplaced(self, message: str, span: Span, hint: str = "") -> None:
        """Something stands where it does not belong; not said where the levels cannot be trusted."""
        if not self.shifted:
            self.say("misplaced", message, span, hint)

    def say_unknown(self, code: str, message: str, name: n.Name, known: Collection[str], otherwise: str = "") -> None:
        """A name that nothing goes by. Where something near is known it is a slip of this line; where nothing is, it
        is a declaration that is missing, which is said once; and not at all if a damaged line may hold it."""
        if name.text in self.excused:
            return
        kind = code.removeprefix("unknown-").replace("name", "value")
        if kind in self.hidden and not (self._patient(known) and is_slip(name.text, known)):
            self.excused.add(name.text)
            return
        near = did_you_mean(name.text, known) if self._patient(known) else ""
        self.say(code, message, name.span, hint=near or otherwise)
        if not near:
            self.excused.add(name.text)

    def say_unlisted(self, code: str, message: str, span: Span, word: str, known: Sequence[str]) -> None:
        """A label or a state that is not among those there are; not said if a damaged line may hold it."""
        kind = code.removeprefix("unknown-")
        if word in self.excused or (kind in self.hidden and not (self._patient(known) and is_slip(word, known))):
            return
        listed = ", ".join(known[:8]) + (", ..." if len(known) > 8 else "")
        near = did_you_mean(word, known) if self._patient(known) else ""
        self.say(code, message, span, hint=near or f"it is one of {listed}")

    def _patient(self, known: Collection[str]) -> bool:
        """Comparing words is slow: in a file with thousands of mistakes the later ones have no suggestion."""
        self._compared += len(known)
        return self._compared <= _MOST_COMPARED

    def say_problem(self, problem: Problem, span: Span) -> None:
        """Add what a reader of a small text found wrong."""
        start = min(span.start + problem.start, span.end)
        end = min(span.start + problem.end, span.end) if problem.end > problem.start else span.end
        place = Span(span.file, start, end) if end > start else span
        self.findings.append(problem.at(place))

    def quietly(self) -> Scope:
        """The same names, for looking once more at what has been complained about already."""
        return attrs.evolve(self, findings=[], used=set())

    # ------------------------------------------------------------------ labels

    def loop_labels(self, variable: str) -> tuple[str, ...] | None:
        """The labels a loop variable goes through, if it is one here."""
        through = self.through(variable)
        return None if through is None else through.labels

    def through(self, variable: str) -> Through | None:
        """The innermost loop of that variable around the present line."""
        return next((loop for loop in reversed(self.loops) if loop.variable == variable), None)

    def labels_of(self, name: str) -> tuple[str, ...] | None:
        """The labels of a set, a table, or the items of a machine; None if there is no such set."""
        labels = self.label_sets.get(name)
        return self.machine_sets.get(name) if labels is None else labels

    # ------------------------------------------------------------------ values

    def known_values(self) -> list[str]:
        """Names to suggest from."""
        return [*self.symbols, *self.columns, *(loop.variable for loop in self.loops), *self.later, *RESERVED]

    def symbol(self, name: n.Name) -> Symbol | None:
        """The symbol of a name, or None after having said what is wrong with it."""
        self.used.add(name.text)
        symbol = self.symbols.get(name.text)
        if symbol is None and name.text == "hemisphere":
            self.uses_hemisphere = True
            return self.hemisphere
        if name.text in self.excused:
            return symbol
        if symbol is None:
            if name.text in self.later:
                if "value" in self.hidden or self.shifted:
                    return None
                self.say(
                    "not-set-yet",
                    f"`{name}` is used before it is set",
                    name.span,
                    hint="move the line that sets it above this one",
                    also=(Label(self.later[name.text], "set here"),),
                )
            else:
                self.say_no_value(name)
            return None
        if name.text not in self.certain and "value" not in self.hidden and not self.shifted:
            self.say(
                "perhaps-not-set",
                f"`{name}` is not set on every way to this line",
                name.span,
                hint="set it on the other ways too, or use it only where it is set",
                also=(Label(symbol.span, "set here"),),
            )
        return symbol

    def say_no_value(self, name: n.Name) -> None:
        """There is no such value."""
        message = f"there is no value called `{name}`"
        if self.labels_of(name.text) is not None:
            hint = f"`{name}` is a set of labels; go through it with `for each ... of {name}`"
            self.say("unknown-name", message, name.span, hint=hint)
        else:
            known = self.known_values() if self._compared <= _MOST_COMPARED else []
            self.say_unknown("unknown-name", message, name, known)

    # ------------------------------------------------------------------ numbers and units

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
        entered = read_number(number.typed)
        if not isinstance(entered, Problem) and unit is not None and entered.unit.symbol == "":
            entered = read_number(number.typed, unit)
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
        bare = not entered.unit.symbol
        if not bare or value.denominator != 1 or not least <= value <= most:
            self.say("not-whole", f"{what} is a whole number from {least} to {most}", number.span)
            return None
        return int(value)

    def labels(self, written: tuple[n.Label, ...], most: int) -> tuple[str, ...]:
        """The labels of a set, ranges written out; repeated ones and too many are said."""
        out: dict[str, None] = {}
        for label in written:
            for text in self._label_texts(label, most):
                if text in out:
                    self.say("duplicate-label", f"the label `{text}` stands in this set twice", label.span)
                out.setdefault(text)
            if len(out) > most:
                self.say("too-many-labels", f"a set has at most {most:,} labels", label.span)
                return tuple(out)[:most]
        return tuple(out)

    def _label_texts(self, label: n.Label, most: int) -> list[str]:
        if isinstance(label, n.LabelRange):
            first = self.whole(label.first, 0, 10**6, "the first label")
            last = self.whole(label.last, 0, 10**6, "the last label")
            if first is None or last is None:
                return []
            if last < first or last - first >= most:
                self.say("label-range", f"a range of labels goes up, and has at most {most:,}", label.span)
                return []
            return [str(i) for i in range(first, last + 1)]
        if isinstance(label, n.Number):
            whole = self.whole(label, 0, 10**6, "a label")
            return [] if whole is None else [str(whole)]
        return [label.text]


_READ: dict[tuple[str, str | None], Entered | Problem] = {}
_MOST_READ = 2_000


def read_number(typed: str, unit: Unit | None = None) -> Entered | Problem:
    """A number of a source, read; the same few stand in a procedure again and again, so what was read is kept. A unit
    is known by its symbol."""
    key = (typed, None if unit is None else unit.symbol)
    read = _READ.get(key)
    if read is None:
        if len(_READ) >= _MOST_READ:
            _READ.clear()
        read = _READ[key] = read_quantity(typed, unit=unit)
    return read


def is_slip(word: str, known: Iterable[str]) -> bool:
    """Whether a word is a known one but for a letter or so, and not merely like it."""
    import difflib

    return any(difflib.SequenceMatcher(None, word, other).ratio() > _SLIP for other in known)


def hemisphere_symbol(span: Span) -> Symbol:
    """The choice every procedure can be written according to."""
    return Symbol("hemisphere", Choice(HEMISPHERES), "input", span, title="hemisphere of the site")


def once(seen: dict[str, Span], scope: Scope, message: str, code: str = "duplicate-name") -> Callable[[n.Name], bool]:
    """Notes names as they come; says `message`, with the name in place of `{}`, when one comes again."""

    def note(name: n.Name) -> bool:
        if name.text in seen:
            scope.say(code, message.format(f"`{name}`"), name.span, also=(Label(seen[name.text], "first here"),))
            return False
        seen[name.text] = name.span
        return True

    return note
