"""Parts of LANGUAGE.md that are made from the code: the units, the kinds of quantity, the calculations, the limits."""

from __future__ import annotations

import re
from pathlib import Path

from proclang.check.writing import catalogue
from proclang.field import registry
from proclang.program.lower_flow import MOST_PASSES
from proclang.text import limits
from proclang.text.diagnostic import Problem
from proclang.values import dimension as dim
from proclang.values.dimension import NAMED, Dimension
from proclang.values.unit import find_unit, known_symbols

REFERENCE = Path(__file__).parents[2] / "grammar" / "LANGUAGE.md"


def part(text: str, name: str) -> str:
    """What stands between the two marks of a part."""
    found = re.search(rf"<!-- made from the code: {name} -->\n(.*?)<!-- end of {name} -->", text, re.DOTALL)
    assert found is not None, f"LANGUAGE.md has no part {name}"
    return found[1]


def with_part(text: str, name: str, body: str) -> str:
    """The text with another body of a part."""
    old = part(text, name)
    start = text.index(old, text.index(f"<!-- made from the code: {name} -->"))
    return text[:start] + body + text[start + len(old) :]


def units() -> str:
    """Every unit that may be written in source, by what it is a unit of; other spellings behind the printed one."""
    rows: dict[Dimension, dict[str, list[str]]] = {}
    for symbol in known_symbols():
        unit = find_unit(symbol)
        assert not isinstance(unit, Problem)
        if symbol != "in":  # a reply may have it; in source it is a word of the language
            rows.setdefault(unit.dimension, {}).setdefault(unit.symbol, []).append(symbol)
    lines = []
    for dimension, symbols in rows.items():
        texts = []
        for printed, spelt in symbols.items():
            others = [s for s in spelt if s != printed]
            texts.append(f"`{printed}`" + (f" ({', '.join(f'`{s}`' for s in others)})" if others else ""))
        lines.append(f"| {dimension.describe()} | {', '.join(texts)} |")
    return "| kind of quantity | units |\n|---|---|\n" + "\n".join(lines) + "\n"


def kinds() -> str:
    """The words for kinds of quantity."""
    return ", ".join(f"`{name}`" for name in NAMED) + ".\n"


def calculations() -> str:
    """The pages of all calculations."""
    return registry.reference_chapter()


def bounds() -> str:
    """What is refused for its size."""
    rows = (
        ("bytes in a file", limits.FILE_BYTES),
        ("characters in a line", limits.LINE_CHARACTERS),
        ("characters in a name", limits.NAME_CHARACTERS),
        ("characters in a number", limits.NUMBER_CHARACTERS),
        ("levels of blocks", limits.BLOCK_DEPTH),
        ("levels of brackets, or operations in a line", limits.EXPRESSION_DEPTH),
        ("a power", dim.GREATEST_POWER),
        ("labels in a set", limits.LABELS_IN_A_SET),
        ("times a loop goes round", MOST_PASSES),
        ("procedures performing each other, deep", limits.PERFORM_DEPTH),
        ("files that belong together", limits.FILES_IN_A_SET),
        ("bytes in files that belong together", limits.BYTES_IN_A_SET),
        ("steps and readings with every loop run to its bound", limits.STEPS_EXPANDED),
        ("passes, calculations and decisions likewise", limits.INSTRUCTIONS_EXPANDED),
        ("findings shown as text", limits.FINDINGS_SHOWN),
    )
    return "| what | at most |\n|---|---|\n" + "".join(f"| {what} | {most:,} |\n" for what, most in rows)


PARTS = {
    "units": units,
    "kinds": kinds,
    "calculations": calculations,
    "rules of writing": catalogue.finding_rows,
    "limits": bounds,
    "decisions": catalogue.decision_rows,
}
