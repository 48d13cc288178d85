"""An unexpected token in the words of the person who wrote the line."""

from __future__ import annotations

from proclang.syntax.recover import Unexpected
from proclang.syntax.words import SOFT_WORDS, in_words
from proclang.text.diagnostic import Diagnostic
from proclang.text.printable import printable
from proclang.text.span import Source, Span
from proclang.text.suggest import nearest

_LOOKALIKES = {
    "“": 'a curly quote; write `"`',
    "”": 'a curly quote; write `"`',
    "‘": "a curly quote",
    "’": "a curly quote",
    "\u00a0": "a no-break space; write an ordinary blank",
    "–": "a dash; write `-`",
    "—": "a dash; write `-`",
    "\t": "a tab; write blanks",
    "'": 'a single quote; texts stand in `"`',
    ";": "a semicolon; one fact a line",
    "{": "a brace; braces belong in quoted texts",
    "!": "not a sign of the language; write `not`",
}
_MOST_EXPECTED = 6


def finding_for(fault: Unexpected, source: Source) -> Diagnostic:
    """The finding for one damaged line.

    Codes: `missing-version`, `missing-title`, `missing-block`, `stray-block`, `unclosed-quote`, `stray-character`,
    `unknown-line` for a first word that begins no line, `word-as-name`, `syntax` for the rest.
    """
    token, before, expected = fault.token, fault.before, fault.expected
    span = Span(source.name, token.start, max(token.end, token.start + 1))
    shown = f"`{printable(token.text)[:60]}`"
    if fault.why == "missing-version":
        return Diagnostic(
            "missing-version", "the file does not say which version of the language it is in", span,
            hint="make `proclang 1` its first line",
        )  # fmt: skip
    if fault.why == "missing-title":
        return Diagnostic(
            "missing-title", "the file does not say what it is", span,
            hint='make its second line `procedure NAME "title"` or `machine NAME "title"`',
        )  # fmt: skip
    if fault.why == "missing-block":
        line, _ = source.place(token.start)
        text = source.line(line)
        start = source.line_start(line) + len(text) - len(text.lstrip())
        return Diagnostic(
            "missing-block", f"`{text.split()[0]}` needs lines under it, two blanks further in",
            Span(source.name, start, source.line_start(line) + len(text.rstrip())),
            hint="write them, or delete the line",
        )  # fmt: skip
    if fault.why == "stray-block":
        return Diagnostic(
            "stray-block", "this line is indented, but the line above it takes no block", span,
            hint="indent it as far as the line above",
        )  # fmt: skip
    if fault.why == "outside-block":
        return Diagnostic(
            "indentation", f"{shown} belongs to the line above it", span, hint="indent it two blanks further",
        )  # fmt: skip
    if fault.why == "nothing":
        return Diagnostic(
            "empty-file", "the file says nothing", span, hint="begin with `proclang 1` and a line that says what it is",
        )  # fmt: skip
    if token.type == "UNCLOSED":
        return Diagnostic(
            "unclosed-quote", "the quote is not closed on its line", span, hint='put `"` where the text ends'
        )
    if token.type == "STRAY":
        known = _LOOKALIKES.get(token.text)
        if known is not None:
            return Diagnostic(
                "stray-character", f"{shown} is {known.split(';')[0]}", span, hint=known.partition("; ")[2]
            )
        return Diagnostic("stray-character", f"{shown} is not a sign of the language", span, hint=_hint(expected))
    if token.type == "$END":
        return Diagnostic("syntax", "the file ends too early", span, hint=_hint(expected))
    if not before:
        return _first_word(fault, span, shown)
    said = " ".join(t.text for t in before[-3:])
    if token.type == "_NL":
        end = before[-1].end
        message = f"the line ends too early after `{printable(said)[:60]}`"
        return Diagnostic("syntax", message, Span(source.name, before[-1].start, end), hint=_hint(expected))
    if "NAME" in expected and token.text.isidentifier() and token.type not in ("NAME", *SOFT_WORDS):
        return Diagnostic(
            "word-as-name", f"{shown} is a word of the language and cannot be a name", span, hint="choose another name"
        )
    slip = _near_keyword(token.text, expected)
    hint = f"did you mean `{slip}`?" if slip else _hint(expected)
    return Diagnostic("syntax", f"{shown} was not expected after `{printable(said)[:60]}`", span, hint=hint)


def _first_word(fault: Unexpected, span: Span, shown: str) -> Diagnostic:
    token, expected = fault.token, fault.expected
    if token.type == "NAME":
        slip = _near_keyword(token.text, expected)
        hint = f"did you mean `{slip}`?" if slip else _hint(expected)
        return Diagnostic("unknown-line", f"no line begins with {shown} here", span, hint=hint)
    return Diagnostic("unknown-line", f"a line beginning with {shown} has no place here", span, hint=_hint(expected))


def _keywords(expected: frozenset[str]) -> list[str]:
    words: list[str] = []
    for terminal in expected:
        text = in_words(terminal)
        if "`" in text:
            words.extend(part for part in text.split("`") if part[:1].isalpha() and part not in (" or ", ", "))
    return words


def _near_keyword(word: str, expected: frozenset[str]) -> str | None:
    keywords = {k.split()[0]: k for k in _keywords(expected)}
    near = nearest(word, keywords, most=1)
    return keywords[near[0]] if near else None


def _hint(expected: frozenset[str]) -> str:
    """`expected ...`, nearest to how people speak: names and numbers before signs, and not a long list."""
    dull = {"BROKEN", "_INDENT", "_DEDENT", "$END"}
    if "NAME" in expected:
        dull |= SOFT_WORDS
    shown = sorted((in_words(t) for t in expected - dull), key=_weight)
    if not shown:
        return ""
    if len(shown) > _MOST_EXPECTED:
        shown = [*shown[:_MOST_EXPECTED], "another word of the language"]
    return "expected " + (shown[0] if len(shown) == 1 else ", ".join(shown[:-1]) + " or " + shown[-1])


def _weight(words: str) -> tuple[int, str]:
    if words.startswith("a"):
        return (0, words)
    if words.startswith("`in`"):
        return (1, words)
    return (2 if words[1:2].isalpha() else 3, words)
