"""What is said about a kind of finding: its line in the list of LANGUAGE.md, and its page in `pages/`.

A page is one file, `pages/CODE.md`: why it is a finding, one paragraph a line of thought; a paragraph beginning with
`Source: ` where the rule has one, with its standing; and two examples, one that has the finding and one that is
mended, as fences:

    ```proclang section error unknown-name
    compute gap = rim + 1 mm   #! unknown-name
    ```

    ```proclang section
    compute gap = ring + 1 mm
    ```

The word behind `proclang` says what the lines are: `file` a whole file (or several, each begun by `--- NAME`),
`header`, `section`, `step` lines that stand there; `reply UNIT` what is typed as a reading, `read UNIT` a quantity
written in a procedure. `#! CODE` is on the lines that have the finding. What cannot stand in a page is written in
angle brackets:
`<U+200B>` a character, `<byte B5>` a byte, `<101 times x>`. A page whose rule no example can show says so in a
paragraph beginning with `No example: `. The tests run every example.
"""

from __future__ import annotations

import re
from pathlib import Path

import attrs

from proclang.syntax.grammar import grammar_folder
from proclang.text.diagnostic import Severity

KINDS = ("file", "header", "section", "step", "reply", "read")

_FENCE = re.compile(
    r"^```proclang (?P<kind>[a-z]+)(?: (?P<unit>(?!error )[^\n]+?))?(?: error (?P<code>[a-z0-9-]+))?\n"
    r"(?P<body>.*?)^```$",
    re.MULTILINE | re.DOTALL,
)
_SIGN = re.compile(r"<(?:U\+[0-9A-F]{4,6}|byte [0-9A-F]{2}|[0-9]+ times [^>\n]+)>|<[0-9]+ times >>")


@attrs.frozen
class Listed:
    """A code as the list of findings has it: its group, what it says in one line, whether it is a warning."""

    code: str
    group: str
    title: str
    severity: Severity


@attrs.frozen
class Example:
    """Lines of one of `KINDS`; `unit` is that of a reading. `code` is the finding they have, or empty."""

    kind: str
    unit: str
    code: str
    text: str

    @property
    def has_signs(self) -> bool:
        """Whether something in it stands for what cannot be shown."""
        return _SIGN.search(self.text) is not None


@attrs.frozen
class Page:
    """All that is said about a code: `why` in paragraphs, where the rule comes from, and the examples, if any."""

    listed: Listed
    why: tuple[str, ...]
    source: str
    wrong: Example | None
    right: Example | None


def listed() -> dict[str, Listed]:
    """Every code there is, in the order of the list, which travels with the program."""
    text = (grammar_folder() / "LANGUAGE.md").read_text(encoding="utf-8")
    begin = re.search(r"^## \d+ Findings$", text, re.MULTILINE)
    if begin is None:
        return {}
    chapter = re.split(r"^## ", text[begin.end() :], maxsplit=1, flags=re.MULTILINE)[0]
    found: dict[str, Listed] = {}
    for part in re.split(r"^### ", chapter, flags=re.MULTILINE)[1:]:
        group, _, rows = part.partition("\n")
        for code, words in re.findall(r"^\| `([a-z0-9-]+)` \| (.+) \|$", rows, re.MULTILINE):
            title = words.removeprefix("*warning*: ")
            severity = Severity.ERROR if title == words else Severity.WARNING
            found[code] = Listed(code, group.strip(), title, severity)
    return found


def pages_folder() -> Path:
    """Where the pages lie."""
    return Path(__file__).parent / "pages"


def page_of(entry: Listed) -> Page:
    """The page of a listed code; one without a file says no more than the list."""
    path = pages_folder() / f"{entry.code}.md"
    return read_page(entry, path.read_text(encoding="utf-8") if path.is_file() else "")


def read_page(entry: Listed, text: str) -> Page:
    """A page from the text of its file."""
    examples = [Example(m["kind"], m["unit"] or "", m["code"] or "", m["body"]) for m in _FENCE.finditer(text)]
    paragraphs = [" ".join(part.split()) for part in _FENCE.sub("", text).split("\n\n") if part.strip()]
    return Page(
        entry,
        tuple(part for part in paragraphs if not part.startswith("Source: ")),
        " ".join(part.removeprefix("Source: ") for part in paragraphs if part.startswith("Source: ")),
        next((e for e in examples if e.code), None),
        next((e for e in examples if not e.code), None),
    )
