"""The grammar file: where it is, and the tables lark makes of it."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

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
    """The LALR tables of the grammar, with the callbacks that build nodes. Made once a process."""
    from lark import Lark

    from proclang.syntax.build import Builder

    return Lark(
        grammar_text(),
        parser="lalr",
        lexer="basic",
        start=["file", "insert"],
        postlex=NoLayout(),
        transformer=Builder(),
    )
