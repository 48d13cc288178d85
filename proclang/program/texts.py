"""Values inside a quoted text, with their units and dimensions proved."""

from __future__ import annotations

from proclang.program.display import display_unit
from proclang.program.formula import compile_formula
from proclang.program.references import reference
from proclang.program.scope import Scope
from proclang.program.types import Amount, Choice, Formula, Insert, Template, Words
from proclang.syntax import nodes as n
from proclang.syntax.printer import expression as expression_text
from proclang.values.dimension import Dimension, mismatch_hint
from proclang.values.quantity import Quantity


def compile_text(text: n.Text, scope: Scope) -> Template:
    """A quoted text with its inserts resolved; an insert that cannot be is left out after having been said."""
    pieces: list[str | Insert] = []
    if len(text.pieces) == 1 and isinstance(text.pieces[0], str):
        return Template((text.pieces[0],))
    for piece in text.pieces:
        if isinstance(piece, str):
            pieces.append(piece)
            continue
        insert = _insert(piece, scope)
        if insert is not None:
            pieces.append(insert)
    return Template(tuple(pieces))


def plain_text(text: n.Text, scope: Scope) -> str:
    """A quoted text that may hold no insert, such as a title of a file."""
    for insert in text.inserts:
        scope.used.update(node.name.text for node in insert.walk_holders() if isinstance(node, n.Reference))
        scope.say("insert-here", "values are not inserted in this text", insert.span, hint=r"write a brace as `\{`")
    return text.plain


def _insert(node: n.Insert, scope: Scope) -> Insert | None:
    if isinstance(node.value, n.Call):
        made = compile_formula(node.value, scope)
        if made is None:
            return None
        formula, kind, shown_in, name = made, made.type, made.unit, made.text
    else:
        part = reference(node.value, scope)
        if part is None:
            return None
        kind, shown_in, name = part.type, part.unit, node.value.name.text
        formula = Formula(kind, part.evaluate, expression_text(node.value), (name,), shown_in)
    if isinstance(kind, (Choice, Words)):
        if node.step is not None or node.signed or node.words or node.unit is not None:
            scope.say("wrong-kind", f"`{name}` is {kind.describe()}; it is inserted as it is", node.span)
        return Insert(formula, None, None, False, None, name)
    if not isinstance(kind, Amount) or kind.axes:
        scope.say("wrong-kind", f"`{name}` is {kind.describe()}", node.span, hint="insert one label of it")
        return None
    dimension = kind.dimension
    unit = scope.unit(node.unit) if node.unit is not None else None
    if unit is not None and unit.dimension != dimension:
        scope.say("dimension-mismatch", f"`{name}` is {dimension.phrase}, not {unit.dimension.phrase}", node.span)
        return None
    step: Quantity | None = None
    if node.step is not None:
        entered = scope.quantity(node.step)
        if entered is None:
            return None
        step = entered.quantity
        if step.dimension != Dimension(dimension.powers) or step.value <= 0:
            scope.say(
                "dimension-mismatch",
                f"`{name}` is {dimension.phrase}; it cannot be rounded to {node.step.typed}",
                node.step.span,
                hint=mismatch_hint(step.dimension, Dimension(dimension.powers)),
            )
            return None
        if unit is None and not dimension.frame:
            unit = entered.unit
    words = (node.words[0].text, node.words[1].text) if len(node.words) == 2 else None
    return Insert(formula, unit or display_unit(dimension, shown_in), step, node.signed, words, name)
