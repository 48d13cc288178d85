"""A journal from a stranger, chained rightly around anything: verify and log never raise, and nothing false passes."""

from __future__ import annotations

import copy
import json
import random
from pathlib import Path
from typing import Any

import attrs
import pytest
from invented import BAD_DAY, SEAT_SET
from log_help import ran
from test_verify_finds import records, write_anew

from proclang.cli.main import main
from proclang.engine.model import Entry
from proclang.log.render import render_log
from proclang.log.verify import FAILS, passed, verify
from proclang.session.chain import UnfitEntry
from proclang.session.run import OpenedRun
from proclang.text.diagnostic import Problem

STRANGE: list[Any] = [
    None, True, False, 0, -1, 10**15, 1e308, 0.5, "", "x", "9" * 400, "1/0 mm", "NaN", "9e99 mm", "seat", "opening",
    "../x", [], {}, [[]], {"": ""}, [None], {"a": {"b": [1]}}, "\u202e", "a\nb", "level", "passes", ["direct"],
]  # fmt: skip


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> OpenedRun:
    return ran(tmp_path_factory.mktemp("foreign") / "run", SEAT_SET, "seat", BAD_DAY)


def places(value: Any) -> list[tuple[Any, Any]]:
    """Every container in a JSON value with each of its keys."""
    found: list[tuple[Any, Any]] = []
    if isinstance(value, dict):
        found.extend((value, key) for key in value)
        for inner in value.values():
            found.extend(places(inner))
    elif isinstance(value, list):
        found.extend((value, k) for k in range(len(value)))
        for inner in value:
            found.extend(places(inner))
    return found


def mutate(entries: list[dict[str, Any]], chance: random.Random) -> None:
    """Change one to three things, anywhere."""
    for _ in range(chance.randint(1, 3)):
        entry = chance.choice(entries)
        then = entry["then"] if isinstance(entry.get("then"), list) and entry["then"] else [{"is": "noted"}]
        where = chance.choice(places(entry))
        match chance.randrange(7):
            case 0:
                where[0][where[1]] = copy.deepcopy(chance.choice(STRANGE))
            case 1:
                del where[0][where[1]]
            case 2:
                then.insert(chance.randrange(len(then) + 1), copy.deepcopy(chance.choice(then)))
            case 3:
                other = chance.choice(entries).get("then") or [{"is": "rest"}]
                then.insert(chance.randrange(len(then) + 1), copy.deepcopy(chance.choice(other)))
            case 4:
                chance.shuffle(then)
            case 5:
                entries.insert(chance.randrange(len(entries)), copy.deepcopy(chance.choice(entries)))
            case 6:
                where[0][where[1]] = copy.deepcopy(chance.choice(chance.choice(places(chance.choice(entries)))[0:1]))


