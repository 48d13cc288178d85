"""A mistyped reading is struck: it stays in the record for good, and counts for nothing.

Only the latest answer can be struck, and only a reading: nothing has been decided since, so that going back to its
question loses nothing. Readings before it can then be struck in turn, each by an entry of its own. What was done to
hardware and by people is never gone back on; a wrong reply of another kind is put right by a note.
"""

from __future__ import annotations

from collections.abc import Sequence

import attrs

from proclang.engine.fold import MISTYPED, MOST_STRUCK, counted, replay
from proclang.engine.model import Entry, Over, Refused, Reply
from proclang.engine.request import next_request
from proclang.engine.typed import read_words
from proclang.program import model as m
from proclang.text.diagnostic import Problem

_NOTE = "put anything else right by a note: `!` and what is so"


def strike(program: m.Program, entries: Sequence[Entry], reply: Reply) -> Entry | Refused:
    """The entry that strikes the latest reading; the reply's text is the reason, which may be empty.

    Raises `BadEntry` only for entries that no run of this program leads to.
    """
    if sum(entry.reply.kind == MISTYPED for entry in entries) >= MOST_STRUCK:
        return Refused(Problem("too-many-struck", f"{MOST_STRUCK} readings of this run are struck already", hint=_NOTE))
    standing = counted(entries)
    request = next_request(program, replay(standing))
    if isinstance(request, Over):
        return Refused(Problem("run-over", "the run is over; nothing more is asked"))
    last = next((e for e in reversed(standing) if e.reply.kind not in ("note", "pause")), None)
    if last is None or last.reply.kind != "answer" or last.then[0]["is"] != "read":
        return Refused(
            Problem(
                "no-reading",
                "only the latest answer can be struck, and only a reading; the latest answer was none",
                hint=_NOTE,
            )
        )
    reason = reply.text.strip()
    words = read_words(reason, "a reason") if reason else ""
    if isinstance(words, Problem):
        return Refused(words)
    read = last.then[0]
    event = {"is": "struck", "at": read["at"], "name": read["name"], "typed": read["typed"]}
    event |= {"key": read["key"]} if read.get("key") else {}
    event |= {"reason": words} if words else {}
    return Entry(request.address, attrs.evolve(reply, kind=MISTYPED), (event,))
