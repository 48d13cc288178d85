"""What is known at a line of choices, verdicts and comparisons, and what a condition adds to it.

An atom is something that stays as it is until a name in it is set anew: which label a choice has, how a value was
judged, how two expressions compare. For each atom it is kept which of its outcomes are left. Where ways meet, an
outcome is left that is left on either; what leaves all of them is forgotten.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

import attrs

from proclang.syntax import nodes as n
from proclang.syntax.printer import expression as expression_text
from proclang.text.span import Span

VERDICTS = frozenset(("passes", "fails", "undecided"))
_ORDERS = frozenset("<=>")
_HOLDS = {"<": frozenset("<"), "<=": frozenset("<="), ">": frozenset(">"), ">=": frozenset("=>")}
_TURNED = {"<": ">", "<=": ">=", ">": "<", ">=": "<="}


@attrs.frozen
class Known:
    """The outcomes an atom has left of `every` one. `says` is what told it, in words, at `span`."""

    outcomes: frozenset[str]
    every: frozenset[str]
    names: frozenset[str]
    says: str
    span: Span
    verdict: bool = False


Facts = Mapping[str, Known]
"""By the text of the atom."""


@attrs.frozen
class Atom:
    """Something a condition asks about, all outcomes it has, and those for which the condition holds."""

    key: str
    every: frozenset[str]
    holds: frozenset[str]
    names: frozenset[str]
    verdict: bool = False


@attrs.define
class Conditions:
    """Reads conditions. `options` gives the labels of a choice, None where they are not known."""

    options: Callable[[str], frozenset[str] | None]
    asked_once: frozenset[str] = frozenset()
    """Atoms of which only one line asks: what that tells need not be kept."""

    clash: Known | None = None
    """What the last condition that cannot be was at odds with."""

    def assume(self, facts: Facts, node: n.Expression, want: bool, span: Span) -> Facts | None:
        """What is known where a condition holds, or does not; None where that cannot be."""
        if isinstance(node, n.Unary) and node.operator == "not":
            return self.assume(facts, node.operand, not want, span)
        if isinstance(node, n.Binary) and node.operator in ("and", "or"):
            both = (node.operator == "and") == want
            first = self.assume(facts, node.left, want, span)
            if both:
                return None if first is None else self.assume(first, node.right, want, span)
            other = self.assume(facts, node.left, not want, span)
            second = None if other is None else self.assume(other, node.right, want, span)
            return joined(first, second)
        atom = self.atom(node)
        if atom is None:
            return facts
        outcomes = atom.holds if want else atom.every - atom.holds
        text = expression_text(node)
        return self.told(facts, atom, outcomes, f"`{text}` {'holds' if want else 'does not hold'}", span)

    def told(self, facts: Facts, atom: Atom, outcomes: frozenset[str], says: str, span: Span) -> Facts | None:
        """The facts with an atom narrowed down; None where none of its outcomes is left."""
        before = facts.get(atom.key)
        left = outcomes if before is None else outcomes & before.outcomes
        if not left:
            self.clash = before
            return None
        if left == atom.every or (before is not None and left == before.outcomes) or atom.key in self.asked_once:
            return facts
        return {**facts, atom.key: Known(left, atom.every, atom.names, says, span, atom.verdict)}

    def atom(self, node: n.Expression) -> Atom | None:
        """What a condition without `and`, `or` and `not` asks about."""
        if isinstance(node, n.Being):
            return self.choice(expression_text(node.value), frozenset((node.label.text,)), names_in(node.value))
        if isinstance(node, n.Judged):
            key = f"{expression_text(node.value)} is judged"
            return Atom(key, VERDICTS, frozenset((node.outcome,)), names_in(node.value), verdict=True)
        if isinstance(node, n.Binary) and node.operator in _HOLDS:
            left, right = expression_text(node.left), expression_text(node.right)
            operator = node.operator
            if left > right:
                left, right, operator = right, left, _TURNED[operator]
            return Atom(f"{left} against {right}", _ORDERS, _HOLDS[operator], names_in(node))
        return None

    def choice(self, name: str, holds: frozenset[str], names: frozenset[str]) -> Atom | None:
        """The atom of a choice; None where its labels are not known."""
        every = self.options(name)
        return None if every is None else Atom(f"{name} is", every, holds & every, names)


def atoms_of(conditions: Conditions, node: n.Expression) -> Iterator[str]:
    """The key of each atom a condition asks about."""
    for sub in node.walk_holders():
        if isinstance(sub, (n.Being, n.Judged, n.Binary)):
            atom = conditions.atom(sub)
            if atom is not None:
                yield atom.key


def joined(a: Facts | None, b: Facts | None) -> Facts | None:
    """What is known where two ways meet, None for a way that no run takes."""
    if a is None or b is None or a is b:
        return b if a is None else a
    both: dict[str, Known] = {}
    for key, known in a.items():
        other = b.get(key)
        if other is None:
            continue
        if known.outcomes == other.outcomes:
            both[key] = known
        else:
            outcomes = known.outcomes | other.outcomes
            if outcomes != known.every:
                both[key] = attrs.evolve(known, outcomes=outcomes, says=f"{known.says}, or {other.says}")
    return both


def without(facts: Facts, names: Iterable[str]) -> Facts:
    """What is known after names were set anew."""
    gone = frozenset(names)
    if all(known.names.isdisjoint(gone) for known in facts.values()):
        return facts
    return {key: known for key, known in facts.items() if known.names.isdisjoint(gone)}


def without_verdicts(facts: Facts) -> Facts:
    """What is known after something was upset: what has passed may count no more."""
    return {key: known for key, known in facts.items() if not known.verdict}


def names_in(node: n.Expression) -> frozenset[str]:
    """Every name an expression looks up, labels of loops among them."""
    found: set[str] = set()
    for sub in node.walk_holders():
        if isinstance(sub, n.Reference):
            found.add(sub.name.text)
            found.update(label.text for label in sub.labels if isinstance(label, n.Name))
    return frozenset(found)
