"""`verify` finds what was changed, whoever changed it and however well; and says what it cannot find."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from invented import BAD_DAY, SEAT_SET
from log_help import begin, carry_on, log_of, opened, ran

from proclang import __version__
from proclang.cli.main import main
from proclang.log.verify import CANNOT_SHOW, FAILS, HOLDS, MARGINAL, NOT_SHOWN, SHOWN, Check, passed, verify
from proclang.session import chain
from proclang.session.files import Files
from proclang.session.folder import RunFolder

Edit = Callable[[list[dict[str, Any]]], object]


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A finished run with its log."""
    folder = tmp_path_factory.mktemp("sound") / "run"
    run = ran(folder, SEAT_SET, "seat", BAD_DAY)
    run.folder.write_log(log_of(run))
    return folder


@pytest.fixture
def copy(sound: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(sound, tmp_path / "copy"))


def checks_of(folder: Path, against: bytes | None = None) -> tuple[Check, ...]:
    checks = verify(folder, Files(), against)
    assert isinstance(checks, tuple), checks
    return checks


def failing(folder: Path, against: bytes | None = None) -> list[Check]:
    return [c for c in checks_of(folder, against) if c.outcome == FAILS]


def records(folder: Path) -> list[dict[str, Any]]:
    lines = (folder / "journal.jsonl").read_bytes().splitlines()
    return [{k: v for k, v in json.loads(line).items() if k not in chain.RESERVED} for line in lines]


def write_anew(folder: Path, entries: list[dict[str, Any]]) -> None:
    """A journal whose chain is right, as whoever may write to the folder can make it."""
    run = json.loads((folder / "journal.jsonl").read_bytes().splitlines()[0])["run"]
    head, lines = chain.FIRST_PREVIOUS, []
    for n, entry in enumerate(entries, 1):
        lines.append(chain.seal(head, n, run, entry))
        head = chain.head_of(lines[-1])
    (folder / "journal.jsonl").write_bytes(b"".join(line + b"\n" for line in lines))


def events(entries: list[dict[str, Any]], kind: str, **what: Any) -> list[dict[str, Any]]:
    found = [e for entry in entries for e in entry["then"] if e["is"] == kind]
    return [e for e in found if all(e.get(k) == v for k, v in what.items())]


def test_a_sound_run_holds_in_every_check(sound: Path) -> None:
    checks = checks_of(sound, (sound / "log.md").read_bytes())
    assert [(c.name, c.outcome) for c in checks] == [
        (name, HOLDS) for name in ("journal", "sources", "version", "opening", "entries", "log", "other log")
    ]
    assert passed(checks)


# ---------------------------------------------------------------------------- bytes


def test_every_class_of_byte_in_the_journal_is_covered(sound: Path, tmp_path: Path) -> None:
    """A digit of a value, a letter of a reply, a verdict, a time, a hash, a number of a record, a brace, a line end."""
    data = (sound / "journal.jsonl").read_bytes()
    marks = [
        b'"typed":"1.4', b'"reply":"9 arc', b'"outcome":"fai', b'"utc":"2031', b'"sha":"', b'"prev":"', b'{"n":1',
        b'"run":"', b'"mono":2', b'"}\n', b'"then":[', b'"reason":"The', b'"by":"Ad', b'"sources":{', b"}]",
    ]  # fmt: skip
    folder = Path(shutil.copytree(sound, tmp_path / "copy"))
    for mark in marks:
        at = data.index(mark) + len(mark) - 1
        for flip in (0x01, 0x10, 0x80):
            changed = bytearray(data)
            changed[at] ^= flip
            (folder / "journal.jsonl").write_bytes(bytes(changed))
            assert failing(folder), (mark, flip)


