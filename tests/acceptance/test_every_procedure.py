"""Nothing is shipped that was not run: every procedure to its end, every site for every procedure of its set."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from shipped import PROCEDURES, REPLY_FILES, SITES, SITES_OF, ReplyFile, built_program, home, run_shipped

from proclang.log.render import render_log
from proclang.log.verify import passed, verify
from proclang.session.run import OpenedRun
from proclang.session.site import Site, read_site, resolve_facts
from proclang.text.diagnostic import Problem

FILES = sorted(PROCEDURES.glob("*/*.proc"))


SHIPPED = [path.stem for path in FILES if "\nprocedure " in path.read_text(encoding="utf-8")]
ENTRIES = sorted({file.procedure for file in REPLY_FILES})
"""Procedures that are run by themselves; the others are performed."""

Ran = Callable[[ReplyFile], OpenedRun]
_runs: dict[Path, OpenedRun] = {}


@pytest.fixture
def ran(tmp_path_factory: pytest.TempPathFactory) -> Ran:
    """The run of a file of replies, made once."""

    def get(file: ReplyFile) -> OpenedRun:
        if file.path not in _runs:
            folder = tmp_path_factory.mktemp("run") / "run"
            _runs[file.path] = run_shipped(file.procedure, file.site, file.path.name, folder)
        return _runs[file.path]

    return get


def gone_through(run: OpenedRun) -> set[str]:
    """The procedures that came to their end in a run; none of a stopped one, which leaves them early."""
    if run.state.status != "finished":
        return set()
    open_calls: list[str] = []
    ended: set[str] = set()
    for entry in run.entries:
        for event in entry.then:
            if event["is"] == "called":
                open_calls.append(event["routine"])
            elif event["is"] == "returned":
                ended.add(open_calls.pop())
    return ended | {run.program.entry}


def test_names_are_unique_across_the_sets() -> None:
    """A reply file, a site and a log name a procedure by its name alone."""
    names = [path.stem for path in FILES]
    assert len(names) == len(set(names))
    assert {path.parent.name for path in FILES} == set(SITES_OF)
    assert sorted(path.stem for path in SITES.glob("*.toml")) == sorted(s for sites in SITES_OF.values() for s in sites)


def test_every_procedure_is_run_to_its_end_by_some_shipped_replies(ran: Ran) -> None:
    """By itself, or performed by another; on an ordinary day or on a bad one."""
    assert {"level_base", "survey_plate", "read_masses"} <= set(SHIPPED)
    covered = set().union(*(gone_through(ran(file)) for file in REPLY_FILES))
    assert sorted(set(SHIPPED) - covered) == []


def test_what_is_run_by_itself_is_run_on_an_ordinary_day(ran: Ran) -> None:
    """To its end and without a deviation, on both sides of the equator."""
    ordinary = {(file.procedure, file.site): file for file in REPLY_FILES if not file.kind}
    for procedure in ENTRIES:
        for site in SITES_OF[home(procedure).name][:2]:
            assert (procedure, site) in ordinary
            run = ran(ordinary[procedure, site])
            assert run.state.status == "finished"
            assert [e for entry in run.entries for e in entry.then if e["is"] == "deviation"] == []


def test_what_is_run_by_itself_has_a_bad_day_too() -> None:
    """Out of tolerance, escalated, accepted or stopped: nothing is proved by good days alone."""
    assert {file.procedure for file in REPLY_FILES if file.kind} == set(ENTRIES)


@pytest.mark.parametrize("file", REPLY_FILES, ids=lambda file: file.path.name)
def test_every_run_holds_when_it_is_worked_out_again(file: ReplyFile, ran: Ran) -> None:
    """Every reply is used in its place (run_shipped), the run is over, and verify finds nothing."""
    run = ran(file)
    assert run.state.status in ("finished", "stopped")
    (run.folder.path / "log.md").write_bytes(render_log(run).encode())
    checks = verify(run.folder.path)
    assert not isinstance(checks, Problem)
    assert passed(checks), checks


@pytest.mark.parametrize("procedure", ENTRIES)
def test_every_site_says_all_that_a_procedure_of_its_set_asks(procedure: str) -> None:
    """Nothing is missing, of another kind, outside its limits or misspelt."""
    _, program = built_program(procedure)
    for site in SITES_OF[home(procedure).name]:
        read = read_site((SITES / f"{site}.toml").read_bytes(), f"{site}.toml")
        assert isinstance(read, Site), read
        facts = resolve_facts(program, read)
        assert isinstance(facts, dict), (site, [finding.message for finding in facts])
        assert {fact for fact, symbol in program.site_facts.items() if symbol.default is None} <= set(facts)
