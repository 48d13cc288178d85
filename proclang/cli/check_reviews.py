"""What `check` says for reviews: a SARIF log, or the lines by which a GitHub workflow marks findings in a change.

SARIF: Static Analysis Results Interchange Format, version 2.1.0 with errata 01 (OASIS Standard). The lines: GitHub's
"Workflow commands for GitHub Actions", `error` and `warning`. Both name files relative to the present folder, which
nothing else of this computer is told with.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

from proclang.text.printable import printable

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from proclang.check.allowances import Allowed
    from proclang.check.page import Example, Page
    from proclang.text.diagnostic import Diagnostic
    from proclang.text.span import Source, Span

SARIF_VERSION = "2.1.0"
SARIF_FORM = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
BASE = "%SRCROOT%"
"""What file names are relative to; what it stands for is known to whoever called the check."""

_PLAIN = frozenset(b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~/")


# ---------------------------------------------------------------------------- SARIF


def sarif(findings: Sequence[Diagnostic], sources: Mapping[str, Source], allowed: Sequence[Allowed] = ()) -> str:
    """The findings as one SARIF log, ASCII only, with a newline at its end; the rules are those that were broken.

    What is allowed is a result that is suppressed in the source, with its justification.
    """
    import json

    from proclang import __version__

    codes = sorted({finding.code for finding in (*findings, *(one.finding for one in allowed))})
    places = {code: index for index, code in enumerate(codes)}
    driver = {"name": "proclang", "version": __version__, "rules": _rules(codes)}
    run = {
        "tool": {"driver": driver},
        "columnKind": "utf16CodeUnits",
        "originalUriBaseIds": {BASE: {"description": _text("The folder the check was called in.")}},
        "results": [
            *(_result(finding, sources, places[finding.code]) for finding in findings),
            *(_suppressed(one, sources, places[one.finding.code]) for one in allowed),
        ],
    }
    log = {"$schema": SARIF_FORM, "version": SARIF_VERSION, "runs": [run]}
    return json.dumps(log, indent=2).replace("\x7f", "\\u007f") + "\n"


def _rules(codes: Sequence[str]) -> list[dict[str, Any]]:
    from proclang.check.page import listed, page_of

    known = listed()
    return [_rule(page_of(known[code])) if code in known else {"id": code} for code in codes]


def _rule(page: Page) -> dict[str, Any]:
    entry = page.listed
    source = [f"Source: {page.source}"] if page.source else []
    shown = [
        f"{word}:\n\n{_fence(example)}" for word, example in (("Wrong", page.wrong), ("Right", page.right)) if example
    ]
    paragraphs = page.why or (entry.title,)
    more = f"`proclang explain {entry.code}` shows this page."
    return {
        "id": entry.code,
        "shortDescription": _text(entry.title),
        "fullDescription": _text("\n\n".join(paragraphs)),
        "help": {
            **_text("\n\n".join([*paragraphs, *source, more])),
            "markdown": _message("\n\n".join([*paragraphs, *shown, *source, more])),
        },
        "defaultConfiguration": {"level": entry.severity.value},
        "properties": {"tags": [entry.group]},
    }


def _fence(example: Example) -> str:
    return f"```proclang\n{example.text}```"


def _result(finding: Diagnostic, sources: Mapping[str, Source], index: int) -> dict[str, Any]:
    told: dict[str, Any] = {
        "ruleId": finding.code,
        "ruleIndex": index,
        "level": finding.severity.value,
        "message": _text("\n".join(filter(None, (finding.message, finding.hint)))),
        "locations": [_location(finding.span, sources, finding.label)],
    }
    if finding.also:
        told["relatedLocations"] = [
            {"id": number, **_location(also.span, sources, also.text)} for number, also in enumerate(finding.also, 1)
        ]
    return told


def _suppressed(allowed: Allowed, sources: Mapping[str, Source], index: int) -> dict[str, Any]:
    reason = {"justification": printable(allowed.reason)} if allowed.reason else {}
    return {**_result(allowed.finding, sources, index), "suppressions": [{"kind": "inSource", **reason}]}


def _location(span: Span, sources: Mapping[str, Source], words: str) -> dict[str, Any]:
    physical: dict[str, Any] = {"artifactLocation": {"uri": uri(span.file), "uriBaseId": BASE}}
    source = sources.get(span.file)
    if source is not None:
        line, column = source.place(span.start)
        end_line, end_column = source.place(max(span.start, span.end))
        physical["region"] = {
            "startLine": line,
            "startColumn": _in_units(source, line, column),
            "endLine": end_line,
            "endColumn": _in_units(source, end_line, end_column),
        }
    return {"physicalLocation": physical, **({"message": _text(words)} if words else {})}


def _in_units(source: Source, line: int, column: int) -> int:
    """A column in characters as one in 16-bit units, of which characters past U+FFFF take two."""
    before = source.line(line)[: column - 1]
    return column if before.isascii() else column + sum(1 for char in before if ord(char) > 0xFFFF)


def _text(words: str) -> dict[str, str]:
    return {"text": _message(words)}


def _message(words: str) -> str:
    """Words in which nothing is a placeholder (SARIF 3.11.5, braces are doubled) or a link (3.11.6)."""
    words = "\n".join(printable(line) for line in words.split("\n"))
    return words.replace("{", "{{").replace("}", "}}").replace("](", "] (")


def uri(name: str) -> str:
    """A file name as a relative reference (RFC 3986): what is not plain is written as bytes, the colon too."""
    data = os.fsencode(relative(name))
    return "".join(chr(byte) if byte in _PLAIN else f"%{byte:02X}" for byte in data)


def relative(name: str) -> str:
    """A file name as seen from the present folder."""
    if not os.path.isabs(name):  # `..` behind a link leads elsewhere than without the two, so it stays as it is
        return name if ".." in name.split("/") else os.path.normpath(name)
    try:
        return os.path.relpath(name)
    except OSError:  # the present folder has been removed
        return os.path.basename(name)


# ---------------------------------------------------------------------------- GitHub


def github(findings: Sequence[Diagnostic], sources: Mapping[str, Source]) -> str:
    """A workflow command a finding, each one line."""
    return "".join(_command(finding, sources) + "\n" for finding in findings)


def _command(finding: Diagnostic, sources: Mapping[str, Source]) -> str:
    properties = ",".join(f"{name}={_property(value)}" for name, value in _properties(finding, sources))
    lines = [finding.message, *(f"{_where(also.span, sources)}: {also.text}" for also in finding.also), finding.hint]
    words = "\n".join(filter(None, lines))
    return f"::{finding.severity.value} {properties}::{_data(words)}"


def _properties(finding: Diagnostic, sources: Mapping[str, Source]) -> Iterator[tuple[str, str]]:
    span = finding.span
    yield "file", relative(span.file)
    source = sources.get(span.file)
    if source is not None:
        line, column = source.place(span.start)
        end_line, end_column = source.place(max(span.start, span.end))
        yield "line", str(line)
        if end_line == line:  # columns are not taken together with several lines
            yield "col", str(column)
            yield (
                "endColumn",
                str(max(column, end_column - 1)),
            )  # the last one: without it, that of the beginning counts
        else:
            yield "endLine", str(end_line)
    yield "title", finding.code


def _where(span: Span, sources: Mapping[str, Source]) -> str:
    source = sources.get(span.file)
    name = relative(span.file)
    return name if source is None else ":".join((name, *map(str, source.place(span.start))))


def _data(text: str) -> str:
    """What stands behind the command. Line ends are written out; what else would move the cursor is shown."""
    return printable(text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A"))


def _property(text: str) -> str:
    return _data(text).replace(":", "%3A").replace(",", "%2C")
