"""One journal line, and how it hangs on the line before.

A line is `{"n":1,"run":"<run>","prev":"<64 hex>", ... ,"sha":"<64 hex>"}` and a newline. `n` counts from 1 without
gaps, `run` is the same all through, `prev` is the `sha` of the line before (64 zeros on the first), and `sha` is the
SHA-256 (FIPS 180-4) of a domain string and of the exact bytes of the line up to `,"sha":"`. A record is complete when
its hash verifies; the newline is not part of it.

A chain shows that nothing inside was changed, left out or put in. It does not show that the end was cut off or that all
of it was written anew: for that the head must be kept elsewhere.
"""

from __future__ import annotations

import re
from hashlib import sha256
from typing import Any

import attrs

from proclang.session import strict_json
from proclang.text.diagnostic import Problem
from proclang.text.limits import JOURNAL_LINE_BYTES

DOMAIN = b"proclang journal 1\n"
"""Hashed before every record, so that no other file's hash can pass for one. The number is the format's version."""

FIRST_PREVIOUS = "0" * 64
_SET_BEFORE = frozenset(("run", "prev", "sha"))
RESERVED = _SET_BEFORE | {"n"}

_RUN = re.compile(r"[A-Za-z0-9_.-]{1,64}")
_END_BYTES = len(b',"sha":"') + 64 + len(b'"}')
_HEADER = re.compile(rb'\{"n":([1-9][0-9]{0,15}),"run":"([A-Za-z0-9_.-]{1,64})","prev":"([0-9a-f]{64})"')
_END = re.compile(rb',"sha":"[0-9a-f]{64}"\}')


class UnfitEntry(ValueError):
    """An entry that cannot be kept; `str()` says why."""


@attrs.frozen
class Header:
    """What a record says of its own place."""

    n: int
    run: str
    previous: str


def is_run_id(run: str) -> bool:
    """Whether a text may name a run: 1 to 64 ASCII letters, digits, `_`, `.` and `-`."""
    return _RUN.fullmatch(run) is not None


def _header_bytes(n: int, run: str, previous: str) -> bytes:
    return f'{{"n":{n},"run":"{run}","prev":"{previous}"'.encode("ascii")


_BEGUN = sha256(DOMAIN)


def _hash(body: bytes) -> str:
    # Going on with a copy looks no algorithm up: after the wait for a disk that costs more than the hash.
    begun = _BEGUN.copy()
    begun.update(body)
    return begun.hexdigest()


def seal(previous: str, n: int, run: str, entry: dict[str, Any]) -> bytes:
    """The line for `entry`, without its newline. Raises `UnfitEntry` for one that could not be read back equal."""
    if not RESERVED.isdisjoint(entry):
        raise UnfitEntry("an entry may not hold `n`, `run`, `prev` or `sha`; the journal sets them")
    try:
        members = strict_json.dumps(entry)
    except ValueError as error:
        raise UnfitEntry(str(error)) from None
    comma = "," if entry else ""
    body = f'{{"n":{n},"run":"{run}","prev":"{previous}"{comma}'.encode("ascii") + members[1:-1]
    if len(body) + _END_BYTES > JOURNAL_LINE_BYTES:
        raise UnfitEntry(f"its line would be longer than {JOURNAL_LINE_BYTES} bytes")
    return body + f',"sha":"{_hash(body)}"}}'.encode("ascii")


def head_of(line: bytes) -> str:
    """The hash a sealed line ends in."""
    return line[-66:-2].decode("ascii")


def verify_line(line: bytes, previous: str, n: int, run: str | None) -> dict[str, Any] | Problem:
    """The entry of a line (its members and `n`), or why the line is not the `n`-th of this chain.

    `run` is None when any run will do, as before the first line.
    """
    header = header_of(line)
    if header is None:
        return Problem("journal-record", "it is not a whole record")
    if not _hash_holds(line):
        return Problem("journal-hash", "its content does not agree with its hash; it was changed or only half written")
    entry = _entry(line, _header_bytes(header.n, header.run, header.previous), header.n)
    if isinstance(entry, Problem):
        return entry
    if run is not None and header.run != run:
        return Problem("journal-run", f"it belongs to another run, {header.run}")
    if header.n < n:
        return Problem("journal-order", f"record {header.n} stands here a second time; record {n} was expected")
    if header.n > n:
        lost = f"record {n} is" if header.n == n + 1 else f"records {n} to {header.n - 1} are"
        return Problem("journal-order", f"{lost} missing before record {header.n}")
    if header.previous != previous:
        return Problem("journal-chain", f"record {n} does not follow from the one before; something was exchanged")
    return entry


