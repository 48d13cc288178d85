"""Nothing that is typed, and nothing a procedure or a stranger's journal holds, changes the structure of a log.

Outside check: markdown-it-py, a CommonMark reader, with tables and struck text on. A log in which every text was
replaced by a nasty one must have the same tokens as the log with a harmless one in its place, and each place must read
as the printable form of what was put there.
"""

from __future__ import annotations

import itertools
import re
from pathlib import Path
from typing import Any

import attrs
import pytest
from log_help import begin, carry_on, log_of, opened
from markdown_it import MarkdownIt
from markdown_it.token import Token

import proclang.log
from proclang.engine.fold import replay
from proclang.engine.model import Entry
from proclang.log.render import to_markdown
from proclang.session.run import OpenedRun
from proclang.text.printable import printable

READER = MarkdownIt("commonmark").enable(["table", "strikethrough"])

# Invented for the tests.
TEXTS = {
    "talk": """\
proclang 1
procedure talk "Words only"
revision 1
purpose "Every field that takes a text."
needs
  instrument gauge "gauge"
  crew lead
  authority lead
section words "Words"
  danger dark "Dark edge"
    risk "A fall."
    avoid "Stay behind the line."
    asks sign "What the sign says"
  step write "Write."
    note seen "What was seen"
    photo picture "A picture"
    measure width in mm
      within 1 .. 2 mm
  step more "More."
    note last "The last word"
"""
}
SITE = '[site]\nname = "plain_ground"\ntitle = "HARMLESS"\ntraining = true\n[facts]\n'
SCRIPT = {
    "opening/instrument/gauge": "HARMLESS",
    "dark/sign": "HARMLESS",
    "write/seen": ["!HARMLESS", "HARMLESS"],
    "write/picture": "HARMLESS",
    "width": "9 mm",
    "width/verdict": "accept",
    "width/reason": "HARMLESS",
    "width/accepted_by": "Ada Quill",
    "more/last": "stop HARMLESS",
}
IN_CODE = 13
"""Places of the log in which the word stands in a code span: serial number, fact asked, note, photo, reason, stop, and
each reply in the course of the run."""

SEEDS = [
    "|", "a | b | c", "| --- | --- |", "`", "``", "```", "`````", "~~~", "~~gone~~", "*", "**", "***", "_x_", "__",
    "___", "# PASS", "## PASS", "PASS ##", "===", "---", "- - -", "+++", "> quoted", ">>", "- item", "* item",
    "+ item", "1. item", "1) item", "[x](javascript:alert(1))", "[x]: http://example", "![x](y)", "[^1]",
    "[^1]: note", "[ ] task", "<b>", "</ul>", "<!-- -->", "<!--", "-->", "<?x?>", "<![CDATA[x]]>", "<script>",
    "<https://example>", "<a@example>", "http://example", "https://example/?a=1&b=2", "www.example",
    "a@example.example", "&#x7c;", "&amp;", "&lt;b&gt;", "&copy", "\\", "\\\\", "\\`", "\\|", "x\\", "    code",
    "\tcode", " ", "  two  ends  ", "$x$", "$$", ":smile:", "{{7*7}}", "{% raw %}", "{% endraw %}", "{# note #}",
    "{0.__class__}", "{x}", "%s", "%(x)s", "${x}", "#{x}", "line\nbreak", "two\n\n## PASS", "\r\n- item",
    "\u2028## PASS", "\u0085x", "\x1b[31mred", "\x00", "\ufeffx", "\u202edrow", "\u200b", "e\u0301", "±5 °", "😀",
    "`a` b `c", "``a` b", "` `", " `x` ", "`` ` ``", "***`***", "a\\*b\\_c", "- `x`: PASSES", "FAILS", "$`x`$",
    "'\"'", "--- |", "|:-:|", "1" * 300, "x" * 2_000, "`" * 500, "*" * 300, "[" * 300, "<" * 300, "!" * 50,
    "\\" * 301,
]  # fmt: skip


def nasty() -> list[str]:
    """500 texts: each seed as it is, doubled, and behind or before another."""
    made = dict.fromkeys(SEEDS)
    for first, second in itertools.product(SEEDS[:60], SEEDS[::7]):
        made.setdefault(first + second)
        made.setdefault(f"{second} {first}")
    return list(made)[:500]


@pytest.fixture(scope="module")
def harmless(tmp_path_factory: pytest.TempPathFactory) -> OpenedRun:
    folder = tmp_path_factory.mktemp("talk") / "run"
    carry_on(begin(folder, TEXTS, "talk", SITE), SCRIPT)
    return opened(folder)


def put(value: Any, text: str) -> Any:
    """The same JSON with the word replaced wherever it stands."""
    if isinstance(value, str):
        return value.replace("HARMLESS", text)
    if isinstance(value, dict):
        return {k: put(v, text) for k, v in value.items()}
    return [put(v, text) for v in value] if isinstance(value, list) else value


