"""`run`, `resume`, `status` as commands: what they refuse, with which code, and what they leave untouched."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "drivers"))  # the sample procedure and the ways to run it

from drive_help import (
    PROGRAM,
    ROOT,
    SAMPLES,
    at_once,
    environment,
    opened,
    ordinary,
    proclang,
    recorded,
    resume_arguments,
    run_arguments,
    samples_in,
    typed_day,
)

HALF = 12


@pytest.fixture
def left(tmp_path: Path) -> Path:
    """A run left in the middle."""
    folder = tmp_path / "run"
    at_once(*run_arguments(folder), typed=typed_day(ordinary()[:HALF]))
    assert len(recorded(folder)) == HALF
    return folder


def listing(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


# ---------------------------------------------------------------------------- what is checked before a run begins


def test_mistakes_in_the_procedure_are_shown_and_nothing_is_begun(tmp_path: Path) -> None:
    """All of them, at their place, as `check` shows them."""
    samples = samples_in(tmp_path / "set")
    path = samples / "rinse.proc"
    path.write_text(
        path.read_text().replace("in mm using gauge", "in mmm using gauge").replace("tap is open", "tap is ajar")
    )
    done = proclang(*run_arguments(tmp_path / "run", samples=samples))
    assert done.returncode == 1
    shown = done.stderr.decode()
    checked = proclang("check", path).stdout.decode()
    assert "unknown-unit" in shown
    assert "unknown-state" in shown
    assert checked.strip() in shown
    assert not (tmp_path / "run").exists()


def test_a_warning_is_shown_and_the_run_begins(tmp_path: Path) -> None:
    """Only an error keeps a procedure from being run."""
    samples = samples_in(tmp_path / "set")
    path = samples / "rinse.proc"
    path.write_text(
        path.read_text()
        .replace("  authority lead\n", "")
        .replace("    leave when", "    compute unused = drift * 2\n    leave when")
    )
    done = proclang(*run_arguments(tmp_path / "run", samples=samples), typed="Ada Quill\n")
    assert "warning[" in done.stderr.decode()
    assert recorded(tmp_path / "run") == [("opening/crew/lead", "answer", "Ada Quill")]


SITES = {
    "no toml": ("site-syntax", "[site\n"),
    "no name": ("site-shape", "[facts]\n"),
    "a fact without a unit": ("wrong-fact", '[site]\nname = "x"\n[facts]\nvolume = "3"\n'),
    "a misspelt fact": ("unlike-fact", '[site]\nname = "x"\n[facts]\nvolumes = "3 L"\n'),
}


@pytest.mark.parametrize("site", SITES)
def test_mistakes_in_the_site_are_shown_and_nothing_is_begun(tmp_path: Path, site: str) -> None:
    code, text = SITES[site]
    samples = samples_in(tmp_path / "set")
    (samples / "tank.toml").write_text(text)
    done = proclang(*run_arguments(tmp_path / "run", samples=samples))
    assert done.returncode == 1
    assert f"error[{code}]" in done.stderr.decode()
    assert "tank.toml:" in done.stderr.decode()
    assert not (tmp_path / "run").exists()


def test_a_machine_file_is_not_run(tmp_path: Path) -> None:
    done = proclang("run", SAMPLES / "rig.proc", "--site", SAMPLES / "tank.toml", "--into", tmp_path / "run")
    assert done.returncode == 2
    assert "machine file" in done.stderr.decode()


@pytest.mark.parametrize("kind", ["missing", "folder", "pipe", "other name"])
def test_a_procedure_that_is_no_file_is_an_unusable_call(tmp_path: Path, kind: str) -> None:
    """A named pipe does not hang, a folder is no traceback."""
    path = tmp_path / ("rinse.txt" if kind == "other name" else "rinse.proc")
    if kind == "folder":
        path.mkdir()
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind == "other name":
        shutil.copy(SAMPLES / "rinse.proc", path)
    done = proclang("run", path, "--site", SAMPLES / "tank.toml", "--into", tmp_path / "run")
    assert done.returncode == 2
    assert path.name in done.stderr.decode()
    assert not (tmp_path / "run").exists()


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path) -> None:
    """Nothing is ever overwritten; the words say what to do."""
    (tmp_path / "run").mkdir()
    (tmp_path / "run" / "notes.txt").write_text("mine")
    done = proclang(*run_arguments(tmp_path / "run"))
    assert done.returncode == 2
    assert "Name a new or an empty folder" in done.stderr.decode()
    assert listing(tmp_path / "run") == {"notes.txt": b"mine"}


def test_an_empty_folder_and_folders_that_are_not_there_yet_are_used(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    for folder in (tmp_path / "empty", tmp_path / "new" / "deeper" / "run"):
        proclang(*run_arguments(folder), typed="Ada Quill\n")
        assert recorded(folder) == [("opening/crew/lead", "answer", "Ada Quill")]


def test_a_run_does_not_need_the_files_it_was_begun_with(tmp_path: Path) -> None:
    """The procedure may be edited meanwhile; the run goes on with what it was begun with."""
    samples = samples_in(tmp_path / "set")
    at_once(*run_arguments(tmp_path / "run", samples=samples), typed=typed_day(ordinary()[:HALF]))
    shutil.rmtree(samples)
    assert at_once(*resume_arguments(tmp_path / "run"), typed=typed_day(ordinary()[HALF:])) == 0


def test_no_input_without_replies_says_what_would_answer(tmp_path: Path) -> None:
    done = proclang(*run_arguments(tmp_path / "run", "--no-input"))
    assert done.returncode == 2
    assert "--replies FILE" in done.stderr.decode()
    assert not (tmp_path / "run").exists()


@pytest.mark.parametrize("command", ["run", "resume", "status"])
def test_help_begins_with_examples(command: str) -> None:
    done = proclang(command, "--help")
    assert done.returncode == 0
    assert done.stdout.decode().startswith(f"examples\n  proclang {command} ")
    assert done.stderr == b""


def test_a_misspelt_option_is_an_unusable_call_with_a_suggestion(tmp_path: Path) -> None:
    done = proclang(*run_arguments(tmp_path / "run", "--reply", "x"))
    assert done.returncode == 2
    assert "--replies" in done.stderr.decode()


# ---------------------------------------------------------------------------- streams that are not there


def shell(command: str, folder: Path) -> subprocess.CompletedProcess[bytes]:
    words = " ".join([*PROGRAM, *run_arguments(folder)])
    return subprocess.run(
        ["/bin/sh", "-c", command.format(words)],
        cwd=ROOT,
        env=environment(),
        capture_output=True,
        timeout=60,
        check=False,
    )


def test_without_an_output_nothing_is_begun(tmp_path: Path) -> None:
    done = shell("{} >&-", tmp_path / "run")
    assert done.returncode == 2
    assert b"standard output is closed" in done.stderr
    assert not (tmp_path / "run").exists()


@pytest.mark.parametrize("none", ["<&-", "</dev/null"])
def test_without_anybody_who_answers_nothing_is_begun(tmp_path: Path, none: str) -> None:
    """Started by a timer or a service, nothing is ever asked; it is said what would answer."""
    done = shell(f"{{}} {none}", tmp_path / "run")
    assert done.returncode == 2
    assert b"nobody can answer" in done.stderr
    assert b"--replies FILE" in done.stderr
    assert done.stdout == b""
    assert not (tmp_path / "run").exists()


def test_without_anybody_who_answers_a_run_is_not_gone_on_with(left: Path) -> None:
    before = listing(left)
    words = " ".join([*PROGRAM, *resume_arguments(left)])
    done = subprocess.run(
        ["/bin/sh", "-c", f"{words} </dev/null"], cwd=ROOT, env=environment(), capture_output=True, check=False
    )
    assert done.returncode == 2
    assert b"nobody can answer" in done.stderr
    assert listing(left)["journal.jsonl"] == before["journal.jsonl"]


def test_a_pipe_that_is_empty_leaves_the_first_question_open(tmp_path: Path) -> None:
    """A pipe is read like what is typed; when it ends, a run is unfinished, and it is said how to go on."""
    done = proclang(*run_arguments(tmp_path / "run"))
    assert done.returncode == 1
    assert f"proclang resume {tmp_path / 'run'}" in done.stderr.decode()
    assert recorded(tmp_path / "run") == []


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="only where there is a device that is always full")
def test_an_output_that_takes_nothing_ends_the_run_without_loss(tmp_path: Path) -> None:
    done = shell("echo | {} >/dev/full", tmp_path / "run")
    assert done.returncode == 2
    assert b"nothing can be shown any more" in done.stderr
    assert b"Traceback" not in done.stderr
    assert recorded(tmp_path / "run") == []


def test_a_reader_that_goes_away_ends_the_run_without_loss(tmp_path: Path) -> None:
    """`proclang run ... | head -1`."""
    (tmp_path / "typed").write_text(typed_day())
    done = shell(f"{{}} <{tmp_path / 'typed'} | head -1", tmp_path / "run")
    assert done.stdout == b"Rinse the sampling line, revision 2\n"
    assert b"Traceback" not in done.stderr
    kept = recorded(tmp_path / "run")
    assert kept == [(r.address, r.said.kind, r.said.text) for r in ordinary()][: len(kept)]


def test_a_folder_that_was_removed_under_the_program_is_told(tmp_path: Path) -> None:
    (tmp_path / "here").mkdir()
    entry = f"{sys.executable} -c 'from proclang.cli.main import entry; entry()'"
    script = f"cd {tmp_path / 'here'} && rmdir {tmp_path / 'here'} && {entry} status run"
    done = subprocess.run(["/bin/sh", "-c", script], env=environment(), capture_output=True, timeout=60, check=False)
    assert done.returncode == 2
    assert b"there is no run in run" in done.stderr


# ---------------------------------------------------------------------------- resume


def test_there_is_no_run_to_go_on_with(tmp_path: Path) -> None:
    for folder in (tmp_path / "none", tmp_path):
        for command in ("resume", "status"):
            done = proclang(command, folder)
            assert done.returncode == 2
            assert "there is no run in" in done.stderr.decode()


def test_a_finished_run_asks_nothing_more(tmp_path: Path) -> None:
    folder = tmp_path / "run"
    assert at_once(*run_arguments(folder), typed=typed_day()) == 0
    before = listing(folder)
    done = proclang("resume", folder)
    assert done.returncode == 0
    assert "it is finished; nothing more is asked" in done.stderr.decode()
    assert listing(folder) == before


def test_a_log_that_a_crash_left_out_is_written_by_resume(tmp_path: Path) -> None:
    folder = tmp_path / "run"
    assert at_once(*run_arguments(folder), typed=typed_day()) == 0
    log = (folder / "log.md").read_bytes()
    (folder / "log.md").unlink()
    assert proclang("resume", folder).returncode == 0
    assert (folder / "log.md").read_bytes() == log


def test_a_torn_tail_is_set_aside_and_said(left: Path) -> None:
    """What a power cut leaves behind the last whole entry was never acknowledged."""
    with (left / "journal.jsonl").open("ab") as journal:
        journal.write(b'{"n":14,"run":"20')
    status = proclang("status", left)
    assert status.returncode == 0
    assert "Half-written: 17 bytes, never acknowledged" in status.stdout.decode()
    done = proclang(*resume_arguments(left), typed="pause\n")
    assert done.returncode == 0
    assert "set aside as journal.torn-1" in " ".join(done.stdout.decode().split())
    assert (left / "journal.torn-1").read_bytes() == b'{"n":14,"run":"20'
    assert len(recorded(left)) == HALF


def test_damage_in_the_middle_is_refused_and_named(left: Path) -> None:
    data = (left / "journal.jsonl").read_bytes()
    (left / "journal.jsonl").write_bytes(data.replace(b"SG-7", b"SG-8", 1))
    before = listing(left)
    resumed = proclang("resume", left)
    assert resumed.returncode == 2
    assert "line 4 of the journal cannot be trusted" in resumed.stderr.decode()
    status = proclang("status", left)
    assert status.returncode == 1
    assert "line 4 of the journal cannot be trusted" in status.stderr.decode()
    assert listing(left) == before


def test_a_disk_that_fails_ends_the_run_and_says_the_cure(left: Path) -> None:
    """The size of files is limited to what the journal has (RLIMIT_FSIZE): the next entry cannot be kept."""
    size = (left / "journal.jsonl").stat().st_size
    code = (
        "import resource, signal, sys; signal.signal(signal.SIGXFSZ, signal.SIG_IGN);"
        f"resource.setrlimit(resource.RLIMIT_FSIZE, ({size}, {size}));"
        "from proclang.cli.main import entry; entry()"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *resume_arguments(left)], input=b"4\n", cwd=ROOT, env=environment(),
        capture_output=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert b"Raise the limit on file size" in done.stderr
    assert b"entry 14" not in done.stdout
    assert len(recorded(left)) == HALF


# ---------------------------------------------------------------------------- status


def test_status_changes_nothing_and_says_where_the_run_stands(left: Path) -> None:
    before = listing(left)
    done = proclang("status", left)
    assert done.returncode == 0
    shown = done.stdout.decode()
    for part in (
        "Procedure: Rinse the sampling line (rinse), revision 2",
        "Site: Tank Seven (invented), training example (tank_seven)",
        "TRAINING",
        "Outcome: under way",
        f"Recorded: {HALF + 1} entries, 0 deviations",
        "Open question: sediment of the draw, first (rinse/flush/flushing#2/draw/depth[first])",
    ):
        assert part in shown
    assert listing(left) == before


def test_status_for_programs(left: Path) -> None:
    done = proclang("status", left, "--format", "json")
    told = json.loads(done.stdout)
    assert told["schema"] == 1
    assert told["status"] == "running"
    assert told["entries"] == HALF + 1
    assert told["question"]["address"] == "rinse/flush/flushing#2/draw/depth[first]"
    assert told["head"] == opened(left).reading.head
    assert told["held_by"] is None
    assert done.stderr == b""


def test_status_of_a_run_without_its_first_entry(left: Path) -> None:
    """Killed right after the journal was made: there is something to go on with, and it is said how."""
    (left / "journal.jsonl").write_bytes(b"")
    done = proclang("status", left)
    assert done.returncode == 2
    assert f"proclang resume {left}" in done.stderr.decode()
    assert at_once(*resume_arguments(left), typed=typed_day()) == 0
