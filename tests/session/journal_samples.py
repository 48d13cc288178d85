"""Invented journals for the tests, and a second reader of the format that shares no code with the program."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from proclang.session import chain

RUN = "demo-run-1"


def entry(k: int) -> dict[str, Any]:
    """An invented entry; some hold signs of two, three and four bytes."""
    return {
        "kind": "reply",
        "at": "2031-02-03T04:05:06Z",
        "step": f"level/read_{k}",
        "typed": f"{k} ± 1 → 😀"[: 6 + k % 5],
        "k": k,
    }


def lines(count: int, run: str = RUN) -> list[bytes]:
    """The lines of a journal of `count` entries, without newlines."""
    head = chain.FIRST_PREVIOUS
    made = []
    for n in range(1, count + 1):
        line = chain.seal(head, n, run, entry(n))
        head = chain.head_of(line)
        made.append(line)
    return made


def joined(parts: list[bytes]) -> bytes:
    """Lines, each with its newline."""
    return b"".join(part + b"\n" for part in parts)


def forged(members: bytes, n: int = 1, previous: str = chain.FIRST_PREVIOUS, run: str = RUN) -> bytes:
    """A line with any members at all and a hash that is right for them, as a forger can make it."""
    body = b'{"n":%d,"run":"%s","prev":"%s"%s' % (n, run.encode(), previous.encode(), members)
    return body + b',"sha":"%s"}' % hashlib.sha256(b"proclang journal 1\n" + body).hexdigest().encode()


def plain_check(data: bytes) -> list[dict[str, Any]]:
    """The format read straight from its description with `json` and `hashlib`; an assertion fails if it is not kept."""
    previous = "0" * 64
    found = []
    for n, line in enumerate(data.splitlines(), 1):
        record = json.loads(line)
        body = line[: line.rindex(b',"sha":"')]
        assert record["sha"] == hashlib.sha256(b"proclang journal 1\n" + body).hexdigest()
        assert (record["n"], record["prev"]) == (n, previous)
        previous = record["sha"]
        found.append(record)
    return found
