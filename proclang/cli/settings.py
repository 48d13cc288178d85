"""Settings: what is usually wanted, so that it need not be typed each time.

What counts, the first that says anything: the command line, a variable of the environment, the file of the project, the
file of the user, the usual value. The file of the project is the nearest `proclang.toml`, or `pyproject.toml` with a
table `[tool.proclang]`, from the folder of what is worked on upwards, to the top of a git working tree or the user's
home. A folder that everybody may write to is passed by: what lies there may be anybody's. The file of the user is
`proclang/proclang.toml` in XDG_CONFIG_HOME (XDG base directory specification), by default `~/.config`.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from proclang.cli.arguments import SHOW_SETTINGS, Unusable

FILE = "proclang.toml"
SHARED_FILE = "pyproject.toml"
_SHARED_TABLE = "tool.proclang"
USUAL = "usual value"


class Wrong(ValueError):
    """Why a value is none for a setting."""


class Setting(NamedTuple):
    """One setting. `option` is what the arguments of a command call it; `read` takes what a file or a variable holds
    and raises `Wrong`."""

    table: str
    name: str
    option: str
    usual: Any
    read: Callable[[Any], Any]
    says: str

    @property
    def key(self) -> str:
        """Table and name, as in TOML."""
        return f"{self.table}.{self.name}"

    @property
    def variable(self) -> str:
        """The variable of the environment."""
        return f"PROCLANG_{self.table}_{self.name}".upper()


def texts(value: Any) -> tuple[str, ...]:
    """A list of texts; in a variable, or behind an option, with commas between."""
    if isinstance(value, str):
        return tuple(part.strip() for part in value.split(",") if part.strip())
    if not isinstance(value, list) or not all(isinstance(part, str) for part in value):
        raise Wrong('a list of texts belongs here: ["a", "b"]')
    return tuple(value)


def _one_of(*words: str) -> Callable[[Any], str]:
    def read(value: Any) -> str:
        if value not in words:
            raise Wrong(f"{', '.join(words[:-1])} or {words[-1]} belongs here")
        return str(value)

    return read


_TRUTH = {"1": True, "true": True, "yes": True, "on": True, "0": False, "false": False, "no": False, "off": False}


def _truth(value: Any) -> bool:
    if isinstance(value, str):
        value = _TRUTH.get(value.casefold())
    if not isinstance(value, bool):
        raise Wrong("true or false belongs here")
    return value


def _glossary(value: Any) -> tuple[str, ...]:
    """Pairs such as `spanner: wrench`."""
    pairs = texts(value)
    if not all(wrong.strip() and right.strip() for wrong, _, right in (pair.partition(":") for pair in pairs)):
        raise Wrong('a list of pairs belongs here, what is not said and what is: ["spanner: wrench"]')
    return pairs


SHORTEST_SENTENCE, LONGEST_SENTENCE = 5, 100


def _words(value: Any) -> int:
    """How many words a sentence may have."""
    if isinstance(value, str) and value.isascii() and value.isdigit() and len(value) < 4:
        value = int(value)
    if not isinstance(value, int) or isinstance(value, bool) or not SHORTEST_SENTENCE <= value <= LONGEST_SENTENCE:
        raise Wrong(f"a whole number from {SHORTEST_SENTENCE} to {LONGEST_SENTENCE} belongs here")
    return value


NARROWEST, WIDEST = 20, 100
"""Columns that may be asked for; those of `proclang.session.look`, which takes longer to load than this."""


def columns(value: Any) -> int:
    """A width in columns; 0 is that of the terminal."""
    if isinstance(value, str) and value.isascii() and value.isdigit() and len(value) < 4:
        value = int(value)
    if not isinstance(value, int) or isinstance(value, bool) or not (value == 0 or NARROWEST <= value <= WIDEST):
        raise Wrong(f"a whole number from {NARROWEST} to {WIDEST} belongs here, or 0 for that of the terminal")
    return value


def _folder(value: Any) -> str:
    if not isinstance(value, str) or "\0" in value:
        raise Wrong("the name of a folder belongs here")
    return value


PALETTES = ("normal", "mono", "night")

SETTINGS = (
    Setting("check", "select", "select", (), texts, "Codes of the findings that are told; empty: all"),
    Setting("check", "ignore", "ignore", (), texts, "Codes of findings that are not told"),
    Setting("check", "also", "also", (), texts, "Rules of writing that are off by default; `writing`: all of them"),
    Setting("check", "longest_sentence", "longest_sentence", 20, _words, "Words in a sentence of a step, 5 to 100"),
    Setting("check", "vague", "vague", (), texts, "Words that say no measure, beside those that are known"),
    Setting("check", "fitting", "fitting", (), texts, "Vague words that are none here"),
    Setting("check", "verbs", "verbs", (), texts, "Verbs that a step may begin with, beside those that are known"),
    Setting("check", "abbreviations", "abbreviations", (), texts, "Abbreviations that everybody knows"),
    Setting("check", "glossary", "glossary", (), _glossary, 'What is not said, and what is: "spanner: wrench"'),
    Setting("check", "exclude", "exclude", (), texts, "What is left out below a folder, as patterns of a shell"),
    Setting("look", "palette", "palette", "normal", _one_of(*PALETTES), "Colours: normal, mono or night"),
    Setting("look", "plain", "plain", False, _truth, "Plain lines only"),
    Setting("look", "ascii", "ascii", False, _truth, "Signs such as +/- in ASCII letters only"),
    Setting(
        "look", "width", "width", 0, columns, "Columns at which lines are broken, 20 to 100; 0: those of the terminal"
    ),
    Setting(
        "run", "folder", "runs_folder", "", _folder, "The folder in which new runs are kept, where --into is not said"
    ),
)
"""Every setting there is."""


class Found(NamedTuple):
    """A value and where it comes from."""

    value: Any
    whence: str


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options about settings and colour, which every command that has any takes."""
    parser.add_argument("--color", choices=("auto", "always", "never"), default="auto", help="colour (usually: auto)")
    parser.add_argument(
        "--palette",
        choices=PALETTES,
        help="`night` is red alone, for eyes used to the dark; `mono` has no colour (usually: normal)",
    )
    parser.add_argument(
        "--ascii", action=argparse.BooleanOptionalAction, help="signs such as +/- in ASCII letters only"
    )
    parser.add_argument("--config", metavar="FILE", help="take the settings of this file, and of no other")
    parser.add_argument("--isolated", action="store_true", help="take no settings from any file")
    parser.add_argument(SHOW_SETTINGS, action="store_true", help="say what is set and where, and do nothing else")


