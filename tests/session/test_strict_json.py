"""JSON is read one way only, and a forged journal line with a right hash is refused all the same."""

import json
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from journal_samples import RUN, entry, forged, joined, lines

from proclang.session import chain, strict_json
from proclang.session.journal import read_bytes
from proclang.text.diagnostic import Problem
from proclang.text.limits import JOURNAL_DEPTH, JOURNAL_LINE_BYTES

FORGED = [
    b',"a":1,"a":1',
    b',"a":{"b":1,"b":2}',
    b',"a":[{"b":1,"c":2,"b":3}]',
    b',"\\u0061":1,"a":2',
    b',"n":1',
    b',"n":2',
    b',"run":"' + RUN.encode() + b'"',
    b',"prev":"' + b"0" * 64 + b'"',
    b',"sha":"x"',
    b',"a":NaN',
    b',"a":Infinity',
    b',"a":-Infinity',
    b',"a":1e999',
    b',"a":-1e999',
    b',"a":1E+400',
    b',"a":' + b"9" * 400 + b".0",
    b',"a":' + b"9" * 5_000,
    b',"a":"\\ud800"',
    b',"a":"\\udc00\\ud800"',
    b',"\\ud800":1',
    b',"a":"\xed\xa0\x80"',
    b',"a":"\xff"',
    b',"a":"\xc0\xaf"',
    b',"a":"\xf4\x90\x80\x80"',
    b',"a":"\x00"',
    b',"a":"\x1b[31m"',
    b',"a":"\\x41"',
    b",'a':1",
    b",a:1",
    b',"a":01',
    b',"a":+1',
    b',"a":.5',
    b',"a":0x10',
    b',"a":1_0',
    b',"a":True',
    b',"a":1,',
    b',,"a":1',
    b',"a"',
    b',"a":1}',
    b',"a":[1',
    b'0,"a":1',
    b'.5,"a":1',
    b'e3,"a":1',
    b',"a":1} {"b":2',
    b',"a":' + b"[" * JOURNAL_DEPTH + b"]" * JOURNAL_DEPTH,
    b',"a":' + b'{"a":' * 20 + b"1" + b"}" * 20,
    b',"a":' + b"[" * 30_000 + b"]" * 30_000,
    b',"a":' + b"[" * 60_000,
    b',"a":"' + b"x" * JOURNAL_LINE_BYTES + b'"',
    b',"a":/* no */1',
    b',\xef\xbb\xbf"a":1',
    b',\xc2\xa0"a":1',
]


@pytest.mark.parametrize("members", FORGED, ids=range(len(FORGED)))
def test_a_forged_line_with_a_right_hash_is_refused(members: bytes):
    """The reader must not rest on the hash: whoever forges a line can hash it too."""
    line = forged(members)
    verdict = chain.verify_line(line, chain.FIRST_PREVIOUS, 1, None)
    assert isinstance(verdict, Problem)
    assert verdict.message
    reading = read_bytes(joined([*lines(2), forged(members, 3, chain.head_of(lines(2)[-1])), forged(b"", 4)]))
    assert len(reading.entries) == 2
    assert reading.damage is not None
    assert reading.damage.line == 3


def test_the_forger_of_these_tests_can_make_a_line_that_passes():
    """Otherwise the cases above would be refused for the wrong reason."""
    for members in (b"", b',"a":1', b',"a":"\\ud83d\\ude00"', b',"a":1e308', b',"a":' + b"[" * 15 + b"]" * 15):
        verdict = chain.verify_line(forged(members), chain.FIRST_PREVIOUS, 1, RUN)
        assert isinstance(verdict, dict)
        assert verdict == json.loads(b'{"n":1' + members + b"}")


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"{}",
        b"[]",
        b"null",
        b'{"n":0,"run":"r","prev":"' + b"0" * 64 + b'","sha":"' + b"0" * 64 + b'"}',
        forged(b"", n=1).replace(b'"n":1', b'"n":01'),
        forged(b"", n=1).replace(b'"n":1', b'"n": 1'),
        forged(b"", n=1, run="../up"),
        forged(b"", n=1, run="a b"),
        forged(b"", n=1, previous="0" * 63),
        forged(b"", n=1, previous="A" * 64),
        forged(b"").upper(),
        forged(b"") + b" ",
        b" " + forged(b""),
    ],
    ids=range(14),
)
def test_a_line_of_another_shape_is_not_a_record(line: bytes):
    assert isinstance(chain.verify_line(line, chain.FIRST_PREVIOUS, 1, None), Problem)


