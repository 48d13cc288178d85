"""What each command loads: start-up stays short because what is heavy is loaded only where it is used.

Measured in a child with `-X importtime`, which names every module as it is loaded. No time is asserted.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "drivers"))  # the sample procedure and the ways to run it

from drive_help import at_once, environment, ordinary, run_arguments, samples_in, typed_day

HEAVY = {
    # libraries, of which a command loads what it needs
    "attr", "jinja2", "lark", "markupsafe", "prompt_toolkit", "wcwidth",
    # what only tests and measurements use, and what a library of theirs might bring along
    "erfa", "hypothesis", "jsonschema", "markdown", "markdown_it", "numpy", "pint", "pytest", "yaml",
    # the standard library's heavy ones
    "argparse", "asyncio", "concurrent", "ctypes", "decimal", "difflib", "email", "hashlib", "html", "http", "inspect",
    "json", "logging", "multiprocessing", "pdb", "pydoc", "sqlite3", "ssl", "subprocess", "tomllib", "unittest",
    "urllib", "xml",
}  # fmt: skip
"""Watched top-level modules; anything else may come and go."""

LANGUAGE = {"argparse", "attr", "decimal", "hashlib", "inspect", "json"}
"""A call is read and a text is parsed. attrs loads `inspect`; numbers are exact, files have digests."""

FORM = LANGUAGE - {"decimal"}
"""A text is read and written, and nothing in it is worked out."""

TEMPLATES = {"jinja2", "markupsafe"}

PATHS = {"urllib"}
"""`pathlib` of Python 3.11 loads `urllib.parse`; nothing here asks for more of it."""


@pytest.fixture(scope="module")
def here(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the sample, a run left in the middle and one that is over; no settings reach there."""
    folder = tmp_path_factory.mktemp("imports")
    samples_in(folder / "set")
    at_once(*run_arguments(folder / "left"), typed=typed_day(ordinary()[:8]))
    at_once(*run_arguments(folder / "over"), typed=typed_day())
    return folder


def loaded(folder: Path, *arguments: str, typed: bytes = b"") -> tuple[int, set[str]]:
    """Exit code of a call and the modules it loaded."""
    code = ("-m", "proclang") if arguments else ("-c", "pass")
    done = subprocess.run(
        [sys.executable, "-X", "importtime", *code, *arguments],
        input=typed, capture_output=True, cwd=folder, env=environment(), timeout=60, check=False,
    )  # fmt: skip
    lines = done.stderr.decode(errors="replace").splitlines()
    return done.returncode, {x.rpartition("|")[2].strip() for x in lines if x.startswith("import time:")}


RUN = ("run", "set/rinse.proc", "--site", "set/tank.toml", "--clock", "stepped", "--into")

CALLS: dict[str, tuple[tuple[str, ...], bytes, int, set[str]]] = {
    "version": (("--version",), b"", 0, set()),
    "help": (("--help",), b"", 0, set()),
    "no such command": (("chek",), b"", 2, {"difflib"}),
    "help of a command": (("check", "--help"), b"", 0, {"argparse"}),
    "completions": (("completions", "fish"), b"", 0, {"argparse"}),
    "check": (("check", "set"), b"", 0, LANGUAGE),
    "check as json": (("check", "set", "--format", "json"), b"", 0, LANGUAGE),
    "check as sarif": (("check", "set", "--format", "sarif"), b"", 0, LANGUAGE),
    "check as github": (("check", "set", "--format", "github"), b"", 0, LANGUAGE),
    "explain": (("explain", "tab"), b"", 0, {"argparse", "attr", "inspect"} | PATHS),
    "explain as json": (("explain", "--format", "json"), b"", 0, {"argparse", "attr", "inspect", "json"} | PATHS),
    "format": (("format", "set"), b"", 0, FORM),
    "format, shown": (("format", "--diff", "set"), b"", 0, FORM),
    "run, typed": ((*RUN, "typed"), b"Ada Quill\npause\n", 0, LANGUAGE | {"tomllib"}),
    "run, replies": (
        (*RUN, "scripted", "--replies", "set/ordinary.replies"), b"", 0, LANGUAGE | TEMPLATES | {"tomllib"}
    ),
    "resume": (("resume", "left"), b"pause\n", 0, LANGUAGE),
    "status": (("status", "over"), b"", 0, LANGUAGE),
    "log": (("log", "over"), b"", 0, LANGUAGE | TEMPLATES),
    "verify": (("verify", "over"), b"", 0, LANGUAGE | TEMPLATES | {"tomllib"}),
}  # fmt: skip
"""A call, what is typed, its exit code, and what of `HEAVY` it may load."""

ROOMS = {
    "check": ("session", "engine", "log"),
    "format": ("session", "engine", "log", "check", "program", "field", "values"),
    "status": ("log", "check"),
    "resume": ("log", "check"),
}
"""Rooms of the program that a command has no business in."""


@pytest.fixture(scope="module")
def bare(here: Path) -> set[str]:
    """What the interpreter loads by itself, with what is installed into it."""
    return loaded(here)[1]


@pytest.mark.parametrize("name", CALLS)
def test_a_command_loads_only_what_it_needs(here: Path, bare: set[str], name: str) -> None:
    """`prompt_toolkit` and asyncio only in a full terminal, templates only for a log, pint and numpy never."""
    arguments, typed, code, allowed = CALLS[name]
    ended, modules = loaded(here, *arguments, typed=typed)
    assert ended == code
    assert any(module.startswith("proclang") for module in modules)
    heavy = {module.partition(".")[0] for module in modules - bare} & HEAVY
    assert heavy - {module.partition(".")[0] for module in bare} <= allowed | PATHS
    assert not any(module.startswith(("urllib.request", "urllib.error")) for module in modules - bare)
    rooms = {module.split(".")[1] for module in modules if module.startswith("proclang.")}
    assert not rooms & set(ROOMS.get(arguments[0], ()))


def test_the_version_loads_next_to_nothing_at_all(here: Path) -> None:
    """Without what is installed into the interpreter (`-S`), where some of it is loaded already."""
    done = subprocess.run(
        [sys.executable, "-S", "-X", "importtime", "-c", "from proclang.cli.main import entry; entry()", "--version"],
        capture_output=True, text=True, cwd=here, env=environment(), timeout=60, check=True,
    )  # fmt: skip
    modules = {line.rpartition("|")[2].strip() for line in done.stderr.splitlines()}
    assert not modules & {*HEAVY, "typing", "re", "enum", "contextlib", "functools", "threading"}


def test_the_version_and_the_help_load_two_files_of_ours(here: Path) -> None:
    for option in ("--version", "--help"):
        own = {m.removeprefix("proclang.") for m in loaded(here, option)[1] if m.startswith("proclang.")}
        assert own <= {"__main__", "cli", "cli.main", "cli.streams"}