def told(entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """All but the stamps: a time can be anything, and nothing follows from it but the date of a calibration."""
    return [{k: v for k, v in entry.items() if k != "at"} for entry in entries]


def test_no_journal_makes_verify_raise_and_none_passes_falsely(made: OpenedRun, tmp_path: Path) -> None:
    chance = random.Random(20310501)
    folder = made.folder.path
    sound = records(folder)
    journal = (folder / "journal.jsonl").read_bytes()
    seen = 0
    try:
        for _ in range(500):
            entries = copy.deepcopy(sound)
            mutate(entries, chance)
            try:
                write_anew(folder, entries)
            except (UnfitEntry, IndexError):
                continue
            seen += 1
            checks = verify(folder)
            if isinstance(checks, tuple) and passed(checks):
                assert json.dumps(told(entries)) == json.dumps(told(sound))
    finally:
        (folder / "journal.jsonl").write_bytes(journal)
    assert seen > 400


def test_a_strike_forged_anywhere_is_found(made: OpenedRun) -> None:
    """Any entry turned into one that strikes, and one put in anywhere: verify says so, and the log never raises."""
    folder = made.folder.path
    sound = records(folder)
    journal = (folder / "journal.jsonl").read_bytes()
    try:
        for n in range(len(sound)):
            for entries in (
                [*sound[:n], {**sound[n], "kind": "mistyped"}, *sound[n + 1 :]],
                [*sound[:n], {"ask": "x", "kind": "mistyped", "reply": "", "at": {}, "then": []}, *sound[n:]],
            ):
                write_anew(folder, entries)
                checks = verify(folder)
                assert isinstance(checks, Problem) or not passed(checks)
                forged = tuple(Entry.from_json(entry) for entry in entries)
                assert isinstance(render_log(attrs.evolve(made, entries=forged)), (str, Problem))
    finally:
        (folder / "journal.jsonl").write_bytes(journal)


def test_no_entries_make_the_log_raise(made: OpenedRun) -> None:
    """The fold of the log is given what no replay would let through."""
    chance = random.Random(20310502)
    outcomes = {str: 0, Problem: 0}
    for _ in range(500):
        entries = [entry.to_json() for entry in copy.deepcopy(made.entries)]
        mutate(entries, chance)
        try:
            folded = tuple(Entry.from_json(entry) for entry in entries)
        except (KeyError, TypeError):
            continue
        result = render_log(attrs.evolve(made, entries=folded))
        outcomes[type(result)] += 1  # type: ignore[index]
    assert min(outcomes.values()) > 20, outcomes


@pytest.mark.parametrize(
    "event",
    [
        {"is": "called", "at": "x", "routine": "seat", "path": "seat/x", "title": "x"},
        {"is": "pass", "loop": "levelling", "n": 1},
        {"is": "label", "each": "corner", "label": "a", "first": True},
    ],
)
def test_frames_and_loops_without_end_are_refused_in_good_time(made: OpenedRun, event: dict[str, Any]) -> None:
    # Each would make every later place longer: time would grow with the square of the journal.
    steps = [{"is": "step", "at": at, "title": "x"} for at in ("seat/level/look", "seat/level/gap")]
    last = made.entries[20]
    entries = (*made.entries[:20], attrs.evolve(last, then=(event, *steps) * 20_000))
    result = render_log(attrs.evolve(made, entries=entries))
    assert isinstance(result, Problem)
    assert "deeper than" in result.message


def test_many_small_things_take_time_in_proportion(made: OpenedRun) -> None:
    """Each kind was the square of its number once, or could be: people, inputs, deviations. The test ends, or hangs."""
    last = made.entries[20]
    call = {"is": "called", "at": "seat", "routine": "shimming", "path": "seat/x", "title": "x"}
    floods = [
        [call, *({"is": "value", "name": f"v{k}", "value": "1 mm", "input": True} for k in range(2_000))],
        [{"is": "deviation", "at": "seat/level/levelling#3/.end", "reason": "x", "by": "x"} for _ in range(20_000)],
        [{"is": "verdict", "at": "seat/level/gap/slot", "name": "slot", "outcome": "fails"} for _ in range(20_000)],
    ]
    for events in floods:
        entries = (*made.entries[:20], attrs.evolve(last, then=tuple(events)))
        assert isinstance(render_log(attrs.evolve(made, entries=entries)), str)
    crowd = tuple({"is": "person", "role": f"r{k}", "name": f"n{k}"} for k in range(50_000))
    result = render_log(attrs.evolve(made, entries=(*made.entries[:20], attrs.evolve(last, then=crowd))))
    assert isinstance(result, Problem)
    assert "more people" in result.message


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"{}\n",
        b"not a journal\n",
        b'{"n":1,"run":"x","prev":"' + b"0" * 64 + b'","sha":"' + b"0" * 64 + b'"}\n',
        b"\x00" * 5_000,
        b"<<<<<<< ours\n",
    ],
)
def test_what_is_no_journal_is_said_to_be_none(tmp_path: Path, line: bytes) -> None:
    (tmp_path / "journal.jsonl").write_bytes(line)
    checks = verify(tmp_path)
    assert isinstance(checks, tuple)
    assert any(c.outcome == FAILS for c in checks)
    assert main(["verify", str(tmp_path)]) == 1
    assert main(["log", str(tmp_path), "--stdout"]) in (1, 2)


@pytest.mark.parametrize(
    "entry",
    [
        {},
        {"then": []},
        {"ask": "opening", "kind": "open", "reply": "", "at": {}, "then": [{"is": "opened"}]},
        {"ask": 1, "kind": 2, "reply": 3, "at": 4, "then": 5},
    ],
)
def test_a_first_record_that_opens_no_run_fails(tmp_path: Path, entry: dict[str, Any]) -> None:
    (tmp_path / "journal.jsonl").write_bytes(b'{"run":"stranger"}\n')
    write_anew(tmp_path, [entry])
    checks = verify(tmp_path)
    assert isinstance(checks, tuple)
    assert {c.name for c in checks if c.outcome == FAILS} >= {"sources", "entries"}
