"""What the LALR parse calls at each rule: children in, node out. One method a rule of the grammar, in its order.

Lark hands over the kept terminals and the nodes of a rule as one list; an optional part that was not written is None.
`_one`, `_all` and their like take what they need from that list by kind, so that a rule may gain an optional part
without renumbering.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, TypeVar, cast

from lark import Transformer

from proclang.syntax import nodes as n
from proclang.syntax.lexer import Token
from proclang.text.span import Span

T = TypeVar("T")
Children = list[Any]

_WORDS = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")


def _span(children: Iterable[Any]) -> Span:
    """From the first child that stands anywhere to the end of the last."""
    first: Span | None = None
    end = 0
    for child in children:
        if isinstance(child, (Token, n.Node)):
            span = child.span
        elif isinstance(child, tuple) and child:
            span = _span(child)
        else:
            continue
        if first is None:
            first = span
        if span.end > end:
            end = span.end
    assert first is not None, "no rule of the grammar is empty"
    return Span(first.file, first.start, max(end, first.end))


def _one(children: Children, kind: type[T]) -> T | None:
    for child in children:
        if isinstance(child, kind):
            return child
    return None


def _all(children: Children, kind: type[T]) -> tuple[T, ...]:
    return tuple(child for child in children if isinstance(child, kind))


def _has(children: Children, terminal: str) -> bool:
    return any(isinstance(child, Token) and child.type == terminal for child in children)


class _Former(n.Name):
    """`formerly old`: marked, so that it is not taken for a name of the line."""


class _People(tuple[n.Name, ...]):
    """`lead and rigger`"""


class _Labels(tuple[n.Label, ...]):
    """`direct, reversed` or `1 .. 8`"""


class _Block(tuple[n.Node, ...]):
    """The statements of a block; empty where none was written."""


def _names(children: Children) -> tuple[n.Name, ...]:
    return tuple(c for c in children if type(c) is n.Name)


def _former(children: Children) -> n.Name | None:
    former = _one(children, _Former)
    return None if former is None else n.Name(former.text, span=former.span)


def _text(token: Token) -> n.Text:
    """The text of a STRING token; inserts were read before the parse (see `texts`)."""
    if isinstance(token.value, n.Text):
        return token.value
    return n.Text((unquote(token.text),) if len(token.text) > 2 else (), span=token.span)


def unquote(quoted: str) -> str:
    """What stands between the quotes, escapes resolved."""
    inner = quoted[1:-1]
    return re.sub(r"\\(.)", r"\1", inner) if "\\" in inner else inner


def _texts(children: Children) -> tuple[n.Text, ...]:
    return tuple(_text(c) for c in children if isinstance(c, Token) and c.type == "STRING")


def _number(children: Children) -> n.Number | None:
    for child in children:
        if isinstance(child, Token) and child.type == "NUMBER":
            return n.Number(child.text, span=child.span)
    return None


def _must(value: T | None) -> T:
    assert value is not None
    return value


class Builder(Transformer[Token, n.Node]):
    """The callbacks. Nothing is kept between calls, so one instance serves every parse."""

    # -------------------------------------------------------------- files

    def file(self, c: Children) -> n.File:
        version, title, *body = c
        return n.File(version, title, tuple(body), span=_span(c))

    def version(self, c: Children) -> n.Number | n.Broken:
        broken = _one(c, n.Broken)
        return broken if broken is not None else _must(_number(c))

    def procedure_title(self, c: Children) -> n.Title:
        return n.Title("procedure", _names(c)[0], _former(c), _texts(c)[0], span=_span(c))

    def machine_title(self, c: Children) -> n.Title:
        return n.Title("machine", _names(c)[0], None, _texts(c)[0], span=_span(c))

    def broken_title(self, c: Children) -> n.Broken:
        return cast(n.Broken, c[0])

    def broken(self, c: Children) -> n.Broken:
        words = frozenset(_WORDS.findall(c[0].text))
        return n.Broken(words, tuple(c[1:]), span=_span(c))

    # -------------------------------------------------------------- header

    def revision(self, c: Children) -> n.Revision:
        return n.Revision(_must(_number(c)), span=_span(c))

    def purpose(self, c: Children) -> n.Purpose:
        texts = _texts(c) + tuple(p.text for p in _all(c, n.Prose))
        return n.Purpose(texts, span=_span(c))

    def gives(self, c: Children) -> n.Gives:
        return n.Gives(_names(c), span=_span(c))

    def labels(self, c: Children) -> n.Labels:
        return n.Labels(_names(c)[0], tuple(_must(_one(c, _Labels))), span=_span(c))

    def label_set(self, c: Children) -> _Labels:
        return _Labels(c)

    def table(self, c: Children) -> n.Table:
        name, *columns = _names(c)
        rows = tuple(x for x in c if isinstance(x, (n.Row, n.Broken)))
        return n.Table(name, tuple(columns), rows, span=_span(c))

    def row(self, c: Children) -> n.Row:
        return n.Row(c[0], tuple(c[1:]), span=_span(c))

    def cell(self, c: Children) -> n.Number:
        sign, number = c
        return n.Number(("-" if sign is not None else "") + number.text, span=_span(c))

    def inputs(self, c: Children) -> n.Inputs:
        return n.Inputs(tuple(c[1:]), span=_span(c))

    def input(self, c: Children) -> n.Input:
        name, _, kind, default = c[0], c[1], c[2], c[3]
        texts = _texts(c)
        facets = _one(c, _Block)
        return n.Input(
            name,
            _former(c),
            kind,
            cast(n.Expression, default) if isinstance(default, n.Node) else None,
            texts[0] if texts else None,
            cast("tuple[n.Facet | n.Broken, ...]", tuple(facets or ())),
            span=_span(c),
        )

    def dimension_kind(self, c: Children) -> n.Kind:
        return n.Kind(words=_names(c), span=_span(c))

    def choice_kind(self, c: Children) -> n.Kind:
        return n.Kind(choices=_names(c), span=_span(c))

    def needs(self, c: Children) -> n.Needs:
        return n.Needs(tuple(c[1:]), span=_span(c))

    def instrument(self, c: Children) -> n.Instrument:
        return n.Instrument(_names(c)[0], _texts(c)[0], _all(c, n.Ability), span=_span(c))

    def ability(self, c: Children) -> n.Ability:
        what = " ".join(c[0].text.split())
        return n.Ability(what, c[1], span=_span(c))

    def tool(self, c: Children) -> n.Tool:
        return n.Tool(_names(c)[0], _texts(c)[0], span=_span(c))

    def part(self, c: Children) -> n.Part:
        return n.Part(_names(c)[0], _texts(c)[0], _number(c), span=_span(c))

    def crew(self, c: Children) -> n.Crew:
        return n.Crew(_names(c), span=_span(c))

    def authority(self, c: Children) -> n.Authority:
        return n.Authority(_names(c), span=_span(c))

    def machine_use(self, c: Children) -> n.MachineUse:
        items = tuple(x for x in c if isinstance(x, (n.Hardware, n.Broken)))
        return n.MachineUse(_names(c)[0], items, span=_span(c))

    def hardware_found(self, c: Children) -> n.Hardware:
        place, _, found, _, left = c
        return n.Hardware(place, found, left, span=_span(c))

    def hardware_left(self, c: Children) -> n.Hardware:
        return n.Hardware(c[0], None, c[2], span=_span(c))

    # -------------------------------------------------------------- machine files

    def kind_of_item(self, c: Children) -> n.KindOfItem:
        states = tuple(x for x in c if isinstance(x, (n.States, n.Broken)))
        return n.KindOfItem(_names(c)[0], states, span=_span(c))

    def states(self, c: Children) -> n.States:
        return n.States(_names(c), span=_span(c))

    def item(self, c: Children) -> n.Item:
        name, kind = _names(c)
        texts = _texts(c)
        return n.Item(name, tuple(_one(c, _Labels) or ()), kind, texts[0] if texts else None, span=_span(c))

    def interlock_moves(self, c: Children) -> n.Interlock:
        return n.Interlock(c[1], None, c[4], span=_span(c))

    def interlock_state(self, c: Children) -> n.Interlock:
        return n.Interlock(c[1], c[2], c[4], span=_span(c))

    def standing(self, c: Children) -> tuple[n.Standing, ...]:
        return tuple(c)

    def being(self, c: Children) -> n.Standing:
        return n.Standing(c[0], c[1], span=_span(c))

    def counted(self, c: Children) -> n.Counted:
        return n.Counted(_names(c), span=_span(c))

    # -------------------------------------------------------------- sections

    def section(self, c: Children) -> n.Section:
        return n.Section(_names(c)[0], _former(c), _texts(c)[0], _one(c, n.Takes), _body(c), span=_span(c))

    def block(self, c: Children) -> _Block:
        return _Block(_pair_otherwise(c))

    def step(self, c: Children) -> n.Step:
        return n.Step(
            _names(c)[0],
            _former(c),
            _texts(c)[0],
            tuple(_one(c, _People) or ()),
            _one(c, n.Takes),
            _body(c),
            span=_span(c),
        )

    def prose(self, c: Children) -> n.Prose:
        return n.Prose(_text(c[0]), span=_span(c))

    def figure(self, c: Children) -> n.Figure:
        path, caption = _texts(c)
        return n.Figure(path, caption, span=_span(c))

    def takes(self, c: Children) -> n.Takes:
        return n.Takes(c[1], c[2], span=_span(c))

    def hazard(self, c: Children) -> n.Hazard:
        texts = _texts(c)
        parts = tuple(x for x in c if isinstance(x, (n.Risk, n.Avoid, n.Asks, n.Broken)))
        return n.Hazard(c[0].text, _names(c)[0], _former(c), texts[0] if texts else None, parts, span=_span(c))

    def risk(self, c: Children) -> n.Risk:
        return n.Risk(_texts(c)[0], span=_span(c))

    def avoid(self, c: Children) -> n.Avoid:
        return n.Avoid(_texts(c)[0], span=_span(c))

    def asks(self, c: Children) -> n.Asks:
        return n.Asks(_names(c)[0], _texts(c)[0], _unit(c), span=_span(c))

    def measure(self, c: Children) -> n.Measure:
        names = _names(c)
        texts = _texts(c)
        return n.Measure(
            names[0],
            tuple(_one(c, _Labels) or ()),
            _former(c),
            texts[0] if texts else None,
            _must(_unit(c)),
            names[1] if len(names) > 1 else None,
            _facets(c),
            span=_span(c),
        )

    def again(self, c: Children) -> n.MeasureAgain:
        names = _names(c)
        return n.MeasureAgain(
            names[0], tuple(_one(c, _Labels) or ()), names[1] if len(names) > 1 else None, span=_span(c)
        )

    def compute(self, c: Children) -> n.Compute:
        targets = _all(c, n.Target)
        value = next(x for x in c if isinstance(x, n.Node) and not isinstance(x, n.Target))
        return n.Compute(targets, cast(n.Expression, value), _unit(c), _facets(c), span=_span(c))

    def compute_again(self, c: Children) -> n.ComputeAgain:
        return n.ComputeAgain(_names(c)[0], span=_span(c))

    def target(self, c: Children) -> n.Target:
        return n.Target(_names(c)[0], tuple(_one(c, _Labels) or ()), _former(c), span=_span(c))

    def set(self, c: Children) -> n.SetValue:
        to = next(i for i, x in enumerate(c) if isinstance(x, Token) and x.type == "TO")
        allowed = c[to + 3] if c[to + 2] is not None else None
        return n.SetValue(
            _names(c[:to])[0],
            _former(c),
            _texts(c[:to])[0],
            c[to + 1],
            allowed,
            _unit(c),
            _one(c, n.ReadBack),
            _has(c, "READ_AGAIN"),
            span=_span(c),
        )

    def read_back(self, c: Children) -> n.ReadBack:
        names = _names(c)
        return n.ReadBack(names[0] if names else None, span=_span(c))

    # -------------------------------------------------------------- facets

    def facet_block(self, c: Children) -> _Block:
        return _Block(c)

    def within_around(self, c: Children) -> n.WithinAround:
        return n.WithinAround(c[1], c[3], span=_span(c))

    def within_uneven(self, c: Children) -> n.WithinUneven:
        plus, minus = (n.Number(x.text, span=x.span) for x in c if isinstance(x, Token) and x.type == "NUMBER")
        return n.WithinUneven(c[1], plus, minus, span=_span(c))

    def within_range(self, c: Children) -> n.WithinRange:
        return n.WithinRange(c[1], c[2], span=_span(c))

    def bound(self, c: Children) -> n.Bound:
        return n.Bound(c[0].type == "AT_MOST", c[1], span=_span(c))

    def plausible(self, c: Children) -> n.Plausible:
        return n.Plausible(c[1], c[2], span=_span(c))

    def spread(self, c: Children) -> n.Spread:
        return n.Spread(c[2], span=_span(c))

    def judged(self, c: Children) -> n.JudgedBy:
        return n.JudgedBy(_names(c)[0], span=_span(c))

    # -------------------------------------------------------------- asking, signing, changing

    def confirm(self, c: Children) -> n.Confirm:
        return n.Confirm(_names(c)[0], _former(c), _texts(c)[0], tuple(_one(c, _People) or ()), span=_span(c))

    def choose(self, c: Children) -> n.Choose:
        name, *options = _names(c)
        return n.Choose(name, _former(c), tuple(options), _texts(c)[0], span=_span(c))

    def note(self, c: Children) -> n.Note:
        return n.Note(_names(c)[0], _former(c), _texts(c)[0], span=_span(c))

    def photo(self, c: Children) -> n.Photo:
        return n.Photo(_names(c)[0], _former(c), _texts(c)[0], span=_span(c))

    def hold(self, c: Children) -> n.Hold:
        people = _all(c, _People)
        witness = tuple(people[1]) if len(people) > 1 else ()
        return n.Hold(_names(c)[0], _former(c), _texts(c)[0], tuple(people[0]), witness, span=_span(c))

    def witness(self, c: Children) -> n.Witness:
        return n.Witness(_names(c)[0], _former(c), _texts(c)[0], tuple(_must(_one(c, _People))), span=_span(c))

    def now(self, c: Children) -> n.Now:
        return n.Now(c[1], c[2], span=_span(c))

    def require(self, c: Children) -> n.Require:
        return n.Require(c[1], c[2], span=_span(c))

    def upsets(self, c: Children) -> n.Upsets:
        return n.Upsets(_names(c), span=_span(c))

    # -------------------------------------------------------------- ways through

    def according(self, c: Children) -> n.According:
        arms = tuple(x for x in c if isinstance(x, (n.Arm, n.Broken)))
        return n.According(_names(c)[0], arms, span=_span(c))

    def arm(self, c: Children) -> n.Arm:
        labels = tuple(x for x in c if isinstance(x, (n.Name, n.Number, n.LabelRange)))
        return n.Arm(labels, _body(c), span=_span(c))

    def when(self, c: Children) -> n.When:
        return n.When(c[1], _body(c), span=_span(c))

    def otherwise(self, c: Children) -> n.Otherwise:
        return n.Otherwise(_body(c), span=_span(c))

    def repeat(self, c: Children) -> n.Repeat:
        return n.Repeat(_names(c)[0], _former(c), _must(_number(c)), _body(c), span=_span(c))

    def leave(self, c: Children) -> n.LeaveWhen:
        return n.LeaveWhen(c[1], span=_span(c))

    def for_each(self, c: Children) -> n.ForEach:
        variable, labels = _names(c)
        return n.ForEach(variable, labels, _has(c, "IN_STAR_ORDER"), _body(c), span=_span(c))

    def any_order(self, c: Children) -> n.AnyOrder:
        return n.AnyOrder(_body(c), span=_span(c))

    def perform(self, c: Children) -> n.Perform:
        names = _names(c)
        parts = tuple(x for x in c if isinstance(x, (n.With, n.Take, n.Broken)))
        return n.Perform(names[0], names[1] if len(names) > 1 else None, _former(c), parts, span=_span(c))

    def with_argument(self, c: Children) -> n.With:
        return n.With(c[1], c[2], span=_span(c))

    def take_result(self, c: Children) -> n.Take:
        names = _names(c)
        return n.Take(names[0], names[1] if len(names) > 1 else None, span=_span(c))

    def stopped(self, c: Children) -> n.Stopped:
        return n.Stopped(_body(c), span=_span(c))

    # -------------------------------------------------------------- names and places

    def name(self, c: Children) -> n.Name:
        return n.Name(c[0].text, span=c[0].span)

    def formerly(self, c: Children) -> _Former:
        return _Former(c[1].text, span=_span(c))

    def people(self, c: Children) -> _People:
        return _People(c)

    def places(self, c: Children) -> _Labels:
        return cast(_Labels, c[0])

    def place(self, c: Children) -> n.Place:
        return n.Place(c[0], tuple(c[1] or ()), span=_span(c))

    def label_name(self, c: Children) -> n.Name:
        return cast(n.Name, c[0])

    def label_number(self, c: Children) -> n.Number:
        return n.Number(c[0].text, span=c[0].span)

    def label_range(self, c: Children) -> n.LabelRange:
        first, last = (n.Number(x.text, span=x.span) for x in c)
        return n.LabelRange(first, last, span=_span(c))

    # -------------------------------------------------------------- expressions

    def operand(self, c: Children) -> n.Expression:
        return self.literal(c) if isinstance(c[0], Token) else cast("n.Expression", c[0])

    def negative_operand(self, c: Children) -> n.Literal:
        number = n.Number("-" + c[1].text, span=_span(c))
        return n.Literal(number, span=number.span)

    def inner(self, c: Children) -> n.Expression:
        return cast("n.Expression", c[0])

    def literal(self, c: Children) -> n.Literal:
        number = n.Number(c[0].text, span=c[0].span)
        return n.Literal(number, span=number.span)

    def reference(self, c: Children) -> n.Reference:
        return n.Reference(c[0], tuple(c[1] or ()), span=_span(c))

    def call(self, c: Children) -> n.Call:
        return n.Call(c[0], tuple(c[1:]), span=_span(c))

    def positional(self, c: Children) -> n.Argument:
        return n.Argument(None, c[0], span=_span(c))

    def named(self, c: Children) -> n.Argument:
        return n.Argument(c[0], c[1], span=_span(c))

    def argument_name(self, c: Children) -> n.Name:
        return c[0] if isinstance(c[0], n.Name) else self.name(c)

    def raised(self, c: Children) -> n.Power:
        return n.Power(c[0], n.Number(c[2].text, span=c[2].span), span=_span(c))

    def negative(self, c: Children) -> n.Unary:
        return n.Unary("-", c[1], span=_span(c))

    def denied(self, c: Children) -> n.Unary:
        return n.Unary("not", c[1], span=_span(c))

    def _binary(self, operator: str, left: n.Expression, right: n.Expression) -> n.Binary:
        return n.Binary(operator, left, right, span=left.span.to(right.span))

    def either(self, c: Children) -> n.Binary:
        return self._binary("or", c[0], c[1])

    def both(self, c: Children) -> n.Binary:
        return self._binary("and", c[0], c[1])

    def compared(self, c: Children) -> n.Binary:
        return self._binary(c[1].text, c[0], c[2])

    def plus(self, c: Children) -> n.Binary:
        return self._binary("+", c[0], c[2])

    def minus(self, c: Children) -> n.Binary:
        return self._binary("-", c[0], c[2])

    def times(self, c: Children) -> n.Binary:
        return self._binary("*", c[0], c[2])

    def over(self, c: Children) -> n.Binary:
        return self._binary("/", c[0], c[2])

    def passes(self, c: Children) -> n.Judged:
        return n.Judged(c[0], "passes", span=_span(c))

    def fails(self, c: Children) -> n.Judged:
        return n.Judged(c[0], "fails", span=_span(c))

    def is_label(self, c: Children) -> n.Being:
        return n.Being(c[0], c[1], span=_span(c))

    def insert(self, c: Children) -> n.Insert:
        words = _names(c[1:])
        return n.Insert(c[0], _number(c), _has(c, "SIGNED"), words, _unit(c), span=_span(c))


def _unit(c: Children) -> n.Unit | None:
    for child in c:
        if isinstance(child, Token) and child.type == "IN_UNIT":
            text = child.text[2:].lstrip()
            return n.Unit(text, span=Span(child.file, child.end - len(text), child.end))
    return None


def _body(c: Children) -> tuple[n.Statement, ...]:
    return cast("tuple[n.Statement, ...]", tuple(_one(c, _Block) or ()))


def _facets(c: Children) -> tuple[n.Facet | n.Broken, ...]:
    return cast("tuple[n.Facet | n.Broken, ...]", tuple(_one(c, _Block) or ()))


def _pair_otherwise(statements: list[n.Node]) -> list[n.Node]:
    """An `otherwise` goes to the `when` or `repeat` before it; one with nothing to belong to stays where it is."""
    import attrs

    paired: list[n.Node] = []
    for statement in statements:
        if isinstance(statement, n.Otherwise) and paired:
            before = paired[-1]
            if isinstance(before, (n.When, n.Repeat)) and before.otherwise is None:
                paired[-1] = attrs.evolve(before, otherwise=statement, span=before.span.to(statement.span))
                continue
            if isinstance(before, n.Broken):
                paired[-1] = attrs.evolve(before, inside=(*before.inside, statement))
                continue
        paired.append(statement)
    return paired
