"""The tables the scanner and the driver work with: what lark makes of the grammar, in the plainest form there is.

They are kept as packed JSON beside this file, so that a parse needs neither the grammar worked out nor lark imported.
"""

from __future__ import annotations

from typing import Any

import attrs

PASS, BEGIN, MORE, BUILD = "pass", "begin", "more", "build"
"""What a reduction does: leaves its one value as it is; begins a list of repeated parts; adds to one; builds a node."""


@attrs.frozen
class Rule:
    """One production. `pick` says which of the `size` values on the stack are handed on, None for a part that was not
    written; those in `spread` are lists of repeated parts, handed on one by one. `build` names the builder."""

    origin: str
    size: int
    does: str
    build: str
    pick: tuple[int | None, ...]
    spread: frozenset[int]


@attrs.frozen
class Tables:
    """An LALR automaton and the words of its terminals.

    A row says of a state, by terminal, which state comes next (0 and up) or which rule is reduced (`~rule`, below 0),
    and by rule name which state follows a reduction. `words` are the terminals that are always written alike, with
    single blanks; `joined` are patterns of those made of several words; `patterns` are all others in order of trial.
    """

    rows: tuple[dict[str, int], ...]
    rules: tuple[Rule, ...]
    starts: dict[str, int]
    ends: dict[str, int]
    words: dict[str, str]
    joined: tuple[str, ...]
    name: str
    patterns: tuple[tuple[str, str], ...]

    def to_json(self) -> dict[str, Any]:
        """Rows that are alike are kept once."""
        distinct: dict[str, int] = {}
        states: list[int] = []
        rows: list[dict[str, int]] = []
        for row in self.rows:
            key = repr(sorted(row.items()))
            if key not in distinct:
                distinct[key] = len(rows)
                rows.append(row)
            states.append(distinct[key])
        rules = [[r.origin, r.size, r.does, r.build, list(r.pick), sorted(r.spread)] for r in self.rules]
        return {
            "rows": rows, "states": states, "rules": rules, "starts": self.starts, "ends": self.ends,
            "words": self.words, "joined": list(self.joined), "name": self.name, "patterns": list(self.patterns),
        }  # fmt: skip

    @classmethod
    def from_json(cls, kept: dict[str, Any]) -> Tables:
        """What `to_json` gave."""
        rows = kept["rows"]
        return cls(
            tuple(rows[index] for index in kept["states"]),
            tuple(
                Rule(o, size, does, build, tuple(pick), frozenset(s)) for o, size, does, build, pick, s in kept["rules"]
            ),
            kept["starts"],
            kept["ends"],
            kept["words"],
            tuple(kept["joined"]),
            kept["name"],
            tuple((kind, pattern) for kind, pattern in kept["patterns"]),
        )
