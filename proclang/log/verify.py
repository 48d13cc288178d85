"""A second look at a run folder: is the journal whole, are the sources the same, does everything follow, is the log
what the journal says.

What this cannot show is said with it: that the arithmetic is right does not mean that a reading was taken, and a chain
whose head is kept nowhere else can be written anew by whoever may write to the folder.
"""

from __future__ import annotations

from pathlib import Path

import attrs

from proclang import __version__
from proclang.engine.fold import replay
from proclang.log.head import Head, read_head
from proclang.log.rederive import check_opening, rederive
from proclang.log.render import CLOSING, render_log
from proclang.session import chain
from proclang.session.exercise import sentence_of
from proclang.session.files import Files, read_file
from proclang.session.folder import RunFolder
from proclang.session.journal import JOURNAL_BYTES, JournalReading, read_journal
from proclang.session.run import SITE_NAME, OpenedRun, open_run
from proclang.text.diagnostic import Problem

HOLDS, FAILS, MARGINAL, UNSEEN = "holds", "fails", "marginal", "unseen"
"""What can be said of a check. `unseen`: it could not be made, for a reason that another check gives."""

SHOWN = "The record is whole and its arithmetic is right. "
NOT_SHOWN = "Something does not hold: this record is not to be relied on until it has been explained. "

CANNOT_SHOW = (
    "No check here can show that a reading was taken, or by whom. "
    "Whoever may write to the folder can write all of it anew: compare it with a log kept elsewhere."
)

LOG_BYTES = 1 << 28


@attrs.frozen
class Check:
    """One thing that was looked at. `where` is a place in the journal or a file; empty for the whole."""

    name: str
    outcome: str
    says: str
    where: str = ""


def verify(path: Path, files: Files | None = None, against: bytes | None = None) -> tuple[Check, ...] | Problem:
    """Look at the run in a folder. `against` is the text of a log kept elsewhere. Raises `StorageError`.

    A `Problem` comes back when there is no run to look at; anything wrong with a run is a check that fails.
    """
    files = files if files is not None else Files()
    folder = RunFolder(path, files)
    reading = read_journal(files, folder.journal)
    if reading.missing:
        return Problem("no-run", f"there is no run in {path}", hint="give the folder of a run")
    if reading.damage is not None:
        damage = reading.damage
        return (
            Check(
                "journal", FAILS, f"cannot be trusted: {damage.reason}", f"line {damage.line}" if damage.line else ""
            ),
            *(Check(name, UNSEEN, "the journal cannot be trusted") for name in ("sources", "entries", "log")),
        )
    checks = [_journal(reading)]
    if not reading.entries:
        return (*checks, Check("entries", FAILS, "the journal has no record yet"))
    checks += _sources(folder, reading)
    run = open_run(path, files)
    if isinstance(run, Problem):
        says = f"{run.message}; {run.hint}" if run.hint else run.message
        entries = Check("entries", FAILS, says)
        return (*checks, _version(reading, False), entries, Check("log", UNSEEN, "the entries cannot be told"))
    opening, entry_checks = _opening(run), _entries(run)
    if sentence := sentence_of(run.opened):
        checks.append(Check("exercise", HOLDS, sentence.rstrip(".")))
    checks += [_version(reading, passed((*opening, *entry_checks))), *opening, *entry_checks]
    checks.append(_log(run))
    if against is not None:
        checks.append(_against(run, against))
    return tuple(checks)


def passed(checks: tuple[Check, ...]) -> bool:
    """Whether nothing failed and everything could be looked at."""
    return not any(check.outcome in (FAILS, UNSEEN) for check in checks)


# ---------------------------------------------------------------------------- one check each


def _journal(reading: JournalReading) -> Check:
    torn = f"; {len(reading.torn)} bytes of a half-written record follow, never acknowledged" if reading.torn else ""
    return Check("journal", HOLDS, f"{_records(len(reading.entries))}, each following from the one before{torn}")


def _sources(folder: RunFolder, reading: JournalReading) -> list[Check]:
    try:
        digests = dict(reading.entries[0]["then"][0]["sources"])
        wrong = []
        for name, digest in digests.items():
            found = folder.read_source(name, digest)
            if isinstance(found, Problem):
                wrong.append(Check("sources", FAILS, found.message, str(name)))
    except (KeyError, TypeError, IndexError, ValueError, AttributeError):
        return [Check("sources", FAILS, "the first record does not say what the run was begun with", "record 1")]
    return wrong or [Check("sources", HOLDS, f"{len(digests)} files have the digests they were begun with")]


def _version(reading: JournalReading, follows: bool) -> Check:
    """Which program made the record and which looks at it. Another version is no fault, but may be why entries differ:
    what a reply leads to is worked out anew by the rules of today."""
    here = f"proclang {__version__}"
    try:
        there = str(reading.entries[0]["then"][0]["program"])[:80]
    except (KeyError, TypeError, IndexError):
        there = ""
    if there == here:
        says = f"recorded and looked at with `{here}`"
        doubt = "; a copy of it from between two releases may still work by other rules than the one that recorded it"
    else:
        says = f"recorded with {f'`{there}`' if there else 'a program that is not named'}, looked at with `{here}`"
        doubt = "; what differs below may come of that, so look with the first before the record is doubted"
    return Check("version", HOLDS, says if follows else says + doubt)


