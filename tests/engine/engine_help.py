"""Small procedures around a few lines, on an invented machine."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping

from helpers import Run, answer_opening, program_of, start

from proclang.program.model import Program

MACHINE = """\
proclang 1
machine rig "Invented rig, training example"
kind cover
  states fitted, removed
kind nut
  states slack, tight
kind load
  states landed, test_lifted, hanging
kind beam
  states off, on
lid: cover "lid"
hood: cover "hood"
nuts[1 .. 3]: nut "base nut"
hook: load "what hangs on the hook"
lamp: beam "lamp"
interlock hood moves only while lid is removed
interlock hook is hanging only while lid is fitted
interlock lamp is on only while hood is removed
"""

NEEDS = """\
needs
  instrument gauge "gauge", reads to 0.01 mm
  crew lead, rigger, scribe
  authority lead
"""


def lines(text: str, by: int = 0) -> str:
    """A block of a test, moved to where it belongs."""
    return textwrap.indent(textwrap.dedent(text).strip("\n"), " " * by) + "\n"


def procedure(body: str, header: str = "", name: str = "job", needs: str = NEEDS) -> str:
    """A procedure of one section; `body` is what stands in it, `header` what more the header says."""
    head = f'proclang 1\nprocedure {name} "Training example"\nrevision 1\n'
    return f'{head}{lines(header) if header else ""}{needs}section work "Work"\n{lines(body, 2)}'


def program(
    body: str,
    header: str = "",
    others: Mapping[str, str] | None = None,
    needs: str = NEEDS,
) -> Program:
    """The program of a procedure around a body, with what else it performs."""
    files = {"rig": MACHINE, "job": procedure(body, header, needs=needs), **(others or {})}
    return program_of(files, "job")


def running(
    body: str,
    header: str = "",
    facts: Mapping[str, str] | None = None,
    others: Mapping[str, str] | None = None,
    needs: str = NEEDS,
) -> Run:
    """A run of it that has come to the first question of its section (Ada is lead, Bo rigger, Cy scribe)."""
    return answer_opening(start(program(body, header, others, needs), facts))
