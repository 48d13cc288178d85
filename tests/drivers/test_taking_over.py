"""`crew: ROLE NAME` at a prompt and in a file of replies: said, told in the log, and recomputed by verify; and a roster
that one person does not come through alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from drive_help import opened, ordinary, proclang, run_arguments, typed_line

from proclang.session.conduct import Said

AT = next(n for n, r in enumerate(ordinary()) if r.address.endswith("depth[first]"))
CREW = ("crew: sampler Dee Rook", "DR")
"""Dee Rook takes the samples from here on, and signs the hazards of the section first."""


def day() -> list[str]:
    """The ordinary day; whatever Bo would sign or take note of later is Dee's."""
    lines = [typed_line(reply) for reply in ordinary()]
    later = ["Dee Rook" if line in BO else line.replace("Bo Tarn", "Dee Rook") for line in lines[AT:]]
    return [*lines[:AT], *CREW, *later]


def _bo() -> set[str]:
    name = next(r.said.text for r in ordinary() if r.address == "opening/crew/sampler")
    return {name, "".join(part[0] for part in name.split())}


BO = _bo()


@pytest.fixture(scope="module")
def taken_over(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The run, and all that was shown."""
    folder = tmp_path_factory.mktemp("crew") / "run"
    lines = day()
    briefing = next(n for n, r in enumerate(ordinary()) if r.address.endswith("close/briefing"))
    lines[briefing + len(CREW)] = "lead, sampler"
    done = proclang(*run_arguments(folder, "--plain"), typed="\n".join(lines) + "\n")
    assert done.returncode == 0, done.stdout.decode()[-2000:] + done.stderr.decode()
    return folder, " ".join(done.stdout.decode().split())


def test_it_is_said_and_who_joins_is_briefed(taken_over: tuple[Path, str]) -> None:
    """The hazards are read out once more, and then the question comes back."""
    _, said = taken_over
    assert "Dee Rook is the sampler from now on, in place of" in said
    _, after = said.split("Dee Rook is the sampler from now on", 1)
    assert "WARNING: Hot water from the tap" in after
    assert "On the roster: Dee Rook (DR)." in after


def test_the_log_tells_who_had_the_role_and_who_has_it(taken_over: tuple[Path, str]) -> None:
    """The names in one place, below what differs from run to run; above it only that it happened."""
    log = (taken_over[0] / "log.md").read_text(encoding="utf-8")
    above, below = log.split("## What differs from run to run")
    name = next(name for name in BO if " " in name)
    assert f"- `sampler`: `Dee Rook`, before `{name}`" in below
    assert ": the sampler is somebody else from here on" in above
    assert "briefed on `hot_water`; signed by sampler, who joined" in above
    assert "Dee Rook" not in above
    assert "crew at `rinse/flush/flushing#1/draw/depth[first]`: `sampler Dee Rook`" in below


def test_verify_recomputes_it(taken_over: tuple[Path, str]) -> None:
    """An entry like any other."""
    assert proclang("verify", taken_over[0]).returncode == 0


def test_the_same_from_a_file_of_replies(tmp_path: Path, taken_over: tuple[Path, str]) -> None:
    """Written out from what was recorded."""
    marks = {"answer": "=", "note": "!", "crew": "crew"}
    entries = [e for e in opened(taken_over[0]).entries if e.reply.kind in marks]
    lines = [f"{e.ask} {marks[e.reply.kind]} {e.reply.text}" for e in entries]
    (tmp_path / "day.replies").write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = proclang(*run_arguments(tmp_path / "run", "--replies", tmp_path / "day.replies"))
    assert done.returncode == 0, done.stderr.decode()
    assert opened(tmp_path / "run").state == opened(taken_over[0]).state


def test_a_line_of_a_reply_file_without_role_and_name_is_refused(tmp_path: Path) -> None:
    """In the words of the line."""
    (tmp_path / "day.replies").write_text("opening/crew/lead crew\n", encoding="utf-8")
    done = proclang(*run_arguments(tmp_path / "run", "--replies", tmp_path / "day.replies"))
    assert done.returncode == 1
    assert "a role and a name are missing" in done.stderr.decode()


def test_what_is_typed_without_the_colon_is_an_answer() -> None:
    """A note may well begin with the word; with the colon it is always the command."""
    from test_words import TEXT

    from proclang.session.talk import understood

    assert understood("crew arrived late", TEXT) == Said("crew arrived late")
    assert understood("crew: rigger Dee Rook", TEXT) == Said("rigger Dee Rook", "crew")
    assert understood("= crew: rigger Dee Rook", TEXT) == Said("crew: rigger Dee Rook")


def test_a_refused_roster_says_who_and_why_and_the_way_out(tmp_path: Path) -> None:
    """One person for two roles that are two people: the prompt says what to type instead, and that works."""
    (tmp_path / "lift.proc").write_text(
        'proclang 1\nprocedure lift "Lift the lid"\npurpose "Training example, all values invented."\nneeds\n'
        "  crew signaller, rigger\n  nobody is both signaller and rigger\nsection all "
        '"All"\n  step lift "Lift it at the word of the signaller." by signaller and rigger\n',
        encoding="utf-8",
    )
    (tmp_path / "hall.toml").write_text('[site]\nname = "Hall (invented)"\n', encoding="utf-8")
    call = ("run", tmp_path / "lift.proc", "--site", tmp_path / "hall.toml", "--into", tmp_path / "run", "--plain")
    typed = "Ada Quill\nAda Quill\ncrew: signaller Bo Tarn\nAda Quill\ndone\n"
    done = proclang(*call, typed=typed)
    said = " ".join(done.stdout.decode().split())
    assert done.returncode == 0, said
    assert "It takes at least 2 people on site." in said
    assert "Somebody else than Ada Quill, the signaller." in said
    assert "not taken: Ada Quill is the signaller, and nobody is both signaller and rigger" in said
    assert "`crew: signaller NAME`" in said
    log = (tmp_path / "run" / "log.md").read_text(encoding="utf-8")
    assert "- `signaller`: `Bo Tarn`, before `Ada Quill`" in log
    assert "before it, not taken: `Ada Quill` (two-people)" in log
    assert proclang("verify", tmp_path / "run").returncode == 0


def test_too_few_people_stand_in_the_log(tmp_path: Path) -> None:
    """One person begins alone where a witness is still to come: told at the prompt, and left open in the log."""
    done = proclang(
        *run_arguments(tmp_path / "run", "--plain"), typed="\n".join(["Ada Quill", "Ada Quill", "stop: alone"]) + "\n"
    )
    said = " ".join(done.stdout.decode().split())
    assert "1 person is on the roster, and it takes at least 2: see who else comes" in said
    log = (tmp_path / "run" / "log.md").read_text(encoding="utf-8")
    assert "- `people`: on the roster: 1; it takes at least 2" in log
