"""`proclang completions`: a script that completes commands, options and files in a shell.

All of it is made from the parsers of the commands, so nothing has to be kept in step by hand.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from typing import NamedTuple

from proclang.cli import streams

SHELLS = ("bash", "zsh", "fish")

EXAMPLES = """\
examples
  eval "$(proclang completions bash)"                     in ~/.bashrc
  eval "$(proclang completions zsh)"                      in ~/.zshrc, below compinit
  proclang completions fish > ~/.config/fish/completions/proclang.fish
"""

FILES = {
    "PATH": (".proc", True),
    "PROCEDURE": (".proc", True),
    "SITE": (".toml", True),
    "FILE": ("", True),
    "LOG": (".md", True),
    "DIR": ("", False),
}
"""What an argument called so in the help is: the end of a file's name, and whether a file at all or only a folder."""


class Option(NamedTuple):
    """One option: its names, what it is for, and what may stand behind it."""

    names: tuple[str, ...]
    words: str
    choices: tuple[str, ...]
    value: str
    """What the value is called; empty for an option without one."""


class Command(NamedTuple):
    """One command with its options; `operand` is what its last operand is called, `choices` if it is one of some."""

    name: str
    words: str
    options: tuple[Option, ...]
    operand: str
    choices: tuple[str, ...]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("shell", metavar="SHELL", choices=SHELLS, help="bash, zsh or fish")


def run(arguments: argparse.Namespace) -> int:
    """Exit codes: 0 printed, 2 no such shell."""
    script = {"bash": bash, "zsh": zsh, "fish": fish}[arguments.shell]
    streams.put_data(script(commands()))
    return 0


def commands() -> tuple[Command, ...]:
    """Every command, as its parser has it."""
    from proclang.cli.main import COMMANDS, parser_of

    found = []
    for name, (_, words) in COMMANDS.items():
        parser = parser_of(name)
        options = tuple(
            Option(
                tuple(action.option_strings),
                _plain(action.help or ""),
                tuple(map(str, action.choices or ())),
                "" if action.nargs == 0 else str(action.metavar or ""),
            )
            for action in parser.options
        )
        last = parser.operands[-1]
        found.append(Command(name, words, options, str(last.metavar), tuple(map(str, last.choices or ()))))
    return tuple(found)


def _plain(text: str) -> str:
    """Help without the signs that mean something to a shell."""
    return "".join(c for c in text.replace(":", ",") if c not in "`'\"$\\[]")


# ---------------------------------------------------------------------------- bash


def bash(told: Iterable[Command]) -> str:
    """For bash 4 and later, without the package bash-completion."""
    told = tuple(told)
    after: list[str] = []
    words: list[str] = []
    for command in told:
        for option in command.options:
            action = _bash_value(option.choices, option.value)
            if action:
                after.append(f"    {'|'.join(f'{command.name}:{name}' for name in option.names)}) {action}; return ;;")
        names = " ".join(name for option in command.options for name in option.names)
        words.append(f'    {command.name}) options="{names}"; _proclang_operand() {{ {_bash_operand(command)}; }} ;;')
    head, tail = _BASH.split("@AFTER@\n")
    middle, tail = tail.split("@WORDS@\n")
    script = head + "\n".join(after) + "\n" + middle + "\n".join(words) + "\n" + tail
    return script.replace("@COMMANDS@", " ".join(command.name for command in told))


_BASH = """\
# Completion of proclang for bash. Made by `proclang completions bash`.
_proclang_words() {
  local IFS=$'\\n'
  COMPREPLY=($(compgen -W "${1// /$'\\n'}" -- "$current"))
}
_proclang_files() {
  local IFS=$'\\n' path
  compopt -o filenames 2>/dev/null
  COMPREPLY=($(compgen -d -- "$current"))
  [ "$1" = folders ] && return
  for path in $(compgen -f -- "$current"); do
    [[ ! -d $path && $path == *"$2" ]] && COMPREPLY+=("$path")
  done
}
_proclang() {
  local current=$2 before=$3 command= word options=
  COMPREPLY=()
  if [ "$COMP_CWORD" -eq 1 ]; then
    _proclang_words "@COMMANDS@ help --help --version"
    return
  fi
  command=${COMP_WORDS[1]}
  if [ "$command" = help ]; then
    [ "$COMP_CWORD" -eq 2 ] && _proclang_words "@COMMANDS@"
    return
  fi
  # bash takes the sign = for a word of its own
  [ "$current" = "=" ] && current= before=${COMP_WORDS[COMP_CWORD-1]}
  [ "$before" = "=" ] && before=${COMP_WORDS[COMP_CWORD-2]}
  case $command:$before in
@AFTER@
  esac
  case $command in
@WORDS@
    *) return ;;
  esac
  for word in "${COMP_WORDS[@]:2:COMP_CWORD-2}"; do
    [ "$word" = "--" ] && { _proclang_operand; return; }
  done
  if [[ $current == -* ]]; then _proclang_words "$options"; else _proclang_operand; fi
}
complete -F _proclang proclang
"""


