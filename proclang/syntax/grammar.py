"""The grammar file: where it is, and the tables lark makes of it."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from proclang.syntax.tables import BEGIN, BUILD, MORE, PASS, Rule, Tables

if TYPE_CHECKING:
    from lark import Lark

GRAMMAR_FILE = "proclang.lark"


def grammar_folder() -> Path:
    """The folder with the grammar and the language reference.

    In a wheel it lies inside the package; in a working tree beside it.
    """
    import proclang

    package = Path(proclang.__file__).parent
    inside = package / "grammar"
    return inside if inside.is_dir() else package.parent / "grammar"


def grammar_text() -> str:
    """The grammar as lark reads it."""
    return (grammar_folder() / GRAMMAR_FILE).read_text(encoding="utf-8")


class NoLayout:
    """Lark asks for a post-lexer so that _INDENT and _DEDENT may be declared; our own lexer has put them in already."""

    always_accept = ("_NL",)

    @staticmethod
    def process(stream: object) -> object:
        """Nothing to do."""
        return stream


@cache
def tables() -> Lark:
    """The grammar as lark understands it. Some hundred milliseconds of work, done where an edited grammar is worked
    out anew and where tests want a second opinion; a parse uses `automaton`."""
    from lark import Lark

    return Lark(grammar_text(), parser="lalr", lexer="basic", start=list(STARTS), postlex=NoLayout())


STARTS = ("file", "insert")
TABLES_FILE = Path(__file__).with_name("tables.bin")


@cache
def automaton() -> Tables:
    """The tables of the grammar as it stands: those kept beside this file, with the digest of the grammar they are for;
    a grammar that has been edited since is worked out anew."""
    return _kept_tables(grammar_text()) or worked_out()


def _kept_tables(text: str) -> Tables | None:
    """The tables as kept, if they are those of this grammar."""
    import json
    import zlib

    try:
        kept = json.loads(zlib.decompress(TABLES_FILE.read_bytes()))
    except (OSError, ValueError, zlib.error):
        return None
    return Tables.from_json(kept["tables"]) if kept["for"] == _digest(text) else None


def _digest(text: str) -> str:
    from hashlib import sha256

    return sha256(text.encode()).hexdigest()


def pack_tables() -> bytes:
    """The tables of the grammar as it stands, as they are kept."""
    import json
    import zlib

    kept = {"for": _digest(grammar_text()), "tables": worked_out().to_json()}
    return zlib.compress(json.dumps(kept, separators=(",", ":")).encode(), 9)


def worked_out() -> Tables:
    """The tables as lark works them out."""
    from lark.parsers.lalr_analysis import Shift

    lark = tables()
    table = lark.parse_interactive(start="file").parser_state.parse_conf.parse_table
    numbers = {rule: number for number, rule in enumerate(lark.rules)}
    rows: list[dict[str, int]] = []
    for state in range(len(table.states)):
        moves = table.states[state].items()
        rows.append({symbol: where if does is Shift else ~numbers[where] for symbol, (does, where) in moves})
    words, joined, name, patterns = _written(lark)
    return Tables(
        tuple(rows),
        tuple(_rule(rule) for rule in lark.rules),
        dict(table.start_states),
        dict(table.end_states),
        words,
        joined,
        name,
        patterns,
    )


def _rule(rule: Any) -> Rule:
    """What lark would do with the children of a rule: leave out terminals that say nothing, put in None for each part
    that was not written, and take lists of repeated parts apart."""
    missing = rule.options.empty_indices or [False] * len(rule.expansion)
    symbols = iter(enumerate(rule.expansion))
    pick: list[int | None] = []
    spread = set()
    for is_missing in missing:
        if is_missing:
            pick.append(None)
            continue
        index, symbol = next(symbols)
        if symbol.is_term and symbol.filter_out:
            continue
        if not symbol.is_term and symbol.name.startswith("_"):
            spread.add(index)
        pick.append(index)
    origin = str(rule.origin.name)
    if origin.startswith("_"):
        does = MORE if spread else BEGIN
    else:
        does = PASS if rule.options.expand1 and not rule.alias else BUILD
    return Rule(origin, len(rule.expansion), does, rule.alias or origin, tuple(pick), frozenset(spread))


def _written(lark: Lark) -> tuple[dict[str, str], tuple[str, ...], str, tuple[tuple[str, str], ...]]:
    """How each terminal is written. See `Tables`."""
    import re

    words: dict[str, str] = {}
    joined: list[tuple[int, int, str]] = []
    patterns: list[tuple[int, int, str, str]] = []
    name = next(t for t in lark.terminals if t.name == "NAME").pattern.to_regexp()
    for terminal in lark.terminals:
        if terminal.name in ("NAME", "_NL", "BLANK") or terminal.pattern is None:
            continue
        pattern = terminal.pattern.to_regexp()
        plain = re.fullmatch(r"(?:\(\?:)?([a-z |+]+?)\)?\\b|([a-z]+)", pattern)
        if plain is None:
            patterns.append((-terminal.priority, -len(terminal.pattern.value), terminal.name, pattern))
            continue
        for written in (plain[1] or plain[2]).split("|"):
            words[written.replace(" +", " ")] = terminal.name
            if " +" in written:
                joined.append((-terminal.priority, -len(written), written))
    patterns.sort()
    joined.sort()
    return words, tuple(text for *_, text in joined), name, tuple((kind, text) for *_, kind, text in patterns)


if __name__ == "__main__":
    TABLES_FILE.write_bytes(pack_tables())
