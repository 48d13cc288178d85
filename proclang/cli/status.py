"""`proclang status`: where a run stands. Nothing is changed."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from proclang.cli import sitting, streams

if TYPE_CHECKING:
    from proclang.session.lock import Held
    from proclang.session.run import OpenedRun

SCHEMA = 1
"""Version of the JSON form. Keys may be added under the same number, never renamed or dropped."""

TABLES = ("look",)

EXAMPLES = """\
examples
  proclang status runs/ridge
  proclang status runs/ridge --format json

exit codes
  0 it can be read; 1 the journal is damaged; 2 no run there, or one that cannot be read
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("folder", metavar="DIR", help="the folder the run is kept in")
    parser.add_argument("--format", choices=("text", "json"), default="text", help="for people, or for programs")


def beside(arguments: argparse.Namespace) -> str:
    """The folder of the run, for its settings."""
    return arguments.folder or ""


def run(arguments: argparse.Namespace) -> int:
    """Exit codes: 0 readable, 1 damaged, 2 no run there or not to be read."""
    from proclang.session.files import Files, StorageError
    from proclang.session.run import open_run
    from proclang.text.diagnostic import Problem

    files = Files()
    path = Path(arguments.folder)
    try:
        with streams.Working("reading the run"):
            opened = open_run(path, files)
        if isinstance(opened, Problem):
            sitting.say_problem(opened, arguments.folder)
            return sitting.UNFINISHED if opened.code == "damaged" else sitting.UNUSABLE
        holder = _holder(opened, files)
    except StorageError as error:
        sitting.say(f"proclang: {error}")
        return sitting.UNUSABLE
    facts = _facts(opened, holder)
    if arguments.format == "json":
        import json

        sitting.put_data(json.dumps({"schema": SCHEMA, **facts}, indent=2) + "\n")
    else:
        sitting.put(_text(facts))
    return 0


def _holder(opened: OpenedRun, files: Any) -> Held | None:
    """Who has the journal; the lock is tried on a descriptor for reading and let go at once."""
    from proclang.session.files import storage_error
    from proclang.session.lock import take

    journal = opened.folder.journal
    try:
        descriptor = files.open_read(journal)
        try:
            return take(files, descriptor, opened.folder.path)
        finally:
            files.close(descriptor)
    except OSError as error:
        raise storage_error(error, "looking who has the journal", journal) from error


def _facts(opened: OpenedRun, holder: Held | None) -> dict[str, Any]:
    from proclang.engine.model import Request
    from proclang.session.outlook import off_the_ways, unproved_now

    # On the ways of the procedure all was proved before the run began.
    left = any(off_the_ways(entry) for entry in opened.entries)
    unproved = unproved_now(opened.program, opened.state) if left else ()
    about, request = opened.opened, opened.request
    times = [e.reply.stamp.get("utc", "") for e in opened.entries]
    deviations = sum(event["is"] == "deviation" for entry in opened.entries for event in entry.then)
    question = None
    if isinstance(request, Request):
        question = {
            "address": request.address,
            "prompt": request.prompt,
            "section": request.section,
            "section_number": list(request.section_number) if request.section_number else None,
            "step": request.title,
            "step_number": list(request.number) if request.number else None,
            "within": list(request.within),
        }
    return {
        "run": about.get("run", ""),
        "procedure": about.get("procedure", ""),
        "title": about.get("title", ""),
        "revision": about.get("revision", ""),
        "site": about.get("site", ""),
        "site_title": about.get("site_title", ""),
        "training": bool(about.get("training")),
        "exercise": about.get("exercise") or None,
        "status": opened.state.status,
        "entries": len(opened.entries),
        "deviations": deviations,
        "first": times[0],
        "last": times[-1],
        "question": question,
        "unproved": [{"code": x.code, "message": x.message, "how": x.hint} for x in unproved],
        "torn_bytes": len(opened.reading.torn),
        "held_by": {"pid": holder.pid, "host": holder.host, "since": holder.since} if holder is not None else None,
        "head": opened.reading.head,
    }


_STATUS = {"running": "under way", "stopping": "stopped, being made safe"}


def _text(facts: dict[str, Any]) -> str:
    from proclang.session.exercise import sentence_of
    from proclang.text.printable import printable

    revision = f", revision {facts['revision']}" if facts["revision"] else ""
    entries = f"{facts['entries']} entries, {facts['deviations']} deviation{'' if facts['deviations'] == 1 else 's'}"
    lines = [
        f"Procedure: {facts['title']} ({facts['procedure']}){revision}",
        f"Site: {facts['site_title']} ({facts['site']})",
        *(["TRAINING: nothing recorded here counts as done on a real machine."] if facts["training"] else []),
        *([sentence_of(facts)] if facts["exercise"] else []),
        f"Run: {facts['run']}",
        f"Outcome: {_STATUS.get(facts['status'], facts['status'])}",
        f"Recorded: {entries}",
        f"First and last: {facts['first']}, {facts['last']}",
    ]
    question = facts["question"]
    if question is not None:
        lines.append(f"Open question: {question['prompt']} ({question['address']})")
        numbered = (("section", question["section_number"]), ("step", question["step_number"]))
        titles = (question["section"], question["step"])
        places = [
            f"{word} {number[0]} of {number[1]}, {title}" if number else title
            for (word, number), title in zip(numbered, titles, strict=True)
            if title
        ]
        lines.append(f"Where: {'; '.join([*places, *question['within']])}")
    lines += ["Not proved any more on what is left:"] if facts["unproved"] else []
    lines += [f"- {x['message']}{f' ({how})' if (how := x['how']) else ''}" for x in facts["unproved"]]
    if facts["torn_bytes"]:
        lines.append(f"Half-written: {facts['torn_bytes']} bytes, never acknowledged; `resume` sets them aside")
    held = facts["held_by"]
    if held is not None:
        who = f"process {held['pid']}" if held["pid"] is not None else "another process"
        where = f" on {held['host']}" if held["host"] else ""
        since = f" since {held['since']}" if held["since"] else ""
        lines.append(f"Open in: {who}{where}{since}")
    lines.append(f"Head of the journal: {facts['head']}")
    return "".join(piece + "\n" for line in lines for piece in streams.fitted(printable(line), sys.stdout))