def _bash_value(choices: tuple[str, ...], value: str) -> str:
    if choices:
        return f'_proclang_words "{" ".join(choices)}"'
    if value in FILES:
        suffix, files = FILES[value]
        return f'_proclang_files {"files" if files else "folders"} "{suffix}"'
    return ":" if value else ""


def _bash_operand(command: Command) -> str:
    return _bash_value(command.choices, command.operand) or ":"


# ---------------------------------------------------------------------------- zsh


def zsh(told: Iterable[Command]) -> str:
    """For zsh with compinit; also to be put as `_proclang` into a folder of `fpath`."""
    told = tuple(told)
    listed = "\n".join(f"      '{command.name}:{_plain(command.words)}'" for command in told)
    cases = []
    for command in told:
        lines = [f"    '{spec}'" for option in command.options for spec in _zsh_option(option)]
        lines.append(f"    '*{_zsh_value(command.choices, command.operand)}'")
        cases.append(f"  {command.name}) _arguments -s -S \\\n" + " \\\n".join(lines) + " ;;")
    names = " ".join(command.name for command in told)
    return f"""\
#compdef proclang
# Completion of proclang for zsh. Made by `proclang completions zsh`.
_proclang() {{
  if (( CURRENT == 2 )); then
    local -a commands=(
{listed}
      'help:what a command does'
    )
    _describe -t commands command commands
    _arguments '--help[print help]' '--version[print the version]'
    return
  fi
  local command=$words[2]
  if [[ $command == help ]]; then
    _values command {names}
    return
  fi
  shift words
  (( CURRENT-- ))
  case $command in
{chr(10).join(cases)}
  esac
}}
if [[ $funcstack[1] == _proclang ]]; then _proclang "$@"; else compdef _proclang proclang; fi
"""


def _zsh_option(option: Option) -> list[str]:
    value = _zsh_value(option.choices, option.value) if option.value or option.choices else ""
    return [f"{name}{'=' if value and name.startswith('--') else ''}[{option.words}]{value}" for name in option.names]


def _zsh_value(choices: tuple[str, ...], value: str) -> str:
    name = value.lower() or "value"
    if choices:
        return f":{name}:({' '.join(choices)})"
    if value in FILES:
        suffix, files = FILES[value]
        pattern = f' -g "*{suffix}(-.)"' if suffix else ""
        return f":{name}:_files{pattern if files else ' -/'}"
    return f":{name}: "


# ---------------------------------------------------------------------------- fish


def fish(told: Iterable[Command]) -> str:
    """For fish 3 and later."""
    told = tuple(told)
    names = " ".join(command.name for command in told)
    first = f'complete -c proclang -n "not __fish_seen_subcommand_from {names} help"'
    lines = [
        "# Completion of proclang for fish. Made by `proclang completions fish`.",
        "complete -c proclang -f",
        *(f"{first} -a {command.name} -d '{_plain(command.words)}'" for command in told),
        f"{first} -a help -d 'what a command does'",
        f"{first} -l help -s h -d 'print help'",
        f"{first} -l version -d 'print the version'",
        f'complete -c proclang -n "__fish_seen_subcommand_from help" -a "{names}"',
    ]
    for command in told:
        here = f'complete -c proclang -n "__fish_seen_subcommand_from {command.name}"'
        for option in command.options:
            flags = " ".join(f"-l {n[2:]}" if n.startswith("--") else f"-s {n[1:]}" for n in option.names)
            lines.append(f"{here} {flags}{_fish_value(option.choices, option.value)} -d '{option.words}'")
        value = _fish_value(command.choices, command.operand).replace(" -x", "", 1).replace(" -r", "", 1)
        lines.append(f"{here}{value}")
    return "\n".join(lines) + "\n"


def _fish_value(choices: tuple[str, ...], value: str) -> str:
    if choices:
        return f" -x -a '{' '.join(choices)}'"
    if value in FILES:
        suffix, files = FILES[value]
        if not files:
            return " -x -a '(__fish_complete_directories (commandline -ct))'"
        return f" -x -a '(__fish_complete_suffix {suffix})'" if suffix else " -r -F"
    return " -x" if value else ""
