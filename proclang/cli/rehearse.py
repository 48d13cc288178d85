"""`proclang rehearse`: go through everything a procedure can come to, with a made-up crew and the real engine."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from proclang.cli import sitting, streams

if TYPE_CHECKING:
    from proclang.program.load import FileSet
    from proclang.program.model import Program
    from proclang.session.rehearsal import Course
    from proclang.session.site import Site

SCHEMA = 1
"""Version of the JSON form. Keys may be added under the same number, never renamed or dropped."""

TABLES = ("run", "look")

EXAMPLES = """\
examples
  proclang rehearse level_base.proc --site ridge.toml --into rehearsed
  proclang rehearse level_base.proc --site ridge.toml --site pampa.toml --into rehearsed
  proclang rehearse level_base.proc --site ridge.toml --into rehearsed --format json

exit codes
  0 everything that can come about did, and every run verifies; 1 something did not, a run does not verify, or there
  are findings in what was given; 2 an unusable call, folder or disk
"""

SHORT, REACHED, UNUSABLE = 1, 0, 2
_MOST_SAID = 6


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("procedure", metavar="PROCEDURE", help="the procedure file, NAME.proc")
    parser.add_argument(
        "--site", metavar="SITE", action="append", required=True,
        help="a site file, TOML; may be given more than once, and all sites count together",
    )  # fmt: skip
    parser.add_argument(
        "--into", metavar="DIR",
        help="the folder to put the run folders in, each new (usually: `rehearsed` in `run.folder`)",
    )  # fmt: skip
    parser.add_argument("--seed", metavar="NUMBER", type=int, default=1, help="what the readings are drawn with")
    parser.add_argument("--format", choices=("text", "json"), default="text", help="for people, or for programs")


def beside(arguments: argparse.Namespace) -> str:
    """The folder of the procedure, for its settings."""
    return os.path.dirname(arguments.procedure or "")


def run(arguments: argparse.Namespace) -> int:
    """Check, rehearse at each site, keep and verify the runs, hold them against what can come about."""
    from proclang.session.files import StorageError

    if arguments.into is None and not arguments.runs_folder:
        sitting.say(
            "proclang rehearse: where are the runs to be kept?", "  --into DIR says it, or `run.folder` in the settings"
        )
        return UNUSABLE
    into = Path(arguments.into) if arguments.into is not None else Path(arguments.runs_folder) / "rehearsed"
    found = _read(arguments)
    if isinstance(found, int):
        return found
    fileset, program, sites = found
    try:
        with streams.Working("rehearsing; this takes from seconds to minutes"):
            facts = _rehearsed(arguments, fileset, program, sites, into)
    except StorageError as error:
        sitting.say(f"proclang: {error}")
        return UNUSABLE
    if arguments.format == "json":
        import json

        sitting.put_data(json.dumps({"schema": SCHEMA, **facts}, indent=2) + "\n")
    else:
        sitting.put(_text(facts))
    sound = all(x["verifies"] for x in facts["runs"])
    return REACHED if sound and not facts["missing"] else SHORT


Sites = list[tuple["Site", bytes, dict[str, str]]]


def _read(arguments: argparse.Namespace) -> tuple[FileSet, Program, Sites] | int:
    """The procedure and each site, checked; or an exit code when something is wrong, which has been said."""
    from proclang.cli.run import read_checked
    from proclang.session.site import resolve_facts

    sites: Sites = []
    fileset: FileSet | None = None
    program: Program | None = None
    for path in dict.fromkeys(arguments.site):
        found = read_checked("rehearse", arguments.procedure, path)
        if isinstance(found, int):
            return found
        fileset, program, site, site_data = found
        facts = resolve_facts(program, site)
        if isinstance(facts, tuple):
            sitting.say_findings(facts, site.source)
            return SHORT
        sites.append((site, site_data, facts))
    assert fileset is not None
    assert program is not None
    return fileset, program, sites


def _rehearsed(
    arguments: argparse.Namespace, fileset: FileSet, program: Program, sites: Sites, into: Path
) -> dict[str, Any]:
    """Rehearse, and tell of it."""
    from proclang.cli.run import make_parents
    from proclang.session.outcomes_list import feasible_outcomes
    from proclang.session.outcomes_seen import Seen
    from proclang.session.rehearsal import Rehearsal
    from proclang.session.run import OpenedRun, open_run

    rehearsal = Rehearsal(program, arguments.seed)
    make_parents(into / "run")
    told: list[dict[str, Any]] = []
    shown: dict[Any, None] = {}
    for site, site_data, facts in sites:
        for course in rehearsal.at_site({"facts": facts}):
            path = _free_name(into, program.entry, site.name)
            _keep(path, course, fileset, program, site_data, site)
            opened = open_run(path)
            if isinstance(opened, OpenedRun):
                # Only what the journal on the disk shows counts.
                seen = Seen(opened.program)
                seen.follow(opened.entries)
                shown.update(seen.outcomes)
            told.append(_told(path, site.name, opened))
    feasible = feasible_outcomes(program, [facts for _, _, facts in sites])
    missing = [outcome for outcome in feasible if outcome not in shown]
    finished = [x for x in told if x["status"] == "finished"]
    return {
        "procedure": program.entry,
        "title": program.main.title,
        "sites": [site.name for site, _, _ in sites],
        "seed": arguments.seed,
        "feasible": len(feasible),
        "reached": len(feasible) - len(missing),
        "missing": [_placed(fileset, outcome, feasible[outcome]) for outcome in missing],
        "runs": told,
        "longest": max(finished, key=_long, default={}).get("folder"),
        "shortest": min(finished, key=_long, default={}).get("folder"),
    }


def _long(told: dict[str, Any]) -> tuple[int, float]:
    return told["questions"], told["minutes"][1]


def _free_name(into: Path, procedure: str, site: str) -> Path:
    numbers = (into / f"{procedure}-{site}-{n:03}" for n in range(1, 100_000))
    return next(path for path in numbers if not os.path.lexists(path))


def _keep(path: Path, course: Course, fileset: FileSet, program: Program, site_data: bytes, site: Site) -> None:
    from proclang.log.render import render_log
    from proclang.session.rehearsal_folder import keep
    from proclang.session.run import OpenedRun, open_run

    keep(path, course, fileset, program, site_data, site)
    opened = open_run(path)
    text = render_log(opened) if isinstance(opened, OpenedRun) else None
    if isinstance(opened, OpenedRun) and isinstance(text, str):
        opened.folder.write_log(text)


def _told(path: Path, site: str, opened: Any) -> dict[str, Any]:
    """What is told of one run; whether it verifies is looked up in its folder like that of any run."""
    from proclang.log.rehearsed import length, unproved
    from proclang.log.verify import passed, verify
    from proclang.session.run import OpenedRun
    from proclang.text.diagnostic import Problem

    checks = verify(path)
    wrong = [checks.message] if isinstance(checks, Problem) else []
    if not isinstance(checks, Problem) and not passed(checks):
        wrong = [f"{x.name}: {x.says}" for x in checks if x.outcome not in ("holds", "marginal")]
    if not isinstance(opened, OpenedRun):
        return {
            "folder": str(path), "site": site, "status": "unreadable", "questions": 0, "minutes": [0.0, 0.0],
            "unproved": [], "verifies": False, "wrong": [opened.message, *wrong],
        }  # fmt: skip
    measured = length(opened.program, opened.entries)
    return {
        "folder": str(path),
        "site": site,
        "status": opened.state.status,
        "questions": measured.questions,
        "minutes": [round(float(measured.least), 1), round(float(measured.most), 1)],
        "unproved": list(unproved(opened)),
        "verifies": not wrong,
        "wrong": wrong,
    }


def _placed(fileset: FileSet, outcome: Any, instr: Any) -> dict[str, Any]:
    source = fileset.sources.get(instr.span.file)
    line = source.place(instr.span.start)[0] if source is not None else 0
    return {
        "procedure": outcome.routine,
        "statement": outcome.address,
        "outcome": outcome.says,
        "file": instr.span.file,
        "line": line,
        "why": "no reading or answer was found from which it follows",
    }


# ---------------------------------------------------------------------------- for people


def _text(facts: dict[str, Any]) -> str:
    from proclang.text.printable import printable

    feasible, reached = facts["feasible"], facts["reached"]
    share = reached * 100 // feasible if feasible else 100
    lines = [
        f"REHEARSAL of {facts['title']} ({facts['procedure']}), at {', '.join(facts['sites'])}",
        "Nobody did any of this: every answer and every reading is made up.",
        f"Outcomes that can come about: {feasible}; reached: {reached} ({share} %)",
    ]
    for missing in facts["missing"]:
        lines.append(
            f"- {missing['file']}:{missing['line']}: {missing['statement']} {missing['outcome']}: not reached, "
        )
        lines[-1] += missing["why"]
    runs = facts["runs"]
    stopped = sum(x["status"] == "stopped" for x in runs)
    lines.append(f"Runs: {len(runs)}, {stopped} of them stopped; seed {facts['seed']}")
    by_folder = {x["folder"]: x for x in runs}
    for word in ("shortest", "longest"):
        told = by_folder.get(facts[word])
        if told is not None:
            least, most = told["minutes"]
            takes = f", said to take {least:g} to {most:g} min" if most else ""
            lines.append(f"The {word} that finished: {told['questions']} questions{takes}; {told['folder']}")
    open_ = [x for x in runs if x["unproved"]]
    lines.append(f"Runs that finished with something unproved: {len(open_)}")
    for told in open_:
        said = told["unproved"]
        more = f"; and {len(said) - _MOST_SAID} more" if len(said) > _MOST_SAID else ""
        lines.append(f"- {told['folder']}: {'; '.join(said[:_MOST_SAID])}{more}")
    wrong = [x for x in runs if not x["verifies"]]
    lines.append("Every run verifies." if not wrong else f"Runs that do not verify: {len(wrong)}")
    lines += [f"- {x['folder']}: {'; '.join(x['wrong'][:_MOST_SAID])}" for x in wrong]
    return "".join(piece + "\n" for line in lines for piece in streams.fitted(printable(line), sys.stdout))