def test_five_thousand_mutations_never_raise_and_never_show_what_was_not_written():
    rng = random.Random(5)
    good = joined(lines(8))
    wanted = [{"n": n, **entry(n)} for n in range(1, 9)]
    pieces = [b"\n", b"\0", b'"', b"}", b"{", b",", b"\xff", b"\\u", b"NaN", b"9" * 40, b'"n":1', b"\r\n", bytes(600)]
    for _ in range(5_000):
        data = bytearray(good)
        for _ in range(rng.randint(1, 3)):
            at = rng.randrange(len(data) + 1)
            to = min(len(data), at + rng.choice((0, 0, 1, 5, 200)))
            data[at:to] = rng.choice((*pieces, bytes(data[rng.randrange(len(data) + 1) :][: rng.randint(0, 400)])))
        reading = read_bytes(bytes(data))
        assert list(reading.entries) == wanted[: len(reading.entries)]
        assert reading.damage is not None or bytes(data) == good[: reading.size_good] + reading.torn


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**30), 10**30)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=("Cs",)), max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text('ab"\\ \n±', max_size=4), inner, max_size=3),
    max_leaves=10,
)


@settings(max_examples=200, deadline=None)
@given(JSON)
def test_what_is_written_comes_back_equal_and_the_standard_library_agrees(value: object):
    data = strict_json.dumps(value)
    assert strict_json.loads(data) == value
    assert json.loads(data) == value  # oracle: the json module of the standard library
    assert b"\n" not in data
    assert strict_json.dumps(strict_json.loads(data)) == data


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=60) | st.text('[]{},:"\\u0d18e+-.NaInfity ', max_size=60).map(str.encode))
def test_any_bytes_are_a_value_the_standard_library_gives_too_or_a_problem(data: bytes):
    value = strict_json.loads(data)
    if not isinstance(value, Problem):
        assert json.loads(data) == value


@pytest.mark.parametrize(
    "value",
    [
        (1, 2),
        {"a": (1,)},
        {1: 2},
        {1: 2, "1": 3},
        {None: 1},
        float("nan"),
        float("inf"),
        "\ud800",
        {"\udfff": 1},
        b"bytes",
        {1, 2},
        object(),
        10**5_000,
        "x" * JOURNAL_LINE_BYTES,
        [[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]],
    ],
    ids=range(15),
)
def test_what_would_not_come_back_equal_is_not_written(value: object):
    with pytest.raises(ValueError, match=r"."):
        strict_json.dumps(value)


def test_a_value_that_holds_itself_is_not_written():
    ring: list[object] = []
    ring.append(ring)
    with pytest.raises(ValueError, match="cannot be written"):
        strict_json.dumps(ring)


def test_nesting_is_counted_outside_text():
    assert strict_json.loads(b'"' + b"[" * 100 + b'"') == "[" * 100
    assert strict_json.loads(b'["\\"' + b"[{" * 100 + b'"]') == ['"' + "[{" * 100]
    edge = b"[" * JOURNAL_DEPTH + b"]" * JOURNAL_DEPTH
    assert strict_json.loads(edge) == json.loads(edge)
    assert isinstance(strict_json.loads(b"[" + edge + b"]"), Problem)


