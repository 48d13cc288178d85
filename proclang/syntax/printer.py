"""A tree back to text: one layout, so that parsing what was printed gives an equal tree.

Comments are not in the tree; `format` lays out a text that people wrote, and prints what is here alike.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from proclang.syntax import nodes as n

_BINDING = {"or": 1, "and": 2, "<": 4, "<=": 4, ">": 4, ">=": 4, "+": 5, "-": 5, "*": 6, "/": 6}
_NOT, _JUDGED, _NEGATIVE, _POWER, _ATOM = 3, 4, 7, 8, 9


def print_tree(tree: n.File) -> str:
    """The text of a procedure or machine file. The tree must hold no `Broken` node."""
    lines = _Lines()
    assert isinstance(tree.version, n.Number)
    assert isinstance(tree.title, n.Title)
    lines.add(f"proclang {tree.version.typed}")
    title = tree.title
    lines.add(f"{title.what} {title.name}{_formerly(title.former)} {quote(title.text)}")
    for item in tree.body:
        if isinstance(item, (n.Section, n.Inputs, n.Needs, n.MachineUse, n.Table, n.KindOfItem)):
            lines.gap()
        lines.node(item)
    return lines.text()


def print_line(node: n.Node) -> str:
    """The first line of a node, without what stands in its block."""
    return _PRINT[type(node)](node)[0]


class _Lines:
    def __init__(self) -> None:
        self._out: list[str] = []
        self._level = 0

    def add(self, line: str) -> None:
        self._out.append("  " * self._level + line)

    def gap(self) -> None:
        self._out.append("")

    def text(self) -> str:
        return "\n".join(self._out) + "\n"

    def block(self, items: Iterable[n.Node]) -> None:
        self._level += 1
        for item in items:
            self.node(item)
        self._level -= 1

    def node(self, item: n.Node) -> None:
        head, blocks = _PRINT[type(item)](item)
        self.add(head)
        for block in blocks:
            if isinstance(block, n.Otherwise):
                self.node(block)
            else:
                self.block(block)


Printed = tuple[str, tuple[Any, ...]]


def quote(text: n.Text) -> str:
    """A quoted text as it stands in a source."""
    parts = []
    for piece in text.pieces:
        if isinstance(piece, n.Insert):
            parts.append("{" + _insert(piece) + "}")
        else:
            for char in '\\"{}':
                piece = piece.replace(char, "\\" + char)
            parts.append(piece)
    return '"' + "".join(parts) + '"'


def _insert(insert: n.Insert) -> str:
    text = expression(insert.value)
    if insert.step is not None:
        text += f" to {insert.step.typed}"
    if insert.signed:
        text += ", signed"
    if insert.words:
        text += ", " + " or ".join(str(w) for w in insert.words)
    return text + _in(insert.unit)


def expression(node: n.Expression, above: int = 0) -> str:
    """An expression, with the brackets its place needs. `above` is how tightly the operator outside binds."""
    text, binding = _expression(node)
    return f"({text})" if binding < above else text


def _expression(node: n.Expression) -> tuple[str, int]:
    if isinstance(node, n.Literal):
        return node.number.typed, _NEGATIVE if node.number.typed.startswith("-") else _ATOM
    if isinstance(node, n.Reference):
        return f"{node.name}{_places(node.labels)}", _ATOM
    if isinstance(node, n.Call):
        arguments = ", ".join(
            (f"{a.name} = " if a.name is not None else "") + expression(a.value) for a in node.arguments
        )
        return f"{node.name}({arguments})", _ATOM
    if isinstance(node, n.Binary):
        binding = _BINDING[node.operator]
        left = expression(node.left, binding + (1 if binding == _JUDGED else 0))
        return f"{left} {node.operator} {expression(node.right, binding + 1)}", binding
    if isinstance(node, n.Unary):
        if node.operator == "not":
            return f"not {expression(node.operand, _NOT)}", _NOT
        return f"-{expression(node.operand, _NEGATIVE)}", _NEGATIVE
    if isinstance(node, n.Power):
        return f"{expression(node.base, _ATOM)} ^ {node.exponent.typed}", _POWER
    if isinstance(node, n.Judged):
        return f"{expression(node.value, _JUDGED + 1)} {node.outcome}", _JUDGED
    return f"{expression(node.value, _JUDGED + 1)} is {node.label}", _JUDGED


def operand(node: n.Expression) -> str:
    """An operand of a tolerance: a number, a name, or anything else in brackets."""
    if isinstance(node, (n.Literal, n.Reference)):
        return expression(node)
    return f"({expression(node)})"


def _label(label: n.Label) -> str:
    if isinstance(label, n.LabelRange):
        return f"{label.first.typed} .. {label.last.typed}"
    return label.typed if isinstance(label, n.Number) else label.text


def _labels(labels: Iterable[n.Label]) -> str:
    return ", ".join(_label(x) for x in labels)


def _places(labels: tuple[n.Label, ...]) -> str:
    return f"[{_labels(labels)}]" if labels else ""


def _names(names: Iterable[n.Name]) -> str:
    return ", ".join(str(x) for x in names)


def _people(names: Iterable[n.Name]) -> str:
    return " and ".join(str(x) for x in names)


def _by(names: tuple[n.Name, ...]) -> str:
    return f" by {_people(names)}" if names else ""


def _formerly(name: n.Name | None) -> str:
    return f" formerly {name}" if name is not None else ""


def _in(unit: n.Unit | None) -> str:
    return f" in {unit.text}" if unit is not None else ""


def _using(name: n.Name | None) -> str:
    return f" using {name}" if name is not None else ""


def _takes(takes: n.Takes | None) -> str:
    if takes is None:
        return ""
    return f", takes {operand(takes.low)}" + (f" .. {operand(takes.high)}" if takes.high is not None else "")


def _place(place: n.Place) -> str:
    return f"{place.name}{_places(place.labels)}"


def _fewest(number: n.Number | None) -> str:
    return f", at least {number.typed}" if number is not None else ""


def _coverage(k: n.Number | None) -> str:
    return f" at k {k.typed}" if k is not None else ""


def _optional(text: n.Text | None) -> str:
    return f" {quote(text)}" if text is not None else ""


def _block(*blocks: Any) -> tuple[Any, ...]:
    return tuple(b for b in blocks if b)


def _input(i: n.Input) -> Printed:
    kind = f"one of {_names(i.kind.choices)}" if i.kind.choices else " per ".join(str(w) for w in i.kind.words)
    default = f" = {operand(i.default)}" if i.default is not None else ""
    return f"{i.name}{_formerly(i.former)}: {kind}{default}{_optional(i.title)}", _block(i.facets)


def _hardware(h: n.Hardware) -> Printed:
    parts = [f"found {h.found}"] if h.found else []
    parts += [f"left {h.left}"] if h.left else []
    return f"{_place(h.place)} {', '.join(parts)}", ()


def _interlock(i: n.Interlock) -> Printed:
    what = f"{'becomes' if i.becomes else 'is'} {i.state}" if i.state is not None else "moves"
    only = f"only while {_standing(i.conditions)}" if i.conditions else "only by their own role"
    return f"interlock {_place(i.place)} {what} {only}", ()


def _standing(conditions: tuple[n.Standing, ...]) -> str:
    return " and ".join(f"{_place(s.place)} is {s.state}" for s in conditions)


def _counted(c: n.Counted) -> Printed:
    return "counted " + ", ".join(f"{x.name}{_places(x.labels)}{_optional(x.title)}" for x in c.things), ()


def _measure(m: n.Measure) -> Printed:
    head = f"measure {m.name}{_places(m.labels)}{_formerly(m.former)}{_optional(m.title)}{_in(m.unit)}"
    return head + _using(m.instrument), _block(m.facets)


def _target(t: n.Target) -> str:
    return f"{t.name}{_places(t.labels)}{_formerly(t.former)}"


def _set(s: n.SetValue) -> Printed:
    head = f"set {s.name}{_formerly(s.former)} {quote(s.title)} to {expression(s.value)}"
    head += f" ± {operand(s.allowed)}" if s.allowed is not None else ""
    head += _in(s.unit)
    head += f", read back{_using(s.read_back.instrument)}" if s.read_back is not None else ""
    head += ", read again after a power cycle" if s.again_after_power_cycle else ""
    return head + (", no deviation" if s.no_deviation else ""), ()


def _perform(p: n.Perform) -> Printed:
    alias = f" as {p.alias}" if p.alias is not None else ""
    return f"perform {p.procedure}{alias}{_formerly(p.former)}", _block(p.parts)


def _hazard(h: n.Hazard) -> Printed:
    return f"{h.word} {h.name}{_formerly(h.former)}{_optional(h.title)}", _block(h.parts)


def _conditional(head: str, body: Any, otherwise: n.Otherwise | None) -> Printed:
    return head, _block(body, otherwise)


def _plain(make: Callable[[Any], str]) -> Callable[[Any], Printed]:
    return lambda node: (make(node), ())


def _step(s: n.Step) -> Printed:
    return f"step {s.name}{_formerly(s.former)} {quote(s.title)}{_by(s.people)}{_takes(s.takes)}", _block(s.body)


def _hold(h: n.Hold) -> Printed:
    witness = f", witness {_people(h.witness)}" if h.witness else ""
    return f"hold {h.name}{_formerly(h.former)} {quote(h.text)}{_by(h.people)}{witness}", ()


_PRINT: dict[type[n.Node], Callable[[Any], Printed]] = {
    n.Revision: _plain(lambda x: f"revision {x.number.typed}"),
    n.Purpose: lambda x: (
        f"purpose {quote(x.sentences[0])}", _block([n.Prose(t, span=t.span) for t in x.sentences[1:]])
    ),
    n.Gives: _plain(lambda x: f"gives {_names(x.names)}"),
    n.Labels: _plain(lambda x: f"labels {x.name} {_labels(x.labels)}"),
    n.Table: lambda x: (f"table {x.name} of {_names(x.columns)}", (x.rows,)),
    n.Row: _plain(lambda x: f"{_label(x.label)} {', '.join(c.typed for c in x.cells)}"),
    n.Inputs: lambda x: ("inputs", (x.items,)),
    n.Input: _input,
    n.Needs: lambda x: ("needs", (x.items,)),
    n.Instrument: _plain(
        lambda x: f"instrument {x.name} {quote(x.title)}"
        + "".join(f", {a.what} {operand(a.value)}{_coverage(a.k)}" for a in x.abilities)
    ),
    n.Tool: _plain(lambda x: f"tool {x.name} {quote(x.title)}"),
    n.Part: _plain(
        lambda x: f"part {x.name} {quote(x.title)}" + (f" x {x.count.typed}" if x.count is not None else "")
    ),
    n.Crew: _plain(lambda x: f"crew {_names(x.roles)}{_fewest(x.fewest)}"),
    n.Apart: _plain(lambda x: f"nobody is both {x.one} and {x.other}"),
    n.Authority: _plain(lambda x: f"authority {_names(x.roles)}"),
    n.MachineUse: lambda x: (f"machine {x.name}", _block(x.items)),
    n.Hardware: _hardware,
    n.KindOfItem: lambda x: (f"kind {x.name}", (x.states,)),
    n.States: _plain(lambda x: f"states {_names(x.names)}"),
    n.Item: _plain(lambda x: f"{x.name}{_places(x.labels)}: {x.kind}{_optional(x.title)}"),
    n.Interlock: _interlock,
    n.Counted: _counted,
    n.MadeSafe: _plain(lambda x: f"if stopped {_standing(x.conditions)}"),
    n.AskNothing: _plain(lambda x: f"ask nothing while {_standing(x.conditions)}"),
    n.WithinAround: _plain(lambda x: f"within {operand(x.centre)} ± {operand(x.half)}"),
    n.WithinUneven: _plain(lambda x: f"within {operand(x.centre)} +{x.plus.typed} / -{x.minus.typed}"),
    n.WithinRange: _plain(lambda x: f"within {operand(x.low)} .. {operand(x.high)}"),
    n.Bound: _plain(lambda x: f"at {'most' if x.most else 'least'} {operand(x.value)}"),
    n.Plausible: _plain(lambda x: f"plausible {operand(x.low)} .. {operand(x.high)}"),
    n.Spread: _plain(lambda x: f"spread at most {operand(x.most)}"),
    n.JudgedBy: _plain(lambda x: f"judged by {x.how}"),
    n.Guarded: _plain(lambda x: "guarded" + (f" at {x.probability.typed}" if x.probability is not None else "")),
    n.KnownTo: _plain(lambda x: f"known to {operand(x.value)}{_coverage(x.k)}"),
    n.Counts: _plain(lambda x: f"counts {_place(x.place)} {x.state}"),
    n.NoDeviation: _plain(lambda x: "no deviation"),
    n.Risk: _plain(lambda x: f"risk {quote(x.text)}"),
    n.Avoid: _plain(lambda x: f"avoid {quote(x.text)}"),
    n.Asks: _plain(lambda x: f"asks {x.name} {quote(x.text)}{_in(x.unit)}"),
    n.Due: _plain(
        lambda x: f"due before {_place(x.place)} " + ("moves" if x.state is None else f"is {x.state}")
    ),
    n.Hazard: _hazard,
    n.Section: lambda x: (
        f"section {x.name}{_formerly(x.former)} {quote(x.title)}{_takes(x.takes)}", _block(x.body)
    ),
    n.Step: _step,
    n.Prose: _plain(lambda x: quote(x.text)),
    n.Figure: _plain(lambda x: f"figure {quote(x.path)} {quote(x.caption)}"),
    n.Measure: _measure,
    n.MeasureAgain: _plain(lambda x: f"measure again {x.name}{_places(x.labels)}{_using(x.instrument)}"),
    n.Compute: lambda x: (
        f"compute {', '.join(_target(t) for t in x.targets)} = {expression(x.value)}{_in(x.unit)}", _block(x.facets)
    ),
    n.ComputeAgain: _plain(lambda x: f"compute again {x.name}"),
    n.SetValue: _set,
    n.Confirm: _plain(
        lambda x: f"confirm {x.name}{_formerly(x.former)} {quote(x.text)}{_by(x.people)}"
        + (", no deviation" if x.no_deviation else "")
    ),
    n.Choose: _plain(
        lambda x: f"choose {x.name}{_formerly(x.former)} from {_names(x.options)} {quote(x.text)}"
    ),
    n.Note: _plain(lambda x: f"note {x.name}{_formerly(x.former)} {quote(x.text)}"),
    n.Photo: _plain(lambda x: f"photo {x.name}{_formerly(x.former)} {quote(x.text)}"),
    n.Hold: _hold,
    n.Witness: _plain(lambda x: f"witness {x.name}{_formerly(x.former)} {quote(x.text)}{_by(x.people)}"),
    n.Now: _plain(lambda x: f"now {_place(x.place)} is {x.state}"),
    n.Require: _plain(lambda x: f"require {_place(x.place)} is {x.state}"),
    n.Upsets: _plain(lambda x: f"upsets {_names(x.names)}"),
    n.According: lambda x: (f"according to {x.subject}", (x.arms,)),
    n.Arm: lambda x: (_labels(x.labels), _block(x.body)),
    n.When: lambda x: _conditional(f"when {expression(x.condition)}", x.body, x.otherwise),
    n.Otherwise: lambda x: ("otherwise", _block(x.body)),
    n.Repeat: lambda x: _conditional(
        f"repeat {x.name}{_formerly(x.former)} at most {x.times.typed} times", x.body, x.otherwise
    ),
    n.LeaveWhen: _plain(lambda x: f"leave when {expression(x.condition)}"),
    n.ForEach: lambda x: (
        f"for each {x.variable} of {x.labels}{' in star order' if x.star else ''}", _block(x.body)
    ),
    n.AnyOrder: lambda x: ("in any order", _block(x.body)),
    n.Perform: _perform,
    n.With: _plain(lambda x: f"with {x.name} = {expression(x.value)}"),
    n.Take: _plain(lambda x: f"gives {x.name}" + (f" as {x.into}" if x.into is not None else "")),
    n.Stopped: lambda x: ("if stopped", _block(x.body)),
}  # fmt: skip
