"""Findings to text for people and to JSON for programs. Every character that is shown goes through `printable`.

level.proc:12:20: error[unknown-unit]: `acrmin` is not a unit
    measure tilt in acrmin
                    ~~~~~~ not in the table of units
  level.proc:4:3: the value was declared here
    tilt: angle
    ~~~~
  did you mean `arcmin`?
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from proclang.text import limits
from proclang.text.diagnostic import Diagnostic
from proclang.text.printable import printable
from proclang.text.span import Source, Span

COLUMNS = 100
"""A source line wider than this is cut around the place that is meant."""

SCHEMA = 1
"""Version of the JSON form. Keys may be added under the same number, never renamed or dropped."""

_BEFORE_PLACE = 40
_CUT = "..."
_TAB = "  "
_ASIDE = "  "
_SOURCE = "    "


def render_text(
    findings: Iterable[Diagnostic], sources: Mapping[str, Source], most: int = limits.FINDINGS_SHOWN
) -> str:
    """The findings in the order given, each a paragraph; at most `most` of them, and how many more there are.

    Lines and columns count from 1, columns in characters. `sources` are keyed by their name; a finding about a text
    that is not among them is told without its line. An empty string when there are no findings.
    """
    told = list(findings)
    paragraphs = [_paragraph(finding, sources) for finding in told[:most]]
    left = len(told) - most
    if left > 0:
        paragraphs.append(f"{left:,} more {'finding is' if left == 1 else 'findings are'} not shown")
    return "\n\n".join(paragraphs) + "\n" if paragraphs else ""


def render_json(
    findings: Iterable[Diagnostic], sources: Mapping[str, Source], allowed: Iterable[tuple[Diagnostic, str]] = ()
) -> str:
    """All findings as one JSON object, ASCII only, with a newline at its end.

    `{"schema": 1, "findings": [...]}`; each finding has `code`, `severity`, `message`, `hint`, `label`, `file`,
    `line`, `column`, `end_line`, `end_column` and `also`, a list of `text` with a place of the same form. Lines and
    columns count from 1 and the end is the place just after; all four are null when the text is not in `sources`.
    `allowed` holds findings of the same form that are let stand, each with its `reason`.
    """
    import json

    told = [finding_fields(finding, sources) for finding in findings]
    let_stand = [{**finding_fields(finding, sources), "reason": reason} for finding, reason in allowed]
    text = json.dumps({"schema": SCHEMA, "findings": told, "allowed": let_stand}, indent=2)
    return text.replace("\x7f", "\\u007f") + "\n"  # the one control character json leaves as it is


def finding_fields(finding: Diagnostic, sources: Mapping[str, Source]) -> dict[str, Any]:
    """One finding as `render_json` has it."""
    return {
        "code": finding.code,
        "severity": finding.severity.value,
        "message": finding.message,
        "hint": finding.hint,
        "label": finding.label,
        **_place_fields(finding.span, sources),
        "also": [{"text": also.text, **_place_fields(also.span, sources)} for also in finding.also],
    }


def _paragraph(finding: Diagnostic, sources: Mapping[str, Source]) -> str:
    head = f"{finding.severity.value}[{printable(finding.code)}]: {printable(finding.message)}"
    lines = [f"{_place(finding.span, sources)}: {head}"]
    lines += _excerpt(finding.span, sources, finding.label)
    for also in finding.also:
        lines.append(f"{_ASIDE}{_place(also.span, sources)}: {printable(also.text)}")
        lines += _excerpt(also.span, sources)
    if finding.hint:
        lines.append(_ASIDE + printable(finding.hint))
    return "\n".join(lines)


def _place(span: Span, sources: Mapping[str, Source]) -> str:
    source = sources.get(span.file)
    if source is None:
        return printable(span.file)
    line, column = source.place(span.start)
    return f"{printable(span.file)}:{line}:{column}"


def _place_fields(span: Span, sources: Mapping[str, Source]) -> dict[str, Any]:
    source = sources.get(span.file)
    line = column = end_line = end_column = None
    if source is not None:
        line, column = source.place(span.start)
        end_line, end_column = source.place(max(span.start, span.end))
    return {"file": span.file, "line": line, "column": column, "end_line": end_line, "end_column": end_column}


def _excerpt(span: Span, sources: Mapping[str, Source], label: str = "") -> list[str]:
    """The line a span begins on and a line of `~` under what is meant; nothing for a text without that line."""
    source = sources.get(span.file)
    if source is None:
        return []
    number, column = source.place(span.start)
    text = source.line(number)
    if not text:
        return []
    begin = column - 1
    end = min(len(text), max(begin + 1, begin + span.end - span.start))
    line, before, under = _draw(text, begin, end)
    mark = " " * before + "~" * under
    if label:
        mark += " " + printable(label)
    return [(_SOURCE + line).rstrip(), _SOURCE + mark]


def _draw(text: str, begin: int, end: int) -> tuple[str, int, int]:
    """The line as shown, the columns before the characters `begin` up to `end`, and the columns under them."""
    # Far from the place nothing can be shown, and a line may be a million characters long.
    first = max(0, begin - 2 * COLUMNS)
    last = min(len(text), begin + 2 * COLUMNS)
    shown = [_TAB if char == "\t" else printable(char) for char in text[first:last]]
    widths = _widths(shown)
    begin, end = begin - first, min(end, last) - first
    left, right = 0, len(shown)
    if first > 0 or last < len(text) or sum(widths) > COLUMNS:
        left, right = _window(widths, begin)
    line = "".join(shown[left:right])
    before = sum(widths[left:begin])
    if first + left > 0:
        line, before = _CUT + line, before + len(_CUT)
    if first + right < len(text):
        line += _CUT
    return line, before, max(1, sum(widths[begin : min(end, right)]))


def _window(widths: list[int], begin: int) -> tuple[int, int]:
    """Which characters of a wide line are shown, so that the place and some of what stands before it are."""
    left, room = begin, _BEFORE_PLACE
    while left > 0 and widths[left - 1] <= room:
        left -= 1
        room -= widths[left]
    right, room = begin, COLUMNS - (_BEFORE_PLACE - room)
    while right < len(widths) and widths[right] <= room:
        room -= widths[right]
        right += 1
    while left > 0 and widths[left - 1] <= room:
        left -= 1
        room -= widths[left]
    return left, right


def _widths(shown: list[str]) -> list[int]:
    """Columns each piece takes on a terminal. Only letters outside ASCII need the tables for that."""
    if all(piece.isascii() for piece in shown):
        return [len(piece) for piece in shown]
    from wcwidth import wcwidth

    return [len(piece) if piece.isascii() else max(0, wcwidth(piece)) for piece in shown]