def _opening(run: OpenedRun) -> list[Check]:
    digest = run.opened["sources"].get(SITE_NAME)
    data = run.folder.read_source(SITE_NAME, digest) if isinstance(digest, str) else None
    wrong = list(check_opening(run.program, run.opened, data if isinstance(data, bytes) else None))
    if run.opened.get("run") != run.reading.run:
        wrong.append(f"the journal belongs to the run `{run.reading.run}`")
    if digest is None:
        wrong.append(f"no {SITE_NAME} is among the sources")
    if wrong:
        return [Check("opening", FAILS, says, "record 1") for says in wrong]
    return [Check("opening", HOLDS, "title, revision and site facts are those of the files")]


def _entries(run: OpenedRun) -> list[Check]:
    checks = []
    for finding in rederive(run.program, run.entries):
        outcome = MARGINAL if finding.marginal else UNSEEN if finding.unseen else FAILS
        ask = f" (`{finding.ask}`)" if finding.ask else ""
        says = f"numerically marginal: {finding.says}" if finding.marginal else finding.says
        checks.append(Check("entries", outcome, says, f"record {finding.entry}{ask}"))
    if passed(tuple(checks)):
        checks.append(Check("entries", HOLDS, f"all that {_records(len(run.entries))} hold follows from the replies"))
    return checks


def _log(run: OpenedRun) -> Check:
    folder = run.folder
    anew = render_log(run)
    if isinstance(anew, Problem):
        return Check("log", FAILS, anew.message)
    if not folder.has(folder.log):
        return Check("log", HOLDS, f"there is no {folder.log.name}; `proclang log` writes it")
    data = read_file(folder.files, folder.log, LOG_BYTES, doing="reading the log")
    if data == anew.encode():
        return Check("log", HOLDS, f"{folder.log.name} is what the journal says")
    return _other_log(run, data, anew)


def _other_log(run: OpenedRun, data: bytes, anew: str) -> Check:
    """A log that is not the one of today: of an earlier day, or tampered with."""
    name = run.folder.log.name
    try:
        text = data.decode()
    except UnicodeDecodeError as error:
        return Check("log", FAILS, f"byte {error.start + 1} is not UTF-8", name)
    head = read_head(text)
    if isinstance(head, Problem):
        return Check("log", FAILS, head.message, name)
    stands = _stands(run, head)
    if stands is not None:
        return Check("log", FAILS, stands, name)
    count = head.records
    entries = run.entries[:count]
    reading = attrs.evolve(run.reading, head=head.sha, entries=run.reading.entries[:count])
    then = render_log(attrs.evolve(run, entries=entries, state=replay(entries), reading=reading))
    if isinstance(then, str) and then.partition(CLOSING)[0] == text.partition(CLOSING)[0]:
        if count == len(run.entries) and then.partition(CLOSING)[2] != text.partition(CLOSING)[2]:
            line = _first_difference(text, anew)
            return Check("log", FAILS, "what differs from run to run is not what the journal says", f"{name}:{line}")
        return Check("log", HOLDS, f"{name} is what the journal said after record {count} of {len(run.entries)}")
    line = _first_difference(text, then if isinstance(then, str) else anew)
    return Check("log", FAILS, "it is not what the journal says", f"{name}:{line}")


def _first_difference(text: str, other: str) -> int:
    lines, others = text.split("\n"), other.split("\n")
    pairs = enumerate(zip(lines, others, strict=False), 1)
    return next((n for n, (a, b) in pairs if a != b), min(len(lines), len(others)) + 1)


def _against(run: OpenedRun, against: bytes) -> Check:
    head = read_head(against.decode("utf-8", "replace"))
    if isinstance(head, Problem):
        return Check("other log", FAILS, head.message)
    stands = _stands(run, head)
    if stands is not None:
        return Check("other log", FAILS, stands)
    more = len(run.entries) - head.records
    since = f"; {_records(more)} were added since" if more else ""
    return Check("other log", HOLDS, f"it was made from this journal, up to record {head.records}{since}")


def _stands(run: OpenedRun, head: Head) -> str | None:
    """Why the head a log prints is not one of this journal; None when it is."""
    count = len(run.entries)
    if head.records > count:
        return (
            f"it was made from {_records(head.records)}; the journal has {count}: its end was cut off, or it is another"
        )
    if _head_after(run, head.records) != head.sha:
        return f"record {head.records} is not the one it was made from: the journal was written anew, or it is another"
    return None


def _head_after(run: OpenedRun, count: int) -> str:
    if count == len(run.entries):
        return run.reading.head
    data = read_file(run.folder.files, run.folder.journal, JOURNAL_BYTES, doing="reading the journal")
    return chain.head_of(data.split(b"\n", count)[count - 1])


def _records(count: int) -> str:
    return "1 record" if count == 1 else f"{count:,} records"
