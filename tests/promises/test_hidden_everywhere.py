"""Promise H1: no text from anybody reaches a screen or a file of ours with a character that controls or hides.

Every control character, the format characters and some seventy terminal sequences, through every place where text comes
out again. Output may hold newlines, and colour where it was asked for; nothing else below U+0020 or hidden. Texts are
put in together where a place takes a long one, and each must be found in its visible form.
"""

from __future__ import annotations

import contextlib
import io
import json
import re
import shutil
from pathlib import Path

import pytest
from log_help import begin, carry_on
from promise_help import C0_DEL_C1, FORMAT, SEQUENCES
from test_hostile_text import SCRIPT, SITE, TEXTS, put
from test_verify_finds import records, write_anew

from proclang.cli.main import main
from proclang.engine.model import Request
from proclang.session.journal import JournalWriter
from proclang.text.printable import HIDDEN, printable

PAYLOADS = [f"<{text}>" for text in (*C0_DEL_C1, *FORMAT, *SEQUENCES)]
ONE_LINE = [text for text in PAYLOADS if "\n" not in text and "\r" not in text]
NUL_FREE = [text for text in ONE_LINE if "\0" not in text]
"""What a file name or an argument can hold."""


def said(*arguments: str, typed: str = "") -> str:
    """All a command prints, in this process."""
    out = io.StringIO()
    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        patch.setattr("sys.stdin", io.StringIO(typed))
        assert main(arguments) in (0, 1, 2, 3)
    return out.getvalue()


def unseen(output: str) -> set[str]:
    """Characters that have no business in an output."""
    return set(HIDDEN.findall(output)) - {"\n"}


def without_breaks(output: str) -> str:
    """A text as it was before its lines were broken to a width."""
    return re.sub(r"\s+", "", output)


def check_shown(output: str, texts: list[str]) -> None:
    """All of the texts, in their visible form, and nothing hidden."""
    assert unseen(output) == set()
    whole = without_breaks(output)
    for text in texts:
        assert without_breaks(printable(text)) in whole, text


