"""Every shipped procedure at a northern and a southern site: the logs differ only where hemisphere or site facts do."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from shipped import SITES, body_of, masked, run_shipped

from proclang.log.render import render_log
from proclang.program import model as m
from proclang.session.run import OpenedRun

PROCEDURES = ("level_base", "azimuth_limits")


@pytest.fixture(scope="module", params=PROCEDURES)
def pair(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[OpenedRun, OpenedRun]:
    """The same procedure run from the shipped replies at both sites."""
    folder = tmp_path_factory.mktemp(request.param)
    north, south = (
        run_shipped(request.param, site, f"{request.param}.{site}.replies", folder / site)
        for site in ("northern", "southern")
    )
    return north, south


def test_both_runs_are_finished_and_say_that_they_are_examples(pair: tuple[OpenedRun, OpenedRun]) -> None:
    for run in pair:
        assert run.state.status == "finished"
        assert "training example" in "\n".join(render_log(run).split("\n")[:8]).lower()


def test_every_differing_line_belongs_to_a_hemisphere_arm_or_a_site_fact(pair: tuple[OpenedRun, OpenedRun]) -> None:
    """After masking numbers and leaving out the closing part.

    A line belongs to an arm when it names something inside an `according to hemisphere` arm, or the arm itself; to a
    site fact when it names a fact of the site file, or repeats one of its texts.
    """
    logs = [masked(body_of(render_log(run))).split("\n") for run in pair]
    differing = set(logs[0]) ^ set(logs[1])
    allowed = [*_in_hemisphere_arms(pair[0]), *_site_words()]
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
