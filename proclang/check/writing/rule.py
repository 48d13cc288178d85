"""What a rule of writing is, what it is given to look at, and what may be set about it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from functools import cached_property

import attrs

from proclang.check.writing.sentences import Sentence, masked, sentences_of
from proclang.program import model as m
from proclang.syntax import nodes as n
from proclang.text.diagnostic import Label
from proclang.text.span import Source, Span

LONGEST_SENTENCE = 20
"""Words in a sentence of a step."""

EVERY_RULE = "writing"
"""What turns on every rule that is off by default."""


@attrs.frozen
class Wanted:
    """Which rules are looked at, and what is set about them."""

    also: frozenset[str] = frozenset()
    """Rules to be looked at that are off by default; `writing` stands for all of them."""

    longest_sentence: int = LONGEST_SENTENCE
    vague: frozenset[str] = frozenset()
    """Vague words beside those that are known."""

    fitting: frozenset[str] = frozenset()
    """Vague words that are none here."""

    verbs: frozenset[str] = frozenset()
    """Verbs that a step may begin with, beside those that are known."""

    glossary: tuple[tuple[str, str], ...] = ()
    """A word that is not used, and the one that is used for it."""

    abbreviations: frozenset[str] = frozenset()
    """Abbreviations that everybody on the crew knows."""


_WORD = re.compile("[a-z]+")

USUAL = Wanted()
"""The rules that are on by default, and nothing set."""


@attrs.frozen
class Found:
    """One place where a rule is broken."""

    span: Span
    message: str
    hint: str
    also: tuple[Label, ...] = ()


class Seen:
    """One file, as the rules look at it. What several rules want is worked out once."""

    def __init__(
        self,
        source: Source,
        tree: n.File,
        routine: m.Routine | None,
        machine: m.Machine | None,
        wanted: Wanted,
        due: frozenset[str] = frozenset(),
        summaries: Mapping[str, frozenset[str]] | None = None,
    ) -> None:
        self.source = source
        self.tree = tree
        self.routine = routine
        self.machine = machine
        self.wanted = wanted
        self.due = due
        """Hazards that some machine wants said before hardware changes."""

        self.summaries = summaries or {}
        """Those of them that each procedure performed here says on every way to its end."""

    @cached_property
    def sentences(self) -> tuple[Sentence, ...]:
        """Every sentence of every step, in the order of the text."""
        return tuple(sentence for step in self.tree.every(n.Step) for sentence in sentences_of(step, self.source))

    @cached_property
    def texts(self) -> tuple[tuple[str, int], ...]:
        """Every quoted text, masked, and where it begins."""
        return tuple(masked(text, self.source) for text in self.tree.every(n.Text))

    @cached_property
    def words(self) -> frozenset[str]:
        """Every word of those texts, in lower case."""
        return frozenset(_WORD.findall("\n".join(raw for raw, _ in self.texts).lower()))

    def place(self, found: re.Match[str], begin: int, group: int | str = 0) -> Span:
        """Where something found in a text stands that begins there."""
        return Span(self.source.name, begin + found.start(group), begin + found.end(group))

    @cached_property
    def blocks(self) -> tuple[tuple[n.Node, ...], ...]:
        """Every block in which steps may stand."""
        holders: tuple[type[n.Node], ...] = (n.Section, n.Arm, n.When, n.Otherwise, n.Repeat, n.ForEach, n.AnyOrder)
        return tuple(node.body for kind in holders for node in self.tree.every(kind))  # type: ignore[attr-defined]

    @cached_property
    def stopped(self) -> frozenset[int]:
        """The steps that make the site right after a stop, by where they begin."""
        stops = self.tree.every(n.Stopped)
        return frozenset(step.span.start for node in stops for step in node.body if isinstance(step, n.Step))

    @cached_property
    def names(self) -> frozenset[str]:
        """States and labels: words that the author has given a meaning of their own."""
        states = {s for item in self.machine.items.values() for s in item.states} if self.machine is not None else set()
        labels: list[n.Label] = [x for line in self.tree.every(n.Labels) for x in line.labels]
        labels += [row.label for table in self.tree.every(n.Table) for row in table.rows if isinstance(row, n.Row)]
        return frozenset(states | {label.text for label in labels if isinstance(label, n.Name)})


Look = Callable[[Seen], Iterator[Found]]


@attrs.frozen
class Rule:
    """A rule of writing. All are warnings. `keeps` names the rules of the catalogue it stands for."""

    code: str
    says: str
    keeps: tuple[str, ...]
    look: Look
    usual: bool = True
    """Whether it is looked at without being asked for."""
