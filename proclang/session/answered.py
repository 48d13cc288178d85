"""The latest replies of a run, each with the question it answered."""

from __future__ import annotations

from collections.abc import Sequence

from proclang.engine.fold import MISTYPED, apply, replay
from proclang.engine.model import Entry, Request
from proclang.engine.request import next_request
from proclang.program.model import Program

_NO_REPLY = ("open", "pause")


def latest_replies(
    program: Program, entries: Sequence[Entry], most: int
) -> tuple[tuple[tuple[int, str, Entry], ...], int]:
    """At most so many replies, the latest last: number of the entry, question, entry; and how many came before them.

    Raises `BadEntry` for entries that no run of this program leads to.
    """
    places = [i for i, entry in enumerate(entries) if entry.reply.kind not in _NO_REPLY]
    shown = places[-most:]
    if not shown:
        return (), 0
    state = replay(entries[: shown[0]])
    found = []
    for i in range(shown[0], len(entries)):
        entry = entries[i]
        request = next_request(program, state)
        if entry.reply.kind not in _NO_REPLY:
            found.append((i + 1, request.prompt if isinstance(request, Request) else entry.ask, entry))
        # What is struck may lie before: then the state is worked out anew.
        state = replay(entries[: i + 1]) if entry.reply.kind == MISTYPED else apply(state, entry)
    return tuple(found), len(places) - len(shown)
