"""The front door: a source in, a tree and every mistake of form out. Never raises for any text."""

from __future__ import annotations

from collections.abc import Iterable

import attrs

from proclang.syntax import nodes as n
from proclang.syntax.driver import drive
from proclang.syntax.explain import finding_for
from proclang.syntax.layout import even_out, lay_out
from proclang.syntax.lexer import Comment, Lexed, Token, comments_at, lex
from proclang.syntax.recover import repair
from proclang.syntax.scan import Lexeme, ScannedLine, scan
from proclang.syntax.texts import read_text
from proclang.text import limits
from proclang.text.diagnostic import Diagnostic, in_order
from proclang.text.span import Source, Span


@attrs.frozen
class Parsed:
    """The tree of one file with `Broken` nodes where lines were damaged, its comments, and the findings."""

    source: Source
    tree: n.File
    comments: tuple[Comment, ...]
    findings: tuple[Diagnostic, ...]


def parse(source: Source) -> Parsed:
    """Read one procedure or machine file. Time is linear in its length."""
    lines, comments = scan(source.text)
    if all(len(lexemes) <= limits.EXPRESSION_DEPTH for _, _, lexemes in lines):
        tree, inside = _sound(lines, source.name)
        if tree is not None:
            return Parsed(source, tree, comments_at(source, comments), in_order(inside))
    return _closely(source)


def _sound(lines: Iterable[ScannedLine], name: str) -> tuple[n.File | None, list[Diagnostic]]:
    """The tree of lines that are all of sound form, and what is wrong inside quoted texts; no tree if one is not."""
    findings: list[Diagnostic] = []
    lexemes = lay_out(lines)
    tree = None if lexemes is None else drive(lexemes, name, "file", findings)
    assert tree is None or isinstance(tree, n.File)
    return tree, findings


def _closely(source: Source) -> Parsed:
    """A file with a damaged line, or one so long that it may nest too deep."""
    lexed = lex(source)
    findings: list[Diagnostic] = []
    lexed, too_deep = _refuse_depth(lexed, source.name)
    findings.extend(too_deep)
    tree, inside = _sound(((x.indent, x.start, _lexemes(x.tokens)) for x in lexed.lines), source.name)
    if tree is not None:
        return Parsed(source, tree, lexed.comments, in_order([*findings, *inside]))
    for line in lexed.lines:
        for token in line.tokens:
            if token.type == "STRING" and ("{" in token.text or "}" in token.text or "\\" in token.text):
                findings.extend(read_text(token.text, token.file, token.start)[1])
    lines, uneven = even_out(lexed.lines, source.name)
    repaired = repair(lines, source.name)
    findings.extend(repaired.layout)
    said = {source.place(finding.span.start)[0] for finding in findings}
    findings.extend(uneven)  # of the whole file, so that its first line may have another
    for fault in repaired.faults:
        finding = finding_for(fault, source)
        if source.place(finding.span.start)[0] not in said:
            findings.append(finding)
    mended = _lexemes(repaired.tokens)
    end = mended[-1][3] if mended else 0
    tree = drive([*mended, ("$END", "", end, end)], source.name, "file", [])
    assert isinstance(tree, n.File), "recovery leaves nothing that the grammar refuses"
    return Parsed(source, tree, lexed.comments, in_order(findings))


def _lexemes(tokens: Iterable[Token]) -> list[Lexeme]:
    return [(token.type, token.text, token.start, token.end) for token in tokens]


def _refuse_depth(lexed: Lexed, name: str) -> tuple[Lexed, list[Diagnostic]]:
    """Lines that nest or chain too much are cut down, so that no later walk of the tree runs out of stack."""
    findings: list[Diagnostic] = []
    lines = []
    for line in lexed.lines:
        if len(line.tokens) > limits.EXPRESSION_DEPTH:
            depth = deepest = operators = 0
            for token in line.tokens:
                if token.type in ("_LPAR", "_LSQB"):
                    depth += 1
                    deepest = max(deepest, depth)
                elif token.type in ("_RPAR", "_RSQB"):
                    depth -= 1
                elif token.type in _CHAINING:
                    operators += 1
            if deepest > limits.EXPRESSION_DEPTH or operators > limits.EXPRESSION_DEPTH:
                first, last = line.tokens[0], line.tokens[-1]
                findings.append(
                    Diagnostic(
                        "too-deep",
                        f"this line nests or chains more than {limits.EXPRESSION_DEPTH} operations",
                        Span(name, first.start, first.end),
                        hint="compute parts of it under names of their own",
                    )
                )
                text = " ".join(t.text for t in line.tokens[:50])
                broken = Token("BROKEN", text, name, first.start, last.start)
                line = attrs.evolve(line, tokens=(broken, last))
        lines.append(line)
    return attrs.evolve(lexed, lines=tuple(lines)), findings


_CHAINING = frozenset({"PLUS", "MINUS", "STAR", "SLASH", "CARET", "NOT", "_AND", "_OR"})
