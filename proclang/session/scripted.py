"""Replies from a file, one a line, each behind the address of the question it answers.

```
# a comment
opening/crew/lead = Ada Quill
level/final/ns[direct] ! cloud came over
level/final/ns[direct] = 6 arcmin
level/final/ew[direct] mistyped the point was left out
level/final/ew[direct] crew rigger Bo Tarn
level/final/ew[direct] stop the wind is rising
```
The order is strict: the next line has to answer the question that is open. A file tells either the whole run from its
first question, or goes on from the question that is open; its first address says which. Where it tells the whole run
and a part has been answered already, that part must be the same.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Protocol

import attrs

from proclang.engine.model import Entry
from proclang.session import present
from proclang.session.conduct import Left, Said, Situation
from proclang.session.look import Line, Look
from proclang.session.present import Place, Question
from proclang.text.decode import decode
from proclang.text.diagnostic import Diagnostic, Label, Problem
from proclang.text.span import Source, Span


@attrs.frozen
class ScriptedReply:
    """One line: the question's address, the reply, and where both stand."""

    address: str
    said: Said
    at: Span
    reply_at: Span


@attrs.frozen
class Script:
    """A file of replies."""

    source: Source
    replies: tuple[ScriptedReply, ...]


# Between square brackets an address may hold blanks: `opening/found/crates[fork, tube]`.
_LINE = re.compile(
    r"[ \t]*(?P<address>(?:[^ \t\[]|\[[^\]]*\])+)"
    r"(?:[ \t]+(?P<what>=|!|(?:stop|mistyped|crew)\b)[ \t]*(?P<text>.*?))?[ \t]*"
)


def read_script(data: bytes, name: str) -> Script | tuple[Diagnostic, ...]:
    """Read a file of replies. Codes: those of `decode`, `reply-line`."""
    decoded = decode(data, name)
    if decoded.findings:
        return decoded.findings
    source = decoded.source
    replies: list[ScriptedReply] = []
    findings: list[Diagnostic] = []
    for number in range(1, source.line_count + 1):
        line = source.line(number)
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        found = _LINE.fullmatch(line)
        start = source.line_start(number)
        span = Span(name, start + len(line) - len(line.lstrip()), start + len(line.rstrip()))
        what = found["what"] if found is not None else None
        if found is None or what is None or (what in ("=", "!", "crew") and not found["text"]):
            message = _EMPTY.get(what or "", _SHAPE)
            findings.append(Diagnostic("reply-line", message, span, hint=_SHAPE_HINT))
            continue
        kind = {"=": "answer", "!": "note"}.get(what, what)
        replies.append(
            ScriptedReply(
                found["address"],
                Said(found["text"], kind),
                Span(name, start + found.start("address"), start + found.end("address")),
                Span(name, start + found.start("what"), start + found.end("text")),
            )
        )
    return tuple(findings) if findings else Script(source, tuple(replies))


_REPLIES = ("answer", "note", "crew", "stop", "mistyped")
"""Kinds of entries that a file of replies can lead to."""

_EMPTY = {"!": "a note has no text", "=": "a reply is missing", "crew": "a role and a name are missing"}
_SHAPE = "this is no reply to a question"
_SHAPE_HINT = "write `ADDRESS = reply`, `ADDRESS ! note` or `ADDRESS stop reason`; a comment begins with `#`"


class Output(Protocol):
    """Where the questions and what the replies became are shown."""

    def look(self) -> Look:
        """How to show."""

    def show(self, lines: Iterable[Line]) -> None:
        """Print lines. Raises `OSError`."""


class ScriptDriver:
    """Answers from a script, and prints what a technician would have seen."""

    def __init__(self, script: Script, output: Output) -> None:
        self._script = script
        self._output = output
        self._next = 0
        self._place = Place()
        self._wrong: Diagnostic | None = None

    def begin(self, situation: Situation) -> None:
        """Find the line to go on from."""
        look = self._output.look()
        self._output.show(present.greeting(situation.opened, situation.program.main.purpose, look))
        if situation.resumed:
            self._output.show(present.went_on(len(situation.entries), situation.set_aside, look))
        answered = [e for e in situation.entries if e.reply.kind in _REPLIES]
        replies = self._script.replies
        if not answered or not replies or replies[0].address != answered[0].ask:
            return
        for entry, line in zip(answered, replies, strict=False):
            if (line.address, line.said.kind, line.said.text) != (
                entry.ask,
                entry.reply.kind,
                entry.reply.text.strip(),
            ):
                self._wrong = self._differs(entry, line)
                return
        self._next = len(answered)

    def _differs(self, entry: Entry, line: ScriptedReply) -> Diagnostic:
        recorded = f"{entry.ask} {present.reply_text(entry.reply.text, entry.reply.kind)}"
        return Diagnostic(
            "reply-differs",
            f"the run has this otherwise: `{recorded}`",
            line.at.to(line.reply_at),
            hint="what is recorded stays; write the line as it is recorded, or begin the file at the open question",
        )

    def ask(self, question: Question) -> Said | Left:
        """The next line, if it answers this question."""
        request = question.request
        if self._wrong is not None:
            return Left("script", findings=(self._wrong,))
        replies = self._script.replies
        if self._next >= len(replies):
            return Left("script", findings=(self._ended(request.address),))
        line = replies[self._next]
        if line.address != request.address:
            return Left("script", findings=(self._other(request.address, line),))
        look = self._output.look()
        asked = present.ask(question, self._place, look)
        self._place = asked.place
        typed = line.said.text if line.said.kind == "answer" else present.reply_text(line.said.text, line.said.kind)
        stands = self._next > 0 and replies[self._next - 1].said.kind == "note"
        self._output.show((*(() if stands else asked.lines), *present.echo(asked.prompt, typed, look)))
        return line.said

    def _ended(self, address: str) -> Diagnostic:
        end = len(self._script.source.text)
        span = self._script.replies[-1].at if self._script.replies else Span(self._script.source.name, end, end)
        return Diagnostic(
            "reply-missing",
            f"the replies end here, and a question is open: `{address}`",
            span,
            hint=f"add `{address} = reply`, or go on by hand",
        )

    def _other(self, address: str, line: ScriptedReply) -> Diagnostic:
        later = next((r for r in self._script.replies[self._next :] if r.address == address), None)
        also = (Label(later.at, "a reply to the open question stands here"),) if later is not None else ()
        return Diagnostic(
            "reply-address",
            f"the question is `{address}`, and this line answers `{line.address}`",
            line.at,
            hint="replies are given in the order in which the questions come",
            also=also,
        )

    def accepted(self, entry: Entry, number: int, head: str) -> None:
        """On to the next line."""
        self._next += 1
        self._output.show(present.accepted(entry, number, head, self._output.look()))

    def refused(self, problem: Problem) -> Left | None:
        """A script cannot answer otherwise."""
        line = self._script.replies[self._next]
        finding = Diagnostic("reply-refused", problem.message, line.reply_at, hint=problem.hint)
        return Left("script", findings=(finding,))

    def over(self, status: str) -> Left | None:
        """Lines that are left answer nothing."""
        if self._wrong is not None:
            return Left("script", findings=(self._wrong,))
        left = self._script.replies[self._next :]
        if not left:
            return None
        more = f", and {len(left) - 1} more after it" if len(left) > 1 else ""
        finding = Diagnostic(
            "reply-left-over",
            f"the run is over ({status}); this line answers nothing{more}",
            left[0].at.to(left[0].reply_at),
            hint="delete what is left, or see why the run came to its end earlier",
        )
        return Left("script", findings=(finding,))
