"""One run in its folder: begun, gone on with, or only looked at.

The folder holds a copy of every source (`sources/`), what the run was begun with (`run.json`) and the journal. The
state is replayed from the journal; nothing else is needed, and nothing else is believed.
"""

from __future__ import annotations

import errno
import secrets
from pathlib import Path
from typing import Any

import attrs

from proclang import __version__
from proclang.engine.decide import RULES, begin, decide
from proclang.engine.fold import MISTYPED, apply, replay
from proclang.engine.model import Entry, Event, Over, Refused, Reply, Request, State
from proclang.engine.request import next_request
from proclang.engine.strike import strike
from proclang.program.build import build
from proclang.program.load import SUFFIX, FileSet, load
from proclang.program.model import Program
from proclang.session import strict_json
from proclang.session.clock import Clock
from proclang.session.files import Files, StorageError, read_file, write_new
from proclang.session.folder import RunFolder
from proclang.session.journal import Damage, JournalReading, JournalWriter, read_journal
from proclang.session.lock import Held
from proclang.session.site import Site, read_site, resolve_facts
from proclang.text.collector import collector_paused
from proclang.text.diagnostic import Diagnostic, Problem
from proclang.text.limits import JOURNAL_LINE_BYTES
from proclang.text.printable import printable

MANIFEST_NAME = "run.json"
SITE_NAME = "site.toml"
JOURNAL_FORMAT = 1

REFUSED_KEPT = 8
REFUSED_CHARACTERS = 80
"""Of what was typed and not taken, so much is kept with the reply that was."""

_MOST_SITTINGS = 1_000_000


@attrs.frozen
class OpenedRun:
    """A run as it stands on the disk. `opened` is the event that says what it was begun with."""

    folder: RunFolder
    program: Program
    files: FileSet = attrs.field(repr=False)
    entries: tuple[Entry, ...]
    state: State
    reading: JournalReading = attrs.field(repr=False)
    opened: Event

    @property
    def request(self) -> Request | Over:
        """What is asked next."""
        return next_request(self.program, self.state)


class _KeptSources:
    """The sources in a run folder, each only with the digest the run was begun with."""

    def __init__(self, folder: RunFolder, digests: dict[str, str]) -> None:
        self._folder = folder
        self._digests = digests
        self.problem: Problem | None = None

    def shown(self, name: str) -> str:
        """As it is called in the run folder."""
        return f"sources/{name}{SUFFIX}"

    def read(self, name: str) -> bytes | None:
        """Its bytes; what is wrong with them is kept in `problem`."""
        file = f"{name}{SUFFIX}"
        digest = self._digests.get(file)
        if digest is None:
            return None
        data = self._folder.read_source(file, digest)
        if isinstance(data, Problem):
            self.problem = self.problem or data
            return None
        return data

    def names(self) -> tuple[str, ...]:
        """Names there are files for."""
        return tuple(n.removesuffix(SUFFIX) for n in self._digests if n.endswith(SUFFIX))


def _program_of(folder: RunFolder, procedure: str, digests: dict[str, str]) -> tuple[Program, FileSet] | Problem:
    library = _KeptSources(folder, digests)
    data = library.read(procedure)
    if data is None:
        return library.problem or Problem(
            "source-missing", f"sources/{procedure}{SUFFIX} is not among the sources of the run"
        )
    files = load(procedure, data, library)
    if library.problem is not None:
        return library.problem
    built = build(files)
    errors = [f for f in built.findings if f.severity.value == "error"]
    if built.program is None or errors:
        said = f": {errors[0].message}" if errors else ""
        return Problem("program-refused", f"this version of proclang does not accept the procedure of the run{said}")
    return built.program, files


def open_run(path: Path, files: Files | None = None) -> OpenedRun | Problem:
    """Look at a run without touching it. Raises `StorageError`."""
    folder = RunFolder(path, files if files is not None else Files())
    reading = read_journal(folder.files, folder.journal)
    if reading.missing:
        return Problem("no-run", f"there is no run in {path}", hint="give the folder that was named with `--into`")
    if reading.damage is not None:
        return Problem("damaged", str(reading.damage), hint="nothing was changed; go back to a copy of the folder")
    return _opened(folder, reading)