def test_bytes_all_over_the_journal_are_covered(sound: Path, tmp_path: Path) -> None:
    data = (sound / "journal.jsonl").read_bytes()
    folder = Path(shutil.copytree(sound, tmp_path / "copy"))
    step = len(data) // 300
    for at in range(0, len(data) - 1, step):
        changed = bytearray(data)
        changed[at] ^= 1 << at % 8
        (folder / "journal.jsonl").write_bytes(bytes(changed))
        found = failing(folder)
        assert found, at
        line = data.count(b"\n", 0, at) + 1
        if line < data.count(b"\n"):  # a spoiled last record is what a crash leaves: there the log tells
            assert found[0].name == "journal"
            assert found[0].where == f"line {line}", at
            assert "line" not in found[0].says.partition(": ")[0]  # said once


def test_a_half_written_record_is_no_fault_but_is_said(copy: Path) -> None:
    with (copy / "journal.jsonl").open("ab") as journal:
        journal.write(b'{"n":57,"run":"20')
    checks = checks_of(copy)
    assert passed(checks)
    assert "17 bytes of a half-written record follow, never acknowledged" in checks[0].says


@pytest.mark.parametrize("name", ["seat.proc", "stand.proc", "shimming.proc", "site.toml"])
def test_a_source_changed_by_one_byte_is_found(copy: Path, name: str) -> None:
    path = copy / "sources" / name
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(bytes(data))
    assert [c.where for c in failing(copy) if c.name == "sources"] == [name]


def test_a_source_that_is_gone_is_found(copy: Path) -> None:
    (copy / "sources" / "stand.proc").unlink()
    assert [c.where for c in failing(copy) if c.name == "sources"] == ["stand.proc"]


@pytest.mark.parametrize("end", [-1, 200])
def test_a_log_that_was_edited_is_found_at_its_line(copy: Path, end: int) -> None:
    path = copy / "log.md"
    text = path.read_text(encoding="utf-8")
    edited = text.replace("FAILS", "PASSES", 1) if end > 0 else text.replace("`, 20 s later", "`, 21 s later", 1)
    path.write_text(edited, encoding="utf-8")
    (found,) = failing(copy)
    line = next(n for n, (a, b) in enumerate(zip(text.split("\n"), edited.split("\n"), strict=True), 1) if a != b)
    assert (found.name, found.where) == ("log", f"log.md:{line}")


# ---------------------------------------------------------------------------- forgeries with a right chain


def set_in(kind: str, member: str, to: Any, /, **what: Any) -> Edit:
    def edit(entries: list[dict[str, Any]]) -> None:
        found = events(entries, kind, **what)
        assert found, (kind, what)
        assert found[0].get(member) != to
        found[0][member] = to

    return edit


def reply_to(ask: str, text: str) -> Edit:
    def edit(entries: list[dict[str, Any]]) -> None:
        next(e for e in entries if e["ask"].endswith(ask))["reply"] = text

    return edit


def without(kind: str, **what: Any) -> Edit:
    def edit(entries: list[dict[str, Any]]) -> None:
        gone = events(entries, kind, **what)[0]
        for entry in entries:
            entry["then"] = [e for e in entry["then"] if e is not gone]

    return edit


