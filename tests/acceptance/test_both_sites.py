"""Every shipped procedure at a northern and a southern site: the logs differ only where hemisphere or site facts do."""

from __future__ import annotations

import re

import pytest
from shipped import REPLY_FILES, SITES, SITES_OF, ReplyFile, body_of, home, masked, run_shipped

from proclang.log.render import render_log
from proclang.program import model as m
from proclang.session.run import OpenedRun

_SURE = re.compile(r", conforms with (?:more than |less than )?# %")
_BY_PLACE = ("to_mark",)
"""Readings whose sign or unit follows from where on Earth they are taken: the shadow falls otherwise."""

FILES = {file.path.name: file for file in REPLY_FILES}


def across(file: ReplyFile) -> str:
    """The name of the replies of the same day on the other side of the equator."""
    north, south, *_ = SITES_OF[home(file.procedure).name]
    return file.path.name.replace(f".{north}.", f".{south}.")


NORTHERN = [file for file in REPLY_FILES if across(file) != file.path.name and across(file) in FILES]
"""Every day that has replies on both sides."""


@pytest.fixture(scope="module", params=NORTHERN, ids=lambda file: file.path.name)
def pair(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[OpenedRun, OpenedRun]:
    """The same procedure run from the shipped replies at both sites."""
    folder = tmp_path_factory.mktemp(request.param.procedure)
    files = (request.param, FILES[across(request.param)])
    north, south = (run_shipped(file.procedure, file.site, file.path.name, folder / file.site) for file in files)
    return north, south


def test_the_days_are_there() -> None:
    """The other tests go through what they find; this one says what there must be."""
    assert {"level_base", "azimuth_limits", "set_seismometer"} <= {file.procedure for file in NORTHERN}
    # A day that is told for one side only would not be compared.
    alone = [
        file.path.name
        for file in REPLY_FILES
        if file.site == SITES_OF[home(file.procedure).name][0] and across(file) not in FILES
    ]
    assert alone == []


def test_both_runs_end_alike_and_say_that_they_are_examples(pair: tuple[OpenedRun, OpenedRun]) -> None:
    assert pair[0].state.status == pair[1].state.status
    for run in pair:
        assert run.state.status in ("finished", "stopped")
        assert "training example" in "\n".join(render_log(run).split("\n")[:8]).lower()


def test_every_differing_line_belongs_to_a_hemisphere_arm_or_a_site_fact(pair: tuple[OpenedRun, OpenedRun]) -> None:
    """After masking numbers and leaving out the closing part.

    A line belongs to an arm when it names something inside an `according to hemisphere` arm, or the arm itself; to a
    site fact when it names a fact of the site file, or repeats one of its texts.
    """
    # How sure a verdict is follows from the numbers, and is told only where it could be doubted.
    logs = [_SURE.sub("", masked(body_of(render_log(run)))).split("\n") for run in pair]
    differing = set(logs[0]) ^ set(logs[1])
    allowed = [*_in_hemisphere_arms(pair[0]), *_site_words(), *_BY_PLACE]
    stray = sorted(line for line in differing if not any(word in line for word in allowed))
    assert stray == []
    # The check can fail: the two hemispheres do differ.
    assert differing


def test_lines_that_are_the_same_come_in_the_same_order(pair: tuple[OpenedRun, OpenedRun]) -> None:
    logs = [masked(body_of(render_log(run))).split("\n") for run in pair]
    common = set(logs[0]) & set(logs[1])
    assert [x for x in logs[0] if x in common] == [x for x in logs[1] if x in common]


def _in_hemisphere_arms(run: OpenedRun) -> set[str]:
    """Names of steps and values inside hemisphere arms, and the branch itself, as a log writes them."""
    names = {"hemisphere"}
    for routine in run.program.routines.values():
        for instr in routine.code:
            if "hemisphere=" in instr.address:
                names.add(instr.identity.rsplit("/", 1)[1] if "/" in instr.identity else instr.identity)
                if isinstance(instr, (m.Read, m.Ask, m.SetInstr)):
                    names.add(instr.symbol.name)
                if isinstance(instr, m.ComputeValue):
                    names.update(symbol.name for symbol, _, _ in instr.targets)
    return {name for name in names if not name.startswith(".")}


def _site_words() -> set[str]:
    """Keys and texts of the site files, numbers masked."""
    words: set[str] = set()
    for path in SITES.glob("*.toml"):
        text = path.read_text(encoding="utf-8")
        words.update(re.findall(r"^(\w+) =", text, re.MULTILINE))
        words.update(masked(value) for value in re.findall(r'^(?:name|title) = "(.*)"', text, re.MULTILINE))
    return words