def settle(
    arguments: argparse.Namespace, tables: Iterable[str], start: str, environment: Mapping[str, str]
) -> dict[str, Found]:
    """Put every setting of these tables into the arguments, where the command line does not say otherwise.

    `start` is the folder of what is worked on. An option that was not given stands in the arguments as None. Raises
    `Unusable`, which names the file or the variable with a mistake in it.
    """
    wanted = tuple(s for s in SETTINGS if s.table in tables)
    settled = {s.key: Found(s.usual, USUAL) for s in wanted}
    for path, whence in reversed(_files(arguments, start, environment)):
        for key, value in _read_file(path).items():
            if key in settled:
                settled[key] = Found(value, f"{whence}: {path}")
    for setting in wanted:
        text = environment.get(setting.variable, "")
        if text:
            settled[setting.key] = Found(_value(setting, text, setting.variable), f"variable: {setting.variable}")
        given = getattr(arguments, setting.option, None)
        if given is not None:
            if isinstance(given, str):
                given = _value(setting, given, f"--{setting.option}")
            settled[setting.key] = Found(given, "command line")
        setattr(arguments, setting.option, settled[setting.key].value)
    return settled


def shown(settled: Mapping[str, Found]) -> str:
    """Settings as lines of TOML, each with where it comes from."""
    import json

    from proclang.text.printable import printable

    lines = []
    for key, (value, whence) in settled.items():
        # A JSON text or list of ASCII texts is one of TOML too.
        text = json.dumps(list(value) if isinstance(value, tuple) else value)
        lines.append(f"{key} = {text}  # {printable(whence)}\n")
    return "".join(lines)


# ---------------------------------------------------------------------------- where the files are


