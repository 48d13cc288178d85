"""A torn tail is told from damage, and every change inside the chain is found where it is."""

import random

import pytest
from journal_samples import RUN, entry, joined, lines, plain_check

from proclang.session import chain
from proclang.session.journal import JournalReading, read_bytes

COUNT = 60
LINES = lines(COUNT)
WHOLE = joined(LINES)
ENDS = [len(joined(LINES[:n])) for n in range(COUNT + 1)]


def expected(count: int) -> list[dict]:
    return [{"n": n, **entry(n)} for n in range(1, count + 1)]


def check_prefix(reading: JournalReading) -> None:
    """Whatever was done to a journal, nothing is ever read that was not written."""
    assert list(reading.entries) == expected(len(reading.entries))


def test_a_sound_journal_reads_back_whole_and_agrees_with_a_second_reader():
    reading = read_bytes(WHOLE)
    assert list(reading.entries) == expected(COUNT)
    assert (reading.run, reading.size_good, reading.torn, reading.damage) == (RUN, len(WHOLE), b"", None)
    records = plain_check(WHOLE)  # json and hashlib of the standard library, following the description of the format
    assert [r["k"] for r in records] == [e["k"] for e in reading.entries]
    assert reading.head == records[-1]["sha"]


def test_cut_at_every_byte_keeps_every_complete_record():
    """Rule: a record is complete when its hash verifies; the newline is not part of it."""
    complete = [end - 1 for end in ENDS[1:]]
    count = 0
    for cut in range(len(WHOLE)):
        while count < COUNT and complete[count] <= cut:
            count += 1
        reading = read_bytes(WHOLE[:cut])
        assert reading.damage is None
        assert len(reading.entries) == count
        assert WHOLE[: reading.size_good] + reading.torn == WHOLE[:cut]
        assert reading.newline_missing == (count > 0 and cut == complete[count - 1])
    check_prefix(reading)


def test_a_flipped_bit_is_found_in_its_line_and_only_the_last_line_may_be_a_torn_tail():
    rng = random.Random(20)
    tried = 0
    for at in rng.sample(range(len(WHOLE)), 2_500):
        line = next(n for n in range(COUNT + 1) if ENDS[n] > at)
        for bit in range(8):
            tried += 1
            data = bytearray(WHOLE)
            data[at] ^= 1 << bit
            reading = read_bytes(bytes(data))
            if line < COUNT:
                assert reading.damage is not None
                assert reading.damage.line == line
                assert reading.damage.reason
            else:
                assert reading.damage is None
                ended = at == len(WHOLE) - 1
                assert len(reading.entries) == (COUNT if ended else COUNT - 1)
                assert reading.torn == bytes(data)[reading.size_good :] != b""
    assert tried == 20_000
    check_prefix(reading)


LAST = LINES[-1]
BEFORE = joined(LINES[:-1])


