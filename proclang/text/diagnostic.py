"""What is wrong, as a value: a code, a place, a sentence, and what to do. Nothing here prints."""

from __future__ import annotations

import enum

import attrs

from proclang.text.span import Span


class Severity(enum.Enum):
    """An error keeps a procedure from being run; a warning does not."""

    ERROR = "error"
    WARNING = "warning"


@attrs.frozen
class Label:
    """A second place worth looking at, and why: "first set here"."""

    span: Span
    text: str


@attrs.frozen
class Diagnostic:
    """One finding about one text.

    `message` says what is wrong, starts in lower case and has no full stop; `hint` says what to do about it;
    `label` stands beside the underlined text and may be empty.
    """

    code: str
    message: str
    span: Span
    hint: str = ""
    label: str = ""
    also: tuple[Label, ...] = ()
    severity: Severity = Severity.ERROR

    @property
    def sort_key(self) -> tuple[str, int, int, str, str]:
        """Findings are shown by file, place, code."""
        return (self.span.file, self.span.start, self.span.end, self.code, self.message)


@attrs.frozen
class Problem:
    """What a reader of a small text (a number, a reply) found wrong; `start` and `end` are offsets in that text.

    The caller, who knows where the text stands, turns it into a `Diagnostic` or a sentence at a prompt.
    """

    code: str
    message: str
    hint: str = ""
    start: int = 0
    end: int = 0

    def at(self, span: Span) -> Diagnostic:
        """This problem as a finding at a place the caller chooses."""
        return Diagnostic(self.code, self.message, span, hint=self.hint)


def in_order(findings: list[Diagnostic]) -> tuple[Diagnostic, ...]:
    """Findings sorted for showing, each said once."""
    seen: dict[tuple[str, int, int, str, str], Diagnostic] = {}
    for finding in findings:
        seen.setdefault(finding.sort_key, finding)
    return tuple(seen[key] for key in sorted(seen))
