"""One sitting at a run, for `run` and `resume`: choose who answers, go through the run, say how it ended.

Exit codes: 0 finished, or left with `pause` or Ctrl-D; 1 stopped, or unfinished because the input or the replies did
not go on; 2 unusable (a call, a folder, a disk, a screen that is gone); 3 another process has the run; 130 Ctrl-C.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import signal
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any, TextIO

from proclang.cli import streams
from proclang.cli.streams import put as put
from proclang.cli.streams import put_data as put_data
from proclang.cli.streams import say as say

if TYPE_CHECKING:
    from proclang.session.clock import Clock
    from proclang.session.conduct import Driver, Ending
    from proclang.session.run import Run
    from proclang.session.scripted import Script
    from proclang.text.diagnostic import Diagnostic, Problem
    from proclang.text.span import Source

EXIT_CODES = """\
exit codes
  0 finished, or left with `pause` or Ctrl-D; 1 stopped, not finished, or findings in what was given;
  2 an unusable call, folder, disk or screen; 3 another process has the run; 130 left by Ctrl-C
"""

FINISHED, UNFINISHED, UNUSABLE, HELD, INTERRUPTED = 0, 1, 2, 3, 130


def add_terminal_arguments(parser: argparse.ArgumentParser) -> None:
    """The options `run` and `resume` share."""
    parser.add_argument(
        "--plain",
        action=argparse.BooleanOptionalAction,
        help="plain lines only: for screen readers, captures, serial lines",
    )
    parser.add_argument("--width", metavar="COLUMNS", help="break lines at this width; 0 is that of the terminal")
    parser.add_argument("--replies", metavar="FILE", help="answer from a file of replies, one `ADDRESS = reply` a line")
    parser.add_argument("--no-input", action="store_true", help="never wait for somebody to type; needs --replies")
    parser.add_argument(
        "--clock", choices=("system", "stepped"), default="system",
        help="`stepped` records invented times, 20 s apart: for rehearsals and tests",
    )  # fmt: skip


def say_findings(findings: Iterable[Diagnostic], *sources: Source) -> None:
    """Findings at their places, on standard error."""
    from proclang.text.render import render_text

    streams.say_block(render_text(findings, {s.name: s for s in sources}))


def say_problem(problem: Problem, folder: str = "") -> None:
    """A problem with a run folder."""
    from proclang.cli.near import near_run

    near = near_run(folder) if problem.code == "no-run" and folder else ()
    say(f"proclang: {problem.message}", *(near or ([f"  {problem.hint}"] if problem.hint else [])))


def make_clock(arguments: argparse.Namespace, stamps: int = 0) -> Clock:
    """The clock asked for. `stamps` is how many stepped times a run has had already."""
    from proclang.session.clock import SteppedClock, SystemClock

    return SteppedClock(stamps=stamps) if arguments.clock == "stepped" else SystemClock()


def read_replies(arguments: argparse.Namespace) -> Script | int | None:
    """The file of replies, None without one, or an exit code when it cannot be used; that has been said."""
    if arguments.replies is None:
        if arguments.no_input:
            say("proclang: with --no-input nobody would answer", "  give the answers with --replies FILE")
            return UNUSABLE
        return None
    from proclang.session.scripted import Script, read_script
    from proclang.text.limits import FILE_BYTES

    if arguments.replies == "-":
        data = sys.stdin.buffer.read(FILE_BYTES + 1) if sys.stdin is not None else b""
    else:
        read = read_named(arguments.replies)
        if read is None:
            return UNUSABLE
        data = read
    script = read_script(data, "<stdin>" if arguments.replies == "-" else arguments.replies)
    if isinstance(script, Script):
        return script
    from proclang.text.decode import decode

    say_findings(script, decode(data, script[0].span.file).source)
    return UNFINISHED


def read_named(path: str, suffix: str = "") -> bytes | None:
    """What a file named in the call holds; None when it cannot be read, which has been said, and which was perhaps
    meant of those with this suffix."""
    from proclang.cli.near import near_file
    from proclang.program.library import read_regular

    data = read_regular(path, follow=True)
    if isinstance(data, bytes):
        return data
    why = data.strerror or str(data)
    near = near_file(path, suffix) if isinstance(data, FileNotFoundError) else ()
    say(f"proclang: `{path}` cannot be read: {why[:1].lower()}{why[1:]}", *near)
    return None


def make_driver(arguments: argparse.Namespace, script: Script | None) -> Driver | None:
    """Who answers: a script, a plain terminal or pipe, or a full terminal. None when nothing can be shown; that has
    been said."""
    from proclang.session.plain import PlainTerminal
    from proclang.session.talk import TalkDriver
    from proclang.text.colour import is_simple, is_terminal, needs_ascii

    source, target = sys.stdin, sys.stdout
    if target is None:
        say("proclang: there is nowhere to show a question: standard output is closed")
        return None
    if source is not None and hasattr(source, "reconfigure"):
        # A terminal set to plain ASCII still sends what is on its keys; what is no UTF-8 is refused as a reply.
        plain = needs_ascii(source.encoding)
        source.reconfigure(encoding="utf-8" if plain else None, errors="surrogateescape")
    ascii_only = arguments.ascii or needs_ascii(target.encoding)
    full = is_terminal(source) and is_terminal(target) and not arguments.plain and not is_simple(os.environ)
    palette, width = streams.palette_of("stdout"), arguments.width
    if script is not None:
        from proclang.session.scripted import ScriptDriver

        return ScriptDriver(script, PlainTerminal(None, target, ascii_only=ascii_only, palette=palette, width=width))
    if full:
        from proclang.session.dialogue import DialogueTerminal

        return TalkDriver(DialogueTerminal(target, ascii_only=ascii_only, palette=palette, width=width))
    return TalkDriver(PlainTerminal(source, target, ascii_only=ascii_only, palette=palette, width=width))


def nobody_answers(script: Script | None) -> bool:
    """Whether there is neither a file of replies nor anybody or anything behind the input; that has been said.

    A pipe counts as somebody: what comes down it is read like what is typed.
    """
    if script is not None or (sys.stdin is not None and not _is_null(sys.stdin)):
        return False
    what = "standard input is closed" if sys.stdin is None else "standard input is the null device"
    say(f"proclang: nobody can answer: {what}", "  give the answers with --replies FILE, or go on in a terminal")
    return True


def _is_null(stream: TextIO) -> bool:
    try:
        return os.path.samestat(os.fstat(stream.fileno()), os.stat(os.devnull))
    except (OSError, ValueError):
        return False


def sit(run: Run, driver: Driver, script: Script | None, *, resumed: bool) -> int:
    """Go through the run, write the log when it is over, and give the exit code. The run is closed."""
    from proclang.session.conduct import conduct
    from proclang.session.lock import disk_kind, doubt

    folder = str(run.folder.path)
    for words in doubt(disk_kind(run.folder.path)):
        say(words if words.startswith(" ") else f"proclang: {words}")
    restore = _say_when_killed(folder)
    try:
        ending = conduct(run, driver, resumed=resumed)
        over = run.state.over
    finally:
        run.close()
        restore()
    code = tell_ending(ending, over, run, script)
    if over:
        say_wrapped(*summary(run))
    return write_log(run.folder.path, code) if over else code


def write_log(path: Path, code: int) -> int:
    """Put the log of a run that is over into its folder; gives `code`, or `UNUSABLE` when it could not be written."""
    from proclang.log.render import render_log
    from proclang.session.files import StorageError
    from proclang.session.present import called, shell_word
    from proclang.session.run import open_run
    from proclang.text.diagnostic import Problem

    try:
        opened = open_run(path)
        text = render_log(opened) if not isinstance(opened, Problem) else opened
        if isinstance(opened, Problem) or isinstance(text, Problem):
            assert isinstance(text, Problem)
            say_problem(text)
            return UNUSABLE
        opened.folder.write_log(text)
    except StorageError as error:
        say(f"proclang: {error}", f"The run itself is kept; `{called()} log {shell_word(str(path))}` writes its log.")
        return UNUSABLE
    say(f"Its log: {opened.folder.log}")
    return code


def summary(run: Run) -> list[str]:
    """What whoever hears that a run is over should know of it at once."""
    from proclang.engine.fold import counted
    from proclang.session.exercise import sentence_of
    from proclang.session.present import TRAINING

    events = [event for entry in counted(run.entries) for event in entry.then]
    deviations, notes = (sum(e["is"] == kind for e in events) for kind in ("deviation", "noted"))
    lines = [f"Deviations accepted: {deviations}. Notes: {notes}."]
    lines.extend(
        f"Calibration overdue: {e['title']}, {e['serial']}: {e['overdue']}."
        for e in events
        if e["is"] == "instrument" and e.get("overdue")
    )
    return [*lines, *([TRAINING] if run.opened.get("training") else []), *filter(None, [sentence_of(run.opened)])]


def say_wrapped(*lines: str) -> None:
    """Words on standard error, broken at the width of the terminal that is there; elsewhere as they are."""
    say(*(piece for line in lines for piece in streams.fitted(line, sys.stderr)))


def tell_ending(ending: Ending, over: bool, run: Run, script: Script | None) -> int:
    """Say how it ended and what can be done now; gives the exit code."""
    from proclang.session.present import resume_words

    folder = str(run.folder.path)
    kept = f"Everything entered is kept, {run.writer.n} {'entry' if run.writer.n == 1 else 'entries'}."
    go_on = resume_words(folder)
    match ending.how:
        case "finished":
            say(f"Finished. The run is kept in {folder}")
            return FINISHED
        case "stopped":
            say(f"Stopped. The run is kept in {folder}")
            return UNFINISHED
        case "paused":
            say_wrapped(f"Paused. {kept}")
            say(go_on)
            return FINISHED
        case "interrupted":
            say_wrapped(f"Left by Ctrl-C. {kept}")
            say(go_on)
            return INTERRUPTED
        case "script":
            say_findings(ending.findings, *((script.source,) if script is not None else ()))
            say(kept, *(() if over else (go_on,)))
            return UNFINISHED
        case "disk":
            say(
                f"proclang: {ending.words}", "Everything that was shown as an entry is kept; the last reply may not be."
            )
            return UNUSABLE
        case "screen":
            say(f"proclang: nothing can be shown any more: {ending.words}", kept, go_on)
            streams.drop_output()
            return UNUSABLE
        case _:
            say(f"proclang: {ending.words}. The run is not finished.", kept, go_on)
            return UNFINISHED


def _say_when_killed(folder: str) -> Callable[[], None]:
    """On a signal that ends the process, put the terminal right and say how to go on. Nothing depends on it.

    Gives a function that takes the handlers away again.
    """
    from proclang.session.present import resume_words

    words = streams.words_for_signal("proclang: ended by a signal. Everything entered is kept.", resume_words(folder))
    saved = _terminal_settings()

    def end(number: int, frame: FrameType | None) -> None:
        if saved is not None:
            import termios

            with contextlib.suppress(termios.error):
                termios.tcsetattr(saved[0], termios.TCSANOW, saved[1])
        with contextlib.suppress(OSError):
            os.write(2, words)
        signal.signal(number, signal.SIG_DFL)
        os.kill(os.getpid(), number)

    ending = (signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT)
    # What is ignored stays ignored: a run can be started so that it outlives its terminal.
    before = {n: signal.signal(n, end) for n in ending if signal.getsignal(n) is not signal.SIG_IGN}

    def restore() -> None:
        for number, handler in before.items():
            signal.signal(number, handler)

    return restore


def _terminal_settings() -> tuple[int, list[Any]] | None:
    from proclang.text.colour import is_terminal

    if not is_terminal(sys.stdin):
        return None
    import termios

    try:
        return sys.stdin.fileno(), termios.tcgetattr(sys.stdin.fileno())
    except (termios.error, OSError, ValueError):
        return None
