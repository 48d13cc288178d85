"""`proclang explain`: what is behind a code that the check gives, an example that has it and one that is mended."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from proclang.cli import streams
from proclang.cli.main import UNUSABLE
from proclang.cli.streams import say

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from proclang.check.page import Example, Listed, Page

SCHEMA = 1
"""Version of the JSON form. Keys may be added under the same number, never renamed or dropped."""

WIDTH = 80
"""Columns, which fit every terminal and half a sheet of paper."""

EXAMPLES = """\
examples
  proclang explain                     every code, by what it is about
  proclang explain perhaps-not-set     why it is said, and how it is mended
  proclang explain perhaps-not-set --format json

exit codes
  0 explained; 2 no such code
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument(
        "code", metavar="CODE", nargs="?", default="", help="a code as it stands in a finding; without it, all of them"
    )
    parser.add_argument("--format", choices=("text", "json"), default="text", help="for people, or for programs")


def run(arguments: argparse.Namespace) -> int:
    """Exit codes: 0 explained, 2 no such code."""
    from proclang.check.page import listed, page_of

    known = listed()
    code: str = arguments.code
    if code and code not in known:
        from proclang.text.suggest import did_you_mean

        near = did_you_mean(code, known) or "`proclang explain` lists them all"
        say(f"proclang explain: there is no finding `{code}`", f"  {near}")
        return UNUSABLE
    if arguments.format == "json":
        import json

        fields = page_fields(page_of(known[code])) if code else {"codes": [list_fields(e) for e in known.values()]}
        streams.put_data(json.dumps({"schema": SCHEMA, **fields}, indent=2) + "\n")
    else:
        streams.put(page_text(page_of(known[code])) if code else list_text(known))
    return 0


def list_text(known: Mapping[str, Listed]) -> str:
    """Every code and what it says, under its group; at most `WIDTH` columns wide."""
    import textwrap

    indent = 2 + max(map(len, known), default=0) + 2
    lines: list[str] = []
    group = ""
    for entry in known.values():
        if entry.group != group:
            lines += ["", entry.group] if lines else [entry.group]
            group = entry.group
        words = f"{'warning: ' if entry.severity.value == 'warning' else ''}{entry.title}".replace("`", "")
        head = f"  {entry.code}".ljust(indent)
        lines += textwrap.wrap(words, WIDTH, initial_indent=head, subsequent_indent=" " * indent)
    return "\n".join(lines) + "\n"


def page_text(page: Page) -> str:
    """A page for a terminal; at most `WIDTH` columns wide but for lines of examples, which are not broken."""
    return "\n".join(_page_lines(page)) + "\n"


def _page_lines(page: Page) -> Iterator[str]:
    entry = page.listed
    yield from _wrapped(f"{entry.code}: {entry.title}")
    yield f"{entry.severity.value}, among: {entry.group.lower()}"
    for paragraph in page.why:
        yield ""
        yield from _wrapped(paragraph)
    for word, example in (("Wrong", page.wrong), ("Right", page.right)):
        if example is not None:
            yield ""
            yield f"{word}, {_where(example)}:"
            yield ""
            yield from _shown(example)
    if any(example is not None and example.has_signs for example in (page.wrong, page.right)):
        yield ""
        yield from _wrapped(
            "What stands in angle brackets is not written so: <U+0020> is the character of that number, <byte B5> that "
            "byte, and <9 times x> nine of them."
        )
    if page.source:
        yield ""
        yield from _wrapped(f"Source: {page.source}")


def _wrapped(text: str) -> list[str]:
    import textwrap

    return textwrap.wrap(text, WIDTH, break_long_words=False, break_on_hyphens=False)


def _where(example: Example) -> str:
    if example.kind == "file":
        return "several files" if example.text.count("\n--- ") else "a whole file"
    if example.kind == "reply":
        return f"typed as a reading in {example.unit}"
    if example.kind == "read":
        return f"a quantity in {example.unit}"
    return f"in a {example.kind}"


def _shown(example: Example) -> Iterator[str]:
    """An example for a reader: which file is which, and `>` before the line that has the finding."""
    import re

    text = re.sub(r"^--- (\w+)$", r"\n\1.proc:", example.text, flags=re.MULTILINE).removeprefix("\n")
    for line in text.splitlines():
        bare = re.sub(r" +#! [a-z0-9 -]+$", "", line)
        yield f"{'    ' if bare == line else '  > '}{bare}".rstrip()


def list_fields(entry: Listed) -> dict[str, Any]:
    """A code as programs are told of it."""
    return {"code": entry.code, "severity": entry.severity.value, "group": entry.group, "title": entry.title}


def page_fields(page: Page) -> dict[str, Any]:
    """A page as programs are told of it."""
    return {
        **list_fields(page.listed),
        "why": list(page.why),
        "source": page.source,
        "wrong": _example_fields(page.wrong),
        "right": _example_fields(page.right),
    }


def _example_fields(example: Example | None) -> dict[str, str] | None:
    return None if example is None else {"kind": example.kind, "unit": example.unit, "text": example.text}