@pytest.fixture(scope="module")
def half(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run left at a question, its texts harmless."""
    folder = tmp_path_factory.mktemp("half") / "run"

    def far_enough(request: Request) -> bool:
        return request.address.endswith("more/last")

    carry_on(begin(folder, TEXTS, "talk", SITE), SCRIPT, far_enough)
    return folder


@pytest.fixture
def forged(half: Path, tmp_path: Path) -> Path:
    """The same with all texts in its journal, rightly chained: a run folder from a stranger."""
    folder = Path(shutil.copytree(half, tmp_path / "forged"))
    write_anew(folder, put(records(folder), " ".join(PAYLOADS)))
    return folder


def test_there_are_enough_texts() -> None:
    assert len(C0_DEL_C1) == 65
    assert len(FORMAT) >= 21
    assert len(SEQUENCES) >= 60
    assert all(printable(text) != text for text in PAYLOADS)


# ---------------------------------------------------------------------------- findings


def test_findings_of_a_procedure(tmp_path: Path) -> None:
    """The line that is shown under a finding, its caret below the right column, and the message."""
    for number, text in enumerate(ONE_LINE):
        path = tmp_path / f"a{number}.proc"
        path.write_bytes(f'proclang 1\nprocedure a{number} "{text}"\nsection s "S"\n  stpe x{text}\n'.encode())
        output = said("check", str(path))
        assert unseen(output) == set(), text
        if "\0" not in text and not re.search("[\x0b\x0c\x85\u2028\u2029]", text):
            assert printable(text).replace("\t", " ") in output or text == "<\t>"
        told = said("check", "--format", "json", str(path))
        assert unseen(told) == set()
        assert json.loads(told.partition("\n1 file")[0])["findings"]


def test_findings_of_a_site_and_of_replies(half: Path, tmp_path: Path) -> None:
    (tmp_path / "talk.proc").write_text(TEXTS["talk"])
    call = ["run", str(tmp_path / "talk.proc"), "--into", str(tmp_path / "run"), "--site"]
    for text in ONE_LINE:
        (tmp_path / "site.toml").write_bytes(f'[site]\nname = "x"\n[facts]\n"{text}" = 3 {text}\n'.encode())
        assert unseen(said(*call, str(tmp_path / "site.toml"))) == set(), text
        (tmp_path / "good.toml").write_text(SITE)
        (tmp_path / "r.replies").write_bytes(f"opening/crew/lead{text} = Ada {text}\n{text}\n".encode())
        output = said(*call, str(tmp_path / "good.toml"), "--replies", str(tmp_path / "r.replies"))
        assert unseen(output) == set(), text
    assert not (tmp_path / "run").exists() or shutil.rmtree(tmp_path / "run") is None


def test_names_of_files_and_words_of_a_call(tmp_path: Path) -> None:
    for text in NUL_FREE:
        name = text.replace("/", "_")
        for call in (
            ("check", str(tmp_path / f"{name}.proc")),
            ("check", f"--{text}"),
            (text,),
            (f"--{text}",),
            ("status", str(tmp_path / name)),
            ("verify", str(tmp_path), "--against", text),
            ("run", f"{text}.proc", "--site", text, "--into", text),
        ):
            output = said(*call)
            assert unseen(output) == set(), (call, output)


def test_a_folder_whose_files_have_such_names(tmp_path: Path) -> None:
    texts = NUL_FREE[::2]  # of a hundred findings each is shown
    for number, text in enumerate(texts):
        (tmp_path / f"{number}{text.replace('/', '_')}.proc").write_text("proclang 1\nstpe\n")
    check_shown(said("check", str(tmp_path)), [text.replace("/", "_") for text in texts])


# ---------------------------------------------------------------------------- a run, and a run from a stranger


@pytest.mark.parametrize("form", ["text", "json"])
@pytest.mark.parametrize("command", ["status", "verify"])
def test_a_forged_journal_in_status_and_verify(forged: Path, command: str, form: str) -> None:
    output = said(command, str(forged), "--format", form)
    assert unseen(output) == set()
    if form == "json":
        assert json.loads(output)
        assert output.isascii()
    elif command == "status":
        check_shown(output, PAYLOADS)


def test_a_forged_journal_in_the_log(forged: Path) -> None:
    assert "written" in said("log", str(forged))
    check_shown((forged / "log.md").read_text("utf-8"), PAYLOADS)


def test_a_forged_journal_at_a_prompt(forged: Path) -> None:
    """The greeting of a run that is gone on with, and the replies entered so far."""
    check_shown(said("resume", str(forged), typed="entered\nhere\nhelp\n"), PAYLOADS)


def test_what_is_typed_at_a_prompt(half: Path, tmp_path: Path) -> None:
    """Echoed where no terminal does it, and refused: a reply with a hidden character is asked for again."""
    folder = Path(shutil.copytree(half, tmp_path / "run"))
    # The input of a run is split at newlines only; a carriage return in a line stays in it.
    typed = [t for t in PAYLOADS if "\n" not in t]
    for at in range(0, len(typed), 40):
        part = typed[at : at + 40]
        output = said("resume", str(folder), typed="".join(t + "\n" for t in part))
        check_shown(output, part)
    assert len(records(folder)) == len(records(half))


def test_what_is_typed_into_the_line_editor() -> None:
    """Only sequences of the editor's own come out; what was typed is shown in caret form, or acts as a key, or not."""
    from prompt_toolkit.application import create_app_session
    from prompt_toolkit.data_structures import Size
    from prompt_toolkit.input import create_pipe_input
    from prompt_toolkit.output.vt100 import Vt100_Output

    from proclang.session.dialogue import DialogueTerminal

    own = re.compile(r"\x1b\[(?:\d*(?:;\d+)*[A-DJKm]|\?(?:1|7|12|25|2004)[hl])|\r|\n|\x08")
    for text in (text for text in PAYLOADS if "\x1a" not in text):  # Ctrl-Z stops the process, as it should
        screen = io.StringIO()
        output = Vt100_Output(screen, lambda: Size(24, 80), term="xterm", enable_bell=False, enable_cpr=False)
        with create_pipe_input() as keys, create_app_session(input=keys, output=output):

            class Typed(DialogueTerminal):
                """Keys that come after the question."""

                def _forget_typed(self) -> None:
                    super()._forget_typed()
                    keys.send_text(f"a{text}b\r\x04\r")  # noqa: B023  # called before the next pass

            Typed(screen, source=keys, output=output).read("answer: ")
        shown = screen.getvalue()
        if "\x0c" in text:
            shown = shown.replace("\x1b[0;0H", "")  # the screen is cleared for whoever presses Ctrl-L
        assert unseen(own.sub("", shown)) == set(), text
        assert text[1] not in FORMAT or printable(text) in shown


def test_the_note_of_who_holds_a_run(half: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(half, tmp_path / "run"))
    with JournalWriter.open(_files(), folder / "journal.jsonl"):  # type: ignore[union-attr]
        for text in PAYLOADS:
            note = {"pid": 7, "host": text, "since": text}
            (folder / "holder.json").write_text(json.dumps(note))
            output = said("resume", str(folder))
            assert "this run is open in" in output
            check_shown(output, [text])


def _files() -> object:
    from proclang.session.files import Files

    return Files()