def _opened(folder: RunFolder, reading: JournalReading) -> OpenedRun | Problem:
    if not reading.entries:
        return Problem("no-entry", "the journal has no entry yet", hint=f"go on with `proclang resume {folder.path}`")
    try:
        with collector_paused():
            entries = tuple(Entry.from_json(data) for data in reading.entries)
        opened = entries[0].then[0]
        if opened["is"] != "opened":
            raise ValueError("the first entry does not open a run")
        procedure, digests = str(opened["procedure"]), dict(opened["sources"])
        if opened.get("format", 0) != JOURNAL_FORMAT:
            return Problem(
                "other-format", f"the journal is of format {opened.get('format')}; this version reads {JOURNAL_FORMAT}"
            )
        state = replay(entries)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as error:
        return Problem("not-a-run", f"the journal holds something that is no entry of a run: {error}")
    found = _program_of(folder, procedure, digests)
    if isinstance(found, Problem):
        return found
    program, sources = found
    run = OpenedRun(folder, program, sources, entries, state, reading, opened)
    try:
        next_request(program, state)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, AssertionError) as error:
        return Problem("not-a-run", f"the journal does not go with its procedure: {error!r}")
    return run


@attrs.define
class Run:
    """A run that may be added to. Made by `start` or `resume`; to be closed."""

    program: Program
    state: State
    writer: JournalWriter
    folder: RunFolder
    clock: Clock
    opened: Event
    entries: list[Entry] = attrs.field(repr=False)
    """All that is in the journal."""

    sitting: int = 1
    """How often the run has been sat down to, this time included."""

    _refused: list[tuple[str, str]] = attrs.field(factory=list, init=False)

    @property
    def request(self) -> Request | Over:
        """What is asked now."""
        return next_request(self.program, self.state)

    def reply(self, text: str, kind: str = "answer") -> Entry | Refused:
        """Take a reply. When an entry comes back it is on the disk. Raises `StorageError`; then nothing is accepted."""
        stamp = self.clock.stamp() if self.sitting == 1 else {**self.clock.stamp(), "sitting": self.sitting}
        reply = Reply(text, kind, stamp, tuple(self._refused))
        if kind == MISTYPED:
            decided = strike(self.program, self.entries, reply)
        else:
            decided = decide(self.program, self.state, reply)
        if isinstance(decided, Refused):
            if kind == "answer" and text.strip():
                shown = printable(text.strip())
                self._refused = [*self._refused, (shown[:REFUSED_CHARACTERS], decided.problem.code)][-REFUSED_KEPT:]
            return decided
        self.writer.append(decided.to_json())
        self.entries.append(decided)
        self.state = replay(self.entries) if kind == MISTYPED else apply(self.state, decided)
        self._refused = []
        return decided

    def close(self) -> None:
        """Let go of the journal."""
        self.writer.close()


def start(
    path: Path,
    fileset: FileSet,
    program: Program,
    site_data: bytes,
    site: Site,
    clock: Clock,
    files: Files | None = None,
    exercise: str = "",
) -> Run | tuple[Diagnostic, ...]:
    """Begin a run in a new folder, or an `exercise` in which nothing is done. Findings are about the site file. Raises
    `StorageError`."""
    facts = resolve_facts(program, site)
    if isinstance(facts, tuple):
        return facts
    folder = RunFolder.create(path, files)
    digests = {
        f"{name}{SUFFIX}": folder.store_source(f"{name}{SUFFIX}", data) for name, data in sorted(fileset.data.items())
    }
    digests[SITE_NAME] = folder.store_source(SITE_NAME, site_data)
    stamp = clock.stamp()
    manifest: dict[str, Any] = {
        "format": JOURNAL_FORMAT,
        "run": f"{stamp['date']}-{secrets.token_hex(4)}",
        "procedure": program.entry,
        "sources": digests,
        "program": f"proclang {__version__}",
        **({"exercise": exercise} if exercise else {}),
    }
    write_new(
        folder.files,
        path / MANIFEST_NAME,
        strict_json.dumps(manifest) + b"\n",
        doing="writing down what the run begins with",
    )
    writer = JournalWriter.create(folder.files, folder.journal, manifest["run"])
    if isinstance(writer, Held):
        raise StorageError("making the journal", folder.journal, errno.EBUSY, str(writer), "Name another folder")
    return _begun(folder, program, writer, _opening(manifest, program, site, facts), clock, stamp)


