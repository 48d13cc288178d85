"""A rehearsal reaches what can come about, leaves runs that verify, and cannot be taken for a run that counts."""

from __future__ import annotations

import json
import os
from pathlib import Path

import jsonschema
import pytest

from proclang.check.check import check_files
from proclang.cli import main as cli
from proclang.engine.model import Entry
from proclang.program.library import Disk
from proclang.program.model import Program
from proclang.session.exercise import mark_of, sentence_of
from proclang.session.outcomes import BOUND, Outcome, judged, left_after, takes_arm
from proclang.session.outcomes_list import feasible_outcomes
from proclang.session.outcomes_seen import Seen
from proclang.session.run import OpenedRun, open_run
from proclang.session.site import Site, read_site, resolve_facts

ROOT = Path(__file__).parents[2]
SITES = ROOT / "procedures" / "sites"
OBSERVATORY = ROOT / "procedures" / "observatory"

ALL = os.environ.get("PROCLANG_REHEARSE_ALL") == "1"


def program_of(path: Path) -> Program:
    program = check_files(path.stem, path.read_bytes(), Disk(str(path.parent))).built.program
    assert program is not None
    return program


def facts_at(program: Program, site: str) -> dict[str, str]:
    path = SITES / f"{site}.toml"
    read = read_site(path.read_bytes(), path.name)
    assert isinstance(read, Site)
    facts = resolve_facts(program, read)
    assert isinstance(facts, dict)
    return facts


def rehearse(into: Path, procedure: Path, *sites: str) -> tuple[int, Path]:
    named = [word for site in sites for word in ("--site", str(SITES / f"{site}.toml"))]
    return cli.main(["rehearse", str(procedure), *named, "--into", str(into), "--format", "json"]), into


