"""The journal on a disk that loses power, against a plain list."""

from __future__ import annotations

from typing import Any

from faulty_files import ROOT, Disk, FaultyFiles, crash_states
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from journal_samples import RUN

from proclang.session.journal import JournalWriter, read_bytes

JOURNAL = ROOT / "journal.jsonl"
VALUES = st.none() | st.integers() | st.text(st.characters(exclude_categories=("Cs",)), max_size=8) | st.booleans()
ENTRIES = st.dictionaries(st.sampled_from(("kind", "typed", "read", "note")), VALUES | st.lists(VALUES, max_size=3))


class JournalAgainstList(RuleBasedStateMachine):
    """`model` is what was acknowledged; a power cut may add the one entry in flight, a cut end takes entries away."""

    model: list[dict[str, Any]]
    writer: JournalWriter

    @initialize()
    def begin(self) -> None:
        self.disk = Disk()
        writer = JournalWriter.create(FaultyFiles(self.disk), JOURNAL, RUN)
        assert isinstance(writer, JournalWriter)
        self.writer = writer
        self.model = []

    def reopen_on(self, disk: Disk) -> list[dict[str, Any]]:
        self.disk = disk
        disk.locks.clear()
        writer = JournalWriter.open(FaultyFiles(disk), JOURNAL, RUN)
        assert isinstance(writer, JournalWriter)
        self.writer = writer
        return [{key: value for key, value in e.items() if key != "n"} for e in writer.reading.entries]

    @rule(entry=ENTRIES)
    def append(self, entry: dict[str, Any]) -> None:
        sealed = self.writer.append(entry)
        self.model.append(entry)
        assert sealed.n == len(self.model)

    @rule()
    def close_and_reopen(self) -> None:
        self.writer.close()
        assert self.reopen_on(self.disk) == self.model

    @rule()
    def kill_and_reopen(self) -> None:
        assert self.reopen_on(self.disk) == self.model

    @rule(data=st.data())
    def power_cut_between(self, data: st.DataObject) -> None:
        state = data.draw(st.sampled_from(list(crash_states(self.disk))))
        assert self.reopen_on(Disk.of(state)) == self.model

    @rule(entry=ENTRIES, at=st.integers(0, 3), data=st.data())
    def power_cut_during_append(self, entry: dict[str, Any], at: int, data: st.DataObject) -> None:
        files = self.writer._files
        assert isinstance(files, FaultyFiles)
        found: list[dict[str, bytes | None]] = []
        stop = len(files.done) + at

        def watch() -> None:
            if len(files.done) == stop:
                found.extend(crash_states(self.disk))

        files.watch = watch
        self.writer.append(entry)
        watch()
        files.watch = None
        kept = self.reopen_on(Disk.of(data.draw(st.sampled_from(found))))
        assert kept in (self.model, [*self.model, entry])
        self.model = kept

    @rule(data=st.data())
    def end_cut_off_from_outside(self, data: st.DataObject) -> None:
        self.writer.close()
        content = self.disk.names[JOURNAL].cached
        cut = data.draw(st.integers(0, len(content)))
        complete = sum(1 for at, byte in enumerate(content) if byte == ord("\n") and at <= cut)
        state = {**self.disk.seen(), str(JOURNAL): content[:cut]}
        self.model = self.model[:complete]
        assert self.reopen_on(Disk.of({name: held for name, held in state.items() if name != str(ROOT)})) == self.model

    @invariant()
    def the_disk_holds_exactly_the_model(self) -> None:
        reading = read_bytes(self.disk.kept[JOURNAL].durable)
        assert (reading.damage, reading.torn) == (None, b"")
        assert list(reading.entries) == [{"n": n, **entry} for n, entry in enumerate(self.model, 1)]


JournalAgainstList.TestCase.settings = settings(max_examples=60, stateful_step_count=20, deadline=None)
TestJournalAgainstList = JournalAgainstList.TestCase
