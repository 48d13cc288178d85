"""The one loop that turns lexemes into nodes: shift and reduce over the tables, builders called as rules are met.

Three stacks move together: states; the values they stand for; and the characters those take up. Terminals that say
nothing (their names begin with `_`: signs, `is`, layout) take up none, so that a node reaches from its first word to
its last.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import cache
from operator import itemgetter
from typing import Any

from proclang.syntax.grammar import automaton
from proclang.syntax.nodes import Node
from proclang.syntax.scan import Lexeme
from proclang.syntax.tables import BEGIN, MORE, PASS, Rule
from proclang.text.diagnostic import Diagnostic
from proclang.text.span import Span

Values = list[Any]
Reduce = Callable[[Span, Values], Any]
_NOWHERE = 1 << 60
_PASS, _BUILD, _BEGIN, _MORE = range(4)


@cache
def _reductions() -> tuple[tuple[int, str, int, Any, Any], ...]:
    """Of each rule: how many values it takes, its name, what it does, its builder, and what picks the arguments."""
    from proclang.syntax.build import BUILDERS

    return tuple(_reduction(rule, BUILDERS) for rule in automaton().rules)


def _reduction(rule: Rule, builders: dict[str, Callable[..., Any]]) -> tuple[int, str, int, Any, Any]:
    from proclang.syntax.build import same

    if rule.does == BEGIN:
        return rule.size, rule.origin, _BEGIN, None, _picker(rule)
    if rule.does == MORE:
        return rule.size, rule.origin, _MORE, None, _picker(rule)
    build = same if rule.does == PASS else builders[rule.build]
    if build is same and rule.size == 1:
        return 1, rule.origin, _PASS, None, None
    return rule.size, rule.origin, _BUILD, build, _picker(rule)


def _picker(rule: Rule) -> Callable[[Values], Sequence[Any]]:
    """From the values of a rule, and None behind them, to the arguments of its builder."""
    pick = [rule.size if index is None else index for index in rule.pick]
    if rule.spread and rule.does != MORE:
        spread = rule.spread

        def spreading(values: Values) -> list[Any]:
            given: list[Any] = []
            for index in pick:
                if index in spread:
                    given += values[index]
                else:
                    given.append(values[index])
            return given

        return spreading
    if rule.does == MORE:
        pick = pick[1:]  # the list itself, to which the others are added
    if len(pick) == 1:
        only = pick[0]
        return lambda values: (values[only],)
    return itemgetter(*pick)


def drive(lexemes: Iterable[Lexeme], file: str, start: str, findings: list[Diagnostic]) -> Any:
    """The node for a whole text, or None where a lexeme was not expected. `start` is the rule the text is to be; what
    is wrong inside quoted texts is added to `findings`."""
    from proclang.syntax.build import LEAVES

    tables = automaton()
    rows, reductions = tables.rows, _reductions()
    states = [tables.starts[start]]
    values: Values = []
    begins: list[int] = []
    ends: list[int] = []
    row = rows[states[0]]
    end_state = tables.ends[start]
    leaves = LEAVES.get
    for kind, text, begin, end in lexemes:
        move = row.get(kind)
        while move is not None and move < 0:
            size, origin, does, build, pick = reductions[~move]
            if does == _PASS:
                del states[-1]
            elif size == 1:
                if does == _BUILD:
                    value = values[-1]
                    place = value.span if isinstance(value, Node) else Span(file, begins[-1], ends[-1])
                    values[-1] = build(place, *pick((value, None)))
                else:
                    values[-1] = [values[-1]]
                del states[-1]
            else:
                given = values[-size:]
                first, last = begins[-size], ends[-1]
                if first == _NOWHERE or not last:
                    first, last = _reach(begins, ends, size)
                if does == _BUILD:
                    given.append(None)
                    values[-size:] = (build(Span(file, first, last), *pick(given)),)
                elif does == _MORE:
                    given[0] += pick(given)
                    values[-size:] = (given[0],)
                else:
                    values[-size:] = (list(pick(given)),)
                begins[-size:] = (first,)
                ends[-size:] = (last,)
                del states[-size:]
            goto = rows[states[-1]][origin]
            if goto == end_state and kind == "$END":
                return values[-1]
            states.append(goto)
            row = rows[goto]
            move = row.get(kind)
        if move is None:
            return None
        states.append(move)
        row = rows[move]
        leaf = leaves(kind)
        if leaf is not None:
            values.append(leaf(text, file, begin, end, findings))
        elif kind[0] == "_":
            values.append(None)
            begins.append(_NOWHERE)
            ends.append(0)
            continue
        else:
            values.append(text)
        begins.append(begin)
        ends.append(end)
    return None


def _reach(begins: list[int], ends: list[int], size: int) -> tuple[int, int]:
    """Where the first of the uppermost parts begins that take up any characters, and where the last ends."""
    at = -size
    while begins[at] == _NOWHERE:
        at += 1
    last = -1
    while not ends[last] and last > at:
        last -= 1
    return begins[at], ends[last]
