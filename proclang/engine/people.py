"""Names at a prompt: the full name or its beginning, the role, or initials, where only one on the roster has them."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

from proclang.text import limits
from proclang.text.diagnostic import Problem
from proclang.text.printable import has_hidden
from proclang.text.suggest import did_you_mean

_SPLIT = re.compile(r"\s*(?:,|;|\band\b|&)\s*")


def initials(name: str) -> str:
    """`Ada Quill` to `AQ`."""
    return "".join(part[0] for part in re.split(r"[\s-]+", name) if part).upper()


def read_name(text: str) -> str | Problem:
    """A person's name as typed, blanks tidied."""
    name = unicodedata.normalize("NFC", " ".join(text.split()))
    if not name:
        return Problem("no-name", "a name is wanted", hint="type the name of the person, then Enter")
    if len(name) > limits.NAME_CHARACTERS:
        return Problem("too-long", f"a name has at most {limits.NAME_CHARACTERS} characters")
    if has_hidden(name):
        return Problem("hidden-character", "the name holds a character that cannot be seen", hint="type it again")
    if not any(c.isalpha() for c in name) or _SPLIT.search(name):
        return Problem("no-name", f"`{name[:60]}` is not one person's name", hint="one name, of letters")
    return name


def find_person(text: str, people: Mapping[str, str]) -> str | Problem:
    """The person on the roster that a text means."""
    wanted = unicodedata.normalize("NFC", " ".join(text.split()))
    if not wanted:
        return Problem("no-name", "a name is wanted", hint=_on_the_roster(people))
    folded = wanted.casefold()
    names = tuple(dict.fromkeys(people.values()))
    for name in names:
        if name.casefold() == folded:
            return name
    matches = [
        name
        for name in names
        if folded in (initials(name).casefold(), name.split()[0].casefold())
        or any(holder == name and role.replace("_", " ") == folded.replace("_", " ") for role, holder in people.items())
    ]
    # In gloves one letter is what can be typed: the beginning of a name will do where only one person's begins so.
    matches = matches or [name for name in names if name.casefold().startswith(folded)]
    if len(matches) == 1:
        return matches[0]
    if matches:
        return Problem("which-person", f"`{wanted}` may be {' or '.join(matches)}", hint="type the whole name")
    return Problem(
        "unknown-person",
        f"`{wanted[:60]}` is not on the roster",
        hint=did_you_mean(wanted, names) or _on_the_roster(people),
    )


def find_people(text: str, people: Mapping[str, str]) -> tuple[str, ...] | Problem:
    """Several people, separated by commas or `and`."""
    found: dict[str, None] = {}
    for part in _SPLIT.split(text.strip()):
        if not part:
            continue
        person = find_person(part, people)
        if isinstance(person, Problem):
            return person
        found.setdefault(person)
    if not found:
        return Problem("no-name", "names are wanted", hint=_on_the_roster(people))
    return tuple(found)


def _on_the_roster(people: Mapping[str, str]) -> str:
    """Everybody there is to choose from."""
    names = dict.fromkeys(people.values())
    return "on the roster: " + ", ".join(f"{name} ({initials(name)})" for name in names)