@pytest.mark.parametrize(
    ("tail", "more"),
    [
        (b"", 0),
        (bytes(1), 0),
        (bytes(4096), 0),
        (bytes(len(LAST)), 0),
        (b"\n", 0),
        (b"\xe2\x82", 0),
        (LAST[:40] + "±".encode()[:1], 0),
        (LAST[: len(LAST) // 2] + bytes(4096), 0),
        (bytes(100) + LAST[100:], 0),
        (b"left over\nfrom an older file\nof quite another kind" + LAST[60:], 0),
        (LAST[:-1], 0),
        (LAST, 1),
        (LAST + bytes(4096), 1),
        (LAST + b"\n" + bytes(512), 1),
        (LAST + b" ", 1),
        (LAST + b"\n", 1),
        (LAST + b"\n\n", 1),
    ],
)
def test_what_a_power_cut_leaves_at_the_end_is_set_aside(tail: bytes, more: int):
    reading = read_bytes(BEFORE + tail)
    assert reading.damage is None
    assert len(reading.entries) == COUNT - 1 + more
    assert (BEFORE + tail)[reading.size_good :] == reading.torn
    check_prefix(reading)


FOREIGN = lines(3, run="demo-run-2")


@pytest.mark.parametrize(
    ("data", "line", "word"),
    [
        (WHOLE + LAST + b"\n", 61, "second time"),
        (WHOLE + LINES[4] + b"\n", 61, "second time"),
        (WHOLE + LAST, 61, "second time"),
        (WHOLE + FOREIGN[1] + b"\n", 61, "another run"),
        (WHOLE + b"junk " + LAST, 61, "whole records follow"),
        (WHOLE + LINES[5][:70] + LINES[6] + b"\n", 61, "whole records follow"),
        (BEFORE + LAST + b"x" + LAST + b"\n", 60, "line end after this record is spoiled"),
        (BEFORE + bytes(80_000), 60, "more follows than a crash leaves behind"),
        (joined(LINES[:50]) + joined(LINES[51:]), 51, "record 51 is missing before record 52"),
        (joined(LINES[:50]) + joined(LINES[53:]), 51, "records 51 to 53 are missing before record 54"),
        (BEFORE[: ENDS[58] + 9] + b"?" + BEFORE[ENDS[58] + 10 :] + LAST[:-5] + b"\n", 59, "nor is the next one"),
    ],
)
def test_anything_else_at_the_end_is_damage_and_is_named(data: bytes, line: int, word: str):
    reading = read_bytes(data)
    assert reading.damage is not None
    assert reading.damage.line == line
    assert word in reading.damage.reason
    assert reading.torn == b""
    assert str(reading.damage).startswith(f"line {line} of the journal cannot be trusted: ")


def test_marks_of_a_version_control_merge_and_changed_line_ends_are_named():
    ours, theirs = joined(LINES[30:]), joined(LINES[30:40])
    conflict = joined(LINES[:30]) + b"<<<<<<< HEAD\n" + ours + b"=======\n" + theirs + b">>>>>>> site\n"
    cases = {
        conflict: (31, "git left when merging"),
        WHOLE + b">>>>>>> site\n": (61, "git left when merging"),
        WHOLE + b"||||||| base\n": (61, "git left when merging"),
        WHOLE + b"=======\r\n": (61, "git left when merging"),
        WHOLE.replace(b"\n", b"\r\n"): (1, "-text"),
        BEFORE + LAST + b"\r\n": (60, "-text"),
        joined(LINES[:31]) + joined(LINES[30:]): (32, "second time"),
    }
    for data, (line, word) in cases.items():
        damage = read_bytes(data).damage
        assert damage is not None
        assert damage.line == line
        assert word in damage.reason


def rechained(parts: list[bytes], after: int) -> list[bytes]:
    """Lines from index `after` on sealed anew, as somebody with the program can do."""
    made = list(parts[:after])
    head = chain.head_of(made[-1]) if made else chain.FIRST_PREVIOUS
    for index in range(after, len(parts)):
        made.append(chain.seal(head, index + 1, RUN, entry(index + 1)))
        head = chain.head_of(made[-1])
    return made


@pytest.mark.parametrize("what", ["delete", "duplicate", "swap", "insert", "edit"])
def test_every_change_of_one_record_is_found_in_its_place(what: str):
    """300 changes; the last record is where a chain alone must be silent, see the test below."""
    others = lines(COUNT, run="demo-run-2")
    for i in range(COUNT):
        parts = list(LINES)
        line = i + 1
        if what == "delete":
            del parts[i]
        elif what == "duplicate":
            parts.insert(i, parts[i])
            line = i + 2
        elif what == "swap":
            j = (i + 1) % COUNT
            parts[i], parts[j] = parts[j], parts[i]
            line = min(i, j) + 1
        elif what == "insert":
            parts.insert(i, others[i])
            line = max(i + 1, 2)  # the first record is what says which run this is
        else:
            parts[i] = parts[i].replace(b"2031-02", b"2031-03")
        reading = read_bytes(joined(parts))
        if i == COUNT - 1 and what in ("delete", "edit"):
            assert len(reading.entries) == COUNT - 1
            assert (reading.torn != b"") == (what == "edit")
            continue
        assert reading.damage is not None
        assert reading.damage.line == line


def test_an_edit_with_its_own_hash_made_anew_is_found_at_the_next_record():
    for i in range(COUNT - 1):
        parts = list(LINES)
        before = chain.head_of(parts[i - 1]) if i else chain.FIRST_PREVIOUS
        parts[i] = chain.seal(before, i + 1, RUN, {**entry(i + 1), "typed": "better"})
        damage = read_bytes(joined(parts)).damage
        assert damage is not None
        assert damage.line == i + 2
        assert "exchanged" in damage.reason


def test_a_cut_end_or_a_chain_made_anew_shows_only_against_a_head_kept_elsewhere():
    """A chain is evidence, not proof: the reading is sound, and its head is another."""
    kept = read_bytes(WHOLE).head
    for dropped in range(1, 11):
        reading = read_bytes(joined(LINES[:-dropped]))
        assert reading.damage is None
        assert reading.head != kept
        parts = list(LINES[: COUNT - dropped - 1])
        parts.append(chain.seal(chain.head_of(parts[-1]), len(parts) + 1, RUN, {"typed": "better"}))
        reading = read_bytes(joined(rechained([*parts, *LINES[len(parts) :]], len(parts))))
        assert reading.damage is None
        assert len(reading.entries) == COUNT
        assert reading.head != kept


def test_an_empty_journal_and_one_with_half_a_first_record_are_not_damaged():
    assert read_bytes(b"").empty
    torn = read_bytes(LINES[0][:50])
    assert torn.empty
    assert torn.torn == LINES[0][:50]
    assert read_bytes(LINES[0]).newline_missing


def test_a_megabyte_of_hostile_tail_is_judged_without_searching_every_pair():
    """Beginnings and ends of records, thousands of each, none whole: refused, and soon."""
    header = b'{"n":1,"run":"r","prev":"' + b"0" * 64 + b'"'
    end = b',"sha":"' + b"0" * 64 + b'"}'
    for tail in (header * 10_000, end * 10_000, header * 300 + end * 300, (header + end) * 8_000, header + end * 800):
        reading = read_bytes(WHOLE + tail)
        assert len(reading.entries) == COUNT
        assert reading.damage is not None or len(reading.torn) < 70_000
