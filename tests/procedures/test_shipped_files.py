"""The shipped procedures as texts: sound, printed and read again the same, and written by the rules for procedures."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from procedure_help import ENTRIES, REPLIES, SITE_NAMES, SITES, built, facts, home, program
from procedure_help import PROCEDURES as SETS

from proclang.syntax import nodes as n
from proclang.syntax.parse import parse
from proclang.syntax.printer import print_tree
from proclang.text.span import Source

MACHINES = ("fork_mount", "seismic_vault")
FILES = sorted(path.stem for path in SETS.glob("*/*.proc"))
PROCEDURES = [name for name in FILES if name not in MACHINES]


def source(name: str) -> str:
    """The text of a shipped file."""
    return (home(name) / f"{name}.proc").read_text(encoding="utf-8")


def tree(name: str) -> n.File:
    """Its tree."""
    return parse(Source(f"{name}.proc", source(name))).tree


def steps(name: str) -> Iterator[n.Step]:
    """Every step of a file."""
    return (node for node in tree(name).walk() if isinstance(node, n.Step))


def sentences(step: n.Step) -> list[str]:
    """What a step tells the one who does it, one sentence each, values shown as their names."""
    return [step.title.plain, *(s.text.plain for s in step.body if isinstance(s, n.Prose))]


def test_the_set_is_there() -> None:
    """The other tests go through what they find; this one says what there is."""
    assert {"azimuth_limits", "fork_mount", "level_base", "survey_plate"} <= set(FILES)
    assert set(SITE_NAMES) <= {path.stem for path in SITES.glob("*.toml")}


@pytest.mark.parametrize("name", FILES)
def test_printed_and_read_again_it_is_the_same(name: str) -> None:
    """Nothing in a shipped file is lost by the formatter; printing twice is printing once."""
    parsed = parse(Source(f"{name}.proc", source(name)))
    assert parsed.findings == ()
    text = print_tree(parsed.tree)
    again = parse(Source(f"{name}.proc", text))
    assert again.findings == ()
    assert again.tree == parsed.tree
    assert print_tree(again.tree) == text


@pytest.mark.parametrize("name", FILES)
def test_nothing_is_found_wrong(name: str) -> None:
    """A shipped file is an example to write by: it has no finding."""
    assert built(name).findings == ()


@pytest.mark.parametrize("path", sorted(SETS.rglob("*")), ids=lambda path: path.name)
def test_every_file_says_that_it_is_a_training_example(path: Path) -> None:
    """Nobody may take an invented torque for a real one."""
    if path.is_file():
        head = "".join(path.read_text(encoding="utf-8").splitlines(keepends=True)[:3])
        assert "raining example" in head
        assert "invented" in head


@pytest.mark.parametrize("name", PROCEDURES)
def test_the_log_is_headed_with_it_too(name: str) -> None:
    """What stands in the purpose and in the title of the site is printed at the head of a log."""
    purpose = " ".join(text.plain for line in tree(name).all(n.Purpose) for text in line.sentences)
    assert re.search(r"[Tt]raining example, all values invented", purpose)


@pytest.mark.parametrize("site", sorted(path.stem for path in SITES.glob("*.toml")))
def test_the_site_says_it_in_its_title(site: str) -> None:
    """The same for the sites; and the program is told, not only the reader."""
    head = tomllib.loads((SITES / f"{site}.toml").read_text(encoding="utf-8"))["site"]
    assert head["title"].endswith("(invented), training example")
    assert head["training"] is True


@pytest.mark.parametrize("name", PROCEDURES)
def test_a_sentence_of_a_step_has_at_most_20_words(name: str) -> None:
    """Simplified Technical English, rule 5.1, seen in a summary."""
    for step in steps(name):
        for sentence in sentences(step):
            assert len(sentence.split()) <= 20, sentence
            assert sentence[-1] in ".:", sentence


VAGUE = re.findall(
    r"\w+",
    "about approximately appropriate adequate properly carefully slowly tight snug firmly sufficiently periodically"
    " normal should shall may",
)


@pytest.mark.parametrize("name", PROCEDURES)
def test_no_step_is_vague(name: str) -> None:
    """Words that leave the amount to the reader; listed after DOE-STD-1029 from memory."""
    for step in steps(name):
        words = re.findall(r"[a-z]+", " ".join(sentences(step)).lower())
        assert not set(words) & set(VAGUE), step.title.plain


VERBS = re.findall(
    r"\w+",
    "Clamp Close Drive Free Go Keep Lay Look Lower Mark Move Open Press Put Raise Read Release Reverse Send Set Sight"
    " Stand Switch Take Tighten Turn Wait Walk Write"
    " Ask Bring Call Compare Count Cut Draw Fasten Fit Hang Hold Lift Loosen Measure Pull Seat Show Swing Land Change"
    " Climb Fill Join Run Wipe Work"
    " Lead Leave Listen Lock Mate Say Search Start Stay Tell Touch",
)


@pytest.mark.parametrize("name", PROCEDURES)
def test_a_step_begins_with_what_is_to_be_done(name: str) -> None:
    """An imperative first: Simplified Technical English, rule 5.3, and the checklist of a writers' guide, item 14. A
    condition stands before it (rule 5.4, item 13)."""
    for step in steps(name):
        text = re.sub(r"^If [^,]+, (\w)", lambda found: found[1].upper(), step.title.plain)
        assert text.split()[0] in VERBS or re.fullmatch(r"Pass \{pass\}: tighten .*", text), text


@pytest.mark.parametrize("name", PROCEDURES)
def test_every_section_that_changes_hardware_has_a_safe_state(name: str) -> None:
    """A stop leads somewhere: EN 82079-1 wants instructions for abnormal situations (seen in summaries)."""
    for section in tree(name).all(n.Section):
        if any(isinstance(node, n.Now | n.Hazard) for node in section.walk()) and section.name.text != "limits":
            assert any(isinstance(node, n.Stopped) for node in section.body), section.name.text


@pytest.mark.parametrize("name", PROCEDURES)
def test_figures_are_there(name: str) -> None:
    """A figure named by a step is shipped with it."""
    for node in tree(name).walk():
        if isinstance(node, n.Figure):
            assert (home(name) / node.path.plain).is_file()


@pytest.mark.parametrize("name", PROCEDURES)
def test_what_can_hurt_has_no_default(name: str) -> None:
    """A torque, a speed or a deceleration comes from the maker by way of the site file, never from the procedure."""
    for block in tree(name).all(n.Inputs):
        for item in block.items:
            assert isinstance(item, n.Input)
            if {w.text for w in item.kind.words} & {"torque", "force", "voltage", "current", "angular_acceleration"}:
                assert item.default is None, item.name.text
            if item.name.text in ("latitude", "declination", "slew", "latency"):
                assert item.default is None, item.name.text


def test_the_sites_differ_in_what_matters() -> None:
    """North, south, close to the equator with the hemisphere stated, and far north."""
    found = {site: facts("level_base", site) for site in SITE_NAMES}
    assert {site: f["hemisphere"] for site, f in found.items()} == {
        "northern": "north",
        "southern": "south",
        "tropical": "north",
        "high_latitude": "north",
    }
    assert abs(float(found["tropical"]["latitude"].removesuffix(" deg"))) < 1
    assert float(found["high_latitude"]["latitude"].removesuffix(" deg")) > 66.6


@pytest.mark.parametrize("name", ENTRIES)
@pytest.mark.parametrize("site", SITE_NAMES)
def test_a_site_says_all_a_procedure_asks(name: str, site: str) -> None:
    """One site file serves every procedure of the set; what has no default is in it."""
    wanted = {fact for fact, symbol in program(name).site_facts.items() if symbol.default is None}
    assert wanted <= set(facts(name, site))


def test_the_replies_are_named_after_what_they_answer() -> None:
    """`procedure.site.replies`, or `procedure.site.kind.replies`."""
    for path in REPLIES.iterdir():
        procedure, site, *rest = path.name.split(".")
        assert procedure in PROCEDURES
        assert site in ("northern", "southern")
        assert rest in (["replies"], ["bad_day", "replies"], ["stopped", "replies"])