def told(capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    facts = json.loads(capsys.readouterr().out)
    assert isinstance(facts, dict)
    return facts


@pytest.mark.parametrize("name", ["read_level", "clear_lift", "storm_exit"])
def test_all_that_can_come_about_does_and_every_run_verifies(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _ = rehearse(tmp_path / "runs", OBSERVATORY / f"{name}.proc", "northern", "southern")
    facts = told(capsys)
    form = json.loads((ROOT / "proclang" / "cli" / "schemas" / "rehearse.schema.json").read_text(encoding="utf-8"))
    jsonschema.validate(facts, form)
    assert facts["missing"] == []
    assert facts["reached"] == facts["feasible"] != 0
    runs = facts["runs"]
    assert isinstance(runs, list)
    assert all(run["verifies"] for run in runs)
    assert {run["status"] for run in runs} == {"finished", "stopped"}
    assert code == 0
    # The same once more, by the command that anybody has.
    for run in runs:
        assert cli.main(["verify", run["folder"]]) == 0
    assert "REHEARSAL" in capsys.readouterr().out


PROCEDURE = """\
proclang 1
procedure try_ways "Try the ways, training example, all values invented"

inputs
  latitude: angle
  slab: one of concrete, steel = concrete

needs
  instrument gauge "gauge", reads to 0.01 mm, accurate to 0.02 mm
  crew lead
  authority lead

section level "Level"
  repeat levelling at most 3 times
    step read_gap "Read the gap." by lead
      measure gap in mm using gauge
        within 0 ± 1 mm
    leave when gap passes
  otherwise
    step note_gap "Note it." by lead
  when gap fails
    hold ask_maker "Ask the maker" by lead
  according to slab
    concrete
      step wait "Wait." by lead
    steel
      step wipe "Wipe." by lead
"""

SITE = '[site]\nname = "plain_ground"\ntraining = true\n[facts]\nlatitude = "40 deg"\n'


@pytest.fixture
def small(tmp_path: Path) -> Path:
    (tmp_path / "try_ways.proc").write_text(PROCEDURE, encoding="utf-8")
    (tmp_path / "plain.toml").write_text(SITE, encoding="utf-8")
    return tmp_path


def test_the_list_leaves_out_what_the_site_excludes_and_keeps_what_a_loop_can_come_to(small: Path) -> None:
    program = program_of(small / "try_ways.proc")
    listed = feasible_outcomes(program, [{"latitude": "40 deg", "slab": "steel"}])
    says = {outcome.says for outcome in listed if outcome.routine}
    assert takes_arm("steel") in says
    assert takes_arm("concrete") not in says
    assert {left_after(1), left_after(2), left_after(3), BOUND} <= says
    assert {judged("gap", "passes"), judged("gap", "fails")} <= says
    assert judged("gap", "undecided") not in says  # not guarded
    both = feasible_outcomes(program, [{"slab": "steel"}, {"slab": "concrete"}])
    assert {takes_arm("steel"), takes_arm("concrete")} <= {outcome.says for outcome in both}


def test_what_cannot_be_behind_a_loop_is_not_in_the_list(small: Path) -> None:
    text = PROCEDURE.replace('  otherwise\n    step note_gap "Note it." by lead\n', "").replace(
        "        within 0 ± 1 mm\n", "        within 0 ± 1 mm\n        no deviation\n"
    )
    (small / "try_ways.proc").write_text(text, encoding="utf-8")
    listed = feasible_outcomes(program_of(small / "try_ways.proc"), [{}])
    # Nobody may leave the loop with a gap that fails: so behind it no gap fails.
    assert not [x for x in listed if x.address == "level/when" and x.says == "holds"]
    assert [x for x in listed if x.address == "level/when" and x.says == "does not hold"]


def entries(*then: dict[str, object]) -> list[Entry]:
    from proclang.engine.model import Reply

    return [Entry("x", Reply(""), tuple(then))]


def test_a_way_that_was_not_taken_is_not_seen(small: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What counts is read from the journal: without a run there is nothing, with one only its ways."""
    program = program_of(small / "try_ways.proc")
    seen = Seen(program)
    seen.follow(entries({"is": "opened", "facts": {}}))
    assert not seen.outcomes
    assert (
        cli.main(
            [
                "rehearse",
                str(small / "try_ways.proc"),
                "--site",
                str(small / "plain.toml"),
                "--into",
                str(small / "runs"),
            ]
        )
        == 0
    )
    text = capsys.readouterr().out
    assert "(100 %)" in text
    first = sorted((small / "runs").iterdir())[0]
    run = open_run(first)
    assert isinstance(run, OpenedRun)
    seen.follow(run.entries)
    assert Outcome("try_ways", "level/according_to_slab", takes_arm("concrete")) in seen.outcomes
    assert Outcome("try_ways", "level/according_to_slab", takes_arm("steel")) not in seen.outcomes


def test_the_same_seed_gives_the_same_replies(small: Path) -> None:
    calls = ["rehearse", str(small / "try_ways.proc"), "--site", str(small / "plain.toml")]
    for into in ("a", "b"):
        assert cli.main([*calls, "--into", str(small / into)]) == 0
    assert cli.main([*calls, "--into", str(small / "c"), "--seed", "2"]) == 0

    def replies(into: str) -> list[list[str]]:
        found = []
        for folder in sorted((small / into).iterdir()):
            run = open_run(folder)
            assert isinstance(run, OpenedRun)
            found.append([entry.reply.text for entry in run.entries])
        return found

    assert replies("a") == replies("b") != replies("c")


def test_a_rehearsal_is_marked_everywhere_and_nobody_goes_on_with_it(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    calls = ["rehearse", str(small / "try_ways.proc"), "--site", str(small / "plain.toml")]
    assert cli.main([*calls, "--into", str(small / "runs")]) == 0
    folder = sorted((small / "runs").iterdir())[0]
    run = open_run(folder)
    assert isinstance(run, OpenedRun)
    assert mark_of(run.opened) == "REHEARSAL"
    log = (folder / "log.md").read_text(encoding="utf-8")
    assert log.startswith("# REHEARSAL: ")
    headings = [line for line in log.splitlines() if line.startswith("##")]
    assert log.count("\n**REHEARSAL**\n") == len(headings)
    capsys.readouterr()
    assert cli.main(["status", str(folder)]) == 0
    assert "REHEARSAL: nobody did any of this" in capsys.readouterr().out
    assert cli.main(["resume", str(folder), "--plain"]) == 2
    assert "this is a rehearsal" in capsys.readouterr().err


def test_practice_is_marked_at_every_question_and_in_the_log(small: Path, capsys: pytest.CaptureFixture[str]) -> None:
    replies = small / "day.replies"
    replies.write_text(
        "opening/crew/lead = Ada Quill\nopening/instrument/gauge = G1\n"
        "try_ways/level/levelling#1/read_gap/gap = 0.2 mm\ntry_ways/level/wait = done\n",
        encoding="utf-8",
    )
    folder = small / "practised"
    code = cli.main(
        ["run", str(small / "try_ways.proc"), "--site", str(small / "plain.toml"), "--into", str(folder),
         "--practice", "--clock", "stepped", "--replies", str(replies)]
    )  # fmt: skip
    shown = capsys.readouterr()
    assert code == 0, shown.err
    prompts = [line for line in shown.out.splitlines() if line.rstrip().endswith(("Ada Quill", "G1", "0.2 mm", "done"))]
    assert len(prompts) >= 4
    assert all(line.startswith("PRACTICE ") for line in prompts if ": " in line and "Entry" not in line)
    run = open_run(folder)
    assert isinstance(run, OpenedRun)
    assert sentence_of(run.opened).startswith("PRACTICE: ")
    assert "**PRACTICE**" in (folder / "log.md").read_text(encoding="utf-8")
    assert cli.main(["verify", str(folder)]) == 0
    assert "PRACTICE" in capsys.readouterr().out


SHIPPED = [
    *((path, ("northern", "southern")) for path in sorted(OBSERVATORY.glob("*.proc")) if path.stem != "fork_mount"),
    *(
        (path, ("vault_north", "vault_south"))
        for path in sorted((ROOT / "procedures" / "vault").glob("*.proc"))
        if path.stem not in ("seismic_vault", "leave_vault")
    ),
]


@pytest.mark.skipif(not ALL, reason="takes many minutes; set PROCLANG_REHEARSE_ALL=1")
@pytest.mark.parametrize(("procedure", "sites"), SHIPPED, ids=[path.stem for path, _ in SHIPPED])
def test_the_shipped_set(
    procedure: Path, sites: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _ = rehearse(tmp_path / "runs", procedure, *sites)
    facts = told(capsys)
    assert facts["missing"] == []
    assert code == 0