FORGERIES: dict[str, Edit] = {
    "a reading": set_in("read", "value", "1.1 mm", typed="1.4 mm"),
    "what was typed": set_in("read", "typed", "1.1", value="1.4 mm"),
    "a verdict": set_in("verdict", "outcome", "passes", name="slot", outcome="fails"),
    "by how much": set_in("verdict", "beyond", "0.01 mm above", name="slot", outcome="fails"),
    "the limits": set_in("verdict", "limits", "0.8 to 1.5 mm", name="slot"),
    "a computed value": set_in("computed", "values", {"": "0.5 arcmin"}, name="tilt"),
    "a formula": set_in("computed", "formula", "tip", name="tilt"),
    "its inputs": set_in("computed", "inputs", {}, name="tilt"),
    "who accepted": set_in("deviation", "by", "Bo Tarn"),
    "why": set_in("deviation", "reason", "because"),
    "hardware": set_in("hardware", "state", "fitted", state="removed"),
    "the way taken": set_in("branch", "took", "south"),
    "a hazard": set_in("acknowledged", "by", ["Bo Tarn"], word="danger"),
    "a signature": set_in("signed", "name", "Bo Tarn", role="lead"),
    "a setting": set_in("setting", "value", "13 deg true"),
    "the next question": set_in("rest", "address", "point/dark", phase="read"),
    "a calibration": set_in("instrument", "calibrated", "2031-04-01"),
    "a reply": reply_to("gap/slot", "1.1 mm"),
    "a question": lambda entries: entries[20].update(ask="seat/level/gap"),
    "a kind of reply": lambda entries: entries[20].update(kind="note"),
    "a deviation left out": without("deviation"),
    "a stale value left out": without("stale"),
    "an event put in": lambda entries: entries[20]["then"].insert(0, {"is": "noted", "text": "x"}),
    "an event twice": lambda entries: entries[20]["then"].append(entries[20]["then"][0]),
    "an entry left out": lambda entries: entries.pop(20),
    "an entry twice": lambda entries: entries.insert(20, entries[20]),
    "two entries exchanged": lambda entries: entries.insert(20, entries.pop(21)),
    "a site fact": lambda entries: entries[0]["then"][0]["facts"].update(latitude="40 deg"),
    "the title": lambda entries: entries[0]["then"][0].update(title="Another"),
    "the revision": lambda entries: entries[0]["then"][0].update(revision="5"),
    "that it is a training example": lambda entries: entries[0]["then"][0].update(training=False),
    "the run": lambda entries: entries[0]["then"][0].update(run="another"),
}


@pytest.mark.parametrize("forgery", FORGERIES)
def test_a_forgery_with_a_right_chain_does_not_follow_from_the_replies(copy: Path, forgery: str) -> None:
    entries = records(copy)
    FORGERIES[forgery](entries)
    write_anew(copy, entries)
    (copy / "log.md").unlink()
    assert checks_of(copy)[0].outcome == HOLDS  # the chain is right
    found = failing(copy)
    assert {c.name for c in found} & {"entries", "opening"}, found


# ---------------------------------------------------------------------------- what a chain alone cannot show


@pytest.mark.parametrize("k", range(1, 11))
def test_an_end_cut_off_shows_only_against_a_log_kept_elsewhere(copy: Path, k: int) -> None:
    kept = (copy / "log.md").read_bytes()
    journal = copy / "journal.jsonl"
    journal.write_bytes(b"".join(journal.read_bytes().splitlines(keepends=True)[:-k]))
    assert [c.name for c in failing(copy)] == ["log"]
    (copy / "log.md").unlink()
    assert failing(copy) == []
    (found,) = failing(copy, kept)
    assert found.name == "other log"
    assert f"the journal has {56 - k}" in found.says


def test_a_run_written_anew_shows_only_against_a_log_kept_elsewhere(sound: Path, tmp_path: Path) -> None:
    kept = (sound / "log.md").read_bytes()
    kinder = {**BAD_DAY, "gap/slot": ["1.3 mm", "1.3", "0.7 mm", "1.1"]}
    folder = tmp_path / "run"
    carry_on(begin(folder, SEAT_SET, "seat"), kinder)
    assert failing(folder) == []
    (found,) = failing(folder, kept)
    assert "written anew" in found.says


def test_a_log_kept_before_the_run_went_on_is_of_this_run(sound: Path, tmp_path: Path) -> None:
    folder = tmp_path / "run"
    run = begin(folder, SEAT_SET, "seat")
    carry_on(run, BAD_DAY, lambda request: request.address.endswith("gap/slot"))
    early = log_of(opened(folder))
    RunFolder(folder).write_log(early)
    rest = (sound / "journal.jsonl").read_bytes()
    # The same script gives the same entries: the run that went on, with this run's name in each record.
    entries = [{k: v for k, v in json.loads(x).items() if k not in chain.RESERVED} for x in rest.splitlines()]
    entries[0] = records(folder)[0]
    write_anew(folder, entries)
    (log,) = [c for c in checks_of(folder, early.encode()) if c.name == "log"]
    (other,) = [c for c in checks_of(folder, early.encode()) if c.name == "other log"]
    count = early.count(" s later") + 1
    assert (log.outcome, other.outcome) == (HOLDS, HOLDS)
    assert log.says == f"log.md is what the journal said after record {count} of 56"
    assert other.says.endswith(f"up to record {count}; {56 - count} records were added since")


