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
    for kind, text, begin, end in lexemes:
        move = row.get(kind)
        while move is not None and move < 0:
            size, origin, does, build, pick = reductions[~move]
            if does == _PASS:
                states.pop()
            else:
                given = values[-size:]
                if does == _BUILD:
                    given.append(None)
                    place = Span(file, min(begins[-size:]), max(ends[-size:]))
                    value = build(place, *pick(given))
                    del values[-size:]
                    values.append(value)
                elif does == _MORE:
                    values[-size] += pick(given)
                    del values[1 - size :]
                else:
                    values[-size:] = [list(pick(given))]
                if size > 1:
                    begins[-size:] = [min(begins[-size:])]
                    ends[-size:] = [max(ends[-size:])]
                del states[-size:]
            goto = rows[states[-1]][origin]
            states.append(goto)
            if goto == end_state and kind == "$END":
                return values[-1]
            row = rows[goto]
            move = row.get(kind)
        if move is None:
            return None
        states.append(move)
        row = rows[move]
        if kind[0] == "_":
            values.append(None)
            begins.append(_NOWHERE)
            ends.append(0)
        else:
            leaf = LEAVES.get(kind)
            values.append(text if leaf is None else leaf(text, file, begin, end, findings))
            begins.append(begin)
            ends.append(end)
    return None
