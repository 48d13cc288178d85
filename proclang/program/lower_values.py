"""Values: measured, measured again, computed, set in the equipment."""

from __future__ import annotations

import attrs

from proclang.program import model as m
from proclang.program.display import display_unit
from proclang.program.facets import all_read, compile_facets, facet_unit
from proclang.program.formula import compile_formula, compile_results
from proclang.program.lower_counts import lower_counts, lower_counts_again
from proclang.program.lower_hardware import in_words
from proclang.program.lowering import Lowering
from proclang.program.names import apart
from proclang.program.texts import compile_text, plain_text
from proclang.syntax import nodes as n
from proclang.text.limits import LABELS_IN_A_SET
from proclang.values.dimension import mismatch_hint
from proclang.values.unit import Unit


@attrs.frozen
class Bracket:
    """What the labels behind a name come to: the axes of a series, the label tuples to go through one by one, which
    labels are loop variables, and the loops they come from. Not `known`: one of them may be that of a damaged loop."""

    axes: tuple[tuple[str, ...], ...] = ()
    texts: tuple[tuple[str, ...], ...] = ((),)
    variables: tuple[bool, ...] = ()
    loops: tuple[int, ...] = ()
    known: bool = True


def bracket(low: Lowering, labels: tuple[n.Label, ...]) -> Bracket:
    """`[direct, reversed]` is one axis written out, `[corners]` one set, `[pass, stud]` an axis for each loop."""
    if not labels:
        return Bracket()
    scope = low.scope
    names = [x for x in labels if isinstance(x, n.Name)]
    loops = [scope.through(x.text) for x in names]
    around = [loop for loop in loops if loop is not None]
    if len(around) == len(labels):
        scope.used.update(x.text for x in names)
        if len({loop.serial for loop in around}) < len(around):
            scope.say("duplicate-label", "the label of one loop stands here twice", labels[0].span.to(labels[-1].span))
        return Bracket(
            tuple(loop.labels for loop in around),
            (tuple(x.text for x in names),),
            tuple(True for _ in names),
            tuple(loop.serial for loop in around),
        )
    if (low.loose or scope.shifted) and any(
        loop is None and scope.labels_of(x.text) is None for x, loop in zip(names, loops, strict=True)
    ):
        return Bracket(known=False)
    if around:
        scope.say(
            "mixed-labels",
            "labels of a loop and fixed labels do not mix in one bracket",
            labels[0].span.to(labels[-1].span),
        )
    whole = scope.labels_of(names[0].text) if len(names) == 1 == len(labels) else None
    if whole is not None:
        scope.used.add(names[0].text)
        axis = whole
    else:
        axis = scope.labels(labels, LABELS_IN_A_SET)
    return Bracket((axis,), tuple((label,) for label in axis), (False,))


def lower_measure(low: Lowering, node: n.Measure) -> None:
    """The first line that reads a value; each label is asked for by itself."""
    unit = low.scope.unit(node.unit)
    if node.instrument is not None:
        low.instrument(node.instrument, m.Amount(unit.dimension) if unit is not None else None)
    labels = bracket(low, node.labels)
    title = plain_text(node.title, low.scope) if node.title is not None else ""
    if unit is None or not labels.known:
        # The lines below are read all the same: a slip in one of them has nothing to do with this one.
        for number in (x for facet in node.facets for x in facet.walk() if isinstance(x, n.Number)):
            low.scope.quantity(number)
        low.declare_unknown(node.name)
        return
    facets = compile_facets(node.facets, unit.dimension, low.scope, series=bool(labels.axes))
    if not all_read(node.facets, facets):
        low.scope.excused.add(node.name.text)
    symbol = m.Symbol(
        node.name.text,
        m.Amount(unit.dimension, labels.axes),
        "read",
        node.name.span,
        unit,
        facets,
        title,
        instrument=node.instrument.text if node.instrument is not None else None,
        former=node.former.text if node.former is not None else None,
    )
    low.former(node.name, node.former, value=True)
    low.declare(symbol, node.name)
    if labels.loops:
        low.scope.axes_from.setdefault(symbol.name, labels.loops)
    _readings(low, node, symbol, labels, again=False, instrument=symbol.instrument)
    _remember_where(low, node.name.text)
    lower_counts(low, node.facets, symbol, node.labels)


