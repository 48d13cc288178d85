"""What a layout changes, as a unified diff (POSIX.1-2017, `diff -u`).

Lines are neither made nor moved nor dropped, blank ones apart, so which belongs to which is known: nothing is searched
for, and time is linear.
"""

from __future__ import annotations

from collections.abc import Iterator

from proclang.text.printable import printable

_AROUND = 3
_UNENDED = "\\ No newline at end of file"

_Marked = tuple[str, str]
"""` `, `-` or `+`, and a line with its end."""


def unified(old: str, new: str, name: str) -> str:
    """The diff between a text and the same laid out; empty where they are the same."""
    marked = list(_marked(_cut(old), _cut(new)))
    shown = printable(name)
    out: list[str] = []
    begin = 0
    before = [0, 0]  # lines of the old and the new text above `begin`
    for first, last in _groups(marked):
        top = max(0, first - _AROUND)
        hunk = marked[top : last + 1 + _AROUND]
        before = _count(marked[begin:top], before)
        after = _count(hunk, before)
        ranges = [_range(here, there - here) for here, there in zip(before, after, strict=True)]
        out.append(f"@@ -{ranges[0]} +{ranges[1]} @@\n")
        out += [mark + _shown(line) for mark, line in hunk]
        begin, before = top + len(hunk), after
    return "".join((f"--- {shown}\n+++ {shown}\n", *out)) if out else ""


def _groups(marked: list[_Marked]) -> Iterator[tuple[int, int]]:
    """First and last of the changes that are told together, since what is shown around them would overlap."""
    first = last = -1
    for index, (mark, _) in enumerate(marked):
        if mark == " ":
            continue
        if first >= 0 and index - last > 2 * _AROUND:
            yield first, last
            first = -1
        first, last = (index if first < 0 else first), index
    if first >= 0:
        yield first, last


def _cut(text: str) -> list[str]:
    lines = [line + "\n" for line in text.split("\n")]
    last = lines.pop()[:-1]
    return [*lines, last] if last else lines


def _blank(line: str) -> bool:
    return not line.strip(" \t\r\n\ufeff")


def _marked(old: list[str], new: list[str]) -> Iterator[_Marked]:
    """All lines of both, in a run of changes those that go before those that come."""
    gone: list[_Marked] = []
    come: list[_Marked] = []
    for ours, theirs in _pairs(old, new):
        if ours == theirs:
            yield from (*gone, *come, (" ", ours))
            gone, come = [], []
        else:
            gone += [("-", ours)] if ours else []
            come += [("+", theirs)] if theirs else []
    yield from (*gone, *come)


def _pairs(old: list[str], new: list[str]) -> Iterator[tuple[str, str]]:
    """Each line with what it became; an empty text where one has no partner, which only blank lines have not."""
    at, there = 0, 0
    while at < len(old) or there < len(new):
        ours = old[at] if at < len(old) else ""
        theirs = new[there] if there < len(new) else ""
        if ours and theirs and _blank(ours) is _blank(theirs):
            at, there = at + 1, there + 1
            yield ours, theirs
        elif ours and (not theirs or _blank(ours)):
            at += 1
            yield ours, ""
        else:
            there += 1
            yield "", theirs


def _count(marked: list[_Marked], before: list[int]) -> list[int]:
    """Lines of the old and of the new text up to the end of these."""
    old, new = before
    return [old + sum(mark != "+" for mark, _ in marked), new + sum(mark != "-" for mark, _ in marked)]


def _range(before: int, length: int) -> str:
    """First line and number of lines; of none, the line they would stand behind."""
    return f"{before + (length > 0)}" if length == 1 else f"{before + (length > 0)},{length}"


def _shown(line: str) -> str:
    """A line made safe to show; a tab only moves what stands behind it."""
    text = "\t".join(map(printable, line.removesuffix("\n").split("\t"))) + "\n"
    return text if line.endswith("\n") else f"{text}{_UNENDED}\n"
