"""A journal cut at every byte: what was complete is kept, the rest is set aside and named, and the run can be finished
to the same log but for its closing part.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from helpers import TextLibrary
from shipped import body_of

from proclang.engine.model import Entry, Over
from proclang.log.render import render_log
from proclang.program.build import build
from proclang.program.load import load
from proclang.session.clock import SteppedClock
from proclang.session.files import Files
from proclang.session.run import OpenedRun, Run, open_run, resume, start
from proclang.session.site import Site, read_site

PROCEDURE = """\
proclang 1
procedure shim "Shim a foot"
inputs
  pitch: length per angle = 2.5 mm/turn
needs
  instrument level "level", reads to 0.1 arcmin
  crew lead
  authority lead
section only "Only section"
  step read_it "Read the level." by lead
    measure tilt in arcmin using level
      at most 2 arcmin
  compute half = tilt / 2
  hold accepted "Tilt {tilt} accepted" by lead
"""
SITE = b'[site]\nname = "hollow_mesa"\ntitle = "Hollow Mesa (invented)"\ntraining = true\n[facts]\n'
REPLIES = ("Ada Quill", "LX-7", "2.5 arcmin", "adjust", "1.5", "AQ")


class NoWait(Files):
    """The real disk, not waited for: thousands of runs are made here, and none loses power."""

    def fsync(self, descriptor: int) -> None:
        pass

    def fsync_folder(self, path: Path) -> None:
        pass


def begun(path: Path) -> Run:
    library = TextLibrary({"shim": PROCEDURE})
    files = load("shim", PROCEDURE.encode(), library)
    built = build(files)
    assert built.program is not None
    site = read_site(SITE, "site.toml")
    assert isinstance(site, Site)
    run = start(path, files, built.program, SITE, site, SteppedClock(), NoWait())
    assert isinstance(run, Run)
    return run


def finish(run: Run) -> None:
    """Answer what is still asked; the entry of the opening is the one before the first reply."""
    while not isinstance(run.request, Over):
        answered = run.state.entries - 1
        assert isinstance(run.reply(REPLIES[answered]), Entry)
    run.close()


def opened(path: Path) -> OpenedRun:
    run = open_run(path, NoWait())
    assert isinstance(run, OpenedRun)
    return run


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("whole") / "run"
    finish(begun(path))
    return path


@pytest.mark.slow
def test_a_run_cut_at_any_byte_is_finished_to_the_same_log(whole: Path, tmp_path: Path) -> None:
    journal = (whole / "journal.jsonl").read_bytes()
    log = body_of(render_log(opened(whole)))
    ends = [i for i, byte in enumerate(journal) if byte == 10]
    for cut in range(len(journal) + 1):
        path = tmp_path / "cut"
        shutil.copytree(whole, path)
        (path / "journal.jsonl").write_bytes(journal[:cut])
        # A record is complete when its hash is whole; its newline is not part of it.
        kept = sum(1 for end in ends if cut >= end)
        torn = journal[ends[kept - 1] + 1 if kept else 0 : cut] if kept < len(ends) or cut > ends[-1] else b""
        torn = b"" if torn in (b"", b"\n") or cut in ends else torn
        run = resume(path, SteppedClock(), NoWait())
        assert isinstance(run, Run), (cut, run)
        assert run.state.entries == max(kept, 1), cut
        aside = run.writer.set_aside
        assert (aside.read_bytes() if aside is not None else b"") == torn, cut
        # What was kept is kept to the byte; the entries after it are new ones.
        upto = ends[kept - 1] if kept else 0
        assert (path / "journal.jsonl").read_bytes()[:upto] == journal[:upto]
        if cut % 5 and cut not in ends:
            run.close()
        else:  # what follows depends on the records kept alone: every fifth cut, and all at their ends, are finished
            finish(run)
            assert body_of(render_log(opened(path))) == log, cut
            assert (path / "journal.jsonl").read_bytes()[:upto] == journal[:upto]
        shutil.rmtree(path)
