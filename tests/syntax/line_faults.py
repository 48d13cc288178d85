"""Ways to spoil one line so that it cannot be legal whatever stands around it, and texts to spoil.

An operator answers with the spoilt line, or None where it cannot be sure. It looks at the tokens of the one line only.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache
from pathlib import Path

from proclang.syntax.grammar import tables
from proclang.syntax.lexer import Token, lex
from proclang.syntax.words import SOFT_WORDS
from proclang.text.decode import decode
from proclang.text.span import Source

HERE = Path(__file__).parent
SAMPLES = sorted((HERE / "samples").glob("*.proc"))
PROCEDURES = sorted((HERE.parents[1] / "procedures").rglob("*.proc"))

Operator = Callable[[str, list[Token], random.Random], str | None]


@cache
def hard_words() -> frozenset[str]:
    """Words that begin or join something and can never be names: terminal names of the grammar written as one word."""
    return frozenset(
        str(t.pattern.value)
        for t in tables().terminals
        if t.pattern.type == "str" and str(t.pattern.value).isalpha() and t.name not in SOFT_WORDS
    )


def _is_word(token: Token) -> bool:
    return token.text.split()[0] in hard_words() and token.type not in SOFT_WORDS and token.text.isalpha()


def _replace(line: str, token: Token, text: str) -> str:
    return line[: token.start] + text + line[token.end :]


def _pick(rng: random.Random, tokens: list[Token]) -> Token | None:
    return rng.choice(tokens) if tokens else None


def misspelt_word(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """`measure` becomes `mesure`; what comes out is a name beside a name, or a lone name where no arm can stand."""
    token = _pick(rng, [t for t in tokens if _is_word(t) and len(t.text) > 2])
    if token is None:
        return None
    at = rng.randrange(1, len(token.text))
    spelt = token.text[:at] + token.text[at + 1 :]
    if spelt in hard_words() or spelt == token.text:
        return None
    if token is tokens[0] and len(tokens) == 1 and token.text not in ("inputs", "needs"):
        return None  # `otherwise` alone could be an arm by its form
    after = tokens[tokens.index(token) + 1 :]
    if after and after[0].type in ("_COLON", "_LPAR", "_LSQB", "_EQUALS"):
        return None
    before = tokens[: tokens.index(token)]
    if before and before[-1].type == "NUMBER":
        return None  # an unknown unit is a matter for another room
    return _replace(line, token, spelt)


def capital(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """`Step read "..."`: words of the language are written small."""
    first = tokens[0]
    if not _is_word(first) or len(tokens) < 2:
        return None
    return _replace(line, first, first.text.capitalize())


def missing_quote(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """The last quote of the line is left out."""
    texts = [t for t in tokens if t.type == "STRING"]
    if not texts or '"' in line[texts[-1].end :]:
        return None
    return line[: texts[-1].end - 1] + line[texts[-1].end :]


def no_unit(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """`measure gap in using feeler`"""
    token = _pick(rng, [t for t in tokens if t.type == "IN_UNIT"])
    return None if token is None else _replace(line, token, "in")


def stray_sign(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """A sign the language has no use for, between two words."""
    token = rng.choice(tokens)
    return f"{line[: token.end]} {rng.choice('$@;!?&~`')} {line[token.end :]}"


def odd_blanks(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """One blank more, or one fewer, than a level has."""
    return line[1:] if line.startswith(" ") and rng.random() < 0.5 else " " + line


def tab(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """Tabs in the place of blanks: one for all, one a level, or one too many."""
    level = (len(line) - len(line.lstrip(" "))) // 2
    return "\t" * rng.choice([1, max(1, level), level + 1]) + line.lstrip(" ")


def doubled_word(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """`measure measure gap`; `not not` has a meaning and is left alone."""
    token = _pick(rng, [t for t in tokens if _is_word(t) and t.type != "NOT"])
    return None if token is None else _replace(line, token, f"{token.text} {token.text}")


_JOINING = {
    "_COMMA", "_EQUALS", "_COLON", "_LPAR", "_LSQB", "_AND", "_OR", "_IS", "_TO_RANGE", "PLUS_MINUS", "COMPARISON",
    "PLUS", "MINUS", "STAR", "SLASH", "CARET", "BY", "USING", "OF", "TO", "AS", "WITH", "FORMERLY", "FROM", "WITHIN",
    "READS_TO", "REPEATS_TO", "ACCURATE_TO", "CALIBRATED_WITHIN", "AT_MOST", "AT_LEAST", "ONLY_WHILE", "LEAVE_WHEN",
    "FOR_EACH", "ACCORDING_TO", "JUDGED_BY", "TAKES", "PER", "WITNESS", "ONE_OF",
}  # fmt: skip


def nothing_after(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """The last word is left out after one that asks for something."""
    if len(tokens) < 2 or (tokens[-2].type not in _JOINING and not (len(tokens) == 2 and _is_word(tokens[0]))):
        return None
    return line[: tokens[-1].start] + line[tokens[-1].end :]


def word_as_name(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """`step section "..."`"""
    if len(tokens) < 3 or not _is_word(tokens[0]) or tokens[1].type != "NAME":
        return None
    return _replace(line, tokens[1], rng.choice(["section", "step", "hold", "using", "purpose", "when"]))


def curly_quote(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """What a word processor makes of quotes."""
    token = _pick(rng, [t for t in tokens if t.type == "STRING"])
    if token is None:
        return None
    end = '"' if rng.random() < 0.5 else "”"
    return _replace(line, token, "“" + token.text[1:-1] + end)


def unbalanced(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """A bracket without its partner."""
    token = _pick(rng, [t for t in tokens if t.type in ("_LPAR", "_RPAR", "_LSQB", "_RSQB")])
    if token is not None and rng.random() < 0.7:
        return _replace(line, token, " ")
    last = tokens[-1]
    return f"{line[: last.end]} {rng.choice('()[]')}{line[last.end :]}"


def missing_comma(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """`crew lead rigger`"""
    commas = [
        b
        for a, b, c in zip(tokens, tokens[1:], tokens[2:], strict=False)
        if b.type == "_COMMA" and a.type == "NAME" and c.type == "NAME"
    ]
    token = _pick(rng, commas)
    return None if token is None else _replace(line, token, " ")


def foreign_letter(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """A letter of another script in a name, which looks like one of ours."""
    token = _pick(rng, [t for t in tokens if t.type == "NAME" and set("aeo") & set(t.text)])
    return None if token is None else _replace(line, token, token.text.translate(str.maketrans("aeo", "аео")))


def two_levels_in(line: str, tokens: list[Token], rng: random.Random) -> str | None:
    """Deeper by more than any line above it allows."""
    return " " * 2 * rng.randint(33, 60) + line


OPERATORS: tuple[Operator, ...] = (
    misspelt_word, capital, missing_quote, no_unit, stray_sign, odd_blanks, tab, doubled_word, nothing_after,
    word_as_name, curly_quote, unbalanced, missing_comma, foreign_letter, two_levels_in,
)  # fmt: skip


def spoil(path: Path, seed: int) -> tuple[str, dict[int, str]]:
    """The text with 1 to 10 lines spoilt, and which line by which operator."""
    rng = random.Random(seed)
    lines = decode(path.read_bytes(), path.name).source.text.split("\n")
    speaking = [i for i, line in enumerate(lines) if line.strip() and not line.lstrip().startswith("#")]
    spoilt: dict[int, str] = {}
    for index in rng.sample(speaking, min(len(speaking), rng.randint(1, 10))):
        tokens = list(lex(Source(path.name, lines[index] + "\n")).lines[0].tokens[:-1])
        for operator in rng.sample(OPERATORS, len(OPERATORS)):
            worse = operator(lines[index], tokens, rng)
            if worse is not None:
                lines[index] = worse
                spoilt[index + 1] = operator.__name__
                break
    return "\n".join(lines), spoilt
