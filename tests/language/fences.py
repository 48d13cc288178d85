"""The examples of LANGUAGE.md as files: whole ones, and fragments put where they say they stand."""

from __future__ import annotations

import re

import attrs
from reference_parts import REFERENCE

FENCE = re.compile(
    r"^```proclang(?: (?P<kind>section|step))?(?: error (?P<code>[a-z0-9-]+))?\n(?P<body>.*?)^```$", re.M | re.S
)


@attrs.frozen
class Fence:
    """One example. `kind` is file, section or step; `code` the finding it has, or empty."""

    line: int
    kind: str
    code: str
    body: str


def fences() -> list[Fence]:
    """Every example, in order."""
    text = REFERENCE.read_text(encoding="utf-8")
    return [
        Fence(text.count("\n", 0, m.start()) + 2, m["kind"] or "file", m["code"] or "", m["body"])
        for m in FENCE.finditer(text)
    ]


def whole_files() -> dict[str, str]:
    """The whole files by their name."""
    files = {}
    for fence in fences():
        title = re.search(r"^(?:procedure|machine) (\w+)", fence.body, re.M)
        if fence.kind == "file" and not fence.code and title is not None:
            files[title[1]] = fence.body
    return files


def as_file(fence: Fence) -> tuple[str, str]:
    """Name and text of the file an example is checked in. A fragment stands in the first whole procedure, after its
    header; what that gives is left out, since the sections that set it are."""
    if fence.kind == "file":
        title = re.search(r"^(?:procedure|machine) (\w+)", fence.body, re.M)
        assert title is not None, f"the example at line {fence.line} has no title"
        return title[1], fence.body
    name, first = next(iter(whole_files().items()))
    header = re.sub(r"^gives .*\n", "", first[: first.index("\nsection ") + 1], flags=re.M)
    depth = 1 if fence.kind == "section" else 2
    lines = "".join("  " * depth + line if line.strip() else line for line in fence.body.splitlines(keepends=True))
    step = '  step act "Do it."\n' if fence.kind == "step" else ""
    return name, f'{header}section main "Main"\n{step}{lines}'