def with_text(run: OpenedRun, text: str) -> OpenedRun:
    entries = tuple(Entry.from_json(put(e.to_json(), text)) for e in run.entries)
    return attrs.evolve(run, entries=entries, state=replay(entries), opened=entries[0].then[0])


def tokens(log: str) -> list[Token]:
    return [t for block in READER.parse(log) for t in (block, *(block.children or ()))]


def structure(log: str) -> list[tuple[str, str, int, int]]:
    return [(t.type, t.tag, t.nesting, t.level) for t in tokens(log)]


def spans(log: str) -> list[str]:
    return [t.content for t in tokens(log) if t.type == "code_inline"]


def test_there_are_enough_nasty_texts() -> None:
    assert len(nasty()) == 500
    assert len(set(nasty())) == 500


def test_the_structure_of_a_log_does_not_depend_on_what_was_typed(harmless: OpenedRun) -> None:
    plain = log_of(harmless)
    expected = structure(plain)
    places = [k for k, span in enumerate(spans(plain)) if span == "HARMLESS"]
    assert len(places) == IN_CODE
    for text in nasty():
        log = log_of(with_text(harmless, text))
        assert structure(log) == expected, text
        assert log.count("\n") == plain.count("\n"), text
        found = spans(log)
        assert [found[k] for k in places] == [printable(text)] * IN_CODE, text


@pytest.mark.parametrize("text", [t for t in SEEDS if len(t) < 40 and t == t.strip() and t.isprintable()])
def test_nor_on_what_the_procedure_says(tmp_path: Path, text: str) -> None:
    """Titles, sentences and the names of things, as an author may write them."""

    def log_with(word: str, folder: Path) -> str:
        quoted = word.replace("\\", "\\\\").replace('"', '\\"').replace("{", "\\{").replace("}", "\\}")
        source = TEXTS["talk"]
        for title in ("Words only", "Words", "Dark edge", "Write.", "gauge", "What was seen", "The last word"):
            source = source.replace(f'"{title}"', f'"{quoted}"')
        carry_on(begin(folder, {"talk": source}, "talk", SITE), SCRIPT)
        return log_of(opened(folder))

    plain, log = log_with("Plain", tmp_path / "plain"), log_with(text, tmp_path / "nasty")
    assert structure(log) == structure(plain)
    read = [t.content for t in tokens(log) if t.type == "text"]
    expected = [t.content.replace("Plain", text) for t in tokens(plain) if t.type == "text"]
    assert read == expected


def test_a_forged_journal_cannot_forge_the_structure(harmless: OpenedRun) -> None:
    """Texts in members that this program fills itself: a stranger may write anything there."""
    expected = structure(log_of(harmless))
    changed = 0
    for text in ("x\n## PASS", "](y)", "`", "<b>", "- a", "|", "**"):
        entries = []
        for entry in harmless.entries:
            data = entry.to_json()
            for event in data["then"]:
                for member in ("title", "limits", "beyond"):
                    if event["is"] in ("verdict", "section", "step") and member in event:
                        event[member] = text
                        changed += 1
            entries.append(Entry.from_json(data))
        log = log_of(attrs.evolve(harmless, entries=tuple(entries)))
        assert structure(log) == expected, text
    assert changed


def test_signs_of_template_languages_appear_as_they_were_typed(harmless: OpenedRun) -> None:
    # CVE-2016-10745, CVE-2019-10906, CVE-2024-56326 and others began with a text taken for a template.
    for text in ("{{7*7}}", "{% for x in log %}", "{# x #}", "{0.__class__}", "%s", "%(log)s", "${x}", "{log.title}"):
        log = log_of(with_text(harmless, text))
        assert spans(log).count(text) == IN_CODE


def test_only_the_packaged_template_is_compiled() -> None:
    folder = Path(proclang.log.__file__).parent
    for path in folder.glob("*.py"):
        source = path.read_text(encoding="utf-8")
        assert "from_string" not in source
        assert ".format(" not in source
        assert not re.search(r"\bTemplate\(", source)
    assert [p.name for p in folder.iterdir() if p.suffix == ".j2"] == ["template.md.j2"]


def test_the_template_lays_out_and_does_nothing_else() -> None:
    """Every text was escaped on its way into the model: no filter, no test, no call of a method stands here."""
    template = (Path(proclang.log.__file__).parent / "template.md.j2").read_text(encoding="utf-8")
    for inside in re.findall(r"\{\{(.*?)\}\}", template):
        assert re.fullmatch(r" (?:facts|lines)\([a-z_.]+\) | [a-z_.]+ ", inside), inside
    assert "|" not in template


def test_a_part_the_template_does_not_know_is_a_fault_and_not_a_blank() -> None:
    from jinja2 import UndefinedError

    with pytest.raises(UndefinedError):
        to_markdown(object())  # type: ignore[arg-type]