def _files(arguments: argparse.Namespace, start: str, environment: Mapping[str, str]) -> list[tuple[str, str]]:
    """The files that count and what each is, the strongest first."""
    if arguments.isolated:
        return []
    if arguments.config is not None:
        return [(arguments.config, "file")]
    found = []
    try:
        project = _project_file(os.path.abspath(start or "."), environment.get("HOME", ""))
    except OSError:  # the present folder has been removed
        project = None
    if project is not None:
        found.append((project, "project"))
    home = environment.get("XDG_CONFIG_HOME", "")
    if not os.path.isabs(home):  # the specification: a relative path is ignored
        home = os.path.join(environment["HOME"], ".config") if environment.get("HOME") else ""
    user = os.path.join(home, "proclang", FILE) if home else ""
    if user and os.path.isfile(user) and user != project:
        found.append((user, "user"))
    return found


def _project_file(start: str, home: str) -> str | None:
    for folder in _upwards(start):
        own = os.path.join(folder, FILE)
        shared = os.path.join(folder, SHARED_FILE)
        if not _is_everybodys(folder):
            if os.path.isfile(own):
                return own
            if os.path.isfile(shared) and b"proclang" in _bytes_of(shared) and _tables_of(shared) is not None:
                return shared
        if folder == home or os.path.exists(os.path.join(folder, ".git")):
            return None
    return None


def _upwards(folder: str) -> Iterator[str]:
    while True:
        yield folder
        above = os.path.dirname(folder)
        if above == folder:
            return
        folder = above


def _is_everybodys(folder: str) -> bool:
    try:
        return bool(os.stat(folder).st_mode & 0o002)
    except OSError:
        return True


# ---------------------------------------------------------------------------- what stands in them


def _bytes_of(path: str) -> bytes:
    from proclang.text.limits import FILE_BYTES
    from proclang.text.regular import read_regular

    data = read_regular(path, follow=True)
    if isinstance(data, OSError):
        words = data.strerror or str(data)
        raise Unusable(f"the settings in `{path}` cannot be read: {words[:1].lower()}{words[1:]}")
    if len(data) > FILE_BYTES:
        raise Unusable(f"`{path}` is longer than {FILE_BYTES} bytes")
    return data


def _tables_of(path: str) -> Any:
    """What is said to proclang in a file; None when it is a shared one that says nothing to it."""
    import tomllib

    try:
        said: dict[str, Any] = tomllib.loads(_bytes_of(path).decode("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError, ValueError) as error:
        words = str(error)
        raise Unusable(f"`{path}` is not TOML: {words[:1].lower()}{words[1:]}") from None
    if os.path.basename(path) != SHARED_FILE:
        return said
    tool = said.get("tool")
    return tool.get("proclang") if isinstance(tool, dict) else None


def _read_file(path: str) -> dict[str, Any]:
    """The settings of a file by key; raises `Unusable` for one that is not known or has no value of its kind."""
    from proclang.text.suggest import did_you_mean

    known = {s.key: s for s in SETTINGS}
    names = sorted({s.table for s in SETTINGS})
    inside = f" in [{_SHARED_TABLE}]" if os.path.basename(path) == SHARED_FILE else ""
    tables = _tables_of(path)
    if not isinstance(tables, dict):
        raise Unusable(f"`{path}`: there are no settings{inside}", f"tables: {', '.join(names)}")
    settled: dict[str, Any] = {}
    for table, rows in tables.items():
        if table not in names:
            near = did_you_mean(table, names) or f"tables: {', '.join(names)}"
            raise Unusable(f"`{path}`: there is no table `{table}` of settings{inside}", near)
        if not isinstance(rows, dict):
            raise Unusable(f"`{path}`: `{table}` is a table", f"write [{table}], and below it what is set")
        for name, value in rows.items():
            setting = known.get(f"{table}.{name}")
            if setting is None:
                own = [s.name for s in SETTINGS if s.table == table]
                near = did_you_mean(name, own) or f"in `{table}`: {', '.join(own)}"
                raise Unusable(f"`{path}`: there is no setting `{table}.{name}`", near)
            settled[setting.key] = _value(setting, value, path)
            if setting.read is _folder and value:
                settled[setting.key] = os.path.join(os.path.dirname(path), os.path.expanduser(value))
    return settled


def _value(setting: Setting, value: Any, place: str) -> Any:
    try:
        return setting.read(value)
    except Wrong as wrong:
        raise Unusable(f"`{place}`: `{setting.key}` cannot be {value!r:.60}", str(wrong)) from None