def _opening(manifest: dict[str, Any], program: Program, site: Site, facts: dict[str, str]) -> dict[str, Any]:
    main = program.main
    return {
        **manifest,
        "title": main.title,
        "revision": main.revision,
        "language": "1",
        "rules": RULES,
        "site": site.name,
        "site_title": site.title,
        "training": site.training,
        "facts": facts,
    }


def _begun(
    folder: RunFolder,
    program: Program,
    writer: JournalWriter,
    opened: dict[str, Any],
    clock: Clock,
    stamp: dict[str, Any],
) -> Run:
    entry = begin(program, opened, stamp)
    writer.append(entry.to_json())
    return Run(program, apply(State(), entry), writer, folder, clock, entry.then[0], [entry])


def resume(path: Path, clock: Clock, files: Files | None = None) -> Run | Problem | Held:
    """Go on with the run of a folder, mending a torn tail. Raises `StorageError`.

    A run cut off before its first entry was complete is begun again from what its folder holds.
    """
    folder = RunFolder(path, files if files is not None else Files())
    if not folder.has(folder.journal) and not folder.has(path / MANIFEST_NAME):
        return Problem("no-run", f"there is no run in {path}", hint="give the folder that was named with `--into`")
    manifest = _manifest(folder)
    run_id = manifest.get("run") if isinstance(manifest, dict) else None
    writer: JournalWriter | Held | Damage
    if not folder.has(folder.journal) and isinstance(run_id, str):
        writer = JournalWriter.create(folder.files, folder.journal, run_id)
    else:
        writer = JournalWriter.open(folder.files, folder.journal, run_id if isinstance(run_id, str) else None)
    if isinstance(writer, Held):
        return writer
    if isinstance(writer, Damage):
        return Problem("damaged", str(writer), hint="nothing was changed; go back to a copy of the folder")
    try:
        result = _resumed(folder, writer, manifest, clock)
    except BaseException:
        writer.close()
        raise
    if isinstance(result, Problem):
        writer.close()
    return result


def _next_sitting(entries: tuple[Entry, ...]) -> int:
    """One more than that of the last entry; only numbers from 2 on are recorded."""
    last = entries[-1].reply.stamp.get("sitting", 1)
    return min(last, _MOST_SITTINGS) + 1 if isinstance(last, int) else 2


def _resumed(
    folder: RunFolder, writer: JournalWriter, manifest: dict[str, Any] | Problem, clock: Clock
) -> Run | Problem:
    if writer.reading.entries:
        opened = _opened(folder, writer.reading)
        if isinstance(opened, Problem):
            return opened
        sitting = _next_sitting(opened.entries)
        entries = list(opened.entries)
        return Run(opened.program, opened.state, writer, folder, clock, opened.opened, entries, sitting)
    if isinstance(manifest, Problem):
        return manifest
    found = _program_of(folder, str(manifest.get("procedure", "")), dict(manifest.get("sources", {})))
    if isinstance(found, Problem):
        return found
    program, _ = found
    data = folder.read_source(SITE_NAME, str(manifest["sources"].get(SITE_NAME, "")))
    if isinstance(data, Problem):
        return data
    site = read_site(data, SITE_NAME)
    facts = resolve_facts(program, site) if isinstance(site, Site) else site
    if isinstance(site, tuple) or isinstance(facts, tuple):
        return Problem("not-a-run", "the site file of the run is not accepted any more")
    return _begun(folder, program, writer, _opening(manifest, program, site, facts), clock, clock.stamp())


def _manifest(folder: RunFolder) -> dict[str, Any] | Problem:
    path = folder.path / MANIFEST_NAME
    if not folder.has(path):
        return Problem("not-a-run", f"{MANIFEST_NAME} is missing from the run folder")
    value = strict_json.loads(read_file(folder.files, path, JOURNAL_LINE_BYTES).rstrip(b"\n"))
    if isinstance(value, Problem):
        return value
    if not isinstance(value, dict) or not isinstance(value.get("sources"), dict):
        return Problem("not-a-run", f"{MANIFEST_NAME} does not say what the run was begun with")
    return value