def lower_again(low: Lowering, node: n.MeasureAgain) -> None:
    """One more reading of a series that another line began."""
    scope = low.scope
    symbol = scope.symbol(node.name)
    wanted = symbol.type if symbol is not None and isinstance(symbol.type, m.Amount) else None
    if node.instrument is not None:
        low.instrument(node.instrument, wanted)
    if symbol is None or wanted is None:
        return
    if symbol.how != "read":
        scope.say("not-a-reading", f"`{node.name}` is {in_words(symbol.how)}, not measured", node.name.span)
        return
    labels = _labels_again(low, node, wanted)
    if labels is not None:
        instrument = node.instrument.text if node.instrument is not None else symbol.instrument
        _readings(low, node, symbol, labels, again=True, instrument=instrument)
        _remember_where(low, node.name.text)
        lower_counts_again(low, symbol, symbol.name in low.judged)


def _remember_where(low: Lowering, name: str) -> None:
    """Where in this block a name is read, the last place counting: there it can be read once more."""
    pc = low.step.pc if low.step is not None else low.here
    low.read_at.setdefault(name, {})[tuple(low.blocks)] = pc


def _labels_again(low: Lowering, node: n.MeasureAgain, wanted: m.Amount) -> Bracket | None:
    """Which labels are read again: those written, or all."""
    scope = low.scope
    if not node.labels:
        if len(wanted.axes) > 1:
            scope.say("label-count", f"say which of `{node.name}` is measured again", node.name.span)
            return None
        if wanted.axes:
            return Bracket(wanted.axes, tuple((label,) for label in wanted.axes[0]), (False,))
        return Bracket()
    labels = bracket(low, node.labels)
    if not labels.known:
        return None
    if len(labels.axes) != len(wanted.axes):
        takes = f"takes {len(wanted.axes)} labels" if wanted.axes else "is one value and has no labels"
        scope.say("label-count", f"`{node.name}` {takes}", node.name.span.to(node.labels[-1].span))
        return None
    for chosen, axis in zip(labels.axes, wanted.axes, strict=True):
        strange = [x for x in chosen if x not in axis]
        if strange:
            where = node.labels[0].span.to(node.labels[-1].span)
            message = f"`{node.name}` has no label `{strange[0]}`"
            scope.say_unlisted("unknown-label", message, where, strange[0], axis)
            return None
    return labels


def _readings(
    low: Lowering, node: n.Node, symbol: m.Symbol, bracketed: Bracket, *, again: bool, instrument: str | None
) -> None:
    handled = symbol.name in low.judged
    for index, labels in enumerate(bracketed.texts):
        fixed = bool(labels) and not any(bracketed.variables)
        shown = f"{symbol.name}[{','.join(labels)}]" if fixed else symbol.name
        low.emit(
            m.Read(
                symbol=symbol,
                labels=labels,
                variables=bracketed.variables,
                last_of_series=index == len(bracketed.texts) - 1,
                again=again,
                handled=handled,
                instrument=instrument,
                **low.where(node, shown),
            )
        )
    low.release()


# ---------------------------------------------------------------------------- computed


def lower_compute(low: Lowering, node: n.Compute) -> None:
    """A value worked out, or several results of one calculation."""
    compiled = compile_results(node.value, low.scope)
    unit = low.scope.unit(node.unit) if node.unit is not None else None
    targets = []
    if compiled is not None and (node.unit is None or unit is not None):
        formula, types = compiled
        if len(types) == len(node.targets):
            for target, kind in zip(node.targets, types, strict=True):
                made = _target(low, node, target, kind, unit, formula)
                if made is not None:
                    targets.append(made)
        else:
            gives = "one result" if len(types) == 1 else f"{len(types)} results"
            low.scope.say(
                "target-count",
                f"`{formula.text}` gives {gives}; {len(node.targets)} names are given for them",
                node.targets[0].span.to(node.targets[-1].span),
            )
    made_names = {symbol.name for symbol, _, _ in targets}
    for target in node.targets:
        if target.name.text not in made_names:
            low.declare_unknown(target.name)
    if compiled is None or len(targets) != len(node.targets):
        return
    name = targets[0][0].name
    places = _places_behind(low, compiled[0])
    instr = m.ComputeValue(
        targets=tuple(targets),
        formula=compiled[0],
        handled=all(s.name in low.judged for s, _, _ in targets),
        reread=places.get(tuple(low.blocks)),
        **low.where(node, name),
    )
    for symbol, _, _ in targets:
        low.behind[symbol.name] = places
        low.computed.setdefault(symbol.name, []).append((instr, low.ways))
    low.emit(instr)
    lower_counts(low, node.facets, targets[0][0], node.targets[0].labels)


