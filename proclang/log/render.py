"""A run to its log: the model, and the markdown of it.

The log is a function of what the run folder holds and of nothing else: no clock, no locale, no setting, no order of a
set goes into it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

from proclang.field.registry import find
from proclang.log.agree import called
from proclang.log.amounts import amount
from proclang.log.drafts import Computed
from proclang.log.gather import gather
from proclang.log.gathered import Gathered
from proclang.log.head import Head, head_line
from proclang.log.history import course
from proclang.log.markdown import Md, code, heading, inline
from proclang.log.model import Closing, Fact, Log, Part
from proclang.log.outcome import hardware_lines, left_open, outcome
from proclang.session.exercise import mark_of, sentence_of
from proclang.session.run import OpenedRun
from proclang.text.collector import collector_paused
from proclang.text.diagnostic import Problem
from proclang.values.quantity import Quantity
from proclang.values.show import exact_text
from proclang.values.unit import NONE

if TYPE_CHECKING:
    import jinja2

CLOSING = "\n## What differs from run to run\n"
"""What stands before it can be compared between runs. No text in a log can begin a line, so it stands there once."""

_SET_ASIDE = re.compile(r"journal\.torn-[1-9][0-9]{0,8}")


def render_log(run: OpenedRun) -> str | Problem:
    """The log of a run, or why its entries cannot be told. Raises `StorageError` when the folder cannot be listed."""
    names = run.folder.names()
    with collector_paused():
        log = build_log(run, tuple(name for name in names if _SET_ASIDE.fullmatch(name)))
        return log if isinstance(log, Problem) else to_markdown(log)


def build_log(run: OpenedRun, set_aside: tuple[str, ...] = ()) -> Log | Problem:
    """The log model of a run. `set_aside` names the torn parts of the journal that stand beside it."""
    try:
        gathered = gather(run.program, run.entries)
        return _log(run, gathered, set_aside)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, AssertionError) as error:
        # A stranger's journal can hold any JSON in place of any member; no list of checks is as sure as this one.
        return Problem("not-a-run", f"the journal holds something that no run leaves: {error!r}"[:300])


def to_markdown(log: Log) -> str:
    """The log as markdown. All text in it was escaped on its way into the model."""
    return _template().render(log=log)


@cache
def _template() -> jinja2.Template:
    from jinja2 import PackageLoader, StrictUndefined
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    environment = ImmutableSandboxedEnvironment(
        loader=PackageLoader("proclang.log", ""),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        autoescape=False,  # markdown, not HTML: `markdown.py` escapes
    )
    return environment.get_template("template.md.j2")


# ---------------------------------------------------------------------------- the model


def _log(run: OpenedRun, gathered: Gathered, set_aside: tuple[str, ...]) -> Log:
    main, opened = run.program.main, gathered.opened
    mark = mark_of(opened)
    title = main.title or main.name
    return Log(
        title=heading(f"{mark}: {title}" if mark else title),
        procedure=Md(f"Procedure {code(main.name)}, revision {inline(main.revision or 'not numbered')}."),
        training=opened.get("training") is True,
        exercise=inline(sentence_of(opened)),
        marked=Md(f"**{mark}**\n\n" if mark else ""),
        outcome=outcome(gathered),
        deviations=tuple(d.fact() for _, d in _sorted(gathered.deviations)),
        left_open=left_open(gathered),
        site=_site(run, gathered),
        parts=_parts(gathered),
        computed=tuple(c.fact() for _, c in _sorted(gathered.computed)),
        calculations=_calculations([c for _, c in gathered.computed], [s.formula for _, s in gathered.settings]),
        settings=tuple(s.fact() for _, s in _sorted(gathered.settings)),
        hazards=tuple(f for _, f in _sorted(gathered.hazards)),
        signed=tuple(f for _, f in _sorted(gathered.signed)),
        instruments=tuple(
            Md(f"{code(name)}: {inline(known.get('title', ''))}") for name, known in gathered.state.instruments.items()
        ),
        hardware=hardware_lines(gathered),
        closing=_closing(run, gathered, set_aside),
    )


def _sorted(placed: list[tuple[Any, Any]]) -> list[tuple[Any, Any]]:
    return sorted(placed, key=lambda pair: pair[0])


def _site(run: OpenedRun, gathered: Gathered) -> tuple[Md, ...]:
    """The facts the procedures asked of the site, in the order in which they ask."""
    opened, facts = gathered.opened, gathered.opened["facts"]
    lines = [Md(f"site: {inline(opened.get('site_title', ''))} ({code(opened.get('site', ''))})")]
    for name, symbol in run.program.site_facts.items():
        default = symbol.default
        if name in facts:
            shown = amount(facts[name]) if symbol.unit is not None else inline(facts[name])
            lines.append(Md(f"{code(name)}: {shown}"))
        elif default is not None:
            stored = exact_text(default, symbol.unit or NONE) if isinstance(default, Quantity) else ""
            shown = inline(default) if isinstance(default, str) else amount(stored)
            lines.append(Md(f"{code(name)}: {shown}, as the procedure has it"))
    lines += [Md(f"{code(n)}: {inline(v)}") for n, v in sorted(facts.items()) if n not in run.program.site_facts]
    return tuple(lines)


def _parts(gathered: Gathered) -> tuple[Part, ...]:
    by_order: dict[Any, list[Fact]] = {}
    for (order, _), item in _sorted(gathered.done):
        fact = item if isinstance(item, Fact) else Fact(code(item.at), item.says)
        by_order.setdefault(order, []).append(fact)
    parts = []
    for order, facts in by_order.items():
        group = gathered.places.groups[order]
        call = f" ({code(group.call)})" if group.call else ""
        parts.append(Part(Md(f"{heading(group.title)}{call}"), tuple(facts)))
    return tuple(parts)


def _calculations(computed: list[Computed], formulas: list[str]) -> tuple[Md, ...]:
    """Where the built-in formulas that were used come from, with their cautions. Plain arithmetic is left out, unless
    it comes with a caution."""
    names: dict[str, None] = {}
    for formula in [*(c.formula for c in computed), *formulas]:
        names.update(dict.fromkeys(called(formula)))
    lines = []
    for name in sorted(names):
        calculation = find(name)
        if calculation is None or (calculation.standing == "arithmetic" and not calculation.caution):
            continue
        caution = f"; caution: {inline(calculation.caution)}" if calculation.caution else ""
        lines.append(Md(f"{code(name)}: {inline(calculation.source)}; {inline(calculation.standing)}{caution}"))
    return tuple(lines)


# ---------------------------------------------------------------------------- what differs from run to run


def _closing(run: OpenedRun, gathered: Gathered, set_aside: tuple[str, ...]) -> Closing:
    opened, state, entries = gathered.opened, gathered.state, run.entries
    history = course(entries)
    begun, last = entries[0].reply.stamp, entries[-1].reply.stamp
    facts = [
        Md(f"run {code(opened['run'])}"),
        Md(f"begun {_time(begun)}"),
        Md(f"last entry {_time(last)}"),
        Md(f"{history.seconds:,} s between entries, restarts left out"),
        Md(f"sittings: {history.sittings}"),
        Md(f"made with {inline(opened.get('program', ''))}, language version {inline(opened.get('language', ''))}"),
    ]
    aside = [Md(f"half-written record set aside as {code(name)}") for name in set_aside]
    return Closing(
        run=tuple(facts),
        people=tuple(_person(role, name, gathered.before.get(role, ())) for role, name in state.people.items()),
        instruments=tuple(_in_hand(name, known) for name, known in state.instruments.items()),
        sources=tuple(Md(f"{code(name)}: {code(digest)}") for name, digest in opened["sources"].items()),
        notes=tuple(gathered.notes),
        history=(*aside, *history.lines),
        head=head_line(Head(run.reading.head, len(entries))),
    )


def _time(stamp: dict[str, Any]) -> Md:
    utc = stamp.get("utc")
    return code(utc) if isinstance(utc, str) else Md("at a time that was not recorded")


def _person(role: str, name: str, before: Sequence[str]) -> Md:
    """Who holds a role, and who held it before, the first to begin with."""
    earlier = f", before {' and '.join(code(x) for x in before)}" if before else ""
    return Md(f"{code(role)}: {code(name)}{earlier}")


def _in_hand(name: str, known: dict[str, str]) -> Md:
    calibrated = f", calibrated {code(known['calibrated'])}" if known.get("calibrated") else ""
    return Md(f"{code(name)}: serial number {code(known.get('serial', ''))}{calibrated}")
