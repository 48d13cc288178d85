"""argparse with our manners: examples first, one line for a mistake, and what was perhaps meant."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import Any, NoReturn

from proclang.text.suggest import did_you_mean


class Unusable(Exception):
    """A call that cannot be made sense of; `hints` are further lines for the one who typed it."""

    def __init__(self, message: str, *hints: str) -> None:
        super().__init__(message)
        self.hints = tuple(f"  {hint}" for hint in hints)


class Parser(argparse.ArgumentParser):
    """Raises `Unusable` where argparse would print and leave. Options are never guessed from their first letters."""

    def __init__(self, *, prog: str, description: str, examples: str = "") -> None:
        self._names: list[str] = []
        self._examples = examples
        super().__init__(
            prog, description=description, allow_abbrev=False, formatter_class=argparse.RawDescriptionHelpFormatter
        )

    def add_argument(self, *names: Any, **settings: Any) -> argparse.Action:
        """As in argparse; the names are kept to suggest from."""
        self._names.extend(name for name in names if isinstance(name, str) and name.startswith("--"))
        return super().add_argument(*names, **settings)

    def read(self, arguments: Sequence[str]) -> argparse.Namespace:
        """The arguments as they were meant; raises `Unusable`."""
        chosen, left = self.parse_known_args(list(arguments))
        if left:
            strange = left[0]
            if not strange.startswith("-"):
                raise Unusable(f"`{strange}` is one argument too many", f"`{self.prog} --help` says what it takes")
            near = did_you_mean(strange.partition("=")[0], self._names)
            raise Unusable(f"there is no option `{strange}`", near or f"`{self.prog} --help` lists the options")
        return chosen

    def error(self, message: str) -> NoReturn:
        """What argparse found wrong."""
        raise Unusable(message, f"`{self.prog} --help` says how it is called")

    def format_help(self) -> str:
        """Examples, then what argparse says."""
        usual = super().format_help()
        return f"{self._examples.rstrip()}\n\n{usual}" if self._examples else usual