def lower_compute_again(low: Lowering, node: n.ComputeAgain) -> None:
    """A value worked out once more, after the readings behind it have been taken again: as left, against as found.

    It is judged by the limits it was given; a failure is asked about, unless the loop around tests it.
    """
    scope = low.scope
    symbol = scope.symbol(node.name)
    if symbol is None:
        return
    lines = [instr for instr, ways in low.computed.get(symbol.name, ()) if not apart(ways, low.ways)]
    made = lines[0] if lines else None
    if made is None:
        how = "measured; write `measure again`" if symbol.how == "read" else f"{in_words(symbol.how)}, not computed"
        if symbol.how == "computed":
            how = "computed on another way, which does not lead here"
        scope.say("not-computed", f"`{node.name}` is {how}", node.name.span)
        return
    strange = [x for x in made.formula.names if x not in scope.symbols and x not in scope.columns]
    if any(made.targets[0][2]) or (strange and any(scope.loop_labels(x) is None for x in strange)):
        scope.say(
            "not-here",
            f"`{node.name}` was computed inside a `for each` and cannot be computed again from here",
            node.name.span,
            hint="compute it under a name of its own",
        )
        return
    if any(_unlike(line, made) for line in lines):
        scope.say(
            "not-here",
            f"`{node.name}` is computed in more than one way; which of them is meant here is not known",
            node.name.span,
            hint="compute it again in the arm in which it was computed, or under a name of its own",
        )
        return
    scope.used.update(made.formula.names)
    places = _places_behind(low, made.formula)
    low.behind.update((target.name, places) for target, _, _ in made.targets)
    handled = bool(low.loops) and made.handled
    low.emit(
        attrs.evolve(
            made,
            handled=handled,
            reread=places.get(tuple(low.blocks)),
            **low.where(node, symbol.name),
        )
    )
    lower_counts_again(low, symbol, handled)


def _unlike(a: m.ComputeValue, b: m.ComputeValue) -> bool:
    """Whether two lines that compute a name do it by different formulas, or judge it by different limits."""

    def said(line: m.ComputeValue) -> list[list[str]]:
        return [[text for _, text in symbol.facets.limits] for symbol, _, _ in line.targets]

    return a.formula.text != b.formula.text or said(a) != said(b)


def _target(
    low: Lowering, node: n.Compute, target: n.Target, kind: m.Type, unit: Unit | None, formula: m.Formula
) -> tuple[m.Symbol, tuple[str, ...], tuple[bool, ...]] | None:
    """One name a compute sets, or None after having said what is wrong with it."""
    scope = low.scope
    if not isinstance(kind, m.Amount):
        scope.say("wrong-kind", f"a compute gives a quantity, not {kind.describe()}", node.value.span)
        return None
    labels = bracket(low, target.labels)
    if not labels.known:
        return None
    if target.labels and (kind.axes or not labels.loops):
        scope.say(
            "wrong-kind",
            "a computed series is labelled by its calculation, or one by one in a `for each`",
            target.span,
        )
        return None
    dimension = kind.dimension
    if unit is not None and node.unit is not None and unit.dimension != dimension:
        scope.say(
            "dimension-mismatch",
            f"`{formula.text}` is {dimension.phrase}; it cannot be given in {unit.symbol}",
            node.unit.span,
            hint=mismatch_hint(dimension, unit.dimension),
        )
        return None
    axes = labels.axes if target.labels else kind.axes
    facets = compile_facets(node.facets, dimension, scope, series=bool(axes))
    if not all_read(node.facets, facets):
        scope.excused.add(target.name.text)
    for facet in node.facets:
        if isinstance(facet, n.KnownTo):
            hint = "say it of the reading or the input behind it"
            scope.say_misplaced("a computed value is as well known as what it is computed from", facet.span, hint)
    suggested = unit or facet_unit(node.facets, dimension) or formula.unit
    symbol = m.Symbol(
        target.name.text,
        m.Amount(dimension, axes),
        "computed",
        target.name.span,
        display_unit(dimension, suggested),
        facets,
        former=target.former.text if target.former is not None else None,
    )
    low.former(target.name, target.former, value=True)
    low.declare(symbol, target.name)
    if labels.loops:
        scope.axes_from.setdefault(symbol.name, labels.loops)
    return symbol, labels.texts[0] if target.labels else (), labels.variables


