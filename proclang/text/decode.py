"""Bytes from a file to a `Source`, or findings that say why not. After this, only `\\n` ends a line."""

from __future__ import annotations

import re

import attrs

from proclang.text import limits
from proclang.text.diagnostic import Diagnostic, in_order
from proclang.text.printable import HIDDEN
from proclang.text.span import Source, Span

_OTHER_LINE_ENDS = {
    "\r": "a carriage return on its own",
    "\x0b": "a vertical tab",
    "\x0c": "a form feed",
    "\x85": "a next-line character",
    "\u2028": "a line separator",
    "\u2029": "a paragraph separator",
}
MERGE_MARK = r"(?:<{7}|={7}|>{7}|\|{7})(?: [^\n]*)?"
"""A whole line that a merge left behind, without its newline."""
_CONFLICT = re.compile(f"^{MERGE_MARK}$", re.MULTILINE)


@attrs.frozen
class Decoded:
    """A source and what is wrong with it as text. `usable` is False when there is no point in parsing it."""

    source: Source
    findings: tuple[Diagnostic, ...] = ()
    usable: bool = True


def decode(data: bytes, name: str) -> Decoded:
    """Read UTF-8 text. A byte-order mark at the front is dropped, CRLF becomes `\\n`, a missing last newline is added.

    Codes: `too-long`, `not-utf8`, `line-end`, `hidden-character`, `merge-conflict`.
    """
    empty = Source(name, "")
    if len(data) > limits.FILE_BYTES:
        finding = Diagnostic(
            "too-long",
            f"the file is {len(data):,} bytes long, more than the {limits.FILE_BYTES:,} that are read",
            Span(name, 0, 0),
            hint="split it, and `perform` the parts",
        )
        return Decoded(empty, (finding,), usable=False)
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\x00" in data:
        return Decoded(empty, (_not_text(name, 0, "it looks like UTF-16 or a binary file"),), usable=False)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8")
        source = Source(name, before.replace("\r\n", "\n"))
        line, _ = source.place(len(source.text))
        return Decoded(
            source, (_not_text(name, len(source.text), f"line {line} has a byte that is not"),), usable=False
        )
    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    findings: list[Diagnostic] = []
    if not text.isprintable():  # cheap first look; a newline is not printable, so most files get here
        findings = _look_closer(text, name)
    if text and not text.endswith("\n"):
        text += "\n"
    source = Source(name, text)
    findings.extend(
        Diagnostic(
            "merge-conflict",
            "this is a mark that a merge left behind",
            Span(name, m.start(), m.end()),
            hint="settle the conflict, then delete the marks",
        )
        for m in _CONFLICT.finditer(text)
    )
    for number in range(1, source.line_count + 1):
        start = source.line_start(number)
        after = source.line_start(number + 1) if number < source.line_count else len(text)
        if after - start > limits.LINE_CHARACTERS:
            findings.append(
                Diagnostic(
                    "too-long",
                    f"the line has {after - start:,} characters; {limits.LINE_CHARACTERS:,} are read at most",
                    Span(name, start, start + 1),
                    hint="break the text into sentences, one a line",
                )
            )
    unusable = any(f.code in ("line-end", "too-long") for f in findings)
    return Decoded(source, in_order(findings), usable=not unusable)


def _not_text(name: str, offset: int, what: str) -> Diagnostic:
    return Diagnostic(
        "not-utf8",
        f"the file is not UTF-8 text: {what}",
        Span(name, offset, offset),
        hint="save it as UTF-8",
    )


def _look_closer(text: str, name: str) -> list[Diagnostic]:
    findings = []
    for match in HIDDEN.finditer(text):
        char, at = match.group(), match.start()
        if char in "\n\t":
            continue  # a tab is told by the layout, which knows where it stands
        if char in _OTHER_LINE_ENDS:
            findings.append(
                Diagnostic(
                    "line-end",
                    f"{_OTHER_LINE_ENDS[char]} stands in the text; editors disagree about where its line ends",
                    Span(name, at, at + 1),
                    hint="end lines with a newline only",
                )
            )
        else:
            findings.append(
                Diagnostic(
                    "hidden-character",
                    f"a character that cannot be seen stands here: U+{ord(char):04X}",
                    Span(name, at, at + 1),
                    hint="delete it; such characters can make a line read differently from what it says",
                )
            )
        if len(findings) >= limits.FINDINGS_SHOWN:
            break
    return findings
