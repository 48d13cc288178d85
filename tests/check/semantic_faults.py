"""Ways to spoil one line of a sound procedure so that its form stays legal and its meaning does not.

An operator answers with the spoilt line, or None where the line has nothing of its kind. A line is told by itself,
except for an arm whose label is left out: that is told at its `according to`.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Mapping

import attrs

from proclang.field import registry

Operator = Callable[[str, random.Random], "str | None"]

_NUMBER_UNIT = re.compile(r"(?<![\w\"{])\d[\d./]* ?(mm|arcmin|deg|N\.m|min|turn)\b")
_IN_UNIT = re.compile(r"\bin (mm|arcmin|deg|N\.m)\b")
_OTHER_KIND = {"mm": "kg", "arcmin": "mm", "deg": "mm", "N.m": "J", "min": "m", "turn": "m"}


def _outside_quotes(line: str) -> str:
    """The line with texts and its comment blanked out, so that places in it still count."""
    blank = re.sub(r'"(?:\\.|[^"\\])*"', lambda m: "_" * len(m.group()), line)
    code, sign, comment = blank.partition("#")
    return code + " " * (len(sign) + len(comment))


def _one(pattern: str, line: str, rng: random.Random, group: int = 1) -> re.Match[str] | None:
    found = list(re.finditer(pattern, _outside_quotes(line)))
    return rng.choice(found) if found else None


def _put(line: str, match: re.Match[str], text: str, group: int = 1) -> str:
    return line[: match.start(group)] + text + line[match.end(group) :]


def _misspelt(word: str, rng: random.Random) -> str:
    """One letter more; near enough that it is taken for a slip of this line, not for a missing declaration."""
    at = rng.randrange(1, len(word))
    return word[:at] + "q" + word[at:]


def unknown_unit(line: str, rng: random.Random) -> str | None:
    """`in milimetres`"""
    match = _one(_IN_UNIT.pattern, line, rng) or _one(_NUMBER_UNIT.pattern, line, rng)
    return None if match is None else _put(line, match, match[1] + "q")


def unknown_name(line: str, rng: random.Random) -> str | None:
    """A misspelt value in an expression; a name before `(`, `[` or `=` is something else or belongs to a series."""
    if not re.match(r" *(compute|leave when|when|set) ", line):
        return None
    after = line.index("=") if " = " in line else 0
    known = {"compute", "leave", "when", "set", "passes", "fails", "is", "and", "or", "not", "to", "in", "read", "back"}
    places = [
        m
        for m in re.finditer(r"(?<![\w.])([a-z_]\w{3,})(?![\w(\[])(?! *=)", _outside_quotes(line))
        if m.start() > after and m[1] not in known and not re.search(r"\d ?$|\b(?:is|in|using) $", line[: m.start()])
    ]
    if not places or " is " in line:
        return None
    match = rng.choice(places)
    return _put(line, match, _misspelt(match[1], rng))


def wrong_dimension(line: str, rng: random.Random) -> str | None:
    """`at most 2 kg` under a length."""
    if not re.match(r" *(within|at most|at least|plausible|spread) ", line):
        return None
    match = _one(_NUMBER_UNIT.pattern, line, rng)
    return None if match is None else _put(line, match, _OTHER_KIND[match[1]])


def unknown_state(line: str, rng: random.Random) -> str | None:
    """`now cap is remved`"""
    match = _one(r"\b(?:now|require) [\w\[\], ]+ is (\w{3,})", line, rng) or _one(
        r"\b(?:found|left) (\w{3,})", line, rng
    )
    return None if match is None else _put(line, match, _misspelt(match[1], rng))


def unknown_role(line: str, rng: random.Random) -> str | None:
    """`by riger`"""
    if not re.match(r" *(step|hold|witness|confirm) ", line):
        return None
    match = _one(r"\b(?:by|and) (\w{3,})", line, rng)
    return None if match is None else _put(line, match, _misspelt(match[1], rng))


def missing_arm(line: str, rng: random.Random) -> str | None:
    """`far, level` becomes `far`."""
    match = re.fullmatch(r"( +\w+(?:, \w+)*), \w+", line)
    return None if match is None else match[1]


def misspelt_calculation(line: str, rng: random.Random) -> str | None:
    """`hipot(`"""
    match = _one(rf"\b({'|'.join(registry.names())})\(", line, rng)
    return None if match is None or len(match[1]) < 4 else _put(line, match, _misspelt(match[1], rng))


def wrong_label(line: str, rng: random.Random) -> str | None:
    """A label the series, the set or the choice does not have."""
    if re.match(r" *(now|require) ", line):
        match = _one(r"\w\[(\d+)", line, rng)
        return None if match is None else _put(line, match, "77")
    if " = " in line:
        inside = [m for m in re.finditer(r"\w\[(\d+|near|far)\]", _outside_quotes(line)) if m.start() > line.index("=")]
        if inside:
            match = rng.choice(inside)
            return _put(line, match, "77" if match[1].isdigit() else _misspelt(match[1], rng))
    match = _one(r"\bwhen \w+ is (\w{3,})", line, rng)
    return None if match is None else _put(line, match, _misspelt(match[1], rng))


OPERATORS: tuple[Operator, ...] = (
    unknown_unit, unknown_name, wrong_dimension, unknown_state, unknown_role, missing_arm, misspelt_calculation,
    wrong_label,
)  # fmt: skip

_SETS = re.compile(
    r" *(?:measure|compute|set|choose|table|labels|instrument) (?:again )?([\w, \[\]]+?)(?: =| in | \"| of | 1 )"
)
_INPUT = re.compile(r" *(\w+)(?: formerly \w+)?: ")


@attrs.frozen
class Spoilt:
    """A text with some lines spoilt, which operator spoilt which line, and the lines the findings must be on."""

    text: str
    spoilt: Mapping[int, str]
    expected: frozenset[int]


def spoil(text: str, seed: int) -> Spoilt:
    """Spoil 1 to 10 lines that have nothing to do with each other: a value of one of them stands on no other."""
    rng = random.Random(seed)
    lines = text.split("\n")
    spoilt: dict[int, str] = {}
    expected: set[int] = set()
    touched: set[str] = set()
    set_here: set[str] = set()
    wanted = rng.randint(1, 10)
    for index in rng.sample(range(len(lines)), len(lines)):
        if len(spoilt) == wanted:
            break
        line = lines[index]
        names, own = _words(lines, index), _depending(lines, _own_names(lines, index))
        if (names & set_here) or (own & touched):
            continue
        for operator in rng.sample(OPERATORS, len(OPERATORS)):
            worse = operator(line, rng)
            if worse is None or worse == line:
                continue
            lines[index] = worse
            spoilt[index + 1] = operator.__name__
            expected.add(_according(lines, index) + 1 if operator is missing_arm else index + 1)
            touched |= names
            set_here |= own
            break
    return Spoilt("\n".join(lines), spoilt, frozenset(expected))


def _depending(lines: list[str], names: set[str]) -> set[str]:
    """These values and all that are computed from them: with the one, nothing can be said of the others."""
    found = set(names)
    while True:
        more = {
            name
            for index, line in enumerate(lines)
            if re.match(r" *(compute|set) ", line) and found & set(re.findall(r"[a-z_]\w*", line.partition("=")[2]))
            for name in _own_names(lines, index)
        }
        if more <= found:
            return found
        found |= more


def _words(lines: list[str], index: int) -> set[str]:
    """The names on a line, and those of the value it is a facet of."""
    return set(re.findall(r"[a-z_]\w+", _owner(lines, index) + " " + lines[index])) | _own_names(lines, index)


def _own_names(lines: list[str], index: int) -> set[str]:
    """The values that a line, or the line it is a facet of, sets."""
    owner = _owner(lines, index)
    match = _SETS.match(owner) or _INPUT.match(owner)
    named = set(re.findall(r"[a-z_]\w*", match[1])) if match is not None else set()
    if owner.lstrip().startswith("table"):
        named |= set(re.findall(r"[a-z_]\w*", owner.partition(" of ")[2]))
    return named


def _owner(lines: list[str], index: int) -> str:
    """The line itself, or the one it is a facet or a row of."""
    line = lines[index]
    if not re.match(r" *(within|at most|at least|plausible|spread|judged|\w+ -?\d)", line):
        return line
    depth = len(line) - len(line.lstrip())
    for above in reversed(lines[:index]):
        if above.strip() and len(above) - len(above.lstrip()) < depth:
            return above
    return line


def _according(lines: list[str], index: int) -> int:
    """The `according to` an arm belongs to."""
    depth = len(lines[index]) - len(lines[index].lstrip())
    return next(i for i in range(index, -1, -1) if lines[i].lstrip().startswith("according to") and
                len(lines[i]) - len(lines[i].lstrip()) < depth)  # fmt: skip
