"""An unexpected token in the words of the person who wrote the line."""

from __future__ import annotations

from proclang.syntax.lexer import Token
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

    Codes: `empty-file`, `missing-version`, `missing-title`, `missing-block`, `stray-block`, `indentation` for a line
    that belongs under the one above it, `unclosed-quote`, `stray-character`, `foreign-letter`, `missing-unit`,
    `unknown-line` for a first word that begins no line, `word-as-name`, `syntax` for the rest.
    """
    token, before, expected = fault.token, fault.before, fault.expected
    length = len(source.text)
    span = Span(source.name, min(token.start, length), min(max(token.end, token.start + 1), length))
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
        if not token.text.isascii():
            return _foreign(token.text, span)
        return Diagnostic("stray-character", f"{shown} is not a sign of the language", span, hint=_hint(expected))
    if token.type == "$END":
        return Diagnostic("syntax", "the file ends too early", span, hint=_hint(expected))
    if not before:
        return _first_word(fault, span, shown)
    if token.text == "in" and "IN_UNIT" in expected:
        return Diagnostic(
            "missing-unit", "no unit follows `in`", span, hint="write the unit after it, such as `in mm`",
        )  # fmt: skip
    said = " ".join(t.text for t in before[-3:])
    if token.type == "_NL":
        end = before[-1].end
        message = f"the line ends too early after `{printable(said)[:60]}`"
        return Diagnostic(
            "syntax", message, Span(source.name, before[-1].start, end), hint=_advice(token, before, expected)
        )
    if "NAME" in expected and token.text.isidentifier() and token.type not in ("NAME", *SOFT_WORDS):
        return Diagnostic(
            "word-as-name", f"{shown} is a word of the language and cannot be a name", span, hint="choose another name"
        )
    if _closes_nothing(token, before):
        return Diagnostic("syntax", f"{shown} closes nothing", span, hint="delete it, or open the bracket before it")
    slip = _near_keyword(token.text, expected)
    hint = f"did you mean `{slip}`?" if slip else _advice(token, before, expected)
    return Diagnostic("syntax", f"{shown} was not expected after `{printable(said)[:60]}`", span, hint=hint)


def _closes_nothing(token: Token, before: tuple[Token, ...]) -> bool:
    opening = {"_RPAR": "_LPAR", "_RSQB": "_LSQB"}.get(token.type)
    if opening is None:
        return False
    return sum((t.type == opening) - (t.type == token.type) for t in before) <= 0


def _advice(token: Token, before: tuple[Token, ...], expected: frozenset[str]) -> str:
    """What to do about the slips that are made most, else what was expected."""
    if token.type == "_NL":
        for closing, sign in (("_RPAR", ")"), ("_RSQB", "]")):
            if closing in expected:
                return f"close the bracket with `{sign}`"
    if token.type == "COMPARISON":
        return "compare two at a time, and join with `and`"
    if token.type == "NAME" and before[-1].type == "_COMMA" and any(t.type in ("BY", "WITNESS") for t in before):
        return "join people with `and`"
    if token.type == "NAME" and before[-1].type == "NAME" and "_COMMA" in expected:
        return "put `,` between them"
    return _hint(expected)


def _foreign(char: str, span: Span) -> Diagnostic:
    """A character from outside ASCII, which may look just like one inside."""
    import unicodedata

    called = unicodedata.name(char, "a character without a name").lower()
    shown = f"`{printable(char)}` (U+{ord(char):04X}, {called})"
    if char.isalnum():
        return Diagnostic(
            "foreign-letter", f"{shown} cannot stand in a name", span,
            hint="names are made of a to z, A to Z, 0 to 9 and `_`; type it again, it may only look like one of them",
        )  # fmt: skip
    return Diagnostic("stray-character", f"{shown} is not a sign of the language", span, hint="delete or replace it")


_BELONGS = {
    "STEP": "steps stand in a `section`, two blanks further in",
    "MEASURE": "readings stand in a `section`, mostly under a `step`",
    "WITHIN": "limits stand under a `measure`, a `compute` or an input, two blanks further in",
    "AT_MOST": "limits stand under a `measure`, a `compute` or an input, two blanks further in",
    "AT_LEAST": "limits stand under a `measure`, a `compute` or an input, two blanks further in",
    "PLAUSIBLE": "`plausible` stands under a `measure` or an input, two blanks further in",
    "SPREAD": "`spread` stands under a `measure`, two blanks further in",
    "JUDGED_BY": "`judged by` stands under a `measure` or a `compute`, two blanks further in",
    "NO_DEVIATION": "`no deviation` stands under a `measure` or a `compute` that has limits, or ends a `confirm`",
    "SECTION": "sections begin at the left margin",
    "INPUTS": "`inputs` begins at the left margin, above the sections",
    "NEEDS": "`needs` begins at the left margin, above the sections",
    "RISK": "`risk` stands under a `danger`, `warning`, `caution` or `notice`",
    "AVOID": "`avoid` stands under a `danger`, `warning`, `caution` or `notice`",
    "ASKS": "`asks` stands under a `danger`, `warning`, `caution` or `notice`",
    "DUE_BEFORE": "`due before` stands under a `danger`, `warning`, `caution` or `notice` of a machine file",
    "WITH": "`with` stands under a `perform`, two blanks further in",
    "INSTRUMENT": "instruments stand under `needs`, two blanks further in",
    "TOOL": "tools stand under `needs`, two blanks further in",
    "PART": "parts stand under `needs`, two blanks further in",
    "CREW": "`crew` stands under `needs`, two blanks further in",
    "STATES": "`states` stands under a `kind`, two blanks further in",
    "STRING": "a quoted text is one more sentence of a `step`; other texts follow the word they belong to",
}


def _first_word(fault: Unexpected, span: Span, shown: str) -> Diagnostic:
    token, expected = fault.token, fault.expected
    if token.type == "NAME":
        slip = _near_keyword(token.text, expected)
        hint = f"did you mean `{slip}`?" if slip else _hint(expected)
        return Diagnostic("unknown-line", f"no line begins with {shown} here", span, hint=hint)
    hint = _BELONGS.get(token.type) or _hint(expected)
    return Diagnostic("unknown-line", f"a line beginning with {shown} has no place here", span, hint=hint)


def _keywords(expected: frozenset[str]) -> list[str]:
    words: list[str] = []
    for terminal in sorted(expected):  # so that of two words equally near the same is named every time
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


_USUAL = (
    "section", "step", "measure", "compute", "confirm", "hold", "when", "repeat", "inputs", "needs", "instrument",
    "kind", "interlock", "risk", "avoid", "within", "at most",
)  # fmt: skip
"""Words that begin lines, the most frequent first: a long list is cut, and these are what is looked for."""


def _weight(words: str) -> tuple[int, str]:
    bare = words.strip("`")
    if bare in _USUAL:
        return (-1, f"{_USUAL.index(bare):02d}")
    if words.startswith("a"):
        return (0, words)
    if words.startswith("`in`"):
        return (1, words)
    return (2 if words[1:2].isalpha() else 3, words)
