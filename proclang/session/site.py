"""The site file: TOML with a name and the facts of a place, quantities written as in the language.

```toml
[site]
name = "northern_ridge"
title = "Northern Ridge (invented), training example"
training = true
[facts]
latitude = "31.2 deg"
full_torque = "310 N.m"
```
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any

import attrs

from proclang.program import model as m
from proclang.text.decode import decode
from proclang.text.diagnostic import Diagnostic, Problem
from proclang.text.printable import has_hidden
from proclang.text.span import Source, Span
from proclang.text.suggest import did_you_mean, nearest
from proclang.values.dimension import ANGLE
from proclang.values.number import NumberError
from proclang.values.quantity import Quantity
from proclang.values.reader import read_quantity
from proclang.values.show import exact_text, show
from proclang.values.tolerance import Outcome, judge, limits_text
from proclang.values.unit import NONE, bearing_unit

EQUATOR_BELT = 1
"""Within so many degrees of the equator the hemisphere is stated, not derived: a mark turned by a sign is too risky."""

_FACT_CHARACTERS = 500
_FACTS_COMPARED = 1_000
"""How many facts that nothing asks for are compared with those that are missing: each with each, so that is bounded."""

_MANY_PARTS = re.compile(r"""(?<![\w"'-])(?:[\w"'-]++[ \t]*+\.[ \t]*+){16}""")
"""A name of so many parts, which no site file has: reading one takes time that grows with the square of them."""


@attrs.frozen
class Site:
    """A site file that could be read. `facts` are as written."""

    name: str
    title: str
    training: bool
    facts: dict[str, str]
    source: Source


def read_site(data: bytes, name: str) -> Site | tuple[Diagnostic, ...]:
    """Read a site file. Codes: those of `decode`, `site-syntax`, `site-shape`."""
    decoded = decode(data, name)
    if decoded.findings:
        return decoded.findings
    source = decoded.source
    knotted = _MANY_PARTS.search(source.text)
    if knotted is not None:
        message = "a name of more than 16 parts has no place in a site file"
        return (Diagnostic("site-shape", message, Span(name, knotted.start(), knotted.end())),)
    import tomllib

    try:
        table: dict[str, Any] = tomllib.loads(source.text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        where = re.search(r"line (\d+), column (\d+)", str(error))
        at = source.line_start(min(int(where.group(1)), source.line_count or 1)) if where else 0
        words = re.sub(r" \(at .*\)$", "", str(error))
        span = Span(name, at, at + len(source.line(source.place(at)[0])))
        return (Diagnostic("site-syntax", f"this is not TOML: {words[:1].lower()}{words[1:]}", span),)
    findings: list[Diagnostic] = []

    def say(key: str, message: str, hint: str = "") -> None:
        findings.append(Diagnostic("site-shape", message, _key_span(source, key), hint=hint))

    for key in table:
        if key not in ("site", "facts"):
            say(
                key, f"a site file has the tables `site` and `facts`, not `{key}`", did_you_mean(key, ("site", "facts"))
            )
    head = table.get("site")
    facts = table.get("facts", {})
    if not isinstance(head, dict) or not isinstance(head.get("name"), str) or not head["name"].strip():
        say("site", "the site has no name", 'add `[site]` and below it `name = "..."`')
        head = {}
    for key, value in head.items():
        if key not in ("name", "title", "training"):
            say(
                key,
                f"`{key}` is not said of a site here",
                did_you_mean(key, ("name", "title", "training")) or "facts go below `[facts]`",
            )
        elif not isinstance(value, bool if key == "training" else str) or (
            isinstance(value, str) and has_hidden(value)
        ):
            say(key, f"`{key}` is {'`true` or `false`' if key == 'training' else 'a text'}")
    if not isinstance(facts, dict):
        say("facts", "`facts` is a table")
        facts = {}
    facts = {key: _as_text(value) for key, value in facts.items()}
    for key, value in facts.items():
        if not isinstance(value, str):
            hint = (
                f'write `{key} = "{value} ..."` with its unit'
                if isinstance(value, (int, float))
                else "write it in quotes"
            )
            say(key, f"the fact `{key}` is not in quotes", hint)
        elif has_hidden(value) or len(value) > _FACT_CHARACTERS:
            say(key, f"the fact `{key}` holds a character that cannot be seen, or is too long")
    if findings:
        return tuple(findings)
    return Site(head["name"], head.get("title", head["name"]), head.get("training", False), dict(facts), source)


_KEY = re.compile(r'^[ \t]*\[?(?:"([^"\n]*)"|([\w-]+))', re.MULTILINE)


@lru_cache(maxsize=2)
def _key_spans(source: Source) -> dict[str, Span]:
    """Where each key of a site file stands first; looked for once, since a file may have a hundred thousand."""
    spans: dict[str, Span] = {}
    for match in _KEY.finditer(source.text):
        group = match.lastindex or 0
        spans.setdefault(match[group], Span(source.name, *match.span(group)))
    return spans


def _as_text(value: Any) -> Any:
    """A date and time in UTC, which TOML has without quotes, as the text of an instant; anything else as it is."""
    import datetime

    if isinstance(value, datetime.datetime) and value.utcoffset() == datetime.timedelta():
        return f"{value.replace(tzinfo=None).isoformat()}Z"
    return value


def _key_span(source: Source, key: str) -> Span:
    return _key_spans(source).get(key, Span(source.name, 0, 0))


def resolve_facts(program: m.Program, site: Site) -> dict[str, str] | tuple[Diagnostic, ...]:
    """The facts a program needs, as stored text, `hemisphere` among them where it is used.

    Codes: `missing-fact`, `unlike-fact` for a fact nothing asks for whose name is close to one that is, `wrong-fact`,
    `fact-out-of-limits`, `hemisphere`.
    """
    findings: list[Diagnostic] = []
    facts: dict[str, str] = {}

    def say(code: str, key: str, message: str, hint: str = "") -> None:
        findings.append(Diagnostic(code, message, _key_span(site.source, key), hint=hint))

    wanted = [*program.site_facts, "hemisphere"]
    unasked = [key for key in site.facts if key not in wanted]
    missing = [w for w in wanted if w not in site.facts]
    for key in unasked[:_FACTS_COMPARED]:
        if missing:
            near = [x for x in nearest(key, missing, most=1) if _close(x, key)]
            if near:
                say("unlike-fact", key, f"nothing asks for `{key}`", f"did you mean `{near[0]}`?")
    for name, symbol in program.site_facts.items():
        written = site.facts.get(name)
        if written is None:
            if symbol.default is None:
                kind = symbol.type.describe()
                unit = (
                    f', such as `{name} = "... {symbol.unit.symbol}"`'
                    if symbol.unit is not None and symbol.unit.symbol
                    else ""
                )
                say("missing-fact", "facts", f"the site does not say `{name}`, {kind}", f"add it below `[facts]`{unit}")
            continue
        stored = _fact(symbol, written)
        if isinstance(stored, Problem):
            say(stored.code, name, stored.message, stored.hint)
        else:
            facts[name] = stored
    if program.uses_hemisphere:
        hemisphere = _hemisphere(site, facts.get("latitude"))
        if isinstance(hemisphere, Problem):
            say(
                "hemisphere",
                "hemisphere" if "hemisphere" in site.facts else "latitude",
                hemisphere.message,
                hemisphere.hint,
            )
        else:
            facts["hemisphere"] = hemisphere
    return tuple(findings) if findings else facts


def _close(a: str, b: str) -> bool:
    """Whether two names differ by a slip and not merely resemble each other."""
    import difflib

    return difflib.SequenceMatcher(None, a, b).ratio() >= 0.85


def _fact(symbol: m.Symbol, written: str) -> str | Problem:
    if isinstance(symbol.type, m.Words):
        return written
    if isinstance(symbol.type, m.Choice):
        if written in symbol.type.options:
            return written
        options = ", ".join(symbol.type.options)
        return Problem(
            "wrong-fact",
            f"`{symbol.name}` is one of {options}, not `{written}`",
            did_you_mean(written, symbol.type.options),
        )
    assert isinstance(symbol.type, m.Amount)
    dimension = symbol.type.dimension
    entered = read_quantity(written, reply=True)
    if isinstance(entered, Problem):
        return attrs.evolve(entered, code="wrong-fact")
    quantity, unit = entered.quantity, entered.unit
    if dimension.is_bearing and quantity.dimension == ANGLE:
        quantity, unit = Quantity(quantity.value, dimension), bearing_unit(unit, dimension)
    if quantity.dimension != dimension:
        hint = "write its unit after it" if quantity.dimension.is_number else ""
        return Problem(
            "wrong-fact", f"`{symbol.name}` is {dimension.phrase}; `{written}` is {quantity.dimension.phrase}", hint
        )
    plausible = symbol.facets.plausible
    try:
        for make, text in symbol.facets.limits:
            limits = make(_NoNames())
            if judge(quantity, limits).outcome is not Outcome.PASSES:
                shown = limits_text(limits, unit)
                return Problem(
                    "fact-out-of-limits", f"`{symbol.name}` is {show(quantity, unit)}; it must be {shown} ({text})"
                )
    except (m.NotKnown, NumberError):
        return Problem("wrong-fact", f"the limits of `{symbol.name}` cannot be worked out")
    if plausible is not None and not plausible[0].value <= quantity.value <= plausible[1].value:
        ends = f"{show(plausible[0], unit)} to {show(plausible[1], unit)}"
        return Problem(
            "fact-out-of-limits", f"`{symbol.name}` is {show(quantity, unit)}, outside what can be expected, {ends}"
        )
    return exact_text(quantity, unit if unit.symbol else NONE)


class _NoNames:
    """Limits of a site fact are written in numbers, or in facts that are not looked up here."""

    def _not_known(self, name: str, key: str = "") -> Any:
        raise m.NotKnown(f"`{name}` is not known")

    amount = series = label = outcome = _not_known

    def off(self, calculation: str) -> float:
        return 0.0


def _hemisphere(site: Site, latitude: str | None) -> str | Problem:
    stated = site.facts.get("hemisphere")
    if stated is not None and stated not in m.HEMISPHERES:
        return Problem("hemisphere", f"the hemisphere is `north` or `south`, not `{stated}`")
    if latitude is None:
        return Problem("hemisphere", "the hemisphere follows from `latitude`, which is not known")
    entered = read_quantity(latitude, reply=True)
    if isinstance(entered, Problem):
        return entered
    degrees = entered.quantity.value
    if abs(degrees) > 90:
        return Problem("hemisphere", f"a latitude goes from -90 to 90 deg, not {latitude}")
    derived = "north" if degrees > 0 else "south"
    if abs(degrees) < EQUATOR_BELT:
        if stated is None:
            return Problem(
                "hemisphere",
                f"the site lies within {EQUATOR_BELT} deg of the equator, so its hemisphere must be stated",
                'add `hemisphere = "north"` or `"south"` below `[facts]`',
            )
        return stated
    if stated is not None and stated != derived:
        return Problem("hemisphere", f"`{stated}` does not go with a latitude of {latitude}", "one of the two is wrong")
    return derived
