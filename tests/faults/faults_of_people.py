"""How tired authors break who does it, what it warns of and what it is read with."""

from __future__ import annotations

import re
from collections.abc import Iterator

from edits import Mutant, Page, blocks
from walked_state import Names

from proclang.syntax import nodes as n


def drop_role(page: Page, names: Names) -> Iterator[Mutant]:
    """A role is missing from the crew."""
    for crew in page.tree.every(n.Crew):
        for role in crew.roles:
            if len(crew.roles) > 1:
                kept = ", ".join(r.text for r in crew.roles if r is not role)
                yield page.written_at(
                    "drop_role", crew.roles[0].span.start, crew.roles[-1].span.end, kept, f"no {role.text}",
                    about=(role.text,),
                )  # fmt: skip


def drop_authority(page: Page, names: Names) -> Iterator[Mutant]:
    """Nobody may accept a deviation."""
    for line in page.tree.every(n.Authority):
        yield page.without("drop_authority", line, "no authority", about=("authority",))


def drop_apart(page: Page, names: Names) -> Iterator[Mutant]:
    """Nothing keeps two roles from being one person."""
    for line in page.tree.every(n.Apart):
        roles = (line.one.text, line.other.text)
        yield page.without("drop_apart", line, f"{roles[0]} may be {roles[1]}", about=roles)


def drop_performer(page: Page, names: Names) -> Iterator[Mutant]:
    """A step does not say who does it."""
    for _, body in blocks(page.tree):
        for node in body:
            if isinstance(node, n.Step) and node.people:
                start, end = node.title.span.end, node.people[-1].span.end
                yield page.written_at(
                    "drop_performer", start, end, "", f"nobody does {node.name.text}", about=(node.name.text,)
                )


def drop_witness(page: Page, names: Names) -> Iterator[Mutant]:
    """A hold point has no witness."""
    for _, body in blocks(page.tree):
        for node in body:
            if isinstance(node, n.Hold) and node.witness:
                start = node.people[-1].span.end if node.people else node.text.span.end
                yield page.written_at(
                    "drop_witness", start, node.witness[-1].span.end, "", f"no witness of {node.name.text}",
                    about=(node.name.text,),
                )  # fmt: skip


def drop_hazard(page: Page, names: Names) -> Iterator[Mutant]:
    """A hazard is not said before its step."""
    for _, body in blocks(page.tree):
        for node in body:
            if isinstance(node, n.Hazard):
                yield page.without("drop_hazard", node, f"no {node.word} {node.name.text}", about=(node.name.text,))


def late_hazard(page: Page, names: Names) -> Iterator[Mutant]:
    """A hazard comes after the step it warns of."""
    for _, body in blocks(page.tree):
        for at, node in enumerate(body[:-1]):
            if isinstance(node, n.Hazard):
                after = next((x for x in body[at + 1 :] if not isinstance(x, n.Hazard)), None)
                if after is None or isinstance(after, n.Stopped):
                    continue
                _, end = page.range_of(after)
                depth = page.depth(page.range_of(node)[0])
                yield page.moved(
                    "late_hazard", node, end, depth, f"{node.word} {node.name.text} late", about=(node.name.text,)
                )


def coarse_instrument(page: Page, names: Names) -> Iterator[Mutant]:
    """An instrument is a hundred times as coarse in all that is said of it."""
    for instrument in page.tree.every(n.Instrument):
        line = page.lines[page.line_of(instrument.span.start)]
        end = page.starts[page.line_of(instrument.span.start)] + len(line)

        def hundredfold(found: re.Match[str]) -> str:
            return f"{found[1]}{float(found[2]) * 100:g}"

        text = page.text[instrument.title.span.end : end]
        coarse = re.sub(r"((?:reads|repeats|accurate|accurate in all|calibrated|drifts) (?:to|by) )([0-9.]+)",
                        hundredfold, text)  # fmt: skip
        if coarse != text:
            yield page.written_at(
                "coarse_instrument", instrument.title.span.end, end, coarse, f"coarse {instrument.name.text}",
                about=tuple(_read_with(page, instrument.name.text)), key=instrument.name.text,
            )  # fmt: skip


def _read_with(page: Page, instrument: str) -> Iterator[str]:
    yield instrument
    for measure in page.tree.every(n.Measure):
        if measure.instrument is not None and measure.instrument.text == instrument:
            yield measure.name.text


PROVABLE = (drop_role, drop_authority, drop_apart)
BEYOND = (drop_performer, drop_witness, drop_hazard, late_hazard, coarse_instrument)