def header_of(line: bytes) -> Header | None:
    """What a line says of its place, when it has the outer form of a record. Its hash is not looked at."""
    if len(line) > JOURNAL_LINE_BYTES or _END.fullmatch(line, max(len(line) - _END_BYTES, 0)) is None:
        return None
    return header_of_beginning(line)


def header_of_beginning(data: bytes) -> Header | None:
    """What the record that begins the bytes says of its place, whole or not."""
    found = _HEADER.match(data)
    return None if found is None else Header(int(found[1]), found[2].decode("ascii"), found[3].decode("ascii"))


def is_whole(line: bytes) -> bool:
    """Whether the bytes are a complete record of some run, wherever it belongs."""
    return header_of(line) is not None and _hash_holds(line)


def starts_and_ends(data: bytes) -> tuple[list[int], list[int]]:
    """Offsets where a record may begin, and offsets just past where one may end."""
    return [m.start() for m in _HEADER.finditer(data)], [m.end() for m in _END.finditer(data)]


def _hash_holds(line: bytes) -> bool:
    return _hash(line[:-_END_BYTES]).encode("ascii") == line[-66:-2]


def _entry(line: bytes, header: bytes, n: int) -> dict[str, Any] | Problem:
    """The members of a line whose beginning and end are already known to be sound."""
    members = line[len(header) : -_END_BYTES]
    # The blank keeps what follows from growing onto the number.
    entry = strict_json.loads(b'{"n":%d %b}' % (n, members))
    if isinstance(entry, Problem):
        return entry
    if not _SET_BEFORE.isdisjoint(entry):
        return Problem("json-value", "the same name is used twice in one object")
    return entry  # type: ignore[no-any-return]  # an object, as it begins with a brace


@attrs.frozen
class Walk:
    """The sound beginning of a journal: its entries, their run, the last hash, and where what follows begins.

    `size` counts the newline after the last sound record when there is one.
    """

    entries: list[dict[str, Any]]
    run: str | None
    head: str
    size: int


def walk(data: bytes) -> Walk:
    """Follow the chain from the first byte to the first line that does not belong, or to the end."""
    first = _HEADER.match(data)
    if first is None:
        return Walk([], None, FIRST_PREVIOUS, 0)
    run = first[2]
    entries: list[dict[str, Any]] = []
    head = FIRST_PREVIOUS.encode()
    size = 0
    encode, decode = strict_json.codec()
    # The same facts as in `verify_line`, as few comparisons of bytes: this loop is the cost of a resume.
    for n, line in enumerate(data.split(b"\n"), 1):
        header = b'{"n":%d,"run":"%b","prev":"%b"' % (n, run, head)
        digest = sha256(DOMAIN + line[:-_END_BYTES]).hexdigest().encode()
        if (
            not line.startswith(header)
            or line[-_END_BYTES:] != b',"sha":"%b"}' % digest
            or len(line) > JOURNAL_LINE_BYTES
        ):
            break
        members = line[len(header) : -_END_BYTES]
        text = b'{"n":%d%b}' % (n, members)
        try:
            entry = decode(text)
            sound = encode(entry) == text and members[:1] == b"," and _SET_BEFORE.isdisjoint(entry)
        except (ValueError, RecursionError):
            sound = False
        if not sound:
            # Not as this program writes it: perhaps as an earlier version did, perhaps forged.
            entry = _entry(line, header, n)
            if isinstance(entry, Problem):
                break
        entries.append(entry)
        head = digest
        size += len(line) + 1
    return Walk(entries, run.decode("ascii") if entries else None, head.decode("ascii"), min(size, len(data)))
