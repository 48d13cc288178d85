"""Findings that the author lets stand, each with the reason: `# allow CODE: reason`.

The comment stands behind the line it is about, or alone on a line above it. Only warnings can be allowed: on errors
rests what the check proves. An allowance without a reason, of a code there is not, or of something that is not found is
a finding itself, so that none is left over.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator

import attrs

from proclang.check.page import listed
from proclang.syntax.parse import Parsed
from proclang.text.diagnostic import Diagnostic, Severity
from proclang.text.span import Span
from proclang.text.suggest import did_you_mean

_ALLOWANCE = re.compile(
    r"#[ ]*allow[ ]+(?P<codes>[a-z][a-z0-9-]*(?:[ ]*,[ ]*[a-z][a-z0-9-]*)*)[ ]*(?::(?P<reason>[^#]*))?(?:#.*)?$"
)
"""What stands behind another `#` is a comment on it."""

_MAYBE = re.compile(r"#[ ]*allow ")
_CODE = re.compile(r"[a-z0-9-]+")

_NEVER = frozenset({"allowance-reason", "allowance-code", "allowance-idle"})
_IN_ONE_FILE = frozenset(
    {
        "unused-input", "unused-labels", "unused-column", "unused-instrument", "unused-hazard", "unused-kind",
        "unused-value", "unused-choice", "unused-label", "cannot-judge", "cannot-resolve", "always-passes",
    }
)  # fmt: skip
"""Warnings that depend on nothing but their file. Whether others are found may depend on the procedure that the check
begins with, so an allowance of theirs is never idle."""


@attrs.frozen
class Allowed:
    """A finding that is let stand, and why."""

    finding: Diagnostic
    reason: str


@attrs.frozen
class _Allowance:
    """One code of one comment: the line it is about, and where the code stands."""

    code: str
    line: int
    reason: str
    span: Span


def sort_out(
    files: Iterable[Parsed], findings: Iterable[Diagnostic], looked_at: Collection[str] | None
) -> tuple[list[Diagnostic], list[Allowed]]:
    """The findings that remain, those about allowances among them, and those that are allowed.

    `looked_at` are the rules of writing that were looked at; None where files are so damaged that it cannot be said
    what else would be found.
    """
    remaining = list(findings)
    allowed: list[Allowed] = []
    for parsed in files:
        if _MAYBE.search(parsed.source.text) is None:  # most files: nothing more is loaded for them
            continue
        given = list(_allowances(parsed))
        if not given:
            continue
        known = listed()
        usable: dict[tuple[int, str], _Allowance] = {}
        for allowance in given:
            problem = _problem(allowance, known)
            if problem is not None:
                remaining.append(problem)
            if problem is None or problem.code == "allowance-reason":  # one mistake, one finding
                usable[allowance.line, allowance.code] = allowance
        used = set()
        kept = []
        for finding in remaining:
            line = parsed.source.place(finding.span.start)[0]
            own = finding.span.file == parsed.source.name and finding.severity is Severity.WARNING
            by = usable.get((line, finding.code)) if own else None
            if by is None:
                kept.append(finding)
            else:
                used.add((line, finding.code))
                allowed.append(Allowed(finding, by.reason))
        remaining = kept
        if looked_at is not None:
            idle = (a for key, a in usable.items() if key not in used and a.reason)
            remaining += [_idle(a) for a in idle if a.code in looked_at or a.code in _IN_ONE_FILE]
    return remaining, allowed


def _allowances(parsed: Parsed) -> Iterator[_Allowance]:
    source = parsed.source
    for comment in parsed.comments:
        found = _ALLOWANCE.match(comment.text)
        if found is None:
            continue
        line, column = source.place(comment.span.start)
        if not source.line(line)[: column - 1].strip():
            line = _next_line(parsed, line)
        for code in _CODE.finditer(found["codes"]):
            start = comment.span.start + found.start("codes") + code.start()
            yield _Allowance(
                code[0], line, (found["reason"] or "").strip(), Span(source.name, start, start + len(code[0]))
            )


def _next_line(parsed: Parsed, line: int) -> int:
    """The next line that says something."""
    source = parsed.source
    line += 1
    while line <= source.line_count and source.line(line).lstrip(" ")[:1] in ("", "#"):
        line += 1
    return line


def _say(code: str, message: str, span: Span, hint: str) -> Diagnostic:
    return Diagnostic(code, message, span, hint=hint, severity=Severity.WARNING)


def _problem(allowance: _Allowance, known: Collection[str]) -> Diagnostic | None:
    code = allowance.code
    entry = listed().get(code)
    if entry is None:
        near = did_you_mean(code, known) or "`proclang explain` lists the codes"
        return _say("allowance-code", f"there is no finding `{code}` to allow", allowance.span, near)
    if entry.severity is Severity.ERROR or code in _NEVER:
        hint = "only warnings can be allowed; put right what is found"
        return _say("allowance-code", f"`{code}` cannot be allowed", allowance.span, hint)
    if not allowance.reason:
        hint = f"write `# allow {code}: why it is right here`"
        return _say("allowance-reason", f"nothing says why `{code}` is allowed here", allowance.span, hint)
    return None


def _idle(allowance: _Allowance) -> Diagnostic:
    hint = "delete it, or put it at the end of the line it is about, or right above that"
    message = f"`{allowance.code}` is allowed here and not found"
    return _say("allowance-idle", message, allowance.span, hint)