@pytest.mark.parametrize("other", [b"", b"# A log\n", b"\xff\xfe", b"`" + b"0" * 64 + b"` after record 0"])
def test_what_is_no_log_cannot_be_held_against(sound: Path, other: bytes) -> None:
    (found,) = failing(sound, other)
    assert "not the head of a journal" in found.says


def test_another_version_is_said_and_is_no_fault(copy: Path) -> None:
    entries = records(copy)
    entries[0]["then"][0]["program"] = "proclang 0.0.9"
    write_anew(copy, entries)
    (copy / "log.md").unlink()
    checks = checks_of(copy)
    assert passed(checks)
    (version,) = [c for c in checks if c.name == "version"]
    assert version.says.startswith("recorded with `proclang 0.0.9`, looked at with `proclang ")
    assert "doubted" not in version.says


def test_where_entries_differ_both_versions_are_named_and_what_to_do(copy: Path) -> None:
    """A run recorded before the rules changed is no forgery, and its reader must be able to tell."""
    entries = records(copy)
    entries[0]["then"][0]["program"] = "proclang 0.0.9"
    (event,) = events(entries, "verdict", name="slot")[:1]
    event["limits"] = "limits as they were worded once"
    write_anew(copy, entries)
    checks = checks_of(copy)
    assert not passed(checks)
    (version,) = [c for c in checks if c.name == "version"]
    assert version.says == (
        f"recorded with `proclang 0.0.9`, looked at with `proclang {__version__}`; "
        "what differs below may come of that, so look with the first before the record is doubted"
    )
    names = [c.name for c in checks]
    assert names.index("version") < names.index("entries")


@pytest.mark.parametrize("kind", ["unheard_of", "value"])
def test_the_versions_are_named_also_where_the_entries_cannot_be_told(copy: Path, kind: str) -> None:
    """A newer program may know kinds of events that this one does not."""
    entries = records(copy)
    entries[0]["then"][0]["program"] = "proclang 9.9"
    entries[3]["then"].append({"is": kind})
    write_anew(copy, entries)
    (version,) = [c for c in checks_of(copy) if c.name == "version"]
    assert version.says.startswith(f"recorded with `proclang 9.9`, looked at with `proclang {__version__}`; ")


# ---------------------------------------------------------------------------- the command


def test_exit_codes_and_words(sound: Path, copy: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["verify", str(sound), "--against", str(sound / "log.md")]) == 0
    out = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in out[:-1]] == [HOLDS] * 7
    assert out[-1] == SHOWN + CANNOT_SHOW
    (copy / "sources" / "site.toml").unlink()
    assert main(["verify", str(copy)]) == 1
    failed = capsys.readouterr().out
    assert "fails    sources: site.toml: sources/site.toml is missing" in failed
    # A record that does not hold is never said to be whole.
    assert failed.splitlines()[-1] == NOT_SHOWN + CANNOT_SHOW
    assert SHOWN not in failed
    assert main(["verify", str(tmp_path)]) == 2
    assert main(["verify", str(sound), "--against", str(tmp_path / "nothing.md")]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "there is no run in" in captured.err


def test_the_same_for_programs(sound: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["verify", str(sound), "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["schema"], told["sound"], told["cannot_show"]) == (1, True, CANNOT_SHOW)
    assert [c["name"] for c in told["checks"]] == ["journal", "sources", "version", "opening", "entries", "log"]


def test_a_damaged_journal_has_no_log(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    journal = copy / "journal.jsonl"
    journal.write_bytes(journal.read_bytes().replace(b"arcmin", b"arcsec", 1))
    assert main(["log", str(copy), "--stdout"]) == 1
    assert main(["log", str(copy.parent / "nowhere")]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "cannot be trusted" in captured.err


def test_marginal_is_a_word_of_its_own() -> None:
    assert passed((Check("entries", MARGINAL, "x"),))
    assert not passed((Check("entries", FAILS, "x"),))
