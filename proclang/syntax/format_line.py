"""The blanks of one line: from its lexemes back to text, each sign in its one form.

No word is added, left out or moved, brackets that are not needed stay, numbers and units stand as they were typed.
Where other blanks would make other words of it, the line stays as it was written.
"""

from __future__ import annotations

from collections.abc import Sequence

from proclang.syntax.scan import Lexeme, scan_piece
from proclang.syntax.texts import PIECES
from proclang.syntax.words import SOFT_WORDS

_NAMES = frozenset({"NAME", *SOFT_WORDS})
_LABELS = _NAMES | {"NUMBER"}
_ENDS_OPERAND = _LABELS | {"_RPAR", "_RSQB"}
_OPENS = frozenset({"_LPAR", "_LSQB"})
_CLINGS = frozenset({"_COMMA", "_COLON", "_RPAR", "_RSQB", "_LSQB"})
"""What stands at the word before it, without a blank."""

_SIGNS = {"PLUS_MINUS": "±", "STAR": "*", "MINUS": "-"}
"""Signs that can be typed in two ways, and how they are laid out."""


def line_text(text: str, lexemes: Sequence[Lexeme]) -> str:
    """The line of `text` these lexemes are, without indentation and comment. `_NL`, if there is one, is the last."""
    told = [lexeme for lexeme in lexemes if lexeme[0] != "_NL"]
    meant = _meant(told)
    for between_numbers in (" ", "  "):  # one blank would make one number of the label 1 and the cell 1/4 mm
        laid = _spaced(told, between_numbers)
        if _meant(scan_piece(laid, 0)) == meant:
            return laid
    return text[told[0][2] : told[-1][3]]


def _meant(lexemes: Sequence[Lexeme]) -> list[tuple[str, str]]:
    """Kinds and words, whatever blanks stand between and inside them."""
    return [(kind, _word(kind, word)) for kind, word, _, _ in lexemes]


def _word(kind: str, word: str) -> str:
    if kind in _SIGNS:
        return _SIGNS[kind]
    if kind == "STRING":
        return _quoted(word)
    return word if kind == "NUMBER" else " ".join(word.split())


def _quoted(text: str) -> str:
    """A quoted text: only what stands in braces is laid out."""
    if "{" not in text:
        return text
    pieces = []
    for match in PIECES.finditer(text[1:-1]):
        insert = match["insert"]
        pieces.append(match[0] if insert is None else "{" + line_text(insert, scan_piece(insert, 0)) + "}")
    return '"' + "".join(pieces) + '"'


def _spaced(lexemes: Sequence[Lexeme], between_numbers: str) -> str:
    kinds = [kind for kind, _, _, _ in lexemes]
    out: list[str] = []
    depth = 0
    before = ""
    joined = True
    for index, (kind, word, _, _) in enumerate(lexemes):
        if not (joined or kind in _CLINGS or (kind == "_LPAR" and before in _NAMES)):
            out.append(between_numbers if before == kind == "NUMBER" else " ")
        out.append(_word(kind, word))
        depth += (kind in _OPENS) - (kind in ("_RPAR", "_RSQB"))
        joined = kind in _OPENS or (kind == "MINUS" and (before not in _ENDS_OPERAND or _begins_cells(kinds, index)))
        # `within 540 +4 deg / -2 deg`: a sum would stand in brackets there
        joined = joined or (kind == "PLUS" and kinds[0] == "WITHIN" and depth == 0)
        before = kind
    return "".join(out)


def _begins_cells(kinds: Sequence[str], index: int) -> bool:
    """Whether the minus at `index` is the sign of the first cell of a row, right behind the row's label."""
    label = kinds[:index]
    return (len(label) == 1 and label[0] in _LABELS) or label == ["NUMBER", "_TO_RANGE", "NUMBER"]
