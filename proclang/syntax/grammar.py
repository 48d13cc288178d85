"""The grammar file: where it is, and the tables lark makes of it."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

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
    """The LALR tables of the grammar, with the callbacks that build nodes. Made once a process.

    Working them out takes some hundred milliseconds, so they are kept beside this file as lark worked them out, with
    the digest of the grammar they are for; a grammar that has been edited since is worked out anew.
    """
    from lark import Lark

    from proclang.syntax.build import Builder

    text = grammar_text()
    kept = _kept_tables(text)
    if kept is None:
        return _worked_out(text, Builder())
    made = Lark.__new__(Lark)
    made._load(kept, transformer=Builder(), postlex=NoLayout())
    return made


def _worked_out(text: str, builder: object) -> Lark:
    from lark import Lark

    return Lark(
        text,
        parser="lalr",
        lexer="basic",
        start=["file", "insert"],
        postlex=NoLayout(),
        transformer=builder,
    )


TABLES_FILE = Path(__file__).with_name("tables.bin")


def _kept_tables(text: str) -> dict[str, Any] | None:
    """The tables as kept, if they are those of this grammar and of this lark."""
    import json
    import zlib

    try:
        kept = json.loads(zlib.decompress(TABLES_FILE.read_bytes()))
    except (OSError, ValueError, zlib.error):
        return None
    if kept["for"] != _made_for(text):
        return None
    parser = kept["data"]["parser"]["parser"]
    # JSON has no keys but texts; lark's tables are keyed by number.
    parser["tokens"] = {int(k): v for k, v in parser["tokens"].items()}
    parser["states"] = {
        int(state): {int(token): move for token, move in moves.items()} for state, moves in parser["states"].items()
    }
    return {"data": kept["data"], "memo": {int(k): v for k, v in kept["memo"].items()}}


def _made_for(text: str) -> str:
    from hashlib import sha256

    import lark

    return f"lark {lark.__version__}, {sha256(text.encode()).hexdigest()}"


def pack_tables() -> bytes:
    """The tables of the grammar as it stands, as they are kept."""
    import json
    import zlib

    from lark.grammar import Rule
    from lark.lexer import TerminalDef

    text = grammar_text()
    data, memo = _worked_out(text, None).memo_serialize([TerminalDef, Rule])
    for option in ("transformer", "postlex", "lexer_callbacks", "edit_terminals"):
        data["options"].pop(option, None)  # what is code is given anew when the tables are loaded
    kept = {"for": _made_for(text), "data": data, "memo": memo}
    return zlib.compress(json.dumps(kept, separators=(",", ":")).encode(), 9)


if __name__ == "__main__":
    TABLES_FILE.write_bytes(pack_tables())
