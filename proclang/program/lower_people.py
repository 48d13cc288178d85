"""What people are told and asked: hazards, questions, hold and witness points."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from proclang.program import model as m
from proclang.program.lowering import Lowering
from proclang.program.machine import refuse_demands, resolve_hazard
from proclang.program.texts import compile_text
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Label


def lower_hazard(low: Lowering, node: n.Hazard, following: n.Step | None = None) -> None:
    """A hazard before the step it belongs to: written out here, or one that is known by its name."""
    info = _written_out(low, node) if node.title is not None else _known(low, node)
    if info is None:
        return
    for asked in info.asks:
        _declare_answer(low, node, info, asked)
    people = tuple(p.text for p in following.people) if following is not None else ()
    low.emit(m.Acknowledge(hazard=info, people=people, **low.where(node, node.name.text)))


class Following(NamedTuple):
    """What stands behind a statement in its block: the next step, and whether there is anything but hazards."""

    step: n.Step | None
    only_hazards: bool


def what_follows(statements: Sequence[n.Node]) -> list[Following]:
    """For each statement of a block."""
    following: list[Following] = []
    after = Following(None, True)
    for statement in reversed(statements):
        following.append(after)
        step = statement if isinstance(statement, n.Step) else after.step
        after = Following(step, after.only_hazards and isinstance(statement, n.Hazard))
    following.reverse()
    return following


def check_last(low: Lowering, node: n.Hazard, following: Following) -> None:
    """A hazard is said before what is dangerous, never after it."""
    if not low.damaged and following.only_hazards:
        low.scope.say_misplaced(
            f"nothing follows the {node.word} `{node.name}`", node.name.span, "put it before the step it warns of"
        )


def _written_out(low: Lowering, node: n.Hazard) -> m.HazardInfo:
    if node.name.text in low.hazards and not low.damaged:
        low.scope.say(
            "duplicate-name",
            f"there is a hazard `{node.name}` already",
            node.name.span,
            hint=f"to say it again write `{low.hazards[node.name.text].word} {node.name}` and nothing else",
        )
    low.former(node.name, node.former)
    refuse_demands(node, low.scope)
    info = resolve_hazard(node, low.scope)
    low.hazards.setdefault(node.name.text, info)
    return info


def _known(low: Lowering, node: n.Hazard) -> m.HazardInfo | None:
    low.scope.used.add(node.name.text)
    known = low.hazards.get(node.name.text)
    if known is None:
        low.scope.say_unknown(
            "unknown-hazard",
            f"there is no hazard `{node.name}`",
            node.name,
            low.hazards,
            "write it out here, with `risk` and `avoid`",
        )
        return None
    if known.word != node.word:
        low.scope.say(
            "other-signal-word",
            f"`{node.name}` is a {known.word}, not a {node.word}",
            node.span,
            hint=f"write `{known.word} {node.name}`",
        )
    return known


def _declare_answer(low: Lowering, node: n.Hazard, info: m.HazardInfo, asked: m.Asked) -> None:
    """The fact a hazard is answered with is a value like any other; the same hazard asks for it each time."""
    kind: m.Type = m.Amount(asked.unit.dimension) if asked.unit is not None else m.Words()
    earlier = low.scope.symbols.get(asked.name)
    if earlier is not None and low.asked_by.get(asked.name) != info.name and asked.name not in low.scope.excused:
        low.scope.say(
            "duplicate-name",
            f"`{info.name}` asks for `{asked.name}`, which is set by another line already",
            node.name.span,
            hint="choose another name",
            also=(Label(earlier.span, "first set here"),),
        )
    low.asked_by.setdefault(asked.name, info.name)
    low.scope.symbols.setdefault(asked.name, m.Symbol(asked.name, kind, "answered", node.name.span, asked.unit))
    low.scope.certain.add(asked.name)
    low.scope.unjudged.add(asked.name)


_HOW = {"confirm": "confirmed", "choose": "chosen", "note": "noted", "photo": "photo"}


def lower_ask(low: Lowering, node: n.Confirm | n.Choose | n.Note | n.Photo) -> None:
    """A question that is answered with a word, a text or a file name."""
    kind = type(node).__name__.lower()
    people = low.people(node.people) if isinstance(node, n.Confirm) else ()
    value: m.Type = m.Words()
    if isinstance(node, n.Choose):
        options = tuple(dict.fromkeys(o.text for o in node.options))
        if len(options) < len(node.options):
            low.scope.say("duplicate-label", f"an answer of `{node.name}` stands here twice", node.name.span)
        elif len(options) < 2:
            low.scope.say("too-few-choices", "a choice has at least two different answers", node.name.span)
        value = m.Choice(options)
    elif isinstance(node, n.Confirm):
        value = m.Choice(("yes",))
    text = compile_text(node.text, low.scope)
    symbol = m.Symbol(
        node.name.text,
        value,
        _HOW[kind],
        node.name.span,
        facets=m.Facets(no_deviation=isinstance(node, n.Confirm) and node.no_deviation),
        title=node.text.plain,
        former=node.former.text if node.former is not None else None,
    )
    low.former(node.name, node.former, value=True)
    low.declare(symbol, node.name)
    low.emit(m.Ask(kind=kind, symbol=symbol, text=text, people=people, **low.where(node, node.name.text)))
    low.release()


def lower_sign(low: Lowering, node: n.Hold | n.Witness) -> None:
    """A hold point, released by the people named, or a witness point."""
    kind = type(node).__name__.lower()
    low.take(node.name, f"{kind} point")
    low.former(node.name, node.former)
    people = low.people(node.people)
    witness = low.people(node.witness) if isinstance(node, n.Hold) else ()
    for role in node.witness if isinstance(node, n.Hold) else ():
        if role.text in people:
            low.scope.say("own-witness", f"`{role}` cannot witness what they release themselves", role.span)
    low.emit(
        m.Sign(
            kind=kind,
            name=node.name.text,
            text=compile_text(node.text, low.scope),
            people=people,
            witness=witness,
            **low.where(node, node.name.text),
        )
    )
