"""What a record says of how a run was gone through: pauses, sittings, and what was typed and not taken."""

from __future__ import annotations

from pathlib import Path

from drive_help import opened, proclang, resume_arguments, run_arguments, typed_day

from proclang.session.run import REFUSED_CHARACTERS, REFUSED_KEPT


def test_a_pause_is_an_entry_and_the_next_sitting_says_its_number(tmp_path: Path) -> None:
    folder = tmp_path / "run"
    first = typed_day().splitlines()[:3]
    proclang(*run_arguments(folder, "--plain"), typed="\n".join([*first, "pause"]) + "\n")
    out = proclang(*resume_arguments(folder, "--plain"), typed=typed_day().split("\n", 3)[3])
    assert out.returncode == 0
    entries = opened(folder).entries
    assert [e.reply.kind for e in entries[:6]] == ["open", "answer", "answer", "answer", "pause", "answer"]
    assert [e.reply.stamp.get("sitting", 1) for e in entries] == [1] * 5 + [2] * (len(entries) - 5)
    assert proclang("verify", folder).returncode == 0
    log = (folder / "log.md").read_text(encoding="utf-8")
    assert "- sittings: 2" in log
    assert "- sitting 2 begins\n" in log


def test_an_input_that_broke_off_is_no_pause(tmp_path: Path) -> None:
    folder = tmp_path / "run"
    lines = typed_day().splitlines(keepends=True)
    proclang(*run_arguments(folder, "--plain"), typed="".join(lines[:3]))
    proclang(*resume_arguments(folder, "--plain"), typed="".join(lines[3:]))
    assert "pause" not in [e.reply.kind for e in opened(folder).entries]
    assert "sitting 2 begins; the one before ended without a word" in (folder / "log.md").read_text(encoding="utf-8")


def test_a_pause_is_nothing_that_was_entered(tmp_path: Path) -> None:
    folder = tmp_path / "run"
    proclang(*run_arguments(folder, "--plain"), typed=typed_day().splitlines()[0] + "\npause\n")
    out = proclang(*resume_arguments(folder, "--plain"), typed="entered\npause\n").stdout.decode()
    assert "pause" not in out.split("entered\n", 1)[1].split("answer:")[0]


def test_what_is_not_taken_is_kept_with_the_next_reply_that_is(tmp_path: Path) -> None:
    folder = tmp_path / "run"
    lines = typed_day().splitlines()
    at = next(n for n, line in enumerate(lines) if line == "40")
    wrong = ["4 kg", *(f"{n}x" for n in range(REFUSED_KEPT)), "x" * 500]
    typed = [*lines[:at], *wrong, lines[at], *lines[at + 1 :]]
    assert proclang(*run_arguments(folder, "--plain"), typed="\n".join(typed) + "\n").returncode == 0
    entries = opened(folder).entries
    (kept,) = [e for e in entries if e.reply.refused]
    assert kept.reply.text == "40"
    assert [text for text, _ in kept.reply.refused] == [*wrong[2:-1], "x" * REFUSED_CHARACTERS]
    assert all(code.replace("-", "").isalpha() for _, code in kept.reply.refused)
    assert proclang("verify", folder).returncode == 0


def test_enter_alone_and_the_words_of_the_prompt_are_no_replies(tmp_path: Path) -> None:
    folder = tmp_path / "run"
    lines = typed_day().splitlines()
    typed = [lines[0], "", "help", "here", "?", "entered", *lines[1:]]
    proclang(*run_arguments(folder, "--plain"), typed="\n".join(typed) + "\n")
    assert not [e for e in opened(folder).entries if e.reply.refused]


def test_no_pause_is_written_when_the_run_is_over(tmp_path: Path) -> None:
    folder = tmp_path / "run"
    proclang(*run_arguments(folder, "--plain"), typed=typed_day())
    before = (folder / "journal.jsonl").read_bytes()
    proclang(*resume_arguments(folder, "--plain"), typed="pause\n")
    assert (folder / "journal.jsonl").read_bytes() == before