def test_a_forged_line_one_byte_too_long_is_refused():
    short = forged(b',"a":""')
    text = b"x" * (JOURNAL_LINE_BYTES - len(short))
    longest, longer = (forged(b',"a":"' + text + more + b'"') for more in (b"", b"x"))
    assert read_bytes(longest).entries == ({"n": 1, "a": text.decode()},)
    assert read_bytes(longer + b"\n" + longest).damage is not None
    assert read_bytes(longer).entries == ()


@pytest.mark.parametrize("key", ["n", "run", "prev", "sha"])
def test_an_entry_may_not_bring_what_the_journal_sets(key: str):
    with pytest.raises(chain.UnfitEntry, match="the journal sets"):
        chain.seal(chain.FIRST_PREVIOUS, 1, RUN, {key: 1})


def test_an_entry_too_long_for_a_line_is_unfit_and_the_longest_that_fits_reads_back():
    bare = len(chain.seal(chain.FIRST_PREVIOUS, 1, RUN, {"t": ""}))
    longest = {"t": "x" * (JOURNAL_LINE_BYTES - bare)}
    line = chain.seal(chain.FIRST_PREVIOUS, 1, RUN, longest)
    assert len(line) == JOURNAL_LINE_BYTES
    assert read_bytes(line + b"\n").entries == ({"n": 1, **longest},)
    with pytest.raises(chain.UnfitEntry, match="longer than"):
        chain.seal(chain.FIRST_PREVIOUS, 1, RUN, {"t": longest["t"] + "x"})


def plain_equal(a: object, b: object) -> bool:
    """Equal, and of the same types all through: 1, 1.0 and true are three values."""
    if type(a) is not type(b):
        return False
    if isinstance(a, dict) and isinstance(b, dict):
        return list(a) == list(b) and all(plain_equal(a[k], b[k]) for k in a)
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(map(plain_equal, a, b))
    return repr(a) == repr(b)


@settings(max_examples=300, deadline=None)
@given(
    st.one_of(
        JSON.map(lambda value: json.dumps(value).encode()),
        JSON.map(lambda value: json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode()),
        JSON.map(strict_json.dumps),
        st.text('[]{},:"\\u0d18e+-.tfnaIl ', max_size=40).map(str.encode),
        st.binary(max_size=30),
    )
)
def test_the_fast_reader_never_says_anything_but_the_strict_one(data: bytes):
    """The strict reader rests on the json module of the standard library and on hooks that see every member."""
    strict = strict_json._loads_strictly(data)
    fast = strict_json.loads(data)
    assert isinstance(fast, Problem) == isinstance(strict, Problem)
    assert fast == strict if isinstance(strict, Problem) else plain_equal(fast, strict)


OTHER_FORMS = [
    b',"a": 1',
    b' ,"a":1',
    b',"a":"\\u00b1 \\u2192 \\ud83d\\ude00"',
    b',"a":"\\/"',
    b',"a":1e+16',
    b',"a":1E2',
    b',"a":1.50',
    b',"a":-0',
    b',"a":' + b"9" * 400,
    b',"a":100000000000000000000.0',
    b',"a":' + b"[" * 15 + b"]" * 15,
    b"",
]
"""What the program does not write, at least not today, and what is sound JSON all the same."""


@pytest.mark.parametrize("members", OTHER_FORMS, ids=range(len(OTHER_FORMS)))
def test_a_sound_line_in_another_form_is_read_as_the_standard_library_reads_it(members: bytes):
    """A run of an earlier version, whose encoder wrote some numbers otherwise, is still a run."""
    before = lines(2)
    line = forged(members, 3, chain.head_of(before[-1]))
    reading = read_bytes(joined([*before, line, forged(b',"a":1', 4, chain.head_of(line))]))
    assert reading.damage is None
    assert len(reading.entries) == 4
    assert plain_equal(reading.entries[2], json.loads(b'{"n":3' + members + b"}"))
    assert chain.verify_line(line, chain.head_of(before[-1]), 3, RUN) == reading.entries[2]
