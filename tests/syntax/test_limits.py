"""Enormous and odd inputs: each is bounded, and told at its place."""

from __future__ import annotations

import sys
from collections.abc import Callable

import pytest

from proclang.syntax.parse import Parsed, parse
from proclang.text import limits
from proclang.text.decode import decode
from proclang.text.span import Source

HEAD = 'proclang 1\nprocedure p "P"\n'


def codes(data: bytes | str) -> list[str]:
    """Codes of all findings on a file, in order; what is not usable is not parsed."""
    decoded = decode(data if isinstance(data, bytes) else data.encode(), "a.proc")
    found = [f.code for f in decoded.findings]
    return found + ([f.code for f in parse(decoded.source).findings] if decoded.usable else [])


def work(text: str) -> int:
    """Function calls it takes to read a text: a measure of effort that no busy machine changes."""
    source = Source("a.proc", text)
    parse(Source("a.proc", HEAD))  # tables are made once, and are not counted
    calls = 0

    def count(frame: object, event: str, argument: object) -> None:
        nonlocal calls
        calls += event in ("call", "c_call")

    sys.setprofile(count)
    try:
        parse(source)
    finally:
        sys.setprofile(None)
    return calls


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"", ["empty-file"]),
        (b"\n\n", ["empty-file"]),
        (b"# only\n  # comments", ["empty-file"]),
        (b"proclang 1", ["missing-title"]),
        (HEAD.rstrip().encode(), []),
        (b'procedure p "P"\n', ["missing-version"]),
        (b'section s "S"\n', ["missing-version", "missing-title"]),
        (HEAD.encode().replace(b"\n", b"\r\n"), []),
        (b"\xef\xbb\xbf" + HEAD.encode(), []),
        (HEAD.encode("utf-16"), ["not-utf8"]),
        (HEAD.encode("utf-16-le"), ["not-utf8"]),
        ('proclang 1\nprocedure p "é"\n'.encode("latin-1"), ["not-utf8"]),
        (HEAD.encode() + b"\x00", ["not-utf8"]),
        (HEAD.encode().replace(b"\n", b"\r"), ["line-end"]),
        (HEAD.encode() + b"\n" * 100_000, []),
        (HEAD.encode() + b" " * (limits.LINE_CHARACTERS + 1), ["too-long"]),
        (b"#" * (limits.FILE_BYTES + 1), ["too-long"]),
        ((HEAD + 'section s "S"\n  compute a = ' + "(" * 9_000).encode(), ["too-deep"]),
        ((HEAD + 'section s "S"\n  compute a = ' + "1 + " * 2_000 + "1\n").encode(), ["too-deep"]),
        ((HEAD + 'section s "S"\n  compute a = ' + "- " * 2_000 + "1\n").encode(), ["too-deep"]),
        ((HEAD + 'section s "S"\n  when ' + "not " * 2_000 + "a\n").encode(), ["too-deep"]),
    ],
)  # fmt: skip
def test_odd_and_enormous_files(data: bytes, expected: list[str]) -> None:
    """One finding for one cause."""
    told = codes(data)
    assert sorted(set(told)) == sorted(set(expected)), told
    if expected != ["line-end"]:
        assert len(told) == len(expected)


def test_brackets_by_the_hundred_thousand() -> None:
    """Longer than a line may be, and handed to the parser all the same."""
    parsed = parse(Source("a.proc", HEAD + 'section s "S"\n  compute a = ' + "(" * 100_000 + "\n"))
    assert [f.code for f in parsed.findings] == ["too-deep"]


def test_blocks_nested_too_deep_are_told_once() -> None:
    """One finding where the limit is passed, none for each level below."""
    lines = ["  " * (depth + 1) + "when a" for depth in range(400)]
    assert codes(HEAD + 'section s "S"\n' + "\n".join(lines) + "\n") == ["too-deep"]


def test_the_deepest_allowed_block_is_allowed() -> None:
    """The limit itself is inside the limit."""
    lines = ["  " * (depth + 1) + "when a" for depth in range(limits.BLOCK_DEPTH)]
    assert codes(HEAD + 'section s "S"\n' + "\n".join(lines) + "\n") == []
    assert codes(HEAD + 'section s "S"\n  compute a = ' + "(" * 100 + "1" + ")" * 100 + "\n") == []


def test_ten_thousand_bad_lines_are_ten_thousand_findings() -> None:
    """The parser keeps them all; how many are shown is for the renderer."""
    text = HEAD + 'section s "S"\n' + "  stpe a\n" * 10_000
    assert codes(text) == ["unknown-line"] * 10_000


def test_each_mark_of_a_merge_is_one_finding() -> None:
    """And the lines on both sides are read."""
    text = HEAD + '<<<<<<< ours #1\nrevision 1\n||||||| base\n=======\nrevision 2\n>>>>>>> theirs\nsection s "S"\n'
    assert codes(text) == ["merge-conflict"] * 4
    assert codes("<<<<<<< ours\n" + text) == ["merge-conflict"] * 5


_SHAPES: dict[str, Callable[[int], str]] = {
    "sound lines": lambda n: HEAD + 'section s "S"\n' + '  step a "A {b to 1 mm}" by c\n' * n,
    "bad lines": lambda n: HEAD + 'section s "S"\n' + "  step step\n" * n,
    "tabs": lambda n: HEAD + 'section s "S"\n  confirm a "A"\n' + '\tstep a "A"\n' * n,
    "jumps": lambda n: HEAD + 'section s "S"\n' + '      step a "A"\n  step b "B"\n' * n,
    "blank lines": lambda n: HEAD + "\n" * n,
    "comments": lambda n: HEAD + "# a\n" * n,
    "stray signs": lambda n: HEAD + "$ " * n + "\n",
    "open quotes": lambda n: HEAD + '"\n' * n,
    "empty blocks": lambda n: HEAD + "inputs\n" * n,
    "sections": lambda n: HEAD + 'section s "S"\n  step a "A"\n' * n,
    "labels": lambda n: HEAD + "labels a b" + ", b" * n + "\n",
    "inserts": lambda n: HEAD + 'purpose "' + "{a}" * n + '"\n',
}


@pytest.mark.parametrize("shape", _SHAPES.values(), ids=_SHAPES)
def test_work_grows_with_the_length_and_no_faster(shape: Callable[[int], str]) -> None:
    """Four times the text is at most about four times the calls, for text of many shapes."""
    small, large = work(shape(100)), work(shape(400))
    assert large <= 4.4 * small


def test_a_text_without_a_last_newline_is_read_whole() -> None:
    """`decode` adds the newline; a source made otherwise may lack it."""
    parsed: Parsed = parse(Source("a.proc", HEAD + 'section s "S"'))
    assert parsed.findings == ()
    assert len(parsed.tree.body) == 1
