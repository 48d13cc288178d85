"""Entries as they stand in a journal, states as folds over them, and both from strangers."""

from __future__ import annotations

import builtins
import copy
import json
import os
import subprocess
import sys
import time
from typing import Any

import attrs
import pytest
from engine_help import running
from hypothesis import given
from hypothesis import strategies as st

from proclang.engine.decide import decide
from proclang.engine.fold import EVENT_KINDS, UnknownEvent, apply, replay
from proclang.engine.model import BadEntry, Entry, Over, Refused, Reply, State
from proclang.engine.request import next_request

BODY = """
step look "Look."
  measure x in mm using gauge
    at most 2 mm
compute y = x * 2
repeat tries at most 2 times
  confirm tried "Tried."
  leave when x > 1 mm
hold ok "Ok" by lead
"""


def test_an_entry_goes_through_json_unchanged() -> None:
    """The journal keeps exactly what was decided."""
    run = running(BODY)
    run.say("5", "again", "1", "accept", "Known.", "AQ", "yes")
    for entry in run.entries:
        assert Entry.from_json(json.loads(json.dumps(entry.to_json()))) == entry
    tried = attrs.evolve(run.entries[-1], reply=Reply("1", "answer", {}, (("1x", "not-a-number"), ("", "no-text"))))
    assert Entry.from_json(json.loads(json.dumps(tried.to_json()))) == tried


def test_replaying_the_entries_gives_the_state() -> None:
    """State is a fold over events, and over nothing else."""
    run = running(BODY)
    run.say("5", "again")
    run.note("A note.")
    assert replay(run.entries) == run.state


def test_applying_an_entry_leaves_the_state_it_began_with() -> None:
    """States once handed out never change."""
    run = running(BODY)
    before, kept = run.state, copy.deepcopy(run.state)
    run.say("5", "adjust", "1", "yes")
    assert before == kept


def test_an_event_of_an_unknown_kind_is_said_to_be_one() -> None:
    """Written by a newer version: not guessed at."""
    with pytest.raises(UnknownEvent, match="teleported"):
        apply(State(), Entry("a", Reply(""), ({"is": "teleported"},)))


@pytest.mark.parametrize(
    "damage",
    [
        lambda d: d.pop("then"),
        lambda d: d.pop("reply"),
        lambda d: d.update(then={}),
        lambda d: d.update(then=[1]),
        lambda d: d.update(then=[{"is": 1}]),
        lambda d: d.update(reply=1),
        lambda d: d.update(kind=None),
        lambda d: d.update(at="now"),
        lambda d: d.update(ask=[]),
        lambda d: d.update(refused={}),
        lambda d: d.update(refused=["x"]),
        lambda d: d.update(refused=[["x"]]),
        lambda d: d.update(refused=[["x", 1]]),
    ],
)
def test_what_is_no_entry_is_refused_as_such(damage: Any) -> None:
    """With the errors `from_json` names."""
    data = Entry("a", Reply("b"), ({"is": "noted", "at": "a", "text": "b"},)).to_json()
    damage(data)
    with pytest.raises((KeyError, TypeError)):
        Entry.from_json(data)


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 3) | st.text(max_size=6) | st.sampled_from(["", "job", "read", "x"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=6,
)
FIELDS = (
    "address", "phase", "at", "routine", "path", "loop", "n", "each", "label", "first", "name", "key", "value", "new",
    "outcome", "names", "items", "state", "role", "hazard", "order", "step", "way", "back", "until", "status", "facts",
    "inputs", "gives", "unset", "of",
)  # fmt: skip


@given(st.data())
def test_forged_events_lead_to_one_error_or_to_a_state_that_is_asked_or_refused(data: st.DataObject) -> None:
    """Entries of a stranger: `BadEntry` from any of the four functions, and nothing else."""
    run = running(BODY)
    entries = [*run.entries]
    for _ in range(data.draw(st.integers(1, 3))):
        entry = data.draw(st.sampled_from(entries))
        events = [dict(e) for e in entry.then]
        if data.draw(st.booleans()) and events:
            event = data.draw(st.sampled_from(events))
            field = data.draw(st.sampled_from([*event, *FIELDS]))
            if field != "is":
                event[field] = data.draw(JUNK)
        else:
            kind = data.draw(st.sampled_from(sorted(EVENT_KINDS)))
            fields = data.draw(st.dictionaries(st.sampled_from(FIELDS), JUNK | st.just(run.state.top.address)))
            events.insert(data.draw(st.integers(0, len(events))), {**fields, "is": kind})
        entries[entries.index(entry)] = Entry(entry.ask, entry.reply, tuple(events))
    try:
        state = replay(entries)
        request = next_request(run.program, state)
        for text in ("5", "yes", "AQ", "stop", "accept", "on"):
            decided = decide(run.program, state, Reply(text))
            assert isinstance(decided, (Entry, Refused))
            if isinstance(decided, Entry):
                state = apply(state, decided)
        assert request is not None
    except BadEntry:
        return


# ---------------------------------------------------------------------------- nothing from outside


def test_the_engine_asks_no_clock_and_opens_no_file(monkeypatch: pytest.MonkeyPatch) -> None:
    """Time comes with the reply, files come through the session."""
    run = running(BODY)

    def outside(*args: object, **kwargs: object) -> None:
        raise AssertionError("the engine went outside")

    for module, names in (
        (builtins, ("open", "input", "print")),
        (os, ("open", "stat", "listdir", "getcwd", "urandom")),
        (time, ("time", "time_ns", "monotonic", "monotonic_ns", "perf_counter", "localtime", "gmtime")),
    ):
        for name in names:
            monkeypatch.setattr(module, name, outside)
    try:
        run.say("5", "again", "1", "accept", "Known.", "AQ", "yes", "AQ")
        state = replay(run.entries)
    finally:
        monkeypatch.undo()
    assert isinstance(next_request(run.program, state), Over)


def modules_loaded(code: str) -> set[str]:
    """What a fresh interpreter imports for some code."""
    result = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    return {line.rpartition("|")[2].strip() for line in result.stderr.splitlines() if "|" in line}


def test_the_engine_loads_neither_terminal_nor_templates() -> None:
    """What a driver, a log or a plot needs is loaded by them; what the interpreter starts with is not ours."""
    modules = ["advance", "answers", "decide", "fold", "model", "request", "tell"]
    loaded = modules_loaded(f"import {', '.join(f'proclang.engine.{name}' for name in modules)}") - modules_loaded(
        "pass"
    )
    assert "proclang.engine.decide" in loaded
    tops = {name.partition(".")[0] for name in loaded}
    heavy = {
        "prompt_toolkit",
        "jinja2",
        "numpy",
        "erfa",
        "pint",
        "asyncio",
        "socket",
        "subprocess",
        "random",
        "tempfile",
    }
    assert not tops & heavy
    assert not {name for name in loaded if name.startswith(("proclang.session", "proclang.log", "proclang.cli"))}
