"""How tired authors break labels and arms: one left out, one too many, two exchanged."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from edits import Mutant, Page, blocks
from walked_state import Names, labels_of

from proclang.syntax import nodes as n


def no_such_label(page: Page, names: Names) -> Iterator[Mutant]:
    """A label that the set does not have."""
    loops = {loop.variable.text for loop in page.tree.every(n.ForEach)}
    for used in _labelled(page):
        for label in used.labels:
            if isinstance(label, n.Number):
                yield page.written("no_such_label", label, "99", f"{used.name.text}[99]", about=(used.name.text,))
            elif isinstance(label, n.Name) and label.text not in loops and label.text not in names.sets:
                wrong = label.text + "_x"
                yield page.written("no_such_label", label, wrong, f"{used.name.text}[{wrong}]", about=(wrong,))
    for being in page.tree.every(n.Being):
        wrong = being.label.text + "_x"
        yield page.written("no_such_label", being.label, wrong, f"is {wrong}", about=(wrong,))


def other_label(page: Page, names: Names) -> Iterator[Mutant]:
    """Another label of the same set."""
    for used in _labelled(page):
        if len(used.labels) != 1 or not isinstance(used.labels[0], (n.Name, n.Number)):
            continue
        label = used.labels[0]
        at = label.text if isinstance(label, n.Name) else label.typed
        for members in _sets_with(page, names, used.name.text, at):
            other = members[(members.index(at) + 1) % len(members)]
            if other != at:
                yield page.written(
                    "other_label", label, other, f"{used.name.text}[{other}], not [{at}]", about=(used.name.text,)
                )
            break
    for being in page.tree.every(n.Being):
        if isinstance(being.value, n.Reference):
            answers = names.choices.get(being.value.name.text, ())
            if len(answers) > 1 and being.label.text in answers:
                other = answers[(answers.index(being.label.text) + 1) % len(answers)]
                yield page.written("other_label", being.label, other, f"is {other}", about=(being.value.name.text,))


def _sets_with(page: Page, names: Names, name: str, label: str) -> Iterator[list[str]]:
    own: list[str] = []
    for measure in page.tree.every(n.Measure):
        if measure.name.text == name:
            own += labels_of(measure.labels)
    for members in (own, *map(list, (names.sets.get(name, ()),))):
        if label in members:
            yield members


def _labelled(page: Page) -> Iterator[n.Reference | n.Place]:
    for _, body in blocks(page.tree):
        for node in body:
            if getattr(node, "body", None) is not None or isinstance(node, n.According):
                continue
            for inner in node.walk():
                if isinstance(inner, (n.Reference, n.Place)) and inner.labels:
                    yield inner


def drop_label(page: Page, names: Names) -> Iterator[Mutant]:
    """One of a set is left out: of a series, of labels, of a table."""
    for node in (*page.tree.every(n.Measure), *page.tree.every(n.Labels)):
        labels = node.labels
        if isinstance(node, n.Labels) and len(labels) == 1 and isinstance(labels[0], n.LabelRange):
            last = labels[0].last
            less = str(int(last.typed) - 1)
            if int(labels[0].first.typed) < int(less):
                yield page.written("drop_label", last, less, f"{node.name.text} to {less}", about=(node.name.text,))
        elif len(labels) > 1 and all(isinstance(x, (n.Name, n.Number)) for x in labels):
            if {x.text for x in labels if isinstance(x, n.Name)} & set(_loops(page)):
                continue
            gone, before = labels[-1], labels[-2]
            yield page.written_at(
                "drop_label", before.span.end, gone.span.end, "",
                f"{node.name.text} without {page.text[gone.span.start : gone.span.end]}", about=(node.name.text,),
            )  # fmt: skip
    for table in page.tree.every(n.Table):
        if len(table.rows) > 1:
            for row in (table.rows[0], table.rows[-1]):
                yield page.without("drop_label", row, f"a row of {table.name.text}", about=(table.name.text,))


def _loops(page: Page) -> Iterator[str]:
    for loop in page.tree.every(n.ForEach):
        yield loop.variable.text


def drop_arm(page: Page, names: Names) -> Iterator[Mutant]:
    """One arm is forgotten: the other hemisphere."""
    for parted in page.tree.every(n.According):
        for arm in parted.arms:
            if len(parted.arms) > 1:
                label = page.text[arm.span.start :].split(maxsplit=1)[0]
                yield page.without("drop_arm", arm, f"no arm {label}", about=(parted.subject.text, label))


def swap_arms(page: Page, names: Names) -> Iterator[Mutant]:
    """The labels of two arms are exchanged: each hemisphere gets the other's."""
    for parted in page.tree.every(n.According):
        arms = [arm for arm in parted.arms if isinstance(arm, n.Arm)]
        for one, two in itertools.pairwise(arms):
            a, b = one.labels, two.labels
            start, end = a[0].span.start, a[-1].span.end
            first, last = b[0].span.start, b[-1].span.end
            text = (
                page.text[:start] + page.text[first:last] + page.text[end:first] + page.text[start:end]
                + page.text[last:]
            )  # fmt: skip
            yield Mutant(
                "swap_arms", page.name, text, page.line_of(start) + 1, f"arms of {parted.subject.text} exchanged",
                about=(parted.subject.text,),
            )  # fmt: skip


PROVABLE = (no_such_label, drop_label, drop_arm)
BEYOND = (other_label, swap_arms)
