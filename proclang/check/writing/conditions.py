"""How conditions are written: no `and` beside an `or` without brackets, no double negatives, few at a time."""

from __future__ import annotations

from collections.abc import Iterator

from proclang.check.writing.rule import Found, Rule, Seen
from proclang.syntax import nodes as n


def _conditions(seen: Seen) -> Iterator[n.Expression]:
    yield from (node.condition for node in seen.tree.every(n.When))
    yield from (node.condition for node in seen.tree.every(n.LeaveWhen))


def _bracketed(seen: Seen, node: n.Node) -> bool:
    """Whether brackets stand right round a part of a condition.

    The place of a part leaves out the brackets at its own ends, as in `(a) and (b)`: those are passed over first.
    """
    text = seen.source.text
    depth = lowest = 0
    for char in text[node.span.start : node.span.end]:
        depth += (char == "(") - (char == ")")
        lowest = min(lowest, depth)
    before = _past(text, node.span.start - 1, -lowest, -1)
    after = _past(text, node.span.end, depth - lowest, 1)
    return text[before] == "(" and text[after] == ")"


def _past(text: str, at: int, brackets: int, step: int) -> int:
    """Past some brackets and all blanks, onward or back. A line ends in a newline, so there is an end to it."""
    while text[at] == " " or brackets:
        brackets -= text[at] != " "
        at += step
    return at


def mixed_conditions(seen: Seen) -> Iterator[Found]:
    """`a and b or c`."""
    for condition in _conditions(seen):
        for node in condition.walk_holders():
            if not isinstance(node, n.Binary) or node.operator != "or":
                continue
            for side in (node.left, node.right):
                if isinstance(side, n.Binary) and side.operator == "and" and not _bracketed(seen, side):
                    message = "`and` and `or` stand side by side without brackets"
                    yield Found(side.span, message, "put brackets round what belongs together")


def many_conditions(seen: Seen) -> Iterator[Found]:
    """More than two in one line."""
    for condition in _conditions(seen):
        joints = [x for x in condition.walk_holders() if isinstance(x, n.Binary) and x.operator in ("and", "or")]
        if len(joints) > 1:
            message = f"{len(joints) + 1} conditions stand in one line"
            yield Found(condition.span, message, "part the ways one after the other, with a `when` in a `when`")


def double_negative(seen: Seen) -> Iterator[Found]:
    """`not (x fails)`, `not (not a)`, `not (not a and b)`."""
    for condition in _conditions(seen):
        for node in condition.walk_holders():
            if not isinstance(node, n.Unary) or node.operator != "not":
                continue
            for inner in node.operand.walk_holders():
                denied = isinstance(inner, n.Unary) and inner.operator == "not"
                if denied or (isinstance(inner, n.Judged) and inner.outcome == "fails"):
                    hint = "say it without `not`: `x passes` where it is `not (x fails)`"
                    yield Found(node.span, "this denies what is denied already", hint)
                    break


RULES = (
    Rule("mixed-conditions", "`and` and `or` in one condition, without brackets", ("CD-03",), mixed_conditions),
    Rule("many-conditions", "more than two conditions in one line", ("CD-03",), many_conditions, usual=False),
    Rule("double-negative", "a condition denies what is denied already", ("CD-04",), double_negative),
)
