"""Whatever the bytes, reading them ends in a tree and findings that have a place, a code and a sentence."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from line_faults import SAMPLES

from proclang.syntax.grammar import tables
from proclang.syntax.parse import Parsed, parse
from proclang.text.decode import decode

_TEXTS = [path.read_text(encoding="utf-8") for path in SAMPLES]
_WORDS = sorted({w for text in _TEXTS for w in text.split()} | {w for t in tables().terminals for w in [t.name]})


def read(data: bytes) -> Parsed:
    """What `check` does with a file, with all that is promised of any file asserted."""
    decoded = decode(data, "any.proc")
    parsed = parse(decoded.source)
    for finding in (*decoded.findings, *parsed.findings):
        assert finding.code
        assert finding.message
        assert not finding.message.endswith(".")
        assert 0 <= finding.span.start <= finding.span.end, finding
        assert finding.span.start <= len(decoded.source.text)
    if parsed.tree.broken:
        assert parsed.findings
    return parsed


@settings(max_examples=300)
@given(st.text(max_size=200) | st.text('proclang1 \n\t"{}[]()#.,:', max_size=200))
def test_any_text(text: str) -> None:
    """Characters in no order at all."""
    read(text.encode("utf-8", "surrogatepass"))


@settings(max_examples=100)
@given(st.binary(max_size=200))
def test_any_bytes(data: bytes) -> None:
    """Bytes that may not be text."""
    read(data)


@settings(max_examples=200)
@given(st.lists(st.sampled_from([*_WORDS, "\n", "\n  ", "\n    ", "\n      "]), max_size=80).map(" ".join))
def test_words_of_the_language_in_any_order(text: str) -> None:
    """Token soup: nearly right, which is where recovery works hardest."""
    read(f'proclang 1\nprocedure p "P"\n{text}'.encode())


@pytest.mark.parametrize("part", range(4))
def test_mutated_and_spliced_files(part: int) -> None:
    """Real files cut, joined and overwritten at random places."""
    rng = random.Random(part)
    for _ in range(60):
        text, other = rng.choice(_TEXTS), rng.choice(_TEXTS)
        for _ in range(rng.randint(1, 6)):
            at, to = sorted(rng.randrange(len(text) + 1) for _ in range(2))
            begin = rng.randrange(len(other))
            change = rng.choice(
                ["", other[begin : begin + rng.randrange(60)], rng.choice('"{}\\()[]\n\t #é\x00\u202e')]
            )
            text = text[:at] + change + text[min(to, at + rng.randrange(80)) :]
        read(text.encode())


@pytest.mark.parametrize("first", ['  step act "Act."', '    step act "Act."', "  crew lead", "  unknown words"])
@pytest.mark.parametrize("second", ["    require cap is fitted", '      "More."', "        what", "  now cap is off"])
def test_a_file_that_begins_inside_a_block_is_told_so(first: str, second: str) -> None:
    """What stands in a block is neither the version nor the title, however early it comes."""
    parsed = read(f"{first}\n{second}\n".encode())
    assert parsed.findings
    assert {"missing-title", "missing-version", "indentation", "stray-block"} & {f.code for f in parsed.findings}