def _places_behind(low: Lowering, formula: m.Formula) -> dict[tuple[int, ...], int]:
    """Where the first of the readings behind a formula is taken, in each of the blocks around this line: from there
    they can all be taken again. Blocks that are over do not count; nobody goes back into them."""
    here = tuple(low.blocks)
    places: dict[tuple[int, ...], int] = {}
    for name in formula.names:
        for blocks, pc in (low.behind.get(name) or low.read_at.get(name, {})).items():
            if here[: len(blocks)] == blocks:
                places[blocks] = min(pc, places.get(blocks, pc))
    return places


# ---------------------------------------------------------------------------- set in the equipment


def lower_set(low: Lowering, node: n.SetValue) -> None:
    """A value typed into a controller, and read back."""
    scope = low.scope
    formula = compile_formula(node.value, scope)
    allowed = compile_formula(node.allowed, scope) if node.allowed is not None else None
    unit = scope.unit(node.unit) if node.unit is not None else None
    title = compile_text(node.title, scope)
    kind = formula.type if formula is not None else None
    instrument = node.read_back.instrument if node.read_back is not None else None
    if instrument is not None:
        low.instrument(instrument, kind if isinstance(kind, m.Amount) else None)
    if node.again_after_power_cycle and node.read_back is None:
        scope.say(
            "no-read-back",
            "to be read again it has to be read back first",
            node.name.span,
            hint="write `, read back` before `, read again after a power cycle`",
        )
    if node.no_deviation and node.read_back is None:
        hint = "write `, read back` before `, no deviation`"
        scope.say("no-read-back", "what is not read back cannot deviate", node.name.span, hint=hint)
    if formula is None or not isinstance(kind, m.Amount) or kind.axes:
        if kind is not None:
            scope.say("wrong-kind", f"what is set is one quantity, not {kind.describe()}", node.value.span)
        low.declare_unknown(node.name)
        return
    dimension = kind.dimension
    if unit is not None and node.unit is not None and unit.dimension != dimension:
        scope.say(
            "dimension-mismatch",
            f"`{formula.text}` is {dimension.phrase}; it cannot be given in {unit.symbol}",
            node.unit.span,
            hint=mismatch_hint(dimension, unit.dimension),
        )
        low.declare_unknown(node.name)
        return
    if node.allowed is not None and allowed is not None:
        wanted = attrs.evolve(dimension, frame="")
        if not isinstance(allowed.type, m.Amount) or allowed.type.axes or allowed.type.dimension != wanted:
            got = allowed.type.describe()
            scope.say("dimension-mismatch", f"the difference allowed is {wanted.phrase}, not {got}", node.allowed.span)
    symbol = m.Symbol(
        node.name.text,
        kind,
        "set",
        node.name.span,
        display_unit(dimension, unit or formula.unit),
        m.Facets(no_deviation=node.no_deviation),
        title=node.title.plain,
        instrument=instrument.text if instrument is not None else None,
        former=node.former.text if node.former is not None else None,
    )
    low.former(node.name, node.former, value=True)
    low.declare(symbol, node.name)
    low.emit(
        m.SetInstr(
            symbol=symbol,
            title=title,
            formula=formula,
            allowed=allowed,
            instrument=symbol.instrument,
            read_back=node.read_back is not None,
            power_cycle=node.again_after_power_cycle,
            **low.where(node, node.name.text),
        )
    )
    low.release()
