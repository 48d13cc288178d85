"""What a procedure as a whole has to say: its header, its words, what is done where it is stopped."""

from __future__ import annotations

import re
from collections.abc import Iterator

from proclang.check.writing.patterns import Pattern
from proclang.check.writing.rule import Found, Rule, Seen
from proclang.check.writing.sentences import MASK, masked
from proclang.syntax import nodes as n

_ABBREVIATION = Pattern(r"(?<![A-Z] )\b[A-Z]{2,6}\b(?! ?\(| [A-Z]{2})")
"""Several in a row are the words of a sign."""

_SET = Pattern(r"^(?:a )?(?:set|pair|box|roll|bag) of ")
_EXPLAINED = Pattern(r"\(([A-Z]{2,6})\)|\b([A-Z]{2,6}) \(")


def no_revision(seen: Seen) -> Iterator[Found]:
    """A procedure that does not say which revision it is, or what it is for."""
    title = seen.tree.title
    if not isinstance(title, n.Title) or title.what != "procedure":
        return
    for kind, line in ((n.Revision, "revision 1"), (n.Purpose, 'purpose "..."')):
        if not seen.tree.all(kind):
            what = "which revision this is" if kind is n.Revision else "what is true when this is done"
            yield Found(title.name.span, f"the header does not say {what}", f"add `{line}`")


def abbreviation(seen: Seen) -> Iterator[Found]:
    """Capitals that are explained nowhere in the file."""
    known = set(seen.wanted.abbreviations)
    for raw, _ in seen.texts:
        known.update(found[1] or found[2] for found in _EXPLAINED.finditer(raw))
    for raw, begin in seen.texts:
        if raw.isupper():
            continue
        for found in _ABBREVIATION.finditer(raw):
            if found[0] not in known:
                known.add(found[0])
                hint = f"write `{found[0]} (...)` where it stands first, or add it to `check.abbreviations`"
                yield Found(seen.place(found, begin), f"`{found[0]}` is explained nowhere in this file", hint)


def other_word(seen: Seen) -> Iterator[Found]:
    """A word for which the glossary of the project has another."""
    if not seen.wanted.glossary:
        return
    instead = {wrong.casefold(): right for wrong, right in seen.wanted.glossary}
    words = "|".join(re.escape(word) for word in sorted(instead, key=len, reverse=True))
    pattern = re.compile(rf"(?<![\w{MASK}-])(?:{words})(?![\w{MASK}-])", re.IGNORECASE)
    for raw, begin in seen.texts:
        for found in pattern.finditer(raw):
            right = instead[found[0].casefold()]
            yield Found(
                seen.place(found, begin),
                f"`{found[0]}` is called `{right}` here",
                f"write `{right}`: one word for one thing",
            )


def section_without_stop(seen: Seen) -> Iterator[Found]:
    """Hardware may stand otherwise than it is to be left, and nothing says what is done where the run is stopped."""
    left: dict[str, set[str]] = {}
    for hardware in seen.tree.every(n.Hardware):
        if hardware.left is not None:
            left.setdefault(hardware.place.name.text, set()).add(hardware.left.text)
    for section in seen.tree.all(n.Section):
        if any(isinstance(node, n.Stopped) for node in section.body):
            continue
        for node in n.nested(section.body):
            if not isinstance(node, n.Now) or node.state.text in left.get(node.place.name.text, {node.state.text}):
                continue
            message = f"`{section.name}` leaves `{node.place.name}` {node.state} for a while, and has no `if stopped`"
            hint = "end the section with `if stopped` and the steps that make the site right from anywhere in it"
            yield Found(section.name.span, message, hint)
            break


def idle_tool(seen: Seen) -> Iterator[Found]:
    """A tool or a part that no text names."""
    needs: tuple[n.Tool | n.Part, ...] = (*seen.tree.every(n.Tool), *seen.tree.every(n.Part))
    titles = {need.title.span.start: need for need in needs}
    spoken = {
        word
        for text in seen.tree.every(n.Text)
        if text.span.start not in titles
        for word in re.findall(r"[a-z]+", masked(text, seen.source)[0].casefold())
    }
    for need in titles.values():
        head = re.split(r"[,(]| for | with ", _SET.sub("", need.title.plain.casefold()))[0].split(" of ")[0].split()
        last = head[-1] if head else ""
        names = {last, last.removesuffix("s"), last + "s", last.removesuffix("es"), last + "es"}
        if last and not names & spoken:
            what = "tool" if isinstance(need, n.Tool) else "part"
            yield Found(need.name.span, f"no text names the {what} `{last}`", "name it at the step that uses it")


RULES = (
    Rule(
        "no-revision",
        "the header does not say its revision or its purpose",
        ("DC-01", "DC-18"),
        no_revision,
        usual=False,
    ),
    Rule("idle-tool", "a tool or part that no text names", ("DC-04", "DC-05", "ST-08"), idle_tool, usual=False),
    Rule("abbreviation", "capitals that are explained nowhere", ("DC-11",), abbreviation, usual=False),
    Rule("other-word", "a word for which the glossary of the project has another", ("DC-12",), other_word),
    Rule(
        "section-without-stop",
        "hardware stands otherwise than it is left, and nothing says what to do at a stop",
        ("DC-13", "DC-14"),
        section_without_stop,
    ),
)
