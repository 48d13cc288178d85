"""What damaged lines leave behind: words nothing may be said about, and sound lines under a damaged one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TypeVar

from proclang.syntax import nodes as n
from proclang.syntax.parse import Parsed

N = TypeVar("N", bound=n.Node)

_WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_LEVELS = frozenset({"tab", "indentation", "stray-block", "missing-block", "too-deep"})

# Lines that are still looked at where they stand under a damaged one; the names of any others are excused.
_STILL_READ = (n.Input, n.Instrument, n.Tool, n.Part, n.Crew, n.Authority, n.Section, n.Arm, n.With, n.Take)


def excused_words(parsed: Parsed) -> set[str]:
    """The words of every line that has a mistake of form: one of them may be the name somebody misses elsewhere."""
    words: set[str] = set()
    for finding in parsed.findings:
        line, _ = parsed.source.place(finding.span.start)
        words.update(_WORD.findall(parsed.source.line(line)))
    for node in parsed.tree.walk():
        if not isinstance(node, n.Broken):
            continue
        words |= node.words
        for inner in node.inside:
            if isinstance(inner, (*_STILL_READ, *n.Statement.__args__)):
                continue
            words.update(name.text for name in inner.walk() if isinstance(name, n.Name))
    return words


def levels_damaged(parsed: Parsed) -> bool:
    """Whether the indentation of the file is damaged somewhere, so that a sound line may stand in the wrong block."""
    return any(finding.code in _LEVELS for finding in parsed.findings)


def orphans(tree: n.File, kind: type[N]) -> Iterator[N]:
    """Sound lines of the header under a damaged line: `inputs` misspelt does not hide its inputs."""
    for item in tree.all(n.Broken):
        for inner in item.inside:
            if isinstance(inner, kind):
                yield inner
