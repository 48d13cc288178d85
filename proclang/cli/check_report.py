"""What `check` says of what it found: as text, as JSON, for reviews, or counted by code."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from proclang.cli.arguments import Unusable
from proclang.text.colour import PALETTES, painted
from proclang.text.diagnostic import Severity
from proclang.text.render import SCHEMA, finding_fields, render_json, render_text

if TYPE_CHECKING:
    from proclang.check.allowances import Allowed
    from proclang.text.diagnostic import Diagnostic
    from proclang.text.span import Source

WRITING = "Writing"
"""The group of the rules of writing in the list of findings."""

EVERY_RULE = "writing"

FORMATS = ("text", "json", "jsonl", "sarif", "github")

_HEAD = re.compile(r"^(\S.*?: )((error|warning)\[[^\]\n]*\])(?=: )", re.MULTILINE)


def see_codes(codes: Iterable[str]) -> None:
    """Raises `Unusable` for a code that does not exist: nothing would be found of it, which looks like all is well."""
    if not codes:
        return
    from proclang.check.page import listed

    known = listed()
    for code in codes:
        if code not in known:
            from proclang.text.suggest import did_you_mean

            near = did_you_mean(code, known) or "`proclang explain` lists the codes"
            raise Unusable(f"there is no finding `{code}`", near)


def see_rules(codes: Iterable[str]) -> None:
    """Raises `Unusable` for what is no rule of writing."""
    from proclang.check.page import listed

    rules = [code for code, entry in listed().items() if entry.group == WRITING]
    for code in codes:
        if code not in rules and code != EVERY_RULE:
            from proclang.text.suggest import did_you_mean

            near = did_you_mean(code, [*rules, EVERY_RULE]) or f"`{EVERY_RULE}` stands for all of them"
            raise Unusable(f"there is no rule of writing `{code}`", near)


def each_once(allowed: Iterable[Allowed], select: Sequence[str], ignore: Sequence[str]) -> list[Allowed]:
    """What is let stand of the codes that are told, each once: a file may be performed by several."""
    seen = {one.finding.sort_key: one for one in allowed}
    told = {f.sort_key for f in chosen((one.finding for one in seen.values()), select, ignore)}
    return [seen[key] for key in sorted(told)]


def chosen(findings: Iterable[Diagnostic], select: Sequence[str], ignore: Sequence[str]) -> list[Diagnostic]:
    """The findings that are told: of the codes selected, or of all when none is, less those ignored."""
    return [f for f in findings if (not select or f.code in select) and f.code not in ignore]


def rendered(
    findings: Sequence[Diagnostic],
    allowed: Sequence[Allowed],
    sources: Mapping[str, Source],
    form: str,
    palette: str | None,
    *,
    counted: bool,
) -> str:
    """The findings in one of `FORMATS`; with `counted`, how many there are of each code in their place. What is allowed
    stands in forms for programs that have a place for it."""
    if counted:
        return _counted(findings, form)
    if form == "json":
        return render_json(findings, sources, [(one.finding, one.reason) for one in allowed])
    if form == "jsonl":
        return "".join(_line({"schema": SCHEMA, **finding_fields(f, sources)}) for f in findings)
    if form in ("sarif", "github"):
        from proclang.cli import check_reviews

        if form == "github":
            return check_reviews.github(findings, sources)
        return check_reviews.sarif(findings, sources, allowed)
    text = render_text(findings, sources)
    if palette is None or "" in PALETTES[palette]:  # there every line has its colour already
        return text
    styles = {"error": "fails", "warning": "warning"}
    return _HEAD.sub(lambda m: m[1] + painted(m[2], styles[m[3]], palette), text)


def _counted(findings: Sequence[Diagnostic], form: str) -> str:
    counts: dict[tuple[str, Severity], int] = {}
    for finding in findings:
        counts[finding.code, finding.severity] = counts.get((finding.code, finding.severity), 0) + 1
    rows = sorted(counts.items(), key=lambda row: (-row[1], row[0][0]))
    if form == "text":
        width = max((len(f"{n:,}") for _, n in rows), default=0)
        return "".join(f"{n:>{width},} {severity.value}[{code}]\n" for (code, severity), n in rows)
    import json

    told = [{"code": code, "severity": severity.value, "count": n} for (code, severity), n in rows]
    if form == "jsonl":
        return "".join(_line({"schema": SCHEMA, **row}) for row in told)
    return json.dumps({"schema": SCHEMA, "counts": told}, indent=2) + "\n"


def _line(fields: Mapping[str, object]) -> str:
    import json

    return json.dumps(fields).replace("\x7f", "\\u007f") + "\n"


def summary(files: int, findings: Sequence[Diagnostic], left_out: int, allowed: int) -> str:
    """One line: how much was looked at, and what came of it."""
    errors = sum(1 for finding in findings if finding.severity is Severity.ERROR)
    kinds = ((errors, "error"), (len(findings) - errors, "warning"))
    counts = [_count(number, what) for number, what in kinds if number]
    words = f"{_count(files, 'file')}, {' and '.join(counts) or 'nothing found'}"
    if allowed:
        words += f"; {allowed:,} allowed where {'it stands' if allowed == 1 else 'they stand'}"
    if left_out:
        words += f"; {left_out:,} left out by --select or --ignore or the settings"
    return words


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"
