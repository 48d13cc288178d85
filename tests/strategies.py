"""Hypothesis strategies for trees of every kind of node. Text is made by printing them, never from the grammar."""

from __future__ import annotations

from functools import cache
from typing import Any, TypeVar

from hypothesis import strategies as st

from proclang.syntax import nodes as n
from proclang.syntax.grammar import tables
from proclang.syntax.words import SOFT_WORDS
from proclang.text.span import Span

NOWHERE = Span("", 0, 0)
N = TypeVar("N", bound=n.Node)


def make(kind: type[N], *parts: st.SearchStrategy[Any]) -> st.SearchStrategy[N]:
    """Nodes of a kind from strategies for its fields, in order."""

    @st.composite  # and not `tuples(...).map`, which hypothesis would spell out at length
    def node(draw: st.DrawFn) -> N:
        return kind(*(draw(part) for part in parts), span=NOWHERE)

    return node()


def some(items: st.SearchStrategy[Any], least: int = 1, most: int = 3) -> st.SearchStrategy[tuple[Any, ...]]:
    """Tuples of `least` to `most` of them."""

    @st.composite
    def row(draw: st.DrawFn) -> tuple[Any, ...]:
        return tuple(draw(items) for _ in range(draw(st.integers(least, most))))

    return row()


def maybe(items: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | items


@cache
def _words() -> frozenset[str]:
    """Words that cannot be names: the keywords, and `in`, `one` and `again`, which join with a word beside them."""
    hard = {str(t.pattern.value) for t in tables().terminals if t.pattern.type == "str" and t.name not in SOFT_WORDS}
    return frozenset(hard | {"in", "one", "again", "danger", "warning", "caution", "notice"})


# Words that are part of longer words of the language, or keywords in one place only, are names elsewhere.
_AWKWARD = [
    "at",
    "most",
    "order",
    "star",
    "back",
    "read",
    "for",
    "if",
    "x",
    "found",
    "left",
    "passes",
    "fails",
]
_name_texts = st.from_regex(r"[A-Za-z_][A-Za-z0-9_]{0,8}", fullmatch=True) | st.sampled_from(_AWKWARD)
names = make(n.Name, _name_texts.filter(lambda text: text not in _words()))
counts = make(n.Number, st.integers(1, 999).map(str))
_amounts = st.integers(0, 999).map(str) | st.sampled_from(["0.5", "2.50", "1e-3", "3/8", "1 1/4", "1_000", "0,5"])
_unit_texts = st.sampled_from(
    ["mm", "N.m", "mm/turn", "m/s^2", "deg true", "°", "µm", "%", "kg.m^2/s^3", "furlong", "1/K"[2:]]
)
numbers = make(
    n.Number,
    _amounts
    | st.tuples(_amounts, _unit_texts).map(" ".join)
    | st.sampled_from(["1 deg 20 arcmin 3 arcsec", "2026-11-25T14:30Z", "2026-11-25T14:30:05.5Z"]),
)
signed_numbers = make(
    n.Number, st.tuples(st.sampled_from(["", "-"]), numbers).map(lambda pair: pair[0] + pair[1].typed)
)
units = make(n.Unit, _unit_texts)
ranges = make(n.LabelRange, counts, counts)
labels = names | counts | ranges
label_sets = some(labels)
places = make(n.Place, names, some(labels, 0, 2))
references = make(n.Reference, names, some(labels, 0, 2))

# ---------------------------------------------------------------------------- texts

_inserts = make(
    n.Insert,
    references | make(n.Call, names, some(make(n.Argument, maybe(names), references))),
    maybe(numbers),
    st.booleans(),
    st.just(()) | some(names, 2, 2),
    maybe(units),
)
_plain = st.text(
    st.characters(blacklist_categories=("Cc", "Cs", "Cf", "Zl", "Zp")) | st.sampled_from('"\\{}#'),
    min_size=1,
    max_size=12,
)


def _apart(pieces: list[Any]) -> tuple[Any, ...]:
    """Two plain pieces in a row are one."""
    out: list[Any] = []
    for piece in pieces:
        if out and isinstance(piece, str) and isinstance(out[-1], str):
            out[-1] += piece
        else:
            out.append(piece)
    return tuple(out)


texts = make(n.Text, st.lists(_plain | _inserts, max_size=3).map(_apart))

# ---------------------------------------------------------------------------- expressions

_literals = make(n.Literal, numbers)


def _larger(inner: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    arguments = make(n.Argument, maybe(names | make(n.Name, st.just("to"))), inner)
    return (
        make(n.Binary, st.sampled_from(["+", "-", "*", "/", "<", "<=", ">", ">=", "and", "or"]), inner, inner)
        | make(n.Unary, st.sampled_from(["-", "not"]), inner)
        | make(n.Power, inner, counts)
        | make(n.Judged, inner, st.sampled_from(["passes", "fails"]))
        | make(n.Being, inner, names)
        | make(n.Call, names, some(arguments, 0))
    )


expressions = st.recursive(_literals | references, _larger, max_leaves=6)
operands = make(n.Literal, signed_numbers) | references | expressions
takes = make(n.Takes, operands, maybe(operands))

# ---------------------------------------------------------------------------- lines

facets = st.one_of(
    make(n.WithinAround, operands, operands),
    make(n.WithinUneven, operands, numbers, numbers),
    make(n.WithinRange, operands, operands),
    make(n.Bound, st.booleans(), operands),
    make(n.Plausible, operands, operands),
    make(n.Spread, operands),
    make(n.JudgedBy, names),
    make(n.Counts, places, names),
    make(n.NoDeviation),
)
dues = make(n.Due, places, maybe(names))
hazards = make(
    n.Hazard,
    st.sampled_from(["danger", "warning", "caution", "notice"]),
    names,
    maybe(names),
    maybe(texts),
    some(make(n.Risk, texts) | make(n.Avoid, texts) | make(n.Asks, names, texts, maybe(units)) | dues, 0),
)
_performs = make(
    n.Perform,
    names,
    maybe(names),
    maybe(names),
    some(make(n.With, names, expressions) | make(n.Take, names, maybe(names)), 0),
)
_simple = st.one_of(
    hazards,
    make(n.Measure, names, some(labels, 0), maybe(names), maybe(texts), units, maybe(names), some(facets, 0)),
    make(n.MeasureAgain, names, some(labels, 0), maybe(names)),
    make(n.ComputeAgain, names),
    make(
        n.Compute, some(make(n.Target, names, some(labels, 0, 2), maybe(names))), expressions, maybe(units),
        some(facets, 0),
    ),
    make(n.Confirm, names, maybe(names), texts, some(names, 0), st.booleans()),
    make(n.Choose, names, maybe(names), some(names), texts),
    make(n.Note, names, maybe(names), texts),
    make(n.Photo, names, maybe(names), texts),
    make(n.Figure, texts, texts),
    make(n.Prose, texts),
    make(
        n.SetValue, names, maybe(names), texts, expressions, maybe(operands), maybe(units),
        maybe(make(n.ReadBack, maybe(names))), st.booleans(), st.booleans(),
    ),
    make(n.Now, places, names),
    make(n.Require, places, names),
    make(n.Upsets, some(names)),
    make(n.LeaveWhen, expressions),
    _performs,
    make(n.Hold, names, maybe(names), texts, some(names), some(names, 0)),
    make(n.Witness, names, maybe(names), texts, some(names)),
)  # fmt: skip


def _blocks(inner: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    body = some(inner, 0)
    otherwise = maybe(make(n.Otherwise, body))
    return st.one_of(
        make(n.Step, names, maybe(names), texts, some(names, 0), maybe(takes), body),
        make(n.According, names, some(make(n.Arm, some(labels), body))),
        make(n.When, expressions, body, otherwise),
        make(n.Repeat, names, maybe(names), counts, body, otherwise),
        make(n.ForEach, names, names, st.booleans(), body),
        make(n.AnyOrder, body),
        make(n.Stopped, body),
    )


statements = st.recursive(_simple, _blocks, max_leaves=6)
sections = make(n.Section, names, maybe(names), texts, maybe(takes), some(statements, 0, 4))

# ---------------------------------------------------------------------------- headers and files

_kinds = st.one_of(make(n.Kind, some(names)), make(n.Kind, st.just(()), some(names)))
_inputs = make(n.Input, names, maybe(names), _kinds, maybe(operands), maybe(texts), some(facets, 0))
_abilities = make(n.Ability, st.sampled_from(["reads to", "repeats to", "accurate to", "calibrated within"]), operands)
_needs = st.one_of(
    make(n.Instrument, names, texts, some(_abilities, 0)),
    make(n.Tool, names, texts),
    make(n.Part, names, texts, maybe(counts)),
    make(n.Crew, some(names), maybe(counts)),
    make(n.Apart, names, names),
    make(n.Authority, some(names)),
)
_hardware = make(n.Hardware, places, names, maybe(names)) | make(n.Hardware, places, st.none(), names)
# A number as the label of a row would join with a fraction after it: `1 1/4 mm` is one number.
_rows = make(n.Row, names, some(signed_numbers))
headers = st.one_of(
    make(n.Revision, counts),
    make(n.Purpose, some(texts)),
    make(n.Gives, some(names)),
    make(n.Labels, names, label_sets),
    make(n.Table, names, some(names), some(_rows)),
    make(n.Inputs, some(_inputs)),
    make(n.Needs, some(_needs)),
    make(n.MachineUse, names, some(_hardware, 0)),
    hazards,
)
procedures = make(
    n.File,
    counts,
    make(n.Title, st.just("procedure"), names, maybe(names), texts),
    st.tuples(some(headers, 0, 4), some(sections, 0, 3)).map(lambda parts: parts[0] + parts[1]),
)
machine_lines = st.one_of(
    make(n.KindOfItem, names, some(make(n.States, some(names)))),
    make(n.Item, names, some(labels, 0), names, maybe(texts)),
    make(n.Interlock, places, maybe(names), some(make(n.Standing, places, names))),
    make(n.Interlock, places, names, some(make(n.Standing, places, names)), st.just(True)),
    make(n.Interlock, places, st.none(), st.just(())),
    make(n.Counted, some(make(n.CountedThing, names, some(labels, 0), maybe(texts)))),
    make(n.MadeSafe, some(make(n.Standing, places, names))),
    make(n.AskNothing, some(make(n.Standing, places, names))),
)
machines = make(n.File, counts, make(n.Title, st.just("machine"), names, st.none(), texts), some(machine_lines, 0, 6))
files = procedures | machines
