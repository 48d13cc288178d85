"""Whatever the text, a check ends, raises nothing, and places every finding inside the text it is about."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st
from marked_cases import BESIDE, CASES, Texts, read_cases

from proclang.check.check import Checked, check_files
from proclang.text.diagnostic import in_order
from proclang.text.render import render_json, render_text

SAMPLES = sorted((Path(__file__).parent / "samples").glob("*.proc"))
TEXTS = [path.read_text(encoding="utf-8") for path in SAMPLES]
TEXTS += [next(iter(case.files.values())) for path in sorted(CASES.glob("*.txt")) for case in read_cases(path)]
LINES = sorted({line for text in TEXTS for line in text.split("\n") if line.strip()})
WORDS = sorted({word for line in LINES for word in line.split()})


def _checked(data: bytes) -> Checked:
    return check_files("trial", data, Texts(BESIDE))


def _hold(checked: Checked) -> None:
    sources = checked.files.sources
    for finding in checked.findings:
        for span in (finding.span, *(also.span for also in finding.also)):
            assert span.file in sources
            assert 0 <= span.start <= span.end <= len(sources[span.file].text)
        assert finding.message
        assert finding.message[0] == finding.message[0].lower() or finding.message[0] == "`"
        assert not finding.message.endswith(".")
    assert checked.findings == in_order(list(checked.findings))
    render_text(checked.findings, sources)
    render_json(checked.findings, sources)


@given(st.binary(max_size=400))
def test_any_bytes(data: bytes) -> None:
    """A file may hold anything."""
    _hold(_checked(data))


@given(st.text(max_size=300))
def test_any_text_behind_a_sound_beginning(text: str) -> None:
    """Past the first two lines it is read as a procedure."""
    _hold(_checked(f'proclang 1\nprocedure trial "Trial"\n{text}'.encode("utf-8", "surrogatepass")))


@given(st.lists(st.sampled_from(LINES), max_size=25), st.randoms(use_true_random=False))
def test_sound_lines_in_any_order_and_depth(lines: list[str], rng) -> None:  # type: ignore[no-untyped-def]
    """Every line may have been written; the whole need not make sense."""
    body = "\n".join("  " * rng.randrange(5) + line.strip() for line in lines)
    _hold(_checked(f'proclang 1\nprocedure trial "Trial"\n{body}\n'.encode()))


@given(
    st.sampled_from(TEXTS),
    st.lists(
        st.tuples(st.integers(0, 10_000), st.sampled_from(["cut", "double", "swap", "word", "level"])), max_size=8
    ),
)
def test_a_procedure_with_lines_cut_doubled_swapped_and_changed(text: str, edits: list[tuple[int, str]]) -> None:
    """What editing leaves behind half way."""
    lines = text.split("\n")
    for number, edit in edits:
        at = number % len(lines)
        if edit == "cut":
            del lines[at : at + 1 + number % 3]
            lines = lines or [""]
        elif edit == "double":
            lines.insert(at, lines[at])
        elif edit == "swap":
            other = (at * 7 + 3) % len(lines)
            lines[at], lines[other] = lines[other], lines[at]
        elif edit == "word":
            words = lines[at].split(" ")
            words[number % len(words)] = WORDS[number % len(WORDS)]
            lines[at] = " ".join(words)
        else:
            lines[at] = ("  " + lines[at]) if number % 2 else lines[at].removeprefix("  ")
    _hold(_checked("\n".join(lines).encode()))


@given(st.sampled_from(TEXTS), st.integers(0, 10_000), st.sampled_from(list('"{}[]()#=±+-*/.,:\t\\\0 é0aX')))
def test_a_procedure_with_one_character_more(text: str, at: int, char: str) -> None:
    """The smallest slip there is."""
    at %= len(text) + 1
    _hold(_checked((text[:at] + char + text[at:]).encode()))


@given(st.sampled_from(TEXTS))
def test_the_same_text_gives_the_same_findings(text: str) -> None:
    """Nothing hangs on the order of a set or on what was checked before."""
    first, second = _checked(text.encode()), _checked(text.encode())
    assert first.findings == second.findings
