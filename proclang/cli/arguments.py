"""argparse with our manners: examples first, one line for a mistake, and what was perhaps meant.

Options may stand anywhere, also behind what they belong to; `--` ends them; `--option VALUE` and `--option=VALUE` are
the same, whatever the value begins with (POSIX XBD chapter 12 and the GNU coding standards, section 4.8).
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import Any, NoReturn

from proclang.cli.streams import put
from proclang.text.suggest import did_you_mean

SHOW_SETTINGS = "--show-settings"


class Unusable(Exception):
    """A call that cannot be made sense of; `hints` are further lines for the one who typed it."""

    def __init__(self, message: str, *hints: str) -> None:
        super().__init__(message)
        self.hints = tuple(f"  {hint}" for hint in hints)


class Parser(argparse.ArgumentParser):
    """Raises `Unusable` where argparse would print and leave. Options are never guessed from their first letters."""

    def __init__(self, *, prog: str, description: str, examples: str = "") -> None:
        self._named: dict[str, argparse.Action] = {}
        self._examples = examples
        super().__init__(
            prog, description=description, allow_abbrev=False, formatter_class=argparse.RawDescriptionHelpFormatter
        )

    @property
    def examples(self) -> str:
        """What the help shows first."""
        return self._examples

    @property
    def options(self) -> tuple[argparse.Action, ...]:
        """The options, each once."""
        return tuple(dict.fromkeys(self._named.values()))

    @property
    def operands(self) -> tuple[argparse.Action, ...]:
        """What is not an option, in its order."""
        return tuple(action for action in self._actions if not action.option_strings)

    def add_argument(self, *names: Any, **settings: Any) -> argparse.Action:
        """As in argparse; the names are kept to sort and to suggest from."""
        action = super().add_argument(*names, **settings)
        self._named.update(dict.fromkeys(action.option_strings, action))
        return action

    def read(self, arguments: Sequence[str]) -> argparse.Namespace:
        """The arguments as they were meant; raises `Unusable`."""
        options, operands = self._sorted(arguments)
        if SHOW_SETTINGS in options:  # nothing is done then, so nothing has to be named
            for action in self._actions:
                action.required = False
                action.nargs = "?" if not action.option_strings and action.nargs is None else action.nargs
        chosen, left = self.parse_known_args([*options, "--", *operands] if operands else options)
        if left:
            raise Unusable(f"`{left[0]}` is one argument too many", f"`{self.prog} --help` says what it takes")
        return chosen

    def _sorted(self, arguments: Sequence[str]) -> tuple[list[str], list[str]]:
        """Options, each with its value in one piece, and everything else."""
        options: list[str] = []
        operands: list[str] = []
        left = iter(arguments)
        for argument in left:
            if argument == "--":
                return options, [*operands, *left]
            if not argument.startswith("-") or argument == "-":
                operands.append(argument)
                continue
            name = argument.partition("=")[0]
            action = self._named.get(name)
            if action is None:
                near = did_you_mean(name, [known for known in self._named if known.startswith("--")])
                raise Unusable(f"there is no option `{argument}`", near or f"`{self.prog} --help` lists the options")
            value = next(left, None) if action.nargs is None and name == argument else None
            options.append(argument if value is None else f"{name}={value}")
        return options, operands

    def error(self, message: str) -> NoReturn:
        """What argparse found wrong."""
        raise Unusable(message, f"`{self.prog} --help` says how it is called")

    def print_help(self, file: Any = None) -> None:
        """To standard output; a stream that does not work is told of, which argparse keeps to itself."""
        put(self.format_help())

    def format_help(self) -> str:
        """Examples, then what argparse says."""
        usual = super().format_help()
        return f"{self._examples.rstrip()}\n\n{usual}" if self._examples else usual
